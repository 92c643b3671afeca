"""Move a seam: what one piece gains along it, its mate loses.

A shoulder moved to the front (forward shoulder), a side seam moved to the back: both seam lines are moved by the same
profile, outwards on the first side of the seam and inwards on the second.

Params
------
seam
    The seam.
knots
    [[mm along the first side, mm that it gains there], …], smooth between; below 0 the second side gains.
"""

from __future__ import annotations

from typing import Any

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.edges import smooth_profile, with_moved_edges
from eke.fit.seams import move_run, run_length_mm
from eke.geometry import Path
from eke.pattern.model import Pattern


def move_seam(pattern: Pattern, seam_id: str, knots: tuple[tuple[float, float], ...]) -> Pattern:
    """Return the pattern with a seam moved from its first side towards its second by ``knots``.

    Raises
    ------
    NotFound
        When there is no such seam.
    BadInput
        When a place lies beyond it.
    BadShape
        When a piece would turn inside out.
    """
    seam = pattern.seam(seam_id)
    whole = run_length_mm(pattern, seam.a)
    for at, _ in knots:
        if not -1e-6 <= at <= whole + 1e-6:
            raise BadInput(
                f"The seam is {whole:.0f} mm long; there is no place {at:g} mm along it.", most_mm=whole
            )
    profile = smooth_profile(knots)
    moved: dict[str, dict[str, Path]] = {}
    move_run(pattern, seam.a, profile, -1.0, whole, moved)
    move_run(pattern, seam.b, profile, 1.0, whole, moved)
    for piece_id, paths in moved.items():
        pattern = pattern.with_piece(with_moved_edges(pattern.piece(piece_id), paths))
    return pattern


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    return move_seam(state, read.text(params, "seam"), read.rows(params, "knots"))


def _say(params: read.Params) -> str:
    most = max((abs(float(k[1])) for k in params["knots"]), default=0.0)
    return f"Moved {read.called(params, 'a seam')} by up to {most:g} mm"


KIND = read.named("fit.move_seam", _apply, _say, "seam")
