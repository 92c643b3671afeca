"""Things of known size that give a picture its scale: sheets of paper, a marker sheet, a card, a ruler."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from demo.scenes.board import Board, cover, stripe
from demo.scenes.noise import grain

__all__ = ["CARD_MM", "Reference", "ReferenceKind", "lay_reference", "sheet_geometry"]

ReferenceKind = Literal["sheet", "a4", "letter", "card", "ruler", "tape"]
Array = NDArray[np.float64]

A4_MM = (297.0, 210.0)
"""ISO 216."""
LETTER_MM = (279.4, 215.9)
"""ANSI/ASME Y14.1: 11 × 8½ in."""
CARD_MM = (85.60, 53.98)
"""ID-1 of ISO/IEC 7810; corner radius 3.18 mm, 0.76 mm thick."""
CARD_RADIUS_MM, CARD_THICK_MM = 3.18, 0.76
RULER_THICK_MM, TAPE_THICK_MM = 2.5, 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """A reference and where its lower left corner lies.

    Parameters
    ----------
    geometry
        For a ``sheet``: its marker geometry, sheet frame with y down (``sheet_mm``, ``dictionary``,
        ``markers`` with ``id`` and ``corners_mm``, ``check_line_mm`` with ``p0``, ``p1``).
    print_scale
        How much larger than meant the sheet came out of the printer.
    """

    kind: ReferenceKind
    at_mm: tuple[float, float]
    turn_deg: float = 0.0
    geometry: Mapping[str, Any] | None = None
    print_scale: float = 1.0
    length_mm: float = 300.0
    ticks_mm: tuple[float, float] = field(default=(10.0, 290.0))

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height as it lies unturned."""
        if self.kind == "sheet":
            assert self.geometry is not None
            w, h = self.geometry["sheet_mm"]
            return float(w), float(h)
        sizes = {"a4": A4_MM, "letter": LETTER_MM, "card": CARD_MM}
        return sizes.get(self.kind) or (self.length_mm + 12.0, 28.0 if self.kind == "ruler" else 19.0)

    def to_scene(self, local_mm: Array) -> Array:
        """Return points given in its own frame (origin lower left, y up) in the scene, ``(n, 2)``."""
        a = np.radians(self.turn_deg)
        R = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
        return local_mm @ R.T + np.asarray(self.at_mm)

    @property
    def corners_mm(self) -> Array:
        """Its corners in the scene: top left, top right, bottom right, bottom left as it lies unturned."""
        w, h = self.size_mm
        return self.to_scene(np.array([[0, h], [w, h], [w, 0], [0, 0]]))

    @property
    def ticks(self) -> Array:
        """The two marked points of a ruler or tape in the scene."""
        h = self.size_mm[1]
        return self.to_scene(np.array([[6.0 + t, h - 0.3] for t in self.ticks_mm]))


def lay_reference(rng: np.random.Generator, ref: Reference, px_per_mm: float) -> list[Board]:
    """Return the boards of a reference: its shadow on the floor, and itself at its own height."""
    w, h = ref.size_mm
    pad = 3.0
    k = px_per_mm
    shape = (int(np.ceil((h + 2 * pad) * k)), int(np.ceil((w + 2 * pad) * k)))
    x0, y0, x1, y1 = pad * k - 0.5, pad * k - 0.5, (pad + w) * k - 0.5, (pad + h) * k - 0.5
    rounded = ref.kind == "card"
    rect = np.outer(stripe(shape[0], y0, y1), stripe(shape[1], x0, x1)).astype(np.float32)
    if rounded:
        rect *= _round_corners(shape, (x0, y0, x1, y1), CARD_RADIUS_MM * k)
    painter = {"sheet": _marker_sheet, "card": _card, "ruler": _ruler, "tape": _ruler}.get(ref.kind, _blank)
    face = painter(rng, ref, shape, k, pad)
    face = np.clip(face * (1 + 0.006 * grain(rng, shape))[..., None], 0, 255).astype(np.uint8)
    corner = ref.to_scene(np.array([[-pad + 0.5 / k, h + pad - 0.5 / k]]))[0]
    place = (float(corner[0]), float(corner[1]))
    z = {"card": CARD_THICK_MM, "ruler": RULER_THICK_MM, "tape": TAPE_THICK_MM}.get(ref.kind, 0.0)
    alpha = np.clip(rect * 255 + 0.5, 0, 255).astype(np.uint8)
    reach = 0.35 + 0.8 * z
    soft = cv2.GaussianBlur(rect, (0, 0), max(1.0, reach * k))
    a = rng.uniform(0, 2 * np.pi)
    M = np.array([[1, 0, reach * k * np.cos(a)], [0, 1, reach * k * np.sin(a)]])
    shade = cv2.warpAffine(soft, M, (shape[1], shape[0]))
    dark = np.full((*shape, 3), 14, np.uint8)
    shadow = Board(dark, k, place, ref.turn_deg, 0.0, np.clip(shade * 120, 0, 255).astype(np.uint8))
    return [shadow, Board(face, k, place, ref.turn_deg, z, alpha)]


def _round_corners(
    shape: tuple[int, int], box: tuple[float, float, float, float], radius: float
) -> NDArray[np.float32]:
    x0, y0, x1, y1 = box
    x = np.arange(shape[1], dtype=np.float32)[None]
    y = np.arange(shape[0], dtype=np.float32)[:, None]
    dx = np.maximum(np.maximum(x0 + radius - x, x - (x1 - radius)), 0)
    dy = np.maximum(np.maximum(y0 + radius - y, y - (y1 - radius)), 0)
    corner = (dx > 0) & (dy > 0)
    return np.where(corner, np.clip(radius + 0.5 - np.hypot(dx, dy), 0, 1), 1).astype(np.float32)


def _blank(
    _rng: np.random.Generator, _ref: Reference, shape: tuple[int, int], _k: float, _pad: float
) -> NDArray[np.float32]:
    return np.full((*shape, 3), (243, 243, 240), np.float32)


def _marker_sheet(
    rng: np.random.Generator, ref: Reference, shape: tuple[int, int], k: float, pad: float
) -> NDArray[np.float32]:
    """Print the markers of the geometry, each cell with exact edges."""
    g = ref.geometry
    assert g is not None
    w, h = g["sheet_mm"]
    s = ref.print_scale
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, g["dictionary"]))
    ink = np.zeros(shape, np.float32)

    def px(x_mm: float, y_mm: float) -> tuple[float, float]:
        # printing scales about the middle of the sheet
        return (((x_mm - w / 2) * s + w / 2 + pad) * k - 0.5, ((y_mm - h / 2) * s + h / 2 + pad) * k - 0.5)

    for marker in g["markers"]:
        c = np.array(marker["corners_mm"], dtype=float)
        cells = dictionary.markerSize + 2
        bits = cv2.aruco.generateImageMarker(dictionary, int(marker["id"]), cells, borderBits=1) < 128
        side_x, side_y = (c[1] - c[0]) / cells, (c[3] - c[0]) / cells
        if abs(side_x[1]) > 1e-9 or abs(side_y[0]) > 1e-9 or side_x[0] <= 0 or side_y[1] <= 0:
            raise ValueError("markers of a sheet lie straight on it, first corner at the top left")
        (left, top), (right, bottom) = px(*c[0]), px(*c[2])
        r0, r1, c0, c1 = int(top) - 2, int(bottom) + 3, int(left) - 2, int(right) + 3
        xs = [
            stripe(
                c1 - c0, px(c[0][0] + i * side_x[0], 0)[0] - c0, px(c[0][0] + (i + 1) * side_x[0], 0)[0] - c0
            )
            for i in range(cells)
        ]
        ys = [
            stripe(
                r1 - r0, px(0, c[0][1] + i * side_y[1])[1] - r0, px(0, c[0][1] + (i + 1) * side_y[1])[1] - r0
            )
            for i in range(cells)
        ]
        ink[r0:r1, c0:c1] += np.array(ys).T @ bits.astype(np.float32) @ np.array(xs)
    line = g.get("check_line_mm")
    if line:
        (ax, ay), (bx, by) = px(*line["p0"]), px(*line["p1"])
        d = np.array([bx - ax, by - ay])
        d /= np.hypot(*d)
        n = np.array([-d[1], d[0]])
        a, b = np.array([ax, ay]), np.array([bx, by])
        for p, q, half in (
            (a, b, 0.15),
            (a - n * 2 * k, a + n * 2 * k, 0.15),
            (b - n * 2 * k, b + n * 2 * k, 0.15),
        ):
            v = (q - p) / np.hypot(*(q - p))
            m = np.array([-v[1], v[0]]) * half * k
            ink = np.maximum(ink, cover(shape, np.array([p + m, q + m, q - m, p - m])))
    for words in g.get("texts", ()):
        x, y = px(*words["at_mm"])
        image = Image.new("L", (shape[1], shape[0]), 0)
        ImageDraw.Draw(image).text(
            (x, y),
            words["text"],
            fill=255,
            font=ImageFont.load_default(size=words["height_mm"] * k),
            anchor="ls",
        )
        ink = np.maximum(ink, np.asarray(image, np.float32) / 255)
    white, black = np.array([244, 244, 241], np.float32), np.array([36, 35, 37], np.float32)
    tired = 1 + 0.05 * rng.standard_normal()
    return white + np.clip(ink, 0, 1)[..., None] * (black * tired - white)


def _card(
    rng: np.random.Generator, _ref: Reference, shape: tuple[int, int], k: float, pad: float
) -> NDArray[np.float32]:
    """A club card of nobody's: two colours, a stripe, rows of raised marks."""
    hue = np.array(
        [[36, 92, 118], [128, 40, 52], [64, 74, 82], [44, 108, 76]][int(rng.integers(4))], np.float32
    )
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32) / np.float32(k) - np.float32(pad)
    out = hue * (1 + 0.18 * np.sin(x / 21 + y / 34))[..., None]
    wave = y > 34 + 6 * np.sin(x / 15)
    out[wave] = out[wave] * 0.5 + 110
    out[(y > 8) & (y < 18)] = (28, 27, 30)
    for i in range(12):
        left = 10 + i * 5 + (i // 4) * 3
        out[(x > left) & (x < left + 3.2) & (y > 27) & (y < 31.5)] = (226, 224, 214)
    return cv2.GaussianBlur(out, (0, 0), 0.06 * k)


def _ruler(
    rng: np.random.Generator, ref: Reference, shape: tuple[int, int], k: float, pad: float
) -> NDArray[np.float32]:
    """A ruler (wood) or tape (yellow) with a tick at each millimetre, longer at 5 and 10, numbers each 10 mm."""
    wood = ref.kind == "ruler"
    base = np.array([214, 184, 132] if wood else [232, 204, 74], np.float32)
    out = np.full((*shape, 3), base, np.float32)
    if wood:
        out *= (1 + 0.05 * cv2.GaussianBlur(grain(rng, shape), (0, 0), sigmaX=9 * k, sigmaY=0.4 * k) * 8)[
            ..., None
        ]
    ink = np.zeros(shape, np.float32)
    top = pad * k - 0.5
    for mm in range(int(ref.length_mm) + 1):
        x = (pad + 6.0 + mm) * k - 0.5
        deep = 7.0 if mm % 10 == 0 else 5.2 if mm % 5 == 0 else 3.4
        half = 0.13 * k
        c0 = int(x) - 3
        col = stripe(8, x - half - c0, x + half - c0)
        row = stripe(shape[0], top, top + deep * k)
        ink[:, c0 : c0 + 8] = np.maximum(ink[:, c0 : c0 + 8], row[:, None] * col[None])
    image = Image.new("L", (shape[1], shape[0]), 0)
    draw, font = ImageDraw.Draw(image), ImageFont.load_default(size=3.6 * k)
    for cm in range(int(ref.length_mm) // 10 + 1):
        draw.text(((pad + 6.0 + 10 * cm) * k, top + 12 * k), str(cm), fill=255, font=font, anchor="ms")
    ink = np.maximum(ink, np.asarray(image, np.float32) / 255)
    return out * (1 - 0.86 * np.clip(ink, 0, 1)[..., None])


def sheet_geometry(sheet: Any) -> dict[str, Any]:
    """Return a marker sheet of the library (``eke.capture.sheet.SheetGeometry``) as the mapping used here."""
    line = sheet.check_line
    return {
        "sheet_mm": list(sheet.sheet_mm),
        "dictionary": sheet.dictionary,
        "markers": [{"id": m.number, "corners_mm": [list(c) for c in m.corners_mm]} for m in sheet.markers],
        "check_line_mm": {"p0": list(line.start_mm), "p1": list(line.end_mm), "nominal": line.nominal_mm}
        if line
        else None,
    }
