"""The documentation says what the program does, and its links lead somewhere."""

import importlib.util
import re
from pathlib import Path

import pytest

from eke.findings import CODES

ROOT = Path(__file__).parents[2]
LINK = r"\]\(([^)#:]+?)(?:#[^)]*)?\)"
_spec = importlib.util.spec_from_file_location("make_reference", ROOT / "tools" / "make_reference.py")
make_reference = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(make_reference)


@pytest.mark.parametrize("name", sorted(make_reference.PAGES))
def test_generated_pages_are_up_to_date(name):
    assert (ROOT / "docs" / "reference" / name).read_text(encoding="utf-8") == make_reference.PAGES[name]()


@pytest.mark.parametrize("code", sorted(CODES))
def test_every_finding_has_a_section(code):
    assert f"\n## {code}\n" in (ROOT / "docs" / "reference" / "findings.md").read_text(encoding="utf-8")


def test_links_between_pages_lead_somewhere():
    pages = [*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md")]
    links = [(page, link) for page in pages for link in re.findall(LINK, page.read_text(encoding="utf-8"))]
    lost = [f"{page.relative_to(ROOT)}: {link}" for page, link in links if not (page.parent / link).exists()]
    assert links
    assert lost == []


def test_the_commands_of_the_readme_exist():
    rules = set(re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))
    named = set(re.findall(r"(?:`|^)make ([a-z-]+)", (ROOT / "README.md").read_text("utf-8"), re.MULTILINE))
    assert {"demo", "test"} <= named <= rules
