"""What the one door for changes puts in by itself: ids, names in sentences, numbers of mock-ups."""

from __future__ import annotations

import math
import threading
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.actions import fitting, history, naming, naming_facts, patterns, projects, workroom
from eke.actions.room import Room
from eke.derive import recipe_changes
from eke.errors import BadInput, NotFound
from eke.fit.kinds import fit_kinds
from eke.geometry import Path
from eke.pattern.kinds import pattern_kinds
from eke.pattern.model import Dart, Edge, EdgeId, EdgeKind, Piece, PieceId
from eke.store import ChangedMeanwhile
from helpers import tunic

TUNIC = tunic.TUNIC


def edge(room: Room, name: str) -> str:
    return patterns.find_edge(room.garment(TUNIC).pattern, name).id


def seam(room: Room, name: str) -> str:
    return fitting.find_seam(room.garment(TUNIC).pattern, name)


def test_sentences_speak_in_names(sewn: Room) -> None:
    side = edge(sewn, "front.side")
    said = [
        patterns.change(sewn, TUNIC, "true.straighten", {"edge": side}).sentence,
        patterns.change(sewn, TUNIC, "seam.ease", {"seam": seam(sewn, "side"), "ease_mm": -3}).sentence,
        patterns.change(sewn, TUNIC, "grain.set", {"piece": "front"}).sentence,
        patterns.change(
            sewn, TUNIC, "fit.take_in", {"seam": seam(sewn, "side"), "knots": [[0, 0], [150, 6], [340, 0]]}
        ).sentence,
        patterns.change(
            sewn, TUNIC, "fit.add_dart", {"edge": side, "fraction": 0.5, "intake_mm": 10, "apex": [90, 200]}
        ).sentence,
    ]
    assert said == [
        "Straightened “side of front”.",
        "Said that one side of “side” is 3 mm longer on purpose.",
        "Set the grain of “front”.",
        "Took in side by up to 6 mm.",
        "Added a dart of 10 mm at side of front.",
    ]
    assert history.take_back(sewn, TUNIC).sentence == "Taken back: Added a dart of 10 mm at side of front."


def test_a_name_that_is_said_is_kept(sewn: Room) -> None:
    said = {"edge": edge(sewn, "front.side"), "called": "the left one"}
    assert patterns.change(sewn, TUNIC, "true.straighten", said).sentence == "Straightened “the left one”."


def test_what_is_said_of_an_edge_names_it_as_it_was(sewn: Room) -> None:
    hem = edge(sewn, "front.hem")
    done = patterns.change(sewn, TUNIC, "edge.set", {"edge": hem, "name": "lower edge", "kind": "opening"})
    assert done.sentence == "Said that the hem of front is called “lower edge”, an opening."
    done = patterns.change(sewn, TUNIC, "edge.set", {"edge": hem, "allowance_mm": 12.5})
    assert done.sentence == "Gave the lower edge of front 12.5 mm of allowance."


def test_of_many_windows_one_is_first(sewn: Room) -> None:
    seen = sewn.garment(TUNIC).stored.revision
    hem = edge(sewn, "front.hem")
    came: list[str] = []

    def one(name: str) -> None:
        try:
            patterns.change(sewn, TUNIC, "edge.set", {"edge": hem, "name": name}, expected=seen)
            came.append(name)
        except ChangedMeanwhile as late:
            came.append(f"late: {late.data['meanwhile'][0]}")

    windows = [threading.Thread(target=one, args=(f"hem {k}",)) for k in range(8)]
    for window in windows:
        window.start()
    for window in windows:
        window.join()
    first = next(name for name in came if not name.startswith("late"))
    assert sewn.garment(TUNIC).pattern.edge(hem)[1].name == first
    assert (
        sorted(c for c in came if c != first)
        == [f"late: Said that the hem of front is called “{first}”."] * 7
    )
    assert sewn.garment(TUNIC).stored.revision == seen + 1


def test_the_sentence_keeps_the_name_of_its_time(sewn: Room) -> None:
    patterns.change(sewn, TUNIC, "true.straighten", {"edge": edge(sewn, "front.side")})
    patterns.change(sewn, TUNIC, "piece.rename", {"piece": "front", "name": "bodice"})
    assert "Straightened “side of front”" in [line.sentence for line in history.history(sewn, TUNIC)]


def test_what_is_made_has_the_id_of_the_answer(sewn: Room) -> None:
    pattern = sewn.garment(TUNIC).pattern
    notch = patterns.change(sewn, TUNIC, "notch.set", {"edge": edge(sewn, "front.neck"), "fraction": 0.5}).id
    mark = patterns.change(
        sewn, TUNIC, "mark.set", {"piece": "front", "kind": "button", "points": [[30, 300]], "name": "top"}
    ).id
    dropped = pattern.seam(seam(sewn, "side"))
    patterns.change(sewn, TUNIC, "seam.drop", {"seam": dropped.id})
    a, b = ([{"edge": p.edge} for p in run] for run in (dropped.a, dropped.b))
    sewn_again = patterns.change(sewn, TUNIC, "seam.say", {"a": a, "b": b}).id
    recipe = patterns.change(
        sewn,
        TUNIC,
        "recipe.add",
        {
            "recipe": "facing",
            "name": "neck facing",
            "params": {"edges": [edge(sewn, "front.neck")], "width_mm": 50},
        },
    ).id
    state = sewn.garment(TUNIC)
    front = state.pattern.piece("front")
    assert [n.id for n in front.notches] == [notch]
    assert mark in [m.id for m in front.marks]
    assert sewn_again in state.pattern.seams
    assert state.pattern.recipes[recipe].sources == ("front",)
    assert [d.recipe for d in state.derivation.pieces.values()] == [recipe]


def test_mock_ups_are_numbered_and_know_what_they_were_cut_from(sewn: Room) -> None:
    head = sewn.garment(TUNIC).revision
    first = patterns.change(sewn, TUNIC, "mockup.note", {"noticed": "wide"}).id
    second = patterns.change(sewn, TUNIC, "mockup.note", {"noticed": "good"}).id
    mock_ups = sewn.garment(TUNIC).pattern.mock_ups
    assert [mock_ups[i].number for i in (first, second)] == [1, 2]
    assert mock_ups[first].revision == head


def test_a_recipe_that_yields_nothing_is_refused_at_the_door(sewn: Room) -> None:
    before = sewn.garment(TUNIC).stored.revision
    said = {
        "recipe": "facing",
        "name": "f",
        "params": {"edges": [edge(sewn, "front.neck")], "width_mm": 9000},
    }
    with pytest.raises(BadInput, match="Nothing was changed"):
        patterns.change(sewn, TUNIC, "recipe.add", said)
    assert sewn.garment(TUNIC).stored.revision == before


def test_runs_in_plain_words(sewn: Room) -> None:
    pattern = sewn.garment(TUNIC).pattern
    side, shoulder = (pattern.seam(seam(sewn, name)) for name in ("side", "shoulder"))
    assert naming.run_words(pattern, side.a) == "the side of front"
    assert naming.run_words(pattern, (*side.a, *shoulder.b)) == "the side of front and the shoulder of back"
    assert naming.run_words(pattern, (*side.a, *side.a)) == "the side of front"
    assert naming.run_words(pattern.without_piece("front"), side.a) == "an edge that is gone"


def test_a_step_on_an_older_state_is_refused_with_what_happened_meanwhile(sewn: Room) -> None:
    seen = sewn.garment(TUNIC).stored.revision
    patterns.change(sewn, TUNIC, "true.straighten", {"edge": edge(sewn, "front.side")})
    patterns.change(sewn, TUNIC, "piece.rename", {"piece": "front", "name": "bodice"})
    history.take_back(sewn, TUNIC)
    said = {"edge": edge(sewn, "front.hem"), "name": "lower edge"}
    with pytest.raises(
        ChangedMeanwhile, match=r"Straightened “side of front”.*Taken back: Called a piece"
    ) as no:
        patterns.change(sewn, TUNIC, "edge.set", said, expected=seen)
    assert no.value.data["meanwhile"][-1] == "Taken back: Called a piece “bodice”."
    for step in (history.take_back, history.do_again):
        with pytest.raises(ChangedMeanwhile):
            step(sewn, TUNIC, expected=seen)
    assert sewn.garment(TUNIC).pattern.piece("front").edges[0].name == "hem"
    patterns.change(sewn, TUNIC, "edge.set", said, expected=seen + 3)


def test_what_was_done_in_a_write_that_came_to_nothing_is_not_told(sewn: Room) -> None:
    seen = sewn.garment(TUNIC).stored.revision
    hem = edge(sewn, "front.hem")

    def broken() -> None:
        with sewn.store.write() as tx:
            sewn.change_garment_in(tx, TUNIC, "edge.set", {"edge": hem, "name": "lost"})
            raise RuntimeError

    with pytest.raises(RuntimeError):
        broken()
    assert sewn.garment(TUNIC).pattern.edge(hem)[1].name == "hem"
    patterns.change(sewn, TUNIC, "edge.set", {"edge": hem, "name": "kept"}, expected=seen)
    with pytest.raises(ChangedMeanwhile, match="“kept”"):
        patterns.change(sewn, TUNIC, "edge.set", {"edge": hem, "name": "late"}, expected=seen)
    assert sewn.garment(TUNIC).pattern.edge(hem)[1].name == "kept"


# ---------------------------------------------------------------- edges without a name


def ring(*edges: tuple[str, EdgeKind]) -> Piece:
    """A piece of as many edges as are told by name and kind."""
    n = len(edges)
    corners = [
        (100.0 * math.cos(2 * math.pi * k / n), 100.0 * math.sin(2 * math.pi * k / n)) for k in range(n)
    ]
    return Piece(
        PieceId("p"),
        "front",
        tuple(
            Edge(EdgeId(f"e{k}"), Path.line(corners[k], corners[(k + 1) % n]), kind=kind, name=name)
            for k, (name, kind) in enumerate(edges)
        ),
    )  # fmt: skip


def words(piece: Piece) -> list[str]:
    return [naming.edge_words(piece, edge).removesuffix(" of front") for edge in piece.edges]


def test_an_edge_without_a_name_is_told_by_its_kind_or_by_what_it_lies_between() -> None:
    assert words(ring(("side", "seam"), ("", "hem"), ("", "fold"), ("", "seam"))) == [
        "side",
        "hem",
        "fold",
        "edge between fold and side",
    ]
    assert words(ring(("side", "seam"), ("", "seam"), ("", "seam"), ("", "seam"), ("", "seam"))) == [
        "side",
        "edge 2",
        "edge 3",
        "edge 4",
        "edge 5",
    ]
    assert words(ring(("", "hem"), ("side", "seam"), ("", "hem"), ("", "seam"))) == [
        "hem 1",
        "side",
        "hem 3",
        "edge 4",
    ]
    assert words(ring(("side", "seam"), ("", "opening"), ("side", "seam"), ("", "hem"))) == [
        "side",
        "opening",
        "side",
        "hem",
    ]


def test_dart_legs_are_called_so() -> None:
    four = ring(("side", "seam"), ("", "seam"), ("", "seam"), ("hem", "hem"))
    darted = replace(four, darts=(Dart("d", EdgeId("e1"), EdgeId("e2")),))
    assert words(darted) == ["side", "dart leg beside side", "dart leg beside hem", "hem"]


EDGES = st.lists(
    st.tuples(
        st.sampled_from(["", "", "side", "hem", "armhole"]),
        st.sampled_from(["seam", "hem", "fold", "opening"]),
    ),
    min_size=3,
    max_size=9,
)


@given(EDGES)
def test_no_two_edges_without_a_name_are_called_alike(edges: list[tuple[str, EdgeKind]]) -> None:
    piece = ring(*edges)
    told = words(piece)
    for edge, mine in zip(piece.edges, told, strict=True):
        assert mine
        assert edge.name or told.count(mine) == 1


# ---------------------------------------------------------------- facts, and every kind of change


def test_facts_are_told_in_words(sewn: Room) -> None:
    def noted(name: str, value: object) -> str:
        return patterns.change(sewn, TUNIC, "fact.set", {"name": name, "value": value}).sentence

    hem, side = edge(sewn, "front.hem"), edge(sewn, "front.side")
    back_hem = edge(sewn, "back.hem")
    assert [
        noted("not_sewn_together", [f"{hem}~{back_hem}"]),
        noted("not_sewn_together", [f"{hem}~{back_hem}", f"{side}+{hem}~{back_hem}"]),
        noted("not_sewn_together", []),
        noted("not_sewn_together", [f"{hem}~nothing"]),
        noted("wearer_age_years", 1),
        noted("wearer_age_years", 9.5),
        noted("wearer_age_years", None),
        noted("nightwear", True),
        noted("outerwear", False),
        noted("cords", ["neck", "waist", "hem"]),
        noted("cords", []),
        noted("buttons", {"count": 6, "diameter_mm": 15, "thickness_mm": 3}),
        noted("buttons", []),
        noted("sewn_on", {"back": "front"}),
        noted("sewn_on", {}),
        noted("occasion", "a wedding"),
    ] == [
        "Noted that the hem of front and the hem of back are not sewn together.",
        "Noted that the side of front and the hem of front and the hem of back are not sewn together.",
        "Noted which edges are not sewn together.",
        "Noted that the hem of front and an edge that is gone are not sewn together.",
        "Noted that the wearer is 1 year old.",
        "Noted that the wearer is 9.5 years old.",
        "Noted nothing of the wearer's age.",
        "Noted that it is for sleeping in.",
        "Noted that it is not worn outside, on top.",
        "Noted cords at the neck, the waist and the hem.",
        "Noted no cords.",
        "Noted 6 buttons of 15 mm.",
        "Noted no buttons.",
        "Noted that “back” is sewn onto “front”.",
        "Noted that “back” is not sewn onto “front”.",
        "Noted occasion: a wedding.",
    ]


@pytest.mark.parametrize("name", naming_facts.WORDS)
@pytest.mark.parametrize("value", [None, True, 3, "x", [], [None], [{"a": 1}], {}, {"a": {}}])
def test_a_fact_of_any_form_has_a_sentence(sewn: Room, name: str, value: object) -> None:
    said = {"name": name, "value": value}
    told = naming.filled(sewn.garment(TUNIC).pattern, None, "fact.set", said)
    kind = next(kind for kind in pattern_kinds() if kind.name == "fact.set")
    assert kind.sentence(told).startswith("Noted ")


def test_only_kinds_that_there_are_get_names() -> None:
    known = {kind.name for kind in (*pattern_kinds(), *fit_kinds(), *recipe_changes())}
    listed = set(naming.MAKES).union(
        naming.CALLS_PIECE,
        naming.CALLS_EDGE,
        naming.CALLS_SEAM,
        naming.NAMES_SEAM,
        naming.NAMES_EDGE,
        naming.NAMES_PIECE,
        naming.NAMES_RECIPE,
    )
    assert listed - known == set()


def test_every_fit_change_speaks_of_the_edge_seam_or_piece_that_it_is_given(sewn: Room) -> None:
    pattern = sewn.garment(TUNIC).pattern
    said = {
        "edge": edge(sewn, "front.side"),
        "seam": seam(sewn, "side"),
        "knots": [[0, 4]],
        "dart": "d",
        "intake_mm": 4,
        "by_mm": 4,
    }
    silent = []
    for kind in fit_kinds():
        keys = [key for key in ("edge", "seam") if said[key] in kind.touches(said)]
        told = naming.filled(pattern, None, kind.name, said)
        named = any(name in kind.sentence(told) for name in ("side of front", "side", "“front”", "front"))
        if keys and not named:
            silent.append(kind.name)
    assert silent == []


@pytest.mark.parametrize(
    ("kind", "params"),
    [
        ("pattern.rename", {}),
        ("piece.rename", {"piece": "front"}),
        ("edge.set", {"edge": "e"}),
        ("seam.say", {"a": [], "b": []}),
        ("recipe.add", {"recipe": "facing"}),
    ],
)
def test_a_name_that_is_too_long_is_refused_in_words(
    sewn: Room, kind: str, params: dict[str, object]
) -> None:
    before = sewn.garment(TUNIC).stored.revision
    with pytest.raises(BadInput, match="A name of 500 letters is too long"):
        patterns.change(sewn, TUNIC, kind, {**params, "name": "x" * 500})
    assert sewn.garment(TUNIC).stored.revision == before


# ---------------------------------------------------------------- the workroom's door


@pytest.mark.parametrize(
    ("kind", "params"),
    [
        ("cloth.add", {"cloth": {"name": "x" * 500, "outline": [[0, 0], [500, 0], [500, 400]]}}),
        ("cloth.describe", {"cloth": "c", "said": {"name": "x" * 500}}),
        ("notion.add", {"name": "x" * 500}),
        ("purchase.record", {"what": "x" * 500}),
    ],
)
def test_the_workroom_takes_no_name_that_is_too_long(
    room: Room, kind: str, params: dict[str, object]
) -> None:
    with pytest.raises(BadInput, match="A name of 500 letters is too long"):
        workroom.change(room, kind, params)
    assert room.shelf().cloths == {}


def test_beginning_a_project_with_a_budget_is_one_step(room: Room) -> None:
    begun = projects.start_project(room, "Autumn", budget="40", currency="EUR")
    assert begun.sentence == "Began the project “Autumn” with a budget of 40.00 EUR."
    assert str(room.shelf().ledger.budgets[begun.id].amount) == "40.00 EUR"
    assert len(history.history(room)) == 1
    history.take_back(room)
    assert room.shelf().projects == {}
    assert room.shelf().ledger.budgets == {}
    history.do_again(room)
    assert str(room.shelf().ledger.budgets[begun.id].amount) == "40.00 EUR"


def test_the_workrooms_door_makes_ids_and_names(sewn: Room) -> None:
    square = [[0, 0], [500, 0], [500, 400], [0, 400]]
    cloth = workroom.change(sewn, "cloth.add", {"cloth": {"name": "blue", "outline": square}})
    assert sewn.shelf().cloths[cloth.id].name == "blue"
    flaw = {"polygon": [[10, 10], [30, 10], [20, 30]], "kind": "stain", "quality": 1}
    marked = workroom.change(sewn, "cloth.mark_flaw", {"cloth": cloth.id, "flaw": flaw})
    assert [f.id for f in sewn.shelf().cloths[cloth.id].flaws] == [marked.id]
    assert marked.sentence == "Marked a stain on “blue”."


@pytest.mark.parametrize("kind", ["project.start", "garment.enter", "cut.confirm"])
def test_what_is_more_than_a_line_does_not_go_through_the_workrooms_door(sewn: Room, kind: str) -> None:
    before = sewn.shelf()
    with pytest.raises(BadInput, match="Nothing was changed"):
        workroom.change(sewn, kind, {"id": "x", "name": "x", "project": next(iter(before.projects))})
    assert sewn.shelf() == before


def test_no_such_garment(room: Room) -> None:
    with pytest.raises(NotFound):
        patterns.change(room, "nothing", "pattern.rename", {"name": "x"})
