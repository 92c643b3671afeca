"""Turn a dart into ease: the edge is drawn across its mouth, and its seam is longer on that side on purpose.

Params
------
dart
    The dart; its edge is in one seam, on one side.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.named.darts import beside, bridged
from eke.pattern.darts import dart_of
from eke.pattern.measure import run_length_mm
from eke.pattern.model import Pattern


def dart_to_ease(pattern: Pattern, dart_id: str) -> Pattern:
    """Return the pattern with a dart turned into ease of the seam that runs over it.

    Raises
    ------
    BadInput
        When no seam runs over it, so that there is nothing to ease it onto.
    """
    piece, dart = dart_of(pattern, dart_id)
    before, _ = beside(piece, dart)
    seams = [s for s in pattern.seams_of(before.id) if not s.b_mirrored]
    if not seams:
        raise BadInput(
            f"The edge of “{piece.name}” with this dart is sewn to nothing yet, so there is nothing to ease it onto. Say its "
            "seam first, or remove the dart."
        )
    made, _ = bridged(pattern, piece, dart)
    for seam in seams:
        new = made.seam(seam.id)
        grown = [
            run_length_mm(made, after) - run_length_mm(pattern, old)
            for old, after in ((seam.a, new.a), (seam.b, new.b))
        ]
        made = made.with_seam(replace(new, ease_mm=new.ease_mm + grown[0] - grown[1]))
    return made


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    return dart_to_ease(state, read.text(params, "dart"))


KIND = read.named("fit.dart_to_ease", _apply, lambda p: "Turned a dart into ease", "dart")
