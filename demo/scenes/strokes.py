"""Lines drawn by hand: jitter, gaps, overshoots, pressure; notches, arrows, words, pin-pricks.

What is drawn is kept: the hand's line, not the designed one, is what a tracing has to find.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from demo.drafting import Array, Chain, flatten
from demo.garments import DraftPiece, notch_points
from demo.scenes.board import Board
from demo.scenes.letters import write
from demo.scenes.noise import grain, wobble

__all__ = ["Drawn", "Ink", "Pen", "draw_piece"]

STEP_MM = 1.0


@dataclass(frozen=True, slots=True)
class Pen:
    """What the outline is drawn with.

    ``jitter_mm`` is the standard deviation of the hand across the line, ``gaps`` how many breaks there are on
    an outline, ``overshoot_mm`` how far lines run past corners, ``pins`` whether the outline is pricked.
    """

    kind: Literal["ballpoint", "pencil", "felt", "pins"] = "ballpoint"
    width_mm: float = 0.6
    colour: tuple[int, int, int] = (28, 30, 46)
    strength: float = 0.9
    jitter_mm: float = 0.22
    gaps: int = 3
    overshoot_mm: float = 1.5

    @property
    def pins(self) -> bool:
        """Whether the outline is pricked with pins and not drawn."""
        return self.kind == "pins"


@dataclass(slots=True, eq=False)
class Drawn:
    """What ended up on the paper for one piece, in mm of the scene."""

    piece_id: str
    name: str
    outline: Array
    designed: Array
    corners: Array
    notches: list[tuple[Array, int]] = field(default_factory=list)
    grain: Array | None = None
    lines: list[Array] = field(default_factory=list)
    points: list[Array] = field(default_factory=list)
    pricks: list[Array] = field(default_factory=list)
    placed: tuple[float, float, float] = (0.0, 0.0, 0.0)


class Ink:
    """Ink on a board: strokes gather in a mask and dry in one go."""

    def __init__(self, rng: np.random.Generator, board: Board, pen: Pen) -> None:
        self.rng, self.board, self.pen = rng, board, pen
        self.mask = np.zeros(board.rgb.shape[:2], np.uint8)

    def stroke(
        self, points_mm: ArrayLike, width_mm: float | None = None, strength: float | None = None
    ) -> None:
        """Draw along points at most a few millimetres apart; pressure and width vary a little."""
        p = np.asarray(points_mm, dtype=float)
        if len(p) < 2:
            return
        d = np.r_[0, np.cumsum(np.hypot(*np.diff(p, axis=0).T))]
        if d[-1] < 0.05:
            p = np.vstack([p[0], p[0] + [0.3, 0.1]])
            d = np.array([0, 0.32])
        at = np.linspace(0, d[-1], max(2, int(d[-1] / STEP_MM) + 1))
        p = np.c_[np.interp(at, d, p[:, 0]), np.interp(at, d, p[:, 1])]
        n = len(p)
        wide = (width_mm or self.pen.width_mm) * (1 + wobble(self.rng, n, STEP_MM, 25, 0.07))
        dark = (
            255
            * (strength or self.pen.strength)
            * np.clip(1 + wobble(self.rng, n, STEP_MM, 30, 0.08), 0.4, 1.1)
        )
        px = self.board.to_px(p)
        k = self.board.px_per_mm
        reach = int(wide.max() * k) + 3
        lo = np.maximum(np.floor(px.min(axis=0)).astype(int) - reach, 0)
        hi = np.ceil(px.max(axis=0)).astype(int) + reach
        here = self.mask[lo[1] : hi[1], lo[0] : hi[0]]
        before = here.copy()  # ink never makes ink lighter
        for i in range(n - 1):
            a, b = px[i], px[i + 1]
            t = (b - a) / max(1e-9, np.hypot(*(b - a)))
            q = np.array([-t[1], t[0]])
            a, b = a - 0.4 * t, b + 0.4 * t
            h0, h1 = wide[i] * k / 2, wide[i + 1] * k / 2
            quad = np.array([a + q * h0, b + q * h1, b - q * h1, a - q * h0])
            cv2.fillConvexPoly(
                self.mask, np.round(quad * 16).astype(np.int32), int(min(255, dark[i])), cv2.LINE_AA, 4
            )
        np.maximum(here, before, out=here)

    def dot(self, at_mm: ArrayLike, radius_mm: float, strength: float | None = None) -> None:
        """Set a dot."""
        c = np.round(self.board.to_px(np.atleast_2d(at_mm))[0] * 16).astype(int)
        r = round(radius_mm * self.board.px_per_mm * 16)
        cv2.circle(self.mask, tuple(c), r, int(255 * (strength or self.pen.strength)), -1, cv2.LINE_AA, 4)

    def dry(self) -> None:
        """Put the ink on the board."""
        x, y, w, h = cv2.boundingRect(self.mask)
        if not w:
            return
        mask = self.mask[y : y + h, x : x + w].astype(np.float32) / 255
        if self.pen.kind == "pencil":
            tooth = cv2.GaussianBlur(grain(self.rng, mask.shape), (0, 0), 0.9)
            mask *= np.clip(0.86 + 0.75 * tooth, 0.25, 1.1)
        mask = cv2.GaussianBlur(mask, (0, 0), 0.45)
        part = self.board.rgb[y : y + h, x : x + w]
        colour = np.array(self.pen.colour, np.float32)
        for r in range(0, h, 256):
            m = np.clip(mask[r : r + 256, :, None], 0, 1)
            under = part[r : r + 256].astype(np.float32)
            over = under * colour / 255 * 0.5 + colour * 0.5
            part[r : r + 256] = np.clip(under * (1 - m) + over * m, 0, 255).astype(np.uint8)


def _hand(rng: np.random.Generator, path: Chain, jitter_mm: float) -> Array:
    """The path as a hand follows it: true at its ends, wandering between."""
    p = flatten(path, STEP_MM)
    d = np.r_[0, np.cumsum(np.hypot(*np.diff(p, axis=0).T))]
    at = np.linspace(0, d[-1], max(3, round(d[-1] / STEP_MM) + 1))
    p = np.c_[np.interp(at, d, p[:, 0]), np.interp(at, d, p[:, 1])]
    t = np.gradient(p, axis=0)
    t /= np.hypot(*t.T)[:, None]
    off = wobble(rng, len(p), STEP_MM, 45.0, jitter_mm) + wobble(rng, len(p), STEP_MM, 9.0, jitter_mm * 0.25)
    off *= np.clip(np.minimum(at, at[-1] - at) / 12.0, 0, 1)
    return p + off[:, None] * np.c_[-t[:, 1], t[:, 0]]


def draw_piece(
    rng: np.random.Generator,
    board: Board,
    pen: Pen,
    p: DraftPiece,
    at_mm: tuple[float, float],
    turn_deg: float = 0.0,
) -> Drawn:
    """Draw a piece with all its marks on the board and return what was drawn.

    ``at_mm`` is where the piece's own origin comes to lie.
    """
    a = np.radians(turn_deg)
    R = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])

    def put(q: ArrayLike) -> Array:
        return np.asarray(q, dtype=float) @ R.T + at_mm

    runs = [_hand(rng, tuple(put(s) for s in e.path), pen.jitter_mm) for e in p.edges]
    outline = np.vstack([r[:-1] for r in runs])
    drawn = Drawn(
        p.id,
        p.name,
        outline,
        np.vstack([flatten(tuple(put(s) for s in e.path), STEP_MM)[:-1] for e in p.edges]),
        put(p.corners),
        placed=(*at_mm, turn_deg),
    )
    ink = Ink(rng, board, pen)
    if pen.pins:
        _prick(rng, ink, runs, drawn)
        ink = Ink(rng, board, Pen("pencil", 0.5, (60, 60, 64), 0.7))
    else:
        _outline(rng, ink, runs, pen)
    _marks(rng, ink, p, put, R, drawn, turn_deg)
    ink.dry()
    return drawn


def _outline(rng: np.random.Generator, ink: Ink, runs: list[Array], pen: Pen) -> None:
    whole = sum(len(r) for r in runs)
    for run in runs:
        n = len(run)
        keep = np.ones(n, bool)
        for _ in range(int(rng.poisson(pen.gaps * n / whole))):
            width = int(rng.integers(2, 6))
            if n > 40:
                s = int(rng.integers(12, n - 12 - width))
                keep[s : s + width] = False
        extra = [float(v) for v in rng.uniform(0, pen.overshoot_mm, 2) * (rng.random(2) < 0.6)]
        t0, t1 = run[0] - run[1], run[-1] - run[-2]
        long = np.vstack(
            [run[0] + t0 / np.hypot(*t0) * extra[0], run, run[-1] + t1 / np.hypot(*t1) * extra[1]]
        )
        keep = np.r_[True, keep, True]
        for part in np.split(np.arange(len(long)), np.flatnonzero(np.diff(keep.astype(int))) + 1):
            if keep[part[0]]:
                ink.stroke(long[part])
                if (
                    pen.kind != "felt" and rng.random() < 0.25 and len(part) > 60
                ):  # the pen was set down twice
                    s = int(rng.integers(0, len(part) - 40))
                    again = long[part[s : s + 30]] + rng.normal(0, 0.05, 2)
                    ink.stroke(again, strength=pen.strength * 0.6)


def _prick(rng: np.random.Generator, ink: Ink, runs: list[Array], drawn: Drawn) -> None:
    """Pin-pricks 6 to 11 mm apart, a dark hole with a light rim; a ring of pencil around each corner's prick."""
    rim = np.zeros_like(ink.mask)
    for run in runs:
        at = [0.0]
        while at[-1] < len(run) - 1 - 6:
            at.append(at[-1] + float(rng.uniform(6, 11)))
        for i, s in enumerate(at):
            if s >= len(run) - 4 and i:
                continue
            j = min(int(s), len(run) - 2)
            q = run[j] + (s - j) * (run[j + 1] - run[j]) + rng.normal(0, 0.12, 2) * (i > 0)
            drawn.pricks.append(q)
            ink.dot(q, 0.42)
            k = ink.board.px_per_mm
            c = ink.board.to_px(q[None])[0]
            cv2.circle(
                rim,
                tuple(np.round((c + np.array([0.25, 0.25]) * k) * 16).astype(int)),
                round(0.75 * k * 16),
                255,
                -1,
                cv2.LINE_AA,
                4,
            )
            if i == 0:
                ring = q + 2.6 * np.c_[np.cos(np.linspace(0.3, 6.6, 30)), np.sin(np.linspace(0.3, 6.6, 30))]
                ink.stroke(ring, 0.4, 0.6)
    soft = cv2.GaussianBlur(rim, (0, 0), 0.3 * ink.board.px_per_mm)
    x, y, w, h = cv2.boundingRect(soft)
    part = ink.board.rgb[y : y + h, x : x + w]
    light = 1 + 0.12 * (soft[y : y + h, x : x + w, None].astype(np.float32) / 255)
    part[:] = np.clip(part * light, 0, 255).astype(np.uint8)
    ink.dry()


def _marks(
    rng: np.random.Generator, ink: Ink, p: DraftPiece, put: object, R: Array, drawn: Drawn, turn_deg: float
) -> None:
    place = put  # a function; typed loosely since it closes over the placing
    for at, inwards, strokes in notch_points(p):
        q, n = place(at[None])[0], R @ inwards  # type: ignore[operator]
        along = np.array([-n[1], n[0]])
        near = drawn.outline[np.argmin(np.hypot(*(drawn.outline - q).T))]
        for i in range(strokes):
            c = near + along * (i - (strokes - 1) / 2) * 3.0
            lean = rng.normal(0, 0.06)
            ink.stroke(
                np.array([c - n * rng.uniform(0.0, 1.2), c + (n + along * lean) * rng.uniform(5.5, 8.0)])
            )
        drawn.notches.append((near, strokes))
    g = place(p.grain)  # type: ignore[operator]
    g = g + rng.normal(0, 0.25, g.shape)
    d = (g[1] - g[0]) / np.hypot(*(g[1] - g[0]))
    ink.stroke(g)
    for end, s in ((g[0], 1.0), (g[1], -1.0)):
        for side in (28, -28):
            a = np.radians(side + rng.normal(0, 3))
            v = s * np.array([d[0] * np.cos(a) - d[1] * np.sin(a), d[0] * np.sin(a) + d[1] * np.cos(a)])
            ink.stroke(np.array([end, end + v * rng.uniform(7, 10)]))
    drawn.grain = g
    for line in p.lines:
        q = place(line)  # type: ignore[operator]
        v = q[1] - q[0]
        size = np.hypot(*v)
        if size > 60:  # a balance line is dashed
            for s in np.arange(3, size - 6, 11.0):
                ink.stroke(
                    q[0] + v / size * np.array([[s], [min(s + 6.5, size)]]), strength=ink.pen.strength * 0.85
                )
        else:
            ink.stroke(q)
        drawn.lines.append(q)
    for point in p.points:
        c = place(point)[0]  # type: ignore[operator]
        for v in (np.array([2.6, 2.6]), np.array([2.6, -2.6])):
            ink.stroke(np.array([c - v, c + v]))
        drawn.points.append(c)
    lo, hi = outline_box(p)
    size = float(np.clip(min((hi - lo).max() * 0.030, (hi - lo).min() * 0.2), 5.5, 15.0))
    beside = float(p.grain[0, 0]) + size + 5.0  # the word runs up beside the grain line
    where = place(np.array([[beside, lo[1] + (hi[1] - lo[1]) * 0.28]]))[0]  # type: ignore[operator]
    for stroke in write(rng, p.name, (float(where[0]), float(where[1])), size, turn_deg + 90):
        ink.stroke(stroke, strength=ink.pen.strength * 0.95)


def outline_box(p: DraftPiece) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the least and greatest coordinates of a piece's corners and curves."""
    q = np.vstack([flatten(e.path, 5.0) for e in p.edges])
    return q.min(axis=0), q.max(axis=0)
