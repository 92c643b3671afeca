"""Things that are no reference but may be taken for one, laid beside a tracing in the demo's own renderer."""

from dataclasses import dataclass, replace

import cv2
import demo.scenes.scene as scenes
import numpy as np
from demo.scenes.board import Board
from demo.scenes.random_scenes import random_scene
from demo.scenes.references import Reference as Laid
from demo.scenes.references import lay_reference, sheet_geometry

from eke.capture.photo import Photo
from eke.capture.sheet import own_sheet

PICTURE_PX = (1600, 1200)


@dataclass(frozen=True, slots=True, eq=False)
class Stranger(Laid):
    """A rectangle with round corners and a face that ``paint(rng, x mm, y mm, w, h)`` gives, (h, w, 3) 0-255."""

    across_mm: tuple[float, float] = (100.0, 60.0)
    radius_mm: float = 0.0
    z_mm: float = 0.0
    paint: object = None

    @property
    def size_mm(self):
        return self.across_mm


def snapshot(rng, x, y, w, h):
    """A photograph of a bay: sky, sea, sand, sun, a thin white rim as prints have."""
    face = np.where((y > 0.45 * h)[..., None], [120.0, 170.0, 220.0], [40.0, 110.0, 150.0])
    face = np.where((y < 0.18 * h)[..., None], [214.0, 190.0, 140.0], face)
    face[np.hypot(x - 0.7 * w, y - 0.75 * h) < 8] = (255, 240, 190)
    rim = np.minimum.reduce([x, y, w - x, h - y]) < 4.0
    face[rim] = 244
    return face


def playing_card(rng, x, y, w, h):
    face = np.full((*x.shape, 3), 246.0)
    for px in (0.3, 0.7):
        for py in (0.2, 0.4, 0.6, 0.8):
            face[np.abs(x - px * w) + np.abs(y - py * h) < 5] = (190, 30, 40)
    return face


def telephone(rng, x, y, w, h):
    face = np.full((*x.shape, 3), 24.0)
    face[np.hypot(x - 12, y - h + 12) < 5] = (60, 66, 80)
    return face


def blank(rng, x, y, w, h):
    return np.full((*x.shape, 3), 243.0)


def visiting_card(rng, x, y, w, h):
    face = np.full((*x.shape, 3), 240.0)
    face[(np.abs(y - 0.7 * h) < 2) & (x > 8) & (x < 50)] = 60
    return face


def lay(rng, ref, k):
    if not isinstance(ref, Stranger):
        return lay_reference(rng, ref, k)
    (w, h), pad = ref.across_mm, 3.0
    down, across = round((h + 2 * pad) * k), round((w + 2 * pad) * k)
    x = ((np.arange(across) + 0.5) / k - pad)[None] * np.ones((down, 1))
    y = (h + pad - (np.arange(down) + 0.5) / k)[:, None] * np.ones((1, across))
    # signed distance to a rounded rectangle, as coverage of a pixel
    q = np.abs(np.stack([x - w / 2, y - h / 2])) - np.array([w / 2, h / 2])[:, None, None] + ref.radius_mm
    far = np.hypot(*np.maximum(q, 0)) + np.minimum(q.max(axis=0), 0) - ref.radius_mm
    alpha = np.clip(0.5 - far * k, 0, 1)
    face = ref.paint(rng, x, y, w, h)
    place = tuple(float(v) for v in ref.to_scene(np.array([[-pad + 0.5 / k, h + pad - 0.5 / k]]))[0])
    shade = cv2.GaussianBlur(alpha, (0, 0), (0.4 + 0.5 * ref.z_mm) * k)
    to_8 = lambda a, most: np.clip(a * most + 0.5, 0, 255).astype(np.uint8)  # noqa: E731
    dark = Board(np.full((down, across, 3), 14, np.uint8), k, place, ref.turn_deg, 0.0, to_8(shade, 110))
    return [dark, Board(to_8(face, 1), k, place, ref.turn_deg, ref.z_mm, to_8(alpha, 255))]


def foreign_sheet(at_mm, turn_deg=0.0):
    """A printed sheet of marks of another dictionary, 6 x 4 markers of 33 mm on A4, that nobody has described."""
    geometry = sheet_geometry(own_sheet("a4", 0))
    geometry["dictionary"] = "DICT_4X4_50"
    geometry["markers"] = [
        {
            "id": 20 + 6 * row + column,
            "corners_mm": [
                [18 + 45 * column + dx, 16 + 45 * row + dy] for dx, dy in ((0, 0), (33, 0), (33, 33), (0, 33))
            ],
        }
        for row in range(4)
        for column in range(6)
    ]
    geometry["check_line_mm"] = {"p0": [50.0, 201.0], "p1": [250.0, 201.0]}
    return Laid("sheet", at_mm, turn_deg, geometry)


def beside(make, seed, tilt_deg, picture_px=PICTURE_PX):
    """The scene of a seed with only ``make(place)`` beside the paper; the photograph and its truth."""
    base = random_scene(seed, "tracing", picture_px, easy=True)
    scene = base.scene
    width = scene.paper.size_mm[0]
    ref = make((width + 25.0, 60.0))
    pose = replace(scene.pose, tilt_deg=tilt_deg, shift=(0.0, 0.0), portrait=False)
    old, scenes.lay_reference = scenes.lay_reference, lay
    try:
        taken = scenes.photograph(replace(scene, references=(ref,), pose=pose))
    finally:
        scenes.lay_reference = old
    picture = np.rot90(taken.picture, -1) if taken.camera.upright == 6 else taken.picture
    f = scene.focal_35mm * np.hypot(*picture_px) / 43.2666
    return Photo(np.ascontiguousarray(picture), focal_px_prior=float(f)), taken
