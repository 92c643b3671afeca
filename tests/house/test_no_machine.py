"""The repository speaks of the project alone: no path of a machine that it was made on."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
TEXT = {".py", ".md", ".toml", ".html", ".svg", ".json", ".txt", ".cfg", ""}
MACHINE = re.compile(r"(?<![\w.])/(?:work|root|home/[a-z]+|Users/[A-Za-z]+|mnt|opt)/|[A-Z]:\\Users\\")
PLACES = ("src", "docs", "demo", "tests", "tools", "bench", ".ci")


def machine_paths(text: str) -> list[str]:
    return MACHINE.findall(text)


def test_the_search_finds_what_it_must() -> None:
    assert machine_paths("open('" + "/ro" + "ot/x')")
    assert machine_paths("see /ho" + "me/ada/eke")
    assert not machine_paths("docs/work/a, https://example.org/home/x, a/root/b")


def test_no_file_names_a_place_on_a_machine() -> None:
    files = [f for place in PLACES for f in (ROOT / place).rglob("*") if f.is_file() and f.suffix in TEXT]
    files += [f for f in ROOT.glob("*") if f.is_file() and f.suffix in TEXT and not f.name.startswith(".git")]
    assert len(files) > 200
    found = {
        str(f.relative_to(ROOT)): hits
        for f in files
        if "__pycache__" not in f.parts
        and (hits := machine_paths(f.read_text(encoding="utf-8", errors="ignore")))
    }
    assert found == {}
