"""The adviser: what the mock-up showed and how much was pinned, to honest remedies with amounts to start from.

Nothing is applied here. Each piece of advice says which change it is, how much it takes on the piece that it is made
on, what it touches, what to watch, where it is from, and why it ranks where it does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from eke.errors import BadInput, NotFound
from eke.fit.remedies import SHOWINGS
from eke.fit.showing import Remedy, Showing

MOST_MM: Final = 300.0
"""More than this on a body is another garment."""
STAY_PERCENT: Final = {"cotton": 3.0, "wool": 5.0}
"""How much of its length a stretch of cloth takes up when it is eased onto a tape (common practice)."""
ANOTHER_SIZE_MM: Final = 50.0
"""Beyond so much in all at the side seams another size is wiser (from memory)."""


@dataclass(frozen=True, slots=True)
class Advice:
    """One remedy for what was seen, with the amount to start from. ``sensible``: the amount suits it."""

    remedy: Remedy
    amount_mm: float
    sensible: bool
    reason: str

    @property
    def kind(self) -> str:
        """The kind of change; empty where it is done in sewing."""
        return self.remedy.kind


def showing(code: str) -> Showing:
    """Return what a mock-up may show, by its code. Raises :class:`NotFound`."""
    for one in SHOWINGS:
        if one.code == code:
            return one
    raise NotFound(f"There is no advice on “{code}”. There is: {', '.join(s.code for s in SHOWINGS)}.")


def advise(
    code: str, pinned_mm: float, *, whole: bool = True, over_mm: float | None = None, cloth: str = "cotton"
) -> tuple[Advice, ...]:
    """Return the remedies for what the mock-up showed, the most sensible first.

    Parameters
    ----------
    pinned_mm
        What was pinned out, or is missing: always above 0.
    whole
        Whether that is on the whole body; else it is on one half.
    over_mm
        How long the stretch of edge is that would be eased onto a tape, where that is a remedy.

    Raises
    ------
    BadInput
        When the amount is nothing, or more than any fit change.
    """
    found = showing(code)
    if not (math.isfinite(pinned_mm) and 0.0 < pinned_mm <= MOST_MM):
        raise BadInput(
            f"Say how much was pinned: more than 0 mm and up to {MOST_MM:g}, not {pinned_mm:g}.",
            most_mm=MOST_MM,
        )
    advice = [_weighed(r, pinned_mm, whole, over_mm, cloth) for r in found.remedies]
    # the table goes from mild to thorough; what does not suit the amount comes last
    return tuple(sorted(advice, key=lambda a: not a.sensible))


def mixture(
    pinned_mm: float, eased_mm: float, over_mm: float, cloth: str = "cotton"
) -> tuple[float, float, float]:
    """Return (mm from a seam, mm eased, % that is eased) of an amount; the two add up to it.

    Raises
    ------
    BadInput
        When more is eased than there is, or than the cloth takes; the message says how much it takes.
    """
    if not 0.0 <= eased_mm <= pinned_mm:
        raise BadInput(f"Of {pinned_mm:g} mm between 0 and {pinned_mm:g} can be eased, not {eased_mm:g}.")
    if not over_mm > 0.0:
        raise BadInput("Say how long the stretch is that is eased.")
    percent = 100.0 * eased_mm / over_mm
    most = _takes(cloth) * over_mm / 100.0
    if eased_mm > most:
        raise BadInput(
            f"{eased_mm:g} mm over {over_mm:.0f} mm are {percent:.0f} %, and {cloth} takes {_takes(cloth):g} %: up to "
            f"{most:.1f} mm. Take the rest out of a seam or a dart.",
            most_mm=most,
        )
    return pinned_mm - eased_mm, eased_mm, percent


def _weighed(remedy: Remedy, pinned: float, whole: bool, over: float | None, cloth: str) -> Advice:
    total = pinned if whole or remedy.length else 2.0 * pinned
    amount = round(remedy.factor * total, 2)
    if remedy.kind == "" and not remedy.length and over:
        percent = 100.0 * amount / over
        sensible = percent <= _takes(cloth)
        reason = f"{amount:g} mm over {over:.0f} mm are {percent:.1f} %; {cloth} takes {_takes(cloth):g} %."
    elif remedy.most_mm is not None and total > remedy.most_mm:
        sensible, reason = (
            False,
            f"{total:g} mm are more than the {remedy.most_mm:g} mm that this is good for.",
        )
    else:
        sensible, reason = True, "The amount suits it."
    if remedy.kind == "fit.take_in" and total > ANOTHER_SIZE_MM:
        reason += " So much at the seams asks for another size."
    return Advice(remedy, amount, sensible, reason)


def _takes(cloth: str) -> float:
    if cloth not in STAY_PERCENT:
        raise BadInput(f"It is known how much {' and '.join(STAY_PERCENT)} can be eased, not “{cloth}”.")
    return STAY_PERCENT[cloth]
