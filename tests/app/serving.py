"""The real process ``eke`` on a folder: started, killed without warning, started again."""

from __future__ import annotations

import re
import socket
import subprocess
import sys
import threading
from pathlib import Path
from types import TracebackType
from typing import Self

STARTING_S = 60.0
"""A start compiles nothing and takes a second; on a machine that is busy with everything else, much more."""


def free_port() -> int:
    """Return a port of loopback that nobody has just now."""
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        port: int = door.getsockname()[1]
        return port


class Served:
    """A workroom that is served. ``first`` is the address with the key, ``base`` the one without.

    ``prelude`` is run in the process before Eke, for what a machine of tests has not got.
    """

    def __init__(self, folder: Path, prelude: str = "") -> None:
        self.folder = folder
        self.port = free_port()
        self.first = ""
        self._prelude = prelude
        self._process: subprocess.Popen[str] | None = None

    @property
    def base(self) -> str:
        return f"http://127.0.0.1:{self.port}/"

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, what: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.end()

    def start(self) -> None:
        """Start it as a sewist does, and read the address that it prints."""
        run = f"{self._prelude}\nfrom eke.cli.main import main; main(prog_name='eke')"
        command = [sys.executable, "-u", "-c", run, "--workroom", str(self.folder)]
        command += ["--no-open", "--port", str(self.port)]
        self._process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8"
        )
        said: list[str] = []
        assert self._process.stdout is not None
        late = threading.Timer(STARTING_S, self._process.kill)
        late.start()
        try:
            for line in self._process.stdout:
                said.append(line)
                if found := re.search(r"http://127\.0\.0\.1:\d+/\?key=\S+", line):
                    self.first = found[0]
                    break
            else:
                raise AssertionError(f"Eke printed no address:\n{''.join(said)}")
        finally:
            late.cancel()
        threading.Thread(target=self._process.stdout.read, daemon=True).start()

    def kill(self) -> None:
        """End it as a power cut does: at once, with nothing put away."""
        assert self._process is not None
        self._process.kill()
        self._process.wait(20)

    def end(self) -> None:
        """Close it in good order."""
        if self._process is None or self._process.poll() is not None:
            return
        self._process.terminate()
        try:
            self._process.wait(30)
        except subprocess.TimeoutExpired:
            self.kill()
