"""What gives a picture its scale, as the maker states it.

One :class:`Reference` for each thing that lies in the picture (or one ``auto``: look for what is there).
The command line writes them as ``sheet,check_line_mm=199`` or ``points,from=10:20,to=400:25,distance_mm=300``;
pixels are those of the upright picture, origin at the centre of its top-left pixel.

References
----------
ISO 216 for A4 (210 x 297 mm; tolerance 1.5 mm up to 150 mm, 2 mm from 150 to 600 mm).
ISO/IEC 7810 for the ID-1 card: nominal 85.60 x 53.98 mm, finished cards 85.47-85.72 x 53.92-54.03 mm,
thickness 0.76 +- 0.08 mm, corner radius 2.88-3.48 mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from eke.capture.sheet import SheetGeometry, parse_sheet_geometry
from eke.errors import BadInput

__all__ = ["Reference", "ReferenceKind", "parse_reference"]

ReferenceKind = Literal["auto", "sheet", "a4", "letter", "card", "points", "scan"]
KINDS: tuple[ReferenceKind, ...] = ("auto", "sheet", "a4", "letter", "card", "points", "scan")

PixelPoint = tuple[float, float]

CHECK_LINE_LIMITS = (0.7, 1.4)  # of the nominal length: beyond, the maker read another line or another unit
LEAST_DPI, MOST_DPI = (
    75.0,
    4800.0,
)  # fewer draw a pencil line less than a pixel wide; more are those of slides
MAX_HEIGHT_MM = 60.0  # the face of a ruler or tape; higher things are not references


@dataclass(frozen=True, slots=True)
class Reference:
    """One thing of known size in the picture.

    Parameters
    ----------
    kind
        ``auto``, ``sheet``, ``a4``, ``letter``, ``card``, ``points`` or ``scan``: the picture is a flatbed scan.
    geometry
        For ``sheet``: its layout; None means Eke's own sheets, whichever are seen.
    check_line_mm
        For ``sheet``: what the maker reads on the check line; None when it was not measured.
    corners_px
        Four corners given by the maker, in order around, for when the thing is not found by itself.
    from_px, to_px, distance_mm, height_mm
        For ``points``: two ticks, how far apart they are, and how high their face lies above the paper.
    dpi
        For ``scan``: dots per inch; None means what the file says.
    """

    kind: ReferenceKind
    geometry: SheetGeometry | None = None
    check_line_mm: float | None = None
    corners_px: tuple[PixelPoint, ...] | None = None
    from_px: PixelPoint | None = None
    to_px: PixelPoint | None = None
    distance_mm: float | None = None
    height_mm: float = 0.0
    dpi: float | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise BadInput(f"{self.kind!r} is no reference: use one of {', '.join(KINDS)}.", kind=self.kind)
        if self.corners_px is not None and len(self.corners_px) != 4:
            raise BadInput(f"A reference has four corners, not {len(self.corners_px)}.", kind=self.kind)
        if self.check_line_mm is not None:
            _check_reading(self)
        if self.dpi is not None and not LEAST_DPI <= self.dpi <= MOST_DPI:
            raise BadInput(
                f"A scanner has {LEAST_DPI:g} to {MOST_DPI:g} dots per inch, not {self.dpi:g}.",
                kind=self.kind,
            )
        if self.kind == "points":
            if self.from_px is None or self.to_px is None or self.distance_mm is None:
                raise BadInput("Two points need from=X:Y, to=X:Y and distance_mm=D.", kind=self.kind)
            if not (math.isfinite(self.distance_mm) and self.distance_mm > 0.0):
                raise BadInput(
                    f"The distance between two points must be more than 0 mm, not {self.distance_mm:g}."
                )
            if math.dist(self.from_px, self.to_px) < 20.0:
                raise BadInput("The two points lie closer than 20 pixels: use ticks that are further apart.")
            if not 0.0 <= self.height_mm <= MAX_HEIGHT_MM:
                raise BadInput(
                    f"A height of {self.height_mm:g} mm is no ruler or tape: 0 to {MAX_HEIGHT_MM:g} mm."
                )


def _check_reading(reference: Reference) -> None:
    assert reference.check_line_mm is not None
    line = reference.geometry.check_line if reference.geometry else None
    nominal = line.nominal_mm if line else 240.0
    if reference.geometry is not None and line is None:
        raise BadInput("This sheet has no check line, so there is nothing that could have been measured.")
    share = reference.check_line_mm / nominal
    if not CHECK_LINE_LIMITS[0] <= share <= CHECK_LINE_LIMITS[1]:
        raise BadInput(
            f"The check line should be about {nominal:g} mm long; {reference.check_line_mm:g} mm was read. "
            "Measure the printed line from end to end in millimetres."
        )


def _pixel(text: str, key: str) -> PixelPoint:
    parts = text.split(":")
    try:
        x, y = (float(p) for p in parts)
    except ValueError:
        raise BadInput(f"{key}={text} is not a place in the picture: write X:Y in pixels.") from None
    if not (math.isfinite(x) and math.isfinite(y)):
        raise BadInput(f"{key}={text} is not a place in the picture: write X:Y in pixels.")
    return x, y


def _length(text: str, key: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise BadInput(f"{key}={text} is not a length in millimetres.") from None
    if not math.isfinite(value) or value < 0.0:
        raise BadInput(f"{key}={text} is not a length in millimetres.")
    return value


def _dots(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise BadInput(f"dpi={text} is no number of dots per inch.") from None


_ALLOWED: Mapping[str, frozenset[str]] = {
    "auto": frozenset(),
    "sheet": frozenset({"geometry", "check_line_mm"}),
    "a4": frozenset({"corners"}),
    "letter": frozenset({"corners"}),
    "card": frozenset({"corners"}),
    "points": frozenset({"from", "to", "distance_mm", "height_mm"}),
    "scan": frozenset({"dpi"}),
}


def parse_reference(
    text: str, *, load_geometry: Callable[[str], Mapping[str, Any]] | None = None
) -> Reference:
    """Reference from its command-line form.

    ``load_geometry`` turns what stands after ``geometry=`` into the entry of a geometry file; reading files is
    the caller's business. Raises BadInput with the sentence for the maker.
    """
    kind, *facts = [part.strip() for part in text.strip().split(",")]
    kind = kind.lower()
    if kind not in _ALLOWED:
        raise BadInput(f"{kind!r} is no reference: use one of {', '.join(KINDS)}.", kind=kind)
    values: dict[str, str] = {}
    for fact in facts:
        key, sign, value = fact.partition("=")
        key = key.strip().lower()
        if not sign or key not in _ALLOWED[kind]:
            known = ", ".join(sorted(_ALLOWED[kind])) or "no further facts"
            raise BadInput(f"{fact!r} is not understood for {kind}: it takes {known}.", kind=kind)
        if key in values:
            raise BadInput(f"{key} is given twice for {kind}.", kind=kind)
        values[key] = value.strip()
    geometry = None
    if "geometry" in values:
        if load_geometry is None:
            raise BadInput("A sheet geometry cannot be read here.")
        geometry = parse_sheet_geometry(load_geometry(values["geometry"]))
    corners = None
    if "corners" in values:
        corners = tuple(_pixel(part, "corners") for part in values["corners"].split(";") if part)
    return Reference(
        kind=kind,  # type: ignore[arg-type]  # checked against the table above
        geometry=geometry,
        check_line_mm=_length(values["check_line_mm"], "check_line_mm")
        if "check_line_mm" in values
        else None,
        corners_px=corners,
        from_px=_pixel(values["from"], "from") if "from" in values else None,
        to_px=_pixel(values["to"], "to") if "to" in values else None,
        distance_mm=_length(values["distance_mm"], "distance_mm") if "distance_mm" in values else None,
        height_mm=_length(values["height_mm"], "height_mm") if "height_mm" in values else 0.0,
        dpi=_dots(values["dpi"]) if "dpi" in values else None,
    )
