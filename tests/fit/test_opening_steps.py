"""What was traced shut is opened on paper by the same places that the program opens it at."""

from __future__ import annotations

import math

import pytest

from eke.changes import Context
from eke.errors import BadInput
from eke.fit.named import open_dart, open_gathers
from eke.fit.opening_steps import opening_steps
from eke.fit.traced import traced_line

from .test_traced_shut import ACROSS, RELEASED, SIDE_LINE, dart, front, line


def test_a_dart_is_cut_to_the_places_where_the_program_hinges_it():
    before = front(line(*SIDE_LINE))
    steps, edges = opening_steps(before, "fit.open_dart", {"mark": "line", "intake_mm": 24.0}, "cm")
    places = open_dart.hinges_of(traced_line(before, {"mark": "line"}), 24.0)
    piece = before.piece("front")
    assert [row.at for step in steps for row in step.rows] == [
        pytest.approx(piece.edges[at.index].path.point_at(at.mm)) for at in places
    ]
    assert "side" in edges
    assert "2.4 cm wide" in steps[-1].sentence
    # both legs are as long as it says
    after = dart(before, 24.0).piece("front")
    leg = after.edge(after.darts[0].first_leg).path.length_mm
    assert f"{leg / 10:.1f} cm long" in steps[-1].sentence


@pytest.mark.parametrize(
    ("ends", "params", "words"),
    [
        (ACROSS, {"intake_mm": 30.0}, "30 mm apart all along"),
        (ACROSS, {"intake_mm": 30.0, "far_mm": 10.0}, "10 mm where it ends"),
        (RELEASED, {"intake_mm": 15.0, "measured": "folded"}, "to 30 mm where it begins, to nothing"),
    ],
)
def test_a_pleat_is_spread_as_it_was_measured(ends, params, words):
    steps, _ = opening_steps(front(line(*ends)), "fit.open_pleat", {"mark": "line", **params})
    assert words in steps[-1].sentence
    assert math.dist(steps[0].rows[0].at, ends[0]) <= 2.0


def test_gathers_are_slashed_evenly():
    said = {"edge": "hem", "to": {"edge": "neck"}, "ratio": 1.5, "slashes": 4}
    (step,), edges = opening_steps(front(), "fit.open_gathers", said)
    assert edges == ("hem",)
    assert [row.along_mm for row in step.rows] == pytest.approx([25.0, 75.0, 125.0, 175.0])
    assert "25 mm apart" in step.sentence  # 100 mm at four slashes


def test_another_kind_is_no_opening():
    with pytest.raises(BadInput, match="cutting and spreading"):
        opening_steps(front(), "fit.hem", {})


def test_a_slash_below_a_deep_neck_ends_there():
    said = {"edge": "hem", "to": {"edge": "shoulder"}, "ratio": 1.5}
    after = open_gathers.KIND.apply(front(), said, Context("c")).piece("front")
    assert after.edge("hem").path.length_mm == pytest.approx(300.0, abs=0.1)
    for name in ("neck", "shoulder", "side"):
        assert after.edge(name).path.length_mm == pytest.approx(
            front().piece("front").edge(name).path.length_mm, abs=1.0
        )
