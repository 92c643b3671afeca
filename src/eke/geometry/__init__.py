"""Curves of lines and cubic Béziers: arc length, crossings, offsets, fairing, rigid moves, polygons.

No garment word in here. Start at :mod:`eke.geometry.path`.
"""

from eke.geometry.crossings import Crossing, intersections, self_crossings
from eke.geometry.path import (
    Cubic,
    Line,
    Move,
    Nearest,
    Path,
    Pt,
    Segment,
    path_from_json,
    path_to_json,
)

__all__ = [
    "Crossing",
    "Cubic",
    "Line",
    "Move",
    "Nearest",
    "Path",
    "Pt",
    "Segment",
    "intersections",
    "path_from_json",
    "path_to_json",
    "self_crossings",
]
