"""What lies on the edges and inside a piece goes along when its halves are made the same: notches, marks, darts."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from eke.changes import child_id
from eke.geometry import Pt
from eke.geometry.segments import distance
from eke.pattern.corners import place_at
from eke.pattern.middle import Middle
from eke.pattern.model import Dart, EdgeId, EdgePlace, Mark, Notch, Piece
from eke.pattern.twice import CORNER_MM, SAME_NOTCH_MM

SHARE: Final[Mapping[str, float]] = {"left": 0.0, "mean": 0.5, "right": 1.0}
"""How much of the right half is taken."""


@dataclass(frozen=True, slots=True)
class _Stood:
    """A notch as it stood: mm along the edge of the left half; on an edge over the middle, mm from its own side's end."""

    notch: Notch
    mm: float


def carried_notches(
    before: Piece,
    after: Piece,
    pairs: Mapping[str, str],
    left: Collection[str],
    take: str,
    line: Middle,
    change_id: str,
) -> tuple[Notch, ...]:
    """Return the notches of a piece whose halves were made the same.

    Two that lie within 12 mm of one another over the middle are mates: they come to lie at the mean place, or at that of
    the half that is kept. One without a mate gets one, unless its half was given up: then it goes, but for one to which an
    edge is gathered.

    Parameters
    ----------
    pairs, left
        Each edge with its mate over the middle, which may be itself; and those of the left half.
    """
    made: dict[str, Notch | None] = {n.id: n for n in before.notches}
    for edge_id, mate_id in pairs.items():
        if edge_id == mate_id:
            made |= _over_middle(before, after, edge_id, take, line, change_id)
        elif edge_id in left:
            made |= _on_mates(before, after, edge_id, mate_id, take, change_id)
    bounds = {end for gather in before.gathers for end in (gather.start, gather.end)}
    for notch in before.notches:
        if made[notch.id] is None and notch.id in bounds:  # the gathers go on to it, so it stays
            edge = before.edge(notch.at.edge)
            made[notch.id] = _put(after, edge.id, notch, edge.mm_of(notch.at) / edge.path.length_mm)
    return tuple(notch for notch in made.values() if notch is not None)


def _on_mates(
    before: Piece, after: Piece, edge_id: str, mate_id: str, take: str, change_id: str
) -> dict[str, Notch | None]:
    edge, mate = before.edge(edge_id), before.edge(mate_id)
    length, other = edge.path.length_mm, mate.path.length_mm
    own = [_Stood(n, edge.mm_of(n.at)) for n in before.notches if n.at.edge == edge_id]
    theirs = [
        _Stood(n, length * (1.0 - mate.mm_of(n.at) / other)) for n in before.notches if n.at.edge == mate_id
    ]

    def put(notch: Notch, mm: float, on_left: bool) -> Notch:
        share = mm / length
        return _put(after, edge_id, notch, share) if on_left else _put(after, mate_id, notch, 1.0 - share)

    return _matched(own, theirs, take, change_id, put)


def _over_middle(
    before: Piece, after: Piece, edge_id: str, take: str, line: Middle, change_id: str
) -> dict[str, Notch | None]:
    edge, now = before.edge(edge_id), after.edge(edge_id).path.length_mm
    length, from_left = edge.path.length_mm, line.left_mm(edge.path.start) > line.left_mm(edge.path.end)
    made: dict[str, Notch | None] = {}
    left: list[_Stood] = []
    right: list[_Stood] = []
    for notch in before.notches:
        if notch.at.edge != edge_id:
            continue
        mm = edge.mm_of(notch.at)
        off = line.left_mm(edge.path.point_at(mm))
        if abs(off) <= SAME_NOTCH_MM / 2.0:
            made[notch.id] = _put(after, edge_id, notch, 0.5)
            continue
        (left if off > 0.0 else right).append(_Stood(notch, mm if (off > 0.0) == from_left else length - mm))

    def put(notch: Notch, mm: float, on_left: bool) -> Notch:
        share = min(mm / now, 0.5)
        return _put(after, edge_id, notch, share if on_left == from_left else 1.0 - share)

    return made | _matched(left, right, take, change_id, put)


def _put(after: Piece, edge_id: str, notch: Notch, share: float) -> Notch:
    edge = after.edge(edge_id)
    return replace(notch, at=place_at(edge, share * edge.path.length_mm, notch.at))


def _matched(
    left: Sequence[_Stood],
    right: Sequence[_Stood],
    take: str,
    change_id: str,
    put: Callable[[Notch, float, bool], Notch],
) -> dict[str, Notch | None]:
    """Return where the notches of both halves come to lie; nothing for one that goes."""
    near = sorted(
        (abs(one.mm - other.mm), i, j) for i, one in enumerate(left) for j, other in enumerate(right)
    )
    mates: dict[int, int] = {}
    for apart, i, j in near:
        if apart <= SAME_NOTCH_MM and i not in mates and j not in mates.values():
            mates[i] = j
    made: dict[str, Notch | None] = {}
    for i, j in mates.items():
        one, other = left[i], right[j]
        mm = one.mm + SHARE[take] * (other.mm - one.mm)
        made[one.notch.id], made[other.notch.id] = put(one.notch, mm, True), put(other.notch, mm, False)
    alone = [(one, True) for i, one in enumerate(left) if i not in mates]
    alone += [(one, False) for j, one in enumerate(right) if j not in mates.values()]
    for one, on_left in alone:
        if take == ("right" if on_left else "left"):
            made[one.notch.id] = None
            continue
        far: EdgePlace = replace(
            one.notch.at, from_end="end" if one.notch.at.from_end == "start" else "start"
        )
        twin = replace(one.notch, id=child_id(one.notch.id, change_id, "mirrored"), at=far)
        made[one.notch.id], made[twin.id] = put(one.notch, one.mm, on_left), put(twin, one.mm, not on_left)
    return made


def carried_marks(piece: Piece, line: Middle, take: str) -> tuple[Mark, ...]:
    """Return the marks inside a piece: one that crosses the middle is made the same on both sides, two mates lie alike.

    Mates are of one kind and lie within 25 mm of one another over the middle. A mark without a mate stays as it is: a
    button, a pocket on one side.
    """
    made = {m.id: m for m in piece.marks}
    done: set[str] = set()
    for mark in piece.marks:
        if mark.id in done:
            continue
        best = min(
            (_apart(mark, other, line, turned=turned), other.id != mark.id, other.id, turned)
            for other in piece.marks
            if other.id not in done and other.kind == mark.kind and len(other.points) == len(mark.points)
            for turned in (False, True)
        )
        if best[0] > CORNER_MM:
            continue
        other, turned = made[best[2]], best[3]
        done |= {mark.id, other.id}
        own = _equal_points(
            mark.points, _image(other, line, turned=turned), line, take, alone=other.id == mark.id
        )
        made[mark.id] = replace(mark, points=own)
        if other.id != mark.id:
            image = tuple(line.mirror.apply(p) for p in own)
            made[other.id] = replace(other, points=tuple(reversed(image)) if turned else image)
    return tuple(made.values())


def _image(mark: Mark, line: Middle, *, turned: bool) -> tuple[Pt, ...]:
    image = tuple(line.mirror.apply(p) for p in mark.points)
    return tuple(reversed(image)) if turned else image


def _apart(mark: Mark, other: Mark, line: Middle, *, turned: bool) -> float:
    return max(distance(p, q) for p, q in zip(mark.points, _image(other, line, turned=turned), strict=True))


def _equal_points(
    own: tuple[Pt, ...], image: tuple[Pt, ...], line: Middle, take: str, *, alone: bool
) -> tuple[Pt, ...]:
    """Return the points of a mark, with the mirror image of its mate (or of itself) beside each."""

    def put(p: Pt, q: Pt) -> Pt:
        # of a mark over the middle each point lies on a side of its own; of two mates all of one do
        left = line.left_mm(p) >= line.left_mm(line.mirror.apply(q)) if not alone else line.left_mm(p) >= 0.0
        share = SHARE[take] if left else 1.0 - SHARE[take]
        return (p[0] + share * (q[0] - p[0]), p[1] + share * (q[1] - p[1]))

    return tuple(put(p, q) for p, q in zip(own, image, strict=True))


def carried_darts(piece: Piece, pairs: Mapping[str, str], change_id: str) -> tuple[Dart, ...]:
    """Return the darts of a piece, each with its mate on the other half, where that was not said to be one yet."""
    made = list(piece.darts)
    for dart in piece.darts:
        first, second = EdgeId(pairs[dart.second_leg]), EdgeId(pairs[dart.first_leg])
        if any({first, second} & {d.first_leg, d.second_leg} for d in made):
            continue
        twin = Dart(child_id(dart.id, change_id, "mirrored"), first, second)
        made.append(replace(twin, pressed="second" if dart.pressed == "first" else "first"))
    return tuple(made)
