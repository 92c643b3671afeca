"""What somebody does who sees the app for the first time: the wrong file, words for numbers, a small screen, the
browser's back button."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from app.conftest import Serve, Window
from app.places import go, places_of
from app.sewist import Sewist

pytestmark = pytest.mark.slow

SIDEWAYS = """() => {
  const wide = document.documentElement.clientWidth;
  const slides = e => { for (; e && e !== document.body; e = e.parentElement)
    if (!e.classList.contains('app') && ['auto', 'scroll'].includes(getComputedStyle(e).overflowX)
        && e.scrollWidth > e.clientWidth && e.tagName !== 'MAIN' && !e.classList.contains('sheet')) return true;
    return false; };
  return [...document.querySelectorAll('header *, nav *, main *, footer *')]
    .filter(e => !e.closest('svg') && !e.closest('.unseen') && !slides(e))
    .filter(e => { const r = e.getBoundingClientRect(); return r.width > 0 && r.height > 0 && r.right > wide + 1; })
    .map(e => `${e.tagName} ${e.className} ${e.textContent.trim().slice(0, 40)}`);
}"""

PLANT = """() => {
  const off = document.querySelector('main').appendChild(document.createElement('p'));
  off.textContent = 'runs off';
  off.style.width = '500px';
}"""


def garment_of(s: Sewist) -> str:
    return str(s.told_by("workroom")["projects"][0]["garments"][0]["id"])


@pytest.mark.parametrize("width", [360, 390])
def test_nothing_runs_off_a_small_screen(
    tunic_folder: Path, serve: Serve, window: Window, width: int
) -> None:
    s = window(serve(tunic_folder), size=(width, 640), has_touch=True, reduced_motion="reduce")
    off = {}
    for place in places_of(s):
        go(s, place)
        if found := s.page.evaluate(SIDEWAYS):
            off[place] = found
    assert off == {}
    s.page.evaluate(PLANT)
    assert s.page.evaluate(SIDEWAYS) != []


def test_a_file_that_is_no_photograph_is_told(
    tunic_folder: Path, tmp_path: Path, serve: Serve, window: Window
) -> None:
    s = window(serve(tunic_folder), refused=True)
    note = tmp_path / "note.jpg"
    note.write_text("a note, and no photograph\n" * 20)
    go(s, f"/g/{garment_of(s)}/cloth")
    s.takes_in("From a photograph", [note])
    s.reads("“note.jpg” is not a picture that can be read here.")


def test_names_and_amounts_that_cannot_be_are_told_and_kept_to_be_put_right(
    tunic_folder: Path, serve: Serve, window: Window
) -> None:
    s = window(serve(tunic_folder), refused=True)
    go(s, "/")
    form = s.page.get_by_role("form", name="Begin a project")
    name = form.get_by_role("textbox").first
    name.fill("x" * 500)
    name.press("Enter")
    s.reads("A name of 500 letters is too long")
    expect(name).to_have_value("x" * 500)
    assert len(s.told_by("workroom")["projects"]) == 1

    name.fill("Autumn")
    form.get_by_role("textbox").nth(1).fill("40,50")
    form.get_by_role("textbox").nth(1).press("Enter")
    s.settled()
    assert [(p["name"], p["budget"]) for p in s.told_by("workroom")["projects"]][-1] == (
        "Autumn",
        "40.50 EUR",
    )
    s.takes_back()
    assert len(s.told_by("workroom")["projects"]) == 1

    go(s, f"/g/{garment_of(s)}/pattern")
    s.page.get_by_role("button", name=re.compile("another name$")).click()
    field = s.page.get_by_role("textbox", name=re.compile("Name of the garment"))
    field.fill("y" * 500)
    field.press("Enter")
    s.reads("A name of 500 letters is too long")


def test_a_length_out_of_reach_is_told_and_not_bent(tunic_folder: Path, serve: Serve, window: Window) -> None:
    s = window(serve(tunic_folder))
    go(s, f"/g/{garment_of(s)}/cloth")
    s.press("Type its measures")
    width = s.main.get_by_role("textbox", name=re.compile("^a · "))
    for typed, told in (("abc", "Type a length such as"), ("-5", "or more."), ("5000 m", "at the most.")):
        width.fill(typed)
        width.press("Tab")
        s.sees(re.compile(re.escape(told)))
        expect(width).to_have_value(typed)
    for typed, shown in (("1,5", "1.5"), ("12 1/2 in", "31.8")):
        width.fill(typed)
        width.press("Tab")
        expect(width).to_have_value(shown)
    assert s.main.get_by_text("or more.").count() == 0


def test_the_back_button_goes_back_through_the_rooms(
    tunic_folder: Path, serve: Serve, window: Window
) -> None:
    s = window(serve(tunic_folder))
    garment = garment_of(s)
    go(s, f"/g/{garment}/pattern")
    for room in ("Cloth", "Paper", "Journal"):
        s.peg(room)
    for room in ("paper", "cloth", "pattern"):
        s.page.go_back()
        s.settled()
        assert s.page.url.endswith(f"#/g/{garment}/{room}")
        expect(s.main).to_be_visible()
    s.page.go_forward()
    s.settled()
    assert s.page.url.endswith(f"#/g/{garment}/cloth")
