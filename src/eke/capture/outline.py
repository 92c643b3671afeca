"""Pieces drawn on paper: from the rectified picture to closed outlines with corners, edges and marks."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.fitting import flatten_segments
from eke.capture.found import FoundMark, FoundPiece, FoundSegment
from eke.capture.lines import View, line_maps, paper_mask, stroke_image, view_of
from eke.capture.lines_graph import StrokeGraph
from eke.capture.marks import marks_of_pieces
from eke.capture.outline_dots import dotted_outlines
from eke.capture.outline_edges import FLATTENED_MM, TracedOutline
from eke.capture.outline_looks import (
    LEAST_AREA_MM2,
    NEAR_LOOP_PX,
    area_mm2,
    beyond_doubt,
    drawn_loops,
    holds,
    mark_graph,
    same_line,
)
from eke.capture.outline_loops import Loop
from eke.capture.outline_paper import beside_paper, drawn_beside, likely_papers, on_the_floor, part_of
from eke.capture.pins import find_dots
from eke.capture.rectify import Rectified
from eke.capture.simple_rings import simple_chain
from eke.errors import NotTrustworthy, Stopped

__all__ = ["Touch", "find_pieces"]

Points = NDArray[np.float64]
Touch = tuple[float, float, Literal["+", "-"]]
Listener = Callable[[str, float], None]
Stop = Callable[[], bool]

MOST_PAPERS = 2
COARSE_MM_PER_PX = 0.4  # a pencil line or the prick of a pin is half a millimetre wide
RUN_OFF_MM, RUN_OFF_LONG_MM = 4.0, 30.0  # lines so long that end so near the paper's edge ...
MOST_RUN_OFF = 1  # ... are not drawn over it by chance
WELL_SEEN = 0.8  # share of the outline at which its line was seen: below, the maker is told
SAME_NOTCH_MM = 3.0  # strokes of a broad notch that were followed hook aside by so much
TOP_WAY = np.array([-0.2, 1.0])  # up, and a little to the left
FAINT_PRICKS = (
    "The pricks or dots are faint in this picture, and some may not have been seen. Check the outline, above all at its "
    "corners; or go nearer, in light from the side, and take the picture again."
)
SPARE_DOTS = 7  # beside a dotted piece: fewer are its notches
CROSSING_TOLD_MM = 1.0  # a larger loop may hold something that was meant


def find_pieces(
    rectified: Rectified,
    *,
    touches: Sequence[Touch] = (),
    listener: Listener | None = None,
    stop: Stop | None = None,
) -> tuple[FoundPiece, ...]:
    """Find the outlines of pieces that were drawn or pricked on paper.

    Parameters
    ----------
    rectified
        The picture at true scale.
    touches
        ``(x_mm, y_mm, '+' | '-')`` in the plane: a piece that holds a ``-`` is left out; when there is any
        ``+``, only pieces that hold one are kept.
    listener
        Called with what is being done and the share done, 0 to 1.
    stop
        Looked at between the steps; True ends the work.

    Returns
    -------
    tuple of FoundPiece
        The largest first.

    Raises
    ------
    NotTrustworthy
        No closed outline was found.
    Stopped
        ``stop`` said so.
    """
    listener = None if listener is None else _never_back(listener)
    on_paper, enough = _on_likely_paper(rectified, touches, listener, stop)
    if enough:
        pieces, run_off = on_paper, False
    else:
        paper = rectified.paper_polygon_mm
        there = rectified if paper is None else part_of(rectified, paper)
        pieces, run_off = _pieces_on(there, touches, listener, stop)
        pieces = pieces or on_paper
    if run_off and rectified.paper_polygon_mm is not None:
        # lines end where the paper was thought to: a column of print or a fold may have been taken for its edge
        beyond, _ = _pieces_on(replace(rectified, paper_polygon_mm=None), touches, listener, stop)
        pieces = max(pieces, beyond, key=_holds_mm2)
    if not pieces and rectified.paper_polygon_mm is None:
        # a floor of marble or carpet is darker and busier than the drawing: look on what may be the paper alone
        for paper in likely_papers(rectified)[:MOST_PAPERS]:
            pieces, _ = _pieces_on(part_of(rectified, paper), touches, listener, stop)
            if pieces:
                break
    if not pieces:
        coarse = (
            f"A pixel of this picture is {rectified.mm_per_px:.1f} mm wide, too coarse for a thin line or pin-pricks: go "
            "nearer, or join two photographs. "
            if rectified.mm_per_px > COARSE_MM_PER_PX
            else ""
        )
        raise NotTrustworthy(
            f"No closed outline was found on the paper. {coarse}Draw the outline as one closed line, a little darker, "
            "keep the whole paper in the picture, and take it again in even light.",
            reason="nothing found",
        )
    if listener is not None:
        listener("done", 1.0)
    return tuple(sorted(pieces, key=lambda p: -area_mm2(p.outline_mm)))


def _never_back(listener: Listener) -> Listener:
    """The listener told of shares that never become less, though a picture may be looked at twice."""
    most = 0.0

    def told(what: str, share: float) -> None:
        nonlocal most
        most = max(most, share)
        listener(what, most)

    return told


def _on_likely_paper(
    rectified: Rectified, touches: Sequence[Touch], listener: Listener | None, stop: Stop | None
) -> tuple[list[FoundPiece], bool]:
    """Pieces on what looks like the paper, where nobody has said that it is; and whether there are no others.

    Most of such a picture is floor, which is looked at closely only where something else may be drawn.
    """
    likely = rectified.likely_paper_mm
    if likely is None or rectified.paper_polygon_mm is not None:
        return [], False
    wanted = [(float(t[0]), float(t[1])) for t in touches if t[2] == "+"]
    with ThreadPoolExecutor(1) as crew:  # while edges are fitted, which leaves a processor free
        beside = None if wanted else crew.submit(drawn_beside, rectified, likely)
        pieces, run_off = _pieces_on(part_of(rectified, likely), touches, listener, stop)
        if run_off or not pieces:
            return pieces, False
        if beside is None:
            return pieces, all(any(holds(p.outline_mm, at) for p in pieces) for at in wanted)
        return pieces, not beside.result()


def _pieces_on(
    rectified: Rectified, touches: Sequence[Touch], listener: Listener | None, stop: Stop | None
) -> tuple[list[FoundPiece], bool]:
    """Pieces on the paper of a rectified picture, or anywhere in it where its paper is not known; and whether lines that
    are part of none end at the paper's edge."""

    def step(what: str, share: float) -> None:
        if stop is not None and stop():
            raise Stopped("Stopped before the outlines were found. Nothing was changed.")
        if listener is not None:
            listener(what, share)

    step("looking for lines", 0.05)
    view = view_of(rectified)
    mask = paper_mask(
        view, None if rectified.paper_polygon_mm is None else view.to_px(rectified.paper_polygon_mm)
    )
    stroke = stroke_image(view)
    maps, spots = line_maps(stroke, view.mm_per_px, mask)
    step("looking for dots", 0.35)
    dots = find_dots(view, stroke, spots)
    step("following lines", 0.45)
    wanted = [(float(t[0]), float(t[1])) for t in touches if t[2] == "+"]
    best, looks = drawn_loops(view, maps, wanted)
    graph, loops = looks[0]
    step("fitting edges", 0.6)
    width_mm = max(2.0 * best.sigma_mm, 0.5)
    dotted, used = dotted_outlines(view, dots, LEAST_AREA_MM2, width_mm)
    traced = list(dotted)
    doubts_mm = [0.0] * len(traced)
    for k, loop in enumerate(loops):
        step("fitting edges", 0.6 + 0.3 * k / max(1, len(loops)))
        if same_line(view.to_mm(loop.points_px), dotted):
            continue
        each, doubt_mm = beyond_doubt(view, loop, best)
        if (
            each is not None
            and not same_line(each.outline_mm, dotted)
            and not on_the_floor(rectified, each.outline_mm, each.stepped_share)
        ):
            traced.append(each)
            doubts_mm.append(doubt_mm)
    pricked: list[TracedOutline] = []
    missed = any(not any(holds(each.outline_mm, at) for each in traced) for at in wanted)
    more_lie_about = missed or int(np.sum(~used)) >= SPARE_DOTS
    if more_lie_about if dotted else not loops:
        # pricks far from the camera are fainter than specks of paper may be: now a closed line of them tells
        faint = find_dots(view, stroke, spots, faint=True)
        again = dotted_outlines(view, faint, LEAST_AREA_MM2, width_mm, some_unseen=True, taken=traced)[0]
        pricked = [
            each
            for each in again
            if not same_line(each.outline_mm, traced)
            # specks of a floor lie in rows, too
            and (
                not beside_paper(rectified, each.outline_mm)
                or any(holds(each.outline_mm, at) for at in wanted)
            )
        ]
    fainter = [
        (strokes, each, doubt_mm)
        for strokes, more in looks[1:]
        for loop in more
        for each, doubt_mm in [beyond_doubt(view, loop, best)]
        if each is not None
        and not same_line(each.outline_mm, traced + pricked)
        and not on_the_floor(rectified, each.outline_mm, each.stepped_share)
        and (each.seen_share >= WELL_SEEN or any(holds(each.outline_mm, at) for at in wanted))
    ]
    step("reading marks", 0.9)
    if (dotted or pricked) and not loops:
        graph = mark_graph(view, maps)
    pieces = _with_marks(view, graph, traced, doubts_mm)
    for strokes, each, doubt_mm in fainter:
        pieces += _with_marks(view, strokes, [each], [doubt_mm])
    for piece in _with_marks(view, graph, pricked, [0.0] * len(pricked)):
        pieces.append(replace(piece, warnings=(*piece.warnings, FAINT_PRICKS)))
    return _touched(pieces, touches), _run_off(view, graph, loops)


def _run_off(view: View, graph: StrokeGraph, loops: list[Loop]) -> bool:
    """Do long lines that belong to no outline end at the edge of what was taken for the paper?"""
    paper = view.rectified.paper_polygon_mm
    if paper is None:
        return False
    rings = [loop.points_px.astype(np.float32) for loop in loops]
    edge = view.to_px(paper).astype(np.float32)
    count = 0
    for node in graph.ends():
        stroke = graph.strokes[graph.at_node[node][0]]
        if stroke.length_px * view.mm_per_px < RUN_OFF_LONG_MM:
            continue
        at = tuple(float(v) for v in graph.nodes_px[node])
        near = abs(cv2.pointPolygonTest(edge, at, True)) * view.mm_per_px < RUN_OFF_MM
        count += near and not any(cv2.pointPolygonTest(r, at, True) > -NEAR_LOOP_PX for r in rings)
    return count > MOST_RUN_OFF


def _with_marks(
    view: View, graph: StrokeGraph, traced: list[TracedOutline], doubts_mm: list[float]
) -> list[FoundPiece]:
    if not traced:
        return []
    chains = [view.to_mm(s.points_px) for s in graph.strokes]
    width = float(np.median([t.width_mm for t in traced]))
    marks = marks_of_pieces(
        graph, chains, [t.outline_mm for t in traced], [t.corners_mm for t in traced], width
    )
    return [_piece(t, _with_broad(m, t), d) for t, m, d in zip(traced, marks, doubts_mm, strict=True)]


def _with_broad(marks: list[FoundMark], traced: TracedOutline) -> list[FoundMark]:
    """Marks of a piece with the notches that were seen beside its line, in place of what was followed of them."""

    def seen(mark: FoundMark) -> bool:
        return mark.kind == "notch" and any(
            math.dist(mark.points_mm[0], n.at_mm) < n.half_mm + SAME_NOTCH_MM for n in traced.notches
        )

    return [m for m in marks if not seen(m)] + [m for n in traced.notches for m in n.marks]


def _piece(traced: TracedOutline, marks: list[FoundMark], doubt_mm: float) -> FoundPiece:
    controls, moved_mm = simple_chain(traced.controls, FLATTENED_MM)
    controls, corners = _from_the_top(controls, traced.corners_mm)
    return FoundPiece(
        outline_mm=flatten_segments(controls, FLATTENED_MM),
        segments=_segments(controls),
        corners_mm=corners,
        marks=tuple(marks),
        drawn_sigma_mm=math.hypot(traced.sigma_mm, moved_mm, 0.5 * doubt_mm),
        warnings=_warnings(traced, moved_mm, doubt_mm),
    )


def _from_the_top(controls: tuple[Points, ...], corners: Points) -> tuple[tuple[Points, ...], Points]:
    """The chain and its corners, from the corner that lies highest as the picture is held, the left one of two at about one
    height: so that edges keep their numbers however the line was followed."""
    if not len(corners):
        return controls, corners
    first = int(np.argmax(corners @ TOP_WAY))
    starts = np.array([c[0] for c in controls])
    begin = int(np.argmin(np.hypot(*(starts - corners[first]).T)))
    return (*controls[begin:], *controls[:begin]), np.roll(corners, -first, axis=0)


def _warnings(traced: TracedOutline, moved_mm: float, doubt_mm: float) -> tuple[str, ...]:
    out = []
    if traced.seen_share < WELL_SEEN:
        out.append(
            f"{(1 - traced.seen_share) * 100:.0f} % of this outline was not seen clearly and was bridged. Check it "
            "against the drawing, or draw the line again a little darker."
        )
    if moved_mm > CROSSING_TOLD_MM:
        out.append(
            f"This outline ran over itself; a loop of {moved_mm:.1f} mm was cut off. Check it against the drawing."
        )
    if doubt_mm > 0.0:
        out.append(
            f"{doubt_mm:.0f} mm of this outline are a dashed line, the rest is not: it may be a line inside the piece "
            "whose own edge is too pale to be seen. Check it against the drawing, or draw the edge again a little "
            "darker."
        )
    return tuple(out)


def _segments(controls: Sequence[Points]) -> tuple[FoundSegment, ...]:
    return tuple(("line" if len(c) == 2 else "cubic", c) for c in controls)


def _touched(pieces: list[FoundPiece], touches: Sequence[Touch]) -> list[FoundPiece]:
    def touched(piece: FoundPiece, touch: Touch) -> bool:
        return holds(piece.outline_mm, (float(touch[0]), float(touch[1])))

    out = [p for p in pieces if not any(t[2] == "-" and touched(p, t) for t in touches)]
    wanted = [t for t in touches if t[2] == "+"]
    if wanted:
        out = [p for p in out if any(touched(p, t) for t in wanted)]
    return out


def _holds_mm2(pieces: list[FoundPiece]) -> float:
    return sum(area_mm2(p.outline_mm) for p in pieces)
