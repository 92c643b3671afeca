"""Advice on what a mock-up showed: the remedies that are possible there, and the effect of one on the seams."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from eke.actions.placed import Placed
from eke.actions.previews import preview
from eke.actions.room import Room
from eke.changes import ChangeKind
from eke.fit import fit_kinds
from eke.fit.advice_here import AdviceHere, advise_here
from eke.fit.remedies import SHOWINGS
from eke.fit.showing import Showing
from eke.pattern.model import EdgePlace, Pattern

KINDS: Final[dict[str, ChangeKind[Pattern]]] = {kind.name: kind for kind in fit_kinds()}
"""The kinds of fit change by which remedies are tried."""


@dataclass(frozen=True, slots=True)
class Effect:
    """What a remedy does to the garment: its sentence, pieces that change, what is found wrong then and no longer is."""

    sentence: str
    pieces: tuple[str, ...]
    caused: tuple[Placed, ...]
    solved: int
    unsettled: tuple[str, ...]


def showings() -> tuple[Showing, ...]:
    """Return what a mock-up may show, from the neck down."""
    return SHOWINGS


def advice(
    room: Room,
    garment: str,
    code: str,
    place: EdgePlace,
    pinned_mm: float,
    *,
    whole: bool = True,
    cloth: str = "cotton",
    expected: int | None = None,
) -> AdviceHere:
    """Return what can be done about what a mock-up of a garment showed at a place. Nothing is kept.

    Raises
    ------
    ChangedMeanwhile
        When the garment has another revision than the ``expected`` one.
    EkeError
        What :func:`eke.fit.advice_here.advise_here` refuses.
    """
    state = room.garment(garment)
    room.expect(state.stored, expected)
    return advise_here(state.pattern, KINDS, code, place, pinned_mm, whole=whole, cloth=cloth)


def effect(
    room: Room, garment: str, kind: str, params: Mapping[str, Any], *, expected: int | None = None
) -> Effect:
    """Return what a remedy does to the garment and its seams. Nothing is kept; raises what the change raises."""
    seen = preview(room, garment, kind, params, expected=expected)
    return Effect(
        seen.sentence,
        tuple(change.name for change in seen.changes),
        seen.caused,
        len(seen.solved),
        seen.unsettled,
    )
