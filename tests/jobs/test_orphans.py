from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import psutil
import pytest

from .test_runner import wait_until

PARENT = Path(__file__).with_name("parent.py")


def alive(pid: int) -> bool:
    # an orphan is taken over by the system's first process, which may be slow to bury it
    try:
        return psutil.Process(pid).status() != psutil.STATUS_ZOMBIE
    except psutil.NoSuchProcess:
        return False


@pytest.mark.parametrize("how", ["until_stopped", "deaf"])
@pytest.mark.parametrize("end", ["kill", "terminate"])
def test_a_worker_ends_with_its_parent_however_that_ends(tmp_path, how, end):
    flag = tmp_path / "pid"
    parent = subprocess.Popen(
        [sys.executable, str(PARENT), str(flag), how], stdout=subprocess.PIPE, text=True
    )
    try:
        assert parent.stdout is not None
        assert parent.stdout.readline() == "started\n"
        wait_until(lambda: flag.exists() and flag.read_text(), "the job never started")
        worker = int(flag.read_text())
        assert alive(worker)
        getattr(parent, end)()
        parent.wait(60)
        wait_until(lambda: not alive(worker), "the worker outlived its parent")
    finally:
        parent.kill()
        parent.wait()
        parent.stdout.close()
