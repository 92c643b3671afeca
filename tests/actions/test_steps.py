"""Steps of a history before and after, and small pictures of them."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon

from eke.actions import fitting, history, patterns
from eke.actions.room import Room
from eke.actions.sketches import MOST_IN_ALL, MOST_POINTS, SketchLine, side_by_side, thinned
from eke.actions.steps import shown_step, step_pictures
from eke.errors import NotFound
from helpers import tunic

from .test_pattern import lengths

TUNIC = tunic.TUNIC
KNOTS = [(0.0, 0.0), (150.0, 8.0), (340.0, 0.0)]


def test_steps_follow_on_each_other(sewn: Room) -> None:
    fitting.take_in(sewn, TUNIC, "side", KNOTS)
    lines = history.history(sewn, TUNIC)
    steps = [shown_step(sewn, TUNIC, line.id) for line in lines]
    assert steps[0].before.pattern.pieces == {}
    for one, following in pairwise(steps):
        assert one.after.pattern == following.before.pattern
    assert steps[-1].after.pattern == sewn.garment(TUNIC).pattern
    assert [s.line for s in steps] == list(lines)


def test_a_fit_change_shows_the_pieces_that_it_moves(sewn: Room) -> None:
    before = lengths(sewn.garment(TUNIC).pattern)
    done = fitting.take_in(sewn, TUNIC, "side", KNOTS)
    step = shown_step(sewn, TUNIC, done.id)
    assert {c.name for c in step.changes} == {"front", "back"}
    assert step.ruler
    assert lengths(step.before.pattern) == before
    assert lengths(step.after.pattern) == lengths(sewn.garment(TUNIC).pattern)
    assert not shown_step(sewn, TUNIC, history.history(sewn, TUNIC)[1].id).ruler


def test_a_step_is_shown_as_the_history_stands_now(sewn: Room) -> None:
    done = fitting.take_in(sewn, TUNIC, "side", KNOTS)
    history.amend_change(sewn, done.id, {"knots": [[0, 0], [150, 16], [340, 0]]}, TUNIC)
    amended = shown_step(sewn, TUNIC, done.id)
    assert amended.line.sentence == "Took in side by up to 16 mm"
    assert amended.after.pattern == sewn.garment(TUNIC).pattern
    history.switch_change(sewn, done.id, False, TUNIC)
    off = shown_step(sewn, TUNIC, done.id)
    assert (off.changes, off.ruler, off.line.on) == ((), False, False)


def test_a_step_that_was_taken_back_is_shown_too(sewn: Room) -> None:
    done = fitting.take_in(sewn, TUNIC, "side", KNOTS)
    then = shown_step(sewn, TUNIC, done.id)
    history.take_back(sewn, TUNIC)
    now = shown_step(sewn, TUNIC, done.id)
    assert now.line.undone
    assert now.changes == then.changes
    assert set(step_pictures(sewn, TUNIC)) >= {done.id}


def test_an_unknown_step(sewn: Room) -> None:
    with pytest.raises(NotFound, match="no step"):
        shown_step(sewn, TUNIC, "nothing")


def test_pictures_of_the_steps_that_draw_something(sewn: Room) -> None:
    taken = fitting.take_in(sewn, TUNIC, "side", KNOTS)
    noted = patterns.change(sewn, TUNIC, "mockup.note", {"noticed": "good"})
    drawn = step_pictures(sewn, TUNIC)
    assert taken.id in drawn
    assert noted.id not in drawn
    inks = [line.ink for line in drawn[taken.id].lines]
    # each piece as it was, as it is, and the edges that moved: the side, and its neighbours' ends
    assert (inks.count("note"), inks.count("piece")) == (2, 2)
    assert inks.count("attention") >= 2
    first = next(iter(drawn.values()))
    assert [line.ink for line in first.lines] == ["piece"]


def test_pictures_follow_the_history(sewn: Room) -> None:
    done = fitting.take_in(sewn, TUNIC, "side", KNOTS)
    assert done.id in step_pictures(sewn, TUNIC)
    history.switch_change(sewn, done.id, False, TUNIC)
    assert done.id not in step_pictures(sewn, TUNIC)


# ---------------------------------------------------------------- sketches


@given(st.integers(3, 400), st.integers(8, 80), st.randoms(use_true_random=False))
def test_a_thinned_line_is_small_and_near(count: int, most: int, chance) -> None:
    turns = np.linspace(0.0, 2 * np.pi, count, endpoint=False)
    ring = np.column_stack([np.cos(turns), np.sin(turns)]) * 300.0
    ring += np.array([[chance.uniform(-1, 1), chance.uniform(-1, 1)] for _ in range(count)])
    thin = thinned(ring, most=most)
    assert len(thin) <= max(most, 3)
    # from the definition: what was left out strays little from the chords, at most the sagitta of `most` chords
    sagitta = 300.0 * (1 - np.cos(2 * np.pi / most)) + 4.0
    closed = LineString(np.vstack([thin, thin[:1]]))
    assert closed.hausdorff_distance(LineString(np.vstack([ring, ring[:1]]))) < 2 * sagitta + 4.0


@given(st.lists(st.tuples(st.floats(1, 900), st.floats(1, 900)), min_size=1, max_size=20))
def test_things_side_by_side_do_not_touch_and_lie_in_the_box(sizes: list[tuple[float, float]]) -> None:
    groups = [
        [SketchLine(np.array([[5.0, -7.0], [5 + w, -7.0], [5 + w, h - 7], [5.0, h - 7]]))] for w, h in sizes
    ]
    made = side_by_side(groups)
    shapes = [Polygon(line.points) for line in made.lines]
    assert sorted(s.area for s in shapes) == pytest.approx(sorted(w * h for w, h in sizes))
    for i, one in enumerate(shapes):
        x0, y0, x1, y1 = one.bounds
        assert min(x0, y0) >= -1e-6
        assert x1 <= made.width + 1e-6
        assert y1 <= made.height + 1e-6
        assert not any(one.distance(other) < 1e-6 for other in shapes[i + 1 :])


def test_a_picture_of_much_is_small_too() -> None:
    turns = np.linspace(0.0, 2 * np.pi, 50, endpoint=False)
    ring = np.column_stack([np.cos(turns), np.sin(turns)])
    made = side_by_side([[SketchLine(ring * size)] for size in range(1, 41)])
    assert sum(len(line.points) for line in made.lines) <= MOST_IN_ALL * 1.2
    assert max(len(line.points) for line in made.lines) <= MOST_POINTS
    assert side_by_side([]).lines == ()
