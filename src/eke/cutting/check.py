"""An independent look at a lay: does every piece lie on its cloth, on the grain, right side up?

It works from the outlines alone, as one would with a ruler on the table: it finds how each outline was
turned by matching its corners, and never uses the door that made the lay.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.strtree import STRtree

from eke.cloth import Cloth, washed
from eke.cutting.door import Gaps, Laid, placed
from eke.cutting.piece import PAIR_MARK, CutPiece
from eke.cutting.stripes import MATCH_MM, balance_points, matched_lines

Points = NDArray[np.float64]

GRAIN_MM: Final = 0.05
"""A corner may lie this far from where the grain rule wants it."""
AREA_MM2: Final = 0.05
"""Area that may be common or outside: rounding along a metre of edge."""
GAP_TOLERANCE_MM: Final = 0.02
"""A gap may fall short by this much: rounding of the packing."""
TURN_DEG: Final = 0.01
"""A turn may be off by this much: 0.2 mm over a metre."""

Fault = Literal["shape", "grain", "face", "outside", "overlap", "gap", "quality", "stripes", "copies"]


@dataclass(frozen=True, slots=True)
class LayFault:
    """Something wrong in a lay: what, between which, by how much, in words."""

    kind: Fault
    pieces: tuple[str, ...]
    cloth: str
    amount: float
    sentence: str


def check_lay(
    laid: Sequence[Laid],
    pieces: Sequence[CutPiece],
    cloths: Sequence[Cloth],
    *,
    gaps: Gaps | None = None,
    match_stripes: bool = False,
) -> tuple[LayFault, ...]:
    """Return everything that is wrong with a lay; empty when it may be cut.

    Parameters
    ----------
    laid
        Pieces in the frames of their cloths.
    pieces, cloths
        The cutting list and the cloths; an unwashed cloth is taken as it will be after its wash.
    gaps
        Distances that must be kept; ``None`` for none.
    match_stripes
        Whether balance lines must lie on the same stripe of a cloth with a repeat along its warp.
    """
    keep = gaps or Gaps(0.0, 0.0, 0.0)
    listed = {piece.id: piece for piece in pieces}
    faults: list[LayFault] = []
    for id_, number in Counter(one.piece for one in laid).items():
        if number > listed[id_].copies:
            faults.append(
                LayFault(
                    "copies", (id_,), "", number - listed[id_].copies, f"“{listed[id_].name}” lies too often."
                )
            )
    for cloth in map(washed, cloths):
        here = [one for one in laid if one.cloth == cloth.id]
        for one in here:
            faults += _alone(one, listed[one.piece], cloth, keep)
        faults += _together(here, cloth, keep.pieces_mm)
    if match_stripes:
        faults += unmatched_stripes(laid, listed, [washed(cloth) for cloth in cloths])
    faults += unlike_pairs(laid, listed, {cloth.id: cloth for cloth in cloths})
    return tuple(faults)


def unmatched_stripes(
    laid: Sequence[Laid], listed: Mapping[str, CutPiece], cloths: Sequence[Cloth]
) -> list[LayFault]:
    """Balance lines that miss each other across the stripes, measured along the warp from the first of the name.

    ``listed`` is the whole cutting list by id, ``cloths`` as they will be when washed.
    """
    faults: list[LayFault] = []
    lines = matched_lines(tuple(listed.values()))
    for cloth in cloths:
        period_mm = cloth.repeat_mm[0]
        if period_mm is None or cloth.grain_deg is None:
            continue
        way = np.array([math.cos(math.radians(cloth.grain_deg)), math.sin(math.radians(cloth.grain_deg))])
        seen: dict[str, list[tuple[Laid, float]]] = {}
        for one in laid:
            if one.cloth != cloth.id:
                continue
            points = balance_points(listed[one.piece])
            for name in lines.get(one.piece, ()):
                ((x, y),) = placed((points[name],), one.turn_deg, one.x_mm, one.y_mm, mirrored=one.mirrored)
                seen.setdefault(name, []).append((one, float(np.array([x, y]) @ way)))
        for name, members in seen.items():
            for i, (one, at_mm) in enumerate(members):
                for other, its_mm in members[i + 1 :]:
                    off = abs(math.remainder(at_mm - its_mm, period_mm))
                    if off > MATCH_MM + GAP_TOLERANCE_MM:
                        words = f"The stripes of “{one.name}” and “{other.name}” miss each other by {off:.1f} mm at the {name}."
                        faults.append(LayFault("stripes", (one.piece, other.piece), cloth.id, off, words))
    return faults


def unlike_pairs(
    laid: Sequence[Laid], listed: Mapping[str, CutPiece], cloths: Mapping[str, Cloth]
) -> list[LayFault]:
    """Visible pairs that may be tilted hang alike only when both are tilted by as much, mirror-wise."""
    faults: list[LayFault] = []
    first: dict[str, tuple[Laid, float]] = {}
    for one in laid:
        piece, cloth = listed[one.piece], cloths.get(one.cloth)
        drawn = one.piece.removesuffix(PAIR_MARK)
        if (
            {drawn, drawn + PAIR_MARK} - set(listed)
            or piece.hidden
            or not piece.tilt_deg
            or piece.grain == "any"
        ):
            continue
        lies = grain_of(one, piece)
        if lies is None or cloth is None or cloth.grain_deg is None:
            continue
        allowed = piece.turns(one_way=cloth.nap == "one-way") or (0.0,)
        off = [math.remainder(lies[0] - cloth.grain_deg - turn, 360.0) for turn in allowed]
        tilt = min(off, key=abs)
        if (one.piece != drawn) != lies[1]:
            tilt = -tilt
        before, asked = first.setdefault(drawn, (one, tilt))
        if abs(tilt - asked) > 2.0 * TURN_DEG:
            words = (
                f"“{before.name}” and “{one.name}” would hang unlike: tilted by {abs(asked):.1f}° and {abs(tilt):.1f}°, "
                "and not as mirror images."
            )
            faults.append(LayFault("grain", (before.piece, one.piece), one.cloth, abs(tilt - asked), words))
    return faults


def grain_of(one: Laid, piece: CutPiece) -> tuple[float, bool, float] | None:
    """How an outline lies: direction of its grain in degrees, whether mirrored, and the worst misfit in mm.

    ``None`` when it is no move of the piece's outline at all.
    """
    best: tuple[float, bool, float] | None = None
    there = np.array(one.outline, dtype=np.float64)
    for flipped in (False, True):
        drawn = piece.points * (-1.0, 1.0) if flipped else piece.points
        if flipped:
            drawn = drawn[::-1]
        if len(drawn) != len(there):
            continue
        turn, misfit = _fit(drawn, there)
        if best is None or misfit < best[2]:
            best = ((90.0 + turn) % 360.0, flipped, misfit)
    # a symmetric outline fits both ways; then the record says which it was
    if best is not None and best[1] != one.mirrored:
        drawn = (piece.points * (-1.0, 1.0))[::-1] if one.mirrored else piece.points
        turn, misfit = _fit(drawn, there)
        if misfit <= GRAIN_MM:
            best = ((90.0 + turn) % 360.0, one.mirrored, misfit)
    return best


def _fit(drawn: Points, there: Points) -> tuple[float, float]:
    """Best turn (degrees) that brings one outline onto the other, corner by corner, and the misfit in mm."""
    a, b = drawn - drawn.mean(axis=0), there - there.mean(axis=0)
    turn = math.atan2(float(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])), float(np.sum(a * b)))
    c, s = math.cos(turn), math.sin(turn)
    return math.degrees(turn), float(np.abs(a @ np.array([[c, s], [-s, c]]) - b).max())


def _alone(one: Laid, piece: CutPiece, cloth: Cloth, keep: Gaps) -> list[LayFault]:
    faults: list[LayFault] = []
    shape = Polygon(one.outline)

    def fault(kind: Fault, amount: float, sentence: str) -> None:
        faults.append(
            LayFault(kind, (one.piece,), cloth.id, amount, f"“{one.name}” on “{cloth.name}” {sentence}")
        )

    lies = grain_of(one, piece)
    if lies is None or lies[2] > GRAIN_MM:
        fault("shape", math.inf if lies is None else lies[2], "is not the shape on the cutting list.")
        return faults
    if lies[1] and not cloth.same_face:
        fault("face", 0.0, "lies wrong side up, and this cloth has a right side.")
    if cloth.grain_deg is not None and piece.grain != "any":
        off = _off_grain(lies[0] - cloth.grain_deg, piece, one_way=cloth.nap == "one-way")
        if off > piece.tilt_deg + TURN_DEG:
            fault("grain", off, f"is {off:.1f}° off the grain.")
    elif piece.grain != "any":
        fault("grain", math.nan, "has no grain to follow: nobody has said which way the warp runs.")
    whole = Polygon(cloth.outline)
    over_mm2 = shape.difference(whole).area
    outside_mm2 = shape.difference(cloth.polygon).area
    if outside_mm2 > AREA_MM2:
        holes_mm2 = outside_mm2 - over_mm2
        over = [f"reaches over the edge by {over_mm2 / 100:.2f} cm²"] if over_mm2 > AREA_MM2 else []
        into = [f"lies over a hole by {holes_mm2 / 100:.2f} cm²"] if holes_mm2 > AREA_MM2 else []
        fault(
            "outside",
            outside_mm2,
            " and ".join(over + into or ["reaches over the edge and into a hole"]) + ".",
        )
    elif keep.edge_mm > 0 and shape.distance(whole.exterior) < keep.edge_mm - GAP_TOLERANCE_MM:
        fault("gap", shape.distance(whole.exterior), "is too near to the edge.")
    for hole in map(Polygon, cloth.holes):
        away = shape.distance(hole)
        if away < keep.hole_mm - GAP_TOLERANCE_MM and shape.intersection(hole).area <= AREA_MM2:
            fault("gap", away, f"is {away:.1f} mm from a hole.")
    for flaw in cloth.flaws:
        if flaw.quality < piece.least_quality:
            common = shape.intersection(Polygon(flaw.polygon)).area
            if common > AREA_MM2:
                fault("quality", common, f"lies on a {flaw.kind} ({common / 100:.1f} cm²).")
    return faults


def _off_grain(difference_deg: float, piece: CutPiece, *, one_way: bool) -> float:
    """Angle from the nearest direction that the grain rule allows."""
    allowed = piece.turns(one_way=one_way) or (0.0,)
    return min(abs((difference_deg - turn + 180.0) % 360.0 - 180.0) for turn in allowed)


def _together(here: Sequence[Laid], cloth: Cloth, gap_mm: float) -> list[LayFault]:
    shapes = [Polygon(one.outline) for one in here]
    if len(shapes) < 2:
        return []
    faults: list[LayFault] = []
    tree = STRtree(shapes)
    for i, shape in enumerate(shapes):
        for j in map(int, tree.query(shape.buffer(gap_mm + 1.0).envelope)):
            if j <= i:
                continue
            common = shape.intersection(shapes[j]).area
            names = (here[i].piece, here[j].piece)
            if common > AREA_MM2:
                words = (
                    f"“{here[i].name}” and “{here[j].name}” lie over each other by {common / 100:.2f} cm²."
                )
                faults.append(LayFault("overlap", names, cloth.id, common, words))
            elif shape.distance(shapes[j]) < gap_mm - GAP_TOLERANCE_MM:
                apart = shape.distance(shapes[j])
                words = f"“{here[i].name}” and “{here[j].name}” are only {apart:.1f} mm apart."
                faults.append(LayFault("gap", names, cloth.id, apart, words))
    return faults


def by_kind(faults: Sequence[LayFault]) -> Mapping[str, int]:
    """How many faults of each kind."""
    return Counter(fault.kind for fault in faults)
