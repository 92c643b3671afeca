"""Notions: buttons, thread, tape, elastic, fusible: what a garment needs besides cloth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from eke.errors import BadInput

NotionUnit = Literal["piece", "m", "g"]


@dataclass(frozen=True, slots=True)
class Notion:
    """So much of a notion on the shelf.

    ``diameter_mm`` and ``thickness_mm`` are a button's, ``width_mm`` a tape's; ``amount`` is exact, in
    ``unit``; ``origin`` says where it came from ("cut off a worn shirt").
    """

    id: str
    name: str
    amount: Fraction
    unit: NotionUnit = "piece"
    kind: str = ""
    diameter_mm: float | None = None
    thickness_mm: float | None = None
    width_mm: float | None = None
    origin: str = ""

    def __post_init__(self) -> None:
        if self.amount < 0:
            raise BadInput(f"There cannot be less than nothing of “{self.name}”.")
        for size_mm in (self.diameter_mm, self.thickness_mm, self.width_mm):
            if size_mm is not None and not size_mm > 0:
                raise BadInput(
                    f"A size of “{self.name}” is {size_mm:g} mm. Measure it again; it must be above 0."
                )

    def less(self, amount: Fraction) -> Notion:
        """Return what is left after ``amount`` was used. Raises :class:`BadInput` when it is too little."""
        if amount > self.amount:
            raise BadInput(
                f"Of “{self.name}” there {_are(self.amount, self.unit)} left, and {_says(amount, self.unit)} "
                f"{'is' if amount == 1 else 'are'} wanted. Use fewer, or add more to the shelf first."
            )
        return replace(self, amount=self.amount - amount)


def _says(amount: Fraction, unit: NotionUnit) -> str:
    number = f"{float(amount):g}"
    return number if unit == "piece" else f"{number} {unit}"


def _are(amount: Fraction, unit: NotionUnit) -> str:
    return f"{'is' if amount == 1 else 'are'} {_says(amount, unit)}"
