"""Write the reference pages that are generated from the program: commands and findings.

``python tools/make_reference.py`` writes them; ``--check`` compares and returns 1 where one is out of date.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import click

from eke.cli.main import main as eke_command
from eke.findings import CODES

REFERENCE = Path(__file__).resolve().parents[1] / "docs" / "reference"
UNITS = {"mm": "millimetres", "deg": "degrees", "mm2": "square millimetres", "": "no amount"}


def findings_page() -> str:
    """Return the page of all finding codes."""
    lines = [
        "# Findings",
        "",
        "What Eke may find in a pattern. Each has a code that never changes its meaning. Generated from",
        "`eke.findings`; do not edit.",
        "",
    ]
    for code, entry in sorted(CODES.items()):
        lines += [
            f"## {code}",
            "",
            entry.meaning,
            "",
            f"- Amount in: {UNITS[entry.unit]}",
            f"- {entry.remedy}",
            "",
        ]
    return "\n".join(lines)


def _commands(
    command: click.Command, name: str, parent: click.Context | None = None
) -> Iterator[tuple[str, str]]:
    settings = {**command.context_settings, "terminal_width": 100, "max_content_width": 100}
    context = click.Context(command, info_name=name, parent=parent, **settings)
    yield context.command_path, command.get_help(context)
    if isinstance(command, click.Group):
        for child in sorted(command.commands):
            yield from _commands(command.commands[child], child, context)


def commands_page() -> str:
    """Return the page of all commands: exactly what ``--help`` prints."""
    lines = [
        "# Commands",
        "",
        "What `eke … --help` prints, page by page. Generated; do not edit.",
        "",
        "Exit codes: 0 done; 2 something given cannot be used (one sentence on stderr, no file written); 3 an honest",
        "no (does not fit; too inaccurate to promise).",
        "",
    ]
    for path, text in _commands(eke_command, "eke"):
        lines += [f"## {path}", "", "```text", text.rstrip(), "```", ""]
    return "\n".join(lines)


PAGES = {"findings.md": findings_page, "commands.md": commands_page}


def main() -> int:
    """Write or check all pages."""
    check = "--check" in sys.argv[1:]
    stale = []
    for name, make in PAGES.items():
        target = REFERENCE / name
        text = make()
        if check:
            if not target.exists() or target.read_text(encoding="utf-8") != text:
                stale.append(name)
        else:
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(text, encoding="utf-8", newline="\n")
    if stale:
        print(f"out of date: {', '.join(stale)} under docs/reference. Run `make docs`.")
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main())
