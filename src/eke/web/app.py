"""The application: every router, one way to say what went wrong, the guard around it."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

from fastapi import APIRouter, FastAPI

from eke import __version__
from eke.web.guard import Guard
from eke.web.house import House
from eke.web.models.common import Problem
from eke.web.routes import (
    advice,
    events,
    fitted,
    garments,
    history,
    jobs,
    joined,
    lays,
    measures,
    phone,
    photographs,
    revisions,
    sheets,
    shelf,
    usual,
    workroom,
)
from eke.web.static import BUILT, Built
from eke.web.troubles import Calm, say_troubles

ROUTERS: Final[tuple[APIRouter, ...]] = (
    events.router,
    jobs.router,
    workroom.router,
    garments.router,
    measures.router,
    advice.router,
    usual.router,
    fitted.router,
    history.router,
    revisions.router,
    photographs.router,
    joined.router,
    shelf.router,
    phone.router,
    lays.router,
    sheets.router,
)
"""Every file of ``routes``; a new one is named here."""


def _bare() -> FastAPI:
    app = FastAPI(
        title="Eke",
        version=__version__,
        openapi_url="/api/openapi.json",
        docs_url=None,  # its pages fetch scripts from elsewhere
        redoc_url=None,
        responses={"default": {"model": Problem, "description": "What happened and what to do."}},
    )
    for router in ROUTERS:
        app.include_router(router)
    say_troubles(app)
    return app


def describe() -> dict[str, Any]:
    """Return the OpenAPI document, without a workroom."""
    return _bare().openapi()


def make_app(house: House, built: Path = BUILT) -> FastAPI:
    """Return the application for one house, with the front end that lies in ``built``."""
    app = _bare()
    app.state.house = house
    app.router.default = Built(built)
    app.add_middleware(Calm)
    app.add_middleware(Guard, port=house.port, key=house.key, token=house.token)  # the last is the outermost
    return app
