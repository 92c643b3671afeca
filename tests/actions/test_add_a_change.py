"""What docs/how-to/add-a-change.md says, tried: a new kind of change in a registry of its own works like all others."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import pytest

from eke.actions import history, patterns
from eke.actions.room import Room
from eke.changes import ChangeKind, Context, Registry
from eke.errors import BadInput, ChangeConflict
from eke.geometry import path_area_mm2
from eke.pattern.editing import with_edge_facts
from eke.pattern.model import Pattern
from helpers import tunic

TUNIC = tunic.TUNIC
ROOT: Final = Path(__file__).parents[2]
TEXT: Final = (ROOT / "docs" / "how-to" / "add-a-change.md").read_text("utf-8")
ROOM: Final = ROOT / "frontend" / "src" / "rooms" / "mock-ups"


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


def block(language: str) -> str:
    """Return the example of the page in one language."""
    (found,) = re.findall(rf"```{language}\n(.*?)```", TEXT, flags=re.DOTALL)
    return textwrap.dedent(found)


def test_every_file_that_the_page_names_is_there_and_holds_what_it_says() -> None:
    named = set(re.findall(r"`((?:src|tests|frontend|docs|tools)/[^`]*)`", TEXT))
    assert len(named) > 10
    assert [one for one in named if not (ROOT / one).exists()] == []
    for file, words in re.findall(r"`([A-Z_]+)`(?:, `[A-Z_]+`| or `[A-Z_]+`)* in\s+`(src/[^`]*)`", TEXT):
        assert re.search(rf"^{file}\b", (ROOT / words).read_text("utf-8"), re.MULTILINE), (file, words)
    naming = (ROOT / "src" / "eke" / "actions" / "naming.py").read_text("utf-8")
    for table in re.findall(r"\b(?:NAMES|CALLS)_[A-Z]+\b", TEXT):
        assert re.search(rf"^{table}: ", naming, re.MULTILINE), table


def test_the_commands_that_the_page_names_are_there() -> None:
    (script,) = re.findall(r"python (tools/\S+) run test -- -u", TEXT)
    assert (ROOT / script).is_file()
    (test,) = re.findall(r"EKE_RENEW=1 \S+ -m pytest (\S+) -k", TEXT)
    assert "EKE_RENEW" in (ROOT / test).read_text("utf-8")
    rules = set(re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text("utf-8"), re.MULTILINE))
    assert {"test", "check"} <= rules


def test_the_example_of_the_page_works_as_it_stands(sewn: Room) -> None:
    scope: dict[str, Any] = {"__name__": "stand"}
    exec(compile(block("python"), "add-a-change.md", "exec"), scope)
    kind: ChangeKind[Pattern] = scope["KIND"]
    sewn.garment_kinds = Registry([*sewn.garment_kinds, kind])
    hem = patterns.find_edge(sewn.garment(TUNIC).pattern, "front.hem")
    before = sewn.garment(TUNIC).pattern
    done = patterns.change(sewn, TUNIC, kind.name, {"edge": hem.id, "by_mm": 15.0})
    assert done.sentence == "Added a stand of 15 mm along an edge."
    after = sewn.garment(TUNIC).pattern
    grown = path_area_mm2(after.piece("front").outline) - path_area_mm2(before.piece("front").outline)
    assert grown == pytest.approx(15.0 * hem.path.length_mm, rel=0.02)
    assert after.piece("back") == before.piece("back")
    history.take_back(sewn, TUNIC)
    assert sewn.garment(TUNIC).pattern == before
    with pytest.raises(BadInput, match="up to 100 mm") as refused:
        patterns.change(sewn, TUNIC, kind.name, {"edge": hem.id, "by_mm": 900.0})
    assert refused.value.data["most_mm"] == 100.0


def test_the_row_of_the_page_is_made_of_what_the_table_has() -> None:
    row, table = block("ts"), (ROOM / "named.ts").read_text("utf-8")
    words = (ROOT / "frontend" / "src" / "words" / "mock-ups.ts").read_text("utf-8")
    for maker in ("wholeEdge", "amount", "unsewn"):
        assert maker in row
        assert re.search(rf"^const {maker} = ", table, re.MULTILINE), maker
    for key in re.findall(r"'(mock-ups\.field\.[a-z-]+)'", row):
        assert f"'{key}':" in words, key
    (group,) = re.findall(r"group: '([a-z]+)'", row)
    assert f"'{group}'" in re.findall(r"export const GROUPS = (\[.*\])", table)[0]
    (change,) = re.findall(r"change: '([a-z._]+)'", row)
    assert f'read.named("{change}"' in block("python"), "the two examples speak of one change"
