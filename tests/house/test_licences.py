"""The licence check finds what it must find."""

import importlib.util
from pathlib import Path

import pytest

_spec = importlib.util.spec_from_file_location(
    "check_licences", Path(__file__).parents[2] / "tools" / "check_licences.py"
)
check = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(check)


@pytest.mark.parametrize(
    "licence",
    [
        "GPL-3.0-only",
        "GNU General Public License v3 (GPLv3)",
        "AGPL-3.0",
        "GNU Affero General Public License v3",
        "",
    ],
)
def test_gpl_and_unknown_are_refused(licence):
    assert check.judge("thing", licence, [])


@pytest.mark.parametrize(
    "licence",
    [
        "MIT",
        "BSD-3-Clause AND 0BSD",
        "GNU Lesser General Public License v3 (LGPLv3)",
        "LGPL-2.1",
        "MPL-2.0",
        "PSF-2.0",
    ],
)
def test_permissive_and_lesser_are_allowed(licence):
    assert check.judge("thing", licence, []) == []


def test_a_gpl_library_inside_a_wheel_is_refused():
    assert check.judge("thing", "BSD", ["thing.libs/libx265-4883ecb5.so.217"])
    assert check.judge("thing", "BSD", ["thing.libs/libgfortran-040039e1-0352e75f.so.5.0.0"]) == []
    assert check.judge("thing", "BSD", ["thing/.dylibs/libjpeg.62.4.0.dylib"]) == []


def test_what_is_installed_here_passes(capsys):
    assert check.main() == 0, capsys.readouterr().out


def test_what_the_pages_are_built_of_is_known():
    shipped = check.shipped_in_pages()
    assert "svelte" in shipped
    assert any(name.startswith("@fontsource/") for name in shipped)
    assert "vite" not in shipped
    assert not [w for name, (_, licence) in shipped.items() for w in check.judge(name, licence, ())]
