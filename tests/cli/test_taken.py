"""A file that is there is never replaced unasked; only an older machine answer gives way to a newer one."""

import json
import os

import pytest
from click.testing import CliRunner

from eke.cli import frame
from eke.cli.main import main
from eke.errors import BadInput

PROBLEM = {
    "format": "eke-lay-1",
    "parts": [{"id": "a", "outline": [[0, 0], [50, 0], [50, 40], [0, 40]], "turns_deg": [0]}],
    "sheets": [{"id": "s", "outline": [[0, 0], [200, 0], [200, 100], [0, 100]]}],
}


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "p.json").write_text(json.dumps(PROBLEM), encoding="utf-8")
    return tmp_path


def run(*words):
    return CliRunner().invoke(main, words)


@pytest.mark.parametrize(
    "mine", [b"Notes. Ask about Eke at the sewing circle.", b"%PDF-1.4 (Eke) a pattern I drew on", b""]
)
def test_a_file_of_the_makers_is_left_as_it_is(here, mine):
    place = here / "mine.pdf"
    place.write_bytes(mine)
    said = run("reference-sheet", "--out", "mine.pdf")
    assert (said.exit_code, place.read_bytes()) == (2, mine)
    assert "left as it is" in said.stderr
    assert run("reference-sheet", "--out", "mine.pdf", "--force").exit_code == 0
    assert place.read_bytes() != mine


def test_an_answer_gives_way_to_a_newer_answer_only(here):
    lay = ("lay", "p.json", "--passes", "1", "--json")
    assert run(*lay, "a.json").exit_code == 0
    assert run(*lay, "a.json").exit_code == 0
    before = (here / "p.json").read_bytes()
    assert run(*lay, "p.json").exit_code == 2  # the problem itself, though its format is ours
    assert (here / "p.json").read_bytes() == before


@pytest.mark.parametrize("plan", ["taken.svg", "lay.odt", "no/folder.svg"])
def test_a_place_that_cannot_be_written_is_said_before_the_work_and_nothing_is_written(
    here, plan, monkeypatch
):
    (here / "taken.svg").write_text("<svg/>", encoding="utf-8")

    def never(*_, **__):
        raise AssertionError("worked out a lay that could not be kept")

    monkeypatch.setattr("eke.actions.laying.lay_problem", never)
    said = run("lay", "p.json", "--json", "a.json", "--plan", plan)
    assert said.exit_code == 2
    assert not (here / "a.json").exists()


def test_the_check_can_fail(tmp_path):
    free = tmp_path / "free"
    frame.refuse_taken(free, force=False)
    free.write_text("x", encoding="utf-8")
    with pytest.raises(BadInput):
        frame.refuse_taken(free, force=False)
    with pytest.raises(BadInput):
        frame.refuse_taken(tmp_path, force=True)
    assert os.listdir(tmp_path) == ["free"]
