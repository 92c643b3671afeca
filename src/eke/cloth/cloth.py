"""A real piece of cloth: its shape, what is wrong with it, and how its threads run.

Words
-----
warp, weft
    The threads along the length of the cloth as woven (along the selvedge), and those across it.
grain_deg
    The direction in which the warp runs in the cloth's own frame, counter-clockwise from +x. On cloth
    with a direction (nap ``"one-way"``) it is the direction in which the top of every piece points.
flaw
    A place that is not good enough for every piece: a stain, a thin or faded place, a mended tear. Its
    ``quality`` says what it is still good for. A hole is a hole, and no flaw.

The outline and everything on it are mm in the cloth's own frame, right side up, x to the right, y up.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from shapely import affinity, make_valid, normalize
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union
from shapely.validation import explain_validity

from eke.errors import BadInput, BadShape
from eke.units import Money

Ring = tuple[tuple[float, float], ...]
"""A closed outline, counter-clockwise, the first point not repeated, mm."""

Nap = Literal["none", "one-way"]
Quality = Literal[0, 1, 2, 3]
"""0 good for nothing; 1 good where nobody looks (facing, lining, mounting); 2 good for small or low
parts of the outside; 3 sound. A cloth is of quality 3 outside its flaws."""

SOUND: Final[Quality] = 3
HIDDEN: Final[Quality] = 1

LEAST_AREA_MM2: Final = 1.0
"""Smaller than a square millimetre is no cloth but a slip of the hand."""
SPLIT_OFF_SHARE: Final = 0.02
"""A corner smaller than this share of the cloth, parted from it by a hole, is dropped without a word."""
SAME_POINT_MM: Final = 1e-6
"""Two points nearer than a nanometre are one point."""


@dataclass(frozen=True, slots=True)
class Flaw:
    """A place with something wrong: what ``kind``, and of what ``quality`` the cloth is there."""

    id: str
    polygon: Ring
    kind: str = "flaw"
    quality: Quality = 0

    def __post_init__(self) -> None:
        object.__setattr__(self, "polygon", clean_ring(self.polygon, f"The {self.kind}"))
        if self.quality not in (0, 1, 2):
            raise BadInput(
                f"The quality of a flaw is 0 (good for nothing), 1 (where nobody looks) or 2 (small outer parts), "
                f"not {self.quality}."
            )


@dataclass(frozen=True, slots=True)
class Cloth:
    """A piece of cloth as it lies, right side up.

    Parameters
    ----------
    outline, holes
        Its shape in mm. A hole that crosses the edge is taken out of the outline.
    grain_deg
        Direction of the warp (see above); ``None`` while nobody knows.
    same_face
        Both sides look alike, so a piece may be cut from either.
    repeat_mm
        Repeat of stripes or checks along the warp and along the weft; ``None`` where there is none.
    weight_gsm
        Grams per square metre.
    shrink_warp_percent, shrink_weft_percent
        What the first wash will take, (before − after) / before × 100; it has been taken once ``washed``.
    price
        What it cost, where no purchase in the ledger names it.
    origin, second_hand
        Where it comes from, in words; whether somebody used it before.
    hottest_wash_deg, tumble_dry
        What it stands, where that is known.
    parent
        The cloth that this is an offcut of.
    """

    id: str
    name: str
    outline: Ring
    holes: tuple[Ring, ...] = ()
    flaws: tuple[Flaw, ...] = ()
    grain_deg: float | None = None
    same_face: bool = False
    nap: Nap = "none"
    repeat_mm: tuple[float | None, float | None] = (None, None)
    weight_gsm: float | None = None
    shrink_warp_percent: float = 0.0
    shrink_weft_percent: float = 0.0
    price: Money | None = None
    origin: str = ""
    second_hand: bool = False
    hottest_wash_deg: int | None = None
    tumble_dry: bool | None = None
    washed: bool = False
    fibre: str = ""
    uncertainty_mm: float = 0.0
    parent: str | None = None
    photos: tuple[str, ...] = field(default=())

    def __post_init__(self) -> None:
        outline, holes = _outline_and_holes(self.name, self.outline, self.holes)
        object.__setattr__(self, "outline", outline)
        object.__setattr__(self, "holes", holes)
        if self.grain_deg is not None:
            if not math.isfinite(self.grain_deg):
                raise BadInput(f"The grain of “{self.name}” needs a direction in degrees.")
            object.__setattr__(self, "grain_deg", self.grain_deg % 360.0)
        if self.nap not in ("none", "one-way"):
            raise BadInput(f"The nap of “{self.name}” is none or one-way, not “{self.nap}”.")
        for percent in (self.shrink_warp_percent, self.shrink_weft_percent):
            if not -20.0 <= percent < 60.0:
                raise BadInput(
                    f"“{self.name}” cannot shrink by {percent:g} %. Measure a square before and after a wash: "
                    "(before − after) / before × 100."
                )
        if self.weight_gsm is not None and not self.weight_gsm > 0:
            raise BadInput(
                f"“{self.name}” cannot weigh {self.weight_gsm:g} g/m². Weigh it again, or leave it open."
            )
        for repeat_mm in self.repeat_mm:
            if repeat_mm is not None and not repeat_mm > 0:
                raise BadInput(f"A repeat of “{self.name}” must be above 0 mm, not {repeat_mm:g}.")
        ids = [flaw.id for flaw in self.flaws]
        if len(set(ids)) < len(ids):
            raise BadInput(f"Two flaws of “{self.name}” have the same id.")

    @property
    def polygon(self) -> Polygon:
        """Outline less holes, as a shapely polygon in mm."""
        return Polygon(self.outline, self.holes)

    @property
    def area_mm2(self) -> float:
        """Area of the cloth, holes left out, flaws counted."""
        return float(self.polygon.area)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Extent along the weft and along the warp (along x and y while the grain is unknown), in mm."""
        turned = affinity.rotate(
            Polygon(self.outline), 90.0 - (90.0 if self.grain_deg is None else self.grain_deg)
        )
        x0, y0, x1, y1 = turned.bounds
        return x1 - x0, y1 - y0

    def usable(self, least: Quality = SOUND) -> tuple[Polygon, ...]:
        """The parts of the cloth that are at least of quality ``least``, largest first."""
        bad = [Polygon(flaw.polygon) for flaw in self.flaws if flaw.quality < least]
        return polygons(self.polygon.difference(unary_union(bad)) if bad else self.polygon)

    def usable_area_mm2(self, least: Quality = SOUND) -> float:
        """Area of :meth:`usable` in mm²."""
        return float(sum(part.area for part in self.usable(least)))

    def with_flaw(self, flaw: Flaw) -> Cloth:
        """Return the cloth with ``flaw`` marked, or marked anew when its id is known.

        Raises
        ------
        BadInput
            When no part of the flaw lies on the cloth.
        """
        if Polygon(flaw.polygon).intersection(self.polygon).area < LEAST_AREA_MM2:
            raise BadInput(f"The {flaw.kind} does not lie on “{self.name}”. Mark it on the cloth.")
        return replace(self, flaws=(*(f for f in self.flaws if f.id != flaw.id), flaw))


def clean_ring(points: Sequence[Sequence[float]] | NDArray[np.float64], what: str) -> Ring:
    """Return ``points`` as a proper ring: closed, counter-clockwise, no point twice in a row.

    Raises
    ------
    BadShape
        When it has fewer than three corners, no area, a number that is none, or crosses itself.
    """
    try:
        array = np.asarray(points, dtype=np.float64)
    except (TypeError, ValueError):
        array = np.zeros(1)
    if array.size and (array.ndim != 2 or array.shape[1] != 2):
        raise BadShape(f"{what} needs an outline of points, each with x and y in millimetres.")
    if not np.isfinite(array).all():
        raise BadShape(f"{what} has a corner without a proper number. Measure that corner again.")
    kept = [
        tuple(map(float, p)) for i, p in enumerate(array) if np.abs(p - array[i - 1]).max() > SAME_POINT_MM
    ]
    if len(kept) < 3:
        raise BadShape(f"{what} has {len(kept)} corners. An outline needs at least three.")
    shape = Polygon(kept)
    if not shape.is_valid:
        raise BadShape(
            f"{what} has an outline that crosses itself ({_where(shape)}). Draw that stretch again."
        )
    if shape.area < LEAST_AREA_MM2:
        raise BadShape(f"{what} has no area. Check the outline and the unit that it was measured in.")
    ring = kept if shape.exterior.is_ccw else kept[::-1]
    return tuple((p[0], p[1]) for p in ring)


def polygons(shape: BaseGeometry, least_mm2: float = LEAST_AREA_MM2) -> tuple[Polygon, ...]:
    """The polygons in ``shape`` of at least that area, largest first; lines and points are dropped."""
    if not shape.is_valid:
        shape = make_valid(shape)
    parts: Iterable[BaseGeometry] = getattr(shape, "geoms", (shape,))
    found: list[Polygon] = []
    for part in parts:
        if isinstance(part, Polygon):
            found += [part] if part.area >= least_mm2 else []
        elif isinstance(part, MultiPolygon) or hasattr(part, "geoms"):
            found += polygons(part, least_mm2)
    return tuple(sorted(found, key=lambda part: (-part.area, part.bounds)))


def ring_of(ring_like: Iterable[Sequence[float]]) -> Ring:
    """Return a shapely ring's coordinates as a counter-clockwise :data:`Ring`."""
    points = [(float(x), float(y)) for x, y, *_ in ring_like]
    if points[0] == points[-1]:
        points = points[:-1]
    return tuple(points if Polygon(points).exterior.is_ccw else points[::-1])


def _where(shape: Polygon) -> str:
    """Where an outline crosses itself, from shapely's explanation "Self-intersection[12 40]"."""
    place = explain_validity(shape).partition("[")[2].partition("]")[0].split()
    try:
        x_mm, y_mm = (float(number) for number in place[:2])
    except ValueError:
        return "place not found"
    return f"near {x_mm:.0f}, {y_mm:.0f} mm"


def _outline_and_holes(
    name: str, outline: Sequence[Sequence[float]], holes: Sequence[Sequence[Sequence[float]]]
) -> tuple[Ring, tuple[Ring, ...]]:
    outer = clean_ring(outline, f"“{name}”")
    if not holes:
        return outer, ()
    whole = Polygon(outer)
    rings = [clean_ring(hole, f"A hole in “{name}”") for hole in holes]
    for number, ring in enumerate(rings, start=1):
        if Polygon(ring).intersection(whole).area < min(LEAST_AREA_MM2, Polygon(ring).area / 2):
            raise BadShape(f"Hole {number} does not lie in “{name}”. Mark it on the cloth, or leave it out.")
    if all(whole.contains_properly(Polygon(ring)) for ring in rings) and not any(
        Polygon(a).intersects(Polygon(b)) for i, a in enumerate(rings) for b in rings[:i]
    ):
        return outer, tuple(rings)
    parts = polygons(whole.difference(unary_union([Polygon(ring) for ring in rings])))
    if not parts:
        raise BadShape(f"The holes leave nothing of “{name}”.")
    if len(parts) > 1 and parts[1].area > SPLIT_OFF_SHARE * parts[0].area:
        raise BadShape(
            f"A hole parts “{name}” into {len(parts)} pieces. Enter each piece as a cloth of its own."
        )
    largest = normalize(parts[0])
    return ring_of(largest.exterior.coords), tuple(ring_of(r.coords) for r in largest.interiors)
