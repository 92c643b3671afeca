"""Where on a cloth measures start, and which corners of a piece are measured."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import shapely

from eke.errors import BadShape
from eke.paper.drawn import DrawnPiece
from eke.paper.page import PointsMm, points

ALONG_GRAIN_DEG: Final = 2.0
"""An edge this near to the grain counts as lying along it: a thread's width over the length of a hand."""
WAVY_MM: Final = 5.0
"""An edge that waves by less than this is straight: a torn or cut edge, photographed, wanders by as much."""
WAVY_SHARE: Final = 0.005
"""On small cloths straight means less, so that a round napkin has no straight edge: a share of the extent."""
CORNER_DEG: Final = 25.0
"""The outline turns at least this much at a corner that can be found again on paper."""


@dataclass(frozen=True, slots=True, eq=False)
class Flaw:
    """A place on the cloth to keep clear of."""

    ring: PointsMm
    name: str = "flaw"


@dataclass(frozen=True, slots=True, eq=False)
class LaidCloth:
    """A cloth as it lies on the table, in mm.

    ``grain_deg`` is the direction of the warp (90 is up); ``selvedges`` are stretches of the outline.
    """

    name: str
    outline: PointsMm
    holes: tuple[PointsMm, ...] = ()
    flaws: tuple[Flaw, ...] = ()
    grain_deg: float = 90.0
    selvedges: tuple[PointsMm, ...] = ()
    facts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class LaidPiece:
    """A piece where it lies: shapes already moved, in the cloth's mm. ``turn_deg`` is told to the maker."""

    piece: DrawnPiece
    turn_deg: float = 0.0
    face_down: bool = False


@dataclass(frozen=True, slots=True)
class BaseLine:
    """Where measures start: the zero mark, the direction of *along* and *across* as unit vectors, and its name."""

    x_mm: float
    y_mm: float
    along: tuple[float, float]
    across: tuple[float, float]
    length_mm: float
    name: str

    def measure(self, xy: PointsMm) -> PointsMm:
        """Return (along, across) in mm of points."""
        frame = np.array([self.along, self.across])
        out: PointsMm = (xy - np.array([self.x_mm, self.y_mm])) @ frame.T
        return out


def base_line(cloth: LaidCloth) -> BaseLine:
    """Return the line from which a cloth is measured; see the module's text for how it is chosen."""
    outline = points(cloth.outline)
    if len(outline) < 3:
        raise BadShape(f"“{cloth.name}” has no outline to draw. Measure it or photograph it first.")
    g = np.array([np.cos(np.radians(cloth.grain_deg)), np.sin(np.radians(cloth.grain_deg))])
    if g[1] < -1e-9 or (abs(g[1]) <= 1e-9 and g[0] < 0):
        g = -g
    centre = np.asarray(shapely.Polygon(outline).centroid.coords)[0]
    best: tuple[float, PointsMm, str] | None = None
    # a traced edge is many short stretches: those that lie on one line within a few millimetres are one edge
    extent = float(np.ptp(outline, axis=0).max())
    plain = shapely.get_coordinates(
        shapely.simplify(shapely.LinearRing(outline), min(WAVY_MM, WAVY_SHARE * extent))
    )
    chains = [(np.vstack([a, b]), "the straight edge") for a, b in pairwise(plain)]
    selvedges = [(np.vstack([s[0], s[-1]]), "the selvedge") for s in cloth.selvedges if len(s) >= 2]
    for group in (selvedges, chains):
        for line, name in group:
            d = line[1] - line[0]
            length = float(np.hypot(*d))
            if length < 1.0 or abs(float(d[0] * g[1] - d[1] * g[0])) > length * np.sin(
                np.radians(ALONG_GRAIN_DEG)
            ):
                continue
            if best is None or length > best[0] + 1.0:
                best = (length, line, name)
        if best is not None:
            break
    if best is not None and (best[2] == "the selvedge" or best[0] > 0.25 * float(np.ptp(outline @ g))):
        length, line, name = best
        if (line[1] - line[0]) @ g < 0:
            line = line[::-1]
        along = (line[1] - line[0]) / length
        n = np.array([along[1], -along[0]])
        across = n if (centre - line[0]) @ n >= 0 else -n
        zero = line[0]
        return BaseLine(
            float(zero[0]),
            float(zero[1]),
            (float(along[0]), float(along[1])),
            (float(across[0]), float(across[1])),
            length,
            name,
        )
    n = np.array([g[1], -g[0]])
    zero = g * (outline @ g).min() + n * (outline @ n).min()
    return BaseLine(
        float(zero[0]),
        float(zero[1]),
        (float(g[0]), float(g[1])),
        (float(n[0]), float(n[1])),
        float(np.ptp(outline @ g)),
        "a line chalked along the grain, at the cloth’s edge",
    )


def key_corners(ring: PointsMm) -> PointsMm:
    """Return the two corners of an outline that lie farthest apart, the lower left of them first; shape (2, 2).

    A corner is where the outline turns by at least 25°. An outline without corners gives its lowest and
    highest points.
    """
    before, after = np.roll(ring, 1, axis=0) - ring, np.roll(ring, -1, axis=0) - ring
    keep = (np.hypot(*before.T) > 1e-9) & (np.hypot(*after.T) > 1e-9)
    turn = np.degrees(
        np.abs(
            np.arctan2(
                before[:, 1] * -after[:, 0] + before[:, 0] * after[:, 1], -(before * after).sum(axis=1)
            )
        )
    )
    corners = ring[keep & (turn >= CORNER_DEG)]
    if len(corners) < 2:
        corners = ring[[int(np.argmin(ring[:, 1])), int(np.argmax(ring[:, 1]))]]
    apart = np.hypot(*(corners[:, None] - corners[None]).transpose(2, 0, 1))
    i, j = np.unravel_index(int(np.argmax(apart)), apart.shape)
    pair = corners[[int(i), int(j)]]
    first = 0 if (pair[0] @ [0.2, 1.0], pair[0][0]) <= (pair[1] @ [0.2, 1.0], pair[1][0]) else 1
    out: PointsMm = pair[[first, 1 - first]]
    return out
