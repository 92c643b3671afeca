"""A lay as a picture (SVG): sheets, holes, zones and parts at true proportion."""

from __future__ import annotations

import math

import numpy as np

from eke.lay import Answer

TONES = ("#7f9c96", "#b08d74", "#8a8fb0", "#a9a36b", "#9f7f93", "#6f93ab", "#b39a8f", "#83a079")


def _ring(points: np.ndarray) -> str:
    return "M" + "L".join(f"{x:.2f},{-y:.2f}" for x, y in points) + "Z"


def picture(answer: Answer) -> str:
    """Return the SVG; several sheets stand side by side."""
    problem = answer.problem
    assert problem is not None
    parts = {p.id: p for p in problem.parts}
    tone = {p.id: TONES[k % len(TONES)] for k, p in enumerate(problem.parts)}
    bodies: list[str] = []
    x_offset = 0.0
    low = high = 0.0
    strip = problem.strip
    sheets = [None] if strip is not None else list(problem.sheets)
    for sheet in sheets:
        if sheet is None:
            assert strip is not None
            length = answer.length_mm or 1.0
            outline = np.array([[0, 0], [length, 0], [length, strip.height_mm], [0, strip.height_mm]])
            holes: list[np.ndarray] = []
            zones: list[np.ndarray] = []
        else:
            outline = np.asarray(sheet.outline)
            holes, zones = list(sheet.holes), [z.polygon for z in sheet.zones]
        size = float(outline[:, 0].max() - outline[:, 0].min())
        shift = x_offset - float(outline[:, 0].min())
        thin = max(size, 1.0) / 600
        body = [f'<g transform="translate({shift:.2f},0)" stroke="#333" stroke-width="{thin:.3f}">']
        rings = "".join(map(_ring, [outline, *holes]))
        body.append(f'<path fill="#f6f1e4" fill-rule="evenodd" d="{rings}"/>')
        body += [f'<path fill="#e3d3b0" d="{_ring(z)}"/>' for z in zones]
        for p in answer.placements:
            if sheet is not None and p.sheet != sheet.id:
                continue
            a = math.radians(p.turn_deg)
            pts = np.asarray(parts[p.part].outline, float) * ([-1.0, 1.0] if p.mirrored else [1.0, 1.0])
            turned = pts @ np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])
            laid = turned + np.array([p.x_mm, p.y_mm])
            if strip is not None:
                laid = laid - np.array([_left(answer), 0.0])
            body.append(
                f'<path fill="{tone[p.part]}" fill-opacity="0.85" d="{_ring(laid)}"><title>{p.part}</title></path>'
            )
        body.append("</g>")
        bodies.append("".join(body))
        low = min(low, float(outline[:, 1].min()))
        high = max(high, float(outline[:, 1].max()))
        x_offset += size * 1.05
    pad = 0.01 * max(x_offset, high - low)
    box = f"{-pad:.2f} {-high - pad:.2f} {x_offset + 2 * pad:.2f} {high - low + 2 * pad:.2f}"
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" width="1000">{"".join(bodies)}</svg>\n'


def _left(answer: Answer) -> float:
    problem = answer.problem
    assert problem is not None
    parts = {p.id: p for p in problem.parts}
    least = math.inf
    for p in answer.placements:
        a = math.radians(p.turn_deg)
        pts = np.asarray(parts[p.part].outline, float) * ([-1.0, 1.0] if p.mirrored else [1.0, 1.0])
        least = min(least, float((pts @ np.array([math.cos(a), -math.sin(a)])).min()) + p.x_mm)
    return 0.0 if math.isinf(least) else least
