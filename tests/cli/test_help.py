"""Help, examples and mistakes in the typing."""

from __future__ import annotations

import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

import eke as package
from eke.cli.main import main

from .conftest import one_sentence


def commands(command: click.Command = main, path: str = "eke") -> Iterator[tuple[str, click.Command]]:
    """Every command with its path, groups included."""
    yield path, command
    if isinstance(command, click.Group):
        for name, child in command.commands.items():
            yield from commands(child, f"{path} {name}")


LEAVES = [(path, command) for path, command in commands() if not isinstance(command, click.Group)]


def example_of(command: click.Command) -> str:
    """The example in a command's help."""
    _, sign, text = (command.help or "").partition("Example:")
    return " ".join(text.split()) if sign else ""


def parse(line: str) -> tuple[str, click.Context]:
    """Parse a command line without running it; a mistake raises click's usage error."""
    words = shlex.split(line.replace("“", '"').replace("”", '"'))
    assert words[0] == "eke", line
    context: click.Context = main.make_context("eke", list(words[1:]))
    path = "eke"
    while isinstance(context.command, click.Group):
        rest = [*context._protected_args, *context.args]
        name, command, rest = context.command.resolve_command(context, rest)
        assert command is not None
        path += f" {name}"
        context = command.make_context(name, rest, parent=context)
    return path, context


def test_the_parser_of_examples_tells_right_from_wrong() -> None:
    assert parse("eke lay a.json --seconds 3")[0] == "eke lay"
    with pytest.raises(click.UsageError):
        parse("eke lay a.json --secs 3")
    with pytest.raises(click.UsageError):
        parse("eke garment enter Pinafore")


@pytest.mark.parametrize(("path", "command"), list(commands()), ids=lambda v: v if isinstance(v, str) else "")
def test_every_command_says_what_it_does(eke, path: str, command: click.Command) -> None:
    said = eke(*path.split()[1:], "--help").stdout
    assert said.startswith("Usage: ")
    assert command.help
    assert command.help.strip()[0].isupper()
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, f"{path} {parameter.opts} has no help"


@pytest.mark.parametrize(("path", "command"), LEAVES, ids=lambda v: v if isinstance(v, str) else "")
def test_every_command_has_an_example_that_can_be_typed_and_speaks_json(
    path: str, command: click.Command
) -> None:
    line = example_of(command)
    assert line, f"{path} has no example"
    assert parse(line)[0] == path
    assert any("--json" in p.opts for p in command.params)


MISTAKES = {
    "lai": "eke has no command “lai”. Did you mean",
    "lay": "eke lay needs PROBLEM.json.",
    "lay x --pases 3": "eke lay has no option --pases. Did you mean --passes",
    "lay x --passes a": "--passes is a whole number of at least 1, not “a”.",
    "lay x --seconds -1": "--seconds is a number of at least 0.01, not “-1.0”.",
    "lay x --json": "--json needs something behind it.",
    "lay x y": "eke lay has no use for “y”.",
    "print pattern G --paper a3 --out x.pdf": "--paper is one of a4, letter, not “a3”.",
    "print pattern G": "eke print pattern needs --out.",
    "reference-sheet --number 100": "--number is a whole number from 0 to 99, not “100”.",
    "cloth ad x": "eke cloth has no command “ad”.",
    "switch x perhaps": "STATE is one of on, off, not “perhaps”.",
    "--frob": "eke has no option --frob.",
    "trace": "eke trace needs PHOTO….",
}


@pytest.mark.parametrize("line", MISTAKES)
def test_a_mistake_in_the_typing_is_one_sentence_and_code_2(eke, line: str) -> None:
    result = eke(*line.split(), code=2)
    assert one_sentence(result).startswith(MISTAKES[line])
    assert "--help" in result.stderr
    assert result.stdout == ""


def test_bare_groups_show_their_help(eke) -> None:
    assert "propose" in eke("seam").stdout


def test_bare_eke_opens_the_workroom(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[object, ...]] = []

    def opened(folder: Path, *, open_browser: bool, port: int | None, say: object) -> None:
        asked.append((folder, open_browser, port))

    monkeypatch.setattr("eke.web.serve.open_workroom", opened)
    runner = CliRunner()
    assert runner.invoke(main, ["--workroom", "here"], prog_name="eke").exit_code == 0
    words = ["--workroom", "here", "--port", "8100", "--no-open"]
    assert runner.invoke(main, words, prog_name="eke").exit_code == 0
    assert asked == [(Path("here"), True, None), (Path("here"), False, 8100)]
    wrong = runner.invoke(main, ["--no-open", "lay", "x.json"], prog_name="eke")
    assert wrong.exit_code == 2
    assert one_sentence(wrong).startswith("--port and --no-open belong to opening the app")


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *words], capture_output=True, text=True, check=False, encoding="utf-8"
    )


def test_version_and_mistakes_in_a_real_process() -> None:
    found = run("-m", "eke.cli.main", "--version")
    assert (found.returncode, found.stdout.strip()) == (0, f"eke {package.__version__}")
    found = run("-m", "eke.cli.main", "lai")
    assert (found.returncode, found.stderr.count("\n")) == (2, 1)


def test_help_loads_no_heavy_library() -> None:
    """What makes a command line slow to answer is what it imports: counted here instead of timed."""
    code = (
        "import sys\n"
        "from eke.cli.main import main\n"
        "try: main(['--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'numpy', 'scipy', 'numba', 'shapely', 'cv2', 'PIL', 'reportlab', 'sqlite3', 'jinja2', 'pikepdf'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    found = run("-c", code)
    assert found.stderr.strip() == "[]"


def test_a_photograph_is_read_before_the_libraries_that_look_at_it_are_there() -> None:
    """They take half a second to load, which is done while the file is read; those for PDF only when one comes."""
    code = (
        "import sys\n"
        "import eke.actions.tracing\n"
        "heavy = {'scipy', 'shapely', 'pikepdf', 'pypdfium2', 'eke.capture.survey', 'eke.capture.outline'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    found = run("-c", code)
    assert found.stderr.strip() == "[]"
