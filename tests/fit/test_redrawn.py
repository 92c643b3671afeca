"""Ruler steps of any change: marks measured from the old line lie on the new one."""

from __future__ import annotations

import pytest

from eke.fit.redrawn import redrawn

from .bodies import block, bodice, do, pattern_of

CHANGES = [
    ("fit.take_in", {"seam": "side", "knots": [[0.0, 12.0], [220.0, 0.0]]}),
    (
        "fit.wedge",
        {
            "edge": "front-neck",
            "fraction": 0.5,
            "width_mm": 8.0,
            "to": {"edge": "front-armhole", "fraction": 0.4},
        },
    ),
    ("fit.move_seam", {"seam": "shoulder", "knots": [[0.0, 5.0], [120.0, 5.0]]}),
    ("fit.hem", {"edge": "front-hem", "by_mm": 20.0}),
    ("fit.opening", {"edge": "front-neck", "end_mm": 15.0, "mates": False}),
    ("fit.move_freely", {"edge": "front-armhole", "fraction": 0.5, "in_mm": 4.0}),
]


@pytest.mark.parametrize(("kind", "params"), CHANGES, ids=[c[0] for c in CHANGES])
def test_every_mark_lies_on_the_new_line(kind, params) -> None:
    before = bodice()
    after = do(before, kind, **params)
    told = redrawn(before, after)
    assert told.steps
    assert not told.print_again
    for step in told.steps:
        old = next(e for e in before.piece(step.piece).edges if e.name == step.edge_name)
        new = after.piece(step.piece).edge(old.id).path
        for row in step.rows:
            (x, y), (u, v) = old.path.point_at(row.along_mm), old.path.normal_at(row.along_mm)
            mark = (x + row.in_mm * u, y + row.in_mm * v)
            near = new.nearest(mark)
            # on the new line, or on its straight continuation beyond its ends
            assert near.distance_mm < 0.02 or near.at_mm in (0.0, pytest.approx(new.length_mm))
        assert "from" in step.sentence


def test_a_hem_let_down_is_measured_outwards() -> None:
    told = redrawn(pattern_of(block()), do(pattern_of(block()), "fit.hem", edge="block-hem", by_mm=20.0))
    (step,) = [s for s in told.steps if s.edge_name == "hem"]
    assert [row.in_mm for row in step.rows] == pytest.approx([-20.0] * len(step.rows), abs=1e-6)
    assert "20 mm out" in step.sentence


def test_nothing_changed_nothing_to_draw_and_new_pieces_are_printed() -> None:
    plain = pattern_of(block())
    assert redrawn(plain, plain).steps == ()
    cut = do(
        plain,
        "fit.cut",
        edge="block-side",
        fraction=0.5,
        to={"edge": "block-centre", "fraction": 0.5},
        part="low",
    )
    assert set(redrawn(plain, cut).print_again) == {"block", "low"}
