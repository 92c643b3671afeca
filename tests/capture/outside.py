"""Where the photographs with known truth are: beside the checkout or in EKE_SHARED, else the test is skipped."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

HERE = Path(__file__).resolve()


def shared_path(name: str) -> Path:
    """Path of a file of the shared folder; skips the test, visibly, where it is absent."""
    root = Path(os.environ.get("EKE_SHARED") or HERE.parents[2].parent / "shared")
    path = root / name
    if not path.exists():
        pytest.skip(f"shared data absent: {name}")
    return path
