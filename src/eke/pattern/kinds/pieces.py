"""Kinds of change: tracing, and pieces as a whole."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from eke.changes import ChangeKind, Context, child_id
from eke.errors import BadInput, ChangeConflict
from eke.geometry import Move, Pt
from eke.pattern import editing, twice
from eke.pattern.corners import moved_piece
from eke.pattern.kinds.reading import (
    Params,
    Row,
    called,
    cuts_of,
    edge_facts,
    kinds_of,
    one_of,
    pt,
    text_or_none,
)
from eke.pattern.model import Pattern, Tracing
from eke.pattern.tracing import TracedMark, closed_outline, retraced, traced_piece


def pieces_kinds() -> tuple[ChangeKind[Pattern], ...]:
    """Return the kinds of this file."""
    rows: tuple[Row, ...] = (
        ("pattern.rename", _rename_pattern, lambda p: f"Called the garment “{p['name']}”", ()),
        ("trace.add", _trace_add, lambda p: f"Traced “{p['name']}”", ("piece",)),
        ("trace.again", _trace_again, lambda p: f"Traced {called(p, 'a piece')} again", ("piece",)),
        ("trace.combine", _trace_combine, _say_combine, ("piece", "other")),
        ("piece.rename", _rename_piece, lambda p: f"Called a piece “{p['name']}”", ("piece",)),
        ("piece.drop", _drop_piece, lambda p: f"Took {called(p, 'a piece')} out of the pattern", ("piece",)),
        ("piece.cuts", _piece_cuts, lambda p: f"Said how often {called(p, 'a piece')} is cut", ("piece",)),
        ("piece.move", _piece_move, lambda p: f"Turned or shifted {called(p, 'a piece')}", ("piece",)),
    )
    return kinds_of(rows)


def _rename_pattern(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return replace(state, name=str(p["name"]))


def _trace_add(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    piece_id = str(p.get("piece") or child_id("piece", c.record_id))
    if piece_id in state.pieces:
        raise ChangeConflict(
            f"There is a piece “{piece_id}” already. To trace it again, say so.", piece=piece_id
        )
    outline = closed_outline(p["segments"])
    corners = [pt(q) for q in p.get("corners", ())]
    rows = list(p.get("edges", ()))
    facts = edge_facts(rows + [{}] * (max(len(corners), 1) - len(rows)), p)
    marks: list[tuple[TracedMark, list[Pt]]] = [
        (one_of(m["kind"], TracedMark, "kind of mark"), [pt(q) for q in m["points"]])
        for m in p.get("marks", ())
    ]
    piece = traced_piece(piece_id, str(p["name"]), outline, corners, facts, c.record_id, marks=marks)
    if "cuts" in p:
        piece = replace(piece, cuts=cuts_of(p["cuts"]))
    taken = {e.id for other in state.pieces.values() for e in other.edges}
    for edge in piece.edges:
        if edge.id in taken:
            raise ChangeConflict(f"There is an edge “{edge.id}” already.", edge=edge.id)
    if p.get("tracing"):
        row = p["tracing"]
        tracing = Tracing(
            str(row.get("id") or child_id("tracing", c.record_id)),
            text_or_none(row.get("photo")),
            str(row.get("reference", "")),
            float(row.get("scale_percent", 0.0)),
            float(row.get("uncertainty_mm", 0.0)),
        )
        state = replace(state, tracings={**state.tracings, tracing.id: tracing})
        piece = replace(piece, tracing=tracing.id)
    return state.with_piece(piece)


def _trace_again(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    answers = {str(k): None if v is None else int(v) for k, v in p.get("answers", {}).items()}
    outline = closed_outline(p["segments"])
    return retraced(
        state, str(p["piece"]), outline, [pt(q) for q in p["corners"]], c.record_id, answers=answers
    )


def _trace_combine(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    over = p.get("turned_over")
    return twice.combined(
        state,
        str(p["piece"]),
        str(p["other"]),
        c.record_id,
        take=one_of(p.get("take", "mean"), twice.Choice, "way of making one tracing of two"),
        edges={str(k): str(v) for k, v in p.get("edges", {}).items()},
        turned_over=None if over is None else bool(over),
    )


def _say_combine(p: Params) -> str:
    apart = f"; they lay up to {float(p['apart_mm']):.1f} mm apart" if p.get("apart_mm") is not None else ""
    took = {"first": "the first of", "second": "the second of"}.get(str(p.get("take", "mean")), "the mean of")
    return f"Took {took} two tracings of {called(p, 'a piece')}{apart}"


def _rename_piece(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    if not str(p["name"]).strip():
        raise BadInput("A piece needs a name.")
    return state.with_piece(replace(state.piece(str(p["piece"])), name=str(p["name"])))


def _drop_piece(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return editing.drop_piece(state, str(p["piece"]))


def _piece_cuts(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return state.with_piece(replace(state.piece(str(p["piece"])), cuts=cuts_of(p["cuts"])))


def _piece_move(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    dx, dy = pt(p.get("shift_mm", (0.0, 0.0)))
    about = pt(p.get("about", (0.0, 0.0)))
    move = Move.rotation(float(p.get("turn_deg", 0.0)), about).then(Move.translation(dx, dy))
    return state.with_piece(moved_piece(state.piece(str(p["piece"])), move))
