"""Pictures from a phone: the app shows an address that is good once; what is sent there lies on the table."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from app.conftest import Serve, Window
from app.job import MORE, TRACING

pytestmark = pytest.mark.slow

AT_HOME = """
import eke.web.phone
eke.web.phone.PhoneDoor.__init__.__kwdefaults__["address"] = lambda: "127.0.0.1"
"""
"""A machine of tests has no home network; the phone is a second browser on it."""


def test_two_pictures_from_the_phone(
    tunic_folder: Path, serve: Serve, window: Window, browser: Browser
) -> None:
    s = window(serve(tunic_folder, prelude=AT_HOME))
    s.page.get_by_role("link", name="Tunic").click()
    s.peg("Tracing")
    s.page.get_by_role("button", name="Pictures from the phone").first.click()
    dialog = s.part("Pictures from the phone")
    expect(dialog.get_by_role("img", name="Square for the phone’s camera")).to_be_visible()
    address = dialog.get_by_text("http://").inner_text().strip()

    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    phone = context.new_page()
    phone.goto(address)
    expect(phone.get_by_role("heading", name="Pictures for Eke")).to_be_visible()
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    phone.get_by_label("Take or choose pictures").set_input_files([str(TRACING), str(MORE)])
    if phone.get_by_role("button", name="Send the pictures").is_visible():
        phone.get_by_role("button", name="Send the pictures").tap()
    # each is looked at before the next is sent, which takes a second or two
    expect(dialog).to_contain_text("2 pictures have arrived", timeout=60_000)
    for picture in (TRACING, MORE):
        expect(phone.get_by_role("list")).to_contain_text(picture.stem)

    # the code is used up: nobody else gets in with it, and the phone sees nothing of the app
    stranger = browser.new_context()
    second = stranger.new_page()
    answer = second.goto(address)
    assert answer is not None
    assert answer.status >= 400
    expect(second.get_by_role("heading", name="This page is closed")).to_be_visible()
    host = address.split("/c/")[0]
    assert context.request.get(f"{host}/api/workroom").status == 404
    stranger.close()

    s.press("Close the page", dialog)
    prints = s.page.get_by_role("navigation", name="Photographs")
    for picture in (TRACING, MORE):
        expect(prints.get_by_role("button", name=picture.stem)).to_be_visible()
    with pytest.raises(Exception, match="ERR_CONNECTION"):
        phone.goto(host)
    context.close()
