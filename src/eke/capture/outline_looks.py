"""Looks at a drawing: strokes above a level of darkness, followed and bridged, and the closed lines that they make.

How dark the ink is, is not known before an outline is found; so a drawing is looked at once, and again where that left much
line over. A stretch that may not be the outline's own is looked at more closely.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.connected import connected
from eke.capture.lines import LineMap, View, with_short_runs
from eke.capture.lines_bridge import bridge_gaps
from eke.capture.lines_graph import StrokeGraph, stroke_graph, thin, without_crumbs
from eke.capture.outline_doubts import dashed_runs, goes_on_beyond
from eke.capture.outline_edges import TracedOutline, fit_line, see_line
from eke.capture.outline_loops import Loop, find_loops

__all__ = [
    "LEAST_AREA_MM2",
    "LEAST_SEEN",
    "MOST_STEPPED",
    "NEAR_LOOP_PX",
    "area_mm2",
    "beyond_doubt",
    "clear_loops",
    "drawn_loops",
    "holds",
    "mark_graph",
    "same_line",
]

Points = NDArray[np.float64]

LEAST_AREA_MM2 = 900.0  # smaller closed lines are letters, buttonholes and crosses
LEAST_WIDTH_MM = 14.0
LEVELS = (0.5, 0.32)  # shares of the ink's strength at which lines are looked for, in turn
DEEPER = (0.32, 0.2, 0.12)  # ... and once more, where a stretch of a loop is in doubt
AS_DARK = 0.9  # of the darkest ink: at another width of the pen lines may answer as well, and close
TOO_NEAR = (
    0.6  # lines were looked for above this share of what was then found: fainter ones may have been missed
)
SAME_INK = 0.5  # a loop fainter than this share of the strongest one was not drawn by the same pen
MUCH_LEFT_MM = 120.0  # more line than this outside the outlines found may be an outline with a pale stretch
# ... and once more, along lines that fade to this share of it: the far side of a paper is blurred
FADED = 0.5
FADED_INK = 0.35  # ... where a loop may be as faint as this
NEAR_LOOP_PX = 6.0
MOST_STEPPED = (
    0.16  # on both sides of a drawn line is the same paper; boards and the paper's edge differ on theirs
)
MOST_STROKE_PIXELS = 400_000  # more than this is a texture, not a drawing
TEXTURE_STROKES = 3000  # more strokes than this are one, too: at another width of the pen it is no clearer
MOST_CLEAR = 600  # strokes that touch no others: several pieces with their marks, and the joints of a floor
CRUMB_MM = 1.2  # what hangs together over less is no stroke
LEAST_SEEN = 0.6  # share of the outline at which its line must be seen


def drawn_loops(
    view: View, maps: list[LineMap], wanted_mm: list[tuple[float, float]]
) -> tuple[LineMap, list[tuple[StrokeGraph, list[Loop]]]]:
    """The map that shows the drawing, and the closed lines of each look at it, with the strokes that look saw; a later look adds
    what it alone finds.

    How dark the ink is, is read off all lines of the picture, those of the floor too. Once an outline is found its
    own ink is known. If the first look asked for nearly that much, left much line outside the outlines, or a touch lies
    in none, the drawing is looked at once more for lines fainter than that.
    """
    best, graph, level, first = _first_look(view, maps)
    if not first:
        return best, [(graph, first)]
    strongest = max(loop.strength for loop in first)
    first = [loop for loop in first if loop.strength > SAME_INK * strongest]
    looks = [(graph, first)]
    known = list(first)

    def touched() -> bool:
        return any(not any(holds(view.to_mm(loop.points_px), at) for loop in known) for at in wanted_mm)

    def missed() -> bool:
        left_px = _left_over(looks[-1][0], known, best.strength.shape)
        return touched() or left_px * view.mm_per_px > MUCH_LEFT_MM

    fainter = LEVELS[-1] * strongest
    near = level * best.ink > TOO_NEAR * strongest
    for faintest, same in ((fainter, SAME_INK), (FADED * fainter, FADED_INK)):
        if not (missed() or near) or faintest >= level * best.ink:
            continue
        if faintest < fainter and view.rectified.paper_polygon_mm is None and not touched():
            break  # faded lines are followed on paper only: joints of a floor hang together, too
        again, loops = _loops_above(view, best, fainter, faintest)
        more = [loop for loop in loops if loop.strength > same * strongest and not _overlaps(loop, known)]
        looks.append((again, more))
        known += more
        near = False
    return best, looks


def _first_look(view: View, maps: list[LineMap]) -> tuple[LineMap, StrokeGraph, float, list[Loop]]:
    """The map, of several that answer about as well, and the level as a share of its ink at which lines close; the strokes and
    the closed lines seen there."""
    best, graph, level = maps[0], StrokeGraph([], []), 0.0
    full: LineMap | None = None
    if best.ink <= 0:
        return best, graph, level, []
    for lines, level in product([m for m in maps if m.ink > AS_DARK * best.ink], LEVELS):
        if full is lines or (lines is not best and len(graph.strokes) > TEXTURE_STROKES):
            continue
        reached = _reached(lines.strength, level * lines.ink)
        full = lines if reached > level * lines.ink else None  # a lower level would show the same
        graph, loops = _loops_above(view, lines, reached)
        if loops:
            return lines, graph, level, loops
    return best, graph, level, []


def _left_over(graph: StrokeGraph, loops: list[Loop], shape: tuple[int, int]) -> float:
    """Length in px of strokes that lie in no loop of a picture (height, width): a piece whose outline was not found closed, or
    the floor's lines."""
    held = np.zeros(shape, np.uint8)
    for loop in loops:
        ring = [np.round(loop.points_px).astype(np.int32)]
        cv2.fillPoly(held, ring, (1,))
        cv2.polylines(held, ring, True, (1,), round(2.0 * NEAR_LOOP_PX))
    drawn = [stroke for stroke in graph.strokes if stroke.drawn]
    middles = np.array([stroke.points_px[len(stroke.points_px) // 2] for stroke in drawn]).reshape(-1, 2)
    column, row = np.round(middles).astype(int).T
    lengths = np.array([stroke.length_px for stroke in drawn])
    return float(lengths[held[row, column] == 0].sum())


def _loops_above(
    view: View, lines: LineMap, level: float, faintest: float | None = None
) -> tuple[StrokeGraph, list[Loop]]:
    """Strokes above a level, as far as they can be followed above the ``faintest``; and what they close round."""
    on = _strong(lines.strength, level if faintest is None else faintest)
    if faintest is not None and faintest < level:
        on = _hanging_on(on, lines.strength > level)
    graph = _strokes(view, lines, on)
    return graph, _outermost(find_loops(graph, view.mm_per_px, LEAST_AREA_MM2, LEAST_WIDTH_MM))


def _strokes(view: View, lines: LineMap, on: NDArray[np.uint8]) -> StrokeGraph:
    """Strokes along the middle of what is set, with bridges over gaps."""
    graph = stroke_graph(_skeleton(view, on), lines.strength)
    bridge_gaps(graph, view.mm_per_px)
    return graph


def _skeleton(view: View, on: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return without_crumbs(thin(on), CRUMB_MM / view.mm_per_px)


def _strong(strength: NDArray[np.float32], level: float) -> NDArray[np.uint8]:
    """Places above the level; of a texture only the strongest part."""
    return np.asarray(strength > _reached(strength, level)).view(np.uint8)


def _reached(strength: NDArray[np.float32], level: float) -> float:
    """The level, or the next one above which there are few enough places for a drawing."""
    while np.count_nonzero(strength > level) > MOST_STROKE_PIXELS:
        level *= 1.25
    return level


def clear_loops(view: View, lines: LineMap) -> list[Loop]:
    """Closed lines, one within another too, of what may be a texture for the most part: only lines so clear that there are few
    enough of them for a drawing."""
    if lines.ink <= 0:
        return []
    level = _reached(lines.strength, LEVELS[-1] * lines.ink)
    while connected(_skeleton(view, _strong(lines.strength, level)))[2] > MOST_CLEAR:
        level *= 1.25
    graph = _strokes(view, lines, _strong(lines.strength, level))
    return find_loops(graph, view.mm_per_px, LEAST_AREA_MM2, LEAST_WIDTH_MM)


def _hanging_on(on: NDArray[np.uint8], strong: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Of all set places, those that hang together with a strong one (Canny's hysteresis, 1986)."""
    places, group, count = connected(on)
    kept = np.zeros(count, dtype=np.bool_)
    kept[group[strong.ravel()[places]]] = True
    out = np.zeros(on.shape, np.uint8)
    out.ravel()[places[kept[group]]] = 1
    return out


def _outermost(loops: list[Loop]) -> list[Loop]:
    """Leave out loops that lie inside a larger one."""
    kept: list[Loop] = []
    for loop in sorted(loops, key=lambda each: -each.area_px):
        x, y = loop.points_px[0]
        inside = any(
            cv2.pointPolygonTest(k.points_px.astype(np.float32), (float(x), float(y)), False) >= 0
            for k in kept
        )
        if not inside:
            kept.append(loop)
    return kept


def _overlaps(loop: Loop, others: list[Loop]) -> bool:
    """Does this loop hold another, or lie in one?"""
    return any(
        cv2.pointPolygonTest(a.astype(np.float32), (float(x), float(y)), False) >= 0
        for other in others
        for a, b in ((loop.points_px, other.points_px), (other.points_px, loop.points_px))
        for x, y in b[:: max(1, len(b) // 16)]
    )


def beyond_doubt(view: View, loop: Loop, best: LineMap) -> tuple[TracedOutline | None, float]:
    """Trace a loop; where a dashed line closes it, the paler line beyond that, if there is one.

    Also how many mm of what was traced are in doubt.
    """
    runs = dashed_runs(loop, best.strength, best.ink, view.mm_per_px)
    if not runs:
        return _traced(view, loop, best), 0.0
    for level in DEEPER:
        graph = _strokes(view, best, _strong(best.strength, level * best.ink))
        for other in find_loops(graph, view.mm_per_px, LEAST_AREA_MM2, LEAST_WIDTH_MM):
            if not goes_on_beyond(loop, runs, other, view.mm_per_px):
                continue
            if dashed_runs(other, best.strength, best.ink, view.mm_per_px):
                continue
            traced = _traced(view, other, best)
            if traced is not None:
                return traced, 0.0
    return _traced(view, loop, best), sum(run.length_mm for run in runs)


def _traced(view: View, loop: Loop, lines: LineMap) -> TracedOutline | None:
    """A closed line with its edges; None where little of it is seen, or where it is the edge of something."""
    ring = view.to_mm(loop.points_px)
    seen = see_line(view.rectified, ring, loop.bridged, max(2.0 * lines.sigma_mm, 0.5))
    drawn = seen.share >= LEAST_SEEN and seen.stepped_share <= MOST_STEPPED
    return fit_line(view.rectified, seen) if drawn else None


def mark_graph(view: View, maps: list[LineMap]) -> StrokeGraph:
    """Strokes of the few marks beside dots."""
    best = with_short_runs(maps, view.mm_per_px)[0]
    if best.ink <= 0:
        return StrokeGraph([], [])
    return _strokes(view, best, _strong(best.strength, LEVELS[0] * best.ink))


def holds(outline_mm: Points, at_mm: tuple[float, float]) -> bool:
    """Does a place lie inside an outline (n, 2)?"""
    return bool(cv2.pointPolygonTest(outline_mm.astype(np.float32), at_mm, False) >= 0)


def area_mm2(outline_mm: Points) -> float:
    """What a closed outline (n, 2) holds."""
    x, y = outline_mm.T
    return 0.5 * abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))


def same_line(outline_mm: Points, others: Sequence[TracedOutline]) -> bool:
    """Is this closed line (n, 2), more or less, one of those that were already taken?"""
    for other in others:
        x, y = other.outline_mm.mean(axis=0)
        ratio = area_mm2(outline_mm) / max(area_mm2(other.outline_mm), 1e-9)
        hold = cv2.pointPolygonTest(outline_mm.astype(np.float32), (float(x), float(y)), True)
        if 0.8 < ratio < 1.25 and hold > -20.0:
            return True
    return False
