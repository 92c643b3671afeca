"""What a remedy and a showing of a mock-up are; the table of them is in :mod:`eke.fit.remedies`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

THREADS_2019: Final = "Threads magazine, 2019"
NEW_DRESSMAKER: Final = "The New Dressmaker, Butterick 1921"
USDA: Final = "Fitting Dresses, US Department of Agriculture"
SLASHED: Final = "M. D. Erwin, Practical Dress Design, 1954"
COMMON: Final = "common practice"


@dataclass(frozen=True, slots=True)
class Remedy:
    """One remedy: the kind of change (none: it is done in sewing), its share of the whole amount, and what it means.

    ``most_mm`` is the most of the whole amount for which it is sensible. ``length``: the amount is a length on the
    body, and not shared between halves. ``way`` names how it is worked out on a pattern, where the kind does not
    tell: see :mod:`eke.fit.advice_here`.
    """

    kind: str
    factor: float
    does: str
    touches: str
    watch: str
    source: str
    most_mm: float | None = None
    length: bool = False
    way: str = ""


@dataclass(frozen=True, slots=True)
class Showing:
    """What the mock-up showed: its code, how a maker says it, where to point at it, and the remedies, the mildest first.

    ``press`` says which place on the drawing is meant.
    """

    code: str
    words: str
    asks: str
    press: str
    remedies: tuple[Remedy, ...]
