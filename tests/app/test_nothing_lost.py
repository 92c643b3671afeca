"""A server that is killed in the middle of the job, at every step, has lost nothing that it had answered."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.conftest import Serve, Window
from app.job import JOB, state_of

pytestmark = pytest.mark.slow


def test_killed_after_every_step_nothing_answered_is_lost(
    tmp_path: Path, serve: Serve, window: Window
) -> None:
    served = serve(tmp_path / "room")
    s = window(served, killed=True)
    for step in JOB:
        step.do(s)
        before = state_of(s)
        served.kill()
        s.forget_what_was_asked()
        served.start()
        s.reload()
        assert state_of(s) == before, step.name
        step.kept(s)
