"""The main job from nothing to the cut and the ledger, taken back to the start, and done again."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from pathlib import Path

import pypdfium2
import pytest
from playwright.sync_api import expect

from app.conftest import Serve, Window
from app.job import JOB, garment_id, garment_of, state_of, without_revision
from app.sewist import Sewist

MOST = 200

pytestmark = pytest.mark.slow


def do_the_job(s: Sewist) -> None:
    for step in JOB:
        step.do(s)


def pages_of(pdf: bytes) -> int:
    return len(pypdfium2.PdfDocument(io.BytesIO(pdf)))


def take_all_back(s: Sewist) -> tuple[int, str | None]:
    """Press "Take it back" until there is nothing more; return how often, and what it says if it will not."""
    return _press_on(s, "Take it back", "Taken back: ", s.takes_back)


def do_all_again(s: Sewist) -> tuple[int, str | None]:
    """Press "Do it again" until there is nothing more; return how often, and what it says if it will not."""
    return _press_on(s, "Do it again", "Done again: ", s.does_again)


def _press_on(s: Sewist, word: str, said: str, press: Callable[[], str]) -> tuple[int, str | None]:
    for count in range(MOST):
        if not s.page.get_by_role("contentinfo").get_by_role("button", name=word).count():
            return count, None
        told = press()
        if not told.startswith(said):
            return count, told
    raise AssertionError(f"more than {MOST} steps")


def test_the_whole_job_taken_back_to_the_start_and_done_again(
    tmp_path: Path, serve: Serve, window: Window
) -> None:
    s = window(serve(tmp_path / "room"), refused=True)
    do_the_job(s)
    _papers_are_true(s)
    _ledger_adds_up(s)
    _journal_tells_it(s)

    garment = garment_id(s)
    s.peg("Pattern")
    before = without_revision(s.told_by(f"garments/{garment}"))
    assert len(before["pieces"]) == 2
    back, refusal = take_all_back(s)
    assert refusal is None
    assert s.told_by(f"garments/{garment}")["pieces"] == []
    assert s.told_by(f"garments/{garment}")["steps"]["undo"] is None
    s.sees("No pieces yet")
    assert do_all_again(s) == (back, None)
    assert without_revision(s.told_by(f"garments/{garment}")) == before

    s.home()
    everything = state_of(s)
    back, refusal = take_all_back(s)
    assert s.told_by("shelf")["cloths"] == []
    # the garment itself stays, for it has pieces; that is said in words
    assert refusal is not None
    assert "“Pinafore”" in refusal
    assert back >= 10
    assert do_all_again(s) == (back, None)
    assert state_of(s) == everything
    assert garment_of(s, garment)[f"garment {garment}"] == before


def _papers_are_true(s: Sewist) -> None:
    s.peg("Paper")
    sheets = s.main.get_by_text(re.compile(r"^\d+ sheets? of"))
    expect(sheets).to_be_visible()
    shown = int(re.match(r"\d+", sheets.inner_text())[0])  # type: ignore[index]
    address = s.page.get_by_role("link", name="Keep the file").get_attribute("href")
    assert address
    assert pages_of(s.fetched(address)) == shown > 0
    for what in ("Lay plan, with measures for chalking", "Cutting list and notions", "Order of work"):
        s.page.get_by_role("radio", name=what).check()
        s.settled()
        address = s.page.get_by_role("link", name="Keep the file").get_attribute("href")
        assert address
        assert pages_of(s.fetched(address)) > 0


def _ledger_adds_up(s: Sewist) -> None:
    s.peg("Ledger")
    s.sees("19.50 EUR of 25.00 EUR is left.")
    told = s.told_by(f"projects/{s.told_by('workroom')['projects'][0]['id']}/ledger")
    used = float(told["garments"][0]["used"].split()[0])
    assert used + float(told["left_on_shelf"].split()[0]) == pytest.approx(5.5)


def _journal_tells_it(s: Sewist) -> None:
    s.peg("Journal")
    for words in ("Pinafore", "curtain", "Took in"):
        s.sees(re.compile(words))
