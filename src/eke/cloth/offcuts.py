"""What is left of a cloth after cutting: offcuts with their true shapes.

The scissors take the pieces and a hair around them (the kerf). Of the rest, strips narrower than a
finger and parts too small to be of use are waste; what remains are offcuts, in the parent's own frame, so
that the grain keeps its direction and taking the cut back needs no turning.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from shapely.geometry import Polygon
from shapely.ops import unary_union

from eke.cloth.cloth import Cloth, Flaw, polygons, ring_of
from eke.errors import BadInput

KERF_MM: Final = 1.0
"""What shears and a hand take beside the line (common practice)."""
LEAST_WIDTH_MM: Final = 20.0
"""Strips narrower than this are waste: a finished binding of 5 mm needs 20 mm of cloth."""
LEAST_AREA_MM2: Final = 5_000.0
"""Parts smaller than this are waste: 5 × 10 cm, a pocket flap."""
ON_CLOTH_MM2: Final = 25.0
"""A piece may reach over the cloth's edge by this area before it is refused: a rounding at a long edge."""
NOTHING_MM: Final = 1e-3
"""Kerfs and widths below a micrometre are none; the geometry library is not at ease with them."""
MITRE: Final = 2.5
"""How far a corner may be drawn out when the width is tested, as a multiple; keeps square corners whole."""
SMOOTH_MM: Final = 0.05
"""Corners nearer than this to a straight line are dropped from an offcut; the shape only shrinks."""


@dataclass(frozen=True, slots=True)
class Rest:
    """The rest of a cloth: ``kept`` parts, largest first, and areas in mm².

    ``cut_mm2`` (the pieces), ``waste_mm2`` (kerf, narrow and small parts) and the kept parts add up to the
    cloth.
    """

    kept: tuple[Polygon, ...]
    cut_mm2: float
    waste_mm2: float


def rest_of(
    cloth: Cloth,
    pieces: Sequence[Polygon],
    *,
    kerf_mm: float = KERF_MM,
    least_width_mm: float = LEAST_WIDTH_MM,
    least_area_mm2: float = LEAST_AREA_MM2,
) -> Rest:
    """Return what is left of ``cloth`` after ``pieces`` (cut outlines in the cloth's frame) are cut out.

    Raises
    ------
    BadInput
        When a piece does not lie on the cloth, or two pieces lie over each other.
    """
    if min(kerf_mm, least_width_mm, least_area_mm2) < 0:
        raise BadInput("Kerf, least width and least area of an offcut cannot be below 0.")
    whole = cloth.polygon
    for number, piece in enumerate(pieces, start=1):
        beyond = piece.difference(whole).area
        if beyond > ON_CLOTH_MM2:
            raise BadInput(
                f"Piece {number} does not lie on “{cloth.name}” ({beyond / 100:.1f} cm² are beside it). Nothing was cut."
            )
        for other_number, other in enumerate(pieces[: number - 1], start=1):
            common = piece.intersection(other).area
            if common > ON_CLOTH_MM2:
                raise BadInput(
                    f"Pieces {other_number} and {number} lie over each other by {common / 100:.1f} cm² on "
                    f"“{cloth.name}”. Nothing was cut."
                )
    cut = unary_union(list(pieces)).intersection(whole) if pieces else Polygon()
    grown = [piece.buffer(kerf_mm, quad_segs=4) if kerf_mm > NOTHING_MM else piece for piece in pieces]
    taken = unary_union(grown) if pieces else Polygon()
    kept: list[Polygon] = []
    half = least_width_mm / 2
    for part in polygons(whole.difference(taken)):
        # inset and grown back: what is too narrow for that is gone; square corners come back whole
        if half < NOTHING_MM:
            kept += [_plain(part)] if part.area >= least_area_mm2 else []
            continue
        core = part.buffer(-half, join_style="mitre", mitre_limit=MITRE)
        wide = core.buffer(half * 1.0005, join_style="mitre", mitre_limit=MITRE).intersection(part)
        kept += [_plain(body) for body in polygons(wide, max(least_area_mm2, 1.0))]
    kept.sort(key=lambda body: (-body.area, body.bounds))
    return Rest(tuple(kept), cut.area, whole.area - cut.area - sum(body.area for body in kept))


def as_cloths(parent: Cloth, kept: Sequence[Polygon], ids: Sequence[str]) -> tuple[Cloth, ...]:
    """Return the kept parts as cloths: they inherit everything but shape, flaws and price."""
    found = []
    for number, (body, id_) in enumerate(zip(kept, ids, strict=True), start=1):
        flaws = []
        for flaw in parent.flaws:
            on_it = polygons(Polygon(flaw.polygon).intersection(body))
            flaws += [
                Flaw(
                    flaw.id if i == 0 else f"{flaw.id}.{i}",
                    ring_of(p.exterior.coords),
                    flaw.kind,
                    flaw.quality,
                )
                for i, p in enumerate(on_it)
            ]
        found.append(
            replace(
                parent,
                id=id_,
                name=f"{parent.name}, offcut {number}",
                outline=ring_of(body.exterior.coords),
                holes=tuple(ring_of(ring.coords) for ring in body.interiors),
                flaws=tuple(flaws),
                price=None,
                parent=parent.id,
                photos=(),
            )
        )
    return tuple(found)


def _plain(body: Polygon) -> Polygon:
    """The same shape with fewer corners, never beyond the given one."""
    simpler = body.simplify(SMOOTH_MM).buffer(-SMOOTH_MM, join_style="mitre", mitre_limit=MITRE)
    if isinstance(simpler, Polygon) and not simpler.is_empty and body.buffer(1e-7).covers(simpler):
        return simpler
    return body
