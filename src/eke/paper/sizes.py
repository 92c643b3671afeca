"""Sizes of paper, and the part of them that a home printer can reach."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from eke.errors import NotFound
from eke.units import MM_PER_INCH


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet of paper, upright: ``width_mm`` is never more than ``height_mm``."""

    name: str
    width_mm: float
    height_mm: float

    def lying(self) -> Paper:
        """Return the same paper turned on its long side."""
        return Paper(self.name, self.height_mm, self.width_mm)


MARGIN_MM: Final = 10.0
"""Kept free all round: home printers reach to 3–6 mm of the edge, some only to 9 mm at one end."""

PAPERS: Final[dict[str, Paper]] = {
    paper.name.lower(): paper
    for paper in (
        Paper("A4", 210.0, 297.0),  # ISO 216
        Paper("A3", 297.0, 420.0),
        Paper("A2", 420.0, 594.0),
        Paper("A1", 594.0, 841.0),
        Paper("A0", 841.0, 1189.0),
        Paper("Letter", 8.5 * MM_PER_INCH, 11.0 * MM_PER_INCH),  # ASME Y14.1 size A
        Paper("Tabloid", 11.0 * MM_PER_INCH, 17.0 * MM_PER_INCH),  # ASME Y14.1 size B
    )
}


def paper_named(name: str) -> Paper:
    """Return the paper called ``name`` (“a4”, “Letter”, …).

    Raises
    ------
    NotFound
        When there is no such paper.
    """
    paper = PAPERS.get(name.strip().lower())
    if paper is None:
        known = ", ".join(p.name for p in PAPERS.values())
        raise NotFound(f"There is no paper called “{name}” here. Choose one of {known}.")
    return paper
