"""How exact a pattern should be: every limit that walking uses, in one record that the maker may adjust.

The lengths follow one professional's 1/16 in (1.6 mm) with 1/8 in (3.2 mm) as the relaxed limit (Threads 200,
2018); angles and notches are common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from eke.errors import BadInput
from eke.findings import Severity


@dataclass(frozen=True, slots=True)
class Tolerances:
    """Below ``…fine`` nothing is said; to ``…note`` it is a note; above, the maker is asked."""

    length_fine_mm: float = 1.5
    length_note_mm: float = 3.0
    notch_fine_mm: float = 1.5
    notch_note_mm: float = 3.0
    join_fine_deg: float = 2.0
    join_note_deg: float = 5.0
    fold_fine_deg: float = 1.0
    fold_note_deg: float = 3.0
    dart_legs_fine_mm: float = 0.5
    dart_legs_note_mm: float = 1.5
    confusable_mm: float = 10.0
    """A seam whose notches lie as far from one end as from the other, within this, can be sewn end for end."""
    notch_mate_mm: float = 30.0
    """A notch farther from its place than this is no mate but another notch."""

    def __post_init__(self) -> None:
        for what in ("length", "notch", "join", "fold", "dart_legs"):
            unit = "deg" if what in ("join", "fold") else "mm"
            fine, note = getattr(self, f"{what}_fine_{unit}"), getattr(self, f"{what}_note_{unit}")
            if not 0.0 <= fine <= note:
                raise BadInput(
                    f"The limits for {what.replace('_', ' ')} must be 0 or more and rise: {fine:g}, {note:g}."
                )


DEFAULT: Final = Tolerances()
"""The limits that hold where the maker set none."""


def graded(amount: float, fine: float, note: float) -> Severity | None:
    """Return how serious a difference of ``amount`` is: nothing, a note, or a question to the maker."""
    if abs(amount) <= fine + 1e-9:
        return None
    return "note" if abs(amount) <= note + 1e-9 else "ask"
