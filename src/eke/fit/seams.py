"""Take in or let out a seam: a profile along it, shared between its two sides.

The amount is what the seam takes up in all: 12 mm shared in halves moves each side's seam line by 6 mm.
A negative amount lets out. (Girth change G over n seams is G/(2n) for each edge: plain arithmetic.) An edge that is sewn
to its own mirror image, as at a centre back, is drawn once: it moves by half of the amount, and so does its image.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eke.errors import BadInput, ChangeConflict
from eke.fit.edges import Profile, displaced, smooth_profile, with_moved_edges
from eke.geometry.path import Path
from eke.pattern.model import Pattern, RunPart, Seam


@dataclass(frozen=True, slots=True)
class TakeIn:
    """One change of a seam: knots (mm from the seam's start along run A, mm taken in there in all)."""

    seam: str
    knots: tuple[tuple[float, float], ...]
    share_a: float = 0.5

    def __post_init__(self) -> None:
        if not 0.0 <= self.share_a <= 1.0:
            raise BadInput(f"The share of one side lies between 0 and 1, not at {self.share_a:g}.")
        if not self.knots:
            raise BadInput("Say at least one place and how much to take in there.")


def take_in(pattern: Pattern, change: TakeIn) -> Pattern:
    """Return the pattern with the seam taken in (or let out), neighbours' corners following.

    Raises
    ------
    ChangeConflict
        When the seam or one of its edges is not there.
    BadInput
        When a place lies beyond the seam.
    BadShape
        When a piece would turn inside out.
    """
    seam = pattern.seams.get(change.seam)  # type: ignore[call-overload]
    if seam is None:
        raise ChangeConflict(
            f"The seam “{change.seam}” that was to be taken in is not there.", ids=(change.seam,)
        )
    whole = run_length_mm(pattern, seam.a)
    for at, _ in change.knots:
        if not -1e-6 <= at <= whole + 1e-6:
            raise BadInput(
                f"The seam “{seam.name or seam.id}” is {whole:.0f} mm long; there is no place {at:g} mm along it."
            )
    profile = smooth_profile(change.knots)
    moved: dict[str, dict[str, Path]] = {}
    for run, share in moved_sides(seam, change):
        move_run(pattern, run, profile, share, whole, moved)
    for piece_id, paths in moved.items():
        pattern = pattern.with_piece(with_moved_edges(pattern.piece(piece_id), paths))
    return pattern


def moved_sides(seam: Seam, change: TakeIn) -> tuple[tuple[tuple[RunPart, ...], float], ...]:
    """The sides of a seam that are moved, each with its share of the amount; an edge sewn to its own image once."""
    if 0.0 < change.share_a < 1.0 and {p.edge for p in seam.a} == {p.edge for p in seam.b}:
        return ((seam.a, 0.5),)
    sides = ((seam.a, change.share_a), (seam.b, 1.0 - change.share_a))
    return tuple((run, share) for run, share in sides if share > 0.0)


def move_run(
    pattern: Pattern,
    run: Sequence[RunPart],
    profile: Profile,
    share: float,
    whole: float,
    moved: dict[str, dict[str, Path]],
) -> None:
    """Move the edges of a run inwards by ``share`` of a profile over ``whole`` mm; put their paths into ``moved``."""
    length = run_length_mm(pattern, run)
    scale = whole / length
    so_far = 0.0
    for part in run:
        piece, edge = pattern.edge(part.edge)
        own = edge.path.length_mm

        def inwards(
            mm: NDArray[np.float64], start: float = so_far, own: float = own, reverse: bool = part.reverse
        ) -> NDArray[np.float64]:
            along = own - mm if reverse else mm
            return share * profile((start + along) * scale)

        paths = moved.setdefault(piece.id, {})
        if edge.id in paths:
            raise BadInput("Both sides of this seam lie on one edge; change the edge itself instead.")
        paths[edge.id] = displaced(edge.path, inwards)
        so_far += own


def run_length_mm(pattern: Pattern, run: Sequence[RunPart]) -> float:
    """Return the length of a run in mm, edge by edge."""
    return sum(pattern.edge(part.edge)[1].path.length_mm for part in run)
