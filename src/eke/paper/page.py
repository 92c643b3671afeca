"""Pages as data: what lies where on a sheet of paper, in millimetres, with no word about PDF or SVG.

Words used here:

page
    a sheet of ``width_mm`` × ``height_mm`` with things on it; the origin is its lower left corner, y up
stroke
    lines drawn with one style
area
    a filled shape; rings are filled by the even-odd rule, so that a ring inside another is a hole
words
    one line of text
picture
    a photograph or other picture, named by a key; whoever writes the page brings its bytes
group
    things moved, turned and cut off together

Points are float64 arrays of shape (n, 2). What the words look like is a role, not a font: the doors in
``eke.formats`` know the fonts, and lend their widths through :class:`TextMetrics`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, Literal, Protocol, TypeAlias

import numpy as np
import numpy.typing as npt

from eke.errors import BadInput
from eke.paper.styles import INK, LineStyle

PointsMm: TypeAlias = npt.NDArray[np.float64]
"""Points in mm, shape (n, 2)."""

Role = Literal["title", "sentence", "measure", "strong"]
"""``title``: warm serif, heavier; ``sentence``: the same serif, plain; ``measure``: clear sans with figures of
one width; ``strong``: the same sans, bold."""
Anchor = Literal["start", "middle", "end"]
Fit = Literal["whole", "fill"]
"""How a picture sits in its box: ``whole`` picture visible, or the box ``fill``-ed and the rest cut off."""

LEAST_SIZE_MM: Final = 16 / 96 * 25.4
"""The smallest writing on any page: 16 CSS pixels (12 points), legible at arm's length on a cutting table."""


class TextMetrics(Protocol):
    """How wide words are. Whoever knows the fonts passes one of these in."""

    def width_mm(self, text: str, role: Role, size_mm: float) -> float:
        """Return the advance width of ``text`` in mm at an em of ``size_mm``."""
        ...

    def cap_height_mm(self, role: Role, size_mm: float) -> float:
        """Return the height of a capital letter in mm at an em of ``size_mm``."""
        ...


def points(xy: npt.ArrayLike) -> PointsMm:
    """Return ``xy`` as an (n, 2) float64 array.

    Raises
    ------
    BadInput
        When it holds anything but finite pairs of numbers.
    """
    array = np.asarray(xy, dtype=np.float64)
    if array.ndim != 2 or array.shape[1] != 2 or not np.isfinite(array).all():
        raise BadInput("A line on a page needs points with two finite numbers each, in mm.")
    return array


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """Lines in one style; a ``closed`` one returns to its first point (which is not repeated)."""

    lines: tuple[PointsMm, ...]
    style: LineStyle
    closed: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Area:
    """A filled shape, even-odd, without an outline."""

    rings: tuple[PointsMm, ...]
    colour: str = INK


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text whose baseline starts, is centred or ends at (x, y); ``size_mm`` is the em."""

    text: str
    x_mm: float
    y_mm: float
    size_mm: float
    role: Role = "measure"
    anchor: Anchor = "start"
    turn_deg: float = 0.0
    colour: str = INK


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture named ``key`` in the box whose lower left corner is (x, y); its shape is never distorted."""

    key: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    fit: Fit = "whole"
    says: str = ""
    """What the picture shows, for those who cannot see it."""


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Things turned about the origin, then moved, then cut off outside ``clip`` (one ring in page mm)."""

    items: tuple[Item, ...]
    dx_mm: float = 0.0
    dy_mm: float = 0.0
    turn_deg: float = 0.0
    clip: PointsMm | None = None


Item: TypeAlias = Stroke | Area | Words | Picture | Group


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """One sheet. ``name`` is what a maker calls it (“B3”, “Lay plan”)."""

    width_mm: float
    height_mm: float
    items: tuple[Item, ...] = field(default=())
    name: str = ""

    def __post_init__(self) -> None:
        if not (self.width_mm > 0 and self.height_mm > 0):
            raise BadInput(f"A page of {self.width_mm:g} × {self.height_mm:g} mm has no room for anything.")


def rectangle(x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> PointsMm:
    """Return the four corners of an upright rectangle, counter-clockwise from the lower left."""
    return np.array(
        [
            [x_mm, y_mm],
            [x_mm + width_mm, y_mm],
            [x_mm + width_mm, y_mm + height_mm],
            [x_mm, y_mm + height_mm],
        ]
    )


def segment(x0_mm: float, y0_mm: float, x1_mm: float, y1_mm: float) -> PointsMm:
    """Return a straight line of two points."""
    return np.array([[x0_mm, y0_mm], [x1_mm, y1_mm]])


def disc(x_mm: float, y_mm: float, radius_mm: float, *, sides: int = 40) -> PointsMm:
    """Return a circle as a polygon of ``sides`` corners (40: within 0.3 % of its radius)."""
    angle_rad = np.linspace(0.0, 2 * np.pi, sides, endpoint=False)
    return np.column_stack([x_mm + radius_mm * np.cos(angle_rad), y_mm + radius_mm * np.sin(angle_rad)])


def moved(xy: PointsMm, dx_mm: float, dy_mm: float, turn_deg: float = 0.0) -> PointsMm:
    """Return points turned about the origin and then moved."""
    if turn_deg:
        c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
        xy = xy @ np.array([[c, s], [-s, c]])
    out: PointsMm = xy + np.array([dx_mm, dy_mm])
    return out


def flat(
    items: Sequence[Item], dx_mm: float = 0.0, dy_mm: float = 0.0, turn_deg: float = 0.0
) -> Iterator[Stroke | Area | Words | Picture]:
    """Yield the things on a page in page coordinates, groups taken apart; clips are not applied.

    A picture is never turned: it keeps its size and moves with its lower left corner.
    """
    for item in items:
        if isinstance(item, Group):
            at = moved(np.array([[item.dx_mm, item.dy_mm]]), dx_mm, dy_mm, turn_deg)[0]
            yield from flat(item.items, float(at[0]), float(at[1]), turn_deg + item.turn_deg)
        elif isinstance(item, Stroke):
            yield replace(item, lines=tuple(moved(line, dx_mm, dy_mm, turn_deg) for line in item.lines))
        elif isinstance(item, Area):
            yield replace(item, rings=tuple(moved(ring, dx_mm, dy_mm, turn_deg) for ring in item.rings))
        else:
            at = moved(np.array([[item.x_mm, item.y_mm]]), dx_mm, dy_mm, turn_deg)[0]
            if isinstance(item, Words):
                yield replace(item, x_mm=float(at[0]), y_mm=float(at[1]), turn_deg=item.turn_deg + turn_deg)
            else:
                yield replace(item, x_mm=float(at[0]), y_mm=float(at[1]))


def words_box(words: Words, metrics: TextMetrics) -> PointsMm:
    """Return the four corners of the box that words fill: from a little below the baseline to the ascenders."""
    width = metrics.width_mm(words.text, words.role, words.size_mm)
    left = {"start": 0.0, "middle": -width / 2, "end": -width}[words.anchor]
    box = rectangle(left, -0.22 * words.size_mm, width, 1.0 * words.size_mm)
    return moved(box, words.x_mm, words.y_mm, words.turn_deg)
