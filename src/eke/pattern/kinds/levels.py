"""Kinds of change: balance lines, and lengths taped on the garment."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from eke.changes import ChangeKind, Context
from eke.errors import BadInput, ChangeConflict
from eke.pattern import balance
from eke.pattern.kinds.reading import Params, Row, called, flag_of, kinds_of
from eke.pattern.model import Pattern, SeamId, TapedAt


def levels_kinds() -> tuple[ChangeKind[Pattern], ...]:
    """Return the kinds of this file."""
    rows: tuple[Row, ...] = (
        ("balance.match", _balance_match, _say_match, ("seam", "mark", "to")),
        (
            "balance.carry",
            _balance_carry,
            lambda p: f"Carried a balance line over {called(p, 'a seam')}",
            ("seam", "mark"),
        ),
        ("measure.drop", _measure_drop, lambda p: f"Dropped the measure {p['name']}", ()),
        ("measure.taped", _measure_taped, _say_taped, ()),
    )
    return kinds_of(rows)


def _balance_match(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    at = p.get("at_mm")
    return balance.match_line(
        state,
        str(p["seam"]),
        str(p["mark"]),
        str(p["to"]),
        at_mm=None if at is None else float(at),
        only_end=flag_of(p, "only_end"),
    )


def _say_match(p: Params) -> str:
    what = "one end of a balance line" if p.get("only_end") else "a balance line"
    return f"Moved {what} to its mate at {called(p, 'a seam')}"


def _balance_carry(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return balance.carry_line(state, str(p["seam"]), str(p["mark"]), c.record_id)


def _measure_taped(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    name, mm = str(p["name"]).strip(), float(p["mm"])
    if not name:
        raise BadInput(
            "Say where on the garment this was taped: a seam, an edge, or a level such as the waist."
        )
    if not mm > 0.0:
        raise BadInput(f"A taped length is longer than 0 mm; “{name}” was given as {mm:g}.")
    edges = p.get("edges", [])
    pieces = p.get("pieces", [])
    if isinstance(edges, str) or isinstance(pieces, str):
        raise BadInput("Edges and pieces are given as lists.")
    said = {k: v for k, v in state.taped_at.items() if k != name}
    if edges or pieces or p.get("seam") or p.get("at"):
        said[name] = TapedAt(
            SeamId(state.seam(str(p["seam"])).id) if p.get("seam") else None,
            tuple(str(state.edge(str(e))[1].id) for e in edges),
            flag_of(p, "each"),
            str(p.get("at") or ""),
            flag_of(p, "half"),
            tuple(str(state.piece(str(x)).id) for x in pieces),
        )
    return replace(state, taped={**state.taped, name: mm}, taped_at=said)


def _say_taped(p: Params) -> str:
    return f"Taped {p['name']} on the garment: {float(p['mm']):g} mm"


def _measure_drop(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    name = str(p["name"])
    if name not in state.taped and name not in state.measures:
        raise ChangeConflict(f"There is no measure “{name}”.", name=name)
    if name in state.taped and p.get("of", "garment") == "garment":
        return replace(
            state,
            taped={k: v for k, v in state.taped.items() if k != name},
            taped_at={k: v for k, v in state.taped_at.items() if k != name},
        )
    return replace(state, measures={k: v for k, v in state.measures.items() if k != name})
