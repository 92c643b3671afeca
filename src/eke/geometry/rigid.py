"""Lay one line over another by a rigid move: least squares, first by shape, then by nearest points.

References
----------
The turn of two matched point sets in the plane has a closed form (Umeyama, IEEE PAMI 13, 1991, in complex
numbers); refinement towards the tangents at the nearest points: Chen & Medioni, Image and Vision Computing
10 (3), 1992.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from eke.geometry.move import Move
from eke.geometry.path import Path

Points = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

_SAMPLES = 256
"""Points along each line while they are matched by shape; a power of two for the transform."""


_SETTLED_MM = 1e-9
"""The refinement ends when a step gains less."""


@dataclass(frozen=True, slots=True)
class Registration:
    """How one line lies best on another: the ``move``, and how far apart they still are."""

    move: Move
    rms_mm: float
    greatest_mm: float


def best_move(points: Points, onto: Points) -> Move:
    """Return the rigid move (no mirror) that brings matched ``points`` ``(n, 2)`` nearest to ``onto``."""
    z, w = points[:, 0] + 1j * points[:, 1], onto[:, 0] + 1j * onto[:, 1]
    zc, wc = z.mean(), w.mean()
    turn = np.sum(np.conj(z - zc) * (w - wc))
    turn = turn / abs(turn) if abs(turn) > 0 else 1.0 + 0.0j
    shift = wc - turn * zc
    c, s = float(turn.real), float(turn.imag)
    return Move(c, -s, float(shift.real), s, c, float(shift.imag))


def register(moving: Path, fixed: Path, *, may_flip: bool = False, steps: int = 30) -> Registration:
    """Return the rigid move that lays ``moving`` on ``fixed``.

    Two closed lines are matched whatever their starts; open ones from start to start. ``may_flip`` also
    tries the mirror image, as for a left and a right piece.
    """
    options = [Move()]
    if may_flip:
        x = (moving.bounds[0] + moving.bounds[2]) / 2.0
        options.append(Move.mirror((x, 0.0), (x, 1.0)))
    answers = []
    for before in options:
        line = moving.moved(before)
        if before.flips and moving.is_closed:
            line = line.reversed()
        answers.append(_registered(line, fixed, before, steps))
    return min(answers, key=lambda r: r.rms_mm)


def _registered(line: Path, fixed: Path, before: Move, steps: int) -> Registration:
    closed = line.is_closed and fixed.is_closed
    mms = (np.arange(_SAMPLES) / _SAMPLES) if closed else np.linspace(0.0, 1.0, _SAMPLES)
    points, onto = line.points_at(mms * line.length_mm), fixed.points_at(mms * fixed.length_mm)
    if closed:
        z = points[:, 0] + 1j * points[:, 1]
        w = onto[:, 0] + 1j * onto[:, 1]
        # |sum conj(z_k) w_(k+s)| over all shifts s at once
        match = np.fft.ifft(np.conj(np.fft.fft(z - z.mean())) * np.fft.fft(w - w.mean()))
        onto = np.roll(onto, -int(np.argmax(np.abs(match))), axis=0)
    move = best_move(points, onto)
    last = np.inf
    some = points[::4]
    for _ in range(steps):
        now = move.apply_array(some)
        feet = [fixed.nearest((float(x), float(y))) for x, y in now]
        rms = float(np.sqrt(np.mean([foot.distance_mm**2 for foot in feet])))
        if last - rms < _SETTLED_MM:
            break
        last = rms
        move = move.then(
            _towards_tangents(
                now, np.array([f.point for f in feet]), fixed.tangents_at([f.at_mm for f in feet])
            )
        )
    now = move.apply_array(points)
    gaps = np.array([fixed.nearest((float(x), float(y))).distance_mm for x, y in now])
    return Registration(before.then(move), float(np.sqrt(np.mean(gaps**2))), float(gaps.max()))


def _towards_tangents(points: Points, feet: Points, tangents: Points) -> Move:
    """Return the small move that brings points onto the tangents at their feet, least squares.

    Only the distance across the tangent counts, so points may slide along the line: this settles in a few
    steps where matching the feet themselves creeps.
    """
    centre = points.mean(axis=0)
    normal = np.stack([-tangents[:, 1], tangents[:, 0]], axis=1)
    arm = points - centre
    matrix = np.stack(
        [normal[:, 1] * arm[:, 0] - normal[:, 0] * arm[:, 1], normal[:, 0], normal[:, 1]], axis=1
    )
    turn, dx, dy = np.linalg.lstsq(matrix, np.sum((feet - points) * normal, axis=1), rcond=1e-9)[0]
    about = (float(centre[0]), float(centre[1]))
    return Move.rotation(float(np.degrees(turn)), about).then(Move.translation(float(dx), float(dy)))
