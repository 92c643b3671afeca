"""Photographs and what was found on them."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from eke.pattern.hand import HAND_MM, WORN_MM, TracedBy
from eke.web.models.common import Model, Point, Ring, Segment


class ReferenceSaid(Model):
    """What gives a photograph its scale; the same kinds as on the command line."""

    kind: Literal["auto", "sheet", "a4", "letter", "card", "points", "scan"]
    corners_px: list[Point] | None = None
    check_line_mm: float | None = None
    geometry: dict[str, Any] | None = None
    """For a sheet that is not Eke's own: where its markers lie (an entry of a geometry file)."""
    from_px: Point | None = None
    to_px: Point | None = None
    distance_mm: float | None = None
    height_mm: float = 0.0
    dpi: float | None = None
    """For a flatbed scan: dots per inch; none: what the file says."""


class Touch(Model):
    """A touch inside (+) or outside (-) of what is wanted, in pixels of the upright picture."""

    x_px: float
    y_px: float
    side: Literal["+", "-"] = "+"


class Stroke(Model):
    """What the maker drew on a photograph (a dot for one point) or rubbed out of it, in pixels of the upright picture."""

    how: Literal["draw", "rub"]
    points_px: list[Point]


class FoundMark(Model):
    """A mark that was read."""

    kind: Literal["notch", "grain", "line", "point"]
    points: list[Point]
    points_px: list[Point]


class FoundPiece(Model):
    """An outline that was found: in mm, and over the photograph."""

    which: str
    outline: Ring
    outline_px: Ring
    segments: list[Segment]
    corners: list[Point]
    """As found, or as the maker put them."""
    corners_px: list[Point]
    marks: list[FoundMark]
    uncertainty_mm: float
    piece: str | None = None
    """Id of the piece that was made of it."""


class FoundCloth(Model):
    """A cloth that was found."""

    which: str
    outline: Ring
    outline_px: Ring
    holes: list[Ring]
    holes_px: list[Ring]
    flaws: list[Ring]
    flaws_px: list[Ring]
    grain_deg: float | None
    repeat_mm: tuple[float | None, float | None]
    uncertainty_mm: float
    cloth: str | None = None


class FoundView(Model):
    """All that a photograph yielded."""

    reference: str
    uncertainty_percent: float
    references_px: list[Ring]
    """Where the references lie in the picture, to be drawn over it."""
    pieces: list[FoundPiece]
    cloths: list[FoundCloth]
    warnings: list[str]
    mm_per_px: float
    """Of the straightened picture."""
    straightened: bool
    """Whether a straightened picture can be fetched."""
    straightened_box: tuple[float, float, float, float] | None = None
    """Where it lies in mm: left, bottom, width, height."""
    hand_mm: dict[TracedBy, float] = Field(default_factory=lambda: dict(HAND_MM))
    """What tracing with a pen, pins or thin cloth adds to an outline's uncertainty, as squares."""
    worn_mm: float = WORN_MM
    """... and a much-worn garment."""


class GlanceFinding(Model):
    """One thing in a photograph that is better done again, and how."""

    code: Literal[
        "dark", "bright", "blurred", "reference-cut", "no-reference", "ruler", "slanted", "far", "paper-cut"
    ]
    sentence: str
    remedy: str
    place_px: list[Point]
    """Where in the picture, if anywhere: a ring."""


class GlanceView(Model):
    """What a quick look at a photograph told, before anything is measured."""

    good: bool
    """Nothing is better done again; something may be asked all the same."""
    sentence: str
    """What to say where there are no findings."""
    findings: list[GlanceFinding]
    reference: Literal["sheet", "marks", "a4", "letter", "card"] | None
    """What of known size was noticed."""
    tilt_deg: float | None


class PhotographSaid(Model):
    """What the maker says of a photograph; what is left out stays."""

    references: list[ReferenceSaid] | None = None
    square_paper: bool | None = None
    touches: list[Touch] | None = None
    strokes: list[Stroke] | None = None
    cloth: bool | None = None
    name: str | None = None


class PhotographView(Model):
    """A photograph taken in: how it is to be read, and what came of it."""

    id: str
    subject: str
    """Id of the garment, or ``shelf``."""
    name: str
    photo: str
    """Content hash; the picture is at ``/api/photos/{photo}?longest_px=…``."""
    width_px: int
    height_px: int
    cloth: bool
    references: list[ReferenceSaid]
    square_paper: bool
    touches: list[Touch]
    strokes: list[Stroke] = Field(default_factory=list)
    state: Literal["new", "tracing", "found", "refused", "changed"]
    """``changed``: what was said of it has changed since it was traced."""
    refused: str | None = None
    """Why there is no result, and how to take it again."""
    missing: Literal["scale", "outline", "picture", "said"] | None = None
    """What it was refused for: no scale, nothing to trace, the picture itself, or what was said of it."""
    answers: list[PhotographSaid] = Field(default_factory=list)
    """What may be said of it to settle what is doubtful or missing, before it is traced again."""
    refused_px: list[Point] = Field(default_factory=list)
    """Where on the picture the trouble is, as far as it is known."""
    job: str | None = None
    glance: GlanceView | None = None
    """What a quick look told; none: nobody has looked yet."""
    found: FoundView | None = None
    parts: list[str] = Field(default_factory=list)
    """Ids of the photographs it is joined of; a photograph as a camera took it has none."""


class CornersSaid(Model):
    """Corners of a found outline, moved, added or dropped by the maker, in mm of the straightened picture."""

    corners: list[Point] | None
    """None: as they were found."""


class TakePiece(Model):
    """Make a piece of a found outline."""

    which: str
    name: str
    traced_as: Literal["net", "finished", "cut"] = "net"
    traced_allowance_mm: float = 0.0
    traced_by: TracedBy | None = None
    """With what the garment was traced; none: not said."""
    worn: bool = False
    """The garment is much worn."""
    count: int = 1
    pairs: bool = False
    role: Literal["outer", "lining", "interlining", "interfacing", "mock-up"] = "outer"
    again: str | None = None
    """Id of the piece that this traces again; none: a new piece."""
    answers: dict[str, int | None] = Field(default_factory=dict)
    """With ``again``, where that is unsure: old edge id to the number of the new edge; none: the edge is gone."""
    corners: list[Point] | None = None
    """Corners as the maker put them, in mm; none: as found."""
    turn_deg: Literal[0, 90, 180, 270] = 0
    """How it is turned on its way into the pattern, counter-clockwise."""


class TakeCloth(Model):
    """Put a found cloth on the shelf."""

    which: str
    name: str
    said: dict[str, Any] = Field(default_factory=dict)
    """Words of a cloth: grain_deg, nap, same_face, weight_gsm, origin, washed …"""
    price: str | None = None
    currency: str = "EUR"
    project: str | None = None
    """The project that it is kept for; none: for whoever needs it."""
