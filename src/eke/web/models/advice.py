"""Advice on what a mock-up showed."""

from __future__ import annotations

from typing import Any

from eke.web.models.common import Expected, Model


class ShowingView(Model):
    """Something that a mock-up may show."""

    code: str
    words: str
    asks: str
    """The question for the amount."""
    press: str
    """Which place on the drawing is meant."""


class FitAdviceSaid(Expected):
    """What was seen, where, and how much: ``mm`` along the edge from its start, ``amount_mm`` above 0."""

    showing: str
    edge: str
    mm: float
    amount_mm: float
    whole: bool = True
    """Whether the amount is on the whole body; else it is on one half."""
    cloth: str = "cotton"


class RemedyView(Model):
    """One remedy, worked out on the pattern. No kind: it is done in sewing, and the pattern stays."""

    does: str
    kind: str
    params: dict[str, Any]
    amount_mm: float
    """What goes by the change, on this piece; at a seam in all."""
    eased_mm: float
    """What goes besides, eased onto a stay."""
    means: list[str]
    sensible: bool
    reason: str
    """Why it stands where it does."""
    watch: str
    source: str
    note: str
    """What to keep with the step."""


class EffectView(Model):
    """What a remedy does to the garment, without doing it."""

    sentence: str
    """What the history would say."""
    pieces: list[str]
    """Names of the pieces that change."""
    caused: list[str]
    """What would be found wrong then, in sentences."""
    solved: int
    """How many findings would be gone."""
    unsettled: list[str]
    """Steps that would lose their place, each in a sentence."""


class NotHereView(Model):
    """A remedy that is not possible on this pattern, and why."""

    does: str
    why: str


class FitAdviceView(Model):
    """What can be done, the most sensible first, and what cannot."""

    showing: str
    piece: str
    edge: str
    seen: str
    """What was seen, with its amount, to note down."""
    means: str
    """What the amount means for this piece."""
    amount_mm: float
    remedies: list[RemedyView]
    not_here: list[NotHereView]
