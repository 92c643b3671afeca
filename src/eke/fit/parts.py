"""Primitive: cut an outline into stretches, move each by itself, and join them up again.

Every slash of the trade is this: the outline is cut at a few places, the cloth behind each stretch is turned or
shifted as a whole, and the stretches are joined. What happens at a joint:

- two stretches of one edge become that edge again, trued across the joint: its id stays, since it is still one
  line of the garment;
- where a dart opens between them (:class:`Opening`), or a tuck or pleat (:class:`Inlet`), the edge is two edges from
  there on, with child ids.

Notches, marks, darts and the grain go with the cloth that they lie on.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon

from eke.changes import child_id
from eke.errors import BadInput, BadShape
from eke.fit.falloff import Field, bent, eased
from eke.geometry import Cubic, Move, Path, Pt, looks_straight
from eke.geometry.segments import distance
from eke.geometry.tolerance import JOIN_MM
from eke.pattern.corners import place_at, sound, turn_deg
from eke.pattern.model import Dart, Edge, EdgeId, Notch, Pattern, Piece
from eke.pattern.parted import go_on_in_parts

BLEND_MM: Final = 60.0
"""A joint is trued over at most so much on each side: about the reach of a hand with a curve …"""
BEND_MM: Final = 25.0
"""… or, where it only bends about a pivot, over so much …"""
BLEND_SHARE: Final = 0.45
"""… and over at most this share of the stretch, so that its far end stays as it was."""
SMOOTH_DEG: Final = 0.05
"""A bend smaller than this is none: a tenth of a millimetre over the reach of the blend."""
STEEPEST: Final = 2.5
"""A blend is at least so many times as long as the jump that it hides; smoothly passing over less would fold back."""
STITCH_MM: Final = 1e-3
"""Ends that lie so near are one point, told twice with rounding."""
END_MM: Final = 0.5
"""A cut nearer to a corner than this is at the corner."""

Where = Callable[[Pt], Move]
"""How the cloth at a point of the old piece is moved."""


@dataclass(frozen=True, slots=True)
class At:
    """A place on an outline: the number of the edge in its piece, and mm from that edge's start."""

    index: int
    mm: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of the outline, counter-clockwise from ``start`` to ``end``, and how it is moved."""

    start: At
    end: At
    move: Move


@dataclass(frozen=True, slots=True)
class Opening:
    """A dart that opens at a joint, pointing to ``apex`` (in the moved piece); its two legs are drawn anew."""

    dart: Dart
    apex: Pt


@dataclass(frozen=True, slots=True)
class Inlet:
    """Edges that are let in at a joint, from the end of the stretch before it to the start of the one after it."""

    edges: tuple[Edge, ...]


Joint = Opening | Inlet | None
"""What lies after a stretch; nothing: the next one joins on."""


@dataclass(frozen=True, slots=True)
class _Bit:
    edge: Edge
    from_mm: float
    to_mm: float
    path: Path
    move: Move

    @property
    def whole(self) -> bool:
        return self.from_mm <= JOIN_MM and self.to_mm >= self.edge.path.length_mm - JOIN_MM


@dataclass(frozen=True, slots=True)
class Rearranged:
    """The new piece, and the children of edges that a dart parted."""

    piece: Piece
    parted: dict[EdgeId, tuple[EdgeId, ...]]


def rearranged(
    piece: Piece,
    stretches: Sequence[Stretch],
    joints: Sequence[Joint],
    where: Where,
    change_id: str,
    *,
    keep_straight: bool = False,
) -> Rearranged:
    """Return ``piece`` with its outline cut into ``stretches`` and joined up again.

    Parameters
    ----------
    joints
        What lies after each stretch: nothing (joined), a dart that opens there, or edges that are let in.
    where
        How the inside is moved, for marks and the grain.
    keep_straight
        Straight edges are redrawn straight from end to end (parallel moves), instead of bent at the joint.

    Raises
    ------
    BadShape
        When the outline would cross itself or turn inside out.
    """
    tokens: list[_Bit | Opening | Inlet] = []
    for stretch, joint in zip(stretches, joints, strict=True):
        tokens += _bits(piece, stretch)
        if joint is not None:
            tokens.append(joint)
    groups = _grouped(tokens)
    parted: dict[EdgeId, tuple[EdgeId, ...]] = {}
    held: dict[EdgeId, list[int]] = {}
    for number, group in enumerate(groups):
        if isinstance(group, list):
            held.setdefault(group[0].edge.id, []).append(number)
    ids: dict[int, EdgeId] = {}
    for edge_id, numbers in held.items():
        if len(numbers) == 1:
            ids[numbers[0]] = edge_id
            continue
        numbers.sort(key=lambda n: groups[n][0].from_mm)  # type: ignore[index]
        labels = ("before", "after", *(f"after{k}" for k in range(2, len(numbers))))
        for number, label in zip(numbers, labels, strict=False):
            ids[number] = EdgeId(child_id(edge_id, change_id, label))
        parted[edge_id] = tuple(ids[n] for n in numbers)
    edges: list[Edge] = []
    home: list[tuple[_Bit, int]] = []
    for number, group in enumerate(groups):
        if isinstance(group, Opening):
            edges += [
                _leg(piece, group.dart.first_leg, group.apex),
                _leg(piece, group.dart.second_leg, group.apex),
            ]
            continue
        if isinstance(group, Inlet):
            edges += group.edges
            continue
        path = _as_one(group, keep_straight=keep_straight)
        home += [(bit, len(edges)) for bit in group]
        edges.append(replace(group[0].edge, id=ids[number], path=path))
    edges = _meeting(edges, {o.dart.first_leg: o for o in groups if isinstance(o, Opening)})
    made = replace(
        piece,
        edges=_from_same_start(piece, edges),
        notches=tuple(_carried(n, piece, home, edges) for n in piece.notches),
        marks=tuple(replace(m, points=tuple(where(p).apply(p) for p in m.points)) for m in piece.marks),
        grain=_grain(piece.grain, where),
        darts=_darts(piece, groups),
    )
    return Rearranged(sound(made, piece), parted)


def seams_over(pattern: Pattern, parted: dict[EdgeId, tuple[EdgeId, ...]]) -> Pattern:
    """Return the pattern whose seams run over the children of edges that were parted."""
    for old, new in parted.items():
        pattern = go_on_in_parts(pattern, old, new)
    return pattern


def trued(before: Path, after: Path, *, keep_straight: bool = False) -> Path:
    """Return two stretches of one line as one: joined where they meet smoothly, else blended across the joint.

    The blend leaves the old lines at most :data:`BLEND_MM` from the joint, in their own directions there.
    """
    if keep_straight and looks_straight(before) and looks_straight(after):
        return Path.line(before.start, after.end)
    gap = distance(before.end, after.start)
    u, v = before.end_direction, after.start_direction
    if gap <= STITCH_MM and abs(turn_deg(u, v)) <= SMOOTH_DEG:
        return before.joined(after.starting_at(before.end))
    back = min(BLEND_MM, BLEND_SHARE * before.length_mm)
    on = min(BLEND_MM, BLEND_SHARE * after.length_mm)
    head, tail = before.slice(0.0, before.length_mm - back), after.slice(on, after.length_mm)
    return Path((*head.segments, bridge(head, tail), *tail.segments))


def bridge(head: Path, tail: Path) -> Cubic:
    """Return the cubic from the end of one path to the start of another, in their directions there."""
    p, q = head.end, tail.start
    u, v = head.end_direction, tail.start_direction
    # two thirds of the tangent triangle: exact to fourth order where the bridge is an arc
    arm = 2.0 * distance(p, q) / (3.0 * (1.0 + math.cos(math.radians(turn_deg(u, v)) / 2.0)))
    return Cubic(p, (p[0] + arm * u[0], p[1] + arm * u[1]), (q[0] - arm * v[0], q[1] - arm * v[1]), q)


def region(piece: Piece, start: At, end: At, inner: Sequence[Pt] = ()) -> Polygon:
    """Return the cloth behind a stretch of outline: the stretch, closed over the ``inner`` points."""
    lines = [bit.path.flatten() for bit in _bits(piece, Stretch(start, end, Move()))]
    return Polygon(np.concatenate([*lines, np.array(inner).reshape(-1, 2)])).buffer(0.0)


def nearest_region(regions: Sequence[tuple[Polygon, Move]]) -> Where:
    """Return a :data:`Where` of regions: each point goes with the region that holds it, or else the nearest."""

    def where(point: Pt) -> Move:
        return min(regions, key=lambda r: float(r[0].distance(Point(point))))[1]

    return where


def holds_grain(piece: Piece, cloth: Polygon, edges: Sequence[Edge]) -> bool:
    """Whether this cloth stays when the piece is cut: it holds the fold, or else the middle of the grain line."""
    if piece.fold is not None:
        return any(e.id == piece.fold for e in edges)
    if piece.grain is None:
        return float(cloth.area) >= 0.5 * float(Polygon(piece.outline.flatten()).area)
    (x0, y0), (x1, y1) = piece.grain
    return bool(cloth.covers(Point((x0 + x1) / 2.0, (y0 + y1) / 2.0)))


def edges_of(piece: Piece, start: At, end: At) -> tuple[Edge, ...]:
    """Return the edges that a stretch of outline runs over."""
    return tuple(edge for edge, _, _ in _parts(piece, start, end))


def as_start(piece: Piece, at: At) -> At:
    """Return the place as the start of a stretch: at the end of an edge it is the start of the next."""
    if at.mm >= piece.edges[at.index].path.length_mm - END_MM:
        return At((at.index + 1) % len(piece.edges), 0.0)
    return At(at.index, 0.0) if at.mm <= END_MM else at


def as_end(piece: Piece, at: At) -> At:
    """Return the place as the end of a stretch: at the start of an edge it is the end of the one before."""
    if at.mm <= END_MM:
        before = (at.index - 1) % len(piece.edges)
        return At(before, piece.edges[before].path.length_mm)
    length = piece.edges[at.index].path.length_mm
    return At(at.index, length) if at.mm >= length - END_MM else at


# ---------------------------------------------------------------- within


def _parts(piece: Piece, start: At, end: At) -> list[tuple[Edge, float, float]]:
    """Return the edges of a stretch of outline, each with mm from and to."""
    count = len(piece.edges)
    i, made, first = start.index, [], True
    for _ in range(count + 1):
        edge = piece.edges[i]
        low = start.mm if first else 0.0
        last = i == end.index and (not first or end.mm > start.mm)
        high = end.mm if last else edge.path.length_mm
        if high - low > JOIN_MM * 10.0:
            made.append((edge, low, high))
        if last:
            return made
        i, first = (i + 1) % count, False
    raise BadInput("The places of the cut do not follow one another round the piece.")


def _bits(piece: Piece, stretch: Stretch) -> list[_Bit]:
    made = []
    for edge, low, high in _parts(piece, stretch.start, stretch.end):
        whole = high - low >= edge.path.length_mm - JOIN_MM
        path = edge.path if whole else edge.path.slice(low, high)
        made.append(_Bit(edge, low, high, path.moved(stretch.move), stretch.move))
    return made


def _as_one(bits: Sequence[_Bit], *, keep_straight: bool) -> Path:
    """Return the moved bits of one edge as one line.

    Around each cut the line passes smoothly from one move to the next: it keeps its own shape, and what is done
    there can be undone. Where too much was cut out for that, the stretches are bridged instead.
    """
    if len(bits) == 1:
        return bits[0].path
    if keep_straight and all(looks_straight(b.path) for b in bits):
        return Path.line(bits[0].path.start, bits[-1].path.end)
    source = bits[0].edge.path
    made = bits[0].path
    for one, two in pairwise(bits):
        # about a pivot the line only bends; a short blend keeps its length
        bends = distance(one.path.end, two.path.start) <= STITCH_MM and two.from_mm - one.to_mm <= STITCH_MM
        reach = BEND_MM if bends else BLEND_MM
        back = min(reach, BLEND_SHARE * (one.to_mm - one.from_mm))
        on = min(reach, BLEND_SHARE * (two.to_mm - two.from_mm))
        low, high = one.to_mm - back, two.from_mm + on
        jump = distance(one.path.end, two.path.start) + two.from_mm - one.to_mm
        if jump * STEEPEST > high - low:
            made = trued(made, two.path)
            continue
        window = source.slice(low, high)
        passing = bent(window, _passing(window, one.move, two.move))
        head = made.slice(0.0, made.length_mm - back)
        tail = source.slice(high, two.to_mm).moved(two.move)
        made = _chained(head, passing, tail)
    return made


def _passing(window: Path, one: Move, two: Move) -> Field:
    """The field that passes from one move to another along a stretch."""

    def field(mm: NDArray[np.float64]) -> NDArray[np.float64]:
        points = window.points_at(mm)
        share = eased(mm / window.length_mm)[:, None]
        return np.asarray((1.0 - share) * one.apply_array(points) + share * two.apply_array(points) - points)

    return field


def _chained(*paths: Path) -> Path:
    """Return paths that meet within rounding as one."""
    made = paths[0]
    for path in paths[1:]:
        made = made.joined(path.starting_at(made.end))
    return made


def _grouped(tokens: Sequence[_Bit | Opening | Inlet]) -> list[list[_Bit] | Opening | Inlet]:
    """Put bits of one edge that follow one another together; begin where an edge begins."""

    def begins(k: int) -> bool:
        here, before = tokens[k], tokens[k - 1]
        if isinstance(here, Opening | Inlet) or isinstance(before, Opening | Inlet):
            return True
        return here.edge.id != before.edge.id

    start = next((k for k in range(len(tokens)) if begins(k)), None)
    if start is None:
        raise BadInput("This piece has no corner. Put one on its outline first.")
    groups: list[list[_Bit] | Opening | Inlet] = []
    ring = [*tokens[start:], *tokens[:start]]
    for k, token in enumerate(ring):
        last = groups[-1] if groups else None
        if isinstance(token, Opening | Inlet):
            groups.append(token)
        elif isinstance(last, list) and k > 0 and last[-1].edge.id == token.edge.id:
            last.append(token)
        else:
            groups.append([token])
    return groups


def _leg(piece: Piece, edge_id: EdgeId, apex: Pt) -> Edge:
    known = next((e for e in piece.edges if e.id == edge_id), None)
    path = Path.line(apex, (apex[0] + 1.0, apex[1]))  # put between its ends when all edges are known
    if known is not None:
        return replace(known, path=path, shape="straight")
    return Edge(edge_id, path, "seam", "dart", shape="straight")


def _meeting(edges: list[Edge], legs: dict[EdgeId, Opening]) -> list[Edge]:
    """Put the legs of opened darts between their ends, and corners that differ by rounding on one another."""
    count = len(edges)
    made = list(edges)
    for k, edge in enumerate(edges):
        opening = legs.get(edge.id)
        if opening is not None:
            mouth = (edges[k - 1].path.end, edges[(k + 2) % count].path.start)
            if min(distance(p, opening.apex) for p in mouth) <= 1.0:
                raise BadShape("The dart would have no length. Choose a point further in.")
            made[k] = replace(edge, path=Path.line(mouth[0], opening.apex))
            made[(k + 1) % count] = replace(made[(k + 1) % count], path=Path.line(opening.apex, mouth[1]))
    for k in range(count):
        j = (k + 1) % count
        gap = distance(made[k].path.end, made[j].path.start)
        if gap > STITCH_MM:
            x, y = made[k].path.end
            raise BadShape(
                f"The outline would be open by {gap:.1f} mm near ({x:.0f}, {y:.0f}) mm. Nothing was changed."
            )
        if gap > 0.0:
            made[j] = replace(made[j], path=made[j].path.starting_at(made[k].path.end))
    return made


def _from_same_start(piece: Piece, edges: list[Edge]) -> tuple[Edge, ...]:
    """Keep the order of the outline: begin with the edge that was first, where it is still there."""
    order = {e.id: k for k, e in enumerate(piece.edges)}
    known = [(order[e.id], k) for k, e in enumerate(edges) if e.id in order]
    start = min(known)[1] if known else 0
    return (*edges[start:], *edges[:start])


def _carried(notch: Notch, piece: Piece, home: list[tuple[_Bit, int]], edges: list[Edge]) -> Notch:
    old = piece.edge(notch.at.edge)
    mm = old.mm_of(notch.at)
    mine = [(bit, k) for bit, k in home if bit.edge.id == old.id]
    if not mine:
        return notch  # on a leg that is drawn anew
    bit, k = min(mine, key=lambda pair: max(pair[0].from_mm - mm, mm - pair[0].to_mm, 0.0))
    new = edges[k]
    if bit.whole and new.id == old.id:
        return notch
    point = bit.move.apply(old.path.point_at(min(max(mm, bit.from_mm), bit.to_mm)))
    return replace(notch, at=place_at(new, new.path.nearest(point).at_mm, notch.at))


def _grain(grain: tuple[Pt, Pt] | None, where: Where) -> tuple[Pt, Pt] | None:
    if grain is None:
        return None
    (x0, y0), (x1, y1) = grain
    one, middle, two = (where(p) for p in (grain[0], ((x0 + x1) / 2.0, (y0 + y1) / 2.0), grain[1]))
    apart = (two.tx - one.tx, two.ty - one.ty)
    aslant = abs(apart[0] * (y1 - y0) - apart[1] * (x1 - x0)) > STITCH_MM * distance(*grain)
    if all(_shifts_only(m) for m in (one, two)) and not aslant:
        return (one.apply(grain[0]), two.apply(grain[1]))
    # its direction stays: it goes as a whole with the cloth at its middle, or not at all
    return (middle.apply(grain[0]), middle.apply(grain[1])) if _shifts_only(middle) else grain


def _shifts_only(move: Move) -> bool:
    return abs(move.turn_deg) <= 1e-9 and not move.flips


def _darts(piece: Piece, groups: Sequence[list[_Bit] | Opening | Inlet]) -> tuple[Dart, ...]:
    opened = {g.dart.id: g.dart for g in groups if isinstance(g, Opening)}
    kept = tuple(opened.pop(d.id, d) for d in piece.darts)
    return (*kept, *opened.values())
