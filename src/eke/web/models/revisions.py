"""Two stages of a garment beside each other."""

from __future__ import annotations

from typing import Literal

from eke.web.models.common import Model, Point
from eke.web.models.garment import PieceView


class StageView(Model):
    """The garment once a change had been recorded."""

    id: str
    sentence: str
    at: str
    """Moment, ISO 8601 UTC."""
    mock_ups: list[int]
    """Numbers of the mock-ups that were cut from it."""
    now: bool
    undone: bool
    """What came last was taken back since."""


class PieceBetweenView(Model):
    """A piece at both stages; ``after`` alone where it is the same, ``before`` alone where it is gone."""

    id: str
    name: str
    how: Literal["same", "changed", "added", "removed"]
    derived: bool
    before: PieceView | None
    after: PieceView | None
    shift_mm: Point
    """Lays the earlier one on the later one."""
    apart_mm: float
    """How far the outlines lie apart at most; 0 where only marks, notches or darts differ."""
    where: str
    """What the edge is called where that is."""
    at: Point | None


class MeasureBetweenView(Model):
    """A finished measure at both stages; none where one of them does not have it."""

    name: str
    kind: Literal["round", "length"]
    before_mm: float | None
    after_mm: float | None
    difference_mm: float | None
    body: str | None
    ease_before_mm: float | None
    ease_after_mm: float | None


class StepBetweenView(Model):
    """What became of a step between the two stages."""

    id: str
    kind: str
    sentence: str
    fate: Literal["made", "made off", "made aside", "off", "on", "altered", "aside", "found", "gone"]
    at: str
    note: str
    was: str | None
    """What it said before, where its numbers were changed."""
    why: str | None
    """Why it was set aside."""


class TwoStagesView(Model):
    """Two stages, the earlier first, and all that differs between them."""

    earlier: StageView
    later: StageView
    pieces: list[PieceBetweenView]
    measures: list[MeasureBetweenView]
    steps: list[StepBetweenView]
