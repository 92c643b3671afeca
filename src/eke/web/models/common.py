"""What all answers share: points, drawings, sentences, and the one shape of an error."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

Point = tuple[float, float]
"""x and y in mm, y up; or in pixels of the upright picture, y down, where the field's name ends in ``_px``."""
Ring = list[Point]
"""A closed outline; the first point is not repeated."""


class Model(BaseModel):
    """The base of all models: unknown fields are refused, so that a slip in a name is noticed."""

    model_config = ConfigDict(extra="forbid")


class Problem(Model):
    """The one shape of every answer that is not the one asked for."""

    code: str
    """Stable word for programs: ``bad-input``, ``not-found``, ``conflict``, ``changed-elsewhere`` …"""
    sentence: str
    """What happened, what was kept and what to do, for the maker."""
    facts: dict[str, Any] = Field(default_factory=dict)


class DoneView(Model):
    """What an action did."""

    id: str
    """Id of what was made or changed (a piece, a cloth, a change)."""
    sentence: str
    revision: int
    """Revision of the history that was changed."""
    unsettled: list[str] = Field(default_factory=list)
    """Steps that lost their place through it, each in a sentence."""


class Segment(Model):
    """A line (two points) or a cubic (four)."""

    points: list[Point]


class PictureLine(Model):
    """One line of a small picture. ``ink`` says what it is, never a colour."""

    points: list[Point]
    closed: bool = True
    ink: Literal["paper", "piece", "derived", "cloth", "hole", "flaw", "text", "note", "attention"] = "piece"


class Picture(Model):
    """A small live picture: lines in a box, y up."""

    width: float
    height: float
    lines: list[PictureLine] = Field(default_factory=list)
    photo: str | None = None
    """Content hash of a photograph that is the picture, or lies behind the lines."""


class StepBack(Model):
    """What undo or redo would do now: its sentence, or none."""

    undo: str | None
    redo: str | None


class HistoryLine(Model):
    """One step of a history."""

    id: str
    kind: str
    sentence: str
    at: str
    """Moment, ISO 8601 UTC."""
    note: str = ""
    on: bool = True
    undone: bool = False
    set_aside: str | None = None
    params: dict[str, Any] = Field(default_factory=dict)
    picture: Picture | None = None


class ChangeSaid(Model):
    """A change of any kind, as its params; ``expected`` is the revision that the maker was looking at."""

    kind: str
    params: dict[str, Any] = Field(default_factory=dict)
    note: str = ""
    expected: int | None = None


class Expected(Model):
    """The revision that the maker was looking at; none: the newest."""

    expected: int | None = None


class SwitchSaid(Expected):
    """Switch a step off, or on again."""

    on: bool


class AmendSaid(Expected):
    """Other numbers for a step; those not named stay."""

    params: dict[str, Any]
