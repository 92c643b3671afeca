"""What was found in a picture, in mm: the values that leave this folder for outlines, marks and cloth.

All points are in the plane of the paper or cloth: millimetres, x to the right, y **up**; outlines are closed
(first point not repeated) and counter-clockwise.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["FoundCloth", "FoundMark", "FoundPiece", "FoundSegment", "MarkKind", "Points", "SegmentKind"]

Points = NDArray[np.float64]
"""``(n, 2)`` points in mm."""

MarkKind = Literal["notch", "grain", "line", "point"]
SegmentKind = Literal["line", "cubic"]

FoundSegment = tuple[SegmentKind, Points]
"""``("line", 2 points)`` or ``("cubic", 4 control points)``, in the order of the outline."""


@dataclass(frozen=True, slots=True, eq=False)
class FoundMark:
    """A mark inside or on an outline.

    Parameters
    ----------
    kind
        ``notch`` (first point lies on the outline), ``grain`` (from end to end), ``line`` (a dart leg, a
        waist line: an open chain of points) or ``point`` (a cross or a dot: one point).
    points_mm
        ``(n, 2)``, y up.
    """

    kind: MarkKind
    points_mm: Points


@dataclass(frozen=True, slots=True, eq=False)
class FoundPiece:
    """One outline that was drawn or pricked on paper.

    Parameters
    ----------
    outline_mm
        ``(n, 2)``, closed, counter-clockwise, flattened from ``segments`` to 0.05 mm.
    segments
        The chain of lines and cubics; each begins where the one before ends, the last ends where the first
        begins.
    corners_mm
        ``(c, 2)``; the places where two edges meet at an angle.
    marks
        Notches, grain line, lines and points that belong to this piece.
    drawn_sigma_mm
        Standard deviation of the outline against the middle of the drawn line, across the line. It says
        nothing about the scale of the picture.
    warnings
        Sentences for the maker.
    """

    outline_mm: Points
    segments: tuple[FoundSegment, ...]
    corners_mm: Points
    marks: tuple[FoundMark, ...]
    drawn_sigma_mm: float
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class FoundCloth:
    """One cloth lying on a floor or table.

    Parameters
    ----------
    outline_mm
        ``(n, 2)``, closed, counter-clockwise; the edge of the whole cloth, frayed threads left out.
    holes_mm, flaws_mm
        Closed outlines of holes, and of places that look stained or faded (proposed, for the maker to
        confirm).
    grain_deg
        Direction of one of the two thread systems, 0 ≤ … < 180 from the x axis, or None where the picture
        does not show the threads. It does not say which of the two is the warp.
    repeat_mm
        Repeat of stripes or checks along ``grain_deg`` and across it; None where there is none.
    mean_rgb
        Mean colour, 0-255.
    sigma_mm
        Standard deviation of the outline across the edge.
    warnings
        Sentences for the maker.
    """

    outline_mm: Points
    holes_mm: tuple[Points, ...]
    flaws_mm: tuple[Points, ...]
    grain_deg: float | None
    repeat_mm: tuple[float | None, float | None]
    mean_rgb: tuple[float, float, float]
    sigma_mm: float
    warnings: tuple[str, ...] = field(default=())
