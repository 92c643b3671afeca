"""Reading the params of pattern changes: plain JSON with mm, degrees and ids; refused in words where it has gaps."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal, cast, get_args

from eke.changes import ChangeKind, Context, reading
from eke.errors import BadInput
from eke.geometry import Pt
from eke.pattern.corners import End, place_at
from eke.pattern.model import CutOf, EdgeId, EdgeKind, EdgePlace, Pattern, Role, RunPart, TracedAs
from eke.pattern.tracing import EdgeFacts

Params = Mapping[str, Any]
Apply = Callable[[Pattern, dict[str, Any], Context], Pattern]
Row = tuple[str, Apply, str | Callable[[Params], str], tuple[str, ...]]
"""A kind of change: its name, what it does, its sentence, and the params that name what it touches."""


def kinds_of(rows: Sequence[Row]) -> tuple[ChangeKind[Pattern], ...]:
    """Return the kinds that the rows describe, all of version 1."""
    return tuple(
        ChangeKind(name, 1, reading(name, apply), saying(sentence), touching(keys))
        for name, apply, sentence, keys in rows
    )


def saying(sentence: str | Callable[[Params], str]) -> Callable[[Params], str]:
    """Return the sentence of a kind: fixed words, or words made of its params."""
    return (lambda params: sentence) if isinstance(sentence, str) else sentence


def touching(keys: Sequence[str]) -> Callable[[Params], tuple[str, ...]]:
    """Return what a kind touches: the ids under these keys."""
    return lambda params: tuple(str(params[k]) for k in keys if params.get(k))


def called(params: Params, otherwise: str) -> str:
    """Return the name that a sentence speaks of, in quotation marks."""
    name = params.get("called") or (params.get("name") if "piece" not in params else None)
    return f"“{name}”" if name else otherwise


def one_of(value: Any, allowed: Any, what: str) -> Any:
    """Return a word that is one of those allowed. Raises :class:`BadInput`."""
    names = get_args(allowed)
    if value not in names:
        raise BadInput(f"“{value}” is no {what}. There are: {', '.join(names)}.")
    return value


def end_of(value: Any) -> End:
    """Return an end of an edge."""
    return cast(End, one_of(value, Literal["start", "end"], "end of an edge"))


def flag_of(params: Params, key: str, *, default: bool = False) -> bool:
    """Return a yes or no. Raises :class:`BadInput` for anything else."""
    value = params.get(key, default)
    if not isinstance(value, bool):
        raise BadInput(f"“{key}” is yes or no, not “{value}”.")
    return value


def text_or_none(value: Any) -> str | None:
    """Return a text, or nothing."""
    return None if value is None else str(value)


def pt(value: Any) -> Pt:
    """Return a point, x and y in mm."""
    x, y = value
    return (float(x), float(y))


def place_of(params: Params, state: Pattern) -> EdgePlace:
    """Return the place on an edge that ``edge`` with ``fraction``, ``mm`` or ``point`` names."""
    edge = EdgeId(state.resolve(str(params["edge"])))
    if params.get("fraction") is not None:
        return EdgePlace(edge, fraction=float(params["fraction"]))
    if params.get("mm") is not None:
        return EdgePlace(edge, mm=float(params["mm"]), from_end=end_of(params.get("from_end", "start")))
    if params.get("point") is not None:
        found = state.edge(edge)[1]
        return place_at(found, found.path.nearest(pt(params["point"])).at_mm)
    raise BadInput("Say where on the edge: a fraction of it, mm from one end, or a point.")


def edge_facts(rows: Sequence[Params], params: Params) -> list[EdgeFacts]:
    """Return what was said of each traced edge."""
    made = []
    for row in rows:
        traced_as = row.get("traced_as", params.get("traced_as", "net"))
        amount = row.get("traced_allowance_mm", params.get("traced_allowance_mm", 0.0))
        allowance = row.get("allowance_mm")
        made.append(
            EdgeFacts(
                row.get("id"),
                str(row.get("name", "")),
                one_of(row.get("kind", "seam"), EdgeKind, "kind of edge"),
                cast(TracedAs, one_of(traced_as, TracedAs, "way of tracing")),
                float(amount),
                None if allowance is None else float(allowance),
            )
        )
    return made


def run_of(rows: Sequence[Any], state: Pattern) -> tuple[RunPart, ...]:
    """Return one side of a seam: edge ids, or rows of ``edge`` and ``reverse``."""
    made = []
    for row in rows:
        edge_id, reverse = (
            (row, False) if isinstance(row, str) else (row["edge"], bool(row.get("reverse", False)))
        )
        piece, edge = state.edge(str(edge_id))
        made.append(RunPart(piece.id, edge.id, reverse))
    return tuple(made)


def cuts_of(rows: Sequence[Params]) -> tuple[CutOf, ...]:
    """Return how often a piece is cut from which cloth."""
    made = []
    for row in rows:
        count = int(row.get("count", 1))
        if count < 1:
            raise BadInput(f"A piece is cut once or more often, not {count} times.")
        role = one_of(row.get("role", "outer"), Role, "role of a cloth")
        made.append(CutOf(role, count, bool(row.get("pairs", False))))
    if not made:
        raise BadInput("Say at least one cloth that the piece is cut from.")
    return tuple(made)
