"""Pattern-like pieces of random size and shape, for scenes that nobody has drawn by hand."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from demo.drafting import Array, chain, flatten, length_mm
from demo.garments import DraftEdge, DraftPiece

__all__ = ["random_piece"]

Rng = np.random.Generator


def _edge(
    rng: Rng, name: str, *points: tuple[float, float], kind: str = "seam", notched: float = 0.5
) -> DraftEdge:
    path = chain(points)
    long = length_mm(path)
    notches: tuple[tuple[float, int], ...] = ()
    if kind == "seam" and long > 90 and rng.random() < notched:
        notches = ((float(rng.uniform(0.25, 0.75)) * long, int(rng.integers(1, 3))),)
    return DraftEdge(name, kind, path, (), notches)  # type: ignore[arg-type]


def _grain(x: float, low: float, high: float) -> Array:
    return np.array([[x, low], [x, high]])


def _bodice(rng: Rng) -> DraftPiece:
    w, h = rng.uniform(150, 250), rng.uniform(300, 430)
    neck_w, neck_d = rng.uniform(55, 85), rng.uniform(20, 95)
    sh_x, sh_y = neck_w + rng.uniform(60, 110), h - rng.uniform(22, 45)
    sh_x = min(sh_x, w - 12)
    arm = h - rng.uniform(170, 220)
    waist = w - rng.uniform(-15, 30)
    edges = (_edge(rng, "waist", (0, 0), (waist, rng.uniform(-8, 8)), kind="hem"),)
    end = edges[0].path[0][-1]
    sx, sy = float(end[0]), float(end[1])
    return DraftPiece(
        "bodice", "front",
        (
            *edges,
            _edge(rng, "side", (sx, sy), (w, arm)),
            _edge(rng, "armhole", (w, arm), (w - (w - sh_x) * 0.9, arm + 8), (sh_x - 14, arm + (sh_y - arm) * 0.35), (sh_x, sh_y)),
            _edge(rng, "shoulder", (sh_x, sh_y), (neck_w, h), notched=0.0),
            _edge(rng, "neck", (neck_w, h), (neck_w - 4, h - neck_d * 0.6), (neck_w * 0.55, h - neck_d), (0, h - neck_d)),
            _edge(rng, "centre", (0, h - neck_d), (0, 0), kind="fold"),
        ),
        _grain(w * 0.35, h * 0.2, h * 0.62),
        on_fold="centre",
    )  # fmt: skip


def _sleeve(rng: Rng) -> DraftPiece:
    w, h, cap = rng.uniform(240, 360), rng.uniform(180, 420), rng.uniform(70, 130)
    cuff = w * rng.uniform(0.6, 0.92)
    left, right = (w - cuff) / 2, (w + cuff) / 2
    top = w * rng.uniform(0.46, 0.54)
    return DraftPiece(
        "sleeve", "sleeve",
        (
            _edge(rng, "hem", (left, 0), (left + cuff / 3, -6), (left + 2 * cuff / 3, 4), (right, 0), kind="hem"),
            _edge(rng, "under_a", (right, 0), (w, h)),
            DraftEdge("cap", "seam", chain(
                [(w, h), (w - w * 0.16, h + cap * 0.12), (top + w * 0.21, h + cap), (top, h + cap)],
                [(top, h + cap), (top - w * 0.21, h + cap), (w * 0.14, h + cap * 0.22), (0, h)]), (), ((60.0, 1),)),
            _edge(rng, "under_b", (0, h), (left, 0)),
        ),
        _grain(w / 2, h * 0.15, h + cap * 0.5),
    )  # fmt: skip


def _gore(rng: Rng) -> DraftPiece:
    top, flare, h = rng.uniform(80, 170), rng.uniform(20, 110), rng.uniform(300, 560)
    bend = rng.uniform(0, 16)
    w = top + 2 * flare
    dip = flare / h * flare / 2
    return DraftPiece(
        "gore", "gore",
        (
            _edge(rng, "hem", (0, dip), (w * 0.3, -dip * 0.4), (w * 0.7, -dip * 0.4), (w, dip), kind="hem"),
            _edge(rng, "right", (w, dip), (w - flare * 0.45 + bend, h * 0.5), (flare + top + bend, h * 0.8), (flare + top, h)),
            _edge(rng, "waist", (flare + top, h), (flare + top * 0.7, h - bend), (flare + top * 0.3, h - bend), (flare, h), notched=0.2),
            _edge(rng, "left", (flare, h), (flare - bend, h * 0.8), (flare * 0.45 - bend, h * 0.5), (0, dip)),
        ),
        _grain(w / 2, h * 0.2, h * 0.8),
    )  # fmt: skip


def _pocket(rng: Rng) -> DraftPiece:
    w, h = rng.uniform(100, 190), rng.uniform(110, 210)
    r = rng.uniform(15, 45)
    k = r * 0.55228
    path = chain(
        [(0, h), (0, r)], [(0, r), (0, r - k), (r - k, 0), (r, 0)], [(r, 0), (w - r, 0)],
        [(w - r, 0), (w - r + k, 0), (w, r - k), (w, r)], [(w, r), (w, h)],
    )  # fmt: skip
    return DraftPiece(
        "pocket", "pocket",
        (DraftEdge("round", "hem", path), DraftEdge("top", "opening", chain([(w, h), (0, h)]))),
        _grain(w / 2, h * 0.25, h * 0.75),
    )  # fmt: skip


def _collar(rng: Rng) -> DraftPiece:
    w, h, lift, point = rng.uniform(170, 260), rng.uniform(55, 90), rng.uniform(5, 28), rng.uniform(0, 30)
    return DraftPiece(
        "collar", "collar",
        (
            _edge(rng, "neck", (0, 0), (w * 0.4, 0), (w * 0.75, lift * 0.4), (w, lift)),
            _edge(rng, "end", (w, lift), (w + point, lift + h), notched=0.0),
            _edge(rng, "edge", (w + point, lift + h), (w * 0.7, h + lift * 0.4), (w * 0.4, h), (0, h), notched=0.0),
            _edge(rng, "centre", (0, h), (0, 0), kind="fold"),
        ),
        _grain(w * 0.3, h * 0.2, h * 0.8),
        on_fold="centre",
    )  # fmt: skip


def _yoke(rng: Rng) -> DraftPiece:
    """Straight lines only, one inward corner."""
    w, h = rng.uniform(160, 300), rng.uniform(180, 330)
    a, b = rng.uniform(0.4, 0.7) * w, rng.uniform(0.35, 0.65) * h
    lean = rng.uniform(-12, 12)
    pts = [(0.0, 0.0), (w, lean), (w + lean, b), (a, b + lean), (a - lean, h), (0.0, h - lean)]
    edges = tuple(
        _edge(rng, f"e{i}", p, q, notched=0.3)
        for i, (p, q) in enumerate(zip(pts, pts[1:] + pts[:1], strict=True))
    )
    return DraftPiece("yoke", "yoke", edges, _grain(a * 0.4, h * 0.2, h * 0.8))


_MAKERS: tuple[Callable[[Rng], DraftPiece], ...] = (_bodice, _sleeve, _gore, _pocket, _collar, _yoke)


def random_piece(rng: Rng) -> DraftPiece:
    """Return a piece of a random kind and size: at least three corners or a long curve, up to 560 mm high."""
    return _MAKERS[int(rng.integers(len(_MAKERS)))](rng)


def box_turned(p: DraftPiece, turn_deg: float) -> tuple[Array, Array]:
    """Return least and greatest coordinates of a piece turned about its own origin."""
    a = np.radians(turn_deg)
    R = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    q = np.vstack([flatten(e.path, 2.0) for e in p.edges]) @ R.T
    return q.min(axis=0), q.max(axis=0)
