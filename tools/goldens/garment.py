"""Garments as the front end gets them, as far as its geometry needs: the demo's pinafore, and a shirt."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from demo.garments import SEAMS, DraftPiece, pinafore

from eke.derive import Derived, cut_outline, derive, recipe_kinds
from eke.geometry import Cubic, Line, Path, Pt
from eke.pattern.model import (
    CutOf,
    Dart,
    Edge,
    EdgeId,
    EdgePlace,
    Notch,
    Pattern,
    Piece,
    PieceId,
    Recipe,
    RunPart,
    Seam,
    SeamId,
)
from eke.pattern.walking import walk

PAIRED = ("side_front", "side_back", "strap")


def demo_pinafore() -> Pattern:
    """Return the demo's pinafore as a pattern, with its seams, facings and lining."""
    pattern = Pattern("Pinafore")
    for draft in pinafore():
        pattern = pattern.with_piece(_piece(draft))
    for said in SEAMS:
        pattern = pattern.with_seam(
            Seam(SeamId(said.name), _run(said.a), _run(said.b), said.name)  # sewn from the hem upwards
        )
    for name, source, edge in (
        ("neck facing front", "front", "front.neck"),
        ("neck facing back", "back", "back.neck"),
        ("armhole facing front", "side_front", "side_front.armhole"),
    ):
        pattern = pattern.with_recipe(
            Recipe(name, "facing", name, (source,), {"edges": [edge], "width_mm": 45.0})
        )
    panels = ("front", "side_front", "side_back", "back")
    return pattern.with_recipe(Recipe("lining", "lining", "lining", panels))


def _piece(draft: DraftPiece) -> Piece:
    edges = []
    notches = []
    for e in draft.edges:
        segments = tuple(
            Line(_pt(s[0]), _pt(s[1])) if len(s) == 2 else Cubic(*(_pt(p) for p in s)) for s in e.path
        )
        edges.append(Edge(EdgeId(f"{draft.id}.{e.id}"), Path(segments), e.kind, e.id))
        for i, (mm, count) in enumerate(e.notches_mm):
            place = EdgePlace(EdgeId(f"{draft.id}.{e.id}"), mm=round(float(mm), 6))
            notches.append(Notch(f"{draft.id}.{e.id}.{i + 1}", place, count))
    return Piece(
        PieceId(draft.id),
        draft.name,
        tuple(edges),
        tuple(notches),
        grain=(_pt(draft.grain[0]), _pt(draft.grain[1])),
        fold=EdgeId(f"{draft.id}.{draft.on_fold}") if draft.on_fold else None,
        cuts=(CutOf("outer", 1, draft.id in PAIRED),),
    )


def _pt(p: Any) -> Pt:
    return (round(float(p[0]), 6), round(float(p[1]), 6))


def _run(parts: Sequence[str]) -> tuple[RunPart, ...]:
    named = [(part.removeprefix("-"), part.startswith("-")) for part in parts]
    return tuple(RunPart(PieceId(e.partition(".")[0]), EdgeId(e), back) for e, back in named)


def shirt() -> Pattern:
    """Return a work shirt: front with a dart, back on the fold, sleeve set into an armhole across both."""

    def curve(p: Pt, leave_deg: float, q: Pt, arrive_deg: float, pull: float = 0.38) -> Path:
        arm = pull * math.dist(p, q)
        a, b = math.radians(leave_deg), math.radians(arrive_deg)
        one = (round(p[0] + arm * math.cos(a), 6), round(p[1] + arm * math.sin(a), 6))
        two = (round(q[0] - arm * math.cos(b), 6), round(q[1] - arm * math.sin(b), 6))
        return Path((Cubic(p, one, two, q),))

    def half(name: str, neck_mm: float, *, fold: bool, dart: bool, notch: int) -> Piece:
        hem_l, hem_r, under = (0.0, 0.0), (252.0, 0.0), (246.0, 400.0)
        tip, neck_side, neck_mid = (190.0, 590.0), (76.0, 632.0), (0.0, 632.0 - neck_mm)
        rows: list[tuple[str, Path, str]] = [("hem", Path.line(hem_l, hem_r), "hem")]
        darts: tuple[Dart, ...] = ()
        if dart:
            low, apex, high = (250.5, 290.0), (140.0, 330.0), (249.9, 318.0)
            rows += [
                ("side-low", Path.line(hem_r, low), "seam"),
                ("leg-low", Path.line(low, apex), "seam"),
                ("leg-high", Path.line(apex, high), "seam"),
                ("side-high", Path.line(high, under), "seam"),
            ]
            darts = (Dart("dart", EdgeId(f"{name}.leg-low"), EdgeId(f"{name}.leg-high")),)
        else:
            rows.append(("side", Path.line(hem_r, under), "seam"))
        rows += [
            ("armhole", curve(under, 176.0, tip, 74.0), "seam"),
            ("shoulder", Path.line(tip, neck_side), "seam"),
            ("neck", curve(neck_side, 250.0, neck_mid, 180.0), "opening"),
            ("centre", Path.line(neck_mid, hem_l), "fold" if fold else "opening"),
        ]
        edges = tuple(Edge(EdgeId(f"{name}.{n}"), path, kind, n) for n, path, kind in rows)  # type: ignore[arg-type]
        notches = (
            Notch(f"{name}.arm", EdgePlace(EdgeId(f"{name}.armhole"), mm=88.0), notch),
            Notch(
                f"{name}.waist", EdgePlace(EdgeId(f"{name}.{'side-low' if dart else 'side'}"), fraction=0.5)
            ),
        )
        return Piece(
            PieceId(name),
            name,
            edges,
            notches,
            darts=darts,
            grain=((60.0, 60.0), (60.0, 360.0)),
            fold=EdgeId(f"{name}.centre") if fold else None,
            cuts=(CutOf("outer", 1, not fold),),
        )

    front = half("front", 92.0, fold=False, dart=True, notch=1)
    back = half("back", 24.0, fold=True, dart=False, notch=2)
    cap_top, left, right = (0.0, 560.0), (-205.0, 420.0), (205.0, 420.0)
    sleeve = Piece(
        PieceId("sleeve"),
        "sleeve",
        (
            Edge(EdgeId("sleeve.hem"), Path.line((-150.0, 0.0), (150.0, 0.0)), "hem", "hem"),
            Edge(EdgeId("sleeve.under-right"), Path.line((150.0, 0.0), right), "seam", "under-right"),
            Edge(EdgeId("sleeve.cap-right"), curve(right, 170.0, cap_top, 180.0), "seam", "cap-right"),
            Edge(EdgeId("sleeve.cap-left"), curve(cap_top, 180.0, left, 190.0), "seam", "cap-left"),
            Edge(EdgeId("sleeve.under-left"), Path.line(left, (-150.0, 0.0)), "seam", "under-left"),
        ),
        (
            Notch("sleeve.one", EdgePlace(EdgeId("sleeve.cap-right"), mm=90.0), 1),
            Notch("sleeve.two", EdgePlace(EdgeId("sleeve.cap-left"), mm=90.0, from_end="end"), 2),
        ),
        grain=((0.0, 60.0), (0.0, 460.0)),
        cuts=(CutOf("outer", 1, True),),
    )
    pocket = Piece(
        PieceId("pocket"),
        "pocket",
        tuple(
            Edge(EdgeId(f"pocket.{n}"), Path.line(p, q), kind, n)  # type: ignore[arg-type]
            for n, p, q, kind in (
                ("bottom", (0.0, 0.0), (120.0, 0.0), "seam"),
                ("right", (120.0, 0.0), (120.0, 140.0), "seam"),
                ("top", (120.0, 140.0), (0.0, 140.0), "hem"),
                ("left", (0.0, 140.0), (0.0, 0.0), "seam"),
            )
        ),
        grain=((60.0, 20.0), (60.0, 120.0)),
    )
    pattern = Pattern("Shirt")
    for piece in (sleeve, pocket, back, front):
        pattern = pattern.with_piece(piece)

    def sewn(name: str, a: Sequence[str], b: Sequence[str], ease_mm: float = 0.0) -> Seam:
        return Seam(SeamId(name), _run(a), _run(b), name, ease_mm)

    for seam in (
        # front and back lie with their centres at the left: both sides are walked from the hem
        sewn("side", ("front.side-low", "front.side-high"), ("back.side",)),
        sewn("shoulder", ("front.shoulder",), ("back.shoulder",), -4.0),
        sewn("underarm", ("sleeve.under-right",), ("-sleeve.under-left",)),
        sewn(
            "armhole",
            ("sleeve.cap-right", "sleeve.cap-left"),
            ("front.armhole", "-back.armhole"),
            18.0,
        ),
        sewn("dart", ("front.leg-low",), ("-front.leg-high",)),
    ):
        pattern = pattern.with_seam(seam)
    return pattern


# ---------------------------------------------------------------- as the front end gets them


def points_of(path: Path) -> list[dict[str, Any]]:
    """Return the segments of a path as the front end gets them."""
    return [{"points": [list(p) for p in s.points]} for s in path.segments]


def piece_view(piece: Piece, recipe: str | None = None) -> dict[str, Any]:
    """Return what the front end's geometry needs of a piece, under the names that it has there."""
    return {
        "id": piece.id,
        "name": piece.name,
        "edges": [
            {
                "id": e.id,
                "name": e.name,
                "kind": e.kind,
                "shape": e.shape,
                "segments": points_of(e.path),
                "length_mm": e.path.length_mm,
            }
            for e in piece.edges
        ],
        "notches": [
            {"id": n.id, "edge": n.at.edge, "mm": piece.edge(n.at.edge).mm_of(n.at), "count": n.count}
            for n in piece.notches
        ],
        "darts": [{"id": d.id, "first_leg": d.first_leg, "second_leg": d.second_leg} for d in piece.darts],
        "fold": piece.fold,
        "cuts": [{"role": c.role, "count": c.count, "pairs": c.pairs} for c in piece.cuts],
        "cut_outline": [list(map(float, p)) for p in cut_outline(piece).ring],
        "recipe": recipe,
    }


def view_of(pattern: Pattern, derived: Mapping[PieceId, Derived]) -> dict[str, Any]:
    """Return a garment as the front end's geometry gets it."""
    return {
        "id": pattern.name.lower(),
        "pieces": [piece_view(p) for p in pattern.pieces.values()],
        "derived": [piece_view(d.piece, d.recipe) for d in derived.values()],
        "seams": [
            {
                "id": s.id,
                "name": s.name,
                **{
                    side: [{"piece": p.piece, "edge": p.edge, "reverse": p.reverse} for p in run]
                    for side, run in (("a", s.a), ("b", s.b))
                },
                "ease_mm": s.ease_mm,
                "ease_between": list(s.ease_between) if s.ease_between else None,
                "b_mirrored": s.b_mirrored,
                "length_a_mm": walk(pattern, s.id).a.length_mm,
                "length_b_mm": walk(pattern, s.id).b.length_mm,
            }
            for s in pattern.seams.values()
        ],
    }


def make() -> Any:
    """Return the golden."""
    garments = [
        view_of(pattern, derive(pattern, recipe_kinds()).pieces) for pattern in (demo_pinafore(), shirt())
    ]
    return {"format": "eke-golden-garment-1", "unit": "mm", "garments": garments}
