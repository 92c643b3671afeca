"""The cutting list: what to cut, from which role of cloth, how often, with which allowances."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapely.ops import unary_union

from eke.cloth import ring_of
from eke.cutting.piece import CutPiece, Source, hidden_quality, mirrored
from eke.derive.allowances import (
    PRESETS,
    AllowancePreset,
    allowance_of,
    cut_outline,
    first_sewn,
    without_hairs,
)
from eke.derive.derived import Derived
from eke.errors import BadInput
from eke.geometry.tolerance import FLATTEN_MM
from eke.pattern.model import Pattern, Piece, Role

ROLE_PRESETS: Final[Mapping[Role, str]] = {
    "outer": "home",
    "lining": "home",
    "interfacing": "home",
    # interlining for warmth is cut without allowances: The Dressmaker, Butterick 1911
    "interlining": "none",
    "mock-up": "mock-up",
}
HIDDEN_ROLES: Final[frozenset[Role]] = frozenset({"lining", "interlining", "interfacing", "mock-up"})
HIDDEN_RECIPES: Final = frozenset({"facing", "lining", "layer"})
"""Recipes whose pieces nobody sees in wear."""
PRIORITIES: Final[Mapping[Role, int]] = {
    "outer": 1,
    "lining": 2,
    "interlining": 3,
    "interfacing": 3,
    "mock-up": 1,
}
BESIDE_FOLD_MM: Final = 0.05
"""A cut line this near to the fold lies on it."""
NO_GRAIN_LINE_MM: Final = 1.0
"""A grain line shorter than this has no direction."""


def cutting_list(
    pattern: Pattern,
    derived: Sequence[Derived] = (),
    *,
    roles: Iterable[Role] | None = None,
    presets: Mapping[Role, AllowancePreset] | None = None,
    hidden: Iterable[str] = (),
    unfold: bool = True,
) -> tuple[CutPiece, ...]:
    """Return what is cut for a pattern and its derived pieces.

    Parameters
    ----------
    pattern, derived
        The pattern, and what its recipes yield.
    roles
        Only these roles; ``None`` for all but the mock-up.
    presets
        Allowances by role where an edge has none of its own; else :data:`ROLE_PRESETS`.
    hidden
        Ids of further pieces that nobody sees (an under collar, a pocket bag).
    unfold
        Whether a half piece is listed as its whole; else as a half to be laid on a fold of the cloth.

    Raises
    ------
    BadInput
        When a piece is on the list twice, or a pair is asked of a piece on the fold.
    BadShape
        When an outline crosses itself.
    """
    wanted = frozenset(roles) if roles is not None else frozenset(PRIORITIES) - {"mock-up"}
    widths = {role: PRESETS[name] for role, name in ROLE_PRESETS.items()} | dict(presets or {})
    unseen = set(hidden)
    pieces: list[Piece] = list(pattern.pieces.values())
    for made in derived:
        pieces.append(made.piece)
        recipe = pattern.recipes.get(made.recipe)
        if recipe is not None and recipe.kind in HIDDEN_RECIPES:
            unseen.add(made.piece.id)
    listed: list[CutPiece] = []
    for piece in pieces:
        for cut in piece.cuts:
            if cut.role in wanted:
                hide = piece.id in unseen or cut.role in HIDDEN_ROLES
                first = first_sewn(pattern, piece)
                listed += cut_pieces(piece, cut.role, cut.count, pairs=cut.pairs, preset=widths[cut.role], hidden=hide,
                                     first_at=first, unfold=unfold)  # fmt: skip
    ids = [piece.id for piece in listed]
    if len(set(ids)) < len(ids):
        twice = next(piece for piece in listed if ids.count(piece.id) > 1)
        raise BadInput(
            f"“{twice.name}” is to be cut twice from the {twice.role}. Give it one entry with their number."
        )
    return tuple(listed)


def cut_pieces(
    piece: Piece,
    role: Role = "outer",
    count: int = 1,
    *,
    pairs: bool = False,
    preset: AllowancePreset | None = None,
    hidden: bool = False,
    first_at: Mapping[tuple[str, str], str] | None = None,
    unfold: bool = True,
) -> tuple[CutPiece, ...]:
    """Return the one or two entries of the cutting list for one piece in one role."""
    if pairs and piece.fold is not None:
        raise BadInput(
            f"“{piece.name}” lies on a fold, so its whole is its own mirror image. Cut it without pairs."
        )
    preset = preset or PRESETS[ROLE_PRESETS[role]]
    # the widths are written into the piece, so that a stint can narrow one of them
    drawn = replace(
        piece,
        edges=tuple(
            edge if edge.kind == "fold" else replace(edge, allowance_mm=allowance_of(edge, preset))
            for edge in piece.edges
        ),
    )
    whole = unfold and piece.fold is not None
    source = Source(drawn, tuple(sorted((first_at or {}).items())), whole)
    made = CutPiece(
        id=f"{piece.id}/{role}",
        piece=piece.id,
        name=piece.name if role == "outer" or role in piece.name.lower() else f"{piece.name} ({role})",
        role=role,
        outline=((0.0, 0.0), (1.0, 0.0), (0.0, 1.0)),
        copies=count,
        hidden=hidden,
        priority=max(PRIORITIES[role], 2 if hidden and role == "outer" else 1),
        least_quality=hidden_quality(hidden),
        source=source,
    )
    made = outlined(made)
    if not pairs:
        return (made,)
    return (replace(made, name=f"{made.name}, as drawn"), mirrored(made, f"{made.name}, mirrored"))


def outlined(cut: CutPiece) -> CutPiece:
    """Return the cut piece with its outline made anew from its source piece.

    Raises
    ------
    BadInput
        When it has no source piece.
    """
    if cut.source is None:
        raise BadInput(f"“{cut.name}” did not come from a pattern; its cut line cannot be made anew.")
    piece = cut.source.piece
    line = Polygon(cut_outline(piece, PRESETS["none"], first_at=dict(cut.source.first_at)).ring)
    net = Polygon(piece.outline.flatten(FLATTEN_MM))
    if cut.source.whole and piece.fold is not None:
        line, net = unfolded(line, piece), unfolded(net, piece)
    turn_deg = 90.0 - grain_deg(piece)
    if turn_deg:
        line, net = (affinity.rotate(shape, turn_deg, origin=(0.0, 0.0)) for shape in (line, net))
    if cut.mirrored:
        line, net = (affinity.scale(shape, -1.0, 1.0, origin=(0.0, 0.0)) for shape in (line, net))
    return replace(cut, outline=ring_of(line.exterior.coords), net=ring_of(net.exterior.coords))


def grain_deg(piece: Piece) -> float:
    """Direction of a piece's grain line in its frame; +y where none is drawn.

    A grain line drawn at 45° makes a bias piece: the line lies on the warp all the same.
    """
    if piece.grain is None:
        return 90.0
    (x0, y0), (x1, y1) = piece.grain
    if math.hypot(x1 - x0, y1 - y0) < NO_GRAIN_LINE_MM:
        return 90.0
    direction = math.degrees(math.atan2(y1 - y0, x1 - x0))
    # a line drawn from the top down means the same grain
    return direction if 0.0 < direction <= 180.0 else direction + 180.0


def unfolded(half: Polygon, piece: Piece) -> Polygon:
    """Return a half and its mirror image in the piece's fold line as one shape.

    Raises
    ------
    BadInput
        When the fold is not straight.
    """
    fold = piece.edge(piece.fold) if piece.fold is not None else None
    if fold is None:
        return half
    points = np.asarray(fold.path.flatten(FLATTEN_MM))
    p, q = points[0], points[-1]
    if LineString([p, q]).hausdorff_distance(LineString(points)) > BESIDE_FOLD_MM:
        raise BadInput(f"The fold of “{piece.name}” is not straight. True it first.")
    ring = np.asarray(half.exterior.coords)[:-1]
    way = (q - p) / np.hypot(*(q - p))
    beside = (ring - p) @ np.array([-way[1], way[0]])
    on_fold = np.abs(beside) <= BESIDE_FOLD_MM
    leaves = np.flatnonzero(on_fold & ~np.roll(on_fold, -1))
    mirror = _mirror(p, q)
    if len(leaves) == 1 and np.count_nonzero(on_fold) >= 2:
        # the stretch along the fold, allowances at its ends included, goes; the rest is mirrored point by point
        ring = np.roll(ring, -int(leaves[0]), axis=0)
        count = int(np.count_nonzero(~on_fold))
        side = ring[1 : count + 1]
        first, last = (p + way * float((point - p) @ way) for point in (ring[0], ring[count + 1]))
        mirrored_ring = np.asarray(affinity.affine_transform(LineString(ring), mirror).coords)
        other = mirrored_ring[count:0:-1]
        whole = Polygon(without_hairs(np.vstack([first, side, last, other])))
        if whole.is_valid:
            return whole
    # it touches its fold in several places: a hair of overlap makes the two halves one shape
    along = LineString([p, q]).buffer(BESIDE_FOLD_MM / 10, cap_style="flat")
    joined = unary_union([half, affinity.affine_transform(half, mirror), along])
    if not isinstance(joined, Polygon):
        raise BadInput(f"The two halves of “{piece.name}” do not meet along its fold.")
    return Polygon(without_hairs(np.array(joined.exterior.coords)[:-1]))


def _mirror(p: NDArray[np.float64], q: NDArray[np.float64]) -> tuple[float, ...]:
    """Reflection in the line through two points, in shapely's order (a, b, d, e, x, y)."""
    dx, dy = (q - p) / np.hypot(*(q - p))
    a, b = dx * dx - dy * dy, 2 * dx * dy
    return (a, b, b, -a, p[0] - a * p[0] - b * p[1], p[1] - b * p[0] + a * p[1])
