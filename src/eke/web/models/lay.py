"""The lay: pieces on cloths, by the engine and by hand."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from eke.web.models.cloth import ClothView
from eke.web.models.common import Model, Ring

RoleWord = Literal["outer", "lining", "interlining", "interfacing", "mock-up"]


def _outer() -> list[RoleWord]:
    return ["outer"]


class LaidView(Model):
    """A piece where it lies, in the frame of its cloth (mm, y up)."""

    id: str
    """Of this copy: the cut piece's id, ``#`` and a number from 1 up to its copies; stable between lays."""
    piece: str
    """Id of the cut piece."""
    name: str
    cloth: str
    x_mm: float
    y_mm: float
    turn_deg: float
    """Turn of the drawn piece (grain along +y) counter-clockwise in the frame of the cloth."""
    mirrored: bool
    outline: Ring
    locked: bool = False


class CutPieceView(Model):
    """A piece as it is cut, in its own frame with the grain along +y."""

    id: str
    piece: str
    name: str
    role: RoleWord
    copies: int
    outline: Ring
    net: Ring
    grain: str
    turns_deg: list[float] | None
    """Turns against the grain that are allowed; none: any."""
    tilt_deg: float
    may_mirror: bool
    hidden: bool
    """Nobody sees it in wear."""
    least_quality: int
    """It may lie on flaws of this quality or better: 3 on none, 1 on what only hides."""


class LeftoverView(Model):
    """What is left of a cloth: the largest sound rectangle along its grain (0 where there is none), and the area."""

    cloth: str
    width_mm: float
    height_mm: float
    area_mm2: float
    outline: Ring
    """The rectangle where it lies; empty where there is none."""


class MissingView(Model):
    """A piece that found no place."""

    piece: str
    name: str
    count: int


class StintView(Model):
    """What could be given up."""

    id: str
    kind: str
    sentence: str
    harm: int
    saves_mm2: float
    enough: bool


class BesideView(Model):
    """The lay that another search put aside, to compare: drawn small, with its verdict."""

    made: int
    """Of two lays the one with the higher number is the later."""
    cloths: list[ClothView]
    """Those that something lies on."""
    laid: list[LaidView]
    complete: bool
    sentence: str
    on_percent: float
    given_up: list[StintView]
    stale: list[str]
    """Why it no longer holds; then it cannot be put on the table."""
    cut: bool


class LayView(Model):
    """A lay plan, its pieces and its cloths."""

    garment: str
    roles: list[RoleWord]
    cloths: list[ClothView]
    """As they will be when washed: what the pieces are laid on."""
    cut_pieces: list[CutPieceView]
    laid: list[LaidView]
    missing: list[MissingView]
    complete: bool
    sentence: str
    proof: str | None = None
    use_percent: float | None = None
    """Area of the pieces by the area of the cloths that were used."""
    on_percent: float = 0.0
    """Area of the pieces that lie by the area of all."""
    leftovers: list[LeftoverView] = Field(default_factory=list)
    seconds: float | None = None
    """How long it was looked for; none: made by hand, or before that was noted."""
    stale: list[str] = Field(default_factory=list)
    """Why it no longer holds."""
    to_wash: list[str] = Field(default_factory=list)
    """Ids of cloths that have to be washed before they are cut."""
    faults: list[LayFaultView] = Field(default_factory=list)
    gap_pieces_mm: float
    gap_edge_mm: float
    gap_hole_mm: float
    cut: bool = False
    """Whether it has been confirmed as cut."""
    given_up: list[StintView] = Field(default_factory=list)
    """What was given up for it: send these ids along (with others) when it is laid again."""
    seed: int = 0
    """Where the search for it began; another number is another way."""
    made: int = 0
    """Counts up with every search that was kept; moves by hand do not change it."""
    match_stripes: bool = False
    """Whether the stripes were to meet."""
    stripe_lines: list[str] = Field(default_factory=list)
    """Names of the balance lines at which stripes can be made to meet; none: no two pieces share one."""
    beside: BesideView | None = None
    """The lay that is kept beside it."""


class LayFaultView(Model):
    """What is wrong with a lay made by hand, or with one whose pieces or cloths have changed since."""

    kind: str
    """``outside``, ``overlap``, ``gap``, ``grain``, ``face``, ``quality``, ``stripes`` or ``shape``."""
    pieces: list[str]
    """Ids of the copies that it is about."""
    cloth: str
    amount: float
    sentence: str


LayView.model_rebuild()


class PlacementSaid(Model):
    """Where a copy of a cut piece lies."""

    id: str
    piece: str
    cloth: str
    x_mm: float
    y_mm: float
    turn_deg: float
    mirrored: bool = False
    locked: bool = False


class LaySaid(Model):
    """Lay the pieces: which roles, on which cloths, for how long, what stays where it is."""

    roles: list[RoleWord] = Field(default_factory=_outer)
    cloths: list[str] | None = None
    seconds: float = 20.0
    seed: int = 0
    stints: list[str] = Field(default_factory=list)
    """Ids of what is given up."""
    match_stripes: bool = False
    """Let stripes meet at the balance lines."""
    keep: list[PlacementSaid] = Field(default_factory=list)
    """Pieces where the maker put them; locked ones stay there."""


class ByHandSaid(Model):
    """A lay made by hand, to be checked exactly and kept."""

    roles: list[RoleWord] = Field(default_factory=_outer)
    placements: list[PlacementSaid]


class RolesSaid(Model):
    """The roles that a plan was made for."""

    roles: list[RoleWord] = Field(default_factory=_outer)
    facts: dict[str, Any] = Field(default_factory=dict)
