"""One long paper (or cloth) on a floor, photographed in parts by the demo's own renderer, with the truth."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from demo.scenes.board import Board
from demo.scenes.camera import DIAGONAL_35MM, aim
from demo.scenes.cloths import paint_cloth
from demo.scenes.floors import paint_floor
from demo.scenes.papers import paint_paper, paper_outline
from demo.scenes.random_scenes import random_scene
from demo.scenes.references import Reference as Laid
from demo.scenes.references import lay_reference, sheet_geometry
from demo.scenes.render import expose
from demo.scenes.score import score_outline
from demo.scenes.shapes import box_turned, random_piece
from demo.scenes.strokes import Pen, draw_piece

from eke.capture.photo import Photo
from eke.capture.references import Reference
from eke.capture.sheet import own_sheet

PICTURE_PX = (1600, 1200)


@dataclass(frozen=True)
class Taken:
    """Photographs, what is said of each, and the lines as they were drawn (or the cloth's outline)."""

    photos: tuple[Photo, ...]
    said: tuple[tuple[Reference, ...], ...]
    drawn: tuple[np.ndarray, ...]

    def scores(self, trace):
        """Of each true outline (score, stated mm) of the found one that lies nearest to its shape."""
        found = [(p.found.outline_mm, p.uncertainty_mm) for p in (*trace.pieces, *trace.cloths)]
        return [
            min(((score_outline(o, true), stated) for o, stated in found), key=lambda s: s[0].p95_mm)
            for true in self.drawn
        ]


def long_piece(rng, length_mm):
    """(piece, turn): a random piece, drawn larger, that is ``length_mm`` long along x and less than 0.6 of that wide."""
    while True:
        piece = random_piece(rng)
        low, high = box_turned(piece, 0.0)
        turn = 90.0 if (high - low)[1] > (high - low)[0] else 0.0
        low, high = box_turned(piece, turn)
        if (high - low)[1] < 0.6 * (high - low)[0]:
            break
    grow = length_mm / float((high - low)[0])
    edges = tuple(
        replace(
            e,
            path=tuple(grow * s for s in e.path),
            notches_mm=tuple((grow * a, n) for a, n in e.notches_mm),
        )
        for e in piece.edges
    )
    return replace(piece, edges=edges, grain=None if piece.grain is None else grow * piece.grain), turn


def sheet(number, at_mm, turn_deg=0.0):
    return Laid("sheet", at_mm, turn_deg, sheet_geometry(own_sheet("a4", number)))


def together(
    seed, *, length_mm=820.0, views=2, overlap=0.3, kind="sheet", lay="each", cloth=False, picture_px=PICTURE_PX,
    paper="white", floor=None, tilts=(6.0, 12.0, 9.0, 14.0), rolls=(0.0, 4.0, -5.0, 2.0), pen=None, moved_mm=0.0,
    crosses=0,
):  # fmt: skip
    """Photographs of a long paper, from left to right.

    Parameters
    ----------
    overlap
        Share of each picture's stretch that the next one shows too; negative leaves a gap.
    kind
        "sheet", "a4" or "card".
    lay
        "each": another sheet lies beside each part; "same": one sheet, carried along; "middle": one sheet in the
        overlap, seen by both; the sheets of "each" are all on the floor in all pictures.
    moved_mm
        How far the paper (not the floor) is pushed after the first picture.
    """
    rng = np.random.default_rng([20261129, seed])
    base = random_scene(seed, "cloth" if cloth else "tracing", picture_px, easy=True).scene
    if cloth:
        target = base.cloth
        grow = length_mm / float(np.ptp(target.outline[:, 0]))
        outline = (target.outline - target.outline.min(axis=0)) * [
            grow,
            min(1.0, 520.0 / np.ptp(target.outline[:, 1])),
        ]
        width, high = length_mm, float(np.ptp(outline[:, 1]))
        target = replace(target, outline=outline, burns=(), stains=(), worn=(), hem_mm=0.0)
    else:
        piece, turn = long_piece(rng, length_mm - 70.0)
        low, up = box_turned(piece, turn)
        width, high = length_mm, float((up - low)[1]) + 70.0
        at = (35.0 - float(low[0]), 35.0 - float(low[1]))
    stretch = width / (views - (views - 1) * overlap)
    starts = [k * stretch * (1.0 - overlap) for k in range(views)]
    refs, shows = [], []
    for k, x in enumerate(starts):
        middle = x + stretch / 2.0
        if lay == "middle":
            middle = starts[0] + stretch * (1.0 - overlap / 2.0)
        number = 0 if lay != "each" else k
        ref = sheet(number, (0.0, 0.0)) if kind == "sheet" else Laid(kind, (0.0, 0.0), 0.0)
        size = ref.size_mm
        lean = float(rng.normal(0.0, 4.0))
        refs.append(replace(ref, at_mm=(middle - size[0] / 2.0, -size[1] - 40.0), turn_deg=lean))
        part = np.array([[x, 0.0], [x + stretch, 0.0], [x + stretch, high], [x, high]])
        part = np.clip(part, [-5.0, -5.0], [width + 5.0, high + 5.0])
        shows.append(np.vstack([part, refs[-1].corners_mm]))
    lens = base.lens
    cameras = [
        aim(lens, s, tilt_deg=tilts[k], azimuth_deg=70.0 + 80.0 * k, roll_deg=rolls[k], margin=0.03)
        for k, s in enumerate(shows)
    ]
    if lay != "each":
        refs = refs[:1] if lay == "middle" else refs
    k_px = 1.8 * lens.f_px / max(float(c.centre_mm[2]) for c in cameras)
    k_px = float(np.clip(k_px, 3.0, 5.0))
    edge = np.array(
        [[x, y] for x in np.linspace(0, lens.width_px - 1, 9) for y in np.linspace(0, lens.height_px - 1, 9)]
    )
    seen = np.concatenate([c.seen(edge) for c in cameras])
    lo, hi = seen.min(axis=0) - 8.0, seen.max(axis=0) + 8.0
    coarse = 2.0
    far = Board(
        paint_floor(rng, floor or base.floor, (float(hi[0] - lo[0]), float(hi[1] - lo[1])), coarse), coarse,
        (float(lo[0]), float(hi[1])),
    )  # fmt: skip

    def near():
        inner_lo = np.maximum(np.array([-60.0, -60.0]), lo)
        inner_hi = np.minimum(np.array([width + 60.0 + moved_mm, high + 60.0]), hi)
        across, down = (int(np.ceil(v * k_px)) for v in inner_hi - inner_lo)
        board = Board(
            np.empty((0, 0, 3), np.uint8), k_px, (float(inner_lo[0]), float(inner_hi[1])),
            alpha=np.full((down, across), 255, np.uint8),
        )  # fmt: skip
        x, y = far.to_px(np.array([board.corner_mm]))[0]
        board.rgb = cv2.warpAffine(
            far.rgb, np.array([[coarse / k_px, 0, x], [0, coarse / k_px, y]]), (across, down),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        return board

    def painted(shift):
        own = np.random.default_rng([20261130, seed])
        board = near()
        if cloth:
            paint_cloth(own, board, target)
            return board, target.outline
        paint_paper(
            own, board, paper, np.add(paper_outline(own, (width, high), True), [shift, 0.0]), True, ()
        )
        line = draw_piece(own, board, pen or Pen("ballpoint", 0.7), piece, (at[0] + shift, at[1]), turn)
        return board, line.outline

    board, drawn = painted(0.0)
    boards = [board] * views
    if moved_mm:
        boards = [board] + [painted(moved_mm)[0]] * (views - 1)
    photos = []
    for k, camera in enumerate(cameras):
        mine = refs if lay in ("each", "middle") else refs[k : k + 1]
        laid = [
            b for n, r in enumerate(mine) for b in lay_reference(np.random.default_rng([7, seed, n]), r, 8.0)
        ]
        pixels = expose(
            np.random.default_rng([8, seed, k]), [far, boards[k], *laid], camera, base.light, base.sensor
        )
        focal = round(base.focal_35mm) * float(np.hypot(*picture_px)) / DIAGONAL_35MM
        photos.append(Photo(np.ascontiguousarray(pixels), focal_px_prior=focal, name=f"picture {k + 1}"))
    said = Reference("sheet", check_line_mm=240.0) if kind == "sheet" else Reference(kind)
    return Taken(tuple(photos), ((said,),) * views, (drawn,))
