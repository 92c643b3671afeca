"""Where the shared photographs and packing problems are: beside the checkout, or in EKE_SHARED."""

from __future__ import annotations

import os
from pathlib import Path

import pytest


def shared_path(name: str) -> Path:
    """Return a file of the shared folder; skip the test, visibly, where it is absent."""
    root = Path(os.environ.get("EKE_SHARED") or Path(__file__).resolve().parents[2].parent / "shared")
    path = root / name
    if not path.exists():
        pytest.skip(f"not here: {name} (EKE_SHARED, or ../shared)")
    return path
