"""What a garment measures when it is sewn, beside the body and beside the tape."""

from __future__ import annotations

from dataclasses import dataclass

from eke.actions.room import Room
from eke.findings import Finding
from eke.pattern.checking import is_settled
from eke.pattern.finished import FinishedMeasure, finished_measures
from eke.pattern.taped import taped_findings
from eke.pattern.tolerances import DEFAULT


@dataclass(frozen=True, slots=True)
class Measured:
    """All measures of a garment, and what its tape measures do not agree with."""

    finished: tuple[FinishedMeasure, ...]
    differing: tuple[Finding, ...]


def measures(room: Room, garment: str) -> Measured:
    """Return the finished measures of a garment as it stands, and where the pattern differs from the tape."""
    pattern = room.garment(garment).pattern
    differing = tuple(f for f in taped_findings(pattern, DEFAULT) if not is_settled(pattern, f))
    return Measured(finished_measures(pattern), differing)
