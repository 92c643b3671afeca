"""Adjustments by hand on a derived piece: a short list of changes, replayed after its recipe.

An adjustment names the edge that it moves. When that edge is gone, the adjustment is not dropped: it is left
out and becomes a finding.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from eke.derive.derived import Derived
from eke.errors import BadInput, EkeError, NotFound
from eke.findings import Finding
from eke.geometry.move import Move
from eke.geometry.polygon import path_area_mm2, trouble_of
from eke.pattern.model import HandChange, Piece


def adjust(derived: Derived, changes: Sequence[HandChange]) -> tuple[Derived, tuple[Finding, ...]]:
    """Return the derived piece with the adjustments that concern it, and findings for those that no longer do.

    Kinds: ``move-edge`` (``piece``, ``edge``, ``out_mm``: the edge moves outwards square to the line between
    its ends, its neighbours' ends follow), ``rename`` (``piece``, ``name``).
    """
    piece, findings = derived.piece, []
    for change in changes:
        if change.params.get("piece") != piece.id:
            continue
        try:
            piece = _applied(piece, change)
        except EkeError as error:
            findings.append(
                Finding(
                    "target-gone",
                    "ask",
                    f"An adjustment of “{piece.name}” by hand: {error.message}",
                    (change.id,),
                )
            )
    return replace(derived, piece=piece), tuple(findings)


def _applied(piece: Piece, change: HandChange) -> Piece:
    try:
        made = _apply(piece, change)
    except (LookupError, TypeError, ValueError, OverflowError) as gap:
        if isinstance(gap, EkeError):
            raise
        raise BadInput("What is to be moved, and how far, cannot be read.") from gap
    trouble = trouble_of(made.outline)
    if trouble is not None:
        raise BadInput(f"With it the outline {trouble.kind}.")
    if path_area_mm2(made.outline) <= 0.0:
        raise BadInput("With it the outline turns inside out.")
    return made


def _apply(piece: Piece, change: HandChange) -> Piece:
    if change.kind == "rename":
        return replace(piece, name=str(change.params["name"]))
    if change.kind != "move-edge":
        raise NotFound(f"“{change.kind}” is not known to this version.")
    edge = piece.edge(str(change.params["edge"]))
    (x0, y0), (x1, y1) = edge.path.start, edge.path.end
    length = max(((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5, 1e-9)
    out = float(change.params["out_mm"]) / length
    move = Move.translation((y1 - y0) * out, -(x1 - x0) * out)
    at = piece.edges.index(edge)
    count = len(piece.edges)
    edges = list(piece.edges)
    edges[at] = replace(edge, path=edge.path.moved(move))
    before, after = edges[at - 1], edges[(at + 1) % count]
    edges[at - 1] = replace(before, path=before.path.with_ends(before.path.start, edges[at].path.start))
    edges[(at + 1) % count] = replace(after, path=after.path.with_ends(edges[at].path.end, after.path.end))
    return replace(piece, edges=tuple(edges))
