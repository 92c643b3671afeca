"""Papers that people trace on: white, kraft, newspaper, the back of a poster, sheets taped together."""

from __future__ import annotations

from typing import Literal

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from PIL import Image, ImageDraw, ImageFont

from demo.scenes.board import Board, blend, cover, fill
from demo.scenes.noise import field, grain, wobble

__all__ = ["PaperKind", "paint_paper", "paper_outline"]

PaperKind = Literal["white", "kraft", "newspaper", "poster", "taped", "squared"]
Array = NDArray[np.float64]

_TONE: dict[str, tuple[float, float, float]] = {
    "white": (236, 235, 230),
    "kraft": (176, 138, 98),
    "newspaper": (206, 201, 188),
    "poster": (232, 229, 220),
    "taped": (234, 233, 228),
    "squared": (238, 238, 234),
}


def paper_outline(rng: np.random.Generator, size_mm: tuple[float, float], straight: bool) -> Array:
    """Return the paper's outline in mm, lower left corner at the origin; torn or crooked unless ``straight``."""
    w, h = size_mm
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]], dtype=float)
    if straight:
        return corners
    corners += rng.uniform(-6, 6, corners.shape)
    out = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        n = int(np.hypot(*(b - a)) / 3)
        d = (b - a) / np.hypot(*(b - a))
        t = np.arange(n) / n
        off = (wobble(rng, n, 3.0, 120.0, 1.6) + wobble(rng, n, 3.0, 12.0, 0.25)) * np.minimum(
            1, 8 * t * (1 - t)
        )
        out.append(a + (b - a) * t[:, None] + off[:, None] * np.array([-d[1], d[0]]))
    return np.vstack(out)


def paint_paper(
    rng: np.random.Generator,
    board: Board,
    kind: PaperKind,
    outline_mm: ArrayLike,
    straight: bool,
    seams_mm: ArrayLike = (),
) -> None:
    """Lay a paper on the floor, with its shadow.

    ``seams_mm`` are x positions at which a ``taped`` paper is joined from several sheets.
    """
    outline = np.asarray(outline_mm, dtype=float)
    k = board.px_per_mm
    px = board.to_px(outline)
    pad = int(12 * k)
    c0, r0 = np.maximum(np.floor(px.min(axis=0)).astype(int) - pad, 0)
    c1, r1 = np.minimum(np.ceil(px.max(axis=0)).astype(int) + pad, (board.rgb.shape[1], board.rgb.shape[0]))
    shape = (r1 - r0, c1 - c0)
    local = px - [c0, r0]
    mask = cover(shape, local) if straight else fill(shape, local)

    small = cv2.resize(mask, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    a, reach = rng.uniform(0, 2 * np.pi), 0.5 * k * 0.25 * rng.uniform(1, 3)
    M = np.array([[1, 0, reach * np.cos(a)], [0, 1, reach * np.sin(a)]])
    near = cv2.GaussianBlur(cv2.warpAffine(small, M, small.shape[::-1]), (0, 0), 0.25 * k * 0.9)
    shadow = cv2.resize(near, shape[::-1], interpolation=cv2.INTER_LINEAR)
    blend(board, (12, 10, 8), 0.42 * shadow, (r0, c0))

    sheet = _sheet(rng, kind, shape, k, np.array([c0, r0]), board, seams_mm)
    blend(board, sheet, mask, (r0, c0))


def _sheet(
    rng: np.random.Generator,
    kind: PaperKind,
    shape: tuple[int, int],
    k: float,
    at: Array,
    board: Board,
    seams_mm: ArrayLike,
) -> NDArray[np.float32]:
    small = (shape[0] // 4 + 1, shape[1] // 4 + 1)
    up = lambda f: cv2.resize(f, shape[::-1], interpolation=cv2.INTER_CUBIC)  # noqa: E731
    tone = np.full(shape, 1.0, np.float32)
    tone += 0.012 * up(field(rng, small, 90 * k / 4, 3))  # the paper does not lie quite flat
    fibre = cv2.GaussianBlur(grain(rng, shape), (0, 0), 0.8)
    tone += (0.035 if kind == "kraft" else 0.010) * fibre
    if kind == "kraft":
        tone += 0.03 * up(field(rng, small, (1.2 * k / 4, 30 * k / 4)))
        tone += 0.02 * np.sin(np.arange(shape[1], dtype=np.float32) * np.float32(2 * np.pi / (2.1 * k)))
    for _ in range(int(rng.integers(1, 4))):  # folds: one side light, the other dark
        a, b = rng.uniform(0, 1), rng.uniform(-0.25, 0.25)
        along_x = rng.random() < 0.5
        y, x = np.ogrid[: shape[0], : shape[1]]
        d = (x - a * shape[1] - b * y if along_x else y - a * shape[0] - b * x).astype(
            np.float32
        ) / np.float32(k)
        tone += np.float32(rng.choice([-1, 1]) * 0.03) * (d * np.exp(-np.abs(d) / 1.4))
    out = np.array(_TONE[kind], np.float32) * tone[..., None]
    if kind == "newspaper":
        print_ = _newsprint(rng, shape, k)
        out *= 1 - 0.74 * print_[..., None]
        back = cv2.GaussianBlur(_newsprint(rng, shape, k)[:, ::-1], (0, 0), 0.5 * k)
        out *= 1 - 0.07 * back[..., None]
    if kind == "squared":
        for axis in (0, 1):
            line = np.zeros(shape[axis], np.float32)
            for p in np.arange(rng.uniform(0, 5 * k), shape[axis], 5 * k):
                line += stripe_at(shape[axis], p, 0.18 * k)
            grid = line[:, None] if axis == 0 else line[None]
            out *= 1 - 0.20 * grid[..., None] * np.array([1.0, 0.6, 0.25], np.float32)
    if kind == "taped":
        for x_mm in np.atleast_1d(np.asarray(seams_mm, dtype=float)):
            x = board.to_px(np.array([[x_mm, 0.0]]))[0, 0] - at[0]
            col = np.arange(shape[1], dtype=np.float32)
            step = np.clip(col - x, 0, 1) * np.exp(-np.maximum(col - x, 0) / (1.2 * k))
            out *= 1 - 0.16 * step[None, :, None]
            tape = cover(
                shape, np.array([[x - 9 * k, -9], [x + 9 * k, -9], [x + 10 * k, 1e5], [x - 8 * k, 1e5]])
            )
            out *= 1 - tape[..., None] * np.array([0.03, 0.035, 0.075], np.float32)
    return out


def stripe_at(n: int, centre_px: float, width_px: float) -> NDArray[np.float32]:
    """Return the coverage of one ruled line over ``n`` pixels."""
    i = np.arange(n)
    return np.clip(width_px / 2 + 0.5 - np.abs(i - centre_px), 0, min(1.0, width_px)).astype(np.float32)


_SYLLABLES = "ba be bo da di do el en ga go ha he il ka ko la le lo ma mi mo na ne no or pa pe ra re ri sa se si ta te to ul va ve"


def _newsprint(rng: np.random.Generator, shape: tuple[int, int], k: float) -> NDArray[np.float32]:
    """Columns of made-up words, headlines and grey pictures; 0 … 1 of ink."""
    page = Image.new("L", (shape[1], shape[0]), 0)
    draw = ImageDraw.Draw(page)
    syllables = _SYLLABLES.split()

    def words(n: int) -> list[str]:
        lengths = rng.integers(1, 5, n)
        return ["".join(rng.choice(syllables, m)) for m in lengths]

    body, leading = ImageFont.load_default(size=2.6 * k), 3.3 * k
    supply = words(420)
    column, gutter = 46.0 * k, 4.0 * k
    x = -rng.uniform(0, column)
    while x < shape[1]:
        y = -rng.uniform(0, 40 * k)
        while y < shape[0]:
            what = rng.random()
            if what < 0.13:
                size = float(rng.choice([6.0, 8.0, 12.0])) * k
                title = " ".join(rng.choice(supply, 2)).capitalize()
                size *= min(1.0, column / ImageFont.load_default(size=size).getlength(title))
                draw.text((x, y), title, fill=235, font=ImageFont.load_default(size=size))
                y += size * 1.35
            elif what < 0.20:
                high = float(rng.uniform(30, 60)) * k
                patch = field(rng, (int(high) // 8 + 2, int(column) // 8 + 2), 6.0, 3) * 60 + 110
                grey = Image.fromarray(np.clip(patch, 10, 230).astype(np.uint8)).resize(
                    (int(column), int(high))
                )
                page.paste(grey, (int(x), int(y)))
                y += high + 3 * k
            else:
                for _ in range(int(rng.integers(6, 22))):
                    line, start = "", int(rng.integers(len(supply)))
                    while body.getlength(line) < column * 0.93:
                        line += supply[start % len(supply)] + " "
                        start += 1
                    draw.text((x, y), line.rstrip()[: len(line)], fill=215, font=body)
                    y += leading
                    if y > shape[0]:
                        break
                y += leading * 0.6
        draw.rectangle([x + column, 0, x + column + gutter, shape[0]], fill=0)
        x += column + gutter
    return np.asarray(page, np.float32) / 255
