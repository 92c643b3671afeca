"""From a photograph to millimetres: references, lens, rectification, drawn lines, pin-pricks, cloth, weave.

The usual way in is :func:`eke.capture.trace.trace`. The names below are loaded when first used, because the sheet's geometry is
also wanted where no picture library should be (the pages of ``eke.paper``).
"""

from __future__ import annotations

import importlib
from typing import Any

__all__ = [
    "Photo",
    "Rectified",
    "Reference",
    "SheetGeometry",
    "Survey",
    "Trace",
    "TracedCloth",
    "TracedPiece",
    "marker_cells",
    "own_sheet",
    "parse_reference",
    "parse_sheet_geometry",
    "trace_json",
]

_HOMES = {
    "Photo": "photo",
    "Rectified": "rectify",
    "Reference": "references",
    "SheetGeometry": "sheet",
    "Survey": "survey",
    "Trace": "trace",
    "TracedCloth": "trace",
    "TracedPiece": "trace",
    "marker_cells": "sheet",
    "own_sheet": "sheet",
    "parse_reference": "references",
    "parse_sheet_geometry": "sheet",
    "trace_json": "trace",
}


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(f"{__name__}.{home}"), name)
