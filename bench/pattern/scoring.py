"""How good proposals are: right, wrong, missing, walked the right way; and whether their confidence is worth its number.

A proposal is *right* when both of its sides have exactly the edges that a true seam has. It is walked the *right way*
when it also starts at the same end; for seams that go round in a ring that is not asked.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

from eke.pattern.model import RunPart
from eke.pattern.proposals import Proposal

from .drafting import Garment, Sewn

BINS: Final = (0.0, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0)

Row = tuple[float, float, int, float, float]

Key = tuple[frozenset[frozenset[str]], bool]


def key(a: Iterable[RunPart], b: Iterable[RunPart], mirrored: bool) -> Key:
    """What makes two seams the same: the edges on either side."""
    return frozenset((frozenset(p.edge for p in a), frozenset(p.edge for p in b))), mirrored


def same_way(proposal: Proposal, sewn: Sewn) -> bool:
    """Whether both are walked from the same common start (or both from the other)."""
    said = {p.edge: p.reverse for p in (*proposal.a, *proposal.b)}
    true = (*(sewn.a if sewn.a[0].edge in said else sewn.or_a), *sewn.b)
    return len({said[p.edge] != p.reverse for p in true}) == 1


@dataclass
class Score:
    """Counts over garments and seeds."""

    right: int = 0
    wrong: int = 0
    missing: int = 0
    right_way: int = 0
    asked_way: int = 0
    confidence: list[tuple[float, bool]] = field(default_factory=list)
    whole: int = 0
    garments: int = 0

    def join(self, other: Score) -> None:
        """Count what another score has counted too."""
        for name in ("right", "wrong", "missing", "right_way", "asked_way", "whole", "garments"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.confidence += other.confidence

    def add(self, proposals: Sequence[Proposal], garment: Garment) -> None:
        """Count the proposals for one garment."""
        true = {key(s.a, s.b, s.b_mirrored): k for k, s in enumerate(garment.sewn)}
        true |= {key(s.or_a, s.b, False): k for k, s in enumerate(garment.sewn) if s.or_a}
        found: set[int] = set()
        wrong = 0
        for proposal in proposals:
            this = key(proposal.a, proposal.b, proposal.b_mirrored)
            right = this in true and true[this] not in found
            self.confidence.append((proposal.confidence, right))
            if not right:
                wrong += 1
                continue
            found.add(true[this])
            sewn = garment.sewn[true[this]]
            if not proposal.b_mirrored and len(sewn.a) == 1:
                self.asked_way += 1
                self.right_way += same_way(proposal, sewn)
        self.right += len(found)
        self.wrong += wrong
        self.missing += len(garment.sewn) - len(found)
        self.whole += wrong == 0 and len(found) == len(garment.sewn)
        self.garments += 1

    @property
    def share_right(self) -> float:
        """Of the true seams, the share that was proposed."""
        return self.right / max(self.right + self.missing, 1)

    @property
    def share_of_proposals(self) -> float:
        """Of the proposals, the share that is right."""
        return self.right / max(self.right + self.wrong, 1)

    @property
    def brier(self) -> float:
        """Mean square of confidence less truth (Brier 1950): 0 best; 0.25 says nothing."""
        return sum((c - r) ** 2 for c, r in self.confidence) / max(len(self.confidence), 1)

    @property
    def log_loss(self) -> float:
        """Mean of minus the log of what was said of what came true: 0 best; 0.69 says nothing."""
        said = [min(max(c if r else 1.0 - c, 1e-3), 1.0) for c, r in self.confidence]
        return -sum(math.log(s) for s in said) / max(len(said), 1)

    @property
    def off(self) -> float:
        """By how much what was said and what was right differ in the bins, weighed by their proposals."""
        count = max(len(self.confidence), 1)
        return sum(n * abs(said - right) for _, _, n, said, right in self.calibration()) / count

    def calibration(self) -> list[Row]:
        """Rows of (from, to, how many, mean confidence, share that was right)."""
        rows = []
        for low, high in pairwise(BINS):
            here = [(c, r) for c, r in self.confidence if low <= c < high or (high == 1.0 and c == 1.0)]
            if here:
                n = len(here)
                rows.append((low, high, n, sum(c for c, _ in here) / n, sum(r for _, r in here) / n))
        return rows
