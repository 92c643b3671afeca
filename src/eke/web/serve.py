"""Opening a workroom in the browser: the lock, a port, the address, the server, and leaving in good order.

What is heavy is loaded after the address has been printed: by then the workroom is locked and the port
listens, so a browser that is quicker than we are waits a moment instead of being turned away.
"""

from __future__ import annotations

import contextlib
import logging
import os
import signal
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from eke.errors import BadInput
from eke.store import InUse, Store
from eke.web.address_note import address_of_running, drop_note, write_note

if TYPE_CHECKING:
    import uvicorn
    from starlette.types import ASGIApp

    from eke.jobs import Job, JobEvent, Runner
    from eke.web.house import House

PREFERRED_PORT: Final = 9353
"""Always the same where it is free, so that what the browser keeps for the address is found again."""
BACKLOG: Final = 64
LEAVE_S: Final = 2.0
"""How long requests that are being answered may go on when the workroom closes."""
NOTE_S: Final = 2.0
"""How long a second start waits for the address of one that is just beginning."""
WARM: Final = (
    "eke.actions.work",
    "eke.capture.trace",
    "eke.capture.outline",
    "eke.capture.cloth_edge",
    "eke.formats.images",
    "eke.lay.solve",
)
"""What the first job would have to load."""
WARM_AFTER_S: Final = 1.5
"""The first screen has the processor to itself for so long."""

Say = Callable[[str], None]


def say_here(sentence: str) -> None:
    """Write to standard output at once, also into a pipe."""
    sys.stdout.write(f"{sentence}\n")
    sys.stdout.flush()


def open_workroom(
    folder: Path | str, *, open_browser: bool = True, port: int | None = None, say: Say = say_here
) -> None:
    """Open a workroom in the browser and serve it until Ctrl-C; make it when it is not there.

    A second start on a workroom that is being served opens the browser there and returns at once.

    Parameters
    ----------
    folder
        Of the workroom.
    open_browser
        Whether to open the browser as well as to print the address.
    port
        Of the loopback server; None: the usual one, or any that is free.
    say
        Where sentences for the maker go.

    Raises
    ------
    BadInput
        When the given port is taken.
    InUse
        When another process has the workroom open, and is no server of ours.
    StoreTrouble
        When the workroom cannot be opened.
    """
    folder = Path(folder).absolute()
    try:
        store, made = _open_store(folder)
    except InUse:
        address = _address_there(folder)
        if address is None:
            raise
        say(f"The workroom {folder} is open already, at\n\n  {address}\n")
        if open_browser:
            show(address)
        return
    with contextlib.closing(store), listening(port) as door:
        own_port: int = door.getsockname()[1]
        keys = _Keys()
        address = f"http://127.0.0.1:{own_port}/?key={keys.key}"
        write_note(folder, address)
        try:
            what = "Eke has made a workroom in" if made else "The workroom is open:"
            say(f"{what} {folder}\n\n  {address}\n\nCtrl-C closes it. Nothing leaves this machine.")
            if open_browser:
                threading.Thread(target=show, args=(address,), name="eke-browser", daemon=True).start()
            _serve(store, folder, door, keys, say)
        finally:
            drop_note(folder)


class _Keys:
    """The secrets of one start, made before the house, which takes longer to load."""

    def __init__(self) -> None:
        import secrets

        self.key = secrets.token_urlsafe(24)


def _open_store(folder: Path) -> tuple[Store, bool]:
    """Open a workroom, or make it; return whether it was made."""
    from eke.store.database import DATABASE

    if (folder / DATABASE).is_file():
        return Store.open(folder), False
    from eke.actions.room import make_room

    return make_room(folder).store, True


def _address_there(folder: Path) -> str | None:
    """Return the address of the server that has a workroom; one that is just starting gets a moment."""
    until = time.monotonic() + NOTE_S
    while True:
        found = address_of_running(folder)
        if found is not None or time.monotonic() > until:
            return found
        time.sleep(0.1)


@contextlib.contextmanager
def listening(port: int | None, preferred: int = PREFERRED_PORT) -> Iterator[socket.socket]:
    """Give a socket that listens on loopback. Raises BadInput when the port that was asked for is taken."""
    door = _bound(port, preferred)
    try:
        door.listen(BACKLOG)
        yield door
    finally:
        door.close()


def _bound(port: int | None, preferred: int) -> socket.socket:
    if port is not None:
        try:
            return _bind(port)
        except OSError as trouble:
            raise BadInput(
                f"The port {port} cannot be used here: {(trouble.strerror or str(trouble)).lower()}. Nothing was "
                "opened. Give another --port, or leave it out and Eke finds one.",
                port=port,
            ) from trouble
    try:
        return _bind(preferred)
    except OSError:
        return _bind(0)


def _bind(port: int) -> socket.socket:
    # the protocol is named, since asyncio sends small answers without delay only where it is
    door = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        if sys.platform == "win32":  # there, reuse would let another program listen on the same port
            door.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        door.bind(("127.0.0.1", port))
    except BaseException:
        door.close()
        raise
    return door


def show(address: str) -> bool:
    """Open the maker's browser, where there is a screen; return whether one was asked."""
    import webbrowser

    if sys.platform.startswith("linux") and not any(
        os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER")
    ):
        return False  # only a browser inside this terminal would be found
    try:
        return webbrowser.open(address)
    except (webbrowser.Error, OSError):
        return False


def _serve(store: Store, folder: Path, door: socket.socket, keys: _Keys, say: Say) -> None:
    """Load the rest and serve until somebody wants it to end."""
    from eke.actions.room import Room
    from eke.jobs import Runner
    from eke.web.app import make_app
    from eke.web.house import make_house

    runner = Runner(max(2, (os.cpu_count() or 2) - 1), warm=WARM)
    house = make_house(Room(store, folder), port=door.getsockname()[1], runner=runner, key=keys.key)
    warming = _Warming(runner)
    try:
        server = make_server(make_app(house), house)
        warming.begin_after(WARM_AFTER_S)
        with _hanging_up_ends(server):
            server.run(sockets=[door])
        if any(job.state in ("waiting", "running") for job in house.board.jobs()):
            say("Keeping what the running work has found so far …")
        else:
            warming.end()
    finally:
        house.close()
    say("The workroom is closed. Everything is kept. Goodbye.")


class _Warming:
    """Lets a worker load its libraries and kernels; compiles them, should that never have been done."""

    def __init__(self, runner: Runner) -> None:
        self._runner = runner
        self._job: Job | None = None
        self._timer: threading.Timer | None = None

    def begin_after(self, seconds: float) -> None:
        self._timer = threading.Timer(seconds, self._begin)
        self._timer.daemon = True
        self._timer.start()

    def _begin(self) -> None:
        with contextlib.suppress(RuntimeError):  # closed meanwhile
            self._job = self._runner.start("eke.web.warming:warm_kernels", None, self._heard)

    def _heard(self, event: JobEvent) -> None:
        if event.kind == "done":  # the second only now: two at once would be felt on a small machine
            self._runner.warm_up(2)

    def end(self) -> None:
        """End the workers at once, when none of them does anything for the maker."""
        import multiprocessing

        if self._timer is not None:
            self._timer.cancel()
        if self._job is not None:
            self._job.cancel()
        for worker in multiprocessing.active_children():
            worker.kill()


def make_server(app: ASGIApp, house: House) -> uvicorn.Server:
    """Return the server of an application. It ends all streams first when it shuts down."""
    import uvicorn

    quiet_logs()

    class Server(uvicorn.Server):
        def handle_exit(self, sig: int, frame: Any) -> None:
            # not recorded: it would be raised again afterwards, and end the process before all is put away
            self.force_exit = self.should_exit
            self.should_exit = True

        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            house.events.close()
            await super().shutdown(sockets)

    return Server(server_config(app))


def server_config(app: ASGIApp) -> uvicorn.Config:
    """Return how all our servers are run: one thread, nothing printed, nothing trusted from a header."""
    import uvicorn

    return uvicorn.Config(
        app,
        http="h11",
        ws="none",
        lifespan="off",
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=int(LEAVE_S),
        timeout_keep_alive=30,
    )


def quiet_logs() -> None:
    """Send what the libraries report to Eke's own log instead of the maker's terminal."""
    handlers = logging.getLogger("eke").handlers or [logging.NullHandler()]
    for name in ("uvicorn", "asyncio"):
        logger = logging.getLogger(name)
        logger.setLevel(logging.WARNING)
        logger.propagate = False
        for handler in handlers:
            logger.addHandler(handler)


@contextlib.contextmanager
def _hanging_up_ends(server: uvicorn.Server) -> Iterator[None]:
    """Close in good order when the terminal is closed, where systems tell."""
    hang_up = getattr(signal, "SIGHUP", None)
    if hang_up is None or threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(hang_up, server.handle_exit)
    try:
        yield
    finally:
        signal.signal(hang_up, before)
