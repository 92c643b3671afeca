"""The door for the phone: shut unless asked for, open for a while, to the home network, for pictures alone.

It is a server of its own, on a port of its own and in a thread of its own, that knows one page
(:mod:`eke.web.phone_page`). The table itself is never reachable through it.
"""

from __future__ import annotations

import contextlib
import io
import logging
import secrets
import socket
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Final

from eke.actions.glances import Glanced, glance_at
from eke.actions.photographs import SHELF, take_in_photograph
from eke.actions.room import Room, find_garment
from eke.errors import HonestNo
from eke.web.events import Hub
from eke.web.lan import home_address
from eke.web.models.workroom import PhoneView

if TYPE_CHECKING:
    import uvicorn

    from eke.web.phone_page import PhonePage

_log = logging.getLogger(__name__)

OPEN_S: Final = 600.0
"""Ten minutes: time to find the phone and photograph a few sheets, and no longer than one is in the room."""
AT_ONCE: Final = 16
"""Connections of a phone: browsers open six."""

SHUT: Final = "The page for the phone is closed."
OVER: Final = "The ten minutes are over, and the page for the phone is closed."
WAITING: Final = (
    "Point the phone's camera at the square. The phone has to be in the same network as this computer. The square "
    "is good once, and the page closes by itself after ten minutes."
)
COME: Final = "A phone has opened the page. If it was not yours, close it here."


class PhoneDoor:
    """Opens and closes the page for the phone. All methods may be called from any thread.

    Parameters
    ----------
    room, hub
        Where pictures go, and who hears of it.
    address
        Finds the address in the home network.
    open_s
        How long it stays open.
    clock
        Seconds that only go forward.
    """

    def __init__(
        self,
        room: Room,
        hub: Hub,
        *,
        address: Callable[[], str] = home_address,
        open_s: float = OPEN_S,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._room = room
        self._hub = hub
        self._address = address
        self._open_s = open_s
        self._clock = clock
        self._lock = threading.Lock()
        self._opening: _Opening | None = None
        self._last = PhoneView(open=False, sentence=SHUT)

    def open(self, subject: str, *, cloth: bool = False) -> PhoneView:
        """Open the page for pictures of a garment, or of the shelf; one that was open is closed first.

        Raises
        ------
        NotFound
            When there is no such garment.
        HonestNo
            When this machine is in no home network.
        """
        if subject != SHELF:
            subject = find_garment(self._room.shelf(), subject)[1].id
        opening = _Opening(self, self._address(), subject, cloth or subject == SHELF)
        with self._lock:
            before, self._opening = self._opening, opening
        if before is not None:
            before.end()
        opening.start()
        self._tell()
        return self.view()

    def view(self) -> PhoneView:
        """Return how it stands."""
        with self._lock:
            opening = self._opening
            return self._last if opening is None else opening.view()

    def close(self) -> PhoneView:
        """Close the page; what has arrived stays."""
        with self._lock:
            opening = self._opening
        if opening is not None:
            self._shut(opening, SHUT)
        return self.view()

    # ---- inside

    def _shut(self, opening: _Opening, sentence: str) -> None:
        with self._lock:
            if self._opening is not opening:
                return
            self._opening = None
            page = opening.page
            came = f" {_came(page.received)}" if page.received else ""
            self._last = PhoneView(
                open=False, used=page.used, received=page.received, sentence=f"{sentence}{came}"
            )
        opening.end()  # not under the lock: it waits for pages that may want it
        self._tell()

    def _tell(self) -> None:
        self._hub.publish(self.view())


class _Opening:
    """One opening: its server, its secrets, its end."""

    def __init__(self, door: PhoneDoor, address: str, subject: str, cloth: bool) -> None:
        from eke.web.phone_page import PhonePage

        self._door = door
        self._until = door._clock() + door._open_s
        self._expires = datetime.now(UTC) + timedelta(seconds=door._open_s)
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        try:
            self._socket.bind((address, 0))  # this one network, not all that the machine is in
        except OSError as trouble:
            self._socket.close()
            raise HonestNo(
                f"The home network under {address} is not there any more. Connect again and ask once more."
            ) from trouble
        self._socket.listen(AT_ONCE)
        host = f"{address}:{self._socket.getsockname()[1]}"
        code = secrets.token_urlsafe(16)
        self.address = f"http://{host}/c/{code}"
        self.page: PhonePage = PhonePage(
            host=host,
            code=code,
            token=secrets.token_urlsafe(24),
            cookie=f"eke-phone-{self._socket.getsockname()[1]}",
            for_cloth=cloth,
            is_late=self.is_late,
            take=lambda data, name: self._take(subject, data, name, cloth),
            changed=door._tell,
        )
        self._server: uvicorn.Server | None = None
        self._thread = threading.Thread(target=self._run, name="eke-phone", daemon=True)
        self._timer = threading.Timer(door._open_s, door._shut, (self, OVER))
        self._timer.daemon = True

    def start(self) -> None:
        import uvicorn

        from eke.web.serve import quiet_logs, server_config

        quiet_logs()
        config = server_config(self.page.app())
        config.limit_concurrency = AT_ONCE
        self._server = uvicorn.Server(config)
        self._thread.start()
        self._timer.start()

    def _run(self) -> None:
        assert self._server is not None
        try:
            self._server.run(sockets=[self._socket])
        except Exception:
            _log.exception("the page for the phone broke")
        finally:
            self._socket.close()

    def is_late(self) -> bool:
        return self._door._clock() >= self._until

    def view(self) -> PhoneView:
        used, received = self.page.used, self.page.received
        shown = None if used else self.address  # of no use to anybody any more
        return PhoneView(
            open=True,
            address=shown,
            qr_svg=qr_svg(shown) if shown else None,
            expires_at=self._expires.isoformat(timespec="seconds"),
            used=used,
            received=received,
            sentence=_came(received) if received else COME if used else WAITING,
        )

    def _take(self, subject: str, data: bytes, name: str, cloth: bool) -> Glanced | None:
        room = self._door._room
        kept = take_in_photograph(room, subject, data, name, cloth=cloth)
        try:
            return glance_at(room, kept.id)
        except Exception:  # the picture has arrived, and that is to be said whatever the look at it came to
            _log.exception("the quick look at a picture broke")
            return None

    def end(self) -> None:
        """Stop listening, and end what is under way. A moment is waited for it."""
        self._timer.cancel()
        if self._server is not None:
            self._server.should_exit = True
        if self._thread.is_alive() and threading.current_thread() is not self._thread:
            self._thread.join(5.0)
        with contextlib.suppress(OSError):
            self._socket.close()


def _came(count: int) -> str:
    return (
        "One picture has come from the phone."
        if count == 1
        else f"{count} pictures have come from the phone."
    )


def qr_svg(text: str) -> str:
    """Return a QR code (ISO/IEC 18004) as SVG, dark on white also at night, with the quiet zone that it needs."""
    import segno

    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        out, kind="svg", xmldecl=False, omitsize=True, border=4, dark="#000", light="#fff", svgclass=None,
        lineclass=None,
    )  # fmt: skip
    return out.getvalue().decode()
