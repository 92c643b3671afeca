"""Take the pictures of the docs: every room of the app, with the demo in it and empty, at three sizes.

Run by ``make pictures``: ``python tools/make_pictures.py [--workroom FOLDER] [--only WORD …]``. Without a workroom
the demo is built first. Pictures are written to ``docs/pictures/`` as ``<room>[-empty|-short|-night]-<size>.png``, in
256 colours, so that the repository stays small.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Final

import numpy as np
from PIL import Image
from playwright.sync_api import Browser, Page, Request, sync_playwright
from scipy.spatial import KDTree

ROOT: Final = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "tools"), str(ROOT / "frontend" / "tools")]

from setup_browser import browser as chromium  # noqa: E402
from shoot import CHROMIUM_ARGS, SIZES, serving  # noqa: E402

from eke.actions import projects  # noqa: E402
from eke.actions.room import make_room, open_room  # noqa: E402

PICTURES: Final = ROOT / "docs" / "pictures"
ROOMS: Final = ("tracing", "pattern", "mock-ups", "cloth", "lay", "paper", "making", "ledger", "journal")
QUIET_MS: Final = 500
"""Two looks this far apart that are alike: what glides has come to rest."""
LONGEST_MS: Final = 60_000
MOST: Final = 256
"""A PNG with a palette has no more colours."""
KEPT: Final = 144


@dataclass(frozen=True)
class Shot:
    """One picture: its name without the size, where it is taken, and in which light."""

    name: str
    route: str
    night: bool = False
    sizes: tuple[str, ...] = ("wide", "tall", "phone")


def demo_shots(workroom: Path) -> list[Shot]:
    """What is taken of the demo: every room of the pinafore, the lay of the apron too, a few by night."""
    with open_room(workroom) as room:
        garments = {g.name: g.id for p in room.shelf().projects.values() for g in p.garments}
    pinafore, apron = garments["Pinafore"], garments["Apron"]
    shots = [Shot("welcome", "#/"), *(Shot(name, f"#/g/{pinafore}/{name}") for name in ROOMS)]
    shots.append(Shot("lay-apron", f"#/g/{apron}/lay"))
    shots += [Shot(f"{name}-night", f"#/g/{pinafore}/{name}", True, ("wide",)) for name in ("pattern", "lay")]
    return shots


def empty_workroom(folder: Path) -> list[Shot]:
    """Make a workroom with a garment that nothing has been done for yet; return what is taken of it."""
    with make_room(folder) as room:
        project = projects.start_project(room, "Autumn")
        garment = projects.enter_garment(room, project.id, "Work jacket").id
    return [Shot(f"{name}-empty", f"#/g/{garment}/{name}") for name in ROOMS]


class Asking:
    """How many answers of the server a page still waits for; the stream of events never ends and does not count."""

    def __init__(self, page: Page) -> None:
        self._open: set[Request] = set()
        page.on("request", lambda one: self._open.add(one) if "/api/events" not in one.url else None)
        page.on("requestfinished", lambda one: self._open.discard(one))
        page.on("requestfailed", lambda one: self._open.discard(one))

    def settled(self, page: Page) -> None:
        """Wait until nothing is asked any more and nothing moves."""
        page.evaluate("document.fonts.ready")
        before = b""
        for _ in range(LONGEST_MS // QUIET_MS):
            page.wait_for_timeout(QUIET_MS)
            now = page.screenshot()
            if not self._open and now == before:
                return
            before = now
        raise SystemExit(f"{page.url} does not come to rest")


def with_few_colours(picture: Image.Image) -> Image.Image:
    """Return an RGB picture with a palette, so that its file is small: what covers most of it keeps its very colour.

    The :data:`KEPT` commonest colours are kept as they are (grounds, cards, inks, tints and hatches are flat); the
    others, of photographs and of soft edges, go to the nearest of them or of a median cut of what is left.
    """
    pixels = np.asarray(picture, dtype=np.int64).reshape(-1, 3)
    packed = pixels[:, 0] << 16 | pixels[:, 1] << 8 | pixels[:, 2]
    values, where, counts = np.unique(packed, return_inverse=True, return_counts=True)
    colours = np.stack([values >> 16, values >> 8 & 255, values & 255], axis=1)
    palette = colours
    if len(colours) > MOST:
        common = np.argsort(-counts, kind="stable")[:KEPT]
        rare = np.isin(where, common, invert=True)
        rest = Image.fromarray(pixels[rare].astype(np.uint8)[:, None])
        cut = rest.quantize(MOST - KEPT, method=Image.Quantize.MEDIANCUT, kmeans=2).getpalette() or []
        palette = np.concatenate([colours[common], np.reshape(cut, (-1, 3))])
    nearest = KDTree(palette).query(colours)[1]
    made = Image.fromarray(nearest[where].astype(np.uint8).reshape(picture.height, picture.width), mode="L")
    made.putpalette(palette.astype(np.uint8).tobytes())
    return made


def take(browser: Browser, first: str, shots: Sequence[Shot], out: Path) -> int:
    """Take pictures of one served workroom; return how many bytes they have."""
    base, written = first.split("?")[0], 0
    for size, (width, height) in SIZES.items():
        context = browser.new_context(
            viewport={"width": width, "height": height}, has_touch=size == "phone", reduced_motion="reduce"
        )
        page = context.new_page()
        asking = Asking(page)
        page.goto(first)
        for shot in (s for s in shots if size in s.sizes):
            page.evaluate("night => localStorage.setItem('eke.night', night)", "yes" if shot.night else "no")
            page.goto("about:blank")
            page.goto(base + shot.route)
            asking.settled(page)
            file = out / f"{shot.name}-{size}.png"
            picture = Image.open(BytesIO(page.screenshot())).convert("RGB")
            with_few_colours(picture).save(file, optimize=True)
            written += file.stat().st_size
            print(f"  {file.name}  {file.stat().st_size / 1000:.0f} kB", flush=True)
        context.close()
    return written


def main() -> int:
    """Take the pictures; exit code 2 where there is no browser."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "--workroom", type=Path, help="the demo's workroom, if it is built already (it is copied)"
    )
    parser.add_argument("--out", type=Path, default=PICTURES)
    parser.add_argument("--only", nargs="*", default=[], help="names of pictures, without their sizes")
    options = parser.parse_args()
    path = chromium()
    if path is None:
        print("There is no Chromium here: make browser")
        return 2
    options.out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        demo = Path(scratch) / "demo" / "workroom"
        if options.workroom is None:
            from demo.build import build

            build(demo.parent).room.close()
        else:
            shutil.copytree(options.workroom, demo)
        empty = Path(scratch) / "empty"
        browser = playwright.chromium.launch(executable_path=path, args=CHROMIUM_ARGS)
        written = 0
        for folder, shots in ((empty, empty_workroom(empty)), (demo, demo_shots(demo))):
            wanted = [s for s in shots if not options.only or s.name in options.only]
            if wanted:
                with serving(folder) as first:
                    written += take(browser, first, wanted, options.out)
        browser.close()
    print(f"{written / 1e6:.1f} MB of pictures are in {options.out}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
