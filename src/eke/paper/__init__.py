"""What goes on paper, as pure page plans: data first, files later (see :mod:`eke.formats`).

A page plan says what lies where in millimetres. It knows lines by their meaning and words by their role;
nothing here knows PDF, SVG or a font. Widths of words are passed in.
"""

from __future__ import annotations

from eke.paper.drawn import (
    DrawnEdge,
    DrawnGrain,
    DrawnLine,
    DrawnNotch,
    DrawnPiece,
    DrawnPoint,
    piece_items,
)
from eke.paper.page import (
    LEAST_SIZE_MM,
    Area,
    Group,
    Item,
    Page,
    Picture,
    PointsMm,
    Role,
    Stroke,
    TextMetrics,
    Words,
)
from eke.paper.sheet import PatternSheet, arrange
from eke.paper.sizes import PAPERS, Paper, paper_named
from eke.paper.tiling import Tile, Tiling, cell_of, tile, tiled_pages, whole_page

__all__ = [
    "LEAST_SIZE_MM",
    "PAPERS",
    "Area",
    "DrawnEdge",
    "DrawnGrain",
    "DrawnLine",
    "DrawnNotch",
    "DrawnPiece",
    "DrawnPoint",
    "Group",
    "Item",
    "Page",
    "Paper",
    "PatternSheet",
    "Picture",
    "PointsMm",
    "Role",
    "Stroke",
    "TextMetrics",
    "Tile",
    "Tiling",
    "Words",
    "arrange",
    "cell_of",
    "paper_named",
    "piece_items",
    "tile",
    "tiled_pages",
    "whole_page",
]
