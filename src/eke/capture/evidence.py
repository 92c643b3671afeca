"""What the picture shows about its own geometry, in a form that one least squares can take.

Words: a *body* is a flat thing of known or half-known shape that lies in the picture: a marker sheet, an A4 or
Letter sheet, a card, or the paper that carries the tracing. Body coordinates are millimetres, x right, y up,
origin in its middle. An *edge* of a body is a straight stretch; its evidence is many sub-pixel points along it.
An *extra* is a number that belongs to one body and is not exactly known: how far ink spreads, how far a sheet
may differ from its standard. Extras are either estimated (with a prior) or only *considered*: left at their
most likely value, while their tolerance goes into the stated uncertainty.

References
----------
ISO 216:2007, 4: A4 210 x 297 mm; tolerances 1.5 mm up to 150 mm, 2 mm above 150 up to 600 mm, taken here as
two standard deviations. ASME Y14.1 has none for Letter; paper trade practice is 1/32 to 1/16 in: the same
2 mm are taken. ISO/IEC 7810:2019: finished ID-1 cards 85.47-85.72 x 53.92-54.03 mm, 0.76 +- 0.08 mm thick.
D. Schmidt's consider analysis: B. D. Tapley, B. E. Schutz, G. H. Born, "Statistical Orbit Determination"
(2004), chapter 6.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from eke.capture.sheet import SheetGeometry

__all__ = [
    "A4_MM",
    "CARD_MM",
    "LETTER_MM",
    "Body",
    "BodyEdge",
    "BodyPose",
    "DistanceEvidence",
    "EdgeEvidence",
    "Extra",
    "LensPrior",
    "PointEvidence",
    "paper_body",
    "rectangle_body",
    "sheet_body",
]

Array = NDArray[np.float64]
BodyKind = Literal["sheet", "a4", "letter", "card", "paper"]

A4_MM = (210.0, 297.0)
LETTER_MM = (215.9, 279.4)
CARD_MM = (85.595, 53.975)
"""Middle of what ISO/IEC 7810 allows for a finished card; the nominal 85.60 x 53.98 lies 0.005 mm from it."""
CARD_CORNER_MM = 3.18
CARD_THICKNESS_MM = 0.76

SHEET_SIDE_SIGMA_MM = 1.0  # ISO 216: +-2 mm for sides of 150 to 600 mm, as two standard deviations
CARD_SIDE_SIGMA_MM = (0.0625, 0.0275)  # half of half the range allowed, for the long and the short side
CARD_THICKNESS_SIGMA_MM = 0.04
CHECK_READING_SIGMA_MM = 0.15  # a reading to half a millimetre at both ends of a good ruler
UNCHECKED_PRINT_SIGMA = 0.015  # printers at "actual size" are within 1 %; "fit to page" is 3 to 6 % off
PRINT_ASPECT_SIGMA = 0.0005  # the feed of a printer against its head, half of the relative difference
INK_SPREAD_SIGMA_MM = 0.06
PAPER_TILT_SIGMA_RAD = math.radians(0.03)  # 0.3 mm in 600: paper cut by machine or on a board
PAPER_STRAIGHT_SIGMA_MM = 0.1


@dataclass(frozen=True, slots=True)
class Extra:
    """A number of one body that is not exactly known; ``sigma`` is its prior (infinite: none)."""

    name: str
    sigma: float
    estimated: bool
    guess: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class BodyEdge:
    """A straight stretch from ``start_mm`` to ``end_mm`` with the outside to its right (bodies run CCW).

    ``offset_by`` and ``tilt_by``, one number per extra of the body: how far a unit of the extra moves the
    edge outwards (mm), or turns it about its middle (rad).
    """

    start_mm: tuple[float, float]
    end_mm: tuple[float, float]
    offset_by: tuple[float, ...]
    tilt_by: tuple[float, ...]
    polarity: int = 0
    trim_mm: float = 0.0

    @property
    def direction(self) -> Array:
        """Unit vector along the edge."""
        d = np.subtract(self.end_mm, self.start_mm)
        return np.asarray(d / np.hypot(*d), dtype=np.float64)

    @property
    def normal(self) -> Array:
        """Unit vector pointing out of the body."""
        d = self.direction
        return np.array([d[1], -d[0]])


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """A flat thing in the picture.

    ``scale`` is its most likely true size over its nominal size and ``scale_sigma`` the relative tolerance
    (0: exact). ``height_mm`` lifts its face above the plane. ``outline_mm`` is what it covers.
    """

    kind: BodyKind
    name: str
    edges: tuple[BodyEdge, ...]
    outline_mm: Array
    scale: float = 1.0
    scale_sigma: float = 0.0
    height_mm: float = 0.0
    extras: tuple[Extra, ...] = ()
    height_by: tuple[float, ...] = ()
    straight_sigma_mm: float = 0.0

    def with_scale(self, scale: float) -> Body:
        """The same body with another most likely size."""
        return replace(self, scale=scale)


@dataclass(frozen=True, slots=True, eq=False)
class EdgeEvidence:
    """Points measured along edge ``edge`` of body ``body``; ``step`` (n,) is how much the light changes there, from inside
    to outside (positive: the inside is brighter; between colours, as much as shifts the edge where bright things spread),
    ``seen`` (n,) how much that changes by which it was found."""

    body: int
    edge: int
    points_px: Array
    normals_px: Array
    step: Array
    seen: Array


@dataclass(frozen=True, slots=True, eq=False)
class PointEvidence:
    """Points (n, 2) of a body that were seen at pixels (n, 2), each known to ``sigma_px``."""

    body: int
    points_mm: Array
    points_px: Array
    sigma_px: float


@dataclass(frozen=True, slots=True)
class DistanceEvidence:
    """Two pixels whose plane points, ``height_mm`` above the paper, lie ``distance_mm`` apart."""

    from_px: tuple[float, float]
    to_px: tuple[float, float]
    distance_mm: float
    height_mm: float
    sigma_mm: float


@dataclass(frozen=True, slots=True)
class LensPrior:
    """What is known of the lens before looking: focal length in px (or None) and its relative sigma."""

    focal_px: float | None
    focal_sigma: float


@dataclass(frozen=True, slots=True)
class BodyPose:
    """Where a body lies: its middle in the plane, its turn, and its true size over nominal size."""

    middle_mm: tuple[float, float]
    turn_rad: float
    scale: float

    def place(self, points_mm: Array) -> Array:
        """Plane coordinates (n, 2) of body points (n, 2)."""
        c, s = math.cos(self.turn_rad), math.sin(self.turn_rad)
        p = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2) * self.scale
        return np.asarray(p @ np.array([[c, s], [-s, c]]) + self.middle_mm, dtype=np.float64)


def sheet_body(geometry: SheetGeometry, check_line_mm: float | None) -> Body:
    """A printed marker sheet: the sides of all its markers are edges, dark inside."""
    middle = np.array(geometry.sheet_mm) / 2.0
    flip = np.array([1.0, -1.0])
    edges = []
    for marker in geometry.markers:
        c = (np.asarray(marker.corners_mm) - middle) * flip
        c = c[::-1]  # clockwise on paper seen with y down is clockwise with y up; turned round it runs CCW
        cell = marker.side_mm / geometry.cells_across
        for a, b in zip(c, np.roll(c, -1, axis=0), strict=True):
            n = np.array([b[1] - a[1], a[0] - b[0]]) / np.hypot(*(b - a))
            mid = (a + b) / 2.0
            aspect = float(n[0] * mid[0] - n[1] * mid[1])
            edges.append(
                BodyEdge(
                    (float(a[0]), float(a[1])),
                    (float(b[0]), float(b[1])),
                    (1.0, aspect),
                    (0.0, 0.0),
                    -1,
                    cell / 2,
                )
            )
    scale, sigma = 1.0, UNCHECKED_PRINT_SIGMA
    if check_line_mm is not None and geometry.check_line is not None:
        scale = check_line_mm / geometry.check_line.nominal_mm
        sigma = CHECK_READING_SIGMA_MM / check_line_mm
    extras = (
        Extra("ink spread", INK_SPREAD_SIGMA_MM, True),
        Extra("print aspect", PRINT_ASPECT_SIGMA, False),
    )
    w, h = geometry.sheet_mm
    return Body("sheet", geometry.name, tuple(edges), _rectangle(w, h), scale, sigma, 0.0, extras, (0.0, 0.0))


def _rectangle(width: float, height: float) -> Array:
    x, y = width / 2.0, height / 2.0
    return np.array([[-x, -y], [x, -y], [x, y], [-x, y]])


def _sides(width: float, height: float) -> Sequence[tuple[tuple[float, float], tuple[float, float]]]:
    c = [(float(p[0]), float(p[1])) for p in _rectangle(width, height)]
    return [(c[i], c[(i + 1) % 4]) for i in range(4)]  # bottom, right, top, left


def rectangle_body(kind: Literal["a4", "letter", "card"]) -> Body:
    """An A4 or Letter sheet or a card, upright sizes as in the standard; first side the bottom one."""
    width, height = {"a4": A4_MM, "letter": LETTER_MM, "card": CARD_MM}[kind]
    if kind == "card":
        s1, s2 = CARD_SIDE_SIGMA_MM
        trim, face, thick = CARD_CORNER_MM + 1.0, CARD_THICKNESS_MM, CARD_THICKNESS_SIGMA_MM
    else:
        s1 = s2 = SHEET_SIDE_SIGMA_MM
        trim, face, thick = 4.0, 0.0, 0.0
    # both sides may be off independently: their mean is the scale, half their difference the aspect
    sigma = 0.5 * math.hypot(s1 / width, s2 / height)
    extras = [Extra("aspect", sigma, False)]
    if thick:
        extras.append(Extra("thickness", thick, False))
    edges = []
    for i, (a, b) in enumerate(_sides(width, height)):
        aspect = -height / 2.0 if i % 2 == 0 else width / 2.0
        edges.append(BodyEdge(a, b, (aspect, 0.0)[: len(extras)], (0.0, 0.0)[: len(extras)], 0, trim))
    name = {"a4": "A4 sheet", "letter": "Letter sheet", "card": "card"}[kind]
    height_by = (0.0, 1.0)[: len(extras)]
    return Body(
        kind, name, tuple(edges), _rectangle(width, height), 1.0, sigma, face, tuple(extras), height_by
    )


def paper_body(width_mm: float, height_mm: float, *, sides: Sequence[int] = (0, 1, 2, 3)) -> Body:
    """The paper that carries the tracing, cut straight and square, of unknown size.

    ``sides`` names which of bottom (0), right (1), top (2), left (3) are edges.
    """
    extras = [Extra("width", math.inf, True), Extra("height", math.inf, True)]
    extras += [Extra(f"tilt {i}", PAPER_TILT_SIGMA_RAD, True) for i in range(4)]
    edges = []
    for i, (a, b) in enumerate(_sides(width_mm, height_mm)):
        if i not in sides:
            continue
        offset = [0.0, 0.5, *([0.0] * 4)] if i % 2 == 0 else [0.5, 0.0, *([0.0] * 4)]
        tilt = [0.0] * 6
        tilt[2 + i] = 1.0
        edges.append(BodyEdge(a, b, tuple(offset), tuple(tilt), 0, 6.0))
    return Body(
        "paper",
        "paper",
        tuple(edges),
        _rectangle(width_mm, height_mm),
        extras=tuple(extras),
        height_by=(0.0,) * 6,
        straight_sigma_mm=PAPER_STRAIGHT_SIGMA_MM,
    )
