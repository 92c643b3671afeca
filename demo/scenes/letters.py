"""A single-stroke alphabet of our own, for words that look written by hand.

Each letter is a list of strokes, each stroke a row of two-digit points: across 0-9, up 0-9, with the base line
at 3, the height of small letters at 6 and of tall ones at 9.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["write"]

Array = NDArray[np.float64]

_LETTERS: dict[str, tuple[str, ...]] = {
    "a": ("65 46 25 24 33 53 65", "66 64 73"),
    "b": ("29 24", "25 46 65 64 53 33 24"),
    "c": ("65 46 25 24 43 64",),
    "d": ("65 46 25 24 43 64", "69 63"),
    "e": ("25 64 65 46 25 24 43 63",),
    "f": ("68 59 48 43", "26 66"),
    "g": ("65 46 25 24 43 64", "66 62 51 31 21"),
    "h": ("29 23", "25 46 65 63"),
    "i": ("46 43", "48 48"),
    "j": ("46 42 31 21", "48 48"),
    "k": ("29 23", "66 24", "35 63"),
    "l": ("49 44 53",),
    "m": ("16 13", "15 36 44 43", "45 66 74 73"),
    "n": ("26 23", "25 46 65 63"),
    "o": ("46 25 24 43 64 65 46",),
    "p": ("26 20", "25 46 65 64 43 24"),
    "q": ("65 46 25 24 43 64", "66 60"),
    "r": ("26 23", "24 46 66"),
    "s": ("65 46 26 35 54 63 43 24",),
    "t": ("48 44 53 63", "26 66"),
    "u": ("26 24 43 64", "66 63"),
    "v": ("26 43 66",),
    "w": ("16 23 46 63 76",),
    "x": ("26 63", "66 23"),
    "y": ("26 44 54", "66 42 20"),
    "z": ("26 66 23 63",),
    "1": ("27 49 43",),
    "2": ("28 49 68 56 23 63",),
    "3": ("28 49 68 56 46", "56 65 54 43 24"),
    "4": ("59 25 75", "57 53"),
}


def _smooth(p: Array) -> Array:
    """Catmull-Rom through the points of a stroke."""
    if len(p) < 3:
        return p
    q = np.vstack([2 * p[0] - p[1], p, 2 * p[-1] - p[-2]])
    t = np.linspace(0, 1, 6, endpoint=False)[:, None]
    out = []
    for a, b, c, d in zip(q, q[1:], q[2:], q[3:], strict=False):
        out.append(
            0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
        )
    return np.vstack([*out, p[-1:]])


def write(
    rng: np.random.Generator, text: str, at_mm: tuple[float, float], height_mm: float, turn_deg: float = 0.0
) -> list[Array]:
    """Return the strokes of ``text``, each ``(n, 2)`` in mm, beginning at ``at_mm`` on its base line.

    ``height_mm`` is that of a tall letter. Letters lean a little, and no two are quite alike.
    """
    unit = height_mm / 6.0
    a = np.radians(turn_deg)
    R = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    x, out = 0.0, []
    for letter in text.lower():
        for stroke in _LETTERS.get(letter, ()):
            p = np.array([[float(d[0]), float(d[1]) - 3] for d in stroke.split()])
            p += rng.normal(0, 0.16, p.shape)
            p[:, 0] += 0.16 * p[:, 1]
            p = _smooth(p) * unit * np.array([0.82, 1.0]) + [x, rng.normal(0, 0.1) * unit]
            out.append(p @ R.T + at_mm)
        x += unit * (3.6 if letter in " ilj" else 5.6 if letter in "mw" else 4.5)
    return out
