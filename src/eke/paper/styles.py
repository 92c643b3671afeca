"""How lines look, by what they mean: one table for every page, readable in black and white.

Kinds of line follow drawing practice (ISO 128-2: dash 12 d, long dash 24 d, gap 3 d, dot ½ d for a line of
width d; widths from the series 0.18, 0.25, 0.35, 0.5, 0.7 mm; figures from memory) and the trade: cut line
solid, seam line dashed, fold long-dash double-dot, balance line long-dash dot, grain a plain arrow, notch a
short stroke across the seam line. No meaning rests on colour alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

INK: Final = "#1F2A44"
QUIET: Final = "#5B6275"
FAINT: Final = "#B9BCC4"
"""For guides that should not be mistaken for pattern lines; still visible on a laser printer."""
ROSE: Final = "#B23A48"
OCHRE: Final = "#8A5A00"
SAGE: Final = "#3B6B4B"
BLUE: Final = "#2B6391"
WHITE: Final = "#FFFFFF"
TINT: Final = "#F3EEE3"
"""Calico, for shading behind a heading: prints as a very pale grey."""

THIN: Final = 0.25
MEDIUM: Final = 0.35
BROAD: Final = 0.5


@dataclass(frozen=True, slots=True)
class LineStyle:
    """A kind of line: what it means, its width, its dashes (drawn, skipped, …) and its colour."""

    meaning: str
    width_mm: float
    dash_mm: tuple[float, ...] = ()
    colour: str = INK
    round_ends: bool = False


def dashes(width_mm: float, *kinds: Literal["dash", "long", "dot"]) -> tuple[float, ...]:
    """Return the dash lengths of a line of ``width_mm`` made of the given strokes with gaps between.

    Examples
    --------
    >>> dashes(0.5, "long", "dot")
    (12.0, 1.5, 0.25, 1.5)
    """
    lengths = {"dash": 12.0, "long": 24.0, "dot": 0.5}
    out: list[float] = []
    for kind in kinds:
        out += [round(lengths[kind] * width_mm, 4), round(3.0 * width_mm, 4)]
    return tuple(out)


CUT: Final = LineStyle("cut", BROAD)
SEAM: Final = LineStyle("seam", MEDIUM, dashes(MEDIUM, "dash"))
FOLD: Final = LineStyle("fold", BROAD, dashes(BROAD, "long", "dot", "dot"))
CREASE: Final = LineStyle("fold of a pleat", THIN, dashes(THIN, "long", "dot", "dot"))
BALANCE: Final = LineStyle("balance", THIN, dashes(THIN, "long", "dot"))
GRAIN: Final = LineStyle("grain", MEDIUM)
NOTCH: Final = LineStyle("notch", BROAD)
INSIDE: Final = LineStyle("line inside a piece", THIN, dashes(THIN, "dash"))
DART: Final = LineStyle("dart", MEDIUM, dashes(MEDIUM, "dash"))
MARK: Final = LineStyle("mark", MEDIUM)

FRAME: Final = LineStyle("frame", THIN, (), QUIET)
GUIDE: Final = LineStyle("guide", THIN, (), FAINT)
JOIN: Final = LineStyle("join", THIN, (2.0, 1.6), QUIET)
MEASURE: Final = LineStyle("measure", 0.18, (), QUIET)
CHECK: Final = LineStyle("check", MEDIUM)
CLOTH: Final = LineStyle("cloth", 0.7)
SELVEDGE: Final = LineStyle("selvedge", 0.7)
FLAW: Final = LineStyle("flaw", MEDIUM, (), ROSE)
HATCH: Final = LineStyle("hatch", 0.18, (), QUIET)
STITCHES: Final = LineStyle("running stitches", 0.7, (3.2, 2.2), BLUE, round_ends=True)
"""A row of running stitches: the rule beneath every title."""
BOX: Final = LineStyle("tick box", MEDIUM)

BY_MEANING: Final[dict[str, LineStyle]] = {
    style.meaning: style for style in (CUT, SEAM, FOLD, BALANCE, GRAIN, NOTCH, INSIDE, DART, MARK, CREASE)
}
"""The lines of a pattern, by meaning."""

ClothRole = Literal["outer", "lining", "interlining", "interfacing", "mock-up"]

ROLE_TINT: Final[dict[str, str]] = {
    "outer": "#FBF8F1",
    "lining": "#EDF3F6",
    "interlining": "#F3F0F7",
    "interfacing": "#EFF4EE",
    "mock-up": "#FAF2EC",
}
"""Pale tints for pieces on a plan; the hatch beside each tells the roles apart in black and white."""
