"""What is held, put on a line or made the same on both sides, in the words in which its sentence speaks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from eke.errors import EkeError
from eke.pattern.halves import halves_of
from eke.pattern.held import corner_words, length_words, line_of, line_words, where_held
from eke.pattern.model import EdgeId, HeldPoint, Pattern, Piece

HELD_KINDS: Final = frozenset({"true.on_line", "true.halves", "held.drop"})


def held_told(pattern: Pattern, kind: str, params: Mapping[str, Any]) -> dict[str, Any]:
    """Return what such a change is told by the way; nothing where it names what is not there: it says so itself."""
    try:
        if kind == "true.halves":
            return _halves(pattern, params)
        return _let_go(pattern, params) if kind == "held.drop" else _on_line(pattern, params)
    except (EkeError, LookupError, TypeError, ValueError):
        return {}


def _on_line(pattern: Pattern, params: Mapping[str, Any]) -> dict[str, Any]:
    piece, words = _point(pattern, params)
    return {
        "called": words,
        "line_called": line_words(line_of(piece, str(params["line"]))).removeprefix("the "),
    }


def _point(pattern: Pattern, params: Mapping[str, Any]) -> tuple[Piece, str]:
    if params.get("edge"):
        piece, edge = pattern.edge(str(params["edge"]))
        return piece, corner_words(piece, edge, "end" if params.get("end") == "end" else "start")
    piece, _, words = where_held(pattern, HeldPoint("", point=str(params.get("notch") or params.get("mark"))))
    return piece, words


def _let_go(pattern: Pattern, params: Mapping[str, Any]) -> dict[str, Any]:
    key = params.get("held")
    if key in pattern.held_points:
        held = pattern.held_points[str(key)]
        piece, _, words = where_held(pattern, held)
        return {"called": words, "line_called": line_words(line_of(piece, held.line))}
    if key in pattern.held_lengths:
        return {"called": length_words(pattern, pattern.held_lengths[str(key)]), "was": "length"}
    if params.get("edge") and not params.get("end"):
        piece, edge = pattern.edge(EdgeId(str(params["edge"])))
        held_length = next(
            h for h in pattern.held_lengths.values() if edge.id in map(pattern.resolve, h.edges)
        )
        return {"called": length_words(pattern, held_length), "was": "length"}
    return {"called": _point(pattern, params)[1]}


def _halves(pattern: Pattern, params: Mapping[str, Any]) -> dict[str, Any]:
    edge_id = params.get("edge")
    piece = pattern.edge(str(edge_id))[0] if edge_id else pattern.piece(str(params["piece"]))
    along = params.get("along")
    found = halves_of(
        pattern,
        piece.id,
        edge_id=str(edge_id) if edge_id else None,
        middle=params.get("middle"),
        along=None if along is None else (tuple(along[0]), tuple(along[1])),
    )
    told: dict[str, Any] = {"apart_mm": round(found.greatest_mm, 1)}
    if params.get("take") in ("left", "right"):
        told["kept"] = found.middle.sides[0 if params["take"] == "left" else 1]
    return told
