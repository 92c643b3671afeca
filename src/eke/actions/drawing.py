"""Page plans written in the format that a file name asks for; and a packing answer as a drawing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np

from eke.actions.laying import LayResult, rings_of
from eke.formats.faces import metrics
from eke.formats.registry import format_for
from eke.paper.page import LEAST_SIZE_MM, Area, Item, Page, Stroke, Words
from eke.paper.styles import CLOTH, CUT, WHITE

LONGEST_MM: Final = 260.0
"""The longer side of a drawing of an answer on paper."""
BORDER_MM: Final = 10.0
BETWEEN_MM: Final = 12.0


def written(
    pages: Sequence[Page], suffix: str, *, title: str, pictures: Mapping[str, bytes] | None = None
) -> bytes:
    """Return pages in the format of a file name's ending; where it holds one page, the first."""
    form = format_for(f"pages{suffix}")
    return form.write(pages if form.many else pages[:1], title, pictures or {})


def draw_answer(result: LayResult, suffix: str) -> bytes:
    """Return the drawing of a packing answer, its sheets side by side and in proportion."""
    problem, laid = result.problem, rings_of(result.answer)
    if problem.strip is not None:
        length = result.answer.length_mm or max(
            (float(p[:, 0].max()) for rings in laid.values() for _, p in rings),
            default=problem.strip.height_mm,
        )
        h = problem.strip.height_mm
        frame = np.array([[0.0, 0.0], [length, 0.0], [length, h], [0.0, h]])
        sheets: list[tuple[str | None, str, list[Any]]] = [(None, "strip", [frame])]
    else:
        sheets = [(s.id, s.id, [np.asarray(s.outline), *map(np.asarray, s.holes)]) for s in problem.sheets]
    widths = [float(np.ptp(rings[0][:, 0])) for _, _, rings in sheets]
    heights = [float(np.ptp(rings[0][:, 1])) for _, _, rings in sheets]
    room = LONGEST_MM - BETWEEN_MM * (len(sheets) - 1)
    scale = min(room / sum(widths), LONGEST_MM / max(heights))
    items: list[Item] = []
    x = BORDER_MM
    for (key, name, rings), width in zip(sheets, widths, strict=True):
        low = rings[0].min(axis=0)
        shift = np.array([x, BORDER_MM])
        ground = tuple((ring - low) * scale + shift for ring in rings)
        items.append(Area(ground, "#F3EEE3"))
        items.append(Stroke(ground, CLOTH, closed=True))
        for part, outline in laid.get(key, ()):
            ring = (outline - low) * scale + shift
            items += [Area((ring,), WHITE), Stroke((ring,), CUT, closed=True)]
            size = np.ptp(ring, axis=0)
            if metrics().width_mm(part, "measure", LEAST_SIZE_MM) < size[0] and size[1] > LEAST_SIZE_MM:
                at = ring.mean(axis=0)
                items.append(Words(part, float(at[0]), float(at[1]) - 1.5, LEAST_SIZE_MM, anchor="middle"))
        items.append(Words(name, x, BORDER_MM - 6.0, LEAST_SIZE_MM, "measure"))
        x += width * scale + BETWEEN_MM
    page = Page(
        x - BETWEEN_MM + BORDER_MM, max(heights) * scale + 2 * BORDER_MM + LEAST_SIZE_MM + 3.0,
        (Words(result.answer.verdict.sentence, BORDER_MM, max(heights) * scale + BORDER_MM + 5.0, LEAST_SIZE_MM, "sentence"), *items),
        "Lay",
    )  # fmt: skip
    return written([page], suffix.lower(), title="Lay")
