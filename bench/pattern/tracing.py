"""A drafted garment as it comes off the tracing paper: pieces in any order, turned, turned over, and a little wrong.

What is wrong is drawn by a seed: corners off by about half a millimetre, curves wavy by as much, each piece a little too
large or too small (the camera), notches forgotten or set a millimetre beside. Names may be given, given in part, or not
at all; hems and openings may not have been called so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from eke.geometry import Cubic, Move, Path, Pt
from eke.pattern.corners import place_at
from eke.pattern.model import Edge, EdgeId, Notch, Piece, PieceId, RunPart

from .drafting import Garment, Sewn

CORNER_MM: Final = 0.6
WAVE_MM: Final = 0.4
SCALE: Final = 0.002
TURNED_OVER: Final = 0.15
UPSIDE_DOWN: Final = 0.1
ANYHOW: Final = 0.2
"""Shares of pieces traced wrong side up, upside down, and at any angle: guesses, no published figure is known."""
NOTCH_MM: Final = 1.0


@dataclass(frozen=True)
class Told:
    """What the maker told beside the outlines."""

    names: str
    kinds: bool


def told(seed: int) -> Told:
    """Return what the maker of that seed tells: names none, some or all; kinds of edges two times of three."""
    return Told(("none", "all", "some")[seed % 3], (seed // 3) % 3 != 2)


def traced(garment: Garment, seed: int) -> Garment:
    """Return the garment as traced with the noise of ``seed``; its seams are told over the new ids."""
    rng = np.random.default_rng([seed, *garment.name.encode()])
    says = told(seed)
    rough = {p.id: _rough(_notched(p, garment, seed), rng, says) for p in garment.pieces}
    numbers = rng.permutation(sum(len(p.edges) for p in garment.pieces))
    ids: dict[EdgeId, EdgeId] = {}
    for piece in garment.pieces:
        for edge in piece.edges:
            ids[edge.id] = EdgeId(f"e{numbers[len(ids)]:02d}")
    order = rng.permutation(len(garment.pieces))
    pieces = tuple(_renamed(rough[garment.pieces[k].id][0], ids, k, says) for k in order)
    home = {p.id: PieceId(f"p{k}") for k, p in enumerate(garment.pieces)}

    def run(parts: tuple[RunPart, ...]) -> tuple[RunPart, ...]:
        return tuple(RunPart(home[p.piece], ids[p.edge], p.reverse != rough[p.piece][1]) for p in parts)

    return Garment(
        garment.name, pieces, tuple(Sewn(run(s.a), run(s.b), s.b_mirrored, run(s.or_a)) for s in garment.sewn)
    )


def _notched(piece: Piece, garment: Garment, seed: int) -> Piece:
    """The piece with notches at half of its plain seams; both sides agree which, and where."""
    notches = [n for k, n in enumerate(piece.notches) if (seed + k) % 4]
    for k, sewn in enumerate(garment.sewn):
        if sewn.b_mirrored or len(sewn.a) != 1 or len(sewn.b) != 1:
            continue
        both = np.random.default_rng([seed, k, *garment.name.encode()])
        if both.uniform() < 0.5:
            continue
        share, side = both.uniform(0.25, 0.6), both.uniform()
        for number, (part,) in enumerate((sewn.a, sewn.b)):
            forgotten = (side < 0.1 and number == 0) or (side > 0.9 and number == 1)
            if part.piece != piece.id or forgotten:
                continue
            edge = piece.edge(part.edge)
            mm = edge.path.length_mm * (1.0 - share if part.reverse else share)
            notches.append(Notch(f"{piece.id}.{k}.{number}", place_at(edge, mm)))
    return replace(piece, notches=tuple(notches))


def _rough(piece: Piece, rng: np.random.Generator, says: Told) -> tuple[Piece, bool]:
    """The piece as traced, and whether it was turned over."""
    edges = list(piece.edges)
    scale = Move.scale(float(rng.normal(1.0, SCALE)))
    corners = [
        scale.apply((e.path.start[0] + rng.normal(0, CORNER_MM), e.path.start[1] + rng.normal(0, CORNER_MM)))
        for e in edges
    ]
    paths = [
        _wavy(e.path.moved(scale), rng).with_ends(corners[k], corners[(k + 1) % len(edges)])
        for k, e in enumerate(edges)
    ]
    # most are traced right side up and upright, as they are worn; some lie as there was room (common practice)
    flip = bool(rng.uniform() < TURNED_OVER)
    lies = rng.uniform()
    turn = Move.rotation(
        float(rng.uniform(0.0, 360.0))
        if lies < ANYHOW
        else float(rng.normal(180.0 if lies < ANYHOW + UPSIDE_DOWN else 0.0, 1.5))
    )
    move = (Move.mirror((0.0, 0.0), (0.0, 1.0)).then(turn) if flip else turn).then(
        Move.translation(float(rng.uniform(-900, 900)), float(rng.uniform(-900, 900)))
    )
    moved = [_moved(e, p, move, says, rng) for e, p in zip(edges, paths, strict=True)]
    by_id = {e.id: e for e in moved}
    notches = tuple(
        replace(
            n,
            at=place_at(by_id[n.at.edge], _mm(piece, n, by_id[n.at.edge], flip) + rng.normal(0.0, NOTCH_MM)),
        )
        for n in piece.notches
    )
    if flip:
        moved.reverse()
    first = int(rng.integers(len(moved)))
    keeps_grain = piece.fold is not None or rng.uniform() < 0.7
    darts = tuple(
        replace(d, first_leg=d.second_leg, second_leg=d.first_leg) if flip else d for d in piece.darts
    )
    grain: tuple[Pt, Pt] | None = None
    if keeps_grain and piece.grain is not None:
        grain = (move.apply(piece.grain[0]), move.apply(piece.grain[1]))
    made = replace(
        piece, edges=tuple(moved[first:] + moved[:first]), notches=notches, darts=darts, grain=grain
    )
    return made, flip


def _mm(piece: Piece, notch: Notch, now: Edge, flip: bool) -> float:
    old = piece.edge(notch.at.edge)
    share = old.mm_of(notch.at) / old.path.length_mm
    return (1.0 - share if flip else share) * now.path.length_mm


def _moved(edge: Edge, path: Path, move: Move, says: Told, rng: np.random.Generator) -> Edge:
    path = path.moved(move)
    name = edge.name.rstrip(" 12")
    if says.names == "none" or (says.names == "some" and rng.uniform() < 0.5):
        name = ""
    kind = edge.kind if says.kinds or edge.kind == "fold" else "seam"
    return replace(edge, path=path.reversed() if move.flips else path, name=name, kind=kind)


def _wavy(path: Path, rng: np.random.Generator) -> Path:
    """A curve with the waves of a hand; straight lines were straightened with a ruler."""
    if all(not isinstance(s, Cubic) for s in path.segments):
        return path
    count = max(3, math.ceil(path.length_mm / 40.0))
    mms = np.linspace(0.0, path.length_mm, count + 1)
    points, tangents = path.points_at(mms), path.tangents_at(mms)
    off = rng.normal(0.0, WAVE_MM, len(mms))
    off[0] = off[-1] = 0.0
    return Path.from_points(points + off[:, None] * np.column_stack([-tangents[:, 1], tangents[:, 0]]))


def _renamed(piece: Piece, ids: dict[EdgeId, EdgeId], number: int, says: Told) -> Piece:
    return replace(
        piece,
        id=PieceId(f"p{number}"),
        name=piece.name if says.names != "none" else f"piece {number}",
        edges=tuple(replace(e, id=ids[e.id]) for e in piece.edges),
        notches=tuple(replace(n, at=replace(n.at, edge=ids[n.at.edge])) for n in piece.notches),
        darts=tuple(
            replace(d, first_leg=ids[d.first_leg], second_leg=ids[d.second_leg]) for d in piece.darts
        ),
        fold=None if piece.fold is None else ids[piece.fold],
    )
