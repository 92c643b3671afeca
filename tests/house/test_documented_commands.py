"""What the pages tell a maker to type can be typed, and the walk by the command line runs from end to end."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from eke.actions.room import open_room
from eke.cli.main import main

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", *sorted(ROOT.glob("docs/tutorial/*.md")), *sorted(ROOT.glob("docs/how-to/*.md"))]
WALK = ROOT / "docs" / "how-to" / "by-command-line.md"


def lines_of(page: Path) -> list[str]:
    """The commands in a page's shell blocks, continued lines joined, comments left out."""
    blocks = re.findall(r"```sh\n(.*?)```", page.read_text(encoding="utf-8"), re.DOTALL)
    lines = "\n".join(blocks).replace("\\\n", " ").splitlines()
    return [line.strip() for line in lines if line.strip().startswith("eke ")]


def check(line: str) -> str:
    """Parse a command line without running it; return the path of the command."""
    words = shlex.split(line, comments=True)
    words = [word for word in words if word not in ("…", "...")]
    context: click.Context = main.make_context("eke", words[1:])
    path = "eke"
    while isinstance(context.command, click.Group) and not context.resilient_parsing:
        name, command, rest = context.command.resolve_command(
            context, [*context._protected_args, *context.args]
        )
        assert command is not None
        path += f" {name}"
        context = command.make_context(name, rest, parent=context)
    return path


def test_the_check_tells_right_from_wrong() -> None:
    assert check("eke cut list Pinafore  # what is cut") == "eke cut list"
    for wrong in ("eke cut lists Pinafore", "eke cut lay Pinafore --second 5", "eke seam say P side a -b"):
        with pytest.raises(click.UsageError):
            check(wrong)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_what_a_page_tells_to_type_can_be_typed(page: Path) -> None:
    for line in lines_of(page):
        try:
            if "--help" not in line:
                check(line)
        except click.UsageError as wrong:
            pytest.fail(f"{page.name}: {line}: {wrong.format_message()}")


@pytest.mark.slow
def test_the_walk_by_the_command_line_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    room = tmp_path / "my-workroom"
    monkeypatch.setenv("EKE_WORKROOM", str(room))
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("eke.cli.frame.log_file", lambda: tmp_path / "log" / "eke.log")
    said: dict[str, str] = {}
    for line in lines_of(WALK):
        words = shlex.split(line.replace("demo/photographs", (ROOT / "demo" / "photographs").as_posix()))[1:]
        if "STEP" in words:
            with open_room(room) as opened:
                steps = opened.garment("Pinafore").replayed.steps
                words[words.index("STEP")] = next(s.id for s in steps if s.kind == "fit.take_in")
        result = CliRunner().invoke(main, words, prog_name="eke")
        assert result.exit_code == 0, f"{line}\n{result.output}"
        said[line] = result.stdout
    with open_room(room) as opened:
        pattern = opened.garment("Pinafore").pattern
        assert [p.fold is not None for p in pattern.pieces.values()] == [True, False, False, True]
        lengths = {
            f"{p.name}.{e.name}": e.path.length_mm for p in pattern.pieces.values() for e in p.edges if e.name
        }
        # the maker's own measures of the draft: the panels are sewn over half a metre, the hems are the flare
        assert lengths["front.panel"] == pytest.approx(lengths["side front.panel"], abs=1.6)
        assert lengths["side front.side"] == pytest.approx(lengths["side back.side"], abs=1.6)
        assert len(opened.shelf().cuts) == 1
    assert "curtain one, offcut" in said["eke workroom show"]
    for name in ("steps.pdf", "lay.pdf", "pattern.pdf", "list.pdf", "order.pdf"):
        assert (tmp_path / name).read_bytes().startswith(b"%PDF")
