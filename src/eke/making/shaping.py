"""What shapes a piece before it is sewn to another: darts inside it, tucks, pleats, gathers and ease, in words.

Tucks are stitched and pleats tacked across while the piece is flat; gathers and ease are run with rows of stitches
inside the allowance and drawn up to the notches (common practice).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from eke.pattern.corners import called, pleat_intake_mm
from eke.pattern.gathers import span_mm
from eke.pattern.model import Gather, Piece

ShapingKind = Literal["dart", "pleat"]


def shaping_steps(piece: Piece) -> Iterator[tuple[ShapingKind, str, str]]:
    """Yield the kind, an id and a sentence for each dart inside a piece, and each tuck and pleat."""
    marks = {m.id: m for m in piece.marks}
    for mark in piece.marks:
        if mark.kind == "dart" and len(mark.points) > 1:
            yield (
                "dart",
                f"dart:{piece.id}:{mark.id}",
                f"Sew the dart inside {piece.name} in two goes, each from its widest place to a point, tie off the threads; clip the "
                "fold at the widest place if it pulls, and press it to one side over a rounded pad.",
            )
    for pleat in piece.pleats:
        width = pleat_intake_mm(piece, pleat) / 2.0
        first = marks.get(pleat.first)
        tuck = first is not None and first.name == "sew together"
        words = (
            f"Fold the tuck in {piece.name} with its two lines on each other and stitch along them; it stands {width:.0f} mm deep. "
            "Press it to one side."
            if tuck
            else f"Fold the pleat in {piece.name} along its fold, lay it on its line ({width:.0f} mm deep), press it, and tack it "
            "across inside the allowance."
        )
        yield "pleat", f"pleat:{piece.id}:{pleat.id}", words


def gather_words(piece: Piece, gather: Gather) -> str:
    """Return how a stretch is made ready to be gathered or eased."""
    edge = piece.edge(gather.edge)
    low, high = span_mm(piece, gather)
    whole = gather.start is None and gather.end is None
    where = f"the {called(piece, edge)} of {piece.name}" + ("" if whole else " between its notches")
    to = (
        "to fit"
        if gather.ratio is None
        else f"from {high - low:.0f} mm to {(high - low) / gather.ratio:.0f} mm"
    )
    if gather.how == "gathered":
        return f"Run two rows of long stitches inside the allowance along {where}, draw them up {to}, and spread the gathers evenly."
    return f"Run one row of long stitches inside the allowance along {where}, and draw it up {to} without a pleat."
