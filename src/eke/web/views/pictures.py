"""Small live pictures."""

from __future__ import annotations

import math
from typing import Final

from eke.actions.sketches import Sketch
from eke.web.models.common import Picture, PictureLine
from eke.web.views.rounding import points

ACROSS: Final = 1000.0
"""A picture is drawn to about this many steps across: finer than it is ever shown."""


def picture_view(sketch: Sketch) -> Picture:
    """Return a sketch as a picture, its coordinates no finer than can be seen."""
    size = max(sketch.width, sketch.height, 1e-9)
    digits = max(0, math.ceil(-math.log10(size / ACROSS)))
    return Picture(
        width=round(sketch.width, digits),
        height=round(sketch.height, digits),
        lines=[
            PictureLine(points=points(line.points, digits), closed=line.closed, ink=line.ink)
            for line in sketch.lines
        ],
        photo=sketch.photo,
    )
