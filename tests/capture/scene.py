"""Pictures with known truth for the tests of true scale: a plane drawn by us, seen through SciPy and OpenCV.

The camera here has a term that the solver does not model (k3), drawn by OpenCV's own ``projectPoints``; the pixels are
made by ``scipy.ndimage.map_coordinates`` from a plane picture four times finer than the photograph, so nothing of
``eke.capture`` takes part.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from scipy import ndimage

from eke.capture.sheet import SheetGeometry, marker_cells


@dataclass(frozen=True)
class Lens:
    """A camera over the plane (x right, y up, mm): where it stands, how it is tilted, what its lens does."""

    width: int = 1600
    height: int = 1200
    focal: float = 1200.0
    centre: tuple[float, float] = (806.0, 596.0)
    # k1, k2, p1, p2, k3 in OpenCV's order
    distortion: tuple[float, ...] = (0.03, -0.02, 0.0003, -0.0002, 0.004)
    above_mm: tuple[float, float, float] = (300.0, 100.0, 800.0)
    look_at_mm: tuple[float, float] = (300.0, 220.0)
    roll_deg: float = 4.0

    def pose(self) -> tuple[np.ndarray, np.ndarray]:
        """(R, t) from the plane frame (x, -y, -height) to the camera frame."""
        eye = np.array([self.above_mm[0], -self.above_mm[1], -self.above_mm[2]])
        target = np.array([self.look_at_mm[0], -self.look_at_mm[1], 0.0])
        forward = (target - eye) / np.linalg.norm(target - eye)
        up = np.array([0.0, -1.0, 0.0])  # the picture's upward direction: +y of the plane
        right = np.cross(forward, up)
        right /= np.linalg.norm(right)
        down = np.cross(forward, right)
        a = np.radians(self.roll_deg)
        rot = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]]) @ np.array(
            [right, down, forward]
        )
        return rot, -rot @ eye

    def matrix(self) -> np.ndarray:
        return np.array([[self.focal, 0, self.centre[0]], [0, self.focal, self.centre[1]], [0, 0, 1.0]])

    def project(self, points_mm: np.ndarray, height_mm: float = 0.0) -> np.ndarray:
        """Pixels of plane points, by OpenCV."""
        rot, t = self.pose()
        world = np.column_stack([points_mm[:, 0], -points_mm[:, 1], np.full(len(points_mm), -height_mm)])
        px, _ = cv2.projectPoints(world, cv2.Rodrigues(rot)[0], t, self.matrix(), np.array(self.distortion))
        return px.reshape(-1, 2)

    @property
    def tilt_deg(self) -> float:
        return float(np.degrees(np.arccos(self.pose()[0][2, 2])))


def rectangle(at: tuple[float, float], size: tuple[float, float]) -> np.ndarray:
    """Corners (4, 2) in mm, anticlockwise from the lower left one."""
    return np.array(at) + np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]) * size


class Plane:
    """A drawing of the floor in linear light, ``fine`` pixels a millimetre, y up."""

    def __init__(
        self, low: tuple[float, float], high: tuple[float, float], fine: float = 4.0, seed: int = 1
    ) -> None:
        self.low, self.fine = np.array(low), fine
        size = np.ceil((np.array(high) - low) * fine).astype(int)
        rng = np.random.default_rng(seed)
        coarse = ndimage.zoom(rng.normal(0, 1, (size[1] // 40 + 2, size[0] // 40 + 2)), 40, order=1)
        self.light = (0.16 + 0.02 * coarse[: size[1], : size[0]]).astype(np.float32)
        self.size = size

    def _px(self, points_mm: np.ndarray) -> np.ndarray:
        p = (np.asarray(points_mm, float) - self.low) * self.fine
        return np.column_stack([p[:, 0], self.size[1] - p[:, 1]]) - 0.5

    def fill(self, polygon_mm: np.ndarray, light: float) -> None:
        """Fill a polygon, exact to 1/256 of a fine pixel."""
        shift = 8
        p = np.round(self._px(polygon_mm) * (1 << shift)).astype(np.int32)
        cv2.fillPoly(self.light, [p], light, cv2.LINE_8, shift)

    def line(self, points_mm: np.ndarray, width_mm: float, light: float) -> None:
        p = np.round(self._px(points_mm) * 256).astype(np.int32)
        cv2.polylines(self.light, [p], True, light, max(1, round(width_mm * self.fine)), cv2.LINE_AA, 8)

    def sheet(
        self, geometry: SheetGeometry, corner_mm: tuple[float, float], turn_deg: float, scale: float = 1.0
    ) -> None:
        """Lay a printed sheet with its top-left corner at a place, printed at a scale on true paper."""
        a = np.radians(turn_deg)
        rot = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])

        def place(xy: np.ndarray) -> np.ndarray:
            return (np.asarray(xy, float) * [1.0, -1.0]) @ rot.T + corner_mm

        w, h = geometry.sheet_mm
        self.fill(place([[0, 0], [0, h], [w, h], [w, 0]]), 0.75)
        middle = np.array([w, h]) / 2.0
        for marker in geometry.markers:
            cells = marker_cells(geometry.dictionary, marker.number)
            c = middle + (np.asarray(marker.corners_mm) - middle) * scale
            x, y = (c[1] - c[0]) / len(cells), (c[3] - c[0]) / len(cells)
            for row, column in np.argwhere(cells):
                corner = c[0] + column * x + row * y
                self.fill(place([corner, corner + x, corner + x + y, corner + y]), 0.03)

    def photograph(self, lens: Lens, noise: float = 0.006, seed: int = 3) -> np.ndarray:
        """uint8 (h, w, 3): the plane seen through the lens, with blur, noise and the sRGB curve."""
        rot, t = lens.pose()
        v, u = np.mgrid[0 : lens.height, 0 : lens.width]
        ideal = _undistort(np.column_stack([u.ravel(), v.ravel()]), lens)
        ray = np.column_stack([ideal, np.ones(len(ideal))]) @ rot
        eye = -rot.T @ t
        s = -eye[2] / ray[:, 2]
        x, y = eye[0] + s * ray[:, 0], -(eye[1] + s * ray[:, 1])
        p = self._px(np.column_stack([x, y]))
        soft = ndimage.gaussian_filter(self.light, 1.1 * self.fine / (lens.focal / lens.above_mm[2]))
        light = ndimage.map_coordinates(soft, [p[:, 1], p[:, 0]], order=1, mode="nearest").reshape(
            lens.height, lens.width
        )
        rng = np.random.default_rng(seed)
        light = np.clip(light * (0.9 + 0.2 * u / lens.width) + rng.normal(0, noise, light.shape), 0, 1)
        code = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
        grey = np.clip(np.rint(code * 255), 0, 255).astype(np.uint8)
        return np.repeat(grey[:, :, None], 3, axis=2)


def _undistort(px: np.ndarray, lens: Lens) -> np.ndarray:
    """Undistorted rays by fixed-point iteration on OpenCV's formula, to 1e-12."""
    k1, k2, p1, p2, k3 = lens.distortion
    d = (px - np.array(lens.centre)) / lens.focal
    x, y = d[:, 0].copy(), d[:, 1].copy()
    for _ in range(40):
        r2 = x * x + y * y
        radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
        x, y = (
            (d[:, 0] - (2 * p1 * x * y + p2 * (r2 + 2 * x * x))) / radial,
            (d[:, 1] - (p1 * (r2 + 2 * y * y) + 2 * p2 * x * y)) / radial,
        )
    return np.column_stack([x, y])


def rigid_errors(seen_mm: np.ndarray, true_mm: np.ndarray) -> tuple[np.ndarray, float]:
    """(distances (n,) after the best rigid move without mirroring, scale of the best similarity)."""
    a, b = seen_mm - seen_mm.mean(0), true_mm - true_mm.mean(0)
    u, s, vt = np.linalg.svd(a.T @ b)
    d = np.diag([1.0, np.sign(np.linalg.det(u @ vt))])
    rot = u @ d @ vt
    return np.hypot(*(a @ rot - b).T), float((s * np.diag(d)).sum() / (a**2).sum())
