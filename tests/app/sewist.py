"""What a sewist does at the window: by words that are on the screen, by roles and labels, by keys."""

from __future__ import annotations

import re
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Self
from urllib.parse import urlsplit

from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Locator,
    Page,
    Request,
    Response,
    expect,
)

from app.serving import Served

PATIENCE_MS = 20_000
"""For an answer that needs no long work, on a machine with two cores that both do something else."""
LONG_MS = 150_000
"""For tracing, and for a lay."""
QUIET_S = 0.3
"""How long nothing is asked of the server before it is taken to have answered everything."""
GONE = re.compile(r"net::ERR_(CONNECTION|SOCKET_NOT_CONNECTED|INCOMPLETE|EMPTY|NETWORK_IO)|status of 403")
"""What a browser writes into its console by itself when a server was killed and started anew."""
REFUSED = re.compile(r"status of (400|409)")
"""What a browser writes into its console by itself when the server says no in plain words."""


class Sewist:
    """One window of the app.

    ``killed`` says that the server goes away in this test, ``refused`` that it says no: the console may tell that.
    """

    def __init__(
        self,
        browser: Browser,
        served: Served,
        *,
        size: tuple[int, int] = (1280, 800),
        killed: bool = False,
        refused: bool = False,
        **context: Any,
    ) -> None:
        self.served = served
        width, height = size
        self.context: BrowserContext = browser.new_context(
            viewport={"width": width, "height": height}, locale="en-GB", **context
        )
        self.context.set_default_timeout(PATIENCE_MS)
        self.page: Page = self.context.new_page()
        self.complaints: list[str] = []
        self.strangers: list[str] = []
        self.trouble: list[str] = []
        self._expected = [
            *([GONE] if killed else []),
            *([REFUSED] if refused else []),
        ]
        self._going: set[Request] = set()
        self._quiet_since = time.monotonic()
        self.context.on("request", self._asked)
        self.context.on("requestfinished", self._answered)
        self.context.on("requestfailed", self._answered)
        self.page.on("response", self._told)
        self.page.on("console", self._wrote)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    # ---- the window

    def open(self) -> Self:
        """Go to the address that Eke printed."""
        self.page.goto(self.served.first)
        return self

    def reload(self) -> None:
        """Load the page anew, with the key of the start that is running now."""
        here = urlsplit(self.page.url).fragment
        self.page.goto(self.served.first)
        if here not in ("", "/"):
            self.page.goto(f"{self.served.base}#{here}")
        self.settled()

    def close(self) -> None:
        """Close the window."""
        self.context.close()

    def _asked(self, request: Request) -> None:
        if urlsplit(request.url).hostname not in ("127.0.0.1", None, ""):
            self.strangers.append(request.url)
        if "/api/" in request.url and not request.url.endswith("/api/events"):
            self._going.add(request)

    def _answered(self, request: Request) -> None:
        self._going.discard(request)
        self._quiet_since = time.monotonic()

    def _told(self, response: Response) -> None:
        if response.status >= 400:
            self.trouble.append(f"{response.status} {response.request.method} {response.url}")

    def _wrote(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning") and not any(e.search(message.text) for e in self._expected):
            self.complaints.append(f"{message.text} ({message.location.get('url', '')})")

    def settled(self) -> None:
        """Wait until everything that was said has been answered."""
        until = time.monotonic() + PATIENCE_MS / 1000
        self.page.wait_for_timeout(60)
        while self._going or time.monotonic() - self._quiet_since < QUIET_S:
            assert time.monotonic() < until, f"no answer to {[one.url for one in self._going]}"
            self.page.wait_for_timeout(40)

    def forget_what_was_asked(self) -> None:
        """Ask no more for answers of a server that has been killed."""
        self._going.clear()

    def told_by(self, path: str) -> Any:
        """Return what the server tells at an address, asked with this window's key."""
        answer = self.context.request.get(f"{self.served.base}api/{path}")
        assert answer.ok, f"{path}: {answer.status} {answer.text()}"
        return answer.json()

    def fetched(self, path: str) -> bytes:
        """Return a file."""
        answer = self.context.request.get(f"{self.served.base}{path.lstrip('/')}")
        assert answer.ok, f"{path}: {answer.status}"
        return answer.body()

    # ---- what is on the screen

    @property
    def main(self) -> Locator:
        """What lies under the line."""
        return self.page.get_by_role("main")

    @property
    def foot(self) -> Locator:
        """What just happened."""
        return self.page.get_by_role("status", name="What just happened")

    def part(self, name: str) -> Locator:
        """A named part of the room."""
        return (
            self.page.get_by_role("region", name=name, exact=True)
            .or_(self.page.get_by_role("complementary", name=name, exact=True))
            .or_(self.page.get_by_role("form", name=name, exact=True))
            .or_(self.page.get_by_role("group", name=name, exact=True))
            .or_(self.page.get_by_role("dialog", name=name, exact=True))
        )

    def sees(
        self, words: str | re.Pattern[str], where: Locator | None = None, timeout: float = PATIENCE_MS
    ) -> None:
        """Words are on the screen."""
        expect((where or self.page).get_by_text(words).first).to_be_visible(timeout=timeout)

    def reads(self, sentence: str | re.Pattern[str], timeout: float = PATIENCE_MS) -> None:
        """The foot says what happened."""
        expect(self.foot).to_contain_text(sentence, timeout=timeout)

    # ---- what is done

    def peg(self, room: str) -> None:
        """Go along the line."""
        line = self.page.get_by_role("navigation", name="Steps of the job")
        line.get_by_role("link", name=re.compile(rf"^{room}\b")).click()
        self.settled()

    def home(self) -> None:
        """Go to all garments."""
        self.page.get_by_role("link", name="All garments").click()
        self.settled()

    def press(self, name: str, where: Locator | None = None) -> None:
        """Press a button, and wait for what comes of it."""
        (where or self.page).get_by_role("button", name=name, exact=True).first.click()
        self.settled()

    def writes(self, label: str, words: str, where: Locator | None = None) -> None:
        """Write into a field and leave it."""
        field = (where or self.page).get_by_role("textbox", name=label)
        field.fill(words)
        field.press("Tab")

    def chooses(self, words: str, where: Locator | None = None) -> None:
        """Touch one of several little pictures."""
        (where or self.page).get_by_text(words, exact=True).click()
        self.settled()

    def touch_edge(self, edge: str) -> None:
        """Touch an edge on the drawing, off its middle where a sign may lie."""
        x, y = self.page.locator(f'[data-kind="edge"][data-id="{edge}"]').first.evaluate(
            """(path) => {
              const at = path.getPointAtLength(path.getTotalLength() * 0.3).matrixTransform(path.getScreenCTM());
              return [at.x, at.y];
            }"""
        )
        self.page.mouse.click(x, y)
        self.settled()

    def ticks(self, label: str, where: Locator | None = None) -> None:
        """Set a tick, and see it stay."""
        box = (where or self.page).get_by_role("checkbox", name=label)
        if not box.is_checked():
            box.click()
        self.settled()
        expect(box).to_be_checked()

    def takes_in(self, button: str, files: Iterable[Path]) -> None:
        """Choose files at a button."""
        with self.page.expect_file_chooser() as chooser:
            self.page.get_by_role("button", name=button, exact=True).and_(
                self.page.locator("button")
            ).first.click()
        chooser.value.set_files([str(file) for file in files])
        self.settled()

    def takes_back(self) -> str:
        """Take the last step back; return what the foot says."""
        return self._step("Take it back")

    def does_again(self) -> str:
        """Do again what was taken back; return what the foot says."""
        return self._step("Do it again")

    def _step(self, word: str) -> str:
        self.page.get_by_role("contentinfo").get_by_role("button", name=word).click()
        self.settled()
        return self.foot.inner_text()
