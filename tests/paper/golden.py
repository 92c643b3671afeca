"""Compare text with a golden file; ``EKE_GOLDEN=write`` writes it anew, to be looked at before it is kept."""

from __future__ import annotations

import os
from pathlib import Path

FOLDER = Path(__file__).parent / "golden"


def same_as_golden(name: str, text: str) -> None:
    """Fail where ``text`` differs from the golden file ``name``, showing the first line that does."""
    path = FOLDER / name
    if os.environ.get("EKE_GOLDEN") == "write":
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return
    kept = path.read_text(encoding="utf-8").splitlines()
    for number, (old, new) in enumerate(zip(kept, text.splitlines(), strict=False), 1):
        assert new == old, f"{name}, line {number}"
    assert len(text.splitlines()) == len(kept), name
