"""Turn a dart into ease or gathers: the edge is drawn across its mouth, and its seam is longer on that side on purpose.

Eased, the seam's own ease grows by the intake, wherever it is worked in. Gathered, it is drawn up over the dart's mouth and a
little to both sides, between two notches.

Params
------
dart
    The dart; its edge is in one seam, on one side.
how
    "eased" (where not said) or "gathered".
beside_mm
    How far to both sides of the mouth it is gathered; as much as the dart took up where not said, 20 mm at the least.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.named.darts import beside, bridged, mouth
from eke.geometry.segments import distance
from eke.pattern.darts import dart_of
from eke.pattern.gathers import MOST_RATIO, say_gather
from eke.pattern.measure import run_length_mm
from eke.pattern.model import EdgeId, EdgePlace, Pattern, Seam

LEAST_BESIDE_MM: Final = 20.0


def dart_to_ease(pattern: Pattern, dart_id: str) -> Pattern:
    """Return the pattern with a dart turned into ease of the seam that runs over it.

    Raises
    ------
    BadInput
        When no seam runs over it, so that there is nothing to ease it onto.
    """
    made, _, seams = _bridged(pattern, dart_id)
    for seam in seams:
        new = made.seam(seam.id)
        grown = [
            run_length_mm(made, after) - run_length_mm(pattern, old)
            for old, after in ((seam.a, new.a), (seam.b, new.b))
        ]
        made = made.with_seam(replace(new, ease_mm=new.ease_mm + grown[0] - grown[1]))
    return made


def dart_to_gathers(pattern: Pattern, dart_id: str, beside_mm: float | None, change_id: str) -> Pattern:
    """Return the pattern with a dart turned into gathers over its mouth and ``beside_mm`` to both sides.

    Raises
    ------
    BadInput
        When no seam runs over it, or the gathers would be too full; with how far they must go.
    """
    piece, dart = dart_of(pattern, dart_id)
    p, q = mouth(piece, dart)
    intake = distance(p, q)
    made, edge_id, _ = _bridged(pattern, dart_id)
    edge = made.edge(edge_id)[1]
    length = edge.path.length_mm
    middle = edge.path.nearest(((p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0)).at_mm
    reach = max(LEAST_BESIDE_MM, intake) if beside_mm is None else beside_mm
    low, high = max(0.0, middle - intake / 2.0 - reach), min(length, middle + intake / 2.0 + reach)
    if high - low < intake * MOST_RATIO / (MOST_RATIO - 1.0):
        least = intake / (2.0 * (MOST_RATIO - 1.0))
        raise BadInput(
            f"The dart takes up {intake:.0f} mm: gathered over {reach:.0f} mm to both sides of it that is too full. Let it be "
            f"{least:.0f} mm or more.",
            least_mm=least,
        )
    return say_gather(
        made,
        edge_id,
        EdgePlace(EdgeId(edge_id), mm=low),
        EdgePlace(EdgeId(edge_id), mm=high),
        "gathered",
        ratio=(high - low) / (high - low - intake),
        change_id=change_id,
    )


def _bridged(pattern: Pattern, dart_id: str) -> tuple[Pattern, str, list[Seam]]:
    """The pattern with the edge drawn across a dart's mouth, that edge, and the seams that run over it."""
    piece, dart = dart_of(pattern, dart_id)
    before, _ = beside(piece, dart)
    seams = [s for s in pattern.seams_of(before.id) if not s.b_mirrored]
    if not seams:
        raise BadInput(
            f"The edge of “{piece.name}” with this dart is sewn to nothing yet, so there is nothing to ease it onto. Say its "
            "seam first, or remove the dart."
        )
    made, edge_id = bridged(pattern, piece, dart)
    return made, edge_id, seams


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    dart = read.text(params, "dart")
    if read.word(params, "how", ("eased", "gathered"), "eased") == "eased":
        return dart_to_ease(state, dart)
    beside_mm = None if params.get("beside_mm") is None else read.number(params, "beside_mm")
    return dart_to_gathers(state, dart, beside_mm, context.record_id)


def _say(params: read.Params) -> str:
    return "Turned a dart into gathers" if params.get("how") == "gathered" else "Turned a dart into ease"


KIND = read.named("fit.dart_to_ease", _apply, _say, "dart")
