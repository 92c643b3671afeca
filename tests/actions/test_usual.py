"""A wearer's usual changes: gathered from the histories of their garments, placed by words, offered, never pushed."""

from __future__ import annotations

from typing import Any

import pytest

from eke.actions import history, patterns, projects
from eke.actions.room import Room
from eke.actions.usual import Offer, do_usual, here_again, made_for, not_here, usual
from eke.errors import BadInput, NotFound
from eke.fit.elsewhere import AMOUNTS
from eke.pattern.model import Pattern
from helpers import tunic

WEARER = "the eldest"
BLOUSE, SMOCK = "Blouse", "Smock"


def mirrored(chain: tunic.Chain) -> tunic.Chain:
    """The same outline seen from its wrong side; its edges come in the opposite order."""
    return tuple(tuple((-x, y) for x, y in reversed(points)) for points in reversed(chain))


def enter(
    room: Room,
    name: str,
    *,
    turned: bool = False,
    swapped: bool = False,
    pieces: tuple[str, ...] = ("front", "back"),
    called: dict[str, str] | None = None,
    wearer: str | None = WEARER,
) -> None:
    """Enter a garment cut like the tunic; ``turned``: drawn from its wrong side, ``swapped``: seams said back first."""
    projects.enter_garment(room, tunic.PROJECT, name)
    for piece in pieces:
        chain = tunic.FRONT if "front" in piece else tunic.BACK
        names = tunic.EDGES[::-1] if turned else tunic.EDGES
        patterns.change(
            room, name, "trace.add", tunic.trace_params(mirrored(chain) if turned else chain, piece)
        )
        for edge, said in zip(room.garment(name).pattern.piece(piece).edges, names, strict=True):
            words = (called or {}).get(said, said)
            kind = tunic.KINDS.get(said, "seam")
            patterns.change(room, name, "edge.set", {"edge": edge.id, "name": words, "kind": kind})
    if pieces == ("front", "back"):
        pattern = room.garment(name).pattern
        for seam in ("side", "shoulder"):
            words = (called or {}).get(seam, seam)
            a, b = (edge_id(pattern, piece, words) for piece in pieces)
            a, b = (b, a) if swapped else (a, b)
            patterns.say_seam(room, name, words, [a], [b])
    if wearer:
        made_for(room, name, wearer)


def edge_id(pattern: Pattern, piece: str, name: str) -> str:
    return str(patterns.find_edge(pattern, f"{piece}.{name}").id)


@pytest.fixture
def two(sewn: Room) -> Room:
    """A workroom with a tunic and a blouse for one wearer, both as traced."""
    made_for(sewn, tunic.TUNIC, WEARER)
    enter(sewn, BLOUSE)
    return sewn


def wedge(room: Room, garment: str, mm: float = 8.0, share: float = 0.8, note: str = "") -> str:
    """Take a wedge out of the neck of the back, to the armhole."""
    pattern = room.garment(garment).pattern
    params = {
        "edge": edge_id(pattern, "back", "neck"),
        "fraction": share,
        "width_mm": mm,
        "to": {"edge": edge_id(pattern, "back", "armhole"), "fraction": 0.5},
    }
    return patterns.change(room, garment, "fit.wedge", params, note).id


def only_offer(room: Room, garment: str) -> Offer:
    (offer,) = usual(room, garment).offers
    return offer


def test_a_change_is_offered_with_its_place_made_by_choice_and_then_no_more(two: Room) -> None:
    wedge(two, tunic.TUNIC, note="the back neck stands off")
    before = two.garment(BLOUSE)
    offer = only_offer(two, BLOUSE)
    assert offer.sentence == (
        f"On the last garment for {WEARER}, “Tunic”, you took a wedge of 8 mm out at the neck of back, near the centre."
    )
    assert offer.why == ""
    assert two.garment(BLOUSE).stored.revision == before.stored.revision, "offering changes nothing"

    do_usual(two, BLOUSE, offer.key)
    one, other = (two.garment(g).pattern.piece("back").outline for g in (tunic.TUNIC, BLOUSE))
    assert all(other.nearest((x, y)).distance_mm < 0.01 for x, y in one.flatten())
    last = history.history(two, BLOUSE)[-1]
    assert last.note == f"Usual for {WEARER}, as on “Tunic”: the back neck stands off"
    assert last.sentence == "Took a wedge of 8 mm out at neck of back"
    assert usual(two, BLOUSE).offers == ()
    history.take_back(two, BLOUSE)
    assert only_offer(two, BLOUSE).key == offer.key


def test_only_what_is_in_force_is_read(two: Room) -> None:
    key = wedge(two, tunic.TUNIC)
    history.switch_change(two, key, False, tunic.TUNIC)
    assert usual(two, BLOUSE).offers == ()
    history.switch_change(two, key, True, tunic.TUNIC)
    history.amend_change(two, key, {"width_mm": 6.0}, tunic.TUNIC)
    assert only_offer(two, BLOUSE).amount_mm == 6.0
    for _ in range(4):  # amended, switched on, switched off, made
        history.take_back(two, tunic.TUNIC)
    assert usual(two, BLOUSE).offers == ()


def test_what_was_set_aside_is_not_read(two: Room) -> None:
    pattern = two.garment(tunic.TUNIC).pattern
    traced = next(line.id for line in history.history(two, tunic.TUNIC) if line.params.get("piece") == "back")
    wedge(two, tunic.TUNIC)
    assert len(usual(two, BLOUSE).offers) == 1
    history.switch_change(two, traced, False, tunic.TUNIC)
    assert "back" in pattern.pieces
    assert "back" not in two.garment(tunic.TUNIC).pattern.pieces
    assert usual(two, BLOUSE).offers == ()


def test_nobody_named_or_somebody_else_is_offered_nothing(two: Room) -> None:
    wedge(two, tunic.TUNIC)
    made_for(two, BLOUSE, "the youngest")
    assert usual(two, BLOUSE).offers == ()
    told = usual(two, BLOUSE)
    assert told.wearers == (WEARER, "the youngest")
    assert told.others == ()
    made_for(two, BLOUSE, "  ")
    assert usual(two, BLOUSE).wearer is None
    made_for(two, BLOUSE, f" {WEARER.upper()} ")  # the same name, written otherwise
    assert len(usual(two, BLOUSE).offers) == 1
    with pytest.raises(BadInput, match="too long"):
        made_for(two, BLOUSE, "x" * 200)


def test_whom_it_is_for_is_in_the_history_and_can_be_taken_back(sewn: Room) -> None:
    done = made_for(sewn, tunic.TUNIC, WEARER)
    assert done.sentence == f"Noted that it is made for {WEARER}."
    history.take_back(sewn, tunic.TUNIC)
    assert usual(sewn, tunic.TUNIC).wearer is None


def test_several_garments_are_told_together_with_what_differs(two: Room) -> None:
    enter(two, SMOCK)
    wedge(two, tunic.TUNIC, 6.0)
    wedge(two, BLOUSE, 8.0)
    offer = only_offer(two, SMOCK)
    assert set(offer.garments) == {"Tunic", "Blouse"}
    assert offer.sentence.startswith(f"On the last two garments for {WEARER}, ")
    assert "6 mm" in offer.sentence
    assert "8 mm" in offer.sentence
    enter(two, "Vest")
    pattern = two.garment("Vest").pattern
    patterns.change(
        two, "Vest", "fit.lengthen", {"edge": edge_id(pattern, "back", "side"), "mm": 100, "by_mm": 9.0}
    )
    assert [len(o.garments) for o in usual(two, SMOCK).offers] == [2, 1], "what came most often comes first"


def test_two_changes_at_one_place_are_one_and_opposite_ones_none(two: Room) -> None:
    for by_mm in (5.0, 3.0):
        side = edge_id(two.garment(tunic.TUNIC).pattern, "back", "side")
        patterns.change(two, tunic.TUNIC, "fit.lengthen", {"edge": side, "mm": 120.0, "by_mm": by_mm})
    assert only_offer(two, BLOUSE).amount_mm == pytest.approx(8.0)
    patterns.change(two, tunic.TUNIC, "fit.lengthen", {"edge": side, "mm": 120.0, "by_mm": -8.0})
    assert usual(two, BLOUSE).offers == ()


def test_another_amount_can_be_chosen(two: Room) -> None:
    wedge(two, tunic.TUNIC, 8.0)
    do_usual(two, BLOUSE, only_offer(two, BLOUSE).key, amount_mm=5.0)
    assert history.history(two, BLOUSE)[-1].params["width_mm"] == pytest.approx(5.0)
    history.take_back(two, BLOUSE)
    with pytest.raises(BadInput, match="how much"):
        do_usual(two, BLOUSE, only_offer(two, BLOUSE).key, amount_mm=0.0)


def test_not_for_this_garment_is_kept_undone_and_offered_again(two: Room) -> None:
    wedge(two, tunic.TUNIC)
    key = only_offer(two, BLOUSE).key
    done = not_here(two, BLOUSE, key)
    assert done.sentence == (
        "Noted that a usual change is not for this garment: took a wedge of 8 mm out at the neck of back, near the centre."
    )
    told = usual(two, BLOUSE)
    assert told.offers == ()
    assert [one.words for one in told.declined] == [
        "took a wedge of 8 mm out at the neck of back, near the centre"
    ]
    enter(two, SMOCK)
    assert len(usual(two, SMOCK).offers) == 1, "it is said of one garment only"
    again = here_again(two, BLOUSE, key)
    assert "may be offered here again" in again.sentence
    assert len(usual(two, BLOUSE).offers) == 1
    history.take_back(two, BLOUSE)
    history.take_back(two, BLOUSE)
    assert usual(two, BLOUSE).declined == ()
    for act in (not_here, do_usual, here_again):
        with pytest.raises(NotFound):
            act(two, BLOUSE, "no such change")


def test_where_two_places_answer_it_says_so_and_makes_nothing(sewn: Room) -> None:
    made_for(sewn, tunic.TUNIC, WEARER)
    wedge(sewn, tunic.TUNIC)
    enter(sewn, BLOUSE, pieces=("front", "left back", "right back"))
    offer = only_offer(sewn, BLOUSE)
    assert offer.params is None
    assert "not clear" in offer.why
    assert "left back" in offer.why
    before = sewn.garment(BLOUSE).stored.revision
    with pytest.raises(BadInput, match="Nothing was changed"):
        do_usual(sewn, BLOUSE, offer.key)
    assert sewn.garment(BLOUSE).stored.revision == before
    not_here(sewn, BLOUSE, offer.key)
    assert usual(sewn, BLOUSE).offers == ()


def test_where_no_place_answers_it_says_so(sewn: Room) -> None:
    made_for(sewn, tunic.TUNIC, WEARER)
    wedge(sewn, tunic.TUNIC)
    enter(sewn, BLOUSE, pieces=("front",))
    offer = only_offer(sewn, BLOUSE)
    assert offer.params is None
    assert offer.why == "Nothing here answers to the “neck” of “back”."


def test_a_piece_drawn_whole_is_no_half(sewn: Room) -> None:
    made_for(sewn, tunic.TUNIC, WEARER)
    wedge(sewn, tunic.TUNIC)
    projects.enter_garment(sewn, tunic.PROJECT, BLOUSE)
    patterns.change(sewn, BLOUSE, "trace.add", tunic.trace_params(tunic.BACK, "back"))
    for edge, said in zip(sewn.garment(BLOUSE).pattern.piece("back").edges, tunic.EDGES, strict=True):
        patterns.change(sewn, BLOUSE, "edge.set", {"edge": edge.id, "name": said, "kind": "seam"})
    made_for(sewn, BLOUSE, WEARER)
    offer = only_offer(sewn, BLOUSE)
    assert offer.params is None
    assert "drawn whole here" in offer.why


def test_trade_words_of_one_group_answer_to_each_other(sewn: Room) -> None:
    made_for(sewn, tunic.TUNIC, WEARER)
    wedge(sewn, tunic.TUNIC)
    enter(
        sewn,
        BLOUSE,
        called={"neck": "back neckline", "armhole": "scye", "centre": "centre back", "side": "side seam"},
    )
    offer = only_offer(sewn, BLOUSE)
    assert offer.params is not None, offer.why
    assert offer.params["edge"] == edge_id(sewn.garment(BLOUSE).pattern, "back", "back neckline")


def places(pattern: Pattern, piece: str) -> dict[str, Any]:
    return {one: edge_id(pattern, piece, one) for one in tunic.EDGES}


def every_kind(pattern: Pattern) -> dict[str, dict[str, Any]]:
    """One change of each kind that is taken over, on the tunic."""
    back, front = places(pattern, "back"), places(pattern, "front")
    seams = {seam.name: seam.id for seam in pattern.seams.values()}
    return {
        "fit.wedge": {"edge": back["neck"], "mm": 25.0, "width_mm": 6.0, "to": {"edge": back["armhole"], "fraction": 0.4}},
        "fit.take_in": {"seam": seams["side"], "knots": [[0, 0], [120, 9], [340, 0]], "share_a": 0.25},
        "fit.move_seam": {"seam": seams["shoulder"], "knots": [[0, 4], [70, 9]]},
        "fit.shoulder_slope": {"seam": seams["shoulder"], "tip": "start", "drop_mm": 7.0},
        "fit.add_dart": {"edge": back["shoulder"], "mm": 35.0, "intake_mm": 8.0, "apex": [100.0, 400.0]},
        "fit.lengthen": {"edge": back["side"], "mm": 120.0, "by_mm": 11.0},
        "fit.widen": {"edge": front["shoulder"], "mm": 30.0, "by_mm": 5.0},
        "fit.broaden": {"edge": back["shoulder"], "mm": 40.0, "by_mm": 4.0, "to": {"edge": back["armhole"], "mm": 60.0}},
        "fit.opening": {"edge": front["neck"], "start_mm": 6.0, "end_mm": 12.0},
    }  # fmt: skip


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("kind", sorted(AMOUNTS.keys() - {"fit.bust"}))
def test_each_kind_does_the_same_on_a_garment_drawn_the_other_way(
    sewn: Room, kind: str, turned: bool, swapped: bool
) -> None:
    made_for(sewn, tunic.TUNIC, WEARER)
    enter(sewn, BLOUSE, turned=turned, swapped=swapped)
    patterns.change(sewn, tunic.TUNIC, kind, every_kind(sewn.garment(tunic.TUNIC).pattern)[kind])
    offer = only_offer(sewn, BLOUSE)
    assert offer.params is not None, offer.why
    assert offer.kind == kind
    do_usual(sewn, BLOUSE, offer.key)
    one, other = sewn.garment(tunic.TUNIC).pattern, sewn.garment(BLOUSE).pattern
    for piece in ("front", "back"):
        there = one.piece(piece).outline.flatten()
        mine = other.piece(piece).outline
        for x, y in there:
            assert mine.nearest((-x if turned else x, y)).distance_mm < 0.1, (piece, x, y)
        assert mine.length_mm == pytest.approx(one.piece(piece).outline.length_mm, abs=0.1)


def test_more_room_over_the_bust_needs_the_bust_point_marked(two: Room) -> None:
    pattern = two.garment(tunic.TUNIC).pattern
    apex = {"piece": "front", "kind": "apex", "points": [[95.0, 290.0]]}
    patterns.change(two, tunic.TUNIC, "mark.set", apex)
    front = places(pattern, "front")
    bust = {
        "edge": front["hem"], "mm": 95.0, "by_mm": 10.0, "armhole": {"edge": front["armhole"], "mm": 60.0},
        "side": {"edge": front["side"], "mm": 250.0}, "apex": [95.0, 290.0],
    }  # fmt: skip
    patterns.change(two, tunic.TUNIC, "fit.bust", bust)
    assert "none is marked" in only_offer(two, BLOUSE).why
    patterns.change(two, BLOUSE, "mark.set", apex)
    do_usual(two, BLOUSE, only_offer(two, BLOUSE).key)
    one, other = (two.garment(g).pattern.piece("front") for g in (tunic.TUNIC, BLOUSE))
    assert len(other.darts) == 1
    assert all(other.outline.nearest((x, y)).distance_mm < 0.05 for x, y in one.outline.flatten())


def test_what_is_said_in_a_form_that_makes_no_sense_is_passed_over(two: Room) -> None:
    wedge(two, tunic.TUNIC)
    for value in ("all", [1, {"kind": "fit.wedge"}, {"key": "x", "kind": "y", "ends": [1]}], {"a": 1}):
        patterns.change(two, BLOUSE, "fact.set", {"name": "usual_not_here", "value": value})
        assert len(usual(two, BLOUSE).offers) == 1
    patterns.change(two, BLOUSE, "fact.set", {"name": "wearer", "value": 7})
    assert usual(two, BLOUSE).wearer is None
