"""What a tracing by hand is worth, beside what its photograph is worth.

The photograph shows where the line was drawn, not where the seam is. A pen leans and runs beside the edge; a pin leans
in what it goes through; thin cloth is as exact as it was smoothed; a worn garment has grown where it was stretched.
The amounts are from memory, of the size that sewing books tell makers to expect; no standard gives them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, Literal, get_args

from eke.errors import BadInput

__all__ = ["HAND_MM", "WORN_MM", "TracedBy", "with_hand"]

TracedBy = Literal["pen", "pins", "cloth"]
HAND_MM: Final[Mapping[TracedBy, float]] = MappingProxyType({"pen": 0.8, "pins": 1.0, "cloth": 2.5})
"""How far the drawn line may lie from the seam or edge that was meant, for nine in ten places."""
WORN_MM: Final = 2.0
"""... and how far a much-worn garment may have grown or shrunk there."""


def with_hand(uncertainty_mm: float, traced_by: str | None = None, worn: bool = False) -> float:
    """What an outline is worth with the hand that traced it, in mm; errors that have nothing to do with each other add
    as squares.

    Parameters
    ----------
    uncertainty_mm
        Of the photographed line.
    traced_by
        With what it was traced; ``None``: not said, and nothing is added for it.
    worn
        The garment is much worn.

    Raises
    ------
    BadInput
        When it is traced by something else.
    """
    if traced_by is not None and traced_by not in get_args(TracedBy):
        raise BadInput(f"A garment is traced by {', '.join(get_args(TracedBy))}; “{traced_by}” is not known.")
    hand = HAND_MM[traced_by] if traced_by is not None else 0.0  # type: ignore[index]
    return math.hypot(uncertainty_mm, hand, WORN_MM if worn else 0.0)
