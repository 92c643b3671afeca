"""The whole job by the command line; every answer for machines is one document that carries its format."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from eke.actions.room import open_room
from helpers import tunic
from helpers.shared import shared_path

from .conftest import document
from .test_bad_input import case, picture

TUNIC = tunic.TUNIC


@pytest.mark.parametrize("machine", [False, True], ids=["words", "json"])
def test_the_whole_job(eke, folder: Path, monkeypatch: pytest.MonkeyPatch, machine: bool) -> None:
    def do(*words: str, code: int = 0) -> dict:
        """Run a command in words or as JSON; either way it must answer."""
        result = eke(*words, *(["--json"] if machine else []), code=code)
        if machine:
            return document(result)
        assert result.stdout.strip()
        assert '"format"' not in result.stdout
        return {}

    picture().save("tracing.png")
    found = tunic.traced(tunic.FRONT, tunic.BACK)
    monkeypatch.setattr("eke.actions.found.trace_job", lambda *a, **k: found)
    do("workroom", "make")
    do("project", "start", "Summer", "--budget", "12")
    do("garment", "enter", TUNIC, "--project", "Summer", "--fact", "wearer_age_years=9")
    do("garment", "say", TUNIC, "buttons.count=2", "buttons.diameter_mm=20")
    do("piece", "take", TUNIC, "tracing.png", "--name", "front", "--name", "back", "--reference", "a4")
    for piece in ("front", "back"):
        for number, name in enumerate(tunic.EDGES, start=1):
            kind = tunic.KINDS.get(name, "seam")
            do("true", TUNIC, "edge.set", f"edge={piece}#{number}", f"name={name}", f"kind={kind}")
    do("true", TUNIC, "mark.set", "piece=front", "kind=balance", "name=waist", "points=[[0,200],[190,200]]")
    do("piece", "show", TUNIC)
    do("seam", "propose", TUNIC)
    do("seam", "say", TUNIC, "side", "front.side", "back.side")
    do("seam", "say", TUNIC, "shoulder", "front.shoulder", "back.shoulder")
    do("seam", "walk", TUNIC)
    do("seam", "walk", TUNIC, "--fix", "1")
    do("fit", "take-in", TUNIC, "side", "--at", "0=0", "--at", "150=8", "--at", "350=0", "--reason", "wide")
    do("fit", "add-dart", TUNIC, "back.neck", "--at", "40", "--intake", "6", "--apex", "40,410")
    do("fit", "move-dart", TUNIC, "back.shoulder", "--at", "40")
    do("derive", TUNIC, "facing", "neck facing", "--edge", "front.neck", "--set", "width_mm=40")
    do("history", "--garment", TUNIC)
    with open_room(folder) as room:
        steps = room.garment(TUNIC).replayed.steps
        taken = next(s.id for s in steps if s.kind == "fit.take_in")
    do("amend", taken, "knots=[[0,0],[150,6],[350,0]]", "--garment", TUNIC)
    do("switch", taken, "off", "--garment", TUNIC)
    do("undo", "--garment", TUNIC)
    do("redo", "--garment", TUNIC)
    do("undo", "--garment", TUNIC)
    do("print", "ruler-steps", TUNIC, taken, "--out", "steps.pdf")
    do("cloth", "add", "blue", "--size", "1000,800", "--washed", "--price", "6 EUR", "--origin", "market")
    do("cloth", "add", "scrap", "--size", "200,200")
    do("cloth", "wash", "scrap")
    do("cloth", "discard", "scrap")
    monkeypatch.setattr("eke.actions.found.trace_job", lambda *a, **k: tunic.traced_cloth())
    do(
        "cloth",
        "photograph",
        "curtain",
        "tracing.png",
        "--touch",
        "800:600:+",
        "--grain",
        "91",
        "--nap",
        "one-way",
    )
    do("cloth", "advice", "curtain")
    do("cloth", "describe", "curtain", "--grain", "90", "--weight", "180", "--price", "2 EUR")
    do("cloth", "flaw", "curtain", "100,100", "140,100", "140,140", "--kind", "faded")
    do("notion", "add", "buttons", "6", "--price", "3 EUR")
    do("notion", "use", "buttons", "2", "--garment", TUNIC)
    do("project", "budget", "Summer", "15 EUR")
    do("cloth", "reserve", "curtain", "--project", "Summer")
    do("cloth", "release", "curtain", "--project", "Summer")
    do("cloth", "reserve", "blue", "--project", "Summer")
    do("buy", "yarn", "20 SEK", "--project", "Summer", "--rate", "EUR=0.0875", "--on", "2026-05-02")
    do("cut", "list", TUNIC)
    do("cut", "lay", TUNIC, "--seconds", "0.5", "--seed", "1")
    for what in ("pattern", "lay", "cutting-list", "order"):
        do("print", what, TUNIC, "--out", f"{what}.pdf")
    do("print", "pattern", TUNIC, "--whole", "--out", "whole.pdf")
    do("print", "pattern", TUNIC, "--paper", "letter", "--piece", "front", "--out", "front.pdf")
    do("cut", "confirm", TUNIC)
    do("print", "ledger", "Summer", "--out", "ledger.pdf")
    do("print", "journal", "Summer", "--out", "journal.html")
    do("print", "journal", "Summer", "--out", "journal.pdf")
    do("make-up", TUNIC)
    do("ledger", "--project", "Summer")
    do("workroom", "show")
    do("backup", "all.zip")
    do("report", "report.zip")
    do("reference-sheet", "--out", "sheet.pdf")
    for file in Path().glob("*.pdf"):
        assert file.read_bytes().startswith(b"%PDF"), file
    assert "<html" in Path("journal.html").read_text(encoding="utf-8")
    other = folder.with_name("again")
    if machine:
        with open_room(folder) as room:
            shelf = room.shelf()
        assert document(eke("--workroom", str(other), "restore", "all.zip", "--json"))["folder"] == str(other)
        with open_room(other) as room:
            assert room.shelf() == shelf


def test_the_ledger_for_machines_says_currencies(eke, tunic_room: Path) -> None:
    eke("buy", "thread", "2.40 EUR", "--project", "Summer")
    found = document(eke("ledger", "--project", "Summer", "--json"))
    assert found["account"]["spent"] == {"minor": 240, "currency": "EUR"}


def test_findings_for_machines_carry_code_amount_and_remedies(eke, tunic_room: Path) -> None:
    rows = document(eke("seam", "walk", TUNIC, "--json"))["findings"]
    row = next(r for r in rows if r["code"] == "seam-length")
    assert row["amount"] == pytest.approx(-tunic.SIDE_GAP_MM, abs=0.05)
    assert row["fixes"][0]["kind"].startswith("true.")


def test_values_are_read_as_a_maker_writes_them() -> None:
    from eke.cli.rooms import facts_from

    words = (
        "age=9",
        "wide=1.5",
        "cord=no",
        "name=side front",
        "point=10,20",
        "rows=[[1,2]]",
        "b.count=2",
        "b.size=20",
    )
    assert facts_from(words) == {
        "age": 9, "wide": 1.5, "cord": False, "name": "side front", "point": [10.0, 20.0], "rows": [[1, 2]],
        "b": {"count": 2, "size": 20},
    }  # fmt: skip


def test_the_reference_sheet_says_its_geometry(eke) -> None:
    found = document(eke("reference-sheet", "--paper", "letter", "--number", "2", "--out", "s.pdf", "--json"))
    # a Letter sheet is 8.5 × 11 inches (ANSI/ASME Y14.1, size A)
    assert sorted(found["sheet_mm"]) == [pytest.approx(215.9), pytest.approx(279.4)]
    assert found["markers"]


LOOKING = """
import eke.cli.laying as laying
from eke.cli.main import main
laying.progress_line = lambda sentence: print("looking", flush=True)
main(prog_name="eke")
"""
"""The command itself, telling the test when a first lay is there."""


@pytest.mark.skipif(os.name == "nt", reason="a console's Ctrl-C cannot be sent to one process there")
def test_ctrl_c_writes_the_best_lay_so_far(tmp_path: Path) -> None:
    polygon = [[0, 0], [70, 0], [50, 90], [0, 60], [0, 0]]
    pieces = [{"id": "s", "demand": 9, "rotations": [0, 180], "polygon": polygon}]
    (tmp_path / "case.json").write_text(json.dumps(case(pieces=pieces)))
    command = [sys.executable, "-c", LOOKING, "lay", "case.json", "--seconds", "500", "--json", "a.json"]
    child = subprocess.Popen(command, cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert child.stdout is not None
    assert child.stdout.readline().strip() == "looking"
    child.send_signal(signal.SIGINT)
    out, err = child.communicate(timeout=120)
    answer = json.loads((tmp_path / "a.json").read_text())
    assert answer["format"] == "nesting-answer-1"
    assert answer["placements"]
    assert child.returncode == (3 if answer["unplaced"] else 0), out + err
    assert err == ""


@pytest.mark.outside
def test_a_published_case_is_laid_and_judged_by_its_own_checker(eke, tmp_path: Path) -> None:
    case_file, checker = shared_path("nesting/oddcloth/remnants_three.json"), shared_path("nesting/check.py")
    fill = min(v["fill"] for v in json.loads(case_file.read_text())["versions"])
    answer = tmp_path / "answer.json"
    result = eke(
        "lay", str(case_file), "--fill", str(fill), "--passes", "2", "--json", str(answer), code=None
    )
    assert result.exit_code in (0, 3)
    judged = subprocess.run(
        [sys.executable, str(checker), str(case_file), str(answer), "--json"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    found = json.loads(judged.stdout)
    assert found["valid"], found
    assert result.exit_code == (3 if json.loads(answer.read_text())["unplaced"] else 0)
