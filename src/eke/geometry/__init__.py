"""Curves of lines and cubic Béziers: arc length, crossings, offsets, fairing, rigid moves, polygons.

No garment word in here. Start at :mod:`eke.geometry.path`.
"""

from eke.geometry.crossings import Crossing, intersections, line_crossings, self_crossings
from eke.geometry.ends import with_end_direction
from eke.geometry.fairing import (
    Fit,
    curvature_extrema,
    deviation_mm,
    fair_path,
    fit_cubics,
    looks_straight,
    straightness_mm,
)
from eke.geometry.move import Move, Pt
from eke.geometry.offset import offset_edge
from eke.geometry.path import Nearest, Path
from eke.geometry.polygon import (
    Trouble,
    centroid,
    contains,
    counter_clockwise,
    is_ccw,
    path_area_mm2,
    require_simple,
    signed_area_mm2,
    trouble_of,
)
from eke.geometry.rigid import Registration, best_move, register
from eke.geometry.rows import path_from_json, path_to_json
from eke.geometry.segments import Cubic, Line, Segment

__all__ = [
    "Crossing",
    "Cubic",
    "Fit",
    "Line",
    "Move",
    "Nearest",
    "Path",
    "Pt",
    "Registration",
    "Segment",
    "Trouble",
    "best_move",
    "centroid",
    "contains",
    "counter_clockwise",
    "curvature_extrema",
    "deviation_mm",
    "fair_path",
    "fit_cubics",
    "intersections",
    "is_ccw",
    "line_crossings",
    "looks_straight",
    "offset_edge",
    "path_area_mm2",
    "path_from_json",
    "path_to_json",
    "register",
    "require_simple",
    "self_crossings",
    "signed_area_mm2",
    "straightness_mm",
    "trouble_of",
    "with_end_direction",
]
