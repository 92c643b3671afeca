"""The page of fit changes says what each change's own file says, and leaves none out."""

import re
from pathlib import Path

import pytest

from eke.fit import fit_kinds
from eke.fit.kinds import NAMED

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "fit-changes.md"


@pytest.mark.parametrize("name", sorted(k.name for k in fit_kinds()))
def test_every_kind_has_a_section(name):
    assert f"\n## {name}\n" in PAGE.read_text(encoding="utf-8")


@pytest.mark.parametrize("module", NAMED, ids=lambda m: m.KIND.name)
def test_a_section_says_what_the_file_says(module):
    section = PAGE.read_text(encoding="utf-8").split(f"\n## {module.KIND.name}\n")[1].split("\n## ")[0]
    section = re.sub(r"!\[[^]]*\]\([^)]*\)", "", section)
    said = " ".join(section.replace("**", "").replace("\n- ", "\n").split())
    words = module.__doc__.replace("Params\n------\n", "")
    assert " ".join(words.replace("``", "`").split()) == said
