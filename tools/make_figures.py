"""Draw the figures of docs/explanation/lay.md by the code that they explain: ``python tools/make_figures.py``.

Pieces and cloth are made up. All runs are bounded by passes, so the figures come out alike on one machine.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from eke.lay import Part, Placement, Problem, Sheet, solve, warm
from eke.lay.collide.poles import find_poles
from eke.lay.collide.regions import distance_at
from eke.lay.prepare import Ground, prepare
from eke.lay.rest import best_of, outline_of
from eke.lay.search import whole
from eke.lay.search.hand import Hand, Lay, Pace

OUT = Path(__file__).resolve().parents[1] / "docs" / "pictures"
INK, QUIET, ROSE, CLOTH = "#1f2a44", "#5b6275", "#b23a48", "#e6dcc6"
TINTS = ("#f3e2d3", "#dfe8ee", "#e4ead9", "#f1dfe2", "#ece5f0", "#f4ebc9")
PANEL_MM = 1150.0
"""How far the panels of a figure stand apart."""


def curve(*points: tuple[float, float]) -> np.ndarray:
    """Return points through which a curve of the third degree runs (four given points)."""
    a, b, c, d = (np.array(p, float) for p in points)
    t = np.linspace(0.0, 1.0, 9)[:-1, None]
    return a * (1 - t) ** 3 + 3 * b * t * (1 - t) ** 2 + 3 * c * t * t * (1 - t) + d * t**3


def back() -> np.ndarray:
    """Return a bodice back with armholes and a neck."""
    half = np.vstack([
        [[0, 0], [240, 0]],
        curve((250, 220), (205, 230), (190, 300), (195, 370)),
        [[195, 370]],
        curve((75, 405), (60, 385), (30, 382), (0, 382)),
    ])  # fmt: skip
    return np.vstack([half, (half * [-1, 1])[::-1][:-1]])


def sleeve() -> np.ndarray:
    """Return a short sleeve with its cap."""
    cap = np.vstack([curve((150, 120), (100, 130), (80, 245), (0, 245))])
    return np.vstack([[[-130, 0], [130, 0]], cap, [[0, 245]], (cap * [-1, 1])[::-1]])


PARTS = (
    Part("back", back(), 1, (0.0, 180.0)),
    Part("front", back() * [0.52, 1.0] @ np.array([[1.0, 0.03], [0.0, 1.0]]), 2, (0.0, 180.0)),
    Part("sleeve", sleeve(), 2, (0.0, 180.0)),
    Part("collar", np.array([[0, 0], [400, 0], [420, 60], [210, 75], [-20, 60]], float), 2, (0.0, 180.0)),
    Part("pocket", np.array([[0, 0], [130, 0], [130, 110], [65, 140], [0, 110]], float), 2, (0.0, 180.0)),
    Part("band", np.array([[0, 0], [520, 0], [520, 55], [0, 55]], float), 2, (0.0, 180.0)),
)
CLOTH_OUTLINE = np.array([[0, 0], [1000, 20], [1010, 560], [620, 570], [600, 900], [10, 880]], float) * 1.06
HOLE = np.array([[430, 300], [480, 290], [500, 330], [470, 360], [430, 345]], float) * 1.06
PROBLEM = Problem(
    PARTS, (Sheet("remnant", CLOTH_OUTLINE, (HOLE,)),), gap_parts_mm=3.0, gap_edge_mm=0.0, gap_hole_mm=3.0
)


def ring(points: np.ndarray) -> str:
    """Return a closed path, y up."""
    return "M" + "L".join(f"{x:.1f},{-y:.1f}" for x, y in points) + "Z"


def cloth_drawn() -> str:
    """Return the cloth with its hole."""
    return (
        f'<path d="{ring(CLOTH_OUTLINE)}{ring(HOLE)}" fill="{CLOTH}" fill-rule="evenodd" stroke="{QUIET}"/>'
    )


def lay_drawn(placements: Sequence[Placement]) -> str:
    """Return the cloth and what lies on it; overlaps show in red."""
    body = [cloth_drawn()]
    tint = {p.id: TINTS[k % len(TINTS)] for k, p in enumerate(PARTS)}
    outlines = [(p.part, outline_of(PROBLEM, p)) for p in placements]
    for name, shape in outlines:
        body.append(
            f'<path d="{ring(np.asarray(shape.exterior.coords)[:-1])}" fill="{tint[name]}" stroke="{INK}"/>'
        )
    free = outline_of(Problem([Part("c", CLOTH_OUTLINE)]), Placement("c", None, 0.0, 0.0, 0.0))
    for k, (_, one) in enumerate(outlines):
        bad = [one.intersection(other) for _, other in outlines[:k]] + [one.difference(free)]
        for shape in bad:
            for part in getattr(shape, "geoms", [shape]):
                red = ring(np.asarray(part.exterior.coords)[:-1]) if part.area > 1.0 else ""
                body.append(f'<path d="{red}" fill="{ROSE}" opacity="0.7"/>' if red else "")
    return "".join(body)


def figure(name: str, panels: Sequence[tuple[str, str]]) -> None:
    """Write a figure of panels side by side, each with a word below."""
    body = []
    for k, (drawn, words) in enumerate(panels):
        body.append(
            f'<g transform="translate({k * PANEL_MM},0)" stroke-width="3" stroke-linejoin="round">{drawn}</g>'
        )
        body.append(f'<text x="{k * PANEL_MM}" y="90" font-size="44" fill="{INK}">{words}</text>')
    wide = PANEL_MM * len(panels)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-30 -980 {wide} 1120" width="{wide / 3:.0f}" '
        f'font-family="sans-serif">{"".join(body)}</svg>\n'
    )
    (OUT / f"{name}.svg").write_text(svg, encoding="utf-8")
    print(f"docs/pictures/{name}.svg")


def passes_figure(ground: Ground) -> None:
    """Draw a lay from its start until nothing overlaps."""
    hand = Hand(ground, 5, 0, Pace(None, 4000, lambda: False, 1), lambda _: Lay((), (), True, 0, 0))
    whole.construct(hand, samples=6)
    panels = [(lay_drawn(hand.placements()), "the start")]
    for most in (2, 6):
        hand.separate(most)
        panels.append((lay_drawn(hand.placements()), f"after {hand.passes} passes"))
    while (loss := hand.separate(4000)) > 0.0 and hand.go_on():
        whole.disrupt(hand)
        hand.forget_weights()
    assert loss <= 0.0, "no lay was found in the passes allowed: the last panel would not be true"
    panels.append((lay_drawn(hand.placements()), f"after {hand.passes} passes: nothing overlaps"))
    figure("lay-passes", panels)


def measure_figure(ground: Ground) -> None:
    """Draw the circles in two pieces, and the distance field of the cloth."""
    body = []
    for part, move in ((PARTS[0], (260.0, 60.0)), (PARTS[2], (560.0, 380.0))):
        points = np.asarray(part.outline, float)
        area = abs(outline_of(Problem([part]), Placement(part.id, None, 0.0, 0.0, 0.0)).area)
        poles = find_poles(np.ascontiguousarray(points[:, 0]), np.ascontiguousarray(points[:, 1]), area)
        body.append(f'<path d="{ring(points + move)}" fill="{TINTS[1]}" stroke="{INK}"/>')
        body += [
            f'<circle cx="{x + move[0]:.1f}" cy="{-y - move[1]:.1f}" r="{r:.1f}" fill="none" stroke="{ROSE}"/>'
            for x, y, r in poles
        ]
    f = ground.field
    cell = 20.0
    field = [cloth_drawn()]
    for x in np.arange(-20.0, 1081.0, cell):
        for y in np.arange(-20.0, 981.0, cell):
            d = (
                distance_at(f.region_i, f.region_f, f.grid, 0, x * ground.scale, y * ground.scale)
                / ground.scale
            )
            shade = min(1.0, abs(d) / 220.0)
            tone = ROSE if d < 0 else "#2b6391"
            field.append(
                f'<rect x="{x - cell / 2:.0f}" y="{-y - cell / 2:.0f}" width="{cell:.0f}" height="{cell:.0f}" '
                f'fill="{tone}" opacity="{shade * 0.75:.2f}"/>'
            )
    figure(
        "lay-measure",
        [("".join(body), "poles in two pieces"), ("".join(field), "how far from the edge: inside, outside")],
    )


def leftover_figure() -> None:
    """Draw a lay as it was found, and after its leftover was made useful."""
    panels = []
    for wish, words in ((0, "everything is on"), (900, "the leftover made useful")):
        answer = solve(PROBLEM, passes=4000, seed=2, workers=1, leftover=wish)
        assert answer.complete
        best = best_of(answer.leftovers)
        assert best is not None
        assert best.rectangle is not None
        assert best.words is not None, "what is left is not worth a word: another seed shows more"
        x0, y0, x1, y1 = best.rectangle
        frame = ring(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
        dashed = f'<path d="{frame}" fill="none" stroke="{ROSE}" stroke-width="8" stroke-dasharray="24 14"/>'
        panels.append((lay_drawn(answer.placements) + dashed, f"{words}: {best.words}"))
    figure("lay-leftover", panels)


def main() -> None:
    """Draw all."""
    warm.prepare()
    OUT.mkdir(parents=True, exist_ok=True)
    ground = prepare(PROBLEM)
    passes_figure(ground)
    measure_figure(ground)
    leftover_figure()


if __name__ == "__main__":
    main()
