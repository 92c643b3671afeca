"""A piece too long for one picture: two photographs of one paper are joined, and the piece goes into the pattern whole."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from demo.scenes.camera import DIAGONAL_35MM
from demo.scenes.render import to_jpeg
from PIL import Image
from playwright.sync_api import expect

from app.conftest import Serve, Window
from app.places import go
from app.sewist import LONG_MS
from app.test_first_photograph import garment
from capture.join_scene import together

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def legs(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Two photographs of one long paper, as a telephone writes them, with one sheet that was carried along."""
    folder = tmp_path_factory.mktemp("legs")
    files = []
    for name, photo in zip(("left", "right"), together(2, lay="same").photos, strict=True):
        exif = Image.Exif()
        diagonal = float(np.hypot(photo.width_px, photo.height_px))
        exif.get_ifd(0x8769)[0xA405] = round(photo.focal_px_prior * DIAGONAL_35MM / diagonal)
        files.append(folder / f"{name}.jpg")
        files[-1].write_bytes(to_jpeg(photo.pixels_rgb, exif.tobytes(), 90))
    return files


@pytest.mark.parametrize("size", [(1280, 800), (390, 844)])
def test_two_photographs_of_one_paper_are_joined(
    tunic_folder: Path, legs: list[Path], serve: Serve, window: Window, size: tuple[int, int], tmp_path: Path
) -> None:
    s = window(serve(tunic_folder), size=size)
    go(s, f"/g/{garment(s)}/tracing")
    s.takes_in("Choose photographs", legs)
    prints = s.page.get_by_role("navigation", name="Photographs")
    expect(prints.get_by_role("button", name="right")).to_be_visible()
    s.page.get_by_text("Do several pictures show one paper?").click()
    s.page.get_by_role("button", name="Join these 2 pictures").click()
    joined = prints.get_by_role("button", name="left + right")
    expect(joined).to_be_visible()
    expect(s.page.get_by_text("Joined of 2 photographs: left and right.")).to_be_visible(timeout=LONG_MS)
    expect(s.page.get_by_text("One outline was found.")).to_be_visible()
    view = next(p for p in s.told_by(f"subjects/{garment(s)}/photographs") if p["parts"])
    assert view["state"] == "found"
    assert any("were joined at" in w for w in view["found"]["warnings"])
    xs = [x for x, _ in view["found"]["pieces"][0]["outline"]]
    assert 735.0 < max(xs) - min(xs) < 765.0
    # the joined picture itself is on the table, and no longer its first part
    assert view["photo"] not in {
        p["photo"] for p in s.told_by(f"subjects/{garment(s)}/photographs") if not p["parts"]
    }
    shown = s.page.locator(f"img[src*='{view['photo']}'], image[href*='{view['photo']}']")
    expect(shown.first).to_be_attached(timeout=LONG_MS)
    s.settled()
    assert s.page.evaluate("document.documentElement.scrollWidth") <= size[0]
    s.page.screenshot(path=str(tmp_path / "joined.png"))
