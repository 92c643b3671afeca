"""What docs/how-to/add-a-change.md says, tried: a new kind of change in a registry of its own works like all others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from eke.actions import history, patterns
from eke.actions.room import Room
from eke.changes import ChangeKind, Context, Registry
from eke.errors import ChangeConflict
from eke.pattern.editing import with_edge_facts
from eke.pattern.model import Pattern
from helpers import tunic

TUNIC = tunic.TUNIC


def shared_allowance(pattern: Pattern, p: Mapping[str, Any], context: Context) -> Pattern:
    """Give both sides of a seam the same allowance."""
    if p["seam"] not in pattern.seams:
        raise ChangeConflict("That seam is not there any more.", seam=p["seam"])
    for part in pattern.seam(p["seam"]).parts():
        pattern = with_edge_facts(pattern, part.edge, allowance_mm=float(p["allowance_mm"]))
    return pattern


KIND: ChangeKind[Pattern] = ChangeKind(
    "seam.allowance",
    1,
    shared_allowance,
    lambda p: f"Gave both sides of a seam {float(p['allowance_mm']):g} mm",
    lambda p: (str(p["seam"]),),
)


def allowances(room: Room) -> list[float | None]:
    pattern = room.garment(TUNIC).pattern
    return [patterns.find_edge(pattern, f"{name}.side").allowance_mm for name in ("front", "back")]


def test_a_new_kind_of_change_is_undone_amended_and_set_aside_like_all_others(sewn: Room) -> None:
    sewn.garment_kinds = Registry([*sewn.garment_kinds, KIND])
    seam = next(s for s in sewn.garment(TUNIC).pattern.seams.values() if s.name == "side")
    done = patterns.change(sewn, TUNIC, "seam.allowance", {"seam": seam.id, "allowance_mm": 12.0})
    assert done.sentence == "Gave both sides of a seam 12 mm."
    assert allowances(sewn) == [12.0, 12.0]
    history.take_back(sewn, TUNIC)
    assert allowances(sewn) == [None, None]
    history.do_again(sewn, TUNIC)
    history.amend_change(sewn, done.id, {"allowance_mm": 20.0}, TUNIC)
    assert allowances(sewn) == [20.0, 20.0]
    said = next(
        s for s in sewn.garment(TUNIC).replayed.steps if s.kind == "seam.say" and s.params["id"] == seam.id
    )
    assert len(history.switch_change(sewn, said.id, False, TUNIC).unsettled) == 1
    assert allowances(sewn) == [None, None]


def test_an_old_program_sets_aside_a_change_that_it_does_not_know(sewn: Room) -> None:
    known = sewn.garment_kinds
    sewn.garment_kinds = Registry([*known, KIND])
    seam = next(iter(sewn.garment(TUNIC).pattern.seams))
    patterns.change(sewn, TUNIC, "seam.allowance", {"seam": seam, "allowance_mm": 12.0})
    sewn.garment_kinds = known
    assert [line for line in history.history(sewn, TUNIC) if line.set_aside][-1].set_aside
    assert sewn.garment(TUNIC).pattern.pieces  # all else is there


def test_two_kinds_of_one_name_and_version_are_refused(sewn: Room) -> None:
    with pytest.raises(ValueError, match="seam"):
        Registry([KIND, replace(KIND)])
