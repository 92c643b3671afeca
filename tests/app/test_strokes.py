"""A tracing with a broken line and a line too many is mended on its photograph: drawn, rubbed out, traced anew."""

from __future__ import annotations

import os
import re
import time
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import expect
from tests.capture.outline_drawings import Paper, both_ways
from tests.capture.test_by_hand import broken

from app.conftest import Serve, Window
from app.places import go
from app.sewist import LONG_MS, Sewist
from eke.capture.rectify import Rectified

pytestmark = pytest.mark.slow

GAP_MM = 70.0
CROSSING_MM = [(60.0, 150.0), (180.0, 158.0)]
"""A line right through the piece that belongs to nothing."""


def scanned(folder: Path) -> tuple[Path, Rectified, NDArray[np.float64], NDArray[np.float64]]:
    """A front as a flatbed scanner gives it, its side broken and crossed: the file, the truth, the ends of the gap."""
    sheet: Paper
    sheet, truth, gap = broken(gap_mm=GAP_MM)
    sheet.stroke(CROSSING_MM, 1.0)
    flat = sheet.rectified()
    file = folder / "front.png"
    dots = 25.4 / flat.mm_per_px
    Image.fromarray(flat.image_rgb).save(file, dpi=(dots, dots))
    return file, flat, truth, gap[[0, -1]]


def photograph(s: Sewist) -> dict[str, Any]:
    garment = s.told_by("workroom")["projects"][0]["garments"][0]["id"]
    (only,) = s.told_by(f"subjects/{garment}/photographs")
    return dict(only)


def drags(s: Sewist, places_px: Sequence[Sequence[float]], picture: Rectified) -> None:
    """Press at a pixel of the picture, go over others, and let go at the last."""
    table = s.page.get_by_role("group", name=re.compile("with what was found on it"))
    box = table.locator("image").first.bounding_box()
    assert box is not None
    size = box["width"] / picture.image_rgb.shape[1]
    at = [(box["x"] + (x + 0.5) * size, box["y"] + (y + 0.5) * size) for x, y in places_px]
    if s.page.evaluate("navigator.maxTouchPoints") > 0:
        by_finger(s, at)
    else:
        s.page.mouse.move(*at[0])
        s.page.mouse.down()
        for place in at[1:]:
            s.page.mouse.move(*place, steps=12)
        looks(s, "dragging")
        s.page.mouse.up()
    s.settled()


def by_finger(s: Sewist, at: Sequence[tuple[float, float]]) -> None:
    """The same with a finger on the glass."""
    glass = s.context.new_cdp_session(s.page)

    def lies(kind: str, *places: tuple[float, float]) -> None:
        points = [{"x": x, "y": y} for x, y in places]
        glass.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    lies("touchStart", at[0])
    for (x0, y0), (x1, y1) in pairwise(at):
        for share in np.linspace(0.1, 1.0, 10):
            lies("touchMove", (x0 + share * (x1 - x0), y0 + share * (y1 - y0)))
    looks(s, "dragging")
    lies("touchEnd")
    glass.detach()


def traces_again(s: Sewist) -> dict[str, Any]:
    """Trace it anew; what is known of it then."""
    assert photograph(s)["state"] == "changed"
    s.press("Trace it again")
    until = time.monotonic() + LONG_MS / 1000
    while (now := photograph(s))["state"] in ("tracing", "changed"):
        assert time.monotonic() < until
        s.page.wait_for_timeout(150)
    s.settled()
    return now


def looks(s: Sewist, name: str) -> None:
    """Keep what is on the screen, by day and by night, where somebody wants to look at it."""
    if out := os.environ.get("EKE_LOOK"):
        for light in ("day", "night"):
            s.page.evaluate(
                "(light) => (document.documentElement.dataset.night = light)",
                "yes" if light == "night" else "no",
            )
            s.page.screenshot(path=f"{out}/strokes-{s.page.evaluate('innerWidth')}-{name}-{light}.png")
        s.page.evaluate("document.documentElement.dataset.night = 'no'")


@pytest.mark.parametrize("size", [(1280, 800), (390, 844)])
def test_a_broken_line_is_drawn_and_a_line_too_many_rubbed_out(
    tunic_folder: Path, tmp_path: Path, serve: Serve, window: Window, size: tuple[int, int]
) -> None:
    file, picture, truth, gap = scanned(tmp_path)
    phone = size[0] < 640
    s = window(serve(tunic_folder), size=size, has_touch=phone, is_mobile=phone)
    go(s, f"/g/{s.told_by('workroom')['projects'][0]['garments'][0]['id']}/tracing")
    s.takes_in("Choose photographs", [file])
    s.chooses("a flatbed scanner")
    s.page.get_by_role("button", name="Trace it", exact=True).click()
    s.sees("No outline found yet", timeout=LONG_MS)

    s.press("Draw a line that is missing")
    drags(s, picture.mm_to_px(gap).tolist(), picture)
    expect(s.page.get_by_role("button", name="Stroke 1: drawn")).to_be_visible()
    looks(s, "drawn")
    (piece,) = traces_again(s)["found"]["pieces"]
    assert [mark["kind"] for mark in piece["marks"]] == ["line"], "the line that crosses is still read"
    outline = picture.px_to_mm(np.array(piece["outline_px"]))
    # what is drawn on a small screen is no finer than a pixel of it; the ends are led to the lines that are there
    assert both_ways(outline, truth)[0] < (1.6 if phone else 1.0)

    s.page.get_by_text("Read the photograph otherwise").click()
    s.press("Rub out what is no line")
    (left, low), (right, high) = CROSSING_MM
    beyond = [(left - 3.0, low), (right + 3.0, high)]
    drags(s, picture.mm_to_px(np.array(beyond)).tolist(), picture)
    expect(s.page.get_by_role("button", name="Stroke 2: rubbed out")).to_be_visible()
    looks(s, "rubbed")
    now = traces_again(s)
    assert [stroke["how"] for stroke in now["strokes"]] == ["draw", "rub"]
    (piece,) = now["found"]["pieces"]
    assert piece["marks"] == []
    looks(s, "mended")

    # it is kept, and taken away by its ring
    s.reload()
    ring = s.page.get_by_role("button", name="Stroke 2: rubbed out")
    ring.focus()
    s.page.keyboard.press("Delete")
    s.settled()
    expect(ring).to_have_count(0)
    now = photograph(s)
    assert ([stroke["how"] for stroke in now["strokes"]], now["state"]) == (["draw"], "changed")
    assert s.page.evaluate("document.documentElement.scrollWidth") <= size[0]
