"""An edge is made so many mm long: a waistband, or a seam that has to match a zip.

The edge is scaled along its chord, the straight line between its corners, as a whole: it keeps its shape, the direction
at both ends and with it a square corner at a fold, and its length is exact, since the length of a line grows with its
scale. A straight edge grows along itself. Neighbours follow (:func:`eke.pattern.corners.with_path`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Final

from eke.errors import BadInput, BadShape
from eke.geometry import Move, Path
from eke.geometry.segments import distance
from eke.geometry.tolerance import JOIN_MM
from eke.pattern.corners import ALONG_FOLD, End, called, folds_away, neighbour, with_path
from eke.pattern.held import length_held, length_now_mm
from eke.pattern.model import Edge, HeldLength, Keep, Pattern, Piece

LEAST_SHARE: Final = 0.5
MOST_TIMES: Final = 2.0
"""An edge becomes no shorter than half of itself and no longer than twice: beyond, it is another piece."""
CLOSE_MM: Final = 0.1
"""The nearest length that works is told as exactly as this."""


def with_length(
    pattern: Pattern, edge_id: str, length_mm: float, keep: Keep = "start", *, held_as: str | None = None
) -> Pattern:
    """Return the pattern with an edge made ``length_mm`` long, exact to a thousandth of a mm.

    An edge that is held in its length and was parted since is made good over its parts: the outermost give way.

    Parameters
    ----------
    keep
        The end that stays; "middle": both ends move by the same, and where one lies on the fold, the other alone.
    held_as
        The id under which it is held from now on; nothing: its length is free afterwards.

    Raises
    ------
    BadInput
        When that is less than half of it or more than twice, or a corner would leave the fold: ``nearest_mm`` or
        ``keep`` tells what works.
    BadShape
        When the outline would cross itself: ``nearest_mm`` tells how far it goes.
    """
    piece, edge = pattern.edge(edge_id)
    held = length_held(pattern, edge.id)
    parts = tuple(dict.fromkeys(map(pattern.resolve, held[1].edges))) if held is not None else (str(edge.id),)
    name = f"“{called(piece, edge)}” of “{piece.name}”"
    if any(folds_away(*_found(pattern, part)) for part in parts):
        raise BadInput(f"{name} is folded away in a dart or pleat: true that instead.")
    now = sum(pattern.edge(part)[1].path.length_mm for part in parts)
    _require_length(name, length_mm, now)
    moving: tuple[Keep, ...] = (keep,) if len(parts) == 1 or keep != "middle" else ("end", "start")
    plan = [(parts[-1] if one == "start" else parts[0], one) for one in moving]
    if len(parts) == 1:
        plan = [(parts[0], _kept(piece, edge, keep, name))]
    least, most = _within(pattern, [part for part, _ in plan], now)

    def made(total_mm: float) -> Pattern:
        grown = pattern
        for part, stays in plan:
            home, one = grown.edge(part)
            path = _scaled(one, 1.0 + (total_mm - now) / len(plan) / one.path.length_mm, stays)
            grown = grown.with_piece(with_path(home, one.id, path))
        return grown

    if not least - 1e-9 <= length_mm <= most + 1e-9:
        nearest = _nearest(made, now, min(max(length_mm, least), most))
        raise BadInput(
            f"{name} is {now:.1f} mm long and cannot become {length_mm:.1f} mm long; the nearest that works is "
            f"{nearest:.1f} mm. For {'more, lengthen or widen' if length_mm > now else 'less, shorten or narrow'} the piece.",
            nearest_mm=nearest,
        )
    try:
        result = made(length_mm)
    except BadShape as trouble:
        nearest = _nearest(made, now, length_mm)
        raise BadShape(
            f"{name} cannot become {length_mm:.1f} mm long. {trouble.message} It works as far as {nearest:.1f} mm, or with "
            "another end that stays.",
            **{**trouble.data, "nearest_mm": nearest},
        ) from trouble
    lengths = {k: h for k, h in result.held_lengths.items() if held is None or k != held[0]}
    if held_as is not None:
        ids = held[1].edges if held is not None else (edge.id,)
        lengths[held_as] = HeldLength(ids, length_mm, keep)
    return replace(result, held_lengths=lengths)


def held_as_it_is(pattern: Pattern, edge_id: str) -> float:
    """Return how long an edge is, with the other parts that it is held together with, in mm."""
    held = length_held(pattern, edge_id)
    return length_now_mm(pattern, held[1]) if held is not None else pattern.edge(edge_id)[1].path.length_mm


def _found(pattern: Pattern, edge_id: str) -> tuple[Piece, str]:
    piece, edge = pattern.edge(edge_id)
    return piece, edge.id


def _require_length(name: str, length_mm: float, now: float) -> None:
    if not math.isfinite(length_mm) or length_mm <= 0.0:
        raise BadInput(
            f"Say how long {name} is to be, in mm: it is {now:.1f} mm now, and {LEAST_SHARE * now:.1f} mm is the least.",
            nearest_mm=round(LEAST_SHARE * now, 3),
        )


def _within(pattern: Pattern, parts: list[str], now: float) -> tuple[float, float]:
    """Return the least and the greatest length for which no part that gives way is scaled too far."""
    # each gives the same, so the shorter one decides
    spare = len(parts) * min(pattern.edge(part)[1].path.length_mm for part in parts)
    return now - (1.0 - LEAST_SHARE) * spare, now + (MOST_TIMES - 1.0) * spare


def _kept(piece: Piece, edge: Edge, keep: Keep, name: str) -> Keep:
    """Return which end stays, so that a corner on the fold stays on it."""
    ends: tuple[End, End] = ("start", "end")
    folds = {
        end: one
        for end in ends
        if (one := neighbour(piece, edge.id, end)).kind == "fold" and one.id != edge.id
    }
    if edge.kind == "fold" or not folds or all(_runs_along(edge.path, one.path) for one in folds.values()):
        return keep
    if len(folds) == 2:
        raise BadInput(
            f"{name} runs from the fold to the fold, and neither end can leave it. Move one of them along the fold."
        )
    (stays,) = folds
    if keep in ("middle", stays):
        return stays
    raise BadInput(
        f"The {stays} of {name} lies on the fold and stays there. Let the other end move.", keep=stays
    )


def _runs_along(path: Path, fold: Path) -> bool:
    (x0, y0), (x1, y1) = path.start, path.end
    ux, uy = fold.tangent_at(0.0)
    return abs((x1 - x0) * uy - (y1 - y0) * ux) <= ALONG_FOLD * distance(path.start, path.end)


def _scaled(edge: Edge, times: float, keep: Keep) -> Path:
    """Return an edge's line scaled as a whole; an end that stays does so to the last digit."""
    path = edge.path
    if times == 1.0:
        return path
    (x0, y0), (x1, y1) = path.start, path.end
    if distance(path.start, path.end) <= JOIN_MM:  # it goes round to its start: all round alike
        a, b, c, d = path.bounds
        return path.moved(Move.scale(times, about=((a + c) / 2.0, (b + d) / 2.0)))
    before, after = {"start": (0.0, 1.0), "end": (1.0, 0.0), "middle": (0.5, 0.5)}[keep]
    dx, dy = (times - 1.0) * (x1 - x0), (times - 1.0) * (y1 - y0)
    return path.with_ends((x0 - before * dx, y0 - before * dy), (x1 + after * dx, y1 + after * dy))


def _nearest(made: Callable[[float], Pattern], works: float, wanted: float) -> float:
    """Return the length nearest to the wanted one that works, by halving; as it is now it works."""

    def can(total_mm: float) -> bool:
        try:
            made(total_mm)
        except BadShape:
            return False
        return True

    if can(wanted):
        return round(wanted, 3)
    while abs(wanted - works) > CLOSE_MM:
        middle = (works + wanted) / 2.0
        works, wanted = (middle, wanted) if can(middle) else (works, middle)
    # rounded towards what was tried
    return math.floor(works * 10.0) / 10.0 if works < wanted else math.ceil(works * 10.0) / 10.0
