"""Bad input: one clear sentence on standard error, exit code 2 (3 where all was good and the answer is no),
no file written, nothing lost."""

from __future__ import annotations

import errno
import json
import os
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from eke.actions.room import open_room
from helpers import tunic

from .conftest import one_sentence

TUNIC = tunic.TUNIC


def picture(size: tuple[int, int] = (1600, 1200)) -> Image.Image:
    """A picture of a plain floor: no reference lies on it."""
    rng = np.random.default_rng(3)
    return Image.fromarray(rng.normal(140, 6, (size[1], size[0], 3)).clip(0, 255).astype(np.uint8))


def huge_png(width: int = 20_000, height: int = 10_000) -> bytes:
    """The beginning of a PNG of 200 megapixels: a few bytes that ask for 600 MB (PNG, ISO/IEC 15948, 11.2.2)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b""))
        + chunk(b"IEND", b"")
    )


def here() -> list[str]:
    return sorted(p.name for p in Path().iterdir())


def state_of(folder: Path) -> object:
    with open_room(folder) as room:
        return room.shelf(), room.garment(TUNIC).stored


# ---------------------------------------------------------------- pictures


@pytest.mark.parametrize(
    ("name", "make", "says"),
    [
        ("notes.jpg", lambda p: p.write_text("buy thread"), "not a picture"),
        ("empty.jpg", lambda p: p.write_bytes(b""), "empty"),
        ("huge.png", lambda p: p.write_bytes(huge_png()), "million are opened"),
        ("small.png", lambda p: picture((120, 90)).save(p), "too few to measure"),
        ("absent.jpg", lambda p: None, "absent.jpg"),
        ("folder.jpg", lambda p: p.mkdir(), "folder.jpg"),
    ],
)
def test_pictures_that_cannot_be_read(eke, name: str, make, says: str) -> None:
    make(Path(name))
    before = here()
    result = eke("trace", name, "--json", "out.json", code=2)
    assert says in one_sentence(result)
    assert here() == before


def test_a_truncated_jpeg(eke) -> None:
    picture().save("whole.jpg", quality=92)
    whole = Path("whole.jpg").read_bytes()
    Path("cut.jpg").write_bytes(whole[: len(whole) // 2])
    result = eke("trace", "cut.jpg", "--json", "out.json", code=2)
    assert "cut short" in one_sentence(result)
    assert not Path("out.json").exists()


def test_no_reference_in_the_picture_is_an_honest_no(eke) -> None:
    picture().save("floor.png")
    for references in ((), ("--reference", "a4"), ("--reference", "sheet")):
        result = eke("trace", "floor.png", *references, "--json", "out.json", code=3)
        one_sentence(result)
        assert not Path("out.json").exists()


@pytest.mark.parametrize(
    "reference",
    [
        "foot", "a4,corners=1:2", "a4,corners=1:1;2:2;3:3;4:x", "points", "points,from=1:1,to=1:1,distance_mm=100",
        "points,from=1:1,to=900:1,distance_mm=-5", "points,from=1:1,to=900:1,distance_mm=nan", "sheet,geometry=none.json",
        "sheet,check_line_mm=-3", "card,colour=red", "",
    ],
)  # fmt: skip
def test_references_that_make_no_sense(eke, reference: str) -> None:
    picture().save("floor.png")
    one_sentence(eke("trace", "floor.png", "--reference", reference, "--json", "out.json", code=2))
    assert here() == ["floor.png"]


@pytest.mark.parametrize("touch", ["5", "5:5", "a:b:+", "5:5:*", "5:5:", "nan:5:+"])
def test_touches_that_make_no_sense(eke, touch: str) -> None:
    picture().save("floor.png")
    one_sentence(eke("trace", "floor.png", "--touch", touch, code=2))


@pytest.mark.parametrize("line", ["", "4", "4:5:6", "4:5;7", "a:b", "nan:1", "4:5;;6:7"])
@pytest.mark.parametrize("option", ["--draw", "--rub"])
def test_lines_that_are_none(eke, option: str, line: str) -> None:
    picture().save("floor.png")
    assert "is no line" in one_sentence(eke("trace", "floor.png", option, line, code=2))


@pytest.mark.parametrize("more", [("--cloth",), ("floor.png",), ("floor.png", "--one-paper")])
def test_lines_are_drawn_on_one_photograph_of_a_tracing(eke, more: tuple[str, ...]) -> None:
    picture().save("floor.png")
    said = one_sentence(eke("trace", "floor.png", *more, "--draw", "4:5;9:9", "--json", "out.json", code=2))
    assert "on one photograph" in said
    assert not Path("out.json").exists()


# ---------------------------------------------------------------- the pattern


def take(eke, monkeypatch: pytest.MonkeyPatch, chain, *more: str, code: int | None):
    """``eke piece take`` of an outline that a photograph is said to show."""
    picture().save("p.png")
    monkeypatch.setattr("eke.actions.found.trace_job", lambda *a, **k: tunic.traced(chain))
    return eke("piece", "take", TUNIC, "p.png", "--name", "odd", *more, code=code)


BOW = (((0, 0), (100, 100)), ((100, 100), (100, 0)), ((100, 0), (0, 100)), ((0, 100), (0, 0)))


def test_a_self_crossing_outline(eke, tunic_room: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = state_of(tunic_room)
    assert "crosses itself" in one_sentence(take(eke, monkeypatch, BOW, code=2))
    assert state_of(tunic_room) == before


def test_a_negative_allowance(eke, tunic_room: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = state_of(tunic_room)
    said = one_sentence(eke("true", TUNIC, "edge.set", "edge=front.side", "allowance_mm=-5", code=2))
    assert "llowance" in said
    more = ("--traced", "cut", "--with-allowance", "-5")
    assert "llowance" in one_sentence(take(eke, monkeypatch, tunic.FRONT, *more, code=2))
    assert state_of(tunic_room) == before


def test_runs_of_a_seam_that_overlap(eke, tunic_room: Path) -> None:
    before = state_of(tunic_room)
    one_sentence(eke("seam", "say", TUNIC, "odd", "front.side", "back.side,front.side", code=2))
    assert state_of(tunic_room) == before


@pytest.mark.parametrize(
    "line",
    [
        "true Tunic make.tea",
        "true Tunic edge.set edge",
        "true Tunic edge.set edge=front.side kind=zip",
        "true Tunic edge.set edge=front.sleeve name=x",
        "true Tunic edge.split edge=front.side",
        "true Tunic edge.split edge=front.side fraction=nan",
        "true Tunic mark.set piece=front kind=line points=[[1,2",
        "true Tunic notch.pair seam=side at_mm=9999",
        "true Tunic grain.set piece=sleeve",
        "true Nothing edge.set edge=front.side",
        "seam walk Tunic --fix 99",
        "fit take-in Tunic side --at 150",
        "fit take-in Tunic side --at 0=0 --at 150=5000",
        "fit take-in Tunic waist --at 0=5",
        "fit take-in Tunic side --at 0=nan",
        "fit take-in Tunic side --at 0=3 --share 7",
        "fit add-dart Tunic back.neck --at 30 --intake 8 --apex 1",
        "fit add-dart Tunic back.neck --at 30 --intake -8 --apex 30,400",
        "fit add-dart Tunic back.neck --at 3000 --intake 8 --apex 30,400",
        "fit move-dart Tunic back.neck --at 3",
        "derive Tunic facing f --edge front.neck --set width_mm=-4",
        "derive Tunic facing f --edge front.collar",
        "derive Tunic lining l --piece sleeve",
        "amend 0000 knots=1 --garment Tunic",
        "switch 0000 off --garment Tunic",
        "print ruler-steps Tunic 0000 --out x.pdf",
        "print pattern Tunic --allowances narrow --out x.pdf",
        "print pattern Tunic --out x.doc",
        "print pattern Tunic --out nowhere/x.pdf",
        "print lay Tunic --out x.pdf",
        "print order Nothing --out x.pdf",
        "cut lay Tunic",
        "cut confirm Tunic",
        "garment say Tunic wearer_age_years=1e999",
        "garment enter Other --project Winter",
        "make-up Nothing",
    ],
)
def test_what_cannot_be_done_changes_nothing(eke, tunic_room: Path, line: str) -> None:
    before = state_of(tunic_room)
    one_sentence(eke(*line.split(), code=2))
    assert state_of(tunic_room) == before
    assert here() == []


# ---------------------------------------------------------------- cloth and money


@pytest.mark.parametrize(
    "line",
    [
        "cloth add odd --size 0,500",
        "cloth add odd --size -5,500",
        "cloth add odd --size nan,500",
        "cloth add odd --size 1e9,1e9",
        "cloth add odd --size wide",
        "cloth add odd --size 500",
        "cloth add odd --shape star --size 5",
        "cloth add odd --shape l-shape --size 900,900,900,900",
        "cloth add odd --shape four-sided --size 10,10,10,10,500",
        "cloth add odd --size 900,900 --shrink 120,3",
        "cloth add odd --size 900,900 --weight -3",
        "cloth add odd --size 900,900 --grain nan",
        "cloth reserve odd --project Summer",
        "cloth wash odd",
        "cloth describe odd --grain 90",
        "cloth flaw odd 1,1 2,2 3,1",
        "notion add buttons -6",
        "notion add buttons many",
        "notion add buttons 6 --price 3",
        "notion use hooks 1 --garment Tunic",
        "project budget Summer 12",
        "buy thread 5",
        "buy thread “5_EUR”",
        "buy thread 5\xa0ZZZ",
        "ledger --project Winter",
        "ledger --project Summer --currency ZZZ",
        "project start Winter --budget 12 --currency ZZZ",
        "project start Winter --budget lots",
        "project start Winter --budget -12",
    ],
)
def test_cloth_and_money_that_cannot_be(eke, tunic_room: Path, line: str) -> None:
    before = state_of(tunic_room)
    one_sentence(eke(*line.split(" "), code=2))
    assert state_of(tunic_room) == before


@pytest.mark.parametrize("rate", ["EUR", "EUR=0", "EUR=-1", "EUR=x", "ZZZ=1"])
def test_rates_that_cannot_be(eke, tunic_room: Path, rate: str) -> None:
    before = state_of(tunic_room)
    one_sentence(eke("buy", "yarn", "20 SEK", "--project", "Summer", "--rate", rate, code=2))
    assert state_of(tunic_room) == before


def test_a_piece_larger_than_every_cloth_is_an_honest_no_with_a_proof(eke, tunic_room: Path) -> None:
    eke("cloth", "add", "ribbon", "--size", "100,900", "--washed")
    eke("cloth", "reserve", "ribbon", "--project", "Summer")
    result = eke("cut", "lay", TUNIC, "--seconds", "0.2", "--json", code=3)
    plan = json.loads(result.stdout)
    assert plan["complete"] is False
    assert plan["proof"]


# ---------------------------------------------------------------- packing problems

SQUARE = [[0, 0], [100, 0], [100, 100], [0, 100], [0, 0]]


def case(**other) -> dict:
    """A packing problem in which three squares fit a cloth of 320 × 120 mm."""
    return {
        "format": "nesting-case-1",
        "kind": "containers",
        "name": "squares",
        "units": "mm",
        "cloths": [{"id": "A", "outline": [[0, 0], [320, 0], [320, 120], [0, 120], [0, 0]], "holes": []}],
        "pieces": [{"id": "s", "demand": 3, "rotations": [0], "polygon": SQUARE}],
        "min_gap_pieces": 2.0, "min_gap_edge": 1.0, "min_gap_hole": 2.0, "versions": [],
    } | other  # fmt: skip


def test_a_problem_is_laid_drawn_and_written(eke) -> None:
    Path("case.json").write_text(json.dumps(case()))
    result = eke("lay", "case.json", "--passes", "1", "--json", "a.json", "--plan", "a.svg")
    answer = json.loads(Path("a.json").read_text())
    assert (answer["format"], len(answer["placements"]), answer["unplaced"]) == ("nesting-answer-1", 3, [])
    assert "<svg" in Path("a.svg").read_text()
    assert "Everything is on." in result.stdout
    eke("lay", "case.json", "--passes", "1", "--json", "b.json")
    again = json.loads(Path("b.json").read_text())
    assert again["placements"] == answer["placements"]


def test_four_squares_do_not_fit_and_the_best_lay_is_written(eke) -> None:
    pieces = [{"id": "s", "demand": 4, "rotations": [0], "polygon": SQUARE}]
    Path("case.json").write_text(json.dumps(case(pieces=pieces)))
    eke("lay", "case.json", "--passes", "3", "--json", "a.json", code=3)
    answer = json.loads(Path("a.json").read_text())
    on = len(answer["placements"])
    assert 2 <= on <= 3  # four squares of 100 mm and their gaps need 408 of 320 mm
    assert answer["unplaced"] == [{"piece": "s", "count": 4 - on}]


def piece(**other) -> list[dict]:
    return [{"id": "s", "demand": 1, "rotations": [0], "polygon": SQUARE} | other]


BAD_CASES = {
    "no json": "{",
    "a list": "[]",
    "not text": b"\xff\xfe\x00",
    "no format": json.dumps({"pieces": []}),
    "other format": json.dumps(case(format="nesting-case-9")),
    "crossing": json.dumps(case(pieces=piece(polygon=[[0, 0], [9, 9], [9, 0], [0, 9], [0, 0]]))),
    "line": json.dumps(case(pieces=piece(polygon=[[0, 0], [9, 0], [18, 0], [0, 0]]))),
    "words": json.dumps(case(pieces=piece(polygon="square"))),
    "no pieces": json.dumps(case(pieces=[])),
    "no demand": json.dumps(case(pieces=piece(demand=-1))),
    "negative gap": json.dumps(case(min_gap_pieces=-4.0)),
    "flat cloth": json.dumps(
        case(cloths=[{"id": "A", "outline": [[0, 0], [9, 0], [4, 0], [0, 0]], "holes": []}])
    ),
    "nothing": json.dumps(case()).replace("320", "NaN"),
    "deep": "[" * 100_000,
}


@pytest.mark.parametrize("name", BAD_CASES)
def test_problems_that_are_none(eke, name: str) -> None:
    text = BAD_CASES[name]
    Path("case.json").write_bytes(text if isinstance(text, bytes) else text.encode())
    one_sentence(eke("lay", "case.json", "--passes", "1", "--json", "a.json", "--plan", "a.svg", code=2))
    assert here() == ["case.json"]


@pytest.mark.parametrize(
    "words",
    [["--seconds", "1", "--passes", "1"], ["--fill", "0.7"], ["--fill", "nan"], ["--seconds", "nan"], ["--plan", "a.doc"],
     ["--json", "nowhere/a.json"]],
)  # fmt: skip
def test_options_that_make_no_sense(eke, words: list[str]) -> None:
    Path("case.json").write_text(json.dumps(case()))
    more = [] if "--seconds" in words else ["--passes", "1"]
    one_sentence(eke("lay", "case.json", *words, *more, code=2))
    assert here() == ["case.json"]


# ---------------------------------------------------------------- files and disks


def test_a_file_of_somebody_elses_is_not_written_over(eke) -> None:
    Path("case.json").write_text(json.dumps(case()))
    Path("mine.json").write_text("my notes")
    said = one_sentence(eke("lay", "case.json", "--passes", "1", "--json", "mine.json", code=2))
    assert "--force" in said
    assert Path("mine.json").read_text() == "my notes"
    eke("lay", "case.json", "--passes", "1", "--json", "mine.json", "--force")
    eke("lay", "case.json", "--passes", "1", "--json", "mine.json")  # now it is Eke's own


def test_a_full_disk_for_a_file_leaves_what_was_there(eke, monkeypatch: pytest.MonkeyPatch) -> None:
    Path("case.json").write_text(json.dumps(case()))
    eke("lay", "case.json", "--passes", "1", "--json", "a.json")
    before, names = Path("a.json").read_bytes(), here()

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("eke.cli.frame.os.replace", full)
    one_sentence(eke("lay", "case.json", "--passes", "1", "--json", "a.json", code=2))
    assert Path("a.json").read_bytes() == before
    assert here() == names


def test_a_full_disk_for_the_workroom(eke, tunic_room: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = state_of(tunic_room)
    picture().save("p.png")

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("eke.actions.found.trace_job", lambda *a, **k: tunic.traced(tunic.FRONT))
    with monkeypatch.context() as patch:
        patch.setattr("eke.store.files.os.fsync", full)
        said = one_sentence(eke("piece", "take", TUNIC, "p.png", "--name", "third", code=2))
    assert "full" in said
    assert state_of(tunic_room) == before
    eke("piece", "take", TUNIC, "p.png", "--name", "third")  # with room again it goes on


def test_a_damaged_database_is_said_and_left_alone(eke, tunic_room: Path) -> None:
    file = tunic_room / "workroom.db"
    data = bytearray(file.read_bytes())
    data[:4096] = os.urandom(4096)
    file.write_bytes(data)
    for line in (["workroom", "show"], ["history", "--garment", TUNIC], ["backup", "b.zip"]):
        one_sentence(eke(*line, code=2))
    assert file.read_bytes() == bytes(data)
    assert here() == []


@pytest.mark.parametrize("content", [b"", b"not a backup", b"PK\x03\x04 broken"])
def test_a_backup_that_is_none(eke, folder: Path, content: bytes) -> None:
    Path("b.zip").write_bytes(content)
    one_sentence(eke("restore", "b.zip", code=2))
    assert not folder.exists()


def test_no_workroom_there(eke) -> None:
    assert "no workroom" in one_sentence(eke("workroom", "show", code=2))


def test_a_workroom_open_in_another_process(eke, tunic_room: Path) -> None:
    code = (
        "import sys, eke.actions.room as r\n"
        "room = r.open_room(sys.argv[1])\n"
        "print('open', flush=True); sys.stdin.readline(); room.close()"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", code, str(tunic_room)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert child.stdout is not None
        assert child.stdout.readline().strip() == "open"
        said = one_sentence(eke("undo", "--garment", TUNIC, code=2))
        assert "open" in said or "use" in said
    finally:
        child.communicate("\n", timeout=60)
    eke("undo", "--garment", TUNIC)


def test_a_fault_of_ours_is_said_and_logged_and_no_traceback_is_shown(
    eke, tunic_room: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("the needle broke")

    monkeypatch.setattr("eke.actions.history.take_back", broken)
    said = one_sentence(eke("undo", "--garment", TUNIC, code=1))
    assert "the needle broke" in said
    assert "eke report" in said
