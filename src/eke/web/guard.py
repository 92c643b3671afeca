"""Who may speak with the server: only this machine's own windows, opened from the address that was printed.

Any page in the maker's browser can send requests to a loopback port, and a name that somebody else owns can be
made to point at it. So, outermost of all:

1. the Host must be this server's own on loopback, which a foreign name that points here is not;
2. a request that says it comes from another page is refused: its Origin, or its Sec-Fetch-Site, is not ours;
3. everything needs the cookie, which only the address with this start's key hands out;
4. what changes something needs our Origin and a header that no form can send;
5. no more bytes are read than a request may have;
6. every answer says how it may be used.

References
----------
Fetch Metadata Request Headers (W3C); RFC 6265bis, SameSite; Content Security Policy Level 3 (W3C).
"""

from __future__ import annotations

import contextlib
import secrets
from collections.abc import Iterable
from http.cookies import CookieError, SimpleCookie
from typing import Final
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from eke.web.plain_page import plain_page
from eke.web.troubles import TOO_BIG, problem

LARGEST_SAID_BYTES: Final = 4_000_000
"""Of what is said as JSON: a lay by hand with a thousand pieces has a fifth of it."""
LARGEST_UPLOAD_BYTES: Final = 110_000_000
"""Of what is sent as a form with files: one picture of 100 MB, the most that is decoded, and the form around it."""
SAFE_METHODS: Final = frozenset({"GET", "HEAD"})
METHODS: Final = SAFE_METHODS | {"POST", "PUT", "PATCH", "DELETE"}
OWN_HEADER: Final = "x-eke"
_LONGEST_LENGTH: Final = 15
"""Digits of a Content-Length that is worth reading."""

POLICY: Final = (
    "default-src 'self'; img-src 'self' blob: data:; style-src 'self'; style-src-attr 'unsafe-inline'; "
    "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
"""Only what the package carries. Style attributes are for drawings; they can fetch nothing but from here."""
SECURITY_HEADERS: Final = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}

_OPEN_AGAIN: Final = (
    "Open Eke again from the address it printed when it started, the one with ?key= in it. It printed that where "
    "it was started. If you cannot find it, start Eke once more: it will bring you here."
)


class TooBig(HTTPException):
    """More bytes than a request may have."""

    def __init__(self) -> None:
        super().__init__(413)


def cookie_name(port: int) -> str:
    """Return the name of the cookie; browsers share cookies between ports, so each server has its own."""
    return f"eke-{port}"


def hosts_of(port: int) -> frozenset[str]:
    """Return what a browser on this machine may call the server. Port 80 is left out of a Host."""
    names = ("127.0.0.1", "localhost", "[::1]")
    return frozenset(f"{name}:{port}" for name in names) | (frozenset(names) if port == 80 else frozenset())


class Guard:
    """The outermost layer of the application, for one port and one start.

    Parameters
    ----------
    app
        What is guarded.
    port
        Of the loopback server.
    key
        What ``/?key=`` must hold.
    token
        What the cookie must hold.
    """

    def __init__(self, app: ASGIApp, *, port: int, key: str, token: str) -> None:
        self.app = app
        self.port = port
        self._hosts = hosts_of(port)
        self._origins = frozenset(f"http://{host}" for host in self._hosts)
        self._key = key.encode()
        self._token = token.encode()
        self._cookie = cookie_name(port)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or say why not."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":  # there are no web sockets
            await send({"type": "websocket.close", "code": 1008})
            return
        careful_send = _with_headers(scope, send)
        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, careful_send)
            return
        limit = limit_of(Headers(scope=scope))
        await with_limit(self.app, limit)(scope, receive, careful_send)

    def _refusal(self, scope: Scope) -> Response | None:
        """Return the answer to a request that goes no further, or None."""
        headers = Headers(scope=scope)
        path: str = scope["path"]
        api = path.startswith("/api")
        method: str = scope["method"]
        host = headers.get("host", "").lower()
        if len(headers.getlist("host")) != 1 or host not in self._hosts:
            return _refused(api, "Eke answers only this machine, under the address it printed.")
        if method not in METHODS:
            return _refused(api, "This address does not take that.", status=405)
        if foreign(headers, f"http://{host}", navigation=not api and method in SAFE_METHODS):
            return _refused(api, "Eke takes nothing that another page sends. Nothing was changed.")
        if path == "/" and method == "GET" and b"key=" in scope["query_string"]:
            return self._let_in(scope, headers)
        if not self._known(headers):
            return _refused(api, _OPEN_AGAIN)
        if method not in SAFE_METHODS and (
            headers.get("origin") not in self._origins or headers.get(OWN_HEADER) != "1"
        ):
            return _refused(api, "Eke takes changes only from its own window. Nothing was changed.")
        return None

    def _known(self, headers: Headers) -> bool:
        return any(same(value, self._token) for value in cookies_of(headers, self._cookie))

    def _let_in(self, scope: Scope, headers: Headers) -> Response:
        given = parse_qs(scope["query_string"].decode("latin-1")).get("key", [""])
        answer = RedirectResponse("/", status_code=303, headers={"Cache-Control": "no-store"})
        if len(given) != 1 or not same(given[0].encode("utf-8", "replace"), self._key):
            # an address of an earlier start, opened where this start is open already, does no harm
            return answer if self._known(headers) else _refused(False, _OPEN_AGAIN)
        answer.set_cookie(self._cookie, self._token.decode(), path="/", httponly=True, samesite="strict")
        return answer


def foreign(headers: Headers, own_origin: str, *, navigation: bool) -> bool:
    """Return whether a browser says that another page is behind a request.

    ``navigation``: opening a page may begin anywhere, also at a link in another program.
    """
    origins = headers.getlist("origin")
    if origins and origins != [own_origin]:
        return True
    site = headers.get("sec-fetch-site")
    if site is None or site in ("same-origin", "none"):
        return False
    return not (navigation and headers.get("sec-fetch-mode") == "navigate")


def same(given: bytes, wanted: bytes) -> bool:
    """Compare in a time that tells nothing; an empty secret is never right."""
    return bool(wanted) and secrets.compare_digest(given, wanted)


def cookies_of(headers: Headers, name: str) -> Iterable[bytes]:
    """Yield the values of a cookie; a browser may send several of one name, of other paths."""
    for header in headers.getlist("cookie"):
        for part in header.split(";"):
            try:
                found = SimpleCookie(part.strip()).get(name)
            except CookieError:
                continue
            if found is not None:
                yield found.value.encode("utf-8", "replace")


def _refused(api: bool, sentence: str, status: int = 403) -> Response:
    if api:
        return problem(status, "refused", sentence)
    return plain_page("Eke is here, but not for this window", sentence, status=status)


def limit_of(headers: Headers) -> int:
    """Return how many bytes a request may have."""
    form = headers.get("content-type", "").lower().startswith("multipart/form-data")
    return LARGEST_UPLOAD_BYTES if form else LARGEST_SAID_BYTES


def with_limit(app: ASGIApp, limit_bytes: int) -> ASGIApp:
    """Return ``app`` for requests of at most ``limit_bytes``; the count is kept while they stream in."""
    too_big = problem(413, "too-big", TOO_BIG, {"limit_bytes": limit_bytes})

    async def limited(scope: Scope, receive: Receive, send: Send) -> None:
        length = Headers(scope=scope).get("content-length", "0")
        if len(length) > _LONGEST_LENGTH or not length.isdecimal() or int(length) > limit_bytes:
            await too_big(scope, receive, send)
            return
        count, over, begun = 0, False, False

        async def counted() -> Message:
            nonlocal count, over
            message = await receive()
            count += len(message.get("body", b""))
            if count > limit_bytes:
                over = True
                raise TooBig
            return message

        async def watched(message: Message) -> None:
            nonlocal begun
            if over and not begun:
                return  # whatever the application makes of it, the answer is ours
            begun = True
            await send(message)

        with contextlib.suppress(TooBig):
            await app(scope, counted, watched)
        if over and not begun:
            await too_big(scope, receive, send)

    return limited


def _with_headers(scope: Scope, send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in SECURITY_HEADERS.items():
                headers.setdefault(name, value)
            if scope["path"].startswith("/api"):
                headers.setdefault("Cache-Control", "no-store")
        await send(message)

    return sending
