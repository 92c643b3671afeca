"""The frame trick: sheets for a peer that knows strips only.

All that is not cloth, out to a rectangle round the sheets, becomes two pieces of the strip's full length that may
not be turned: an upper and a lower half. Once the strip is as short as they are, everything else lies in the
cloth that they leave free. A hole, or a stretch of the border that the cut sets free, hangs on its half by a
bridge a tenth of a millimetre wide, which nothing can lie across: the trick's own handicap.
"""

from __future__ import annotations

import math
import threading
import time
from typing import Any

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points, unary_union

from eke.lay import Problem

APART_MM = 20.0
RIM_MM = 5.0
ROOM_MM = 0.02
"""By how much the strip is higher than the two halves: contact counts as overlap to the peer."""
BRIDGE_MM = 0.1
LOOK_S = 0.05


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    return [g for g in getattr(shape, "geoms", [shape]) if isinstance(g, Polygon) and g.area > 1e-3]


def _side_by_side(problem: Problem) -> tuple[list[tuple[str, Polygon, float, float]], float, float]:
    """Return name, free area, and the shift of every sheet; then the length and height of the whole."""
    half = problem.gap_parts_mm / 2.0
    x, height = RIM_MM, 0.0
    free: list[tuple[str, Polygon, float, float]] = []
    for sheet in problem.sheets:
        cloth = Polygon(sheet.outline)
        room = cloth.buffer(half - problem.gap_edge_mm, join_style="mitre")
        for hole in sheet.holes:
            room = room.difference(Polygon(hole).buffer(problem.gap_hole_mm - half))
        x0, y0, x1, y1 = room.bounds
        free.append((sheet.id, room, x - x0, -0.5 * (y0 + y1)))
        x += x1 - x0 + APART_MM
        height = max(height, y1 - y0)
    return free, x - APART_MM + RIM_MM, height + 2.0 * RIM_MM


def _halves(rooms: BaseGeometry, length: float, height: float) -> list[Polygon]:
    """Return all that is not cloth as an upper and a lower half, each in one piece without holes."""
    found = []
    for y0, y1 in ((-0.5 * height, 0.0), (0.0, 0.5 * height)):
        band = box(0.0, y0, length, y1)
        pieces = sorted(_polygons(band.difference(rooms)), key=lambda p: -p.area)
        one: BaseGeometry = pieces[0]
        for loose in pieces[1:]:
            a, b = nearest_points(one, loose)
            bridge = LineString([a, b]).buffer(BRIDGE_MM / 2.0, cap_style="square").intersection(band)
            one = unary_union([one, loose, bridge])
        (half,) = _polygons(one)
        for ring in half.interiors:  # a slit opens what closed itself round cloth
            inside = Polygon(ring).representative_point()
            a, b = nearest_points(half.exterior, Point(inside))
            half = max(_polygons(half.difference(LineString([a, b]).buffer(1e-4))), key=lambda p: p.area)
        found.append(half)
    return found


def spyrrow_sheets(
    problem: Problem, seconds: float, seed: int, workers: int
) -> tuple[dict[str, Any], float | None] | None:
    """Return spyrrow's lay on sheets as ``nesting-answer-1``, and the seconds to the first with everything on.

    ``None`` where spyrrow is not installed. Zones are not understood.
    """
    try:
        import spyrrow
    except ImportError:
        return None
    free, length, height = _side_by_side(problem)
    rooms = unary_union([affinity.translate(room, dx, dy) for _, room, dx, dy in free])
    half = problem.gap_parts_mm / 2.0
    grown = {}
    items = []
    for part in problem.parts:
        # flat arcs lie inside the circle that they stand for: grow by so much more that they do not
        body = (
            Polygon(part.outline).buffer(half / math.cos(math.pi / 16.0), quad_segs=4)
            if half
            else Polygon(part.outline)
        )
        grown[part.id] = body
        turns = None if part.turns is None else [float(t) for t in part.turns]
        items.append(spyrrow.Item(part.id, list(body.exterior.coords)[:-1], part.count, turns))
    for k, one in enumerate(_halves(rooms, length, height)):
        items.append(spyrrow.Item(f"frame {k}", list(one.exterior.coords)[:-1], 1, [0.0]))
    instance = spyrrow.StripPackingInstance(problem.name, strip_height=height + ROOM_MM, items=items)
    config = spyrrow.StripPackingConfig(
        early_termination=False, total_computation_time=int(seconds), num_workers=workers, seed=seed
    )
    queue = spyrrow.ProgressQueue()
    done: list[Any] = []
    began = time.perf_counter()
    run = threading.Thread(target=lambda: done.append(instance.solve(config, queue)))
    run.start()
    first = None
    while run.is_alive():
        run.join(LOOK_S)
        for kind, found in queue.drain():
            complete = kind != spyrrow.ReportType.ExplInfeas and found.width <= length * 1.001
            if first is None and complete and not _placements(found, free, grown)[1]:
                first = time.perf_counter() - began
    placements, off = _placements(done[0], free, grown)
    raw = {
        "format": "nesting-answer-1",
        "case": problem.name,
        "placements": placements,
        "unplaced": [{"piece": name, "count": off.count(name)} for name in sorted(set(off))],
        "seed": seed,
        "seconds": seconds,
    }
    if problem.fill is not None:
        raw["fill"] = problem.fill
    return raw, first


def _placements(
    found: Any, free: list[tuple[str, Polygon, float, float]], grown: dict[str, Polygon]
) -> tuple[list[dict[str, Any]], list[str]]:
    """Return what lies in the cloth, moved back to it, and the names of what does not."""
    frames = [p for p in found.placed_items if p.id.startswith("frame ")]
    # the two halves may stand a hair apart, and off where they were drawn
    fx = float(np.mean([p.translation[0] for p in frames]))
    fy = float(np.mean([p.translation[1] for p in frames]))
    on, off = [], []
    for p in found.placed_items:
        if p.id.startswith("frame "):
            continue
        turned = affinity.rotate(grown[p.id], p.rotation, origin=(0.0, 0.0))
        for name, room, dx, dy in free:
            x, y = p.translation[0] - fx - dx, p.translation[1] - fy - dy
            laid = affinity.translate(turned, x, y)
            if room.buffer(2.0 * ROOM_MM).covers(laid):
                on.append({"piece": p.id, "cloth": name, "rotation_deg": p.rotation, "translation": [x, y]})
                break
        else:
            off.append(p.id)
    return on, off
