"""A garment: its pieces, seams, findings, proposals, walks and previews."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from eke.web.models.common import HistoryLine, Model, Picture, Point, Ring, Segment, StepBack


class EdgeView(Model):
    """An edge, counter-clockwise round its piece."""

    id: str
    name: str
    called: str
    """Its name, or what it is called without one."""
    kind: Literal["seam", "hem", "fold", "opening"]
    shape: Literal["as traced", "straight", "fair"]
    segments: list[Segment]
    length_mm: float
    allowance_mm: float
    """The allowance that holds: its own, or that of its kind."""
    own_allowance: bool
    traced_as: Literal["net", "finished", "cut"]
    traced_allowance_mm: float
    start_angle_deg: float | None
    """Inner angle of the corner at its start."""
    held_mm: float | None = None
    """The length at which it is held, with the other parts that it was parted into since."""
    start_held_on: str | None = None
    """The balance line on which the corner at its start is held, in words."""
    seams: list[str]


class NotchView(Model):
    """A notch where it stands."""

    id: str
    edge: str
    at: Point
    out_deg: float
    """Direction in which it points outwards."""
    mm: float
    """Distance from the start of the edge."""
    count: int
    held_on: str | None = None
    """The balance line on which it is held, in words."""


class MarkView(Model):
    """A mark inside a piece: one point, or a line."""

    id: str
    kind: str
    name: str
    points: list[Point]
    held_on: str | None = None
    """The balance line on which it is held, in words."""


class DartView(Model):
    """A dart in the outline."""

    id: str
    first_leg: str
    second_leg: str
    apex: Point
    intake_mm: float


class PleatView(Model):
    """A tuck or pleat in the outline."""

    id: str
    mouths: list[tuple[str, str]]
    """The two edges across each of its mouths: to the fold, and back."""
    intake_mm: float
    """What it takes up at its first mouth."""


class GatherView(Model):
    """A stretch of an edge that is gathered or eased on purpose."""

    id: str
    edge: str
    from_mm: float
    to_mm: float
    how: Literal["gathered", "eased"]
    ratio: float | None
    """How many times as long it is flat; none: whatever is longer there."""
    words: str
    """What is written beside it."""
    wave: list[Point]
    """The wavy line that marks it."""


class CutView(Model):
    """How often a piece is cut from one role of cloth."""

    role: Literal["outer", "lining", "interlining", "interfacing", "mock-up"]
    count: int
    pairs: bool


class PieceView(Model):
    """A piece in its own frame: grain along +y, mm."""

    id: str
    name: str
    edges: list[EdgeView]
    notches: list[NotchView]
    marks: list[MarkView]
    darts: list[DartView]
    pleats: list[PleatView]
    gathers: list[GatherView]
    grain: tuple[Point, Point] | None
    fold: str | None
    cuts: list[CutView]
    cut_outline: Ring
    """With allowances."""
    recipe: str | None = None
    """Id of the recipe of a derived piece."""
    tracing: str | None = None
    uncertainty_mm: float | None = None


class RunPartView(Model):
    """One edge of a run."""

    piece: str
    edge: str
    reverse: bool = False


class SeamView(Model):
    """Two runs sewn together."""

    id: str
    name: str
    a: list[RunPartView]
    b: list[RunPartView]
    ease_mm: float
    ease_between: tuple[str, str] | None = None
    """Ids of the two notches between which the ease is placed; none: spread over the whole seam."""
    b_mirrored: bool
    kind: str
    length_a_mm: float | None
    length_b_mm: float | None
    words_a: str
    words_b: str


class RecipeView(Model):
    """A derived piece as it was asked for."""

    id: str
    kind: str
    name: str
    sources: list[str]
    params: dict[str, Any]
    pieces: list[str]


class TracingView(Model):
    """Where a piece came from."""

    id: str
    photo: str | None
    reference: str
    scale_percent: float
    uncertainty_mm: float


class MockUpView(Model):
    """A mock-up and what was noticed."""

    id: str
    number: int
    noticed: str
    revision: str | None
    photos: list[str]


class FixView(Model):
    """A remedy: a change that can be previewed and applied as it stands."""

    kind: str
    params: dict[str, Any]
    sentence: str


class FindingView(Model):
    """Something found wrong, or worth a look."""

    code: str
    severity: Literal["note", "ask", "fault"]
    sentence: str
    where: list[str]
    """Ids of pieces, edges, seams, notches, steps."""
    piece: str | None
    at: Point | None
    amount: float | None
    unit: str
    tolerance: float | None
    fixes: list[FixView]
    can_settle: bool = True


class GarmentView(Model):
    """A garment as it stands."""

    id: str
    name: str
    project: str
    project_name: str
    revision: int
    head: str
    pieces: list[PieceView]
    derived: list[PieceView]
    seams: list[SeamView]
    recipes: list[RecipeView]
    tracings: list[TracingView]
    mock_ups: list[MockUpView]
    facts: dict[str, Any]
    measures: dict[str, float]
    taped: dict[str, float]
    findings: list[FindingView]
    steps: StepBack


class PegView(Model):
    """One peg of the line: a step of the job, what it has produced, and how it stands."""

    room: Literal["tracing", "pattern", "mock-ups", "cloth", "lay", "paper", "making", "ledger", "journal"]
    state: Literal["empty", "good", "attention", "outdated"]
    sentence: str
    picture: Picture | None = None


class ProposalView(Model):
    """Two runs that seem to belong together."""

    a: list[RunPartView]
    b: list[RunPartView]
    words_a: str
    words_b: str
    length_a_mm: float
    length_b_mm: float
    confidence: float
    ease_mm: float
    b_mirrored: bool
    why: str = ""


class WalkStretch(Model):
    """One edge of a run, laid straight."""

    piece: str
    piece_name: str
    edge: str
    edge_name: str
    from_mm: float
    to_mm: float


class WalkNotch(Model):
    """A notch on a run laid straight."""

    id: str
    at_mm: float
    count: int
    pair: str | None
    """Id of the notch that it meets on the other side."""
    apart_mm: float | None


class WalkSide(Model):
    """A run laid straight."""

    length_mm: float
    stretches: list[WalkStretch]
    notches: list[WalkNotch]


class WalkView(Model):
    """Both sides of a seam laid straight, side by side from the common start."""

    seam: str
    name: str
    a: WalkSide
    b: WalkSide
    difference_mm: float
    """How much longer A is than B beyond the ease that is meant."""
    ease_mm: float
    running: list[Point]
    """(mm along A, difference in mm there)."""
    joins: list[WalkJoin]
    findings: list[FindingView]


class WalkJoin(Model):
    """How two pieces meet at an end of a seam."""

    at: Literal["start", "end"]
    angle_a_deg: float
    angle_b_deg: float
    off_deg: float


class PieceChange(Model):
    """A piece before and after a change; none before: new; none after: gone."""

    id: str
    name: str
    before: PieceView | None
    after: PieceView | None


class PreviewView(Model):
    """What a change would do, without doing it."""

    sentence: str
    changes: list[PieceChange]
    unsettled: list[str]
    findings: list[FindingView]
    """Findings as they would be."""
    solved: int
    """How many findings would be gone."""
    caused: int


class StepView(Model):
    """One step of a history before and after."""

    line: HistoryLine
    changes: list[PieceChange]
    ruler: bool
    """Whether it can be drawn with a ruler on the paper pattern."""


WalkView.model_rebuild()


class HistoryView(Model):
    """A history, oldest first; steps taken back come last."""

    revision: int
    lines: list[HistoryLine] = Field(default_factory=list)
    steps: StepBack
