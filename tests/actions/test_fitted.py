"""A fitted mock-up piece, traced and carried to the pattern: known changes are found again, and nothing else."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from eke.actions import history, patterns
from eke.actions.fitted import carry_fitted, offer_fitted
from eke.actions.room import Room
from eke.errors import BadInput, EkeError
from eke.geometry import Move, Path
from helpers import tunic
from helpers.fitting import MOVE, PHOTO, TUNIC, WORTH_MM, shaped, taken_in, trace


def edge_id(room: Room, text: str) -> str:
    return str(patterns.find_edge(room.garment(TUNIC).pattern, text).id)


def apart(path: Path, other: Path) -> float:
    return max(
        other.nearest(path.point_at(float(mm))).distance_mm for mm in np.linspace(0, path.length_mm, 80)
    )


def test_what_was_pinned_at_a_side_is_found_and_carried_over(sewn: Room) -> None:
    noted = patterns.change(sewn, TUNIC, "mockup.note", {"noticed": "wide at the waist"}).id
    truth = taken_in(sewn)
    trace(sewn, truth)
    before = sewn.garment(TUNIC).pattern
    found = offer_fitted(sewn, TUNIC, "front", "fitted front")
    assert not found.fitted.turned_over
    assert found.warnings == ()
    side = edge_id(sewn, "front.side")
    told = {e.edge: e for e in found.fitted.edges}
    assert {e for e, row in told.items() if row.beyond} == {side}
    assert told[side].most_mm == pytest.approx(-9.0, abs=1.0)
    assert told[side].most_at_mm == pytest.approx(170.0, abs=25.0)
    assert -7.0 < told[side].mean_mm < -3.0
    (carry,) = found.carries
    assert (carry.edge, carry.kind, carry.sides) == (side, "fit.take_in", "this")
    assert carry.left_mm <= WORTH_MM
    assert sewn.garment(TUNIC).pattern == before, "offering changes nothing"

    carried = carry_fitted(sewn, TUNIC, "front", "fitted front", {side: "this"})
    after = sewn.garment(TUNIC).pattern
    assert apart(truth.edge(side).path, after.piece("front").edge(side).path) <= 1.2
    assert after.piece("back") == before.piece("back")
    assert len(after.pieces) == 2, "the traced piece has done its work"
    mock_up = after.mock_ups[noted]
    assert (mock_up.photos, mock_up.changes) == ((PHOTO,), (carried.changes[0].id,))
    assert (mock_up.number, mock_up.noticed) == (1, "wide at the waist")
    line = next(row for row in history.history(sewn, TUNIC) if row.id == carried.changes[0].id)
    assert (line.note, line.kind) == ("from the traced mock-up 1", "fit.take_in")
    # said again in other words, the mock-up keeps what came of it
    patterns.change(
        sewn, TUNIC, "mockup.note", {"id": noted, "number": 1, "noticed": "better", "photos": [PHOTO]}
    )
    assert sewn.garment(TUNIC).pattern.mock_ups[noted].changes == mock_up.changes
    for _ in range(4):
        history.take_back(sewn, TUNIC)
    assert sewn.garment(TUNIC).pattern == before


def test_both_sides_of_the_seam(sewn: Room) -> None:
    truth = taken_in(sewn)
    trace(sewn, truth)
    side, mate = edge_id(sewn, "front.side"), edge_id(sewn, "back.side")
    before = sewn.garment(TUNIC).pattern.piece("back").edge(mate).path
    carry_fitted(sewn, TUNIC, "front", "fitted front", {side: "both"})
    after = sewn.garment(TUNIC).pattern
    assert apart(truth.edge(side).path, after.piece("front").edge(side).path) <= 1.2
    assert apart(before, after.piece("back").edge(mate).path) == pytest.approx(9.0, abs=1.2)


def test_the_far_side_of_a_seam_is_carried_as_well(sewn: Room) -> None:
    """The back lies on run B of the seam, and its side is 4 mm longer: places along it are those of run A."""
    seam = next(s.id for s in sewn.garment(TUNIC).pattern.seams.values() if s.name == "side")
    knots = [[0.0, 0.0], [120.0, 9.0], [345.0, 0.0]]
    truth = shaped(sewn, "fit.take_in", {"seam": seam, "knots": knots, "share_a": 0.0}, "back")
    trace(sewn, truth, name="fitted back")
    side = edge_id(sewn, "back.side")
    carry_fitted(sewn, TUNIC, "back", "fitted back", {side: "this"})
    assert apart(truth.edge(side).path, sewn.garment(TUNIC).pattern.piece("back").edge(side).path) <= 1.2


def test_a_hem_and_a_neck(sewn: Room) -> None:
    hem, neck = edge_id(sewn, "front.hem"), edge_id(sewn, "front.neck")
    trace(sewn, shaped(sewn, "fit.hem", {"edge": hem, "by_mm": -14.0}))
    found = offer_fitted(sewn, TUNIC, "front", "fitted front")
    (carry,) = [c for c in found.carries if c.edge == hem]
    assert carry.kind == "fit.hem"
    assert carry.params["by_mm"] == pytest.approx(-14.0, abs=0.6)
    history.take_back(sewn, TUNIC)
    scooped = {"edge": neck, "fraction": 0.5, "in_mm": 7.0, "over_mm": 10.0, "fade_mm": 35.0}
    trace(sewn, shaped(sewn, "fit.move_freely", scooped))
    found = offer_fitted(sewn, TUNIC, "front", "fitted front")
    (carry,) = found.carries
    assert (carry.edge, carry.kind) == (neck, "fit.move_freely")
    assert carry.params["in_mm"] == pytest.approx(7.0, abs=1.0)
    carry_fitted(sewn, TUNIC, "front", "fitted front", {neck: "this"})
    assert sewn.garment(TUNIC).pattern.mock_ups, "a mock-up is noted where there was none"


def test_nothing_was_moved(sewn: Room) -> None:
    trace(sewn, sewn.garment(TUNIC).pattern.piece("front"))
    found = offer_fitted(sewn, TUNIC, "front", "fitted front")
    assert found.carries == ()
    assert not any(e.beyond for e in found.fitted.edges)
    assert found.fitted.agreeing > 0.95
    with pytest.raises(BadInput, match="no more than its tracing is uncertain"):
        carry_fitted(sewn, TUNIC, "front", "fitted front", {edge_id(sewn, "front.side"): "this"})


def test_a_mirrored_piece_is_turned_over_and_told(sewn: Room) -> None:
    truth = taken_in(sewn)
    trace(sewn, truth, Move.mirror((300.0, 0.0), (300.0, 1.0)).then(MOVE))
    found = offer_fitted(sewn, TUNIC, "front", "fitted front")
    assert found.fitted.turned_over
    assert "mirror image" in found.warnings[0]
    side = edge_id(sewn, "front.side")
    assert {e.edge: e.most_mm for e in found.fitted.edges}[side] == pytest.approx(-9.0, abs=1.0)


def test_a_piece_of_another_size_is_never_scaled(sewn: Room) -> None:
    front = sewn.garment(TUNIC).pattern.piece("front")
    rows: list[Any] = []
    for edge in front.edges:
        flat = 1.05 * edge.path.points_at(np.linspace(0.0, edge.path.length_mm, 12))
        rows += [{"kind": "line", "points": [p.tolist(), q.tolist()]} for p, q in pairwise(flat)]
    corners = [[1.05 * e.path.start[0], 1.05 * e.path.start[1]] for e in front.edges]
    patterns.change(sewn, TUNIC, "trace.add", {"name": "large", "segments": rows, "corners": corners})
    found = offer_fitted(sewn, TUNIC, "front", "large")
    assert found.fitted.poor
    assert any("unsure" in said for said in found.warnings)
    longer = {e.name: e.longer_mm for e in found.fitted.edges}
    assert longer["side"] == pytest.approx(0.05 * 350.6, abs=4.0), "it is told, not scaled away"


def test_what_is_refused(sewn: Room) -> None:
    trace(sewn, taken_in(sewn))
    before = sewn.garment(TUNIC).stored.revision
    side = edge_id(sewn, "front.side")
    for words, wrong in (
        ("on itself", lambda: offer_fitted(sewn, TUNIC, "front", "front")),
        ("no traced mock-up piece", lambda: offer_fitted(sewn, TUNIC, "front", "back")),
        ("no single piece", lambda: offer_fitted(sewn, TUNIC, "front", "sleeve")),
        ("Choose at least one", lambda: carry_fitted(sewn, TUNIC, "front", "fitted front", {})),
        ("no edge", lambda: carry_fitted(sewn, TUNIC, "front", "fitted front", {"nothing": "this"})),
        (
            "no mock-up 5",
            lambda: carry_fitted(sewn, TUNIC, "front", "fitted front", {side: "this"}, mock_up=5),
        ),
    ):
        with pytest.raises(EkeError, match=words):
            wrong()
    both = {side: "this", edge_id(sewn, "front.neck"): "this"}
    with pytest.raises(BadInput, match="Nothing was changed"):
        carry_fitted(sewn, TUNIC, "front", "fitted front", both)  # type: ignore[arg-type]
    assert sewn.garment(TUNIC).stored.revision == before, "all of them, or none"


def take_lining(room: Room, name: str = "lining") -> None:
    """Take the back in once more, as a piece of its own that is sewn nowhere yet."""
    patterns.change(room, TUNIC, "trace.add", tunic.trace_params(tunic.BACK, name))
    edges = room.garment(TUNIC).pattern.piece(name).edges
    for edge, called in zip(edges, tunic.EDGES, strict=True):
        said = {"edge": edge.id, "name": called, "kind": tunic.KINDS.get(called, "seam")}
        patterns.change(room, TUNIC, "edge.set", said)


def test_an_edge_in_several_seams_takes_along_what_is_sewn_in_each(sewn: Room) -> None:
    take_lining(sewn)
    side, back, lining = (edge_id(sewn, f"{piece}.side") for piece in ("front", "back", "lining"))
    patterns.say_seam(sewn, TUNIC, "lining side", [side], [lining])
    truth = taken_in(sewn)
    trace(sewn, truth)
    before = sewn.garment(TUNIC).pattern
    found = offer_fitted(sewn, TUNIC, "front", "fitted front", {side: "both"})
    (carry,) = found.carries
    assert [kind for kind, _ in carry.before] == ["fit.take_in"]
    carried = carry_fitted(sewn, TUNIC, "front", "fitted front", {side: "both"})
    assert len(carried.changes) == 2
    after = sewn.garment(TUNIC).pattern
    assert apart(truth.edge(side).path, after.piece("front").edge(side).path) <= 1.2
    for piece, edge in (("back", back), ("lining", lining)):
        moved = apart(before.piece(piece).edge(edge).path, after.piece(piece).edge(edge).path)
        assert moved == pytest.approx(9.0, abs=1.2), piece
    (mock_up,) = after.mock_ups.values()
    assert mock_up.changes == tuple(one.id for one in carried.changes)
    for _ in range(4):
        history.take_back(sewn, TUNIC)
    assert sewn.garment(TUNIC).pattern == before


def test_what_is_sewn_to_an_edge_in_two_seams_moves_once(sewn: Room) -> None:
    side, back = edge_id(sewn, "front.side"), edge_id(sewn, "back.side")
    armhole = edge_id(sewn, "back.armhole")
    patterns.say_seam(sewn, TUNIC, "side and on", [side], [back, armhole])
    before = sewn.garment(TUNIC).pattern
    trace(sewn, taken_in(sewn))
    carried = carry_fitted(sewn, TUNIC, "front", "fitted front", {side: "both"})
    assert len(carried.changes) == 1
    after = sewn.garment(TUNIC).pattern
    moved = apart(before.piece("back").edge(back).path, after.piece("back").edge(back).path)
    assert moved == pytest.approx(9.0, abs=1.2)


def test_the_seam_that_goes_on_over_the_next_piece_moves_the_edge(sewn: Room) -> None:
    """The armhole is sewn to a facing of its own, and with the back's to a sleeve: what was let out fades over the back."""
    take_lining(sewn, "facing")
    take_lining(sewn, "sleeve")
    armhole, back, facing, sleeve, other = (
        edge_id(sewn, at)
        for at in ("front.armhole", "back.armhole", "facing.armhole", "sleeve.armhole", "sleeve.side")
    )
    patterns.say_seam(sewn, TUNIC, "facing", [armhole], [facing])
    patterns.say_seam(sewn, TUNIC, "armhole", [armhole, f"-{back}"], [sleeve, f"-{other}"])
    seam = next(s.id for s in sewn.garment(TUNIC).pattern.seams.values() if s.name == "facing")
    knots = [[0.0, 0.0], [90.0, 6.0], [135.0, 6.0]]
    truth = shaped(sewn, "fit.take_in", {"seam": seam, "knots": knots, "share_a": 1.0})
    trace(sewn, truth)
    before = sewn.garment(TUNIC).pattern
    found = offer_fitted(sewn, TUNIC, "front", "fitted front")
    carry = next(c for c in found.carries if c.edge == armhole)
    assert before.seam(str(carry.params["seam"])).name == "armhole"
    carry_fitted(sewn, TUNIC, "front", "fitted front", {armhole: "this"})
    after = sewn.garment(TUNIC).pattern
    assert apart(truth.edge(armhole).path, after.piece("front").edge(armhole).path) <= 1.5
    moved = apart(before.piece("back").edge(back).path, after.piece("back").edge(back).path)
    assert 3.0 < moved < 8.0
    assert after.piece("facing") == before.piece("facing")
    assert after.piece("sleeve") == before.piece("sleeve")
