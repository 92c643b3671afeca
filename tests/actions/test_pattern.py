"""Pieces, seams, fit changes and derived pieces of a small garment through the actions."""

from __future__ import annotations

import math

import numpy as np
import pytest

from eke.actions import fitting, found, history, patterns, projects, recipes, sheets
from eke.actions.room import Room, make_room
from eke.errors import BadInput, BadShape, NotFound
from eke.fit import run_length_mm
from eke.pattern.model import EdgePlace, Pattern
from helpers import tunic

TUNIC = tunic.TUNIC


def lengths(pattern: Pattern) -> dict[str, list[float]]:
    """Edge lengths by piece, in order: what must be equal in two equal patterns whatever their ids."""
    return {p.name: [round(e.path.length_mm, 6) for e in p.edges] for p in pattern.pieces.values()}


def seam_gap(pattern: Pattern, name: str) -> float:
    seam = pattern.seam(fitting.find_seam(pattern, name))
    return run_length_mm(pattern, seam.a) - run_length_mm(pattern, seam.b)


def gap_finding(room: Room):
    return [f for f in patterns.findings(room, TUNIC) if f.code == "seam-length"]


# ---------------------------------------------------------------- tracing in


def test_a_traced_piece_keeps_its_measures_and_remembers_its_tracing(sewn: Room) -> None:
    front = sewn.garment(TUNIC).pattern.piece("front")
    assert front.edges[0].path.length_mm == pytest.approx(200.0)
    assert front.edges[1].path.length_mm == pytest.approx(math.hypot(20, 350))
    assert front.fold == front.edges[-1].id
    tracing = sewn.garment(TUNIC).pattern.tracings[front.tracing]
    assert (tracing.reference, tracing.uncertainty_mm) == ("a4", 0.5)


def test_a_cut_edge_loses_its_allowance(room: Room) -> None:
    projects.start_project(room, "P")
    projects.enter_garment(room, "P", TUNIC)
    params = tunic.trace_params(tunic.FRONT, "front", traced_as="cut", traced_allowance_mm=10.0)
    patterns.change(room, TUNIC, "trace.add", params)
    x0, _, x1, _ = room.garment(TUNIC).pattern.piece("front").outline.bounds
    # 10 mm off each side; the side seam leans by 20 in 350, so its foot moves a little more than 10 mm
    assert x1 - x0 == pytest.approx(200 - 10 - 10 / math.cos(math.atan(20 / 350)) - 10 * 20 / 350, abs=0.05)


def test_a_self_crossing_outline_is_refused_and_nothing_is_kept(sewn: Room) -> None:
    before = sewn.garment(TUNIC).revision
    bow = (((0, 0), (100, 100)), ((100, 100), (100, 0)), ((100, 0), (0, 100)), ((0, 100), (0, 0)))
    with pytest.raises(BadShape, match="crosses itself"):
        patterns.change(sewn, TUNIC, "trace.add", tunic.trace_params(bow, "bow"))
    assert sewn.garment(TUNIC).revision == before
    assert "bow" not in {p.name for p in sewn.garment(TUNIC).pattern.pieces.values()}


def test_an_outline_that_is_not_there(sewn: Room) -> None:
    seen = tunic.photographed(sewn, TUNIC, tunic.traced(tunic.FRONT))
    with pytest.raises(NotFound, match=r"no outline “7”\. It has: 1"):
        found.take_piece(sewn, seen.id, "7", "x")


def test_runs_that_overlap_are_refused(sewn: Room) -> None:
    edge = patterns.find_edge(sewn.garment(TUNIC).pattern, "front.side").id
    with pytest.raises(BadInput):
        patterns.say_seam(sewn, TUNIC, "odd", [edge], [edge])
    assert len(sewn.garment(TUNIC).pattern.seams) == 2


def test_a_negative_allowance_is_refused(sewn: Room) -> None:
    edge = patterns.find_edge(sewn.garment(TUNIC).pattern, "front.side")
    with pytest.raises(BadInput, match="llowance"):
        patterns.change(sewn, TUNIC, "edge.set", {"edge": edge.id, "allowance_mm": -5.0})
    assert patterns.find_edge(sewn.garment(TUNIC).pattern, "front.side").allowance_mm is None


# ---------------------------------------------------------------- seams


def test_walking_finds_what_does_not_match_and_the_remedy_cures_it(sewn: Room) -> None:
    found = gap_finding(sewn)
    assert len(found) == 1
    assert found[0].amount == pytest.approx(-tunic.SIDE_GAP_MM, abs=0.05)
    fix = found[0].fixes[0]
    done = patterns.apply_fix(sewn, TUNIC, fix)
    assert gap_finding(sewn) == []
    assert seam_gap(sewn.garment(TUNIC).pattern, "side") == pytest.approx(0.0, abs=0.1)
    assert history.history(sewn, TUNIC)[-1].note == fix.sentence
    assert done.sentence.endswith(".")


@pytest.mark.parametrize("number", [0, 1, 2, 3])
def test_every_remedy_that_is_offered_cures(sewn: Room, number: int) -> None:
    patterns.apply_fix(sewn, TUNIC, gap_finding(sewn)[0].fixes[number])
    assert gap_finding(sewn) == []


def test_seams_are_proposed_and_confirmed(room: Room) -> None:
    projects.start_project(room, "P")
    projects.enter_garment(room, "P", TUNIC)
    tunic.take_tunic(room)
    words = {
        frozenset(patterns.proposal_words(room.garment(TUNIC).pattern, p)): p
        for p in patterns.proposed_seams(room, TUNIC)
    }
    side = words[frozenset({"front.side", "back.side"})]
    patterns.accept_seam(room, TUNIC, side, "side")
    assert seam_gap(room.garment(TUNIC).pattern, "side") == pytest.approx(-tunic.SIDE_GAP_MM, abs=0.05)


def test_edges_are_found_by_name_number_and_id(sewn: Room) -> None:
    pattern = sewn.garment(TUNIC).pattern
    edge = patterns.find_edge(pattern, "front.side")
    assert patterns.find_edge(pattern, "front#2") == edge == patterns.find_edge(pattern, edge.id)
    for wrong, says in (("front#9", "6 edges"), ("front.sleeve", "It has: “hem”"), ("side", "names no edge")):
        with pytest.raises(BadInput, match=says):
            patterns.find_edge(pattern, wrong)


# ---------------------------------------------------------------- fit and derived pieces


def test_taking_in_narrows_both_sides_by_the_share(sewn: Room) -> None:
    def width_at(piece: str, y: float) -> float:
        path = patterns.find_edge(sewn.garment(TUNIC).pattern, f"{piece}.side").path
        points = path.flatten()
        return float(np.interp(y, points[:, 1], points[:, 0]))

    before = {p: width_at(p, 150.0) for p in ("front", "back")}
    fitting.take_in(sewn, TUNIC, "side", [(0, 0), (150, 8), (350, 0)], share_a=0.25, reason="wide")
    # 8 mm in all at 150 mm: a quarter at the front, the rest at the back
    assert before["front"] - width_at("front", 150.0) == pytest.approx(2.0, abs=0.4)
    assert before["back"] - width_at("back", 150.0) == pytest.approx(6.0, abs=0.4)
    assert history.history(sewn, TUNIC)[-1].note == "wide"


def test_letting_out_by_the_same_taper_brings_the_pattern_back(sewn: Room) -> None:
    before = lengths(sewn.garment(TUNIC).pattern)
    knots = [(0.0, 0.0), (150.0, 6.0), (350.0, 0.0)]
    fitting.take_in(sewn, TUNIC, "side", knots)
    fitting.take_in(sewn, TUNIC, "side", [(at, -amount) for at, amount in knots])
    after = lengths(sewn.garment(TUNIC).pattern)
    for name, rows in before.items():
        assert after[name] == pytest.approx(rows, abs=0.3)


def dart(room: Room) -> str:
    neck = patterns.find_edge(room.garment(TUNIC).pattern, "back.neck")
    x, y = neck.path.point_at(40.0)
    nx, ny = neck.path.normal_at(40.0)
    fitting.add_dart(room, TUNIC, EdgePlace(neck.id, mm=40.0), 6.0, (x + 60 * nx, y + 60 * ny))
    darts = room.garment(TUNIC).pattern.piece("back").darts
    assert len(darts) == 1
    return darts[0].id


def test_a_dart_takes_its_intake_and_moves_to_another_edge(sewn: Room) -> None:
    neck_before = patterns.find_edge(sewn.garment(TUNIC).pattern, "back.neck").path.length_mm
    dart_id = dart(sewn)
    pattern = sewn.garment(TUNIC).pattern
    assert len(patterns.find_edges(pattern, "back.neck")) == 2  # the dart parts the edge
    left = sum(e.path.length_mm for e in patterns.find_edges(pattern, "back.neck"))
    # trade practice: closing the dart gives the neck back its length
    assert left == pytest.approx(neck_before, abs=6.5)
    shoulder = patterns.find_edge(pattern, "back.shoulder")
    fitting.move_dart(sewn, TUNIC, dart_id, EdgePlace(shoulder.id, fraction=0.5))
    pattern = sewn.garment(TUNIC).pattern
    assert len(patterns.find_edges(pattern, "back.shoulder")) == 2
    assert [d.id for d in pattern.piece("back").darts] == [dart_id]


def test_a_change_as_ruler_steps_states_the_amounts_asked_for(sewn: Room) -> None:
    done = fitting.take_in(sewn, TUNIC, "side", [(0, 0), (150, 8), (350, 0)], reason="wide")
    fitting.take_in(sewn, TUNIC, "shoulder", [(0, 0), (40, 4)])  # a later change does not alter the steps
    sheet = fitting.ruler_steps_of(sewn, TUNIC, done.id)
    assert sheet.reason == "wide"
    assert {s.piece_name for s in sheet.steps} == {"front", "back"}
    for step in sheet.steps:
        assert max(row.in_mm for row in step.rows) == pytest.approx(4.0, abs=0.3)
        assert step.rows[0].in_mm == pytest.approx(0.0, abs=0.05)
    with pytest.raises(NotFound):
        fitting.ruler_steps_of(sewn, TUNIC, "nothing")
    with pytest.raises(BadInput, match="print the piece again"):
        fitting.ruler_steps_of(sewn, TUNIC, history.history(sewn, TUNIC)[1].id)


def test_any_fit_change_is_measured_from_the_old_line(sewn: Room) -> None:
    hem = patterns.find_edge(sewn.garment(TUNIC).pattern, "front.hem")
    done = sewn.change_garment(TUNIC, "fit.hem", {"edge": hem.id, "by_mm": 30.0})
    sheet = fitting.ruler_steps_of(sewn, TUNIC, done.id)
    rows = [abs(row.in_mm) for step in sheet.steps if step.edge_name == "hem" for row in step.rows]
    assert rows
    assert max(rows) == pytest.approx(30.0, abs=0.5)
    assert hem.id in sheet.edges
    assert sheets.ruler_step_pages(sewn, TUNIC, done.id)


def test_a_facing_and_a_lining_follow_the_pattern(sewn: Room) -> None:
    recipes.add_recipe(sewn, TUNIC, "facing", "neck", edges=["front.neck"], params={"width_mm": 40.0})
    recipes.add_recipe(sewn, TUNIC, "lining", "lining", pieces=["front", "back"])

    def derived() -> dict[str, list[float]]:
        state = sewn.garment(TUNIC)
        return {
            f"{state.pattern.recipes[d.recipe].name} of {d.source}": [e.path.length_mm for e in d.piece.edges]
            for d in state.derivation.pieces.values()
        }

    before = derived()
    assert len(before) == 3
    fitting.take_in(sewn, TUNIC, "side", [(0, 0), (150, 8), (350, 0)])
    after = derived()
    assert set(after) == set(before)
    facing = next(k for k in before if k.startswith("neck of"))
    assert after[facing] == pytest.approx(before[facing])  # the side does not touch the neck
    assert any(after[k] != pytest.approx(before[k]) for k in before if k.startswith("lining of"))
    recipes.set_recipe(sewn, TUNIC, "neck", {"width_mm": 60.0})
    assert derived()[facing] != pytest.approx(before[facing])


# ---------------------------------------------------------------- the same steps, the same pattern


def steps(room: Room) -> None:
    tunic.start_tunic(room)
    patterns.apply_fix(room, TUNIC, gap_finding(room)[0].fixes[0])
    fitting.take_in(room, TUNIC, "side", [(0, 0), (150, 8), (350, 0)])
    dart(room)
    recipes.add_recipe(room, TUNIC, "facing", "neck", edges=["front.neck"], params={"width_mm": 40.0})


def test_the_same_steps_in_a_second_workroom_give_the_same_pattern(room: Room, tmp_path) -> None:
    steps(room)
    with make_room(tmp_path / "second") as second:
        steps(second)
        one, other = room.garment(TUNIC), second.garment(TUNIC)
        assert lengths(one.pattern) == lengths(other.pattern)
        assert [line.sentence for line in history.history(room, TUNIC)] == [
            line.sentence for line in history.history(second, TUNIC)
        ]
        assert [d.piece.outline.length_mm for d in one.derivation.pieces.values()] == pytest.approx(
            [d.piece.outline.length_mm for d in other.derivation.pieces.values()]
        )


def test_moving_a_tracing_moves_the_pattern_and_nothing_else(room: Room) -> None:
    projects.start_project(room, "P")
    projects.enter_garment(room, "P", TUNIC)
    shifted = tuple(tuple((x + 300.0, y - 80.0) for x, y in row) for row in tunic.FRONT)
    for name, chain in (("here", tunic.FRONT), ("there", shifted)):
        patterns.change(room, TUNIC, "trace.add", tunic.trace_params(chain, name))
    measured = lengths(room.garment(TUNIC).pattern)
    assert measured["here"] == pytest.approx(measured["there"], abs=1e-6)
