"""The shared nesting cases, and cases made of their pieces: many pieces on several cloths."""

from __future__ import annotations

import json
import math
import os
from pathlib import Path
from typing import Any

import numpy as np
from shapely.geometry import Polygon

from eke.lay import Part, Problem, Sheet, problem_from_dict

ODD = ("shirt_remnant_L", "curtain_burn", "tablecloth_round", "remnants_three")
STRIPS = ("albano", "shirts", "trousers", "marques", "dagli", "mao", "swim", "fu", "jakobs1", "shapes0")


def shared() -> Path:
    """Return the folder of the shared cases: ``EKE_SHARED`` or ``../shared`` beside the checkout."""
    home = os.environ.get("EKE_SHARED")
    root = Path(home) if home else Path(__file__).resolve().parents[2].parent / "shared"
    folder = root / "nesting"
    if not folder.is_dir():
        raise SystemExit(f"No nesting cases in {folder}. Set EKE_SHARED to the folder that holds “nesting”.")
    return folder


def case_path(name: str) -> Path:
    """Return the file of a case."""
    for path in (shared() / f"{name}.json", shared() / "oddcloth" / f"{name}.json"):
        if path.is_file():
            return path
    raise SystemExit(f"There is no case called “{name}”.")


def load(name: str, fill: float | None = None) -> tuple[dict[str, Any], Problem]:
    """Return a case as read and as a problem."""
    raw = json.loads(case_path(name).read_text(encoding="utf-8"))
    return raw, problem_from_dict(raw, fill=fill)


def many(pieces: int, sheets: int, fill: float, seed: int) -> Problem:
    """Return a case of ``pieces`` pieces, drawn from the odd-cloth cases, on random odd cloths."""
    rng = np.random.default_rng(seed)
    stock: list[Part] = []
    for name in ODD:
        stock += load(name, 0.6)[1].parts
    parts = []
    for k in range(pieces):
        p = stock[int(rng.integers(len(stock)))]
        parts.append(Part(f"{p.id}_{k}", p.outline, 1, p.turns, priority=p.priority))
    area = sum(Polygon(p.outline).area for p in parts)
    weights = rng.uniform(0.6, 1.4, sheets)
    outlines = []
    for w in weights:
        t = np.linspace(0, 2 * math.pi, 24, endpoint=False)
        r = 1 + 0.12 * np.sin(3 * t + rng.uniform(0, 6)) + 0.08 * np.sin(5 * t + rng.uniform(0, 6))
        shape = np.column_stack([1.3 * r * np.cos(t), r * np.sin(t)])
        outlines.append(shape * math.sqrt(w / Polygon(shape).area))
    scale = math.sqrt(area / fill / sum(Polygon(o).area for o in outlines))
    return Problem(
        parts, tuple(Sheet(f"cloth{k}", o * scale) for k, o in enumerate(outlines)), gap_parts_mm=2.0,
        name=f"{pieces} on {sheets}", fill=None,
    )  # fmt: skip
