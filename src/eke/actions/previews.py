"""What a change would do, without doing it: pieces before and after, findings that go and come."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from eke.actions.naming import filled
from eke.actions.placed import Placed, findings_of, placed_findings
from eke.actions.room import GarmentState, Room
from eke.derive import Derivation
from eke.pattern.model import Pattern, Piece


@dataclass(frozen=True, slots=True)
class Standing:
    """A pattern with what its recipes yield, kept or not."""

    pattern: Pattern
    derivation: Derivation

    @property
    def pieces(self) -> dict[str, Piece]:
        """Drawn and derived pieces by id, the drawn ones first."""
        return {
            **{str(k): p for k, p in self.pattern.pieces.items()},
            **{str(k): d.piece for k, d in self.derivation.pieces.items()},
        }


@dataclass(frozen=True, slots=True)
class Changed:
    """A piece before and after; nothing before: it is new; nothing after: it is gone."""

    id: str
    name: str
    before: Piece | None
    after: Piece | None


@dataclass(frozen=True, slots=True)
class Preview:
    """What a change would do. ``solved`` findings would be gone, ``caused`` ones would be new."""

    sentence: str
    before: Standing
    after: Standing
    changes: tuple[Changed, ...]
    unsettled: tuple[str, ...]
    findings: tuple[Placed, ...]
    solved: tuple[Placed, ...]
    caused: tuple[Placed, ...]


def preview(
    room: Room, garment: str, kind: str, params: Mapping[str, Any], *, expected: int | None = None
) -> Preview:
    """Return what a change of any kind would do to a garment. Nothing is kept.

    Raises
    ------
    ChangedMeanwhile
        When the garment has another revision than the ``expected`` one.
    EkeError
        What the change itself would raise when it cannot be applied.
    """
    state = room.garment(garment)
    room.expect(state.stored, expected)
    told = filled(state.pattern, state.stored.log.head, kind, params)
    tried = room.try_garment(state.id, kind, told)
    pattern = tried.replayed.state
    before, after = standing_of(state), Standing(pattern, room.derived_of(pattern))
    found_before = placed_findings(state)
    found = findings_of(pattern, tried.replayed.set_aside, after.derivation.findings)
    last = tried.replayed.steps[-1] if tried.replayed.steps else None
    return Preview(
        f"{last.sentence}." if last is not None else "",
        before,
        after,
        changes_between(before, after),
        tuple(f"{s.sentence}: {s.set_aside}" for s in tried.newly_set_aside),
        found,
        _without(found_before, found),
        _without(found, found_before),
    )


def standing_of(state: GarmentState) -> Standing:
    """Return a garment's pattern as it stands."""
    return Standing(state.pattern, state.derivation)


def changes_between(before: Standing, after: Standing) -> tuple[Changed, ...]:
    """Return the pieces that differ between two states, in the order of the later one, gone ones last."""
    old, new = before.pieces, after.pieces
    made = [
        Changed(key, piece.name, old.get(key), piece) for key, piece in new.items() if old.get(key) != piece
    ]
    made += [Changed(key, piece.name, piece, None) for key, piece in old.items() if key not in new]
    return tuple(made)


def _without(some: tuple[Placed, ...], others: tuple[Placed, ...]) -> tuple[Placed, ...]:
    """The findings of ``some`` that are not among the others: the same thing said with another number is the
    same finding."""
    known = {(one.finding.code, one.finding.where) for one in others}
    return tuple(one for one in some if (one.finding.code, one.finding.where) not in known)
