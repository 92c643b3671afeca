"""A fit change as steps with a ruler, for the paper pattern on the table.

One page says what changes on which edge: at each place how far along the edge, and how much in or out. A small
sketch shows the old edge, the new one, and where each step is; its offsets are drawn larger than they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from eke.paper.flow import BODY_MM, LEADING, Flow
from eke.paper.page import Area, Group, Item, Page, PointsMm, Stroke, TextMetrics, Words, disc, points
from eke.paper.sizes import Paper
from eke.paper.styles import INK, QUIET, ROSE, WHITE, LineStyle
from eke.units import format_mm

OLD: Final = LineStyle("old edge", 0.35, (2.0, 1.4), QUIET)
NEW: Final = LineStyle("new edge", 0.7, (), ROSE)
SKETCH_MM: Final = 82.0
"""Height of a sketch."""
STEP: Final = LineStyle("step", 0.25)
LEADER: Final = LineStyle("leader", 0.18)
RING_MM: Final = 3.2
"""Of the ring round a number: wide enough for two figures."""
SHOWN_MM: Final = 6.0
"""The largest change is drawn this far off in the sketch, so that it can be seen."""


@dataclass(frozen=True, slots=True)
class RulerStep:
    """At ``place`` (when that is empty, ``along_mm`` along the edge from its end named first) move ``inwards_mm`` in; out when negative.

    ``x_mm``, ``y_mm`` is the place on the old edge.
    """

    place: str
    along_mm: float
    inwards_mm: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class RulerChange:
    """One change on one edge of one piece, as plain data.

    ``old`` and ``new`` are the edge before and after, ``outline`` the piece before (a closed ring).
    """

    piece: str
    edge: str
    from_end: str
    outline: PointsMm
    old: PointsMm
    new: PointsMm
    steps: tuple[RulerStep, ...]


DRAWN: Final = (
    "Draw on the paper pattern with a ruler, on the seam line, not on the cut edge. Join the dots with a smooth line. At 0 it "
    "runs into the old one; elsewhere it ends at the lines beside it. The sketch shows the change larger than it is."
)
CUT: Final = (
    "Cut the paper pattern, or a copy of it, and spread it. Measure on the seam line, not on the cut edge. The sketches below "
    "show where the cuts meet the edges."
)


def step_sentence(step: RulerStep, unit: str = "mm") -> str:
    """Return a step as a maker says it: “60 mm down: 8 mm in”."""
    if abs(step.inwards_mm) < 0.05:
        amount = "0"
    else:
        amount = f"{format_mm(abs(step.inwards_mm), unit)} {'in' if step.inwards_mm > 0 else 'out'}"
    place = step.place or f"{format_mm(step.along_mm, unit)} along"
    return f"{place}: {amount}"


def ruler_pages(
    title: str,
    reason: str,
    changes: Sequence[RulerChange],
    paper: Paper,
    metrics: TextMetrics,
    *,
    unit: str = "mm",
    after: Sequence[str] = (),
    cut: bool = False,
) -> tuple[Page, ...]:
    """Return the steps of one fit change, edge by edge, each with a sketch.

    ``after`` are sentences on what else to redraw or check, such as the facing that follows. ``cut``: the paper is cut and
    spread, instead of being drawn on: ``after`` are the steps then, and the sketches show where the cuts meet the edges.
    """
    flow = Flow(paper, title, metrics, under=reason)
    flow.sentence(CUT if cut else DRAWN)
    if cut:
        _listed(flow, "In this order", after)
    for change in changes:
        flow.heading(f"{change.piece[:1].upper()}{change.piece[1:]}, {change.edge}", keep_mm=SKETCH_MM)
        _one(flow, change, [one.place if cut else step_sentence(one, unit) for one in change.steps])
    if not cut:
        _listed(flow, "Then", after)
    return flow.pages(foot=title)


def _listed(flow: Flow, heading: str, sentences: Sequence[str]) -> None:
    if sentences:
        flow.heading(heading, keep_mm=5 * BODY_MM * LEADING)
    for number, sentence in enumerate(sentences, 1):
        flow.tick(str(number), f"{sentence[:1].upper()}{sentence[1:]}")


def _one(flow: Flow, change: RulerChange, steps: Sequence[str]) -> None:
    """Put the sketch at the left and the steps at the right of it."""
    flow.need(SKETCH_MM)
    top, wide = flow.y_mm, 74.0
    flow.add(Group(sketch(change, wide, SKETCH_MM), flow.x_mm, top - SKETCH_MM))
    x = flow.x_mm + wide + 8.0
    y = top - BODY_MM
    step = min(9.0, max(6.2, SKETCH_MM / (len(change.steps) + 1.5)))
    flow.add(Words(f"From {change.from_end}:", x, y, BODY_MM, "sentence", colour=QUIET))
    for number, one in enumerate(steps, 1):
        y -= step
        if y < flow.floor_mm:
            flow.turn()
            y = flow.y_mm - BODY_MM
            top = flow.y_mm
        flow.add(
            *_numbered(number, x + RING_MM, y + 1.5),
            Words(one, x + 2 * RING_MM + 3.0, y, BODY_MM, "measure"),
        )
    flow.y_mm = min(top - SKETCH_MM, y) - 4.0


def sketch(change: RulerChange, width_mm: float, height_mm: float) -> tuple[Item, ...]:
    """Return the piece small, the old edge dashed, the new one broad, and the numbered places."""
    outline, old = points(change.outline), points(change.old)
    low, high = outline.min(axis=0), outline.max(axis=0)
    pad = 15.0
    scale = min(
        (width_mm - 2 * pad) / max(high[0] - low[0], 1e-9),
        (height_mm - 2 * pad) / max(high[1] - low[1], 1e-9),
    )
    shift = np.array([width_mm, height_mm]) / 2 - (low + high) / 2 * scale

    def small(xy: PointsMm) -> PointsMm:
        out: PointsMm = xy * scale + shift
        return out

    largest = max((abs(s.inwards_mm) for s in change.steps), default=0.0)
    shown = SHOWN_MM / largest / scale if largest > 0.05 else 1.0
    items: list[Item] = [Stroke((small(outline),), LineStyle("outline", 0.25, (), QUIET), closed=True)]
    items.append(Stroke((small(old),), OLD))
    new = _exaggerated(old, points(change.new), max(shown, 1.0))
    items.append(Stroke((small(new),), NEW))
    taken: list[tuple[float, float]] = []
    region = shapely.make_valid(shapely.Polygon(small(outline)))
    edge = small(old)
    for number, step in enumerate(change.steps, 1):
        at = small(np.array([[step.x_mm, step.y_mm]]))[0]
        x, y = _clear_spot(at, _outward(at, edge, region), region, taken)
        taken.append((x, y))
        items += [
            Stroke((np.array([at, [x, y]]),), LEADER),
            Area((disc(float(at[0]), float(at[1]), 0.8, sides=16),), INK),
            *_numbered(number, x, y),
        ]
    return tuple(items)


def _numbered(number: int, x_mm: float, y_mm: float) -> tuple[Item, ...]:
    """Return a number in a ring about (x, y)."""
    ring = disc(x_mm, y_mm, RING_MM)
    return (
        Area((ring,), WHITE),
        Stroke((ring,), STEP, closed=True),
        Words(str(number), x_mm, y_mm - 1.5, BODY_MM, "strong", "middle"),
    )


def _outward(at: PointsMm, edge: PointsMm, region: BaseGeometry) -> float:
    """Return the direction out of the piece at a place on an edge, in radians."""
    line = shapely.LineString(edge)
    s = line.project(shapely.Point(at))
    a, b = line.interpolate(max(s - 2.0, 0.0)), line.interpolate(min(s + 2.0, line.length))
    angle_rad = float(np.arctan2(b.y - a.y, b.x - a.x)) - np.pi / 2
    probe = shapely.Point(float(at[0] + 1.5 * np.cos(angle_rad)), float(at[1] + 1.5 * np.sin(angle_rad)))
    return angle_rad + np.pi if region.contains(probe) else angle_rad


def _clear_spot(
    at: PointsMm, outward_rad: float, region: BaseGeometry, taken: Sequence[tuple[float, float]]
) -> tuple[float, float]:
    """Return a place for a number beside ``at``: outside the piece, and clear of the numbers before."""
    for reach in (8.0, 13.0, 18.0, 23.0, 28.0):
        for turn in (0.0, 0.35, -0.35, 0.7, -0.7):
            x = float(at[0] + reach * np.cos(outward_rad + turn))
            y = float(at[1] + reach * np.sin(outward_rad + turn))
            apart = all(np.hypot(x - a, y - b) > 2 * RING_MM + 0.6 for a, b in taken)
            if apart and not region.intersects(shapely.Point(x, y).buffer(RING_MM)):
                return x, y
    return float(at[0] + 8.0 * np.cos(outward_rad)), float(at[1] + 8.0 * np.sin(outward_rad))


def _exaggerated(old: PointsMm, new: PointsMm, factor: float) -> PointsMm:
    """Return the new edge with its distance from the old one multiplied."""

    def even(xy: PointsMm, n: int) -> PointsMm:
        s = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
        t = np.linspace(0.0, s[-1], n)
        out: PointsMm = np.column_stack([np.interp(t, s, xy[:, 0]), np.interp(t, s, xy[:, 1])])
        return out

    # each place of the old edge against the nearest one of the new: sliding along the edge is no change
    a, b = even(old, 80), even(new, 400)
    apart = np.hypot(*(b[None] - a[:, None]).transpose(2, 0, 1))
    nearest = b[np.argmin(apart, axis=1)]
    out: PointsMm = a + (nearest - a) * factor
    return out


__all__ = ["RulerChange", "RulerStep", "ruler_pages", "sketch", "step_sentence"]
