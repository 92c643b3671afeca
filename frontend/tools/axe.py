"""Look for what would keep somebody out: axe-core in every room, at three sizes, by day and by night.

    python frontend/tools/axe.py --workroom FOLDER
    python frontend/tools/axe.py --at 'http://127.0.0.1:8123/?key=…' --size phone '#/' '#/g/GARMENT/pattern'

Without routes: the first screen, the shelf, every room of the first garment, and the dialogs. Says what was found
and ends with 1 when anything was.
"""

from __future__ import annotations

import argparse
import contextlib
import sys
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, sync_playwright
from shoot import CHROMIUM_ARGS, ROOMS, SIZES, serving

AXE = Path(__file__).resolve().parents[1] / "node_modules" / "axe-core" / "axe.min.js"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
RUN = """async rules => {
  const found = await axe.run(document, { runOnly: { type: 'tag', values: rules }, resultTypes: ['violations'] });
  return found.violations.map(one => ({
    rule: one.id, help: one.help, impact: one.impact,
    where: one.nodes.map(n => ({ at: n.target.join(' '), html: n.html.slice(0, 160), why: (n.any[0] ?? n.all[0] ?? n.none[0])?.message ?? '' })),
  }));
}"""


def found_on(page: Page) -> list[dict[str, Any]]:
    """Return what axe finds on a page as it stands: rule, help, impact and where."""
    if page.evaluate("typeof axe") == "undefined":
        page.evaluate(AXE.read_text(encoding="utf-8"))
    found: list[dict[str, Any]] = page.evaluate(RUN, RULES)
    return found


def routes_of(page: Page) -> list[str]:
    """Return the first screen, the shelf, and every room of the first garment that has pieces."""
    room = page.evaluate("fetch('/api/workroom').then(answer => answer.json())")
    garments = [g for p in room["projects"] for g in p["garments"]]
    first = max(garments, key=lambda g: g["pieces"], default=None)
    return ["#/", "#/shelf", *([f"#/g/{first['id']}/{room}" for room in ROOMS] if first else [])]


def settle(page: Page, wait_ms: int) -> None:
    """Wait until nothing is fetched any more, and a moment for what moves."""
    with contextlib.suppress(Exception):
        page.wait_for_function("!document.querySelector('.wait')", timeout=10_000)
    page.wait_for_timeout(wait_ms)


def main() -> None:
    """Look everywhere that is asked for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("routes", nargs="*")
    parser.add_argument("--workroom", type=Path)
    parser.add_argument("--at")
    parser.add_argument("--size", action="append", choices=list(SIZES))
    parser.add_argument("--wait-ms", type=int, default=1500)
    said = parser.parse_args()
    where: contextlib.AbstractContextManager[str]
    if said.at:
        where = contextlib.nullcontext(said.at)
    elif said.workroom:
        where = serving(said.workroom)
    else:
        parser.error("say --workroom or --at")
    count = 0
    with where as first, sync_playwright() as p:
        base = first.split("?")[0]
        browser = p.chromium.launch(executable_path="/usr/bin/chromium", args=CHROMIUM_ARGS)
        for size in said.size or list(SIZES):
            width, height = SIZES[size]
            page = browser.new_context(
                viewport={"width": width, "height": height}, has_touch=size == "phone"
            ).new_page()
            page.goto(first)
            routes = said.routes or routes_of(page)
            for night in ("no", "yes"):
                page.evaluate("night => localStorage.setItem('eke.night', night)", night)
                page.reload()
                for route in routes:
                    page.goto(base + route)
                    settle(page, said.wait_ms)
                    name = f"{route} {size} {'night' if night == 'yes' else 'day'}"
                    count += told(name, found_on(page))
                    if route == routes[-1]:
                        page.keyboard.press("?")
                        page.wait_for_timeout(300)
                        count += told(f"help {name}", found_on(page))
                        page.keyboard.press("Escape")
            page.context.close()
        browser.close()
    print(f"{count} found")
    sys.exit(1 if count else 0)


def told(name: str, found: list[dict[str, Any]]) -> int:
    """Say what was found there; return how much."""
    for one in found:
        print(f"{name}: {one['rule']} ({one['impact']}): {one['help']}")
        for place in one["where"][:6]:
            print(f"    {place['at']}  {place['why']}\n      {place['html']}")
    return len(found)


if __name__ == "__main__":
    main()
