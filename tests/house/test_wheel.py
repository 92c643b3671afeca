"""The wheel carries everything: installed into a fresh environment it works, without Node and without the sources."""

import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.slow
def test_the_wheel_works_in_a_fresh_environment(tmp_path):
    build = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(tmp_path), str(ROOT)]
    subprocess.run(build, check=True, capture_output=True)
    (wheel,) = tmp_path.glob("eke-*.whl")
    names = zipfile.ZipFile(wheel).namelist()
    assert sum(name.endswith(".ttf") for name in names) >= 4
    assert any(name.endswith(".html") for name in names)
    assert "eke/py.typed" in names
    assert not any(name.startswith(("tests/", "demo/")) for name in names)
    fresh = tmp_path / "fresh"
    venv.EnvBuilder(with_pip=True).create(fresh)
    scripts = fresh / ("Scripts" if os.name == "nt" else "bin")
    subprocess.run(
        [scripts / "python", "-m", "pip", "install", "-q", str(wheel)], check=True, capture_output=True
    )
    eke = scripts / ("eke.exe" if os.name == "nt" else "eke")
    clean = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "VIRTUAL_ENV")}

    def run(*words):
        return subprocess.run(
            [eke, *words], cwd=tmp_path, env=clean, capture_output=True, text=True, check=True
        ).stdout

    assert run("--version").startswith("eke ")
    run("reference-sheet", "--out", "sheet.pdf")
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    run("--workroom", "room", "workroom", "make")
    run("--workroom", "room", "project", "start", "First", "--budget", "12")
    assert "First" in run("--workroom", "room", "workroom", "show")
