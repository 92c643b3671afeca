"""Things found wrong in a pattern: not errors, but places to look at, each with a stable code.

A finding says what, where, how much against which tolerance, and which fixes could be applied. Codes never
change their meaning; each one has a section in ``docs/reference/findings.md`` (generated from
:data:`CODES`, tested).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final, Literal

Severity = Literal["note", "ask", "fault"]
"""``note``: small, said once; ``ask``: the maker decides; ``fault``: cannot be sewn or cut as it is."""


@dataclass(frozen=True, slots=True)
class Fix:
    """A remedy that can be applied: the change ``kind`` with its ``params``, and a sentence about it."""

    kind: str
    params: dict[str, Any]
    sentence: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found. ``where`` holds ids (pieces, edges, seams); ``at_mm`` is a place to point at.

    ``amount`` and ``tolerance`` are in the unit that the code's entry in :data:`CODES` names.
    """

    code: str
    severity: Severity
    sentence: str
    where: tuple[str, ...] = ()
    at_mm: tuple[float, float] | None = None
    amount: float | None = None
    tolerance: float | None = None
    fixes: tuple[Fix, ...] = field(default=())

    def __post_init__(self) -> None:
        if self.code not in CODES:
            raise ValueError(f"finding code {self.code!r} is not in eke.findings.CODES")


@dataclass(frozen=True, slots=True)
class Code:
    """What a finding code means: ``unit`` of its amount (mm, degrees or none), meaning and remedy."""

    unit: Literal["mm", "deg", "mm2", ""]
    meaning: str
    remedy: str


CODES: Final[dict[str, Code]] = {
    "seam-length": Code(
        "mm",
        "The two sides of a seam differ in length by more than the seam ease allows.",
        "Share the difference, move one end, or say that the longer side is eased.",
    ),
    "seam-ease-missing": Code(
        "mm", "A side that should be eased is shorter than its mate.", "Lengthen it, or drop the ease."
    ),
    "notch-apart": Code(
        "mm",
        "A notch and its mate lie at different distances from the seam end.",
        "Move one of the two notches.",
    ),
    "notch-alone": Code(
        "", "A notch has no mate on the other side of its seam.", "Add its mate, or remove it."
    ),
    "balance-apart": Code(
        "mm",
        "Balance lines of one name meet a seam at different distances from its end.",
        "Move one line, or only its end at that seam, or say that it is meant.",
    ),
    "notch-confusable": Code(
        "mm",
        "A seam could be sewn end for end: its notches look the same from both ends.",
        "Move a notch, or make one of them double.",
    ),
    "join-angle": Code(
        "deg",
        "Where two pieces join, their free edges do not run on smoothly: the two corners do not add up to 180°.",
        "Redraw the join as one curve, or say that the corner is meant.",
    ),
    "fold-square": Code(
        "deg",
        "An edge does not meet the fold line at a right angle, so the whole piece gets a point or a dip.",
        "Square the edge off at the fold.",
    ),
    "pleat-mouth": Code(
        "mm",
        "The edge across a tuck or pleat does not lie on the edge beside it when that is folded.",
        "True it: it is drawn as the edge beside it, folded.",
    ),
    "dart-legs": Code("mm", "The two legs of a dart differ in length.", "True the dart."),
    "seam-unsaid": Code(
        "", "An edge that will be sewn belongs to no seam yet.", "Say its seam, or call it an opening."
    ),
    "outline-crosses": Code(
        "", "The outline of a piece crosses itself.", "Take the last change back, or redraw it."
    ),
    "set-aside": Code(
        "", "A change no longer applies and was set aside.", "Amend it, switch it off, or leave it."
    ),
    "target-gone": Code(
        "",
        "A recipe, a hand adjustment, or something that is held names an edge or a line that is gone.",
        "Choose the edge again, drop it, or let it go.",
    ),
    "allowance-narrow": Code(
        "mm", "An allowance is narrower than its kind of seam needs.", "Widen it, or choose another seam."
    ),
    "allowance-corner": Code(
        "mm", "At a sharp corner the allowance was cut back so that no spike is left.", "Check the corner."
    ),
    "grain-missing": Code("", "A piece has no grain line.", "Draw its grain line."),
    "length-held": Code(
        "mm",
        "An edge that is held in its length has become another length.",
        "Make it so long again, hold it at what it is now, or let it be of any length.",
    ),
    "point-off-line": Code(
        "mm",
        "A corner, notch or mark that is held on a balance line lies off it.",
        "Put it back on the line, or let it lie where it is.",
    ),
    "no-opening": Code(
        "mm",
        "The garment has no opening and its neck is too small for the head.",
        "Add an opening, or lower the neck.",
    ),
    "tape-differs": Code(
        "mm",
        "A length of the pattern differs from what was taped on the garment at that point of measure.",
        "Look at the piece that is named: trace it again, move its edge, or say that the garment has stretched there.",
    ),
    "tape-unplaced": Code(
        "",
        "A length was taped on the garment, and nothing in the pattern is called as its point of measure.",
        "Name the seam, edge or balance line, or say where it was taped.",
    ),
    "trace-uncertain": Code(
        "mm",
        "The tracing is less certain than the tolerance of the seams needs.",
        "Take the photograph again.",
    ),
}
