"""The stream of events to a window. Its events are typed by hand beside the generated client."""

from __future__ import annotations

from collections.abc import AsyncIterator

from fastapi import APIRouter
from fastapi.responses import StreamingResponse

from eke import __version__
from eke.web.events import Hello
from eke.web.house import HouseDep

router = APIRouter(prefix="/api", tags=["events"])


@router.get("/events", response_class=StreamingResponse)
async def events(house: HouseDep) -> StreamingResponse:
    """Send ``hello``, then ``revision``, ``job`` and ``phone`` as they come, until the server ends."""

    async def stream() -> AsyncIterator[bytes]:
        listening = house.events.listen()
        try:
            async for part in listening.stream(Hello(version=__version__, started=house.started)):
                yield part
        finally:
            house.events.leave(listening)

    return StreamingResponse(stream(), media_type="text/event-stream", headers={"Cache-Control": "no-store"})
