"""The lay plan: how the pieces lie on a cloth, to chalk them without guessing.

Measures are taken from a **base line** that runs along the grain: a selvedge, else the longest straight edge
along the grain, else a line to be chalked along the grain at the cloth's left edge. *Along* counts from the
zero mark up the base line, *across* at right angles to it. Of every piece two corners are given, the two that
lie farthest apart: the first with a filled dot, the second with a ring.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from eke.paper.base_line import BaseLine, LaidCloth, LaidPiece, base_line, key_corners
from eke.paper.drawn import DrawnPiece, grain_items
from eke.paper.flow import BODY_MM, LEADING, Column, Flow
from eke.paper.hatching import hatch_lines, role_hatch
from eke.paper.page import (
    LEAST_SIZE_MM,
    Anchor,
    Area,
    Group,
    Item,
    Page,
    PointsMm,
    Role,
    Stroke,
    TextMetrics,
    Words,
    disc,
    moved,
    points,
    segment,
)
from eke.paper.placing import place, reading_turns, room_for, shape, turned_box
from eke.paper.sizes import Paper
from eke.paper.styles import CLOTH, FLAW, INK, MEASURE, QUIET, ROLE_TINT, WHITE, LineStyle
from eke.units import MM_PER_INCH, format_mm

SCALES: Final = (
    1.0,
    2.0,
    2.5,
    3.0,
    4.0,
    5.0,
    6.0,
    8.0,
    10.0,
    12.0,
    15.0,
    20.0,
    25.0,
    30.0,
    40.0,
    50.0,
    75.0,
    100.0,
)
"""A plan is drawn 1 to one of these, so that a ruler on the plan gives the cloth by plain arithmetic."""

CUT_ON_PLAN: Final = LineStyle("cut", 0.35)
GRAIN_ON_PLAN: Final = LineStyle("grain", 0.25)
GRID: Final = LineStyle("grid", 0.18, (), "#DAD7CF")
BASE: Final = LineStyle("base line", 1.0)
ZERO: Final = LineStyle("zero mark", 0.5)
NUMBERS_MM: Final = 15.0
"""Room beside the base line for its numbers."""
SIDE_MM: Final = 5.0
"""Room on the other side, for half a number below."""
FOOT_MM: Final = 9.0
"""Room below the cloth for the numbers across."""


def number_only(mm: float, unit: str) -> str:
    """Return a length for a table whose heading names the unit: whole millimetres, cm to a millimetre, inches."""
    text = f"{round(mm):d}" if unit == "mm" else format_mm(mm, unit).removesuffix(" cm").removesuffix(" in")
    return text.replace("-", "−")


def _lies(laid: LaidPiece, grain_deg: float) -> str:
    """Return which way up a piece lies, its turn counted from the cloth's grain."""
    turn = (laid.turn_deg - (grain_deg - 90.0)) % 360.0
    words = "face down" if laid.face_down else "face up"
    if min(turn, 360.0 - turn) < 0.05:
        return words
    if abs(turn - 180.0) < 0.05:
        return f"{words}, upside down"
    signed = turn - 360.0 if turn > 180.0 else turn
    return f"{words}, turned {abs(signed):.0f}° {'left' if signed > 0 else 'right'}"


def lay_plan(
    cloth: LaidCloth,
    pieces: Sequence[LaidPiece],
    paper: Paper,
    metrics: TextMetrics,
    *,
    unit: str = "mm",
    title: str = "Lay plan",
    notes: Sequence[str] = (),
) -> tuple[Page, ...]:
    """Return the plan of one cloth: the drawing, then the table of measures for chalking.

    Parameters
    ----------
    cloth, pieces
        The cloth and what lies on it, in the same mm.
    unit
        ``mm``, ``cm`` or ``inch``, for the measures.
    notes
        Sentences below the heading, such as “Made for the pattern before the last change”.
    """
    base = base_line(cloth)
    frame = PlanFrame.of(cloth, base)
    wide, high = frame.size_mm
    if wide > high * 1.05 and paper.width_mm < paper.height_mm:
        paper = paper.lying()
    under = " · ".join((cloth.name, *cloth.facts))
    flow = Flow(paper, title, metrics, under=under)
    for note in notes:
        flow.sentence(note)
    room = flow.left_mm - LEADING * BODY_MM * 2 - 1.2 - FOOT_MM - 8.0
    across = flow.width_mm - SIDE_MM - NUMBERS_MM
    scale = _scale(wide, high, across, room)
    table = 28.0 + (1.8 * BODY_MM * LEADING + 2.4) * len(pieces)
    if room > 2 * table:
        # somewhat smaller, if the table then comes on the same page
        smaller = _scale(wide, high, across, room - table)
        scale = smaller if smaller <= 1.6 * scale else scale
    flow.sentence(_how(base, scale, unit), role="measure", colour=QUIET)
    drawing, height = plan_items(cloth, pieces, metrics, base, scale, unit)
    flow.drawing(Group(drawing), height)
    _table(flow, pieces, base, unit, cloth.grain_deg)
    return flow.pages(foot=f"{title} · {cloth.name}")


def _scale(wide: float, high: float, room_w: float, room_h: float) -> float:
    needed = max(wide / room_w, high / room_h)
    return next((s for s in SCALES if s >= needed), needed)


GRID_MM: Final = {"mm": (100.0, "100 mm"), "cm": (100.0, "10 cm"), "inch": (4 * MM_PER_INCH, "4 inches")}
"""Side of a grid square by unit: a hand’s breadth."""


def _how(base: BaseLine, scale: float, unit: str) -> str:
    shown = f"{scale:.3g}"
    return (
        f"Drawn 1 to {shown}; each square is {GRID_MM[unit][1]}. Measures start at the zero mark on {base.name}, "
        "shown by the thick line."
    )


def _table(flow: Flow, pieces: Sequence[LaidPiece], base: BaseLine, unit: str, grain_deg: float) -> None:
    symbol = {"mm": "mm", "cm": "cm", "inch": "in"}[unit]
    rows = []
    for laid in pieces:
        first, second = base.measure(key_corners(laid.piece.cut[0]))
        rows.append(
            (
                laid.piece.number,
                laid.piece.name,
                _lies(laid, grain_deg),
                *(number_only(float(v), unit) for v in (*first, *second)),
            )
        )
    measure = 1.3 if unit != "inch" else 1.65  # room for “16 15/16”
    columns = (
        Column("", 0.75, role="strong"),
        Column("Piece", 2.6 if unit != "inch" else 2.1),
        Column("Lies", 2.5),
        Column("Dot: along", measure, "right"),
        Column(f"across, {symbol}", measure, "right"),
        Column("Ring: along", measure, "right"),
        Column(f"across, {symbol}", measure, "right"),
    )
    flow.heading("Where to chalk", keep_mm=4 * BODY_MM * LEADING)
    flow.table(columns, rows)


@dataclass(frozen=True, slots=True)
class PlanFrame:
    """How a cloth is turned and moved onto its plan: the grain runs up the page, whatever way it was measured.

    ``low_mm`` and ``size_mm`` are the lower left and the extent of cloth and base line, in mm of cloth with the
    base line upright.
    """

    along: tuple[float, float]
    low_mm: tuple[float, float]
    size_mm: tuple[float, float]
    base_at_left: bool
    scale: float = 1.0

    @classmethod
    def of(cls, cloth: LaidCloth, base: BaseLine) -> PlanFrame:
        """Return the frame of a cloth at full size."""
        along, right = np.array(base.along), np.array([base.along[1], -base.along[0]])
        zero = np.array([[base.x_mm, base.y_mm]])
        every = np.vstack([points(cloth.outline), zero, zero + along * base.length_mm])
        upright = np.column_stack([every @ right, every @ along])
        low, size = upright.min(axis=0), np.ptp(upright, axis=0)
        return cls(
            base.along,
            (float(low[0]), float(low[1])),
            (float(size[0]), float(size[1])),
            float(np.dot(base.across, right)) > 0,
        )

    def to_page(self, xy: PointsMm) -> PointsMm:
        """Return where points of the cloth lie on the plan, in mm from the plan’s lower left."""
        frame = np.array([[self.along[1], -self.along[0]], self.along])
        left = NUMBERS_MM if self.base_at_left else SIDE_MM
        out: PointsMm = (xy @ frame.T - np.array(self.low_mm)) / self.scale + np.array([left, FOOT_MM])
        return out

    def one(self, x_mm: float, y_mm: float) -> PointsMm:
        """Return where one point lies, shape (2,)."""
        at: PointsMm = self.to_page(np.array([[x_mm, y_mm]]))[0]
        return at


def plan_items(
    cloth: LaidCloth,
    pieces: Sequence[LaidPiece],
    metrics: TextMetrics,
    base: BaseLine,
    scale: float,
    unit: str = "mm",
) -> tuple[tuple[Item, ...], float]:
    """Return the drawing of a lay at 1 to ``scale``, its lower left at the origin, and its height in mm."""
    frame = replace(PlanFrame.of(cloth, base), scale=scale)
    rings = (frame.to_page(points(cloth.outline)), *(frame.to_page(points(h)) for h in cloth.holes))
    region = shape(rings)
    items: list[Item] = [Area(rings, WHITE)]
    items += _grid(region, frame.one(base.x_mm, base.y_mm), GRID_MM[unit][0] / scale)
    for laid in pieces:
        items += _piece(laid.piece, frame, metrics)
    items += [Stroke(hatch_lines(shape([hole]), 1.6, 45.0), FLAW) for hole in rings[1:]]
    items.append(Stroke(rings, CLOTH, closed=True))
    for flaw in cloth.flaws:
        ring = frame.to_page(points(flaw.ring))
        lines = hatch_lines(shape([ring]), 1.6, -45.0) + hatch_lines(shape([ring]), 1.6, 45.0)
        items += [Stroke(lines, FLAW), Stroke((ring,), FLAW, closed=True)]
    items += _flaw_names(cloth, rings, pieces, frame, metrics)
    items += _base(base, frame)
    items += _rulers(base, rings[0], frame, unit)
    return tuple(items), frame.size_mm[1] / scale + FOOT_MM + 4.0


def _grid(region: BaseGeometry, zero: PointsMm, side_mm: float) -> list[Item]:
    """Return a grid of squares from the zero mark, inside the cloth only."""
    about: BaseGeometry = translate(region, -float(zero[0]), -float(zero[1]))
    lines = hatch_lines(about, side_mm, 0.0) + hatch_lines(about, side_mm, 90.0)
    return [Stroke(tuple(line + zero for line in lines), GRID)] if lines else []


def _piece(piece: DrawnPiece, frame: PlanFrame, metrics: TextMetrics) -> list[Item]:
    to_page = frame.to_page
    rings = tuple(to_page(ring) for ring in piece.cut)
    region = shape(rings)
    items: list[Item] = [Area(rings, ROLE_TINT.get(piece.role, WHITE))]
    first, second = to_page(key_corners(piece.cut[0]))
    dot = 1.0 if np.ptp(rings[0], axis=0).max() > 6.0 else 0.45
    free: BaseGeometry = region.buffer(-0.6)
    if piece.grain is not None:
        (x0, y0), (x1, y1) = to_page(
            np.array([[piece.grain.x0_mm, piece.grain.y0_mm], [piece.grain.x1_mm, piece.grain.y1_mm]])
        )
        arrow = piece.grain.__class__(float(x0), float(y0), float(x1), float(y1), piece.grain.one_way)
        free = free.difference(shapely.LineString([(x0, y0), (x1, y1)]).buffer(1.2))
    words, box = _plan_words(piece, region, free, metrics)
    items += role_hatch(region.difference(box), piece.role)
    items.append(Stroke(rings, CUT_ON_PLAN, closed=True))
    if piece.grain is not None:
        items += grain_items(arrow, head_mm=2.6, style=GRAIN_ON_PLAN)
    items.append(Area((disc(float(first[0]), float(first[1]), dot, sides=20),), INK))
    items.append(Area((disc(float(second[0]), float(second[1]), dot * 1.1, sides=20),), INK))
    items.append(Area((disc(float(second[0]), float(second[1]), dot * 0.6, sides=20),), WHITE))
    return items + words


def _plan_words(
    piece: DrawnPiece, region: BaseGeometry, free: BaseGeometry, metrics: TextMetrics
) -> tuple[list[Item], BaseGeometry]:
    """Return number and name, or the number alone, where there is room in the piece.

    Off the grain arrow if that can be; a number over the arrow is better than one beside the piece.
    """
    size = LEAST_SIZE_MM
    number: tuple[str, float, Role] = (piece.number, size * 1.2, "strong")
    name: tuple[str, float, Role] = (piece.name, size, "measure")
    turns = reading_turns(region)
    for lines, where in (([number, name], free), ([number], free), ([number], region.buffer(-0.4))):
        w = max(metrics.width_mm(text, role, s) for text, s, role in lines) + 1.0
        h = sum(s * 1.15 for _, s, _ in lines) + 0.4
        found = place(where, w, h, turns)
        if found is None:
            continue
        x, y, turn = found
        box = turned_box(x, y, w, h, turn)
        out: list[Item] = [] if where is free else [Area((shapely.get_coordinates(box)[:-1],), WHITE)]
        down = h / 2
        for text, s, role in lines:
            base = down - s * 0.95
            dx, dy = moved(np.array([[0.0, base]]), 0.0, 0.0, turn)[0]
            out.append(Words(text, x + float(dx), y + float(dy), s, role, "middle", turn))
            down -= s * 1.15
        return out, box
    # too small for its number, which then stands beside it
    _, y0, x1, y1 = region.bounds
    return [Words(piece.number, x1 + 1.0, (y0 + y1) / 2 - size * 0.35, size, "strong")], shapely.Polygon()


def _flaw_names(
    cloth: LaidCloth,
    rings: tuple[PointsMm, ...],
    pieces: Sequence[LaidPiece],
    frame: PlanFrame,
    metrics: TextMetrics,
) -> list[Item]:
    """Return the names of flaws and holes where the cloth is free beside them."""
    free = shape(rings)
    for laid in pieces:
        free = free.difference(shape([frame.to_page(ring) for ring in laid.piece.cut]).buffer(0.8))
    named = [(frame.to_page(points(f.ring)), f.name) for f in cloth.flaws]
    named += [(ring, "hole") for ring in rings[1:]]
    items: list[Item] = []
    size = LEAST_SIZE_MM
    for ring, _ in named:
        free = free.difference(shape([ring]).buffer(0.8))
    for ring, name in named:
        width = metrics.width_mm(name, "measure", size) + 1.0
        near = ring.mean(axis=0)
        spot = room_for(free, width, size * 1.1, prefer=(float(near[0]), float(near[1])))
        if spot is not None and np.hypot(spot[0] - near[0], spot[1] - near[1]) < 30.0 + float(
            np.ptp(ring, axis=0).max()
        ):
            items.append(Words(name, spot[0], spot[1] - size * 0.35, size, "measure", "middle"))
            w2, h2 = width / 2, size * 0.55
            free = free.difference(shapely.box(spot[0] - w2, spot[1] - h2, spot[0] + w2, spot[1] + h2))
    return items


def _base(base: BaseLine, frame: PlanFrame) -> list[Item]:
    """Return the base line, thick, with the zero mark at its start."""
    x, y = frame.one(base.x_mm, base.y_mm).tolist()
    end = y + base.length_mm / frame.scale
    return [
        Stroke((segment(x, y, x, end),), BASE),
        Area((disc(x, y, 2.9),), WHITE),
        Stroke((disc(x, y, 2.9),), ZERO, closed=True),
        Words("0", x, y - 1.5, LEAST_SIZE_MM, "strong", "middle"),
    ]


def _rulers(base: BaseLine, outline: PointsMm, frame: PlanFrame, unit: str) -> list[Item]:
    """Return distances up the base line, and across at its foot."""
    x, y = frame.one(base.x_mm, base.y_mm).tolist()
    size, scale = LEAST_SIZE_MM, frame.scale
    one = GRID_MM[unit][0]
    step = next(k for k in (one, 2 * one, 5 * one, 10 * one, 20 * one) if k / scale >= 14.0 or k == 20 * one)
    per = {"mm": 1.0, "cm": 10.0, "inch": MM_PER_INCH}[unit]
    out = -1.0 if frame.base_at_left else 1.0
    up = max(base.length_mm, (float(outline[:, 1].max()) - y) * scale)
    aside = (float(outline[:, 0].max()) - x if frame.base_at_left else x - float(outline[:, 0].min())) * scale
    low = float(min(outline[:, 1].min(), y))
    ticks: list[PointsMm] = []
    items: list[Item] = []
    for value in np.arange(step, up + 1e-6, step):
        at = y + float(value) / scale
        ticks.append(segment(x, at, x + 2.0 * out, at))
        end: Anchor = "end" if out < 0 else "start"
        text = f"{value / per:.0f}"
        items.append(Words(text, x + 3.0 * out, at - size * 0.35, size, "measure", end, colour=QUIET))
    for value in np.arange(step, aside + 1e-6, step):
        at = x - out * float(value) / scale
        ticks.append(segment(at, low, at, low - 2.0))
        items.append(Words(f"{value / per:.0f}", at, low - 6.2, size, "measure", "middle", colour=QUIET))
    if ticks:
        items.append(Stroke(tuple(ticks), MEASURE))
    return items
