"""The one door between the two conventions of grain.

Outside, a piece has its grain along +y of its own frame, and a cloth has its warp at ``grain_deg`` of
its own frame. Inside the packing (:mod:`eke.lay`) there are plain polygons and turns. This door turns each
*cloth* so that its warp runs along +y; then a turn of 0° or 180° keeps every piece on the grain of every
cloth, and going out again turns the cloth, and what lies on it, back.

Files whose grain runs along x (``nesting-case-1``) come in by :func:`piece_with_grain_along_x`, and their
cloths with ``grain_deg=0``.

Nothing else in the program may turn a piece or a cloth for its grain. :mod:`eke.cutting.check` judges the
result without using this door.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon
from shapely.ops import unary_union

from eke.cloth import SOUND, Cloth, Ring, polygons, ring_of, washed
from eke.cutting.piece import PAIR_MARK, CutPiece
from eke.cutting.stripes import match_rules, repeat_of
from eke.errors import BadInput
from eke.lay.problem import FULL_QUALITY, Part, Placement, Problem, Sheet, TiltPair, Zone

Points = NDArray[np.float64]

WARP_IN_LAY_DEG: Final = 90.0
"""Where the warp of every cloth runs inside the packing: along +y, as a piece's grain does."""
GAP_PIECES_MM: Final = 2.0
"""Room for a chalk line and the shears between two cut lines (common practice)."""
GAP_EDGE_MM: Final = 0.0
"""A piece may lie at the very edge of the outline that the maker gave."""
GAP_HOLE_MM: Final = 3.0
"""Cloth beside a hole or a burn is weak."""
SHEET_LEAST_MM2: Final = 500.0
"""Parts of a cloth smaller than this are not offered: nothing that is cut fits on 2 × 2.5 cm."""
PART_MARK: Final = "#"
"""Parts of one cloth that a flaw separates are sheets of their own: ``cloth#2``."""
COPY_MARK: Final = "#"
"""Copies of one piece are told apart by a number: ``front/outer#2``."""
SNAP_DEG: Final = 0.02
"""A turn by hand this near to one that the grain allows is meant to be that one."""


@dataclass(frozen=True, slots=True)
class Gaps:
    """Distances to keep, in mm: between cut lines, to the edge of the cloth, to holes and flaws."""

    pieces_mm: float = GAP_PIECES_MM
    edge_mm: float = GAP_EDGE_MM
    hole_mm: float = GAP_HOLE_MM

    def __post_init__(self) -> None:
        if not all(math.isfinite(gap) and gap >= 0 for gap in (self.pieces_mm, self.edge_mm, self.hole_mm)):
            raise BadInput("Gaps between pieces, to the edge and to holes are 0 mm or more.")


@dataclass(frozen=True, slots=True)
class Laid:
    """One copy of a cut piece as it lies on a cloth, in the cloth's own frame.

    The piece is mirrored about its y axis first, turned by ``turn_deg`` about its origin, then moved.
    ``outline`` is the cut line where it lies. ``copy`` numbers the copies of a piece from 1; ``locked``: the
    maker wants it to stay there.
    """

    piece: str
    name: str
    cloth: str
    turn_deg: float
    x_mm: float
    y_mm: float
    mirrored: bool
    outline: Ring
    copy: int = 1
    locked: bool = False

    @property
    def id(self) -> str:
        """The name of this copy: the same piece and number have the same one in every lay."""
        return f"{self.piece}{COPY_MARK}{self.copy}"


def laid_at(
    piece: CutPiece,
    cloth: str,
    x_mm: float,
    y_mm: float,
    turn_deg: float,
    *,
    mirrored: bool = False,
    copy: int = 1,
    locked: bool = False,
) -> Laid:
    """Return a cut piece laid by hand in the frame of a cloth."""
    turn = turn_deg % 360.0
    outline = placed(piece.outline, turn, x_mm, y_mm, mirrored=mirrored)
    return Laid(piece.id, piece.name, cloth, turn, x_mm, y_mm, mirrored, outline, copy, locked)


# ---- in


def turn_into_lay_deg(cloth: Cloth) -> float:
    """How a cloth is turned so that its warp runs along +y.

    Raises
    ------
    BadInput
        When nobody has said which way the warp runs.
    """
    if cloth.grain_deg is None:
        raise BadInput(
            f"Nobody has said which way the warp of “{cloth.name}” runs, so pieces cannot be laid on its grain. Mark it "
            "along the selvedge or a drawn thread."
        )
    return WARP_IN_LAY_DEG - cloth.grain_deg


def piece_with_grain_along_x(outline: Sequence[Sequence[float]]) -> Ring:
    """Return an outline whose grain runs along x (as in ``nesting-case-1``) with its grain along +y."""
    return ring_of(affinity.rotate(Polygon(outline), 90.0, origin=(0.0, 0.0)).exterior.coords)


def to_problem(
    pieces: Sequence[CutPiece],
    cloths: Sequence[Cloth],
    *,
    gaps: Gaps | None = None,
    taken: Mapping[str, Sequence[Ring]] | None = None,
    name: str = "",
    match_stripes: bool = False,
) -> Problem:
    """Return the packing problem of laying ``pieces`` on ``cloths``.

    Cloths that are still to be washed are laid as they will be after it. A cloth with a direction, or with
    a right side, binds the pieces for all cloths of the problem: what may not be turned on one of them is
    not turned on any.

    Parameters
    ----------
    taken
        Cut lines that lie on a cloth already, by cloth id, in the cloth's frame.
    match_stripes
        Balance lines of one name lie on the same stripe of a cloth with a repeat along its warp.

    Raises
    ------
    BadInput
        When there are no pieces or no cloths, or the warp of a cloth is not known.
    """
    if not pieces:
        raise BadInput("There is nothing to cut yet: the cutting list is empty.")
    if not cloths:
        raise BadInput("No cloth has been chosen to cut from.")
    for piece in pieces:
        if piece.source is not None and piece.source.piece.fold is not None and not piece.source.whole:
            raise BadInput(
                f"“{piece.name}” is listed as a half, which must lie on a fold of the cloth; cloth is laid open here. List "
                "it whole, or lay on folded cloth."
            )
    gaps = gaps or Gaps()
    ready = [washed(cloth) for cloth in cloths]
    free = all(piece.grain == "any" for piece in pieces)
    one_way = any(cloth.nap == "one-way" for cloth in ready)
    same_face = all(cloth.same_face for cloth in ready)
    for cloth in ready:
        if cloth.grain_deg is not None or not free:
            turn_into_lay_deg(cloth)
    sheets = [
        sheet
        for cloth in ready
        for sheet in sheets_of(cloth, tuple((taken or {}).get(cloth.id, ())), gaps.pieces_mm)
    ]
    if not sheets:
        raise BadInput("Nothing sound is left of the cloths that were chosen.")
    pairs = tilt_pairs(pieces)
    rules = match_rules(pieces, ready) if match_stripes else {}
    if match_stripes:
        by_id = {cloth.id: cloth for cloth in ready}
        sheets = [
            replace(s, repeats=repeat_of(by_id.get(s.id) or by_id[s.id.rpartition(PART_MARK)[0]]))
            for s in sheets
        ]
    return Problem(
        parts=[
            replace(
                part_of(piece, one_way=one_way, same_face=same_face, tilt_pair=pairs.get(piece.id)),
                phases=rules.get(piece.id, ()),
            )
            for piece in pieces
        ],
        sheets=sheets,
        gap_parts_mm=gaps.pieces_mm,
        gap_edge_mm=gaps.edge_mm,
        gap_hole_mm=gaps.hole_mm,
        name=name,
    )


def part_of(piece: CutPiece, *, one_way: bool, same_face: bool, tilt_pair: TiltPair | None = None) -> Part:
    """A cut piece in the words of the packing."""
    return Part(
        id=piece.id,
        outline=piece.points,
        count=piece.copies,
        turns=piece.turns(one_way=one_way),
        tilt_deg=piece.tilt_deg if piece.grain != "any" else 0.0,
        mirror_allowed=same_face,
        priority=piece.priority,
        min_quality=FULL_QUALITY if piece.least_quality >= SOUND else float(piece.least_quality),
        same_turn=piece.same_turn,
        tilt_pair=tilt_pair,
    )


def tilt_pairs(pieces: Sequence[CutPiece]) -> dict[str, TiltPair]:
    """Pieces, by id, that are tilted mirror-wise: the two of a visible pair, so that both hang alike."""
    by_id = {piece.id: piece for piece in pieces}
    pairs = {}
    for piece in pieces:
        other = by_id.get(piece.id + PAIR_MARK)
        if (
            other is not None
            and not piece.hidden
            and piece.grain != "any"
            and (piece.tilt_deg, piece.grain) == (other.tilt_deg, other.grain)
            and piece.tilt_deg > 0
        ):
            pairs[piece.id] = TiltPair(piece.id)
            pairs[other.id] = TiltPair(piece.id, mirrored=True)
    return pairs


def sheets_of(cloth: Cloth, taken: Sequence[Ring], gap_mm: float) -> list[Sheet]:
    """The usable parts of a cloth as sheets, turned so that the warp runs along +y."""
    turn = turn_of(cloth)
    gone = [Polygon(ring).buffer(gap_mm, quad_segs=4) if gap_mm else Polygon(ring) for ring in taken]
    gone += [Polygon(flaw.polygon) for flaw in cloth.flaws if flaw.quality < 1]
    rest = cloth.polygon.difference(unary_union(gone)) if gone else cloth.polygon
    found = []
    for number, part in enumerate(polygons(rest, SHEET_LEAST_MM2), start=1):
        zones = []
        for flaw in cloth.flaws:
            if flaw.quality >= 1:
                poor = polygons(Polygon(flaw.polygon).intersection(part))
                zones += [Zone(turned(p.exterior.coords[:-1], turn), float(flaw.quality)) for p in poor]
        found.append(
            Sheet(
                id=cloth.id if number == 1 else f"{cloth.id}{PART_MARK}{number}",
                outline=turned(part.exterior.coords[:-1], turn),
                holes=[turned(ring.coords[:-1], turn) for ring in part.interiors],
                zones=zones,
            )
        )
    return found


def turn_of(cloth: Cloth) -> float:
    """As :func:`turn_into_lay_deg`, but 0 where the warp is not known and no piece asks for it."""
    return turn_into_lay_deg(cloth) if cloth.grain_deg is not None else 0.0


def to_placements(
    laid: Sequence[Laid], pieces: Sequence[CutPiece], cloths: Sequence[Cloth], problem: Problem
) -> tuple[Placement, ...]:
    """Return placements of the packing for what lies in the frames of cloths: the way back of what goes out.

    A turn that is off the grain by a hair is put right. A piece lies on that part of its cloth that it covers
    most of.

    Raises
    ------
    BadInput
        When something lies on a cloth, or is a piece, that the problem does not have.
    """
    by_id = {cloth.id: cloth for cloth in cloths}
    parts = {part.id: part for part in problem.parts}
    listed = {piece.id for piece in pieces}
    found = []
    for one in laid:
        cloth, part = by_id.get(one.cloth), parts.get(one.piece)
        sheets = [
            s for s in problem.sheets if s.id == one.cloth or s.id.rpartition(PART_MARK)[0] == one.cloth
        ]
        if cloth is None or part is None or one.piece not in listed or not sheets:
            raise BadInput(
                f"“{one.name}” cannot stay where it lies: it is not on the cutting list, or its cloth is not laid on. "
                "Take it off the cloth and lay again."
            )
        turn = turn_of(cloth)
        x, y = turned([(one.x_mm, one.y_mm)], turn)[0]
        shape = Polygon(turned(one.outline, turn))
        sheet = max(sheets, key=lambda s: Polygon(s.outline, list(s.holes)).intersection(shape).area)
        found.append(
            Placement(
                part.id, sheet.id, _snapped(one.turn_deg + turn, part), float(x), float(y), one.mirrored
            )
        )
    return tuple(found)


def _snapped(turn_deg: float, part: Part) -> float:
    turn_deg %= 360.0
    for allowed in part.turns or ():
        if abs(math.remainder(turn_deg - allowed, 360.0)) <= SNAP_DEG:
            return float(allowed) % 360.0
    return turn_deg


# ---- out


def from_placements(
    placements: Sequence[Placement], pieces: Sequence[CutPiece], cloths: Sequence[Cloth]
) -> tuple[Laid, ...]:
    """Return what lies where, each in the frame of its own cloth, from placements of the packing.

    Raises
    ------
    BadInput
        When a placement names a piece or a cloth that is not given.
    """
    by_id = {piece.id: piece for piece in pieces}
    by_sheet = {cloth.id: cloth for cloth in cloths}
    laid = []
    copies: Counter[str] = Counter()
    for placement in placements:
        piece = by_id.get(placement.part)
        sheet = placement.sheet or ""
        cloth = by_sheet.get(sheet) or by_sheet.get(sheet.rpartition(PART_MARK)[0])
        if piece is None or cloth is None:
            raise BadInput(
                f"The lay names “{placement.part}” on “{sheet}”, which are not both on the cutting list and the shelf. "
                "Lay again."
            )
        back = -turn_of(cloth)
        dx, dy = turned([(placement.x_mm, placement.y_mm)], back)[0]
        turn_deg = (placement.turn_deg + back) % 360.0
        copies[piece.id] += 1
        laid.append(
            laid_at(
                piece, cloth.id, float(dx), float(dy), turn_deg, mirrored=placement.mirrored, copy=copies[piece.id]
            )
        )  # fmt: skip
    return tuple(laid)


def placed(ring: Ring, turn_deg: float, x_mm: float, y_mm: float, *, mirrored: bool = False) -> Ring:
    """Return an outline mirrored (x → −x), turned about its origin, then moved; counter-clockwise."""
    points = [(-x, y) for x, y in reversed(ring)] if mirrored else list(ring)
    return tuple((float(x) + x_mm, float(y) + y_mm) for x, y in turned(points, turn_deg))


def turned(points: Sequence[Sequence[float]], turn_deg: float) -> Points:
    """Points turned about the origin; quarter turns are exact."""
    array = np.array(points, dtype=np.float64)[:, :2]
    quarter = turn_deg % 360.0 / 90.0
    if quarter == int(quarter):
        c, s = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    else:
        c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    out: Points = array @ np.array([[c, s], [-s, c]])
    return out
