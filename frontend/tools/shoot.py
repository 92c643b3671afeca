"""Take pictures of the app at three sizes, day or night.

    python frontend/tools/shoot.py OUT --workroom FOLDER '#/' '#/g/GARMENT/pattern' [--night]
    python frontend/tools/shoot.py OUT --pretend '#/' '#/g/g1/pattern'
    python frontend/tools/shoot.py OUT --at 'http://127.0.0.1:8123/?key=…' '#/'

``--workroom`` starts the server on a workroom of your own (copy it first: one process owns a workroom).
``--pretend`` serves the built files with a few answers made up here, so that looking needs no server.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import math
import re
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

BUILT = Path(__file__).resolve().parents[2] / "src" / "eke" / "web" / "built"
SIZES = {"wide": (1280, 800), "tall": (820, 1180), "phone": (390, 844)}
KINDS = {".js": "text/javascript", ".css": "text/css", ".html": "text/html", ".woff2": "font/woff2"}
CHROMIUM_ARGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
ROOMS = ["tracing", "pattern", "mock-ups", "cloth", "lay", "paper", "making", "ledger", "journal"]


def shape(width: float, height: float, dip: float) -> list[list[float]]:
    """Return an outline that looks like part of a garment."""
    top = [[width * (0.2 + 0.06 * i), height - dip * math.sin(math.pi * i / 10)] for i in range(11)]
    return [[0, 0], [width, 0], [width, height * 0.8], *reversed(top), [0, height * 0.8]]


def pretended() -> dict[str, Any]:
    """Return made-up answers by path."""
    lines = [{"points": shape(80, 100, 14), "closed": True, "ink": "piece"}]
    picture = {"width": 80, "height": 100, "lines": lines, "photo": None}
    states = ["good", "attention", "good", "good", "outdated", "outdated", "good", "empty", "empty"]
    pegs = [
        {"room": r, "state": s, "sentence": f"{r}: {s}", "picture": None if s == "empty" else picture}
        for r, s in zip(ROOMS, states, strict=True)
    ]
    steps = {"undo": "Straightened the hem of the front.", "redo": None}
    cards = [
        {"id": f"g{i}", "name": n, "pieces": 4 + i, "attention": i % 2, "picture": picture}
        for i, n in enumerate(["Work waistcoat", "Summer blouse", "Wrap skirt"], 1)
    ]
    project = {"id": "p1", "name": "Autumn", "budget": "40.00 EUR", "left": "18.20 EUR", "garments": cards}
    garment = {"id": "g1", "name": "Work waistcoat", "project": "p1", "project_name": "Autumn", "revision": 7}
    garment |= {"head": "x", "facts": {}, "measures": {}, "taped": {}, "findings": [], "steps": steps}
    garment |= {k: [] for k in ("pieces", "derived", "seams", "recipes", "tracings", "mock_ups")}
    room = {
        "name": "Workroom",
        "folder": "",
        "version": "",
        "revision": 3,
        "projects": [project],
        "cloths": 5,
    }
    job = {"id": "j1", "what": "lay", "subject": "g1", "title": "Laying the outer cloth", "state": "running"}
    job |= {"fraction": 0.4, "sentence": "All pieces lie; making the remnant larger.", "result": None}
    return {
        "/api/workroom": room | {"steps": steps},
        "/api/garments/g1": garment,
        "/api/garments/g1/pegs": pegs,
        "/api/jobs": [job],
    }


class Pretend(BaseHTTPRequestHandler):
    """Serves the built files and the made-up answers."""

    answers = pretended()

    def do_GET(self) -> None:
        """Answer one request."""
        path = self.path.split("?")[0]
        if path == "/api/events":
            self._send(b'event: hello\ndata: {"version": "", "started": ""}\n\n', "text/event-stream")
            time.sleep(20)
            return
        if path.startswith("/api/"):
            told = self.answers.get(path)
            problem = {"code": "not-found", "sentence": f"Nothing is pretended at {path}.", "facts": {}}
            self._send(json.dumps(told or problem).encode(), "application/json", 200 if told else 404)
            return
        file = BUILT / (path.lstrip("/") or "index.html")
        if BUILT in file.resolve().parents and file.is_file():
            self._send(file.read_bytes(), KINDS.get(file.suffix, "application/octet-stream"))
        else:
            self._send(b"", "text/plain", 404)

    def _send(self, body: bytes, kind: str, status: int = 200) -> None:
        self.send_response(status)
        self.send_header("Content-Type", kind)
        if kind != "text/event-stream":
            self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        with contextlib.suppress(OSError):
            self.wfile.write(body)
            self.wfile.flush()

    def log_message(self, *_: object) -> None:
        """Say nothing."""


@contextlib.contextmanager
def pretending() -> Iterator[str]:
    """Serve with made-up answers."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), Pretend)
    server.daemon_threads = True
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()


@contextlib.contextmanager
def serving(workroom: Path) -> Iterator[str]:
    """Start the app on a workroom and yield its first address, read from what it prints."""
    start = "import sys; from eke.web.serve import open_workroom; open_workroom(sys.argv[1], open_browser=False, port=0)"
    command = [sys.executable, "-u", "-c", start, str(workroom)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    try:
        said = ""
        for line in process.stdout or ():
            said += line
            if found := re.search(r"http://\S+key=\S+", line):
                yield found[0]
                return
        raise SystemExit(f"The server gave no address:\n{said}")
    finally:
        process.terminate()
        process.wait(10)


def shoot(first: str, routes: list[str], out: Path, night: bool, wait_ms: int, sizes: list[str]) -> None:
    """Open every route at every size and keep a picture; say what the console complained about."""
    out.mkdir(parents=True, exist_ok=True)
    base = first.split("?")[0]
    with sync_playwright() as p:
        browser = p.chromium.launch(executable_path="/usr/bin/chromium", args=CHROMIUM_ARGS)
        for size in sizes:
            width, height = SIZES[size]
            touch = size == "phone"
            context = browser.new_context(viewport={"width": width, "height": height}, has_touch=touch)
            page = context.new_page()
            page.on("console", lambda m: m.type in {"error", "warning"} and print("console:", m.text[:300]))
            page.on("pageerror", lambda e: print("page:", str(e)[:500]))
            page.goto(first)
            page.evaluate("night => localStorage.setItem('eke.night', night)", "yes" if night else "no")
            page.reload()
            for route in routes:
                page.goto(base + route)
                page.wait_for_timeout(wait_ms)
                word = re.sub(r"\W+", "-", route).strip("-") or "welcome"
                file = out / f"{word}-{size}{'-night' if night else ''}.png"
                page.screenshot(path=str(file))
                print(file)
            context.close()
        browser.close()


def main() -> None:
    """Take the pictures that are asked for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("out", type=Path)
    parser.add_argument("routes", nargs="+")
    parser.add_argument("--workroom", type=Path)
    parser.add_argument("--at", help="first address of a server that runs already")
    parser.add_argument("--pretend", action="store_true")
    parser.add_argument("--night", action="store_true")
    parser.add_argument("--wait-ms", type=int, default=700)
    parser.add_argument("--size", action="append", choices=list(SIZES))
    said = parser.parse_args()
    if said.at:
        where: contextlib.AbstractContextManager[str] = contextlib.nullcontext(said.at)
    elif said.workroom:
        where = serving(said.workroom)
    else:
        where = pretending()
    with where as first:
        shoot(first, said.routes, said.out, said.night, said.wait_ms, said.size or list(SIZES))


if __name__ == "__main__":
    main()
