"""Notches of a seam: moved to their mates, given one, set on both sides, made double."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from eke.changes import child_id
from eke.errors import BadInput, ChangeConflict
from eke.pattern.corners import place_at
from eke.pattern.measure import Run
from eke.pattern.model import EdgePlace, Notch, Pattern
from eke.pattern.walking import walk


def match_notch(pattern: Pattern, seam_id: str, notch_id: str, to_id: str) -> Pattern:
    """Return the pattern with a notch moved to where its mate on the other side of the seam wants it."""
    walked = walk(pattern, seam_id)
    for run, other in ((walked.a, walked.b), (walked.b, walked.a)):
        own = next((n for n in run.notches() if n.notch.id == notch_id), None)
        mate = next((n for n in other.notches() if n.notch.id == to_id), None)
        if own is not None and mate is not None:
            on_a = run is walked.a
            mm = (
                _on_a(walked.expected_on_b, walked.a.length_mm, mate.at_mm)
                if on_a
                else walked.expected_on_b(mate.at_mm)
            )
            return _put_notch(pattern, run, own.notch, mm)
    raise ChangeConflict("The two notches are not on the two sides of this seam.", seam=seam_id)


def add_mate(pattern: Pattern, seam_id: str, notch_id: str, change_id: str) -> Pattern:
    """Return the pattern with the missing mate of a notch set at the same seam distance, ease counted."""
    walked = walk(pattern, seam_id)
    for run, other in ((walked.a, walked.b), (walked.b, walked.a)):
        own = next((n for n in run.notches() if n.notch.id == notch_id), None)
        if own is None:
            continue
        mm = (
            walked.expected_on_b(own.at_mm)
            if run is walked.a
            else _on_a(walked.expected_on_b, walked.a.length_mm, own.at_mm)
        )
        if not 0.0 <= mm <= other.length_mm:
            raise ChangeConflict(
                "The other side of the seam ends before that place.", seam=seam_id, notch=notch_id
            )
        new = Notch(
            child_id(notch_id, change_id, "mate"),
            EdgePlace(other.stretches[0].edge.id, fraction=0.0),
            own.notch.count,
        )
        return _put_notch(pattern, other, new, mm)
    raise ChangeConflict("The notch is not on this seam.", seam=seam_id, notch=notch_id)


def set_notches(pattern: Pattern, seam_id: str, at_mm: float, count: int, change_id: str) -> Pattern:
    """Return the pattern with a notch ``at_mm`` along run A of a seam and its mate on run B, ease counted.

    Raises
    ------
    BadInput
        When the place lies beyond the seam.
    """
    if not 1 <= count <= 3:
        raise BadInput(f"A notch is single, double or triple, not {count}-fold.")
    walked = walk(pattern, seam_id)
    if not 0.0 < at_mm < walked.a.length_mm:
        raise BadInput(
            f"The seam is {walked.a.length_mm:.1f} mm long; there is no place {at_mm:g} mm along it."
        )
    a_id = child_id(seam_id, change_id, "notch a")
    first = walked.a.stretches[0].edge.id
    pattern = _put_notch(pattern, walked.a, Notch(a_id, EdgePlace(first, fraction=0.0), count), at_mm)
    if {p.edge for p in walked.seam.a} == {p.edge for p in walked.seam.b}:
        return pattern
    return add_mate(pattern, seam_id, a_id, change_id)


def double_pair(pattern: Pattern, seam_id: str, notch_id: str) -> Pattern:
    """Return the pattern with a notch and its mate made double, so that the seam has a right way round."""
    walked = walk(pattern, seam_id)
    pair = next((p for p in walked.pairs if notch_id in (p.a.notch.id, p.b.notch.id)), None)
    if pair is None:
        raise ChangeConflict("The notch has no mate on this seam.", seam=seam_id, notch=notch_id)
    for found in (pair.a, pair.b):
        piece = pattern.piece(found.piece.id)
        notches = tuple(
            replace(n, count=2 if n.count == 1 else 1) if n.id == found.notch.id else n for n in piece.notches
        )
        pattern = pattern.with_piece(replace(piece, notches=notches))
        if pair.a.notch.id == pair.b.notch.id:
            break
    return pattern


def _on_a(expected_on_b: Callable[[float], float], length_mm: float, b_mm: float) -> float:
    """Return where on A the place ``b_mm`` of B belongs: the inverse of a rising function, by bisection."""
    low, high = 0.0, length_mm
    for _ in range(60):
        mid = (low + high) / 2.0
        if expected_on_b(mid) < b_mm:
            low = mid
        else:
            high = mid
    return (low + high) / 2.0


def _put_notch(pattern: Pattern, run: Run, notch: Notch, mm: float) -> Pattern:
    """Return the pattern with ``notch`` placed ``mm`` along the run; its way of saying a place is kept."""
    mm = min(max(mm, 0.0), run.length_mm)
    stretch = next(s for s in run.stretches if mm <= s.to_mm + 1e-9)
    along = min(max(mm - stretch.from_mm, 0.0), stretch.path.length_mm)
    if stretch.part.reverse:
        along = stretch.path.length_mm - along
    placed = replace(
        notch, at=place_at(stretch.edge, along, notch.at if notch.at.edge == stretch.edge.id else None)
    )
    for piece in pattern.pieces.values():
        if piece.id != stretch.piece.id and any(n.id == notch.id for n in piece.notches):
            pattern = pattern.with_piece(
                replace(piece, notches=tuple(n for n in piece.notches if n.id != notch.id))
            )
    piece = pattern.piece(stretch.piece.id)
    others = tuple(n for n in piece.notches if n.id != notch.id)
    return pattern.with_piece(replace(piece, notches=(*others, placed)))
