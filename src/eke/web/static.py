"""The built front end, carried by the package: one page, and assets whose names change with their content.

Files that the build has compressed beforehand (``.br``, ``.gz`` beside them) are sent as they are to a browser
that takes them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from starlette.datastructures import Headers
from starlette.responses import FileResponse, Response
from starlette.types import Receive, Scope, Send

from eke.web.plain_page import plain_page
from eke.web.troubles import problem

BUILT: Final = Path(__file__).parent / "built"
"""Where ``make app`` puts the front end."""
ASSETS: Final = "assets"
"""The folder of the files that the build names by their content."""
_HASHED: Final = re.compile(r"[-.][A-Za-z0-9_-]{8,}\.[a-z0-9]+$")
"""``index-B2sKx81d.js``: another content has another name."""
_YEAR_S: Final = 31_536_000
_TYPES: Final[Mapping[str, str]] = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".mjs": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".jpg": "image/jpeg",
    ".webp": "image/webp",
    ".ico": "image/x-icon",
    ".woff2": "font/woff2",
    ".woff": "font/woff",
    ".ttf": "font/ttf",
    ".gif": "image/gif",
    ".avif": "image/avif",
    ".wasm": "application/wasm",
    ".map": "application/json",
    ".txt": "text/plain; charset=utf-8",
}
"""Types are ours, not the machine's table, which on some systems is wrong for scripts."""
_PACKED: Final = (("br", ".br"), ("gzip", ".gz"))

NOT_BUILT: Final = (
    "The workroom is open, but this copy of Eke was put together without its pages.",
    "In the folder of its source, type `make app` and start Eke again. Everything on the command line works "
    "without: `eke --help` lists it.",
)


class Built:
    """Serves what lies under a folder; every other path is the one page, which finds its own way."""

    def __init__(self, folder: Path = BUILT) -> None:
        self.folder = folder.resolve()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            return
        await self.answer(scope)(scope, receive, send)

    def answer(self, scope: Scope) -> Response:
        """Return the answer to a request that no route has taken."""
        path: str = scope["path"]
        if path == "/api" or path.startswith("/api/"):
            return problem(404, "not-found", "There is nothing at this address. Go back to the table.")
        if scope["method"] not in ("GET", "HEAD"):
            return problem(405, "bad-input", "This address does not take that. Nothing was changed.")
        headers = Headers(scope=scope)
        found = self._file(path)
        if found is not None:
            hashed = self.folder / ASSETS in found.parents and _HASHED.search(found.name) is not None
            cache = f"public, max-age={_YEAR_S}, immutable" if hashed else "no-cache"
            return _send(found, headers, cache)
        if path.startswith(f"/{ASSETS}/") or _TYPES.get(Path(path).suffix) not in (None, _TYPES[".html"]):
            # a script that is not there must not be answered by a page
            return problem(
                404, "not-found", "This part of the app is not there any more. Load the page again."
            )
        page = self.folder / "index.html"
        if not page.is_file():
            answer = plain_page("Eke has no pages yet", *NOT_BUILT, status=503)
            answer.headers["Cache-Control"] = "no-cache"
            return answer
        return _send(page, headers, "no-cache")

    def _file(self, path: str) -> Path | None:
        """Return the file of that path, if it lies under the folder and is of a kind that is served."""
        parts = [part for part in path.split("/") if part]
        if not parts or any(p.startswith(".") or "\\" in p or ":" in p or "\0" in p for p in parts):
            return None
        wanted = self.folder.joinpath(*parts)
        if wanted.suffix not in _TYPES:
            return None
        try:
            real = wanted.resolve()
        except OSError:
            return None
        return real if real.is_relative_to(self.folder) and real.is_file() else None


def _send(file: Path, headers: Headers, cache: str) -> Response:
    own = {"Cache-Control": cache, "Vary": "Accept-Encoding"}
    taken = headers.get("accept-encoding", "")
    sent = file
    for word, suffix in _PACKED:
        packed = file.with_name(file.name + suffix)
        if _takes(taken, word) and packed.is_file():
            sent, own["Content-Encoding"] = packed, word
            break
    return FileResponse(sent, headers=own, media_type=_TYPES[file.suffix])


def _takes(accepted: str, word: str) -> bool:
    """Return whether an encoding is in an Accept-Encoding and not ruled out: RFC 9110, 12.5.3."""
    for part in accepted.lower().split(","):
        name, _, weight = part.partition(";")
        if name.strip() == word:
            return re.fullmatch(r"q=0(\.0*)?", weight.replace(" ", "")) is None
    return False
