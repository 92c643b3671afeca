"""A browser, a workroom that is served, and a sewist at its window. Skipped, and counted, where one is missing."""

from __future__ import annotations

import importlib.util
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from app.serving import Served
from app.sewist import Sewist
from eke.actions.room import make_room
from eke.web.static import BUILT
from helpers import tunic

ROOT = Path(__file__).parents[2]
ARGUMENTS = ("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update")


def chromium() -> str | None:
    """Return the path of the browser that ``make browser`` finds."""
    spec = importlib.util.spec_from_file_location("setup_browser", ROOT / "tools" / "setup_browser.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    found: str | None = module.browser()
    return found


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """The browser, one for all tests of a process."""
    path = chromium()
    if path is None:
        pytest.skip("no Chromium on this machine: make browser")
    if not (BUILT / "index.html").is_file():
        pytest.skip("the app's pages are not built: make app")
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=path, args=list(ARGUMENTS))
        yield opened
        opened.close()


Serve = Callable[[Path], Served]


@pytest.fixture
def serve() -> Iterator[Serve]:
    """Start ``eke`` on a folder; everything that was started ends with the test."""
    started: list[Served] = []

    def start(folder: Path, **how: str) -> Served:
        served = Served(folder, **how)
        started.append(served)
        served.start()
        return served

    yield start
    for served in started:
        served.end()


Window = Callable[..., Sewist]


@pytest.fixture
def window(browser: Browser) -> Iterator[Window]:
    """Open a window on what is served. What its console says, and asks of others, is looked at when it closes."""
    opened: list[Sewist] = []

    def open_window(served: Served, **how: object) -> Sewist:
        sewist = Sewist(browser, served, **how)
        opened.append(sewist)
        sewist.open()
        return sewist

    yield open_window
    for sewist in opened:
        sewist.close()
    for sewist in opened:
        assert sewist.strangers == [], "a request left this machine"
        assert sewist.complaints == [], "the console complained"


@pytest.fixture
def tunic_folder(tmp_path: Path) -> Path:
    """A workroom with a tunic whose sides and shoulders are sewn; the back's side is 4 mm too long."""
    folder = tmp_path / "room"
    with make_room(folder) as room:
        tunic.start_tunic(room)
    return folder


@pytest.fixture(scope="session")
def demo_workroom(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's workroom, built once for all tests of a run."""
    from demo.build import build
    from filelock import FileLock

    base = tmp_path_factory.getbasetemp()
    shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    out = shared / "demo"
    with FileLock(shared / "demo.lock"):
        if not (out / "built").is_file():
            out.mkdir(exist_ok=True)
            build(out).room.close()
            (out / "built").touch()
    return out / "workroom"


@pytest.fixture
def demo_folder(demo_workroom: Path, tmp_path: Path) -> Path:
    """A copy of the demo's workroom that a test may spoil."""
    folder = tmp_path / "demo"
    shutil.copytree(demo_workroom, folder)
    return folder
