"""Kinds of change: fixed lengths, points on a balance line, equal halves."""

from __future__ import annotations

from typing import Any, cast

from eke.changes import ChangeKind, Context
from eke.errors import BadInput
from eke.pattern import halves, held, lengths, on_line
from eke.pattern.corners import neighbour
from eke.pattern.kinds.reading import Params, Row, called, end_of, flag_of, kinds_of, one_of, pt
from eke.pattern.middle import By
from eke.pattern.model import Along, Keep, Pattern


def held_kinds() -> tuple[ChangeKind[Pattern], ...]:
    """Return the kinds of this file."""
    rows: tuple[Row, ...] = (
        ("true.length", _length, _say_length, ("edge",)),
        ("true.on_line", _on_line, _say_on_line, ("edge", "notch", "mark", "line")),
        ("true.halves", _halves, _say_halves, ("piece", "edge")),
        ("held.drop", _drop, _say_drop, ()),
    )
    return kinds_of(rows)


def _length(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    edge = str(p["edge"])
    keep = cast(Keep, one_of(p.get("keep", "start"), Keep, "end of an edge that stays"))
    key = None
    if flag_of(p, "hold", default=True):
        found = held.length_held(state, edge)
        key = found[0] if found is not None else c.child_id(state.resolve(edge), "length")
    return lengths.with_length(state, edge, float(p["length_mm"]), keep, held_as=key)


def _say_length(p: Params) -> str:
    stays = "" if p.get("hold", True) is False else ", to stay so"
    return f"Made {called(p, 'an edge')} {float(p['length_mm']):.1f} mm long{stays}"


def _on_line(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    line, hold = str(p["line"]), flag_of(p, "hold", default=True)
    given = [key for key in ("edge", "notch", "mark") if p.get(key)]
    if len(given) != 1:
        raise BadInput("Say which point is put on the balance line: the end of an edge, a notch, or a mark.")
    point = str(p[given[0]])
    key = c.child_id(point, f"on line {p.get('end', '')}") if hold else None
    if given[0] == "notch":
        return on_line.put_notch(state, point, line, held_as=key)
    if given[0] == "mark":
        return on_line.put_mark(state, point, line, held_as=key)
    along = cast(Along, one_of(p.get("along", "edge"), Along, "way to a balance line"))
    return on_line.put_corner(state, point, end_of(p["end"]), line, along, held_as=key)


def _say_on_line(p: Params) -> str:
    line = f"the {p['line_called']}" if p.get("line_called") else "its balance line"
    stays = "" if p.get("hold", True) is False else ", to stay there"
    return f"Put {p.get('called') or 'a point'} on {line}{stays}"


def _halves(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    take = cast(halves.Take, one_of(p.get("take", "mean"), halves.Take, "half to keep"))
    middle = p.get("middle")
    if middle is not None:
        middle = cast(By, one_of(middle, By, "way to find the middle"))
    said = p.get("along")
    along = None if said is None else (pt(said[0]), pt(said[1]))
    if (p.get("piece") is None) == (p.get("edge") is None):
        raise BadInput(
            "Say which piece is made the same on both sides, or which edge that crosses its middle."
        )
    if p.get("edge") is not None:
        return halves.equal_edge(state, str(p["edge"]), c.record_id, take, middle=middle, along=along)
    return halves.equal_halves(state, str(p["piece"]), c.record_id, take, middle=middle, along=along)


def _say_halves(p: Params) -> str:
    apart = f"; they lay up to {float(p['apart_mm']):.1f} mm apart" if p.get("apart_mm") is not None else ""
    what, take = called(p, "a piece" if p.get("piece") else "an edge"), str(p.get("take", "mean"))
    if take == "mean":
        return f"Made both halves of {what} the same{apart}"
    return f"Made both halves of {what} like its {p.get('kept') or take} half{apart}"


def _drop(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    key = p.get("held")
    if key is None:
        key = _held_key(state, p)
    return held.let_go(state, str(key))


def _held_key(state: Pattern, p: dict[str, Any]) -> str | None:
    """The id under which an edge is held in its length, or its corner at an ``end``, a notch or a mark on a line."""
    if p.get("edge") and not p.get("end"):
        found = held.length_held(state, str(p["edge"]))
        return None if found is None else found[0]
    if p.get("edge"):
        piece, edge = state.edge(str(p["edge"]))
        corner = edge.id if end_of(p["end"]) == "start" else neighbour(piece, edge.id, "end").id
        return held.point_held(state, piece, corner=corner)
    point = p.get("notch") or p.get("mark")
    return next((k for k, h in state.held_points.items() if point is not None and h.point == point), None)


def _say_drop(p: Params) -> str:
    if p.get("was") == "length":
        return f"Let {p.get('called') or 'an edge'} be of any length"
    return f"Let {p.get('called') or 'a point'} lie off {p.get('line_called') or 'its balance line'}"
