"""The whole server as a process: its address, a second start, leaving, being killed."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import re
import signal
import socket
import stat
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest

from eke.actions.room import make_room, open_room
from eke.errors import BadInput
from eke.store import InUse, Store
from eke.web import address_note
from eke.web.address_note import address_of_running, drop_note, note_file, write_note
from eke.web.serve import listening, open_workroom, show

WAIT_S: Final = 60.0
"""Only so that a hanging test ends."""
POSIX: Final = os.name == "posix"


class Served:
    """An Eke that runs, and one window of it."""

    def __init__(self, folder: Path, *words: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "eke.cli.main", "--workroom", str(folder), "--no-open", *words],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8",
        )  # fmt: skip
        assert self.process.stdout is not None
        self.said = ""
        found = None
        while found is None:
            line = self.process.stdout.readline()
            assert line, self.said + self.process.communicate()[1]
            self.said += line
            found = re.search(r"http://127\.0\.0\.1:(\d+)(/\?key=\S+)", self.said)
        self.address, self.port = found[0], int(found[1])
        self._first, self._cookie = found[2], ""

    def ask(self, method: str, path: str, said: Any = None) -> tuple[int, Any]:
        if not self._cookie:
            answer = self._send("GET", self._first, None)
            assert answer.status == 303
            self._cookie = (answer.getheader("set-cookie") or "").split(";")[0]
        answer = self._send(method, path, said)
        text = answer.read().decode()
        return answer.status, json.loads(text) if text else None

    def _send(self, method: str, path: str, said: Any) -> http.client.HTTPResponse:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=WAIT_S)
        headers = {"Cookie": self._cookie, "Origin": f"http://127.0.0.1:{self.port}", "X-Eke": "1"}
        body = None if said is None else json.dumps(said)
        connection.request(method, path, body, {**headers, "Content-Type": "application/json"})
        return connection.getresponse()

    def listen(self) -> socket.socket:
        """Open the stream of events, and return the connection once it has said hello."""
        self.ask("GET", "/api/jobs")
        door = socket.create_connection(("127.0.0.1", self.port), timeout=WAIT_S)
        lines = [
            "GET /api/events HTTP/1.1", f"Host: 127.0.0.1:{self.port}", f"Cookie: {self._cookie}",
            "Accept: text/event-stream",
        ]  # fmt: skip
        door.sendall("\r\n".join([*lines, "", ""]).encode())
        until(door, b"event: hello")
        return door

    def leave(self, with_signal: int = signal.SIGINT) -> tuple[int, str, str]:
        self.process.send_signal(with_signal)
        said, complained = self.process.communicate(timeout=WAIT_S)
        return self.process.returncode, said, complained


def until(door: socket.socket, wanted: bytes) -> bytes:
    """Read until something has come; return all that was read."""
    read = b""
    while wanted not in read:
        part = door.recv(65536)
        assert part, f"ended without {wanted!r}: {read!r}"
        read += part
    return read


@pytest.fixture(autouse=True)
def apart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep logs and notes of these tests out of the maker's own."""
    state = tmp_path / "state"
    monkeypatch.setenv("XDG_STATE_HOME", str(state))
    monkeypatch.setenv("XDG_CACHE_HOME", os.environ.get("XDG_CACHE_HOME", str(Path.home() / ".cache")))
    monkeypatch.delenv("EKE_WORKROOM", raising=False)
    monkeypatch.setattr(
        address_note, "note_file", lambda folder, real=note_file: state / "eke" / "open" / real(folder).name
    )
    return state


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "room"


@pytest.fixture
def served(folder: Path) -> Iterator[Served]:
    one = Served(folder)
    yield one
    if one.process.poll() is None:
        one.process.kill()
    one.process.communicate()


@pytest.mark.skipif(not POSIX, reason="a console signal cannot be sent to one process")
def test_a_workroom_is_made_served_and_left_with_a_window_open(served: Served, folder: Path) -> None:
    assert served.said.startswith(f"Eke has made a workroom in {folder}")
    with served.listen() as door:
        status, done = served.ask("POST", "/api/projects", {"name": "Winter"})
        assert status == 200
        event = until(door, done["sentence"].encode())
        found = re.search(rb"event: revision\ndata: (\{.*\})", event)
        assert found is not None
        assert json.loads(found[1]) == {
            "log": "workroom", "revision": done["revision"], "sentence": done["sentence"], "about": "history",
        }  # fmt: skip
        code, said, complained = served.leave()
        assert (code, complained) == (0, "")
        assert said.strip().endswith("The workroom is closed. Everything is kept. Goodbye.")
        while door.recv(65536):  # the stream has ended, it did not break
            pass
    with open_room(folder) as room:
        assert [p.name for p in room.shelf().projects.values()] == ["Winter"]


@pytest.mark.skipif(not POSIX, reason="these signals are not sent there")
@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_other_ways_to_be_asked_to_leave(served: Served, folder: Path, apart: Path, name: str) -> None:
    served.listen().close()
    code, said, complained = served.leave(getattr(signal, name))
    assert (code, complained) == (0, "")
    assert "Goodbye" in said
    Store.open(folder).close()
    assert not list(apart.rglob("open/*.json"))


def test_a_second_start_leads_to_the_first(served: Served, folder: Path) -> None:
    served.ask("GET", "/api/jobs")
    second = subprocess.run(
        [sys.executable, "-m", "eke.cli.main", "--workroom", str(folder), "--no-open"],
        capture_output=True, text=True, check=False, timeout=WAIT_S,
    )  # fmt: skip
    assert (second.returncode, second.stderr) == (0, "")
    assert served.address in second.stdout
    assert "is open already" in second.stdout
    assert served.ask("GET", "/api/jobs") == (200, [])


def test_a_killed_server_loses_nothing_that_was_answered(folder: Path) -> None:
    """A window writes as fast as it can; the server is killed in the middle, several times over."""
    answered: list[str] = []
    for round_number in range(3):
        served = Served(folder)
        try:
            status, view = served.ask("GET", "/api/workroom")
            assert status == 200, view
            names = [project["name"] for project in view["projects"]]
            # all that was answered is there; at most the one that was under way besides
            assert names[: len(answered)] == answered
            assert len(names) <= len(answered) + 1
            answered = names
            killing = threading.Timer(0.15 + 0.05 * round_number, served.process.kill)
            killing.start()
            with contextlib.suppress(OSError, http.client.HTTPException):
                for number in range(10_000):
                    status, _ = served.ask("POST", "/api/projects", {"name": f"{round_number}.{number}"})
                    assert status == 200
                    answered.append(f"{round_number}.{number}")
            killing.join()
        finally:
            served.process.kill()
            served.process.communicate()
    assert len(answered) > 3
    with open_room(folder) as room:
        names = [project.name for project in room.shelf().projects.values()]
        assert names[: len(answered)] == answered
        room.store.check()


def test_after_a_kill_neither_lock_nor_note_are_in_the_way(served: Served, folder: Path) -> None:
    first = served.address
    served.process.kill()
    served.process.wait()
    again = Served(folder)
    try:
        assert again.said.startswith("The workroom is open:")
        assert again.address != first  # a new start has a new key
        assert again.ask("GET", "/api/jobs") == (200, [])
    finally:
        again.process.kill()
        again.process.communicate()


def test_a_port_in_use_is_one_sentence(folder: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        found = subprocess.run(
            [sys.executable, "-m", "eke.cli.main", "--workroom", str(folder), "--no-open", "--port", str(port)],
            capture_output=True, text=True, check=False, timeout=WAIT_S,
        )  # fmt: skip
    assert (found.returncode, found.stdout) == (2, "")
    assert found.stderr.startswith(f"The port {port} cannot be used here")
    assert found.stderr.count("\n") == 1
    Store.open(folder).close()


# ---- the parts ------------------------------------------------------------------------------------------


def test_the_usual_port_or_any_other_but_only_on_loopback() -> None:
    with listening(None, preferred=0) as one:
        port = one.getsockname()[1]
        assert one.getsockname()[0] == "127.0.0.1"
        with listening(None, preferred=port) as other:
            assert other.getsockname()[1] not in (0, port)
        with pytest.raises(BadInput, match=f"port {port} cannot be used"), listening(port):
            pass


def test_the_note_is_for_its_owner_only(folder: Path, apart: Path) -> None:
    folder.mkdir()
    before = os.umask(0) if POSIX else 0
    try:
        write_note(folder, "http://127.0.0.1:1/?key=k")
    finally:
        if POSIX:
            os.umask(before)
    [file] = apart.rglob("open/*")
    assert json.loads(file.read_text())["address"] == "http://127.0.0.1:1/?key=k"
    if POSIX:
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert not list(folder.iterdir())  # nothing of it beside the workroom
    drop_note(folder)
    assert not list(apart.rglob("open/*"))


def test_a_note_is_believed_only_with_its_owner_and_an_answer(folder: Path, apart: Path) -> None:
    with make_room(folder):
        assert address_of_running(folder) is None
        with listening(None, preferred=0) as silent:
            write_note(folder, f"http://127.0.0.1:{silent.getsockname()[1]}/?key=k")
            address_note.ANSWER_S, before = 0.2, address_note.ANSWER_S  # type: ignore[misc]
            try:
                assert address_of_running(folder) is None  # nobody answers
            finally:
                address_note.ANSWER_S = before  # type: ignore[misc]
        for address in (
            "http://192.168.0.9:80/?key=k",
            "https://127.0.0.1/?key=k",
            "file:///etc/hosts",
            "",
            7,
        ):
            write_note(folder, address)  # type: ignore[arg-type]
            assert address_of_running(folder) is None
        [file] = apart.rglob("open/*")
        for broken in (
            "",
            "[]",
            "{}",
            json.dumps({"pid": 1, "host": "elsewhere", "address": "http://127.0.0.1"}),
        ):
            file.write_text(broken)
            assert address_of_running(folder) is None
            drop_note(folder)
            assert file.exists()  # only one's own note is dropped


def test_a_workroom_that_a_command_has_open_is_said_to_be_so(folder: Path, monkeypatch: Any) -> None:
    monkeypatch.setattr("eke.web.serve.NOTE_S", 0.0)
    with make_room(folder), pytest.raises(InUse, match="already open in this same process"):
        open_workroom(folder, open_browser=False)


def test_no_browser_inside_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", lambda address: opened.append(address) or True)
    monkeypatch.setattr("sys.platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"):
        monkeypatch.delenv(name, raising=False)
    assert not show("http://127.0.0.1:1/")
    monkeypatch.setenv("DISPLAY", ":0")
    assert show("http://127.0.0.1:1/")
    assert opened == ["http://127.0.0.1:1/"]


def test_the_address_is_printed_before_heavy_libraries_are_loaded() -> None:
    """What makes a start slow is what it imports: counted here instead of timed."""
    code = (
        "import sys, eke.web.serve\n"
        "heavy = {'numpy', 'scipy', 'numba', 'shapely', 'cv2', 'PIL', 'fastapi', 'pydantic', 'uvicorn', 'asyncio'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"
