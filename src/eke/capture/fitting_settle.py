"""A chain of lines and cubics with smooth joins, settled on measured points: all its parameters together.

Points of the plane are complex numbers here, x + iy: a turn is a product, the normal of a direction is i times it, and
both axes are reckoned at once.

References
----------
W. Wang, H. Pottmann and Y. Liu, "Fitting B-spline curves to point clouds by curvature-based squared distance
minimization", ACM Trans. Graphics 25 (2006): residuals along the normal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["State", "leaving", "settle", "start_state", "state_of"]

Points = NDArray[np.float64]
Floats = NDArray[np.float64]
Plane = NDArray[np.complex128]

FOOT_STEPS, NEXT_STEPS = 3, 2  # of Newton to a foot; and to where it slides when the chain moves a little
SETTLED = 1e-4  # share of the squares that a round must gain to go on


@dataclass(slots=True, eq=False)
class State:
    """Parameters of a chain with smooth joins: knots, direction angles, handle lengths, straightness."""

    knots: Points  # (m + 1, 2)
    theta: Floats  # (m + 1,)
    out: Floats  # (m,) handle leaving the start of each piece
    back: Floats  # (m,) handle arriving at the end of each piece
    straight: NDArray[np.bool_]  # (m,)

    def controls(self) -> tuple[Points, ...]:
        """One array per piece: (2, 2) for a line, (4, 2) for a cubic."""
        at, leave, arrive = self.handles()
        every = np.column_stack([at[:-1], at[:-1] + leave, at[1:] - arrive, at[1:]])
        return tuple(
            self.knots[k : k + 2].copy() if straight else np.column_stack([cubic.real, cubic.imag])
            for k, (straight, cubic) in enumerate(zip(self.straight, every, strict=True))
        )

    def handles(self) -> tuple[Plane, Plane, Plane]:
        """Knots (m + 1,), and from them to the control points beside them: leaving (m,) and arriving (m,); those of a line lie
        evenly on it."""
        at, way = as_plane(self.knots), self.ways()
        leave, arrive = self.out * way[:-1], self.back * way[1:]
        if self.straight.any():
            third = (at[1:] - at[:-1]) / 3.0
            leave, arrive = np.where(self.straight, third, leave), np.where(self.straight, third, arrive)
        return at, leave, arrive

    def powers(self) -> Plane:
        """Coefficients (4, m) of 1, t, t^2 and t^3 of all pieces as cubics of their parameter."""
        at, leave, arrive = self.handles()
        start, chord = at[:-1], at[1:] - at[:-1]
        both = leave + arrive
        return np.array([start, 3.0 * leave, 3.0 * (chord - leave - both), 3.0 * both - 2.0 * chord])

    def ways(self) -> Plane:
        """Unit directions (m + 1,) at the knots."""
        return np.asarray(np.exp(1j * self.theta))


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """Where points lie on a chain: piece, parameter, unit normal and distance along it, each (n,)."""

    piece: NDArray[np.intp]
    par: Floats
    normal: Plane
    residual: Floats


def as_plane(points: Points) -> Plane:
    """Points (n, 2) as complex numbers (n,)."""
    return np.ascontiguousarray(points, dtype=np.float64).view(np.complex128)[:, 0]


def leaving(control: Points) -> Points:
    """Direction, not of unit length, in which a piece leaves its start."""
    for k in range(1, len(control)):
        d = control[k] - control[0]
        if float(np.hypot(d[0], d[1])) > 1e-9:
            return np.asarray(d, dtype=np.float64)
    return np.array([1.0, 0.0])


def settle(
    state: State,
    points: Points,
    pins: tuple[Points, Points] | None,
    closed: bool,
    rounds: int,
) -> tuple[State, float, float]:
    """Levenberg-Marquardt on all parameters with residuals along the normal, until a round gains next to nothing.

    Returns the state, the rms and the worst distance (over a few points, so that no speck counts).
    """
    m = len(state.straight)
    size = 3 * (m + 1) + 2 * m
    t = np.linspace(0, 1, 33 if m < 3 else 21)
    ends = pins if pins is not None else (points[0], points[-1])
    hard = 30.0 if pins is not None else 1.0
    place = as_plane(points)
    seen = _look(state, place, t)
    extra, target = _constraints(state, m, size, ends, hard, closed)
    cost = float((seen.residual**2).sum() + (target**2).sum())
    damping = 1e-3
    for _ in range(rounds):
        a = np.vstack([_slopes(state, seen, size), extra])
        _tie(a, state, m)
        normal = a.T @ a
        gradient = a.T @ np.concatenate([seen.residual, target])
        diagonal = normal.diagonal().copy()
        scale = np.maximum(diagonal, 1e-3 * float(diagonal.max()))
        gained = 0.0
        for _ in range(5):
            step = np.linalg.solve(normal + np.diag(damping * scale), gradient)
            trial = _stepped(state, step, m)
            trial_seen = _look(trial, place, t, seen)
            trial_extra, trial_target = _constraints(trial, m, size, ends, hard, closed)
            trial_cost = float((trial_seen.residual**2).sum() + (trial_target**2).sum())
            if trial_cost < cost:
                gained = 1.0 - trial_cost / cost
                # of what the step promised: where it kept little of it, the next one has to be shorter
                kept = (cost - trial_cost) / max(float(step @ (2.0 * gradient - normal @ step)), 1e-30)
                state, cost = trial, trial_cost
                seen, extra, target = trial_seen, trial_extra, trial_target
                damping = max(damping * max(0.2, 1.0 - (2.0 * kept - 1.0) ** 3), 1e-7)
                break
            damping *= 8.0
        if gained < SETTLED:
            break
    seen = _look(state, place, t)
    few = np.convolve(seen.residual, np.ones(5) / 5, mode="same")
    return state, math.sqrt(float((seen.residual**2).mean())), float(np.abs(few).max())


def _look(state: State, place: Plane, t: Floats, before: _Seen | None = None) -> _Seen:
    """Distance of each point along the curve's normal; its foot is looked for near where it was ``before``, if that is given."""
    powers = state.powers()
    piece, par = _nearest_samples(powers, place, t) if before is None else (before.piece.copy(), before.par)
    own, par = _feet(powers, place, piece, par, FOOT_STEPS if before is None else NEXT_STEPS)
    foot, ahead = _at(own, par)
    gap = place - foot
    speed = np.maximum(np.abs(ahead), 1e-9)
    normal = 1j * ahead / speed
    # a point beyond an end is as far as it is, not as far as its foot on the tangent
    beyond = (np.abs(_dot(gap, ahead)) > 1e-3 * speed) & ((par <= 0) | (par >= 1))
    if beyond.any():
        normal[beyond] = gap[beyond] / np.maximum(np.abs(gap[beyond]), 1e-9)
    return _Seen(piece, par, normal, _dot(gap, normal))


def _dot(a: Plane, b: Plane) -> Floats:
    return np.asarray((a * b.conj()).real)


def _nearest_samples(powers: Plane, place: Plane, t: Floats) -> tuple[NDArray[np.intp], Floats]:
    """Piece and parameter of the dense sample nearest to each point."""
    samples = _at(powers[:, :, None], t)[0].ravel()
    # the nearest sample has the least of |s|^2 - 2 p.s; taken from the middle, so that the squares stay small
    own, other = place - samples[0], samples - samples[0]
    by = np.array([-2.0 * other.real, -2.0 * other.imag, _dot(other, other)])
    near = (np.column_stack([own.real, own.imag, np.ones(len(own))]) @ by).argmin(axis=1)
    return near // len(t), t[near % len(t)]


def _feet(
    powers: Plane, place: Plane, piece: NDArray[np.intp], par: Floats, steps: int
) -> tuple[Plane, Floats]:
    """Powers (4, n) of the piece on which each point's foot lies, and its parameter, from a place near it; ``piece`` is set right."""
    own = powers[:, piece]
    par = _to_feet(own, place, par, steps)
    if powers.shape[1] > 1:
        # the sample at a join belongs to both pieces: a foot that wants beyond it lies on the other one
        over = (par >= 1.0) & (piece < powers.shape[1] - 1)
        move = np.flatnonzero(over | ((par <= 0.0) & (piece > 0)))
        if len(move):
            on = over[move]
            piece[move] += np.where(on, 1, -1)
            other = powers[:, piece[move]]
            own[:, move] = other
            par[move] = _to_feet(other, place[move], np.where(on, 0.0, 1.0), steps)
    return own, par


def _to_feet(powers: Plane, place: Plane, par: Floats, steps: int) -> Floats:
    """Parameters slid to the feet of points (n,), each on the cubic whose ``powers`` (4, n) are given."""
    for _ in range(steps):
        foot, ahead = _at(powers, par)
        slide = _dot(place - foot, ahead) / np.maximum(_dot(ahead, ahead), 1e-12)
        par = np.minimum(np.maximum(par + slide, 0.0), 1.0)
    return par


def _at(powers: Plane, t: Floats) -> tuple[Plane, Plane]:
    """Places on cubics and their derivatives by the parameter."""
    p0, p1, p2, p3 = powers
    last = p3 * t
    return p0 + t * (p1 + t * (p2 + last)), p1 + t * (2.0 * p2 + 3.0 * last)


def _slopes(s: State, seen: _Seen, size: int) -> Floats:
    """Derivatives (n, size) of each point's model place along its normal by every parameter."""
    m = len(s.straight)
    k, u, n = seen.piece, seen.par, seen.normal
    v = 1.0 - u
    b1 = 3.0 * v * v * u
    b2 = 3.0 * v * u * u
    first, last = v * v * v + b1, b2 + u * u * u
    if s.straight.any():
        line = s.straight[k]
        first, last = np.where(line, v, first), np.where(line, u, last)
        b1, b2 = np.where(line, 0.0, b1), np.where(line, 0.0, b2)
    way = s.ways()
    # along a handle (real) and at a right angle to it (imaginary)
    leave, arrive = b1 * n * way.conj()[k], b2 * n * way.conj()[k + 1]
    values = [
        first * n.real, first * n.imag, last * n.real, last * n.imag,
        s.out[k] * leave.imag, -s.back[k] * arrive.imag, leave.real, -arrive.real,
    ]  # fmt: skip
    knot, turn, handle = 2, 2 * (m + 1), 3 * (m + 1)
    columns = knot * k + np.array([0, 1, 2, 3])[:, None]
    columns = np.concatenate([columns, [turn + k, turn + 1 + k, handle + k, handle + m + k]])
    rows = np.zeros((len(u), size))
    rows[np.arange(len(u)), columns] = values
    return rows


def _constraints(
    s: State, m: int, size: int, ends: tuple[Points, Points], hard: float, closed: bool
) -> tuple[Floats, Floats]:
    """Rows that hold the ends, tie straight pieces to their directions, and close a smooth ring."""
    rows: list[Floats] = []
    target: list[float] = []

    def add(row: Floats, value: float) -> None:
        rows.append(row)
        target.append(value)

    theta0 = 2 * (m + 1)
    if closed:
        for axis in (0, 1):
            row = np.zeros(size)
            row[axis], row[2 * m + axis] = 100.0, -100.0
            add(row, 100.0 * float(s.knots[m, axis] - s.knots[0, axis]))
        row = np.zeros(size)
        row[theta0], row[theta0 + m] = 1000.0, -1000.0
        add(row, 1000.0 * _wrap(float(s.theta[m] - s.theta[0])))
    else:
        for k, end in ((0, ends[0]), (m, ends[1])):
            if hard > 1.0:
                for axis in (0, 1):
                    row = np.zeros(size)
                    row[2 * k + axis] = hard
                    add(row, hard * float(end[axis] - s.knots[k, axis]))
            else:  # only along the edge: across it the points decide
                e = np.array([math.cos(s.theta[k]), math.sin(s.theta[k])])
                row = np.zeros(size)
                row[2 * k : 2 * k + 2] = hard * e
                add(row, hard * float((end - s.knots[k]) @ e))
    if not rows:
        return np.zeros((0, size)), np.zeros(0)
    return np.array(rows), np.array(target)


def _tie(rows: Floats, s: State, m: int) -> None:
    """The direction at both ends of a straight piece is that of the piece: hand it on to its knots."""
    theta0 = 2 * (m + 1)
    for k in np.flatnonzero(s.straight):
        chord = s.knots[k + 1] - s.knots[k]
        side = np.array([-chord[1], chord[0]]) / max(float(chord @ chord), 1e-9)
        for knot in (k, k + 1):
            column = rows[:, theta0 + knot].copy()
            rows[:, 2 * k : 2 * k + 2] -= np.outer(column, side)
            rows[:, 2 * k + 2 : 2 * k + 4] += np.outer(column, side)
            rows[:, theta0 + knot] = 0.0


def _tied_angles(theta: Floats, knots: Points, straight: NDArray[np.bool_]) -> Floats:
    out = theta.copy()
    for k in np.flatnonzero(straight):
        chord = knots[k + 1] - knots[k]
        out[k] = out[k + 1] = math.atan2(chord[1], chord[0])
    return out


def _wrap(angle: float) -> float:
    return (angle + math.pi) % (2 * math.pi) - math.pi


def _stepped(s: State, step: Floats, m: int) -> State:
    knots = s.knots + step[: 2 * (m + 1)].reshape(-1, 2)
    turn = np.minimum(np.maximum(step[2 * (m + 1) : 3 * (m + 1)], -0.5), 0.5)
    chord = np.abs(np.diff(as_plane(knots)))
    low, high = 0.08 * chord, 1.1 * chord
    out = np.minimum(np.maximum(s.out + step[3 * (m + 1) : 3 * (m + 1) + m], low), high)
    back = np.minimum(np.maximum(s.back + step[3 * (m + 1) + m :], low), high)
    return State(knots, _tied_angles(s.theta + turn, knots, s.straight), out, back, s.straight)


def state_of(controls: tuple[Points, ...]) -> State:
    """The parameters that a chain of pieces has."""
    m = len(controls)
    state = State(
        np.array([c[0] for c in controls] + [controls[-1][-1]]),
        np.zeros(m + 1),
        np.empty(m),
        np.empty(m),
        np.array([len(c) == 2 for c in controls], dtype=np.bool_),
    )
    for k, c in enumerate(controls):
        chord = max(float(np.hypot(*(c[-1] - c[0]))), 1e-6)
        leave, arrive = leaving(c), -leaving(c[::-1])
        state.out[k] = chord / 3 if len(c) == 2 else float(np.hypot(*(c[1] - c[0])))
        state.back[k] = chord / 3 if len(c) == 2 else float(np.hypot(*(c[3] - c[2])))
        if k == 0 or len(c) == 2:
            state.theta[k] = math.atan2(leave[1], leave[0])
        state.theta[k + 1] = math.atan2(arrive[1], arrive[0])
    return state


def start_state(
    points: Points, places: list[int], angles: Floats, straight: list[bool], handles: Floats
) -> State:
    """A chain to begin with: knots at some of the points (n, 2), given the direction (n,) at each point and the lengths
    (pieces, 2) of the handles of each piece."""
    knots, flags = points[places].copy(), np.array(straight, dtype=np.bool_)
    return State(
        knots, _tied_angles(angles[places], knots, flags), handles[:, 0].copy(), handles[:, 1].copy(), flags
    )
