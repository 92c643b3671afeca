"""A remedy that is thought of, tried on the pattern before it is offered.

What cannot be applied is offered with less where the refusal names how much would go; else it is listed as not
possible here, with that sentence.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from eke.changes import ChangeKind, Context
from eke.errors import EkeError
from eke.pattern.model import Pattern
from eke.units import format_mm

LEAST_MM: Final = 1.0
"""Less than a millimetre nobody sews (common practice)."""
TRIED: Final = "advice"
"""The id under which a change is tried; nothing of it is kept."""

Kinds = Mapping[str, ChangeKind[Pattern]]
"""The kinds of change by name."""
Means = Callable[[Pattern, float], tuple[str, ...]]
"""What a change means, in sentences, told of the pattern as it would be and the amount that went."""


def _nothing(after: Pattern, amount_mm: float) -> tuple[str, ...]:
    return ()


@dataclass(frozen=True, slots=True)
class Draft:
    """A change that is thought of.

    ``build`` gives its params for an amount; ``left_of`` says what amount goes when a refusal names the most that
    its own measure takes. ``amount_mm`` is above 0 and counted on this piece (at a seam: in all).
    """

    does: str
    kind: str
    amount_mm: float
    build: Callable[[float], dict[str, Any]]
    reason: str
    sensible: bool = True
    means: Means = _nothing
    left_of: Callable[[float], float] = lambda most: most
    eased_mm: float = 0.0
    watch: str = ""
    source: str = ""
    order: float = 0.0


@dataclass(frozen=True, slots=True)
class Offer:
    """A remedy that is possible here. No kind: it is done in sewing, and the pattern stays.

    ``amount_mm`` goes by the change (on this piece; at a seam in all), ``eased_mm`` besides it onto a stay. Both are
    above 0 or 0. ``note`` is what to keep with the step.
    """

    does: str
    kind: str
    params: Mapping[str, Any]
    amount_mm: float
    eased_mm: float
    means: tuple[str, ...]
    sensible: bool
    reason: str
    watch: str
    source: str
    note: str = ""
    order: float = field(default=0.0, compare=False)


@dataclass(frozen=True, slots=True)
class NotHere:
    """A remedy that is not possible on this pattern, and why."""

    does: str
    why: str


def tried(pattern: Pattern, kinds: Kinds, draft: Draft) -> Offer | NotHere:
    """Try a change on the pattern: return it as an offer, with less where only less goes, or why it cannot be."""
    amount = draft.amount_mm
    reason, sensible = draft.reason, draft.sensible
    try:
        after = applied(pattern, kinds, draft.kind, draft.build(amount))
    except EkeError as refused:
        most = refused.data.get("most_mm")
        less = _floored(draft.left_of(float(most))) if isinstance(most, int | float) else 0.0
        if not LEAST_MM <= less < amount:
            return NotHere(draft.does, refused.message)
        try:
            after = applied(pattern, kinds, draft.kind, draft.build(less))
        except EkeError as again:
            return NotHere(draft.does, again.message)
        reason = f"Only {format_mm(less)} of {format_mm(amount)} go here; {format_mm(amount - less)} are left for another remedy."
        amount, sensible = less, False
    return Offer(
        draft.does,
        draft.kind,
        draft.build(amount),
        amount,
        draft.eased_mm,
        draft.means(after, amount),
        sensible,
        reason,
        draft.watch,
        draft.source,
        order=draft.order,
    )


def applied(pattern: Pattern, kinds: Kinds, kind: str, params: Mapping[str, Any]) -> Pattern:
    """Return the pattern after a change; nothing is kept. Raises what the change raises."""
    return kinds[kind].apply(pattern, dict(params), Context(TRIED))


def _floored(mm: float) -> float:
    """Down to a tenth of a millimetre, so that what a refusal names surely goes."""
    return math.floor(abs(mm) * 10.0) / 10.0 if math.isfinite(mm) else 0.0
