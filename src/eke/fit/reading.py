"""Reading the params of fit changes: places, numbers, points; each refused in words where it is missing."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from eke.changes import ChangeKind, Context, reading
from eke.errors import BadInput
from eke.fit.parts import At
from eke.geometry import Pt
from eke.pattern.corners import index_of
from eke.pattern.model import Edge, EdgeId, EdgePlace, Pattern, Piece

Params = Mapping[str, Any]
Apply = Callable[[Pattern, dict[str, Any], Context], Pattern]


def named(name: str, apply: Apply, sentence: Callable[[Params], str], *keys: str) -> ChangeKind[Pattern]:
    """Return the kind of change ``name``, version 1; ``keys`` are the params that name what it touches."""

    def touches(params: Params) -> tuple[str, ...]:
        found: list[str] = []
        for key in keys:
            value = params.get(key)
            inner = value.get("edge") or value.get("dart") if isinstance(value, Mapping) else value
            values = inner if isinstance(inner, list | tuple) else (inner,)
            found += [str(v) for v in values if isinstance(v, str) and v]
        return tuple(found)

    return ChangeKind(name, 1, reading(name, apply), sentence, touches)


def number(params: Params, key: str, default: float | None = None) -> float:
    """Return the number under ``key``. Raises :class:`BadInput` where there is none."""
    value = params.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise BadInput(f"Say {_in_words(key)}: a number.")
    return float(value)


def word(params: Params, key: str, allowed: Sequence[str], default: str) -> str:
    """Return the word under ``key``, one of ``allowed``."""
    value = params.get(key, default)
    if value not in allowed:
        raise BadInput(f"{_in_words(key).capitalize()} is one of: {', '.join(allowed)}.")
    return str(value)


def point(params: Params, key: str) -> Pt:
    """Return the point ``[x, y]`` under ``key``, mm in the piece's frame."""
    value = params.get(key)
    if isinstance(value, str) or not isinstance(value, Sequence) or len(value) != 2:
        raise BadInput(f"Say {_in_words(key)}: x and y in mm.")
    pair = {"x": value[0], "y": value[1]}
    return (number(pair, "x"), number(pair, "y"))


def rows(params: Params, key: str) -> tuple[tuple[float, float], ...]:
    """Return pairs of numbers under ``key``: ``[[mm along, mm], …]``."""
    value = params.get(key)
    if isinstance(value, str) or not isinstance(value, Sequence) or not value:
        raise BadInput("Say at least one place along it, and how much there.")
    return tuple(point({"place": row}, "place") for row in value)


def part(params: Params, key: str) -> Params:
    """Return the params within ``key``."""
    value = params.get(key)
    if not isinstance(value, Mapping):
        what = "where it ends" if key == "to" else _in_words(key)
        raise BadInput(f"Say {what}: an edge and a place on it.")
    return value


def edge_of(pattern: Pattern, params: Params, key: str = "edge") -> tuple[Piece, Edge]:
    """Return the edge that ``key`` names and its piece. Raises :class:`NotFound`."""
    return pattern.edge(text(params, key))


def text(params: Params, key: str) -> str:
    """Return the id or word under ``key``."""
    value = params.get(key)
    if not isinstance(value, str) or not value:
        raise BadInput(f"Say {_in_words(key)}.")
    return value


def texts(params: Params, key: str) -> tuple[str, ...]:
    """Return the ids under ``key``; none where it is not given."""
    value = params.get(key, ())
    if (
        isinstance(value, str)
        or not isinstance(value, Sequence)
        or not all(isinstance(v, str) for v in value)
    ):
        raise BadInput(f"{_in_words(key).capitalize()} is a list of ids.")
    return tuple(value)


def only_pieces(pattern: Pattern, params: Params, first: Piece) -> tuple[str, ...]:
    """Return the ids under ``only`` of the pieces that a line may cut, as they are called today; none: all may be.

    Raises
    ------
    BadInput
        When ``first``, on which the line starts, is not among them.
    """
    only = tuple(pattern.resolve(id_) for id_ in texts(params, "only"))
    if only and first.id not in only:
        raise BadInput(f"The line starts on “{first.name}”, which is not among the pieces that it may cut.")
    return only


def place_on(pattern: Pattern, params: Params) -> tuple[Piece, Edge, At]:
    """Return the place that ``edge`` with ``fraction``, ``mm`` (``from_end``), ``notch`` or ``point`` names."""
    piece, edge = edge_of(pattern, params)
    index = index_of(piece, edge.id)
    if params.get("notch") is not None:
        notch = next((n for n in piece.notches if n.id == params["notch"] and n.at.edge == edge.id), None)
        if notch is None:
            raise BadInput(f"There is no such notch on that edge of “{piece.name}”.")
        return piece, edge, At(index, edge.mm_of(notch.at))
    if params.get("point") is not None:
        return piece, edge, At(index, edge.path.nearest(point(params, "point")).at_mm)
    if params.get("fraction") is not None:
        return (
            piece,
            edge,
            At(index, edge.mm_of(EdgePlace(EdgeId(edge.id), fraction=number(params, "fraction")))),
        )
    mm = number(params, "mm")
    length = edge.path.length_mm
    if not -1e-6 <= mm <= length + 1e-6:
        raise BadInput(f"There is no place {mm:g} mm along an edge of {length:.1f} mm.", most_mm=length)
    mm = min(max(mm, 0.0), length)
    from_end = word(params, "from_end", ("start", "end"), "start")
    return piece, edge, At(index, mm if from_end == "start" else length - mm)


def called(params: Params, otherwise: str) -> str:
    """Return the name that a sentence speaks of."""
    name = params.get("name") or params.get("called")
    return str(name) if name else otherwise


def mm(params: Params, key: str) -> str:
    """Return the amount under ``key`` without its sign, in words."""
    value = params.get(key, 0.0)
    return f"{abs(float(value)):g} mm"


def over(params: Params, key: str) -> bool:
    """Whether the amount under ``key`` is 0 or more."""
    return float(params.get(key, 0.0)) >= 0.0


def _in_words(key: str) -> str:
    return "the " + key.removesuffix("_mm").removesuffix("_deg").replace("_", " ")
