"""Somebody photographs a tracing for the first time: the steps, and what is said of a picture before it is traced."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageFilter
from playwright.sync_api import Browser, expect

from app.conftest import Serve, Window
from app.job import CLOTH, TRACING
from app.places import go
from app.sewist import Sewist
from app.test_from_the_phone import AT_HOME

pytestmark = pytest.mark.slow

SIZES = [(1280, 800), (390, 844)]
Spoil = Callable[[Image.Image], Image.Image]


def dark(picture: Image.Image) -> Image.Image:
    return picture.point(lambda v: v // 6)


def blurred(picture: Image.Image) -> Image.Image:
    return picture.filter(ImageFilter.GaussianBlur(6))


def cut_off(picture: Image.Image) -> Image.Image:
    """Without the right part of the picture, where the sheet of A4 lies."""
    return picture.crop((0, 0, round(0.9 * picture.width), picture.height))


def spoilt(folder: Path, name: str, how: Spoil, photograph: Path = TRACING) -> Path:
    """A demo photograph as a poor one; what the camera wrote into the file stays."""
    picture = Image.open(photograph)
    exif = picture.getexif()
    file = folder / f"{name}.jpg"
    how(picture).save(file, "JPEG", quality=88, exif=exif)
    return file


def garment(s: Sewist) -> str:
    return str(s.told_by("workroom")["projects"][0]["garments"][0]["id"])


def card(s: Sewist, heading: str) -> None:
    """A card with its picture, on the screen and not under anything."""
    remarks = s.page.get_by_role("list", name="What is better done again")
    one = remarks.get_by_role("listitem").filter(has=s.page.get_by_role("heading", name=heading))
    expect(one).to_be_visible()
    one.scroll_into_view_if_needed()
    drawn = one.locator("svg").first.bounding_box()
    assert drawn is not None
    assert drawn["width"] > 150
    shown = np.asarray(Image.open(io.BytesIO(one.locator("svg").first.screenshot())).convert("L"))
    assert np.ptp(shown) > 60, "the small picture is drawn"


@pytest.mark.parametrize("size", SIZES)
def test_the_room_shows_the_steps_before_there_is_a_photograph(
    tunic_folder: Path, serve: Serve, window: Window, size: tuple[int, int]
) -> None:
    s = window(serve(tunic_folder), size=size)
    go(s, f"/g/{garment(s)}/tracing")
    steps = s.page.get_by_role("list", name="How to photograph a tracing").get_by_role("listitem")
    expect(steps).to_have_count(4)
    expect(steps.nth(1)).to_contain_text("A sheet of A4 beside it")
    expect(s.page.get_by_role("button", name="Choose photographs")).to_be_in_viewport()
    sheet = steps.nth(1).get_by_role("link", name="for A4")
    assert s.fetched(str(sheet.get_attribute("href"))).startswith(b"%PDF")
    assert s.page.evaluate("document.documentElement.scrollWidth") <= size[0]


@pytest.mark.parametrize("size", SIZES)
def test_a_good_picture_gets_a_calm_line_and_a_poor_one_its_card(
    tunic_folder: Path, tmp_path: Path, serve: Serve, window: Window, size: tuple[int, int]
) -> None:
    s = window(serve(tunic_folder), size=size)
    go(s, f"/g/{garment(s)}/tracing")
    s.takes_in("Choose photographs", [TRACING])
    s.sees("A good picture. It is sharp and light enough, and a sheet of A4 is seen whole.")
    expect(s.page.get_by_role("list", name="What is better done again")).to_have_count(0)
    poor = {
        "dark": (dark, "Too dark"),
        "blurred": (blurred, "Not sharp"),
        "cut": (cut_off, "The sheet is cut off"),
    }
    for name, (how, heading) in poor.items():
        s.takes_in("More photographs", [spoilt(tmp_path, name, how)])
        card(s, heading)
        s.sees("You can also go on with it as it is.")
        expect(s.page.get_by_role("button", name="Trace it", exact=True)).to_be_enabled()
    prints = s.page.get_by_role("navigation", name="Photographs")
    expect(prints.get_by_role("button", name=re.compile("best taken again"))).to_have_count(3)
    assert s.page.evaluate("document.documentElement.scrollWidth") <= size[0]

    # what was seen is kept, and what the maker says answers what was asked
    s.reload()
    prints.get_by_role("button", name=re.compile("^cut")).click()
    card(s, "The sheet is cut off")
    s.chooses("two marks on a ruler")
    expect(s.page.get_by_role("list", name="What is better done again")).to_have_count(0)


def test_a_photograph_of_cloth_is_looked_at_too(
    tunic_folder: Path, tmp_path: Path, serve: Serve, window: Window
) -> None:
    s = window(serve(tunic_folder))
    go(s, f"/g/{garment(s)}/cloth")
    s.takes_in("From a photograph", [spoilt(tmp_path, "cloth", dark, CLOTH)])
    card(s, "Too dark")


def test_the_phone_says_it_before_the_paper_is_put_away(
    tunic_folder: Path, tmp_path: Path, serve: Serve, window: Window, browser: Browser
) -> None:
    s = window(serve(tunic_folder, prelude=AT_HOME))
    go(s, f"/g/{garment(s)}/tracing")
    s.page.get_by_role("button", name="Pictures from the phone").first.click()
    dialog = s.part("Pictures from the phone")
    address = dialog.get_by_text("http://").inner_text().strip()

    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    phone = context.new_page()
    complaints: list[str] = []
    phone.on("console", lambda message: complaints.append(message.text))
    phone.goto(address)
    choose = phone.get_by_label("Take or choose pictures")
    choose.set_input_files([str(TRACING)])
    said = phone.get_by_role("list").get_by_role("listitem")
    expect(said.first).to_contain_text(
        "has arrived. It is sharp and light enough, and a sheet of A4 is seen whole.", timeout=20_000
    )
    choose.set_input_files([str(spoilt(tmp_path, "blurred", blurred))])
    expect(said.first).to_contain_text("Leave the paper where it is", timeout=20_000)
    expect(said.first).to_contain_text("The picture is blurred")
    drawing = said.first.locator("svg")
    expect(drawing).to_be_visible()
    assert np.ptp(np.asarray(Image.open(io.BytesIO(drawing.screenshot())).convert("L"))) > 60
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    assert complaints == []
    context.close()

    # and so does the computer, which does not look a second time
    s.press("Close the page", dialog)
    s.page.get_by_role("navigation", name="Photographs").get_by_role(
        "button", name=re.compile("^blurred")
    ).click()
    card(s, "Not sharp")
