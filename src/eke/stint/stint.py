"""Stints: ways to save cloth, each with its harm, ranked, and each a pure change of the cutting list.

Order of harm
-------------
Parts that nobody sees from another cloth; narrower allowances; a narrower facing; hidden parts on the
cross grain; a seam at the centre instead of a fold; a narrower hem; a hidden part pieced; a small tilt off
the grain; a visible part pieced; shorter; a second cloth for a part that is seen; leaving something out.
Leaving the straight of grain is worse than a hidden join.

References
----------
The order follows two published essays, a costume handbook on piecing and magazine columns that agree; "better
to piece than to leave the straight of grain" is from the US Dept of Agriculture. Least allowances (10 mm
plain, 12 mm on cloth that frays, 6 mm enclosed) and the limits of tilt are common practice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Literal

from eke.cutting import CutPiece
from eke.sentences import in_a_row

StintKind = Literal[
    "other cloth", "narrower allowances", "narrower facing", "cross grain", "centre seam", "narrower hem",
    "piece hidden", "tilt", "piece visible", "shorter", "second cloth", "leave out",
]  # fmt: skip

HARM: Final[Mapping[StintKind, int]] = {
    "other cloth": 1, "narrower allowances": 2, "narrower facing": 3, "cross grain": 4, "centre seam": 5,
    "narrower hem": 6, "piece hidden": 7, "tilt": 8, "piece visible": 9, "shorter": 10, "second cloth": 11,
    "leave out": 12,
}  # fmt: skip
"""Harm in looks, work or wear: the smaller, the sooner it is offered."""

LEAST_PLAIN_MM: Final = 10.0
LEAST_FRAYING_MM: Final = 12.0
LEAST_ENCLOSED_MM: Final = 6.0
LEAST_FACING_MM: Final = 35.0
"""A facing narrower than this rolls out (common practice; 50 to 64 mm is usual)."""
FACING_STEP_MM: Final = 15.0
"""A facing is made narrower by this much at a time."""
LEAST_HEM_MM: Final = 15.0
"""Least hem that can be turned twice (common practice)."""
SHORTER_MM: Final = 30.0
"""How much a garment is shortened in one step."""
JOIN_ALLOWANCE_MM: Final = 10.0
"""Allowance on both edges of a piecing seam."""


@dataclass(frozen=True, slots=True)
class Stint:
    """One way to save cloth.

    Parameters
    ----------
    id
        Stays the same for the same stint on the same pieces.
    kind, harm
        What it is, and its place in the order of harm (1 is least).
    pieces
        Ids of the cut pieces that it changes.
    saved_mm2
        Area of cut pieces saved on the cloths at hand; below 0 where it costs area but makes room easier to
        find (a piecing seam), 0 where only the freedom grows (a tilt).
    sentence
        What is done and what it costs, for the maker.
    enough
        Whether the area saved covers what is short, by area alone: only laying again proves it.
    params
        Amounts in mm and degrees, as :func:`eke.stint.apply` needs them.
    """

    id: str
    kind: StintKind
    harm: int
    pieces: tuple[str, ...]
    saved_mm2: float
    sentence: str
    enough: bool = False
    params: Mapping[str, Any] = field(default_factory=dict)


def area_words(mm2: float) -> str:
    """An area as a maker reads it: cm² below a tenth of a square metre, else m²."""
    return f"{mm2 / 100:.0f} cm²" if abs(mm2) < 100_000 else f"{mm2 / 1e6:.2f} m²"


def names_of(pieces: Sequence[CutPiece]) -> str:
    """Names of pieces in a sentence, each once."""
    plain = (piece.name.removesuffix(", mirrored").removesuffix(", as drawn") for piece in pieces)
    return in_a_row(f"“{name}”" for name in plain)
