"""Strategy, once everything is on: make the leftover more useful.

The most useful rectangle that is left becomes a piece like the others, and is made to grow: a little wider or
taller, overlaps worked off, and again. Whatever moves the pieces (gaps, folds, zones, several sheets) moves
them here too. When it grows no more, linear programs close the last gaps and draw straight edges to the border of
the sheet, which need no cut there; then a rectangle at another end of a sheet is tried, the most promising first.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from eke.lay import verify
from eke.lay.collide.poles import find_poles
from eke.lay.collide.tables import (
    F64,
    PF_TH,
    PF_X,
    PF_X0,
    PF_Y,
    PI_P,
    PI_SHEET,
    PI_TURN,
    RI_E,
    RI_NE,
    SF_AREA,
    SF_DIAMETER,
    SF_PENALTY,
    SF_RADIUS,
    SF_SIDE,
    SI_A,
    SI_CLASS,
    SI_NP,
    SI_NV,
    SI_P,
    SI_V,
)
from eke.lay.problem import FULL_QUALITY, Part, Placement, Problem
from eke.lay.rest import (
    WIDE_MM,
    Box,
    area_of,
    best_of,
    border_shared,
    connected_area,
    edges_of,
    ground_of,
    is_free,
    leftovers,
    pushed_out,
    rest_of,
    useful_rectangle,
    useful_width,
    worth_of,
)
from eke.lay.search.border import shares_border
from eke.lay.search.compact import Compactor
from eke.lay.search.convex import free_polygons
from eke.lay.search.hand import Hand, Lay, Picture

REST: Final = "the rest"
"""Name of the rectangle among the parts (with strokes added where a part is called so)."""
FIRST_STEP: Final = 0.15
"""First growth of one side, as a share of it; larger after a success, half after a failure."""
MOST_STEP: Final = 0.5
LEAST_STEP: Final = 0.04
"""Below this a linear program goes on, and steps only when it gained ``LP_GAIN``."""
LP_GAIN: Final = 0.004
FASTER: Final = 1.6
GROW_PASSES: Final = 60
GROW_PATIENCE: Final = 25
END_PASSES: Final = 160
END_PATIENCE: Final = 50
WORTH_TRYING: Final = 1.05
"""An end is tried when it promises this many times the best rectangle so far."""
TRIES_AN_END: Final = 2
ALL_OF_IT: Final = 0.985
"""A rectangle of this share of all that is left cannot be bettered by much: the search ends."""
CONNECTED_WEIGHT: Final = 0.1
"""A mm² of the largest connected rest counts so much beside a mm² of the most useful rectangle."""
BORDER_WEIGHT: Final = 0.05
"""A cut of the length of a useful width that is saved counts as this share of that width squared."""
HAIR_SHARE: Final = 1e-4
"""Share of its shorter side by which a rectangle is taken in, to be surely free, before it is pushed out."""
LEAST_SHARE: Final = 0.003
"""A rest below this share of the sheets is left alone."""


@dataclass(frozen=True, slots=True)
class Start:
    """The problem with the rectangle among its parts, where everything lies, and the rectangle's name."""

    problem: Problem
    placements: tuple[Placement, ...]
    name: str


def start_from(problem: Problem, placements: Sequence[Placement]) -> Start | None:
    """Return the problem of making the leftover of a lay larger; ``None`` where too little is left.

    Sheets on which nothing lies are left out: their leftover is all of them already.
    """
    used = {p.sheet for p in placements}
    sheets = tuple(s for s in problem.sheets if s.id in used)
    found = [one for one in leftovers(problem, placements) if one.sheet in used]
    best = best_of(found)
    whole = sum(ground_of(s).area for s in sheets)
    if best is None or best.rectangle is None or sum(one.rest_mm2 for one in found) < LEAST_SHARE * whole:
        return None
    name = REST
    while any(p.id == name for p in problem.parts):
        name += "’"
    # the search keeps the gap between pieces to the rectangle as well
    gap = max([problem.gap_parts_mm, *(p.gap_mm or 0.0 for p in problem.parts)])
    x0, y0, x1, y1 = best.rectangle
    cut = min(1.001 * gap, 0.2 * (x1 - x0), 0.2 * (y1 - y0)) + 1e-4 * min(x1 - x0, y1 - y0)
    w, h = x1 - x0 - 2 * cut, y1 - y0 - 2 * cut
    if min(w, h) <= 0.0:
        return None
    outline = np.array([[-w, -h], [w, -h], [w, h], [-w, h]]) * 0.5
    zones = any(s.zones for s in sheets)
    part = Part(name, outline, gap_edge_mm=0.0, gap_hole_mm=0.0, min_quality=FULL_QUALITY if zones else None)
    place = Placement(name, best.sheet, 0.0, 0.5 * (x0 + x1), 0.5 * (y0 + y1))
    return Start(replace(problem, parts=(*problem.parts, part), sheets=sheets), (*placements, place), name)


def score(problem: Problem, placements: Sequence[Placement], seen: tuple[str, Box] | None = None) -> float:
    """Return how useful what a lay leaves is: its best rectangle on a sheet in use, and its connected rest.

    A little counts as well what need not be cut, because it lies along the border.

    With ``seen``, the sheet and a rectangle that is known to be about free, that one is measured exactly and no
    other is looked for.
    """
    width = useful_width(problem)
    best = 0.0
    used = {p.sheet for p in placements}
    for sheet in problem.sheets:
        if sheet.id not in used or (seen is not None and sheet.id != seen[0]):
            continue
        left = rest_of(problem, placements, sheet)
        found = useful_rectangle(left) if seen is None else settled(left, seen[1])
        worth = 0.0 if found is None else worth_of(found)
        best = max(best, worth + CONNECTED_WEIGHT * connected_area(left, width))
    return best + BORDER_WEIGHT * width * border_shared(problem, placements)


def settled(left: BaseGeometry, near: Box) -> Box | None:
    """Return the rectangle inside ``left`` that a nearly free one can be pushed out to."""
    x0, y0, x1, y1 = near
    hair = HAIR_SHARE * min(x1 - x0, y1 - y0)
    inside = (x0 + hair, y0 + hair, x1 - hair, y1 - hair)
    edges = edges_of(left)
    middle = shapely.Point(0.5 * (x0 + x1), 0.5 * (y0 + y1))
    if hair <= 0.0 or not is_free(inside, edges) or not left.contains(middle):
        return None
    return pushed_out(inside, edges)


def checker(problem: Problem, name: str, made: int) -> Callable[[Hand], Lay | None]:
    """Return the exact check of this search: everything is on without a fault, ranked by what is left.

    ``made`` are the passes made before it.
    """
    from eke.lay.solve import rank_of

    def check(hand: Hand) -> Lay | None:
        placements = tuple(p for p in hand.placements() if p.part != name)
        if verify.missing(problem, placements) or verify.faults(problem, placements):
            return None
        found = score(problem, placements, seen_by(hand))
        rank = (*rank_of(problem, placements, costs=True)[0], found)
        return Lay(placements, rank, True, made + hand.passes, hand.worker)

    return check


def seen_by(hand: Hand) -> tuple[str, Box]:
    """Return the sheet and the box, in mm and without the border for the gap, of a hand's rectangle."""
    i = hand.n - 1
    border = _border(hand)
    x0, y0, x1, y1 = (float(v) for v in hand.state.piece_f[i, PF_X0 : PF_X0 + 4])
    k = hand.ground.scale
    sheet = hand.ground.sheet_ids[int(hand.state.piece_i[i, PI_SHEET])]
    assert sheet is not None
    return sheet, ((x0 + border) / k, (y0 + border) / k, (x1 - border) / k, (y1 - border) / k)


def _border(hand: Hand) -> float:
    """Return by how much the rectangle is grown for the gap (scaled)."""
    g = hand.ground
    t = g.piece_shape[-1]
    v0, nv = int(g.field.shape_i[t, SI_V]), int(g.field.shape_i[t, SI_NV])
    return float(g.field.vx[v0 : v0 + nv].max()) - 0.5 * g.scale * _width(g.shapes[t].part.outline)


class Rectangle:
    """The rectangle as a piece of a hand: it can be given another size and place."""

    def __init__(self, hand: Hand) -> None:
        f = hand.field
        self.hand = hand
        self.wide = WIDE_MM * hand.ground.scale
        self.index = hand.n - 1  # its part is the last
        self.shape = t = int(hand.ground.piece_shape[self.index])
        # the tables of shapes are shared between the searches: this one needs its own
        hand.field = f._replace(
            vx=f.vx.copy(), vy=f.vy.copy(), px=f.px.copy(), py=f.py.copy(), pr=f.pr.copy(),
            shape_f=f.shape_f.copy(),
        )  # fmt: skip
        v0, nv = int(f.shape_i[t, SI_V]), int(f.shape_i[t, SI_NV])
        x, y = f.vx[v0 : v0 + nv], f.vy[v0 : v0 + nv]
        # what stays of the outline when its sides change: the roundings of the corners
        self._away = np.column_stack([x - np.sign(x) * x.max(), y - np.sign(y) * y.max()])
        self._sign = np.column_stack([np.sign(x), np.sign(y)])
        self.size = (2.0 * float(x.max()), 2.0 * float(y.max()))

    def resize(self, size: tuple[float, float]) -> None:
        """Give it another width and height (scaled, with the border for the gap) about its middle."""
        hand, t = self.hand, self.shape
        f = hand.field
        self.size = size
        half = 0.5 * np.array(size)
        points = self._sign * half + self._away
        v0, nv = int(f.shape_i[t, SI_V]), int(f.shape_i[t, SI_NV])
        f.vx[v0 : v0 + nv], f.vy[v0 : v0 + nv] = points[:, 0], points[:, 1]
        area = size[0] * size[1]
        poles = find_poles(np.ascontiguousarray(points[:, 0]), np.ascontiguousarray(points[:, 1]), area)
        p0, m = int(f.shape_i[t, SI_P]), int(f.shape_i[t, SI_NP])
        rows = np.zeros((m, 3))  # a pole of no size weighs nothing
        rows[: min(m, len(poles))] = poles[:m]
        f.px[p0 : p0 + m], f.py[p0 : p0 + m], f.pr[p0 : p0 + m] = rows.T
        q0 = int(hand.state.piece_i[self.index, PI_P])
        hand.state.qr[q0 : q0 + m] = rows[:, 2]
        diagonal = float(np.hypot(*size))
        f.shape_f[t, SF_RADIUS], f.shape_f[t, SF_DIAMETER] = 0.5 * diagonal, diagonal
        f.shape_f[t, SF_PENALTY], f.shape_f[t, SF_AREA] = float(np.sqrt(area)), area
        f.shape_f[t, SF_SIDE] = min(size)

    def put(self, sheet: int, b: Box) -> None:
        """Put it over a box (scaled, with the border)."""
        s = self.hand.state
        s.piece_i[self.index, PI_SHEET] = sheet
        s.piece_i[self.index, PI_TURN] = 0
        s.piece_f[self.index, PF_TH] = self.hand.field.turns[int(self.hand.field.shape_i[self.shape, SI_A])]
        s.piece_f[self.index, PF_X], s.piece_f[self.index, PF_Y] = 0.5 * (b[0] + b[2]), 0.5 * (b[1] + b[3])
        self.resize((b[2] - b[0], b[3] - b[1]))

    @property
    def area(self) -> float:
        """Its area (scaled, with the border)."""
        return self.size[0] * self.size[1]

    @property
    def worth(self) -> float:
        """How useful it is (scaled, with the border)."""
        return worth_of((0.0, 0.0, *self.size), self.wide)

    @property
    def slopes(self) -> tuple[float, float]:
        """How much more useful it gets for each mm of its width and of its height (scaled)."""
        width, height = self.size
        if min(width, height) >= self.wide:
            return height, width
        share = (min(width, height) / self.wide) ** 2
        return (
            (3.0 * share * height, share * width) if width < height else (share * height, 3.0 * share * width)
        )


@dataclass(frozen=True, slots=True)
class _Kept:
    """A sound lay with its rectangle."""

    picture: Picture
    size: tuple[float, float]
    area: float
    worth: float


@dataclass(frozen=True, slots=True)
class _End:
    """An end of a sheet and the most useful rectangle that could be left there."""

    sheet: int
    side: int
    box: Box


def search(hand: Hand) -> None:
    """Make the rectangle grow where it is, then at other ends; every better lay is handed in."""
    rest = Rectangle(hand)
    compactor = Compactor(hand)
    hand.settle()
    best: _Kept | None = None
    if hand.separate(GROW_PASSES, GROW_PATIENCE) <= 0.0:
        best = _keep(hand, rest)
        if hand.worker % 2 == 0:
            best = _grow(hand, rest, compactor, best)
    left = _free(hand, rest)
    ends: list[_End] = []
    if best is None or best.area < ALL_OF_IT * left:
        for q in range(hand.state.limit.shape[0]):
            for side in range(4):
                if hand.go_on():
                    ends += _end(hand, rest, q, side, left)
    while hand.go_on() and (best is None or best.area < ALL_OF_IT * left):
        least = 0.0 if best is None else WORTH_TRYING * best.worth
        ends = [e for e in ends if worth_of(e.box, rest.wide) > least]
        if not ends:
            break
        end = max(ends, key=lambda e: worth_of(e.box, rest.wide) * float(hand.luck.uniform(0.9, 1.1)))
        ends.remove(end)
        found = _at_end(hand, rest, compactor, end, best)
        if found is not None and (best is None or found.worth > best.worth):
            best = found
    if best is not None and hand.worker % 2 == 1 and hand.go_on():
        _restore(hand, rest, best)
        _grow(hand, rest, compactor, best)


def _free(hand: Hand, rest: Rectangle) -> float:
    """Return the area (scaled) that is left on the sheets in all."""
    cls = int(hand.field.shape_i[rest.shape, SI_CLASS])
    others = sum(float(a) for i, a in enumerate(hand.areas) if i != rest.index)
    return max(0.0, sum(hand.ground.free_areas[cls]) - others)


def _keep(hand: Hand, rest: Rectangle) -> _Kept | None:
    """Check what lies now; return it when it is sound."""
    if hand.check() is None:
        return None
    return _Kept(hand.picture(0.0), rest.size, rest.area, rest.worth)


def _restore(hand: Hand, rest: Rectangle, kept: _Kept) -> None:
    rest.resize(kept.size)
    hand.restore(kept.picture)


def _grow(hand: Hand, rest: Rectangle, compactor: Compactor, best: _Kept | None) -> _Kept | None:
    """Let the rectangle grow side by side from a sound lay, then by linear programs; return the best."""
    if best is None:
        return None
    steps = [FIRST_STEP, FIRST_STEP]
    while hand.go_on():
        if max(steps) < LEAST_STEP:
            kept = _keep(hand, rest) if compactor.enlarge(rest) else None
            if kept is None or kept.worth <= best.worth:
                _restore(hand, rest, best)
                break
            done = kept.worth < (1.0 + LP_GAIN) * best.worth
            best = kept
            if done:
                break
            steps = [2.0 * LEAST_STEP, 2.0 * LEAST_STEP]
        # the side whose step is larger goes first: it is the one that still gives way
        axis = 0 if steps[0] > steps[1] or (steps[0] == steps[1] and hand.luck.random() < 0.5) else 1
        size = list(rest.size)
        by = steps[axis] * size[axis]
        size[axis] += by
        hand.state.piece_f[rest.index, PF_X + axis] += by * float(hand.luck.uniform(-0.5, 0.5))
        rest.resize((size[0], size[1]))
        hand.forget_weights()
        hand.settle()
        kept = _keep(hand, rest) if hand.separate(GROW_PASSES, GROW_PATIENCE) <= 0.0 else None
        if kept is not None:
            best = kept
            steps[axis] = min(MOST_STEP, steps[axis] * FASTER)
        else:
            _restore(hand, rest, best)
            steps[axis] *= 0.5
    return _on_border(hand, rest, compactor, best)


def _on_border(hand: Hand, rest: Rectangle, compactor: Compactor, best: _Kept) -> _Kept:
    """Draw straight edges to the border; return the lay with them there, or the one before where that fails."""
    if not shares_border(hand) or not hand.go_on() or not compactor.to_border(rest):
        return best
    kept = _keep(hand, rest)
    if kept is None:
        _restore(hand, rest, best)
        return best
    return kept


def _end(hand: Hand, rest: Rectangle, q: int, side: int, left: float) -> list[_End]:
    """Return the most useful rectangle that has room at an end of a sheet, pieces left aside.

    Only so much of the sheet is looked at as the pieces leave free on all sheets together: ``left``.
    """
    f = hand.field
    r = int(f.shape_i[rest.shape, SI_CLASS]) * hand.state.limit.shape[0] + q
    e0, ne = int(f.region_i[r, RI_E]), int(f.region_i[r, RI_NE])
    found = useful_rectangle(_end_of(free_polygons(f.edges[e0 : e0 + ne]), side, left), rest.wide)
    return [] if found is None else [_End(q, side, found)]


def _end_of(free: BaseGeometry, side: int, area: float) -> BaseGeometry:
    """Return the end of a region that has a given area: side 0 left, 1 low, 2 right, 3 high."""
    x0, y0, x1, y1 = free.bounds
    low, high = 0.0, 1.0
    part = free
    for _ in range(12):
        share = 0.5 * (low + high)
        cut = [x0, y0, x1, y1]
        axis = side % 2
        size = (x1 - x0, y1 - y0)[axis]
        if side < 2:
            cut[axis + 2] = cut[axis] + share * size
        else:
            cut[axis] = cut[axis + 2] - share * size
        part = free.intersection(box(cut[0], cut[1], cut[2], cut[3]))
        if part.area > area:
            high = share
        else:
            low = share
    return part


def _at_end(hand: Hand, rest: Rectangle, compactor: Compactor, end: _End, best: _Kept | None) -> _Kept | None:
    """Put the rectangle at an end, over whatever lies there, and let the pieces make room."""
    most = area_of(end.box)
    least = 0.25 * most if best is None else best.area
    for attempt in range(TRIES_AN_END):
        if not hand.go_on():
            return None
        # half way between what there is and what there could be, then a little more than there is
        aim = float(np.sqrt(least * most)) if attempt == 0 else 1.02 * least
        if best is not None:
            _restore(hand, rest, best)
        rest.put(end.sheet, _shrunk(end.box, end.side, min(1.0, aim / most)))
        hand.forget_weights()
        hand.settle()
        if hand.separate(END_PASSES, END_PATIENCE) <= 0.0:
            kept = _keep(hand, rest)
            if kept is not None:
                return _grow(hand, rest, compactor, kept)
    return None


def _shrunk(b: Box, side: int, share: float) -> Box:
    """Return a rectangle of a share of the area that still lies at the end."""
    out = list(b)
    axis = side % 2
    size = share * (b[axis + 2] - b[axis])
    if side < 2:
        out[axis + 2] = b[axis] + size
    else:
        out[axis] = b[axis + 2] - size
    return out[0], out[1], out[2], out[3]


def _width(points: F64) -> float:
    return float(points[:, 0].max() - points[:, 0].min())
