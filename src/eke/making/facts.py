"""What is known of a garment besides its pattern: wearer, closures, what is sewn on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from eke.errors import BadInput


@dataclass(frozen=True, slots=True)
class Button:
    """Buttons of one kind: how many, and their size in mm; ``ball``: round all over, not flat."""

    count: int
    diameter_mm: float
    thickness_mm: float = 3.0
    ball: bool = False

    def __post_init__(self) -> None:
        if self.count < 1 or not self.diameter_mm > 0 or not self.thickness_mm > 0:
            raise BadInput("Buttons need a number of at least 1, and a diameter and thickness above 0 mm.")


@dataclass(frozen=True, slots=True)
class Facts:
    """What the maker said of the garment.

    Parameters
    ----------
    wearer_age_years
        The wearer's age, where it is a child.
    nightwear, outerwear
        Whether it is slept in, or worn outside on top.
    cords
        Places with a cord, tie or drawstring: ``hood``, ``neck``, ``waist``, ``hem``, ``ankle``, ``back``.
    buttons
        Buttons, where there are any.
    sewn_on
        Pieces that are sewn onto another one (a patch pocket): ``{pocket: front}``, by the id or the
        name of the piece.
    """

    wearer_age_years: float | None = None
    nightwear: bool = False
    outerwear: bool = False
    cords: tuple[str, ...] = ()
    buttons: tuple[Button, ...] = ()
    sewn_on: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_for_a_child(self) -> bool:
        """Whether rules for children's clothes may apply: under 14 years, as in EN 14682."""
        return self.wearer_age_years is not None and self.wearer_age_years < CHILD_TO_YEARS


CHILD_TO_YEARS = 14
"""Children's clothing reaches to the 14th birthday in EN 14682."""


def facts_from(said: Mapping[str, Any]) -> Facts:
    """Read facts from what is kept with a pattern (:attr:`eke.pattern.model.Pattern.facts`).

    Unknown words are left alone: others keep facts there too.

    Raises
    ------
    BadInput
        When a value cannot be.
    """
    age = said.get("wearer_age_years")
    if age is not None and (isinstance(age, bool) or not isinstance(age, int | float) or not 0 <= age < 130):
        raise BadInput(f"An age of “{age}” cannot be. Type the wearer's age in years.")
    buttons = said.get("buttons", ())
    if isinstance(buttons, Mapping):
        buttons = (buttons,)
    sewn_on = said.get("sewn_on", {})
    return Facts(
        wearer_age_years=None if age is None else float(age),
        nightwear=bool(said.get("nightwear", False)),
        outerwear=bool(said.get("outerwear", False)),
        cords=tuple(str(cord) for cord in said.get("cords", ())),
        buttons=tuple(_button(button) for button in buttons),
        sewn_on={str(k): str(v) for k, v in sewn_on.items()} if isinstance(sewn_on, Mapping) else {},
    )


def _button(said: Any) -> Button:
    if not isinstance(said, Mapping) or "diameter_mm" not in said:
        raise BadInput("Buttons need their diameter in mm.")
    try:
        return Button(
            int(said.get("count", 1)),
            float(said["diameter_mm"]),
            float(said.get("thickness_mm", 3.0)),
            bool(said.get("ball", False)),
        )
    except (TypeError, ValueError) as wrong:
        if isinstance(wrong, BadInput):
            raise
        raise BadInput("Buttons need numbers for count, diameter and thickness.") from wrong
