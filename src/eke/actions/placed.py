"""Where to point at a finding: the piece that it is about, and the place in that piece's own frame."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from eke.actions.room import GarmentState
from eke.changes import StepResult
from eke.errors import EkeError
from eke.findings import Finding
from eke.pattern.checking import check
from eke.pattern.measure import run_of
from eke.pattern.model import Pattern, Seam
from eke.pattern.walking import walk

CANNOT_BE_MEANT: Final = frozenset(
    {"set-aside", "outline-crosses", "target-gone", "length-held", "point-off-line"}
)
"""Findings that nobody can mean: something has lost its place, a piece cannot be cut out, or the maker said
otherwise, and can let that go."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A finding with the id of its piece, where there is one, and the place in that piece's frame."""

    finding: Finding
    piece: str | None = None
    at: tuple[float, float] | None = None

    @property
    def can_settle(self) -> bool:
        """Whether the maker can say that it is meant."""
        return self.finding.code not in CANNOT_BE_MEANT


def placed_findings(state: GarmentState) -> tuple[Placed, ...]:
    """Return all that is found wrong with a garment, gravest first, with the place to point at."""
    return findings_of(state.pattern, state.replayed.set_aside, state.derivation.findings)


def findings_of(
    pattern: Pattern, set_aside: Iterable[StepResult] = (), derived: Iterable[Finding] = ()
) -> tuple[Placed, ...]:
    """The same for a pattern that is not kept: as it would be after a change."""
    aside = (
        Finding("set-aside", "ask", f"{step.sentence}: {step.set_aside}", where=(step.id,))
        for step in set_aside
    )
    return tuple(placed(pattern, f) for f in (*check(pattern), *aside, *derived))


def placed(pattern: Pattern, finding: Finding) -> Placed:
    """Return a finding with its piece and place."""
    if not finding.where:
        return Placed(finding)
    first = pattern.resolve(finding.where[0])
    if first in pattern.pieces:
        return Placed(finding, first, finding.at_mm)
    seam = next((s for s in pattern.seams.values() if s.id == first), None)
    if seam is None:
        return Placed(finding)
    try:
        piece = _piece_of_seam(pattern, seam, finding)
    except EkeError:  # an edge of the seam is gone, which is what the finding says
        piece = None
    return Placed(finding, piece, finding.at_mm if piece is not None else None)


def _piece_of_seam(pattern: Pattern, seam: Seam, finding: Finding) -> str | None:
    if finding.code in ("notch-apart", "notch-alone"):
        notch = finding.where[-1]
        return next((p.id for p in pattern.pieces.values() if any(n.id == notch for n in p.notches)), None)
    if finding.code == "join-angle":
        stretches = run_of(pattern, seam.a).stretches
        return stretches[0 if finding.where[1] == "start" else -1].piece.id
    if finding.code in ("seam-length", "seam-ease-missing"):
        a, b = run_of(pattern, seam.a), run_of(pattern, seam.b)
        return (a if a.length_mm >= b.length_mm else b).stretches[-1].piece.id
    if finding.code == "notch-confusable":
        pairs = walk(pattern, seam.id).pairs
        return pairs[0].a.piece.id if pairs else None
    return None
