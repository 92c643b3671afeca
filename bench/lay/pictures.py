"""A lay as a picture (SVG): sheets, holes, zones and parts at true proportion."""

from __future__ import annotations

import math
from collections.abc import Sequence

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


def growth(points: Sequence[tuple[int, Sequence[float]]]) -> str:
    """Return a plot of seconds over pieces, both on scales of powers, one dot a run (SVG)."""
    wide, high, left, low = 640.0, 400.0, 60.0, 40.0
    seen = [s for _, runs in points for s in runs] or [1.0]
    n0, n1 = math.log10(points[0][0]), math.log10(points[-1][0])
    s0, s1 = math.floor(math.log10(min(seen))), math.ceil(math.log10(max(seen)) + 1e-9)

    def x(n: float) -> float:
        return left + (wide - left - 20.0) * (math.log10(n) - n0) / (n1 - n0)

    def y(s: float) -> float:
        return high - low - (high - low - 20.0) * (math.log10(s) - s0) / max(1, s1 - s0)

    body = []
    for n, _ in points:
        body.append(f'<path stroke="#ddd" d="M{x(n):.1f},20V{high - low}"/>')
        body.append(f'<text x="{x(n):.1f}" y="{high - low + 18}" text-anchor="middle">{n}</text>')
    for k in range(s0, s1 + 1):
        body.append(f'<path stroke="#ddd" d="M{left},{y(10.0**k):.1f}H{wide - 20}"/>')
        body.append(f'<text x="{left - 8}" y="{y(10.0**k) + 4:.1f}" text-anchor="end">{10.0**k:g} s</text>')
    middle = [(n, sorted(runs)[len(runs) // 2]) for n, runs in points if runs]
    line = "L".join(f"{x(n):.1f},{y(s):.1f}" for n, s in middle)
    body.append(f'<path fill="none" stroke="{TONES[5]}" stroke-width="2" d="M{line}"/>')
    body += [
        f'<circle cx="{x(n):.1f}" cy="{y(s):.1f}" r="4" fill="{TONES[1]}"/>'
        for n, runs in points
        for s in runs
    ]
    body.append(f'<text x="{wide / 2}" y="{high - 4}" text-anchor="middle">pieces</text>')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:g} {high:g}" width="{wide:g}" '
        f'font-family="sans-serif" font-size="13" fill="#333">{"".join(body)}</svg>\n'
    )
