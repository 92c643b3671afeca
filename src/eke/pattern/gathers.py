"""Gathers and ease that are meant: a stretch of an edge that is longer than what it is sewn to, between two places.

The edge is drawn as it lies flat. Sewn, the stretch is as long as it is flat over its ratio; where no ratio was said,
whatever is longer there is taken up (both are common practice: 1.5 times for light gathers, 2 for usual ones, 3 for
sheer cloth).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from eke.changes import child_id
from eke.errors import BadInput, ChangeConflict
from eke.geometry import Path, Pt
from eke.pattern.corners import called, folds_away
from eke.pattern.measure import Run
from eke.pattern.model import Edge, EdgeId, EdgePlace, Gather, GatherHow, Notch, Pattern, Piece

LEAST_MM: Final = 5.0
"""A shorter stretch holds no two gathers."""
AT_END_MM: Final = 0.5
"""A place nearer to the end of its edge than this is the end."""
WAVE_MM: Final = 10.0
WAVE_HIGH_MM: Final = 1.8
WAVE_INSIDE_MM: Final = 5.0
WAVE_POINTS: Final = 8
"""The wavy line: how long and high a wave is, how far inside the edge it runs, and how many points draw it."""
MOST_RATIO: Final = 6.0
"""Fuller than this is a mistyped number: tulle is gathered 3 to 5 times (common practice)."""


@dataclass(frozen=True, slots=True)
class TakenUp:
    """A stretch of a run that is gathered or eased: mm along the run, and ``mm`` taken up in it when it is sewn.

    ``open_`` where no amount was said: as much as there is to take up.
    """

    gather: Gather
    piece: Piece
    from_mm: float
    to_mm: float
    mm: float
    open_: bool = False


def gather_of(pattern: Pattern, gather_id: str) -> tuple[Piece, Gather]:
    """Return a gathered stretch and its piece. Raises :class:`ChangeConflict` when it is not there."""
    for piece in pattern.pieces.values():
        for gather in piece.gathers:
            if gather.id == gather_id:
                return piece, gather
    raise ChangeConflict(f"There is no gathered stretch “{gather_id}”.", gather=gather_id)


def span_mm(piece: Piece, gather: Gather) -> tuple[float, float]:
    """Return from where to where on its edge a stretch is gathered, mm from the edge's start.

    A notch that was taken out leaves the stretch going on to the end of the edge.
    """
    edge = piece.edge(gather.edge)
    at = {n.id: edge.mm_of(n.at) for n in piece.notches if n.at.edge == edge.id}
    low, high = at.get(gather.start or "", 0.0), at.get(gather.end or "", edge.path.length_mm)
    return min(low, high), max(low, high)


def gathers_on(piece: Piece, edge_id: str) -> tuple[Gather, ...]:
    """Return the gathered stretches of an edge."""
    return tuple(g for g in piece.gathers if g.edge == edge_id)


def gathered_line(piece: Piece, gather: Gather) -> Path:
    """Return the stretch of the outline that is gathered, as it lies flat."""
    low, high = span_mm(piece, gather)
    return piece.edge(gather.edge).path.slice(low, high)


def wave_of(piece: Piece, gather: Gather) -> tuple[Pt, ...]:
    """Return the wavy line that marks gathers or ease, a little inside the edge from one place to the other."""
    line = gathered_line(piece, gather)
    count = max(2, round(line.length_mm / WAVE_MM)) * WAVE_POINTS
    made: list[Pt] = []
    for k in range(count + 1):
        mm = line.length_mm * k / count
        (x, y), (nx, ny) = line.point_at(mm), line.normal_at(mm)  # to the left: inwards
        off = WAVE_INSIDE_MM + WAVE_HIGH_MM * math.sin(2.0 * math.pi * k / WAVE_POINTS)
        made.append((x + off * nx, y + off * ny))
    return tuple(made)


def told(piece: Piece, gather: Gather) -> str:
    """Return what is written beside the wavy line: "gather 450 mm to 300 mm", "ease in"."""
    low, high = span_mm(piece, gather)
    verb = "gather" if gather.how == "gathered" else "ease"
    if gather.ratio is None:
        return f"{verb} to fit" if verb == "gather" else "ease in"
    return f"{verb} {high - low:.0f} mm to {(high - low) / gather.ratio:.0f} mm"


def sewn_length_mm(piece: Piece, edge: Edge) -> float:
    """Return how long an edge is when it is sewn: gathers of which the fullness was said are drawn up."""
    return edge.path.length_mm - sum(_taken(piece, g) for g in gathers_on(piece, edge.id))


def taken_up(run: Run) -> tuple[TakenUp, ...]:
    """Return the gathered stretches along a run, in its order."""
    made: list[TakenUp] = []
    for stretch in run.stretches:
        length = stretch.path.length_mm
        for gather in gathers_on(stretch.piece, stretch.edge.id):
            low, high = span_mm(stretch.piece, gather)
            if stretch.part.reverse:
                low, high = length - high, length - low
            taken = _taken(stretch.piece, gather)
            made.append(
                TakenUp(
                    gather,
                    stretch.piece,
                    stretch.from_mm + low,
                    stretch.from_mm + high,
                    taken,
                    gather.ratio is None,
                )
            )
    return tuple(sorted(made, key=lambda t: t.from_mm))


def drawn_up(taken: Sequence[TakenUp], surplus_mm: float) -> tuple[TakenUp, ...]:
    """Return the stretches with ``surplus_mm`` shared among those of which no amount was said, by their lengths."""
    spans = [t.to_mm - t.from_mm for t in taken if t.open_]
    if surplus_mm <= 0.0 or not spans:
        return tuple(taken)
    share = min(surplus_mm / sum(spans), 1.0 - 1.0 / MOST_RATIO)
    return tuple(replace(t, mm=share * (t.to_mm - t.from_mm)) if t.open_ else t for t in taken)


def sewn_mm(taken: Sequence[TakenUp], mm: float) -> float:
    """Return where a place of a run lies on the sewn line: ``mm`` less what is taken up before it."""
    return mm - sum(t.mm * min(max((mm - t.from_mm) / (t.to_mm - t.from_mm), 0.0), 1.0) for t in taken)


def flat_mm(taken: Sequence[TakenUp], mm: float) -> float:
    """Return where on the flat run a place of the sewn line lies: the reverse of :func:`sewn_mm`."""
    at = mm
    for t in taken:
        start = sewn_mm(taken, t.from_mm)
        long = t.to_mm - t.from_mm - t.mm
        at += t.mm * min(max((mm - start) / long, 0.0), 1.0) if long > 0.0 else 0.0
    return at


def say_gather(
    pattern: Pattern,
    edge_id: str,
    start: EdgePlace | None,
    end: EdgePlace | None,
    how: GatherHow,
    *,
    ratio: float | None = None,
    sewn_to_mm: float | None = None,
    change_id: str,
) -> Pattern:
    """Return the pattern in which a stretch of an edge, drawn as it lies flat, is gathered or eased on purpose.

    A notch is set at both places, where there is none and they are not the ends of the edge.

    Parameters
    ----------
    ratio, sewn_to_mm
        How many times longer it is flat than sewn; or how long it is when sewn. Neither: whatever is longer is meant.

    Raises
    ------
    BadInput
        When the stretch is too short or gathered already, or the amount is none that works.
    """
    piece, edge = pattern.edge(edge_id)
    name = called(piece, edge)
    if edge.kind == "fold" or folds_away(piece, edge.id):
        raise BadInput(f"“{name}” of “{piece.name}” is sewn to nothing, so it cannot be {how}.")
    length = edge.path.length_mm
    one = 0.0 if start is None else edge.mm_of(start)
    two = length if end is None else edge.mm_of(end)
    low, high = min(one, two), max(one, two)
    if high - low < LEAST_MM:
        raise BadInput(
            f"A stretch of {high - low:.1f} mm is too short to be {how}. Let it be {LEAST_MM:g} mm or more.",
            least_mm=LEAST_MM,
        )
    for other in gathers_on(piece, edge.id):
        a, b = span_mm(piece, other)
        if low < b - AT_END_MM and a < high - AT_END_MM:
            raise BadInput(
                f"“{name}” of “{piece.name}” is {other.how} from {a:.0f} to {b:.0f} mm already. Take that back first, or "
                "choose another stretch."
            )
    if sewn_to_mm is not None:
        if not (high - low) / MOST_RATIO <= sewn_to_mm < high - low:
            raise BadInput(
                f"The stretch is {high - low:.1f} mm flat; sewn, it is shorter than that, and at least "
                f"{(high - low) / MOST_RATIO:.0f} mm.",
                most_mm=high - low,
            )
        ratio = (high - low) / sewn_to_mm
    require_ratio(ratio)
    notches = list(piece.notches)
    ids = [
        _end_notch(edge, low, notches, child_id(edge.id, change_id, "from")),
        _end_notch(edge, high, notches, child_id(edge.id, change_id, "to")),
    ]
    gather = Gather(child_id(edge.id, change_id, "gather"), edge.id, ids[0], ids[1], how, ratio)
    return pattern.with_piece(replace(piece, notches=tuple(notches), gathers=(*piece.gathers, gather)))


def require_ratio(ratio: float | None) -> None:
    """Refuse a fullness that is none, or beyond all cloth."""
    if ratio is not None and not 1.0 < ratio <= MOST_RATIO:
        raise BadInput(
            f"{ratio:g} times as long is no fullness that can be sewn. Give more than 1 and up to {MOST_RATIO:g}: 1.5 is "
            "light, 2 usual, 3 for sheer cloth.",
            nearest=min(max(ratio, 1.05), MOST_RATIO),
        )


def drop_gather(pattern: Pattern, gather_id: str) -> Pattern:
    """Return the pattern in which a stretch is no longer gathered or eased on purpose; its notches stay."""
    piece, gather = gather_of(pattern, gather_id)
    return pattern.with_piece(replace(piece, gathers=tuple(g for g in piece.gathers if g.id != gather.id)))


def gathers_in_parts(pattern: Pattern, old: EdgeId, new: Sequence[EdgeId]) -> Pattern:
    """Return the pattern in which the parts of an edge are gathered where the edge was.

    ``new`` are the parts counter-clockwise, in the pattern already, with the notches on them.
    """
    for piece in tuple(pattern.pieces.values()):
        if not any(g.edge == old for g in piece.gathers):
            continue
        kept: list[Gather] = []
        for gather in piece.gathers:
            kept += [gather] if gather.edge != old else _parts_of(pattern, gather, new)
        for part in new:
            home, _ = pattern.edge(part)
            mine = tuple(g for g in kept if any(e.id == g.edge for e in home.edges))
            others = tuple(g for g in home.gathers if g.edge != old and g not in mine)
            pattern = pattern.with_piece(replace(home, gathers=(*others, *mine)))
    return pattern


# ---------------------------------------------------------------- within


def _taken(piece: Piece, gather: Gather) -> float:
    if gather.ratio is None:
        return 0.0
    low, high = span_mm(piece, gather)
    return (high - low) * (1.0 - 1.0 / gather.ratio)


def _end_notch(edge: Edge, mm: float, notches: list[Notch], id_: str) -> str | None:
    """The notch at a place, set where there is none; nothing at an end of the edge."""
    length = edge.path.length_mm
    if mm <= AT_END_MM or mm >= length - AT_END_MM:
        return None
    for notch in notches:
        if notch.at.edge == edge.id and abs(edge.mm_of(notch.at) - mm) <= AT_END_MM:
            return notch.id
    notches.append(Notch(id_, EdgePlace(edge.id, fraction=mm / length)))
    return id_


def _parts_of(pattern: Pattern, gather: Gather, new: Sequence[EdgeId]) -> list[Gather]:
    places = {n.id: n.at.edge for p in pattern.pieces.values() for n in p.notches}
    first = new.index(places[gather.start]) if gather.start and places.get(gather.start) in new else 0
    last = new.index(places[gather.end]) if gather.end and places.get(gather.end) in new else len(new) - 1
    return [
        replace(
            gather,
            id=gather.id if k == first else child_id(gather.id, new[k], "part"),
            edge=new[k],
            start=gather.start if k == first else None,
            end=gather.end if k == last else None,
        )
        for k in range(first, last + 1)
    ]
