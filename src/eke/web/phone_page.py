"""What a phone gets: one page to send pictures from, under a code that is good once. Nothing else is there.

A code is used up by the first page that is fetched with it; from then on a cookie of that browser is asked for.
Everything else, and everybody else, gets a sentence.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from importlib.resources import files
from typing import Final

from markupsafe import Markup
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, UploadFile
from starlette.exceptions import HTTPException
from starlette.formparsers import MultiPartException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from eke.actions.glances import Glanced
from eke.errors import EkeError
from eke.formats.images import MAX_BYTES
from eke.web.guard import cookies_of, foreign, same, with_limit
from eke.web.plain_page import style_hash
from eke.web.troubles import Calm

MOST_AT_ONCE: Final = 20
"""Pictures in one form."""
MOST_PICTURES: Final = 60
"""Pictures while the page is open: more garments than anybody traces in ten minutes."""
LARGEST_FORM_BYTES: Final = 420_000_000
"""Of one form: twenty pictures of 20 MB, which is what a good phone makes, and a little."""
MOST_BYTES: Final = 1_500_000_000
"""While the page is open, so that nobody fills the disk from the network."""

TITLE: Final = "Pictures for Eke"
CLOSED: Final = "This page is closed"
NOT_HERE: Final = (
    "Open it from the computer: ask Eke there for the page for the phone, and point the phone's camera at the square.",
)
USED: Final = (
    "This square has been used already, and it is good only once. If it was not you who used it, close the page in "
    "Eke on the computer.",
    "Ask for a new square there.",
)
LATE: Final = (
    "Its ten minutes are over.",
    "Ask Eke on the computer for a new one; what was sent before has arrived.",
)
MANY: Final = (
    "That is as many pictures as this page takes. Ask for a new square on the computer to send more."
)
WORDS: Final = {
    "waiting": "{name} waits.",
    "looking": "{name} has been sent. Eke is looking at it.",
    "closed": "The page has been closed on the computer. What has a tick has arrived.",
    "lost": "{name} did not arrive. Is the phone still in the home network? Choose it again.",
    "many": "{name} was left out: {count} at a time. Choose it again.".replace("{count}", str(MOST_AT_ONCE)),
}
_SHOWN_LINES: Final = 40


@dataclass(frozen=True, slots=True)
class Remark:
    """What is better done again: ``code`` names its drawing in ``pages/glance.svg``."""

    code: str
    sentence: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Line:
    """What came of one picture, and what to do again while the paper still lies there."""

    sentence: str
    came: bool
    remarks: tuple[Remark, ...] = ()


Take = Callable[[bytes, str], Glanced | None]
"""Keeps a picture and returns what a quick look at it told, or raises an EkeError that says why it is not kept."""


class PhonePage:
    """The pages of one opening, for one code. Used by one server in one thread, and asked from others.

    Parameters
    ----------
    host
        Address and port, as the phone writes them.
    code, token
        What the first address, and then the cookie, must hold.
    cookie
        Name of the cookie.
    for_cloth
        Whether the pictures are of cloth.
    is_late
        Whether its time is over.
    take
        Keeps a picture.
    changed
        Called when somebody has come, or something has arrived.
    """

    def __init__(
        self,
        *,
        host: str,
        code: str,
        token: str,
        cookie: str,
        for_cloth: bool,
        is_late: Callable[[], bool],
        take: Take,
        changed: Callable[[], None],
    ) -> None:
        self._host = host
        self._code = code.encode()
        self._token = token.encode()
        self._cookie = cookie
        self._for_cloth = for_cloth
        self._is_late = is_late
        self._take = take
        self._changed = changed
        self._lock = threading.Lock()
        self._one_at_a_time = threading.Lock()
        self._bytes = 0
        self._tried = 0
        self._lines: list[Line] = []
        self.used = False
        self.received = 0

    def app(self) -> ASGIApp:
        """Return the application."""
        routes = [
            Route("/c/{code}", self._first, methods=["GET"]),
            Route("/", self._again, methods=["GET"]),
            Route("/", self._sent, methods=["POST"]),
        ]
        inner = Starlette(routes=routes, exception_handlers={HTTPException: _no_such_page})
        return with_limit(Calm(inner), LARGEST_FORM_BYTES)

    # ---- pages

    def _first(self, request: Request) -> Response:
        refused = self._refused(request)
        if refused is not None:
            return refused
        if request.method != "GET":
            return _closed(NOT_HERE, status=405)  # asked by a machine that looks at addresses
        if self._knows(request):
            return self._page()
        if not same(str(request.path_params["code"]).encode(), self._code):
            return _closed(NOT_HERE)
        if "prefetch" in request.headers.get("sec-purpose", request.headers.get("purpose", "")).lower():
            return Response(status_code=503)  # nobody looks yet: the code is not used up
        with self._lock:
            if self.used:
                return _closed(USED)
            self.used = True
        self._changed()
        # the page itself and no way on to it: some browsers hold a strict cookie back on a way on
        answer = self._page()
        answer.set_cookie(self._cookie, self._token.decode(), path="/", httponly=True, samesite="strict")
        return answer

    def _again(self, request: Request) -> Response:
        return self._refused(request) or (self._page() if self._knows(request) else _closed(NOT_HERE))

    async def _sent(self, request: Request) -> Response:
        refused = self._refused(request)
        if refused is None and not self._knows(request):
            refused = _closed(NOT_HERE)
        if refused is not None:
            return refused
        try:
            async with request.form(max_files=MOST_AT_ONCE, max_fields=4) as form:
                pictures = [
                    one for one in form.getlist("file") if isinstance(one, UploadFile) and one.filename
                ]
                lines = [await run_in_threadpool(self._keep, one) for one in pictures]
        except (MultiPartException, HTTPException) as trouble:
            if isinstance(trouble, HTTPException) and trouble.status_code == 413:
                raise
            lines = [Line(f"That could not be read. Send at most {MOST_AT_ONCE} pictures at a time.", False)]
        if not lines:
            lines = [Line("No picture was chosen. Choose one first.", False)]
        with self._lock:
            self._lines = [*reversed(lines), *self._lines][:_SHOWN_LINES]
        if "application/json" in request.headers.get("accept", ""):
            return _guarded(JSONResponse({"lines": [asdict(line) for line in lines]}))
        return _guarded(RedirectResponse("/", status_code=303))

    # ---- inside

    def _refused(self, request: Request) -> Response | None:
        headers = request.headers
        if headers.getlist("host") != [self._host]:
            return _closed(NOT_HERE)
        if foreign(headers, f"http://{self._host}", navigation=request.method != "POST"):
            return _closed(NOT_HERE)
        return _closed(LATE) if self._is_late() else None

    def _knows(self, request: Request) -> bool:
        return any(
            same(value, self._token) for value in cookies_of(Headers(scope=request.scope), self._cookie)
        )

    def _keep(self, upload: UploadFile) -> Line:
        """Keep one picture; one at a time, since each may take a good part of the memory to look at."""
        name = upload.filename or "A picture"
        with self._one_at_a_time:
            if self._is_late():
                return Line(" ".join((CLOSED + ".", *LATE)), False)
            data = upload.file.read(MAX_BYTES + 1)
            self._tried += 1
            self._bytes += len(data)
            if self._tried > MOST_PICTURES or self._bytes > MOST_BYTES:
                return Line(MANY, False)
            try:
                seen = self._take(data, name)
            except EkeError as error:
                return Line(error.message, False)
            with self._lock:
                self.received += 1
        self._changed()
        return _arrived(_short(name), seen)

    def _page(self) -> Response:
        where = (
            "They go to the cloth on the table."
            if self._for_cloth
            else "They go to the garment on the table."
        )
        with self._lock:
            lines = tuple(self._lines)
        return _rendered(TITLE, where=where, lines=lines)


def _arrived(name: str, seen: Glanced | None) -> Line:
    if seen is None:
        return Line(f"{name} has arrived.", True)
    if not seen["findings"]:
        return Line(f"{name} has arrived. {seen['sentence']}", True)
    remarks = tuple(Remark(one["code"], one["sentence"], one["remedy"]) for one in seen["findings"])
    return Line(f"{name} has arrived. Leave the paper where it is, and look:", True, remarks)


def _short(name: str) -> str:
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(c for c in last if c.isprintable())[:60] or "The picture"


def _no_such_page(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return _closed(NOT_HERE, status=error.status_code)


def _closed(sentences: Sequence[str], status: int = 403) -> Response:
    return _rendered(CLOSED, sentences=sentences, status=status)


@cache
def _part(name: str) -> str:
    return (files("eke.web") / "pages" / name).read_text("utf-8")


def _rendered(
    title: str,
    *,
    where: str = "",
    lines: Sequence[Line] = (),
    sentences: Sequence[str] = (),
    status: int = 200,
) -> Response:
    from jinja2 import Environment, StrictUndefined

    template = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True).from_string(
        _part("phone.html")
    )
    text = template.render(
        title=title,
        open=not sentences,
        where=where,
        lines=lines,
        sentences=sentences,
        most=MOST_AT_ONCE,
        words=json.dumps(WORDS),
        drawings=Markup(_part("glance.svg")),
        style=Markup(_part("phone.css")),  # ours, and named by its hash in the policy
        script=Markup(_part("phone.js")),
    )
    return _guarded(HTMLResponse(text, status))


def _guarded(answer: Response) -> Response:
    """Say how an answer may be used: its own style and script, its own form, and nothing from anywhere."""
    answer.headers["Content-Security-Policy"] = (
        f"default-src 'none'; style-src {style_hash(_part('phone.css'))}; script-src {style_hash(_part('phone.js'))}; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    )
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["X-Content-Type-Options"] = "nosniff"
    # not “no-referrer”: a form that is sent then names no origin, and could not be told from a foreign one
    answer.headers["Referrer-Policy"] = "same-origin"
    answer.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    answer.headers["X-Frame-Options"] = "DENY"
    return answer
