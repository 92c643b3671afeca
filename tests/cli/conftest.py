from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from eke.actions.room import make_room
from eke.cli.main import main
from helpers import tunic

Run = Callable[..., Result]


@pytest.fixture(autouse=True)
def log_apart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep the log of these tests out of the maker's own."""
    monkeypatch.setattr("eke.cli.frame.log_file", lambda: tmp_path / "log" / "eke.log")
    monkeypatch.delenv("EKE_WORKROOM", raising=False)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Where the workroom of a test is."""
    return tmp_path / "room"


@pytest.fixture
def eke(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run ``eke --workroom … WORDS`` in an empty folder; words are parted by blanks, or given one by one."""
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")

    def run(*words: str, code: int | None = 0) -> Result:
        result = CliRunner().invoke(main, ["--workroom", str(folder), *words], prog_name="eke")
        if code is not None:
            assert result.exit_code == code, f"{words}: {result.output}"
        assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
        return result

    return run


@pytest.fixture
def tunic_room(folder: Path) -> Path:
    """A workroom with a project and a tunic whose sides and shoulders are sewn."""
    with make_room(folder) as room:
        tunic.start_tunic(room)
    return folder


def one_sentence(result: Result) -> str:
    """Return what was said on standard error, which must be one line for a person and no block of usage."""
    said = result.stderr.strip()
    assert said, "nothing was said"
    assert "\n" not in said, said
    assert said.endswith(".")
    assert not any(word in said for word in ("Traceback", "Usage:", "nvalid", "Errno")), said
    assert not said.startswith("Error")
    return said


def document(result: Result) -> dict[str, Any]:
    """Return the one JSON document on standard output, which must carry its format."""
    found: dict[str, Any] = json.loads(result.stdout)
    assert found["format"].startswith(("eke-", "nesting-answer-")), found
    return found
