"""Taking back, switching off, amending, putting in between; two windows; backup and restore."""

from __future__ import annotations

from pathlib import Path

import pytest

from eke.actions import fitting, history, patterns, projects
from eke.actions.room import Room, make_room, open_room
from eke.errors import BadInput, ChangeConflict, EkeError, StoreTrouble
from helpers import tunic

from .test_pattern import lengths

TUNIC = tunic.TUNIC
KNOTS = [(0.0, 0.0), (150.0, 8.0), (350.0, 0.0)]


def outline(room: Room) -> dict[str, list[float]]:
    return lengths(room.garment(TUNIC).pattern)


def test_undo_and_redo(sewn: Room) -> None:
    before = outline(sewn)
    done = fitting.take_in(sewn, TUNIC, "side", KNOTS)
    after = outline(sewn)
    assert after != before
    assert history.take_back(sewn, TUNIC).id == done.id
    assert outline(sewn) == before
    last = history.history(sewn, TUNIC)[-1]
    assert (last.id, last.undone) == (done.id, True)
    history.do_again(sewn, TUNIC)
    assert outline(sewn) == after
    with pytest.raises(EkeError):
        history.do_again(sewn, TUNIC)


def test_taking_everything_back_and_doing_it_again(sewn: Room) -> None:
    after = outline(sewn)
    count = len(history.history(sewn, TUNIC))
    for _ in range(count):
        history.take_back(sewn, TUNIC)
    with pytest.raises(EkeError):
        history.take_back(sewn, TUNIC)
    assert sewn.garment(TUNIC).pattern.pieces == {}
    for _ in range(count):
        history.do_again(sewn, TUNIC)
    assert outline(sewn) == after


def test_switching_off_is_itself_a_step(sewn: Room) -> None:
    before = outline(sewn)
    done = fitting.take_in(sewn, TUNIC, "side", KNOTS)
    after = outline(sewn)
    history.switch_change(sewn, done.id, False, TUNIC)
    assert outline(sewn) == before
    assert [line.on for line in history.history(sewn, TUNIC) if line.id == done.id] == [False]
    history.take_back(sewn, TUNIC)
    assert outline(sewn) == after


def test_amending_equals_having_said_it_at_once(sewn: Room) -> None:
    done = fitting.take_in(sewn, TUNIC, "side", KNOTS)
    wide = [[0.0, 0.0], [150.0, 14.0], [350.0, 0.0]]
    history.amend_change(sewn, done.id, {"knots": wide}, TUNIC)
    amended = outline(sewn)
    history.take_back(sewn, TUNIC)
    history.take_back(sewn, TUNIC)
    fitting.take_in(sewn, TUNIC, "side", [tuple(k) for k in wide])  # type: ignore[misc]
    assert outline(sewn) == amended


def test_a_step_put_in_before_another_equals_the_steps_in_that_order(sewn: Room) -> None:
    shoulder = {
        "seam": fitting.find_seam(sewn.garment(TUNIC).pattern, "shoulder"),
        "knots": [[0.0, 0.0], [40.0, 4.0]],
        "share_a": 0.5,
    }
    later = fitting.take_in(sewn, TUNIC, "side", KNOTS)
    history.insert_change(sewn, later.id, "fit.take_in", shoulder, TUNIC)
    inserted = outline(sewn)
    history.take_back(sewn, TUNIC)
    history.take_back(sewn, TUNIC)
    sewn.change_garment(TUNIC, "fit.take_in", shoulder)
    fitting.take_in(sewn, TUNIC, "side", KNOTS)
    assert outline(sewn) == inserted


def test_a_step_that_loses_its_place_is_set_aside_with_the_reason_and_comes_back(sewn: Room) -> None:
    said = next(
        line for line in history.history(sewn, TUNIC) if "side" in line.sentence and "sewn" in line.sentence
    )
    fitting.take_in(sewn, TUNIC, "side", KNOTS)
    after = outline(sewn)
    done = history.switch_change(sewn, said.id, False, TUNIC)
    assert len(done.unsettled) == 1
    aside = [line for line in history.history(sewn, TUNIC) if line.set_aside]
    assert len(aside) == 1
    assert any(f.code == "set-aside" for f in patterns.findings(sewn, TUNIC))
    history.switch_change(sewn, said.id, True, TUNIC)
    assert outline(sewn) == after
    assert not any(line.set_aside for line in history.history(sewn, TUNIC))


def test_two_windows_cannot_overwrite_each_other(sewn: Room) -> None:
    seen = sewn.garment(TUNIC).stored.revision
    edge = patterns.find_edge(sewn.garment(TUNIC).pattern, "front.hem").id
    sewn.change_garment(TUNIC, "edge.set", {"edge": edge, "name": "lower edge"}, expected=seen)
    with pytest.raises(ChangeConflict):
        sewn.change_garment(TUNIC, "edge.set", {"edge": edge, "name": "bottom"}, expected=seen)
    assert sewn.garment(TUNIC).pattern.edge(edge)[1].name == "lower edge"
    seen = sewn.garment(TUNIC).stored.revision
    sewn.change_garment(TUNIC, "edge.set", {"edge": edge, "name": "bottom"}, expected=seen)


def test_a_change_that_cannot_be_applied_leaves_no_trace(sewn: Room) -> None:
    before = sewn.garment(TUNIC).stored.revision
    with pytest.raises(EkeError):
        fitting.take_in(sewn, TUNIC, "side", [(0, 0), (150, 9000), (350, 0)])
    with pytest.raises(BadInput, match="no change named"):
        patterns.change(sewn, TUNIC, "make.tea", {})
    assert sewn.garment(TUNIC).stored.revision == before


def test_entering_a_garment_cannot_be_taken_back_while_it_has_a_pattern(sewn: Room) -> None:
    with pytest.raises(ChangeConflict, match="history of its own"):
        history.take_back(sewn)
    assert outline(sewn)


def test_a_backup_restores_to_an_equal_workroom(sewn: Room, tmp_path: Path) -> None:
    fitting.take_in(sewn, TUNIC, "side", KNOTS, reason="wide")
    history.take_back(sewn, TUNIC)
    file = tmp_path / "all.zip"
    projects.backup(sewn, file)
    with pytest.raises(BadInput, match="already"):
        projects.backup(sewn, file)
    projects.restore(file, tmp_path / "again")
    with open_room(tmp_path / "again") as again:
        assert outline(again) == outline(sewn)
        assert history.history(again, TUNIC) == history.history(sewn, TUNIC)
        assert history.history(again) == history.history(sewn)
        assert again.shelf() == sewn.shelf()
        history.do_again(again, TUNIC)
        history.do_again(sewn, TUNIC)
        assert outline(again) == outline(sewn)
    with pytest.raises(EkeError):
        projects.restore(file, tmp_path / "again")


def test_a_workroom_is_as_it_was_left(tmp_path: Path) -> None:
    with make_room(tmp_path / "room") as room:
        tunic.start_tunic(room)
        left = outline(room), history.history(room, TUNIC), room.shelf()
        with pytest.raises(StoreTrouble):
            open_room(tmp_path / "room")  # it is open already
    with open_room(tmp_path / "room") as room:
        assert (outline(room), history.history(room, TUNIC), room.shelf()) == left


@pytest.mark.parametrize("name", ["", "   ", "x" * 200])
def test_names_that_cannot_be_written_on_a_piece(room: Room, name: str) -> None:
    with pytest.raises(BadInput):
        projects.start_project(room, name)
    assert room.shelf().projects == {}


def test_a_budget_in_an_unknown_currency_starts_no_project(room: Room) -> None:
    with pytest.raises(BadInput, match="not a currency code"):
        projects.start_project(room, "P", budget="12", currency="ZZZ")
    assert room.shelf().projects == {}


def test_two_garments_of_one_name_are_told_apart_by_id(sewn: Room) -> None:
    second = projects.enter_garment(sewn, tunic.PROJECT, TUNIC)
    with pytest.raises(BadInput, match="Use the id"):
        sewn.garment(TUNIC)
    assert sewn.garment(second.id).pattern.pieces == {}
