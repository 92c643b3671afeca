"""Every tolerance of the geometry, with its unit and its reason. Nobody writes ``1e-6`` in a function body."""

from __future__ import annotations

from typing import Final

JOIN_MM: Final = 1e-6
"""Two ends count as the same point. A thousand times below anything a printer can draw, a thousand times
above what rounding adds up to over a metre of coordinates."""

ARC_LENGTH_REL: Final = 1e-11
"""Two quadratures of a stretch must agree so well, relative to its length. Promised outside: 1e-9."""

ARC_LENGTH_FLOOR: Final = 1e-13
"""Or they agree to this share of the length of their whole segment: what is left of a cusp after halving."""

ARC_LENGTH_DEPTH: Final = 48
"""Halvings before a stretch is taken as it is, so that the work ends whatever comes in."""

INVERSE_MM: Final = 1e-10
"""A parameter belongs to an arc length when it hits it so closely."""

FLATTEN_MM: Final = 0.05
"""Chord error of a flattened curve: a quarter of the line that a home printer draws."""

FLATTEN_FINE_MM: Final = 0.005
"""Chord error where crossings are looked for before they are polished."""

CROSSING_MM: Final = 1e-7
"""Two curves cross where polishing brings their points so close."""

SAME_PLACE_MM: Final = 1e-4
"""Crossings nearer than this are one crossing found twice."""

SPIKE_DEG: Final = 0.01
"""An outline that turns back on itself within this angle has no width there."""

RIGID_REL: Final = 1e-9
"""A move is rigid when it keeps lengths to this share."""

OFFSET_MM: Final = 0.01
"""Deviation allowed to the cubics of an offset curve: a fifth of the flattening, so that the sum stays
below it."""

CORNER_DEG: Final = 5.0
"""A joint inside an edge that turns by more is a corner; below it a tracing's noise may be all there is."""

STRAIGHT_MM: Final = 0.2
"""A curve that leaves its chord by no more is a straight line to a pencil."""
