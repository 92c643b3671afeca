"""Two stages of a garment as a drawing: the pieces that differ, the earlier line dashed and the later one solid."""

from __future__ import annotations

from typing import Final

import numpy as np

from eke.actions.drawing import BETWEEN_MM, BORDER_MM, LONGEST_MM, written
from eke.actions.revisions import TwoStages
from eke.formats.faces import metrics
from eke.paper.page import LEAST_SIZE_MM, Item, Page, PointsMm, Stroke, Words, segment
from eke.paper.styles import CUT, QUIET, LineStyle
from eke.pattern.between import PieceBetween

EARLIER: Final = LineStyle("as it was", 0.35, (2.0, 1.4), QUIET)
LATER: Final = CUT
LINE_MM: Final = LEAST_SIZE_MM * 1.5
KEY_MM: Final = 14.0
"""Length of a stroke that shows what a kind of line means."""
FLATTEN_MM: Final = 0.1


def draw_overlay(found: TwoStages, suffix: str) -> bytes:
    """Return the pieces that differ between two stages, one over the other, in proportion and not in true scale."""
    differing = [one for one in found.pieces if one.how != "same"]
    drawn = [_rings(one) for one in differing]
    boxes = [np.vstack([ring for ring in both if ring is not None]) for both in drawn]
    sizes = [np.ptp(box, axis=0) for box in boxes]
    across = LONGEST_MM - BETWEEN_MM * max(len(sizes) - 1, 0)
    scale = min(
        [1.0, *([across / sum(s[0] for s in sizes), LONGEST_MM / max(s[1] for s in sizes)] if sizes else [])]
    )
    high = max((float(s[1]) for s in sizes), default=0.0) * scale
    base = BORDER_MM + LINE_MM
    items: list[Item] = []
    x = BORDER_MM
    for one, both, box, size in zip(differing, drawn, boxes, sizes, strict=True):
        shift = np.array([x, base]) - box.min(axis=0) * scale
        for ring, style in zip(both, (EARLIER, LATER), strict=True):
            if ring is not None:
                items.append(Stroke((ring * scale + shift,), style, closed=True))
        wide = max(float(size[0]) * scale, metrics().width_mm(_said(one), "measure", LEAST_SIZE_MM))
        items.append(Words(_said(one), x, BORDER_MM, LEAST_SIZE_MM))
        x += wide + BETWEEN_MM
    y = base + high + LINE_MM
    for style, words in ((LATER, found.later.words), (EARLIER, found.earlier.words)):
        items.append(Stroke((segment(BORDER_MM, y + 1.4, BORDER_MM + KEY_MM, y + 1.4),), style))
        items.append(Words(words, BORDER_MM + KEY_MM + 3.0, y, LEAST_SIZE_MM))
        x = max(x, BORDER_MM + KEY_MM + 3.0 + metrics().width_mm(words, "measure", LEAST_SIZE_MM))
        y += LINE_MM
    title = f"{found.garment}, two stages" if differing else f"{found.garment}: no piece differs"
    items.append(Words(title, BORDER_MM, y, LEAST_SIZE_MM * 1.25, "title"))
    x = max(x, BORDER_MM + metrics().width_mm(title, "title", LEAST_SIZE_MM * 1.25))
    page = Page(x + BORDER_MM, y + LINE_MM + BORDER_MM, tuple(items), title)
    return written([page], suffix.lower(), title=title)


def _rings(one: PieceBetween) -> tuple[PointsMm | None, PointsMm | None]:
    before = (
        None if one.before is None else one.before.outline.flatten(FLATTEN_MM)[:-1] + np.array(one.shift_mm)
    )
    after = None if one.after is None else one.after.outline.flatten(FLATTEN_MM)[:-1]
    return before, after


def _said(one: PieceBetween) -> str:
    return {"added": f"{one.name}: new", "removed": f"{one.name}: gone"}.get(one.how, one.name)
