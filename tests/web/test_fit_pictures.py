"""Pictures of every fit change, before and after, drawn from what the server shows of it: ``docs/pictures/fit``.

Each kind is drawn with the one of its first plans on the sample garment that changes most to the eye. Written anew with
``EKE_RENEW=1``; without it the pictures that lie there must be what the program does today.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
from scipy.spatial import cKDTree
from starlette.testclient import TestClient

from eke.fit.kinds import fit_kinds

from .test_named_changes import PLANS, names_of, renamed, view, window

__all__ = ["view", "window"]

PICTURES: Final = Path(__file__).parents[2] / "docs" / "pictures" / "fit"
PAGE: Final = Path(__file__).parents[2] / "docs" / "reference" / "fit-changes.md"
TRIED: Final = 6
"""So many plans of a kind that can be shown are compared."""
MOST_PIECES: Final = 4
GAP_MM: Final = 60.0
KINDS: Final = sorted(kind.name for kind in fit_kinds())


def ring(piece: Mapping[str, Any]) -> list[tuple[float, float]]:
    """The outline of a piece as points close enough to be seen as curves."""
    out: list[tuple[float, float]] = []
    for segment in (s for edge in piece["edges"] for s in edge["segments"]):
        points = np.asarray(segment["points"], dtype=float)
        t = np.linspace(0.0, 1.0, 16 if len(points) == 4 else 6, endpoint=False)[:, None]
        u = 1.0 - t
        if len(points) == 4:
            at = u**3 * points[0] + 3 * u * u * t * points[1] + 3 * u * t * t * points[2] + t**3 * points[3]
        else:
            at = u * points[0] + t * points[1]
        out += [(float(x), float(y)) for x, y in at]
    return out


def moved_mm(change: Mapping[str, Any]) -> float:
    """How far the outline of a piece moves to the eye; a piece that comes or goes moves most."""
    if change["before"] is None or change["after"] is None:
        return 200.0
    a, b = np.array(ring(change["before"])), np.array(ring(change["after"]))
    return float(max(cKDTree(a).query(b)[0].max(), cKDTree(b).query(a)[0].max()))


def drawn(told: Mapping[str, Any]) -> str:
    """An SVG: each changed piece as it was (dashed) under what it becomes."""
    changes = sorted(told["changes"], key=lambda c: (-moved_mm(c), c["name"]))[:MOST_PIECES]
    body, left, height = [], 0.0, 0.0
    for change in sorted(changes, key=lambda c: c["name"]):
        rings = {at: ring(change[at]) for at in ("before", "after") if change[at] is not None}
        every = np.concatenate([np.array(r) for r in rings.values()])
        low, high = every.min(axis=0), every.max(axis=0)
        for at, style in (("after", 'class="after"'), ("before", 'class="before"')):
            if at in rings:
                body.append(f'<path {style} d="{path(rings[at], left - low[0], high[1])}"/>')
        left += float(high[0] - low[0]) + GAP_MM
        height = max(height, float(high[1] - low[1]))
    width = left - GAP_MM
    style = (
        ".after{fill:#FFFDF8;stroke:#1F2A44;stroke-width:2.5}"
        ".before{fill:none;stroke:#B23A48;stroke-width:2;stroke-dasharray:10 6}"
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-20 -20 {width + 40:.0f} {height + 40:.0f}" '
        f'width="{min(640, width + 40):.0f}">\n<style>{style}</style>\n'
        f'<rect x="-20" y="-20" width="{width + 40:.0f}" height="{height + 40:.0f}" fill="#F5EFE3"/>\n'
        + "\n".join(body)
        + "\n</svg>\n"
    )


def path(points: Sequence[tuple[float, float]], right: float, top: float) -> str:
    """SVG path data, y down, to half a millimetre."""
    placed = (f"{round(2 * (x + right)) / 2:g} {round(2 * (top - y)) / 2:g}" for x, y in points)
    return "M" + "L".join(placed) + "Z"


@pytest.mark.parametrize("kind", KINDS)
def test_the_picture_of_a_change_is_what_it_does(
    kind: str, window: tuple[TestClient, str], view: Any
) -> None:
    client, address = window
    back = {name: real for real, name in names_of(view).items()}
    best: tuple[float, Mapping[str, Any]] | None = None
    shown = 0
    for plan in json.loads(PLANS.read_text("utf-8")):
        if plan["change"] != kind or shown == TRIED:
            continue
        said = {"kind": kind, "params": renamed(plan["params"], back)}
        answer = client.post(f"{address}/preview", json=said)
        told = answer.json()
        if answer.status_code != 200 or not told["changes"]:
            continue
        shown += 1
        size = max(moved_mm(c) for c in told["changes"])
        if best is None or size > best[0]:
            best = (size, told)
    assert best is not None, "no plan of this kind can be shown"
    picture = drawn(best[1])
    file = PICTURES / f"{kind.removeprefix('fit.')}.svg"
    if os.environ.get("EKE_RENEW") == "1":
        PICTURES.mkdir(exist_ok=True)
        file.write_text(picture, "utf-8")
    assert file.read_text("utf-8") == picture


@pytest.mark.parametrize("kind", KINDS)
def test_the_page_of_fit_changes_shows_it(kind: str) -> None:
    section = PAGE.read_text("utf-8").split(f"\n## {kind}\n")[1].split("\n## ")[0]
    assert f"](../pictures/fit/{kind.removeprefix('fit.')}.svg)" in section
