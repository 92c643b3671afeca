"""The tests' own check must be able to fail."""

from __future__ import annotations

from shapes import box_points, broken_rules

from eke.lay import Part, Placement, Problem, Sheet, Zone


def _problem(**kw: object) -> Problem:
    sheet = Sheet(
        "s", box_points(100, 100), (box_points(10, 10, 80, 80),), (Zone(box_points(20, 20, 0, 80), 1),)
    )
    return Problem([Part("a", box_points(30, 20), 2, **kw)], (sheet,), gap_parts_mm=2)  # type: ignore[arg-type]


def test_sound_lay_breaks_nothing() -> None:
    lay = (Placement("a", "s", 0, 0, 0), Placement("a", "s", 0, 32, 0))
    assert broken_rules(_problem(), lay) == []


def test_each_fault_is_seen() -> None:
    p = _problem(min_quality=2)
    assert broken_rules(p, (Placement("a", "s", 0, 0, 0), Placement("a", "s", 0, 31, 0))) == ["a and a"]
    assert broken_rules(p, (Placement("a", "s", 0, 71, 0),)) == ["a off s"]
    assert broken_rules(p, (Placement("a", "s", 0, 65, 65),)) == ["a off s"]
    assert broken_rules(p, (Placement("a", "s", 0, 0, 78),)) == ["a off s"]
    assert broken_rules(p, (Placement("a", "s", 90, 50, 0),)) == ["a turned"]
    assert broken_rules(p, (Placement("a", "s", 0, 50, 0, True),)) == ["a mirrored"]
