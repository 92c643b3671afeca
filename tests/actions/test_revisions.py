"""Two stages of a garment compared: what was changed is what is told, whichever way the history went."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from eke.actions import fitting, history, patterns, recipes
from eke.actions.overlay import draw_overlay
from eke.actions.revisions import TwoStages, compare_stages, stages
from eke.actions.room import Room
from eke.errors import BadInput, EkeError, NotFound
from eke.pattern.finished import finished_measures
from eke.pattern.model import EdgePlace
from helpers import tunic

TUNIC = tunic.TUNIC
KNOTS = [(0.0, 0.0), (150.0, 8.0), (340.0, 0.0)]


def noted(room: Room, words: str = "wide") -> str:
    return patterns.change(room, TUNIC, "mockup.note", {"noticed": words}).id


def hem_mm(found: TwoStages) -> float:
    (hem,) = [m for m in found.measures if m.name.startswith("hem of")]
    assert hem.difference_mm is not None
    return hem.difference_mm


def lengthened(room: Room, mm: float = 30.0) -> str:
    edge = patterns.find_edge(room.garment(TUNIC).pattern, "front.hem")
    return patterns.change(room, TUNIC, "fit.hem", {"edge": edge.id, "by_mm": mm}).id


def test_what_a_mock_up_was_cut_from_beside_now(sewn: Room) -> None:
    noted(sewn)
    taken = fitting.take_in(sewn, TUNIC, "side", KNOTS, reason="wide at the waist")
    found = compare_stages(sewn, TUNIC)
    assert found.earlier.mock_ups == (1,)
    assert (found.later.now, found.later.id) == (True, taken.id)
    assert found.earlier.words == "mock-up 1, as it was cut"
    assert {p.name: p.how for p in found.pieces} == {"front": "changed", "back": "changed"}
    for piece in found.pieces:
        # half of 8 mm on each side of the seam, across a side that leans a little
        assert piece.apart_mm == pytest.approx(4.0, abs=0.1)
        assert (piece.where, piece.shift_mm) == ("side", (0.0, 0.0))
    assert [(s.sentence, s.fate, s.note) for s in found.steps] == [
        ("Noted what mock-up 1 showed", "made", ""),
        ("Took in side by up to 8 mm", "made", "wide at the waist"),
    ]
    for measure in found.measures:
        assert measure.before is not None
        assert measure.after is not None
    before = {m.name: m.mm for m in finished_measures(found.before.pattern)}
    after = {m.name: m.mm for m in finished_measures(found.after.pattern)}
    assert {m.name: m.difference_mm for m in found.measures} == {n: after[n] - before[n] for n in after}
    assert any(abs(m.difference_mm or 0.0) > 0.05 for m in found.measures)


def test_a_hem_is_told_where_and_how_far_and_in_whichever_order(sewn: Room) -> None:
    first = history.history(sewn, TUNIC)[-1].id
    changed = lengthened(sewn)
    one, other = compare_stages(sewn, TUNIC, first, changed), compare_stages(sewn, TUNIC, changed, first)
    assert one == other
    assert {p.where for p in one.pieces} == {"hem"}
    assert [p.apart_mm for p in one.pieces] == pytest.approx([30.0, 30.0], abs=0.2)
    sides = [m for m in one.measures if m.name == "side seam"]
    assert [m.difference_mm for m in sides] == pytest.approx([30.0], abs=0.2)


def test_one_stage_beside_itself_differs_in_nothing(sewn: Room) -> None:
    fitting.take_in(sewn, TUNIC, "side", KNOTS)
    for stage in stages(sewn, TUNIC):
        found = compare_stages(sewn, TUNIC, stage.id, stage.id)
        assert {p.how for p in found.pieces} <= {"same"}
        assert found.steps == ()
        assert all(m.difference_mm == 0.0 for m in found.measures)


def test_what_is_switched_off_amended_or_taken_back_is_told_so(sewn: Room) -> None:
    kept = fitting.take_in(sewn, TUNIC, "side", KNOTS)
    hem = lengthened(sewn)
    cut = sewn.garment(TUNIC).revision
    history.switch_change(sewn, hem, False, TUNIC)
    history.amend_change(sewn, kept.id, {"knots": [[0, 0], [150, 12], [340, 0]]}, TUNIC)
    dart = patterns.find_edge(sewn.garment(TUNIC).pattern, "front.hem")
    off = patterns.change(sewn, TUNIC, "fit.hem", {"edge": dart.id, "by_mm": 10.0}).id
    history.switch_change(sewn, off, False, TUNIC)
    found = compare_stages(sewn, TUNIC, cut, "now")
    told = {s.id: (s.fate, s.was) for s in found.steps}
    assert told == {
        kept.id: ("altered", "Took in side by up to 8 mm"),
        hem: ("off", None),
        off: ("made off", None),
    }
    assert next(s for s in found.steps if s.id == kept.id).sentence == "Took in side by up to 12 mm"
    # the drawing agrees: the hem is up again, the side farther in
    assert {p.name: p.where for p in found.pieces} == {"front": "hem", "back": "hem"}
    # back to the very first: nothing is switched off or altered, it is just made
    since = compare_stages(sewn, TUNIC, history.history(sewn, TUNIC)[0].id, "now")
    fates = {s.id: s.fate for s in since.steps}
    assert (fates[kept.id], fates[hem], fates[off]) == ("made", "made off", "made off")


def test_what_was_taken_back_lies_ahead_and_can_be_compared(sewn: Room) -> None:
    hem = lengthened(sewn)
    history.take_back(sewn, TUNIC)
    every = stages(sewn, TUNIC)
    assert [(s.now, s.undone) for s in every[-2:]] == [(True, False), (False, True)]
    found = compare_stages(sewn, TUNIC, "now", hem)
    assert [s.fate for s in found.steps] == ["made"]
    assert found.later.undone


def test_a_mock_up_whose_way_was_left_can_still_be_compared(sewn: Room) -> None:
    hem = lengthened(sewn)
    patterns.change(sewn, TUNIC, "mockup.note", {"noticed": "too long"})
    history.take_back(sewn, TUNIC)
    history.take_back(sewn, TUNIC)
    # noted once more, as a mock-up that was cut from what has been left since
    patterns.change(sewn, TUNIC, "mockup.note", {"noticed": "too long", "revision": hem})
    found = compare_stages(sewn, TUNIC, "mock-up 1", "now")
    fates = {s.id: s.fate for s in found.steps}
    assert fates[hem] == "gone"
    assert [p.apart_mm for p in found.pieces] == pytest.approx([30.0, 30.0], abs=0.2)


def test_a_step_that_lost_its_place_says_why(sewn: Room) -> None:
    at = sewn.garment(TUNIC).revision
    back = next(line.id for line in history.history(sewn, TUNIC) if line.sentence.startswith("Traced “back”"))
    history.switch_change(sewn, back, False, TUNIC)
    found = compare_stages(sewn, TUNIC, at, "now")
    assert {p.name: p.how for p in found.pieces} == {"front": "same", "back": "removed"}
    lost = [s for s in found.steps if s.fate == "aside"]
    assert lost
    assert all(s.why for s in lost)
    assert any(m.after is None for m in found.measures)


def test_added_and_moved_pieces(sewn: Room) -> None:
    at = sewn.garment(TUNIC).revision
    sewn.change_garment(TUNIC, "piece.move", {"piece": "front", "shift_mm": [12.0, -7.0]})
    sewn.change_garment(TUNIC, "trace.add", tunic.trace_params(tunic.FRONT, "pocket"))
    found = compare_stages(sewn, TUNIC, at, "now")
    how: dict[str, tuple[Any, Any]] = {p.name: (p.how, p.shift_mm) for p in found.pieces}
    assert how["front"] == ("same", pytest.approx((12.0, -7.0)))
    assert how["back"] == ("same", (0.0, 0.0))
    assert how["pocket"][0] == "added"


def test_a_dart_is_no_edge_that_was_moved(sewn: Room) -> None:
    at = sewn.garment(TUNIC).revision
    edge = patterns.find_edge(sewn.garment(TUNIC).pattern, "front.hem")
    done = fitting.add_dart(sewn, TUNIC, EdgePlace(edge.id, mm=100.0), 8.0, (100.0, 120.0))
    (front,) = [p for p in compare_stages(sewn, TUNIC, at, "now").pieces if p.name == "front"]
    assert front.how == "changed"
    assert 0.0 < front.apart_mm <= 8.0, "the dart is 120 mm deep"
    dart = sewn.garment(TUNIC).pattern.piece("front").darts[0].id
    patterns.change(sewn, TUNIC, "fit.dart_shorten", {"dart": dart, "by_mm": 20.0})
    (front,) = [p for p in compare_stages(sewn, TUNIC, done.id, "now").pieces if p.name == "front"]
    assert (front.how, front.apart_mm) == ("changed", 0.0)


def test_derived_pieces_follow_and_are_told(sewn: Room) -> None:
    neck = patterns.find_edge(sewn.garment(TUNIC).pattern, "front.neck").id
    recipes.add_recipe(sewn, TUNIC, "facing", "neck facing", edges=[neck], params={"width_mm": 50})
    at = sewn.garment(TUNIC).revision
    patterns.change(sewn, TUNIC, "fit.opening", {"edge": neck, "end_mm": 15.0})
    found = compare_stages(sewn, TUNIC, at, "now")
    assert any(p.name == "neck facing" and p.how == "changed" for p in found.pieces), found.pieces


@pytest.mark.parametrize("words", ["mock-up 7", "nothing", "", "ab", "x" * 3000])
def test_no_such_stage(sewn: Room, words: str) -> None:
    noted(sewn)
    if not words:
        assert compare_stages(sewn, TUNIC, words).earlier.mock_ups == (1,)
        return
    with pytest.raises(NotFound, match=r"mock-up 1"):
        compare_stages(sewn, TUNIC, words)


def test_nothing_to_compare(room: Room) -> None:
    from eke.actions import projects

    projects.start_project(room, "Autumn")
    projects.enter_garment(room, "Autumn", "Skirt", {})
    assert stages(room, "Skirt") == () or compare_stages(room, "Skirt").pieces == ()
    if not stages(room, "Skirt"):
        with pytest.raises(BadInput, match="Nothing has been done"):
            compare_stages(room, "Skirt")


@pytest.mark.parametrize("suffix", [".svg", ".pdf", ".png"])
def test_the_overlay_is_drawn(sewn: Room, suffix: str) -> None:
    noted(sewn)
    fitting.take_in(sewn, TUNIC, "side", KNOTS)
    drawn = draw_overlay(compare_stages(sewn, TUNIC), suffix)
    assert len(drawn) > 1000
    if suffix == ".svg":
        text = drawn.decode()
        assert "front" in text
        assert "mock-up 1" in text
        assert text.count("stroke-dasharray") >= 3, "two pieces as they were, and the key"


moves = st.sampled_from(["hem", "take in", "note", "back", "again", "off", "on", "amend"])


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(what=st.lists(moves, min_size=2, max_size=6), data=st.data())
def test_any_two_stages_agree_with_their_replay(
    tmp_path_factory: Any, what: list[str], data: st.DataObject
) -> None:
    """Whatever was done: outlines of both stages are what the history replays to, and no unchanged piece is told of."""
    from eke.actions.room import make_room

    with make_room(tmp_path_factory.mktemp("any") / "room") as room:
        tunic.start_tunic(room)
        mm = 3.0
        for one in what:
            mm += 4.0
            steps = [line.id for line in history.history(room, TUNIC) if line.kind.startswith("fit.")]
            try:
                match one:
                    case "hem":
                        lengthened(room, mm)
                    case "take in":
                        fitting.take_in(room, TUNIC, "side", [(0.0, 0.0), (150.0, mm), (340.0, 0.0)])
                    case "note":
                        noted(room)
                    case "back":
                        history.take_back(room, TUNIC)
                    case "again":
                        history.do_again(room, TUNIC)
                    case _ if not steps:
                        continue
                    case "amend":
                        step = data.draw(st.sampled_from(steps))
                        history.amend_change(room, step, {"by_mm": mm}, TUNIC)
                    case _:
                        history.switch_change(room, data.draw(st.sampled_from(steps)), one == "on", TUNIC)
            except EkeError:
                continue
        every = stages(room, TUNIC)
        ids = [s.id for s in every]
        one, two = data.draw(st.sampled_from(ids)), data.draw(st.sampled_from(ids))
        found = compare_stages(room, TUNIC, one, two)
        assert {found.earlier.id, found.later.id} == {one, two}
        for piece in found.pieces:
            if piece.how != "changed":
                continue
            assert piece.before is not None
            assert piece.after is not None
            same = np.array_equal(piece.before.outline.flatten(), piece.after.outline.flatten())
            assert not same or piece.apart_mm == 0.0
        if any(p.apart_mm for p in found.pieces):
            assert found.steps, "lines moved and no change is told"
