"""Drawings of known outlines for tests: strokes put on paper by OpenCV at four times the size, then shrunk.

Plane coordinates are mm, x right, y up; the paper's lower left corner is (0, 0).
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import cv2
import numpy as np

from eke.capture.rectify import Rectified

OVER = 4


def cubic(p0, p1, p2, p3, step=0.5):
    p = np.array([p0, p1, p2, p3], dtype=float)
    n = max(8, int(np.hypot(*np.diff(p, axis=0).T).sum() / step))
    t = np.linspace(0, 1, n, endpoint=False)[:, None]
    return (1 - t) ** 3 * p[0] + 3 * (1 - t) ** 2 * t * p[1] + 3 * (1 - t) * t**2 * p[2] + t**3 * p[3]


def line(p0, p1, step=0.5):
    p0, p1 = np.array(p0, float), np.array(p1, float)
    n = max(2, int(np.hypot(*(p1 - p0)) / step))
    return p0 + np.linspace(0, 1, n, endpoint=False)[:, None] * (p1 - p0)


def bodice(dx=0.0, dy=0.0):
    """A front with a straight centre, an armhole curve and a slightly curved side: points, corners, pieces."""
    a, b, c, d = (40, 40), (210, 46), (200, 220), (140, 300)
    e, f = (100, 312), (40, 270)
    parts = [
        line(a, b),
        cubic(b, (206, 110), (196, 170), c),
        cubic(c, (160, 226), (142, 260), d),
        line(d, e),
        cubic(e, (92, 284), (70, 270), f),
        line(f, a),
    ]
    shift = np.array([dx, dy])
    corners = np.array([a, b, c, d, e, f], float) + shift
    return np.concatenate(parts) + shift, corners, len(parts)


def wavered(points, rng, size_mm=0.08, along_mm=20.0):
    """The same outline as a hand would draw it: slow wavering across the line."""
    closed = np.vstack([points, points[:1]])
    step = float(np.median(np.hypot(*np.diff(closed, axis=0).T)))
    n = len(points)
    noise = rng.normal(size=n)
    k = int(3 * along_mm / step)
    kernel = np.exp(-0.5 * (np.arange(-k, k + 1) * step / (along_mm / 2)) ** 2)
    smooth = np.convolve(np.tile(noise, 3), kernel, mode="same")[n : 2 * n]
    smooth *= size_mm / smooth.std()
    d = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    normal = np.column_stack([-d[:, 1], d[:, 0]]) / np.hypot(*d.T)[:, None]
    return points + normal * smooth[:, None]


@dataclass
class Paper:
    """A sheet on a floor, to be drawn on."""

    width_mm: float = 260.0
    height_mm: float = 360.0
    mm_per_px: float = 0.25
    paper: tuple[int, int, int] = (225, 222, 214)
    floor: tuple[int, int, int] = (140, 105, 80)
    margin_mm: float = 20.0
    image: np.ndarray = field(init=False)

    def __post_init__(self):
        s = OVER / self.mm_per_px
        w = int((self.width_mm + 2 * self.margin_mm) * s)
        h = int((self.height_mm + 2 * self.margin_mm) * s)
        self.image = np.empty((h, w, 3), np.uint8)
        self.image[:] = self.floor
        m = int(self.margin_mm * s)
        self.image[m : h - m, m : w - m] = self.paper

    def _px(self, points):
        p = np.asarray(points, float).reshape(-1, 2)
        s = OVER / self.mm_per_px
        x = (p[:, 0] + self.margin_mm) * s
        y = (self.height_mm + self.margin_mm - p[:, 1]) * s
        return np.round(np.column_stack([x, y]) * 16).astype(np.int32)

    def stroke(self, points, width_mm=0.7, ink=(40, 38, 40), closed=False):
        thick = max(1, round(width_mm * OVER / self.mm_per_px))
        cv2.polylines(self.image, [self._px(points)], closed, ink, thick, cv2.LINE_AA, 4)

    def outline(self, points, gaps=(), width_mm=0.7, ink=(40, 38, 40)):
        """A closed outline with gaps, each (start mm along it, length mm)."""
        closed = np.vstack([points, points[:1]])
        at = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
        cut = sorted([(0.0, 0.0), *gaps, (at[-1], 0.0)])
        for (s0, l0), (s1, _) in itertools.pairwise(cut):
            keep = (at >= s0 + l0) & (at <= s1)
            if keep.sum() > 1:
                self.stroke(closed[keep], width_mm, ink)

    def dot(self, at, radius_mm=0.4, ink=(40, 38, 40)):
        r = round(radius_mm * OVER / self.mm_per_px * 16)
        cv2.circle(self.image, tuple(self._px([at])[0].tolist()), r, ink, -1, cv2.LINE_AA, 4)

    def ring(self, at, radius_mm=2.6, width_mm=0.4, ink=(60, 58, 60)):
        r = round(radius_mm * OVER / self.mm_per_px * 16)
        thick = round(width_mm * OVER / self.mm_per_px)
        cv2.circle(self.image, tuple(self._px([at])[0].tolist()), r, ink, thick, cv2.LINE_AA, 4)

    def text(self, words, at, height_mm=9.0, ink=(40, 38, 40), width_mm=0.6):
        s = OVER / self.mm_per_px
        thick = max(1, round(width_mm * s))
        x, y = (self._px([at])[0] / 16).astype(int)
        scale = height_mm * s / 22.0
        cv2.putText(
            self.image, words, (int(x), int(y)), cv2.FONT_HERSHEY_SIMPLEX, scale, ink, thick, cv2.LINE_AA
        )

    def arrow(self, start, end, width_mm=0.7, head_mm=8.0, ink=(40, 38, 40)):
        start, end = np.array(start, float), np.array(end, float)
        self.stroke([start, end], width_mm, ink)
        for tip, back in ((start, end), (end, start)):
            d = (back - tip) / np.hypot(*(back - tip))
            for a in (0.42, -0.42):
                turned = np.array([d[0] * np.cos(a) - d[1] * np.sin(a), d[0] * np.sin(a) + d[1] * np.cos(a)])
                self.stroke([tip, tip + head_mm * turned], width_mm, ink)

    def rectified(self, seed=0, noise=3.0, shade=0.25, with_paper=True) -> Rectified:
        """Shrunk, shaded and with noise; as if it had been photographed and straightened."""
        rng = np.random.default_rng(seed)
        h, w = self.image.shape[0] // OVER, self.image.shape[1] // OVER
        small = cv2.resize(self.image[: h * OVER, : w * OVER], (w, h), interpolation=cv2.INTER_AREA).astype(
            float
        )
        y, x = np.mgrid[0:h, 0:w]
        light = 1 - shade * (0.6 * x / w + 0.4 * y / h) + 0.04 * np.sin(x / 170.0) * np.cos(y / 230.0)
        small = small * light[:, :, None] + rng.normal(0, noise, small.shape)
        image = np.clip(small, 0, 255).astype(np.uint8)
        m = self.mm_per_px
        origin = (-self.margin_mm + 0.5 * m, self.height_mm + self.margin_mm - 0.5 * m)
        corners = np.array(
            [[0, 0], [self.width_mm, 0], [self.width_mm, self.height_mm], [0, self.height_mm]], float
        )
        return Rectified(
            image,
            m,
            origin,
            None,  # type: ignore[arg-type]
            0.1,
            lambda p: np.full(len(p), 0.1),
            (),
            corners if with_paper else None,
        )


def away(points, closed_truth):
    """Distance of points from a closed polyline."""
    a = np.asarray(closed_truth, float)
    ab = np.roll(a, -1, axis=0) - a
    length2 = np.maximum((ab**2).sum(axis=1), 1e-12)
    out = np.empty(len(points))
    for k, p in enumerate(np.asarray(points, float)):
        t = np.clip(((p - a) * ab).sum(axis=1) / length2, 0, 1)
        out[k] = np.hypot(*(p - (a + t[:, None] * ab)).T).min()
    return out


def both_ways(outline, truth, step=1.5):
    """95th percentile and largest deviation, result to truth and truth to result."""

    def even(p):
        ring = np.vstack([p, p[:1]])
        at = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
        s = np.arange(0, at[-1], step)
        return np.column_stack([np.interp(s, at, ring[:, 0]), np.interp(s, at, ring[:, 1])])

    d = np.concatenate([away(even(outline), truth), away(even(truth), outline)])
    return float(np.percentile(d, 95)), float(d.max())
