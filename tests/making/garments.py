"""Small garments for the tests of making up."""

from dataclasses import replace

from eke.geometry.path import Path
from eke.pattern.model import (
    CutOf,
    Dart,
    Edge,
    EdgeId,
    Pattern,
    Piece,
    PieceId,
    Recipe,
    RunPart,
    Seam,
    SeamId,
)


def piece(name, corners, edges, *, fold=None, pairs=False, darts=(), marks=(), roles=("outer",), curves=None):
    """A piece from corners and ``(edge name, kind)`` of the edge that begins at each corner."""
    made = []
    for i, (edge_name, kind) in enumerate(edges):
        p, q = corners[i], corners[(i + 1) % len(corners)]
        path = (curves or {}).get(edge_name) or Path.line(p, q)
        made.append(Edge(EdgeId(f"{name}.{edge_name}"), path, kind=kind, name=edge_name))
    return Piece(
        PieceId(name), name.replace("_", " "), tuple(made), fold=EdgeId(f"{name}.{fold}") if fold else None, marks=marks,
        cuts=tuple(CutOf(role, pairs=pairs) for role in roles), darts=darts,
    )  # fmt: skip


def seam(id_, a, b, **more):
    def run(edges):
        return tuple(RunPart(PieceId(e.split(".")[0]), EdgeId(e)) for e in edges.split())

    return Seam(SeamId(id_), run(a), run(b), **{"name": id_, **more})


def pattern(pieces, seams, **more):
    return replace(Pattern(pieces={p.id: p for p in pieces}, seams={s.id: s for s in seams}), **more)


def bodice(**more) -> Pattern:
    """A sleeveless bodice: front and back on the fold, a dart in the front's side, neck and armhole runs."""
    front = piece(
        "front",
        [(0, 0), (250, 0), (250, 100), (180, 110), (250, 120), (230, 250), (180, 400), (70, 400), (0, 320)],
        [("hem", "hem"), ("low_side", "seam"), ("leg1", "seam"), ("leg2", "seam"), ("side", "seam"), ("armhole", "opening"),
         ("shoulder", "seam"), ("neck", "opening"), ("centre", "fold")],
        fold="centre",
        darts=(Dart("d1", EdgeId("front.leg1"), EdgeId("front.leg2")),),
    )  # fmt: skip
    back = piece(
        "back",
        [(0, 0), (250, 0), (230, 250), (180, 400), (70, 400), (0, 380)],
        [("hem", "hem"), ("side", "seam"), ("armhole", "opening"), ("shoulder", "seam"), ("neck", "opening"),
         ("centre", "fold")],
        fold="centre",
    )  # fmt: skip
    seams = [
        seam("side", "front.low_side front.side", "back.side"),
        seam("shoulder", "front.shoulder", "back.shoulder"),
        seam("dart", "front.leg1", "front.leg2"),
    ]
    return pattern([front, back], seams, **more)


def lined_and_faced() -> Pattern:
    """The bodice with a neck facing by recipe and a lining drawn as pieces."""
    base = bodice()
    lining = [
        replace(
            p,
            id=PieceId(f"lining_{p.id}"),
            name=f"lining {p.name}",
            darts=(),
            cuts=(CutOf("lining"),),
            fold=EdgeId(f"lining_{p.fold}"),
            edges=tuple(replace(e, id=EdgeId(f"lining_{e.id}")) for e in p.edges),
        )
        for p in base.pieces.values()
    ]
    recipe = Recipe(
        "facing1", "facing", "neck facing", ("front", "back"), {"edges": ["front.neck", "back.neck"]}
    )
    seams = [
        seam("lining side", "lining_front.low_side lining_front.side", "lining_back.side"),
        seam("lining shoulder", "lining_front.shoulder", "lining_back.shoulder"),
        seam("lining dart", "lining_front.leg1", "lining_front.leg2"),
        seam("armhole front", "front.armhole", "lining_front.armhole", kind="enclosed"),
        seam("armhole back", "back.armhole", "lining_back.armhole", kind="enclosed"),
    ]
    out = base.with_recipe(recipe)
    for p in lining:
        out = out.with_piece(p)
    for s in seams:
        out = out.with_seam(s)
    return out


def panels(count, *, closed, sewn_first=()) -> Pattern:
    """A skirt of panels side by side, each joined to the next, with a band along all their tops."""
    gore = [(0, 0), (200, 0), (150, 600), (50, 600)]
    sides = [("hem", "hem"), ("right", "seam"), ("top", "seam"), ("left", "seam")]
    made = [piece(f"p{i}", gore, sides) for i in range(count)]
    seams = [seam(f"s{i}", f"p{i}.right", f"p{(i + 1) % count}.left") for i in range(count - 1 + closed)]
    made.append(
        piece("band", [(0, 0), (100 * count, 0), (100 * count, 60), (0, 60)],
              [("low", "seam"), ("end", "opening"), ("high", "opening"), ("start", "opening")])
    )  # fmt: skip
    # a walk along the tops from panel to panel, each from its left to its right
    tops = tuple(RunPart(PieceId(f"p{i}"), EdgeId(f"p{i}.top"), reverse=True) for i in range(count))
    seams.append(Seam(SeamId("band"), tops, (RunPart(PieceId("band"), EdgeId("band.low")),), name="band"))
    return pattern(made, seams, sewn_first=tuple((SeamId(a), SeamId(b)) for a, b in sewn_first))
