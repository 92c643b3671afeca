"""Every error becomes one shape, :class:`~eke.web.models.common.Problem`, and no traceback leaves.

=====================  ======  ====================
what was raised        status  code
=====================  ======  ====================
BadInput               400     bad-input
NotFound               404     not-found
ChangedMeanwhile       409     changed-elsewhere
ChangeConflict         409     conflict
Stopped                409     stopped
too many bytes         413     too-big
NotTrustworthy         422     cannot-promise
DoesNotFit             422     does-not-fit
InUse                  503     in-use
StoreTrouble           503     store-trouble
anything else          500     our-mistake
=====================  ======  ====================
"""

from __future__ import annotations

import logging
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, is_dataclass
from pathlib import PurePath
from typing import Any, Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from eke.errors import (
    BadInput,
    ChangeConflict,
    DoesNotFit,
    EkeError,
    HonestNo,
    NotFound,
    NotTrustworthy,
    Stopped,
    StoreTrouble,
)
from eke.store import ChangedMeanwhile, InUse
from eke.web.models.common import Problem

_log = logging.getLogger(__name__)

OUR_MISTAKE: Final = (
    "Eke made a mistake and could not do this. Nothing was changed, and what was saved before is safe. If it comes "
    "again, type eke report where Eke was started: it gathers what somebody needs to mend it."
)
TOO_BIG: Final = "This is more than Eke takes in at once. Nothing was changed. Send it in smaller parts."

_ANSWERS: Final[tuple[tuple[type[EkeError], int, str], ...]] = (
    (ChangedMeanwhile, 409, "changed-elsewhere"),
    (ChangeConflict, 409, "conflict"),
    (Stopped, 409, "stopped"),
    (NotFound, 404, "not-found"),
    (BadInput, 400, "bad-input"),
    (NotTrustworthy, 422, "cannot-promise"),
    (DoesNotFit, 422, "does-not-fit"),
    (HonestNo, 422, "honest-no"),
    (InUse, 503, "in-use"),
    (StoreTrouble, 503, "store-trouble"),
    (EkeError, 500, "our-mistake"),
)
"""The first class that fits decides, so narrower ones come first."""

_OF_STATUS: Final[Mapping[int, tuple[str, str]]] = {
    403: ("refused", "Eke does not take this from there. Open Eke again from the address it printed."),
    404: ("not-found", "There is nothing at this address. Go back to the table."),
    405: ("bad-input", "This address does not take that. Nothing was changed."),
    413: ("too-big", TOO_BIG),
}


def problem(status: int, code: str, sentence: str, facts: Mapping[str, Any] | None = None) -> JSONResponse:
    """Return the answer of that status that says what happened."""
    said = Problem(code=code, sentence=_text(" ".join(sentence.split())), facts=plain_facts(facts or {}))
    return JSONResponse(said.model_dump(), status_code=status)


def answer_to(error: EkeError) -> JSONResponse:
    """Return the answer for an error that Eke raised on purpose."""
    _, status, code = next(row for row in _ANSWERS if isinstance(error, row[0]))
    return problem(status, code, error.message, error.data)


def plain_facts(facts: Mapping[str, Any]) -> dict[str, Any]:
    """Return what an error knows as plain JSON: whatever is not becomes its text."""
    return {_text(str(name)): _plain(value) for name, value in facts.items()}


def _text(text: str) -> str:
    """Return a text that can be sent: JSON may hold halves of characters, UTF-8 may not (RFC 8259, 8.2)."""
    return text.encode("utf-8", "replace").decode("utf-8")


def _plain(value: Any) -> Any:
    if isinstance(value, str):
        return _text(value)
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, PurePath):
        return _text(str(value))
    if is_dataclass(value) and not isinstance(value, type):
        return _plain(asdict(value))
    if isinstance(value, Mapping):
        return {_text(str(key)): _plain(item) for key, item in value.items()}
    if isinstance(value, Sequence | set | frozenset) and not isinstance(value, bytes):
        return [_plain(item) for item in value]
    to_list = getattr(value, "tolist", None)  # arrays and their numbers
    if callable(to_list):
        return _plain(to_list())
    return _text(str(value))


def said_of(error: RequestValidationError) -> tuple[str, dict[str, Any]]:
    """Return what cannot be used in a request, in a sentence, and where."""
    problems = error.errors()
    first = problems[0] if problems else {"loc": (), "msg": "", "type": ""}
    where = [str(part) for part in first["loc"] if part not in ("body", "query", "path", "header")]
    what = " ".join(where).replace("_", " ")
    kind = str(first["type"])
    if kind == "json_invalid":
        sentence = "What was sent is no JSON."
    elif kind == "missing":
        sentence = f"“{what}” is missing." if what else "Nothing was sent."
    elif kind == "extra_forbidden":
        sentence = f"Eke does not know “{what}” here."
    else:
        message = str(first["msg"])
        sentence = f"“{what}” cannot be used: {message[:1].lower()}{message[1:].rstrip('.')}."
    # not the value itself: it may be large, or no JSON
    places = [{"where": list(map(str, one["loc"])), "type": one["type"]} for one in problems[:20]]
    return f"{sentence} Nothing was changed.", {"places": places}


def say_troubles(app: FastAPI) -> None:
    """Teach an application to answer with problems."""

    async def of_eke(_: Request, error: Exception) -> JSONResponse:
        assert isinstance(error, EkeError)
        return answer_to(error)

    async def of_request(_: Request, error: Exception) -> JSONResponse:
        assert isinstance(error, RequestValidationError)
        sentence, facts = said_of(error)
        return problem(400, "bad-input", sentence, facts)

    async def of_status(_: Request, error: Exception) -> JSONResponse:
        assert isinstance(error, HTTPException)
        code, sentence = _OF_STATUS.get(
            error.status_code, ("bad-input", "Eke could not read what was sent. Nothing was changed.")
        )
        return problem(error.status_code, code, sentence)

    app.add_exception_handler(EkeError, of_eke)
    app.add_exception_handler(RequestValidationError, of_request)
    app.add_exception_handler(HTTPException, of_status)


class Calm:
    """The last net, inside the guard: a mistake of the program goes to the log, and a sentence to the maker."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, and answer for what breaks."""
        begun = False

        async def watched(message: Message) -> None:
            nonlocal begun
            begun = begun or message["type"] == "http.response.start"
            await send(message)

        try:
            await self.app(scope, receive, watched)
        except Exception:
            _log.exception("%s %s broke", scope.get("method", ""), scope.get("path", ""))
            if not begun and scope["type"] == "http":
                await problem(500, "our-mistake", OUR_MISTAKE)(scope, receive, send)
