"""Two windows on one garment: the second learns of a change; what was meant for an older state overwrites nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Route, expect

from app.conftest import Serve, Window
from app.sewist import Sewist

pytestmark = pytest.mark.slow


def at_mock_ups(s: Sewist) -> Sewist:
    s.page.get_by_role("link", name="Tunic").click()
    s.settled()
    s.peg("Mock-ups")
    return s


def noticed(s: Sewist) -> list[str]:
    """What the mock-ups showed, as the window has it."""
    fields = s.part("What the mock-ups showed").get_by_role("textbox", name="What mock-up")
    return [field.input_value() for field in fields.all()]


def test_a_change_appears_in_the_other_window_with_a_sentence(
    tunic_folder: Path, serve: Serve, window: Window
) -> None:
    served = serve(tunic_folder)
    one, other = at_mock_ups(window(served)), at_mock_ups(window(served))
    one.writes("Mock-up 1", "It gapes at the neck.")
    one.press("Note it")
    other.reads("In another window: Noted what mock-up 1 showed")
    expect(other.page.get_by_role("textbox", name="What mock-up 1 showed")).to_have_value(
        "It gapes at the neck."
    )
    one.takes_back()
    other.reads("In another window: Taken back")
    expect(other.page.get_by_role("textbox", name="What mock-up 1 showed")).to_have_count(0)


def test_a_change_made_on_an_older_state_is_not_done_and_that_is_said(
    tunic_folder: Path, serve: Serve, window: Window
) -> None:
    served = serve(tunic_folder)
    one, other = at_mock_ups(window(served)), at_mock_ups(window(served, refused=True))
    garment = one.told_by("workroom")["projects"][0]["garments"][0]["id"]
    held: list[Route] = []
    slow = True

    def hold(route: Route) -> None:
        """The news of the change is slow to come."""
        if slow:
            held.append(route)
        else:
            route.continue_()

    other.page.route(f"**/api/garments/{garment}", hold)

    one.writes("Mock-up 1", "It gapes at the neck.")
    one.press("Note it")
    while not held:
        other.page.wait_for_timeout(50)
    field = other.page.get_by_role("textbox", name="Mock-up 1")
    field.fill("It pulls across the back.")
    with other.page.expect_response(lambda answer: answer.status == 409):
        other.page.get_by_role("button", name="Note it").click()
    slow = False
    for route in held:
        route.continue_()
    other.reads("Somebody changed this in another window just before")
    other.settled()

    assert noticed(one) == noticed(other) == ["It gapes at the neck."]
    # what was written is still in the field, and can be noted now
    expect(other.page.get_by_role("textbox", name="Mock-up 2")).to_have_value("It pulls across the back.")
    other.press("Note it")
    expect(one.page.get_by_role("textbox", name="What mock-up 2 showed")).to_have_value(
        "It pulls across the back."
    )
    assert noticed(one) == ["It gapes at the neck.", "It pulls across the back."]


def test_a_window_goes_on_by_itself_when_the_server_is_started_again(
    tunic_folder: Path, serve: Serve, window: Window
) -> None:
    served = serve(tunic_folder)
    s = at_mock_ups(window(served, killed=True))
    served.kill()
    s.sees("Eke does not answer. Start it again")
    s.forget_what_was_asked()
    served.start()
    s.sees("Eke was started anew.")
    s.page.context.new_page().goto(served.first)  # the window that Eke opens by itself
    expect(s.page.get_by_role("alert")).to_have_count(0)
    s.writes("Mock-up 1", "It hangs well.")
    s.press("Note it")
    expect(s.page.get_by_role("textbox", name="What mock-up 1 showed")).to_have_value("It hangs well.")
