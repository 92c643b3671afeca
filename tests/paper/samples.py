"""Pieces to draw in tests: a child's pinafore in plain numbers, with straight and curved edges."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from eke.paper.base_line import Flaw, LaidCloth, LaidPiece
from eke.paper.drawn import (
    DrawnEdge,
    DrawnGrain,
    DrawnLine,
    DrawnNotch,
    DrawnPiece,
    DrawnPoint,
    at,
)
from eke.paper.page import disc, rectangle


def curve(a, b, c, d, n=24):
    """A cubic through its control points, both ends included."""
    t = np.linspace(0, 1, n)[:, None]
    a, b, c, d = (np.array(p, float) for p in (a, b, c, d))
    return (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t * t * c + t**3 * d


def line(*xy):
    return np.array(xy, float)


def with_allowance(edges, allowance_mm):
    """The cutting ring: every edge grown by the allowance but the folds."""
    ring = np.vstack([e.points[:-1] for e in edges])
    net = shapely.Polygon(ring)
    cut = net.buffer(allowance_mm, join_style="mitre", mitre_limit=3)
    for edge in edges:
        if edge.kind == "fold":
            (x0, y0), (x1, y1) = edge.points[0], edge.points[-1]
            u = np.array([x1 - x0, y1 - y0]) / np.hypot(x1 - x0, y1 - y0)
            out = np.array([u[1], -u[0]]) * 200
            a, b = np.array([x0, y0]) - u * 500, np.array([x1, y1]) + u * 500
            cut = cut.difference(shapely.Polygon([a, b, b + out, a + out]))
    return (
        np.array(cut.exterior.coords)[:-1][::-1]
        if not cut.exterior.is_ccw
        else np.array(cut.exterior.coords)[:-1]
    )


def piece(number, name, edges, allowance_mm=10.0, **more):
    edges = tuple(DrawnEdge(points, kind, 0.0 if kind == "fold" else allowance_mm) for points, kind in edges)
    return DrawnPiece(number, name, (with_allowance(edges, allowance_mm),), edges, **more)


def front():
    return piece(
        "1",
        "Front",
        [
            (line((0, 0), (150, 0)), "hem"),
            (line((150, 0), (128, 420), (120, 520)), "seam"),
            (curve((120, 520), (105, 560), (95, 600), (100, 650)), "seam"),
            (line((100, 650), (55, 665)), "seam"),
            (curve((55, 665), (50, 620), (30, 600), (0, 600)), "seam"),
            (line((0, 600), (0, 0)), "fold"),
        ],
        notches=(DrawnNotch(134, 305, 3), DrawnNotch(101.5, 600, 0)),
        points=(DrawnPoint(75, 480, "apex", "bust"),),
        lines=(DrawnLine(line((0, 420), (128, 420)), "balance", "waist"),),
        grain=DrawnGrain(40, 80, 40, 380),
        labels=("cut 1 on the fold", "outer cloth"),
    )


def side_front():
    return piece(
        "2",
        "Side front",
        [
            (line((0, 0), (170, 0)), "hem"),
            (line((170, 0), (130, 420), (135, 520)), "seam"),
            (curve((135, 520), (110, 520), (85, 540), (70, 590)), "seam"),
            (curve((70, 590), (40, 560), (30, 520), (30, 420)), "seam"),
            (line((30, 420), (0, 0)), "seam"),
        ],
        notches=(DrawnNotch(150, 210, 5, 2), DrawnNotch(21.8, 305, 176)),
        lines=(DrawnLine(line((30, 420), (130, 420)), "balance", "waist"),),
        grain=DrawnGrain(80, 80, 80, 380),
        labels=("cut 2, a pair", "outer cloth"),
    )


def pocket():
    return piece(
        "3",
        "Pocket",
        [
            (line((0, 0), (130, 0)), "seam"),
            (line((130, 0), (130, 140)), "seam"),
            (line((130, 140), (0, 140)), "hem"),
            (line((0, 140), (0, 0)), "seam"),
        ],
        points=(DrawnPoint(20, 110), DrawnPoint(110, 110)),
        grain=DrawnGrain(65, 20, 65, 120, one_way=True),
        labels=("cut 2",),
    )


def strap():
    return piece(
        "4",
        "Strap",
        [
            (line((0, 0), (40, 0)), "seam"),
            (line((40, 0), (40, 460)), "seam"),
            (line((40, 460), (0, 460)), "seam"),
            (line((0, 460), (0, 0)), "seam"),
        ],
        points=(DrawnPoint(20, 430, "buttonhole"), DrawnPoint(20, 30, "button")),
        grain=DrawnGrain(10, 120, 10, 340),
        labels=("cut 2",),
    )


def tab():
    """A piece too small for its words."""
    return piece(
        "5",
        "Tab",
        [
            (line((0, 0), (4, 0)), "seam"),
            (line((4, 0), (4, 3)), "seam"),
            (line((4, 3), (0, 3)), "seam"),
            (line((0, 3), (0, 0)), "seam"),
        ],
        allowance_mm=1.0,
    )


def pinafore():
    return (front(), side_front(), pocket(), strap(), tab())


CURTAIN = LaidCloth(
    "Curtain",
    np.array([[0, 0], [1150, 10], [1155, 1480], [0, 1500.0]]),
    holes=(disc(640, 700, 35),),
    flaws=(Flaw(rectangle(900, 1200, 100, 100), "faded"),),
    selvedges=(np.array([[0, 1500], [0, 0.0]]),),
    facts=("right side up",),
)
LAID = (
    LaidPiece(at(front(), 20, 30)),
    LaidPiece(at(side_front(), 210, 30)),
    LaidPiece(at(side_front(), 620, 30, mirror=True), 0, True),
    LaidPiece(at(replace(pocket(), role="lining"), 700, 100)),
    LaidPiece(at(strap(), 940, 800, 30), 30),
    LaidPiece(at(tab(), 1050, 200, 180), 180),
)


def bias_strip():
    """A strip cut on the bias: long, thin, and lying aslant since its grain runs up."""
    ring = np.array([[0, 0], [20, -20], [380, 340], [360, 360.0]])
    return DrawnPiece("8", "Binding", (ring,), labels=("cut 3", "on the bias"))
