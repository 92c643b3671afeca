"""The kernels' yes and no against shapely, which shares no code with them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon
from shapes import box_points, star

from eke.lay import Part, Problem, Sheet
from eke.lay.collide import evaluate
from eke.lay.collide.poles import find_poles
from eke.lay.collide.regions import distance_at
from eke.lay.collide.tables import PF_TH, PF_X, PF_Y, PI_MIRROR, Field, State
from eke.lay.prepare import Ground, prepare
from eke.lay.state import new_state

TOUCH_MM2 = 0.01
"""Overlaps smaller than this may be judged either way: the kernels grow each shape by a hair."""


def two(seed: int) -> tuple[Ground, State]:
    rng = np.random.default_rng(seed)
    parts = [
        Part("a", star(rng, 80, int(rng.integers(3, 14))), 1, None),
        Part("b", star(rng, 60, 7), 1, None, mirror_allowed=True),
    ]
    sheet = Sheet("s", star(rng, 400, 9), (box_points(30, 30, -15, -15),))
    ground = prepare(Problem(parts, (sheet,)))
    return ground, new_state(ground, seed)


def put(ground: Ground, state: State, i: int, x: float, y: float, th: float, mirror: int = 0) -> Polygon:
    state.piece_f[i, PF_X], state.piece_f[i, PF_Y], state.piece_f[i, PF_TH] = x, y, th
    state.piece_i[i, PI_MIRROR] = mirror
    evaluate.settle(ground.field, state, i)
    t = ground.piece_shape[i]
    pts = (np.asarray(ground.shapes[t].part.outline) - ground.shapes[t].centre) * ground.scale
    if mirror:
        pts = pts * [-1.0, 1.0]
    c, s = math.cos(th), math.sin(th)
    return Polygon(pts @ np.array([[c, s], [-s, c]]) + [x, y])


places = st.tuples(st.floats(-300, 300), st.floats(-300, 300), st.floats(0, 6.3))


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 60), places, places, st.integers(0, 1))
def test_pairs_agree_with_shapely(seed: int, p: tuple, q: tuple, mirror: int) -> None:
    ground, state = two(seed)
    a = put(ground, state, 0, *p)
    b = put(ground, state, 1, *q, mirror)
    common = a.intersection(b).area
    says = state.loss[0, 1] > 0
    if common > TOUCH_MM2:
        assert says
    elif a.distance(b) > 0.01:
        assert not says
    assert state.loss[0, 1] == state.loss[1, 0]


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 60), places)
def test_sheets_agree_with_shapely(seed: int, p: tuple) -> None:
    ground, state = two(seed)
    a = put(ground, state, 0, *p)
    sheet = ground.problem.sheets[0]
    free = Polygon(sheet.outline * ground.scale, [h * ground.scale for h in sheet.holes])
    out = a.difference(free).area
    says = state.loss[0, 2] > 0
    if out > TOUCH_MM2:
        assert says
    elif a.distance(free.boundary) > 0.01:
        assert not says


@pytest.mark.parametrize("seed", range(8))
def test_distance_field_against_shapely(seed: int) -> None:
    ground, _ = two(seed)
    f: Field = ground.field
    sheet = ground.problem.sheets[0]
    free = Polygon(sheet.outline * ground.scale, [h * ground.scale for h in sheet.holes])
    rng = np.random.default_rng(seed)
    x0, y0, x1, y1 = free.bounds
    h = float(f.region_f[0, 6])
    for x, y in rng.uniform([x0, y0], [x1, y1], (200, 2)):
        true = free.boundary.distance(Point(x, y)) * (1 if free.contains(Point(x, y)) else -1)
        assert abs(distance_at(f.region_i, f.region_f, f.grid, 0, x, y) - true) < h


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.integers(3, 20))
def test_poles_lie_inside_and_apart(seed: int, n: int) -> None:
    pts = star(np.random.default_rng(seed), 100, n)
    poly = Polygon(pts)
    if not poly.is_valid or poly.area < 50:
        return
    poles = find_poles(np.ascontiguousarray(pts[:, 0]), np.ascontiguousarray(pts[:, 1]), poly.area)
    assert len(poles) >= 1
    for k, (x, y, r) in enumerate(poles):
        assert poly.buffer(1e-6).contains(Point(x, y).buffer(r * 0.999))
        for u, v, q in poles[:k]:
            assert math.hypot(x - u, y - v) >= r + q - 1e-6


def test_deeper_overlap_costs_more() -> None:
    square = box_points(100, 100)
    ground = prepare(Problem([Part("a", square, 2)], (Sheet("s", box_points(1000, 1000)),)))
    state = new_state(ground, 0)
    losses = []
    k = ground.scale
    for apart in (0, 20, 40, 60, 80, 99):
        put(ground, state, 0, 300 * k, 300 * k, 0)
        put(ground, state, 1, (300 + apart) * k, 300 * k, 0)
        losses.append(float(state.loss[0, 1]))
    assert losses == sorted(losses, reverse=True)
    assert losses[-1] > 0
    put(ground, state, 1, 400.1 * k, 300 * k, 0)
    assert state.loss[0, 1] == 0


def test_without_numbas_private_option_kernels_still_compile(monkeypatch: pytest.MonkeyPatch) -> None:
    """The option that leaves out reference counts may disappear; speed goes, nothing else does."""
    from numba.core import cpu

    from eke.lay.collide import tables

    for kind in cpu.CPUTargetOptions.__mro__:
        if "_nrt" in vars(kind):
            assert tables.without_reference_counts() == {"_nrt": False}
            monkeypatch.delattr(kind, "_nrt")
    assert tables.without_reference_counts() == {}

    def double(x: np.ndarray) -> float:
        return float(x[0] * 2.0)

    assert tables.kernel(double)(np.array([21.0])) == 42.0
