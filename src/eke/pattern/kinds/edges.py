"""Kinds of change: edges, corners, and trueing them."""

from __future__ import annotations

from typing import Any, cast

from eke.changes import ChangeKind, Context
from eke.pattern import editing, trueing
from eke.pattern.corners import with_corner
from eke.pattern.kinds.reading import Params, Row, called, end_of, kinds_of, one_of, place_of, pt
from eke.pattern.matching import match_all
from eke.pattern.model import EdgeKind, Pattern, TracedAs
from eke.pattern.tolerances import Tolerances
from eke.pattern.tracing import retold


def edges_kinds() -> tuple[ChangeKind[Pattern], ...]:
    """Return the kinds of this file."""
    rows: tuple[Row, ...] = (
        ("edge.set", _edge_set, _say_edge_set, ("edge",)),
        (
            "edge.traced_as",
            _edge_traced_as,
            lambda p: f"Said what the traced line of {called(p, 'an edge')} was",
            ("edge",),
        ),
        ("edge.split", _edge_split, lambda p: f"Put a corner on {called(p, 'an edge')}", ("edge",)),
        ("edge.merge", _edge_merge, lambda p: "Made two edges one", ("first", "second")),
        ("corner.move", _corner_move, lambda p: f"Moved a corner of {called(p, 'an edge')}", ("edge",)),
        ("true.straighten", _straighten, lambda p: f"Straightened {called(p, 'an edge')}", ("edge",)),
        ("true.fair", _fair, lambda p: f"Made {called(p, 'an edge')} a fair curve", ("edge",)),
        ("true.square", _square, lambda p: f"Squared {called(p, 'an edge')} off at its end", ("edge",)),
        ("true.share", _share, _say_share, ("seam",)),
        (
            "true.share_small",
            _share_small,
            lambda p: "Shared all small differences between the sides of seams",
            (),
        ),
        ("true.match_all", _match_all, lambda p: "Matched the sides of all seams together", ()),
        ("true.join", _join, lambda p: f"Redrew the join at {called(p, 'a seam')} as one curve", ("seam",)),
        ("grain.set", _grain_set, lambda p: f"Set the grain of {called(p, 'a piece')}", ("piece",)),
    )
    return kinds_of(rows)


def _edge_traced_as(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    traced_as = cast(TracedAs, one_of(p["traced_as"], TracedAs, "way of tracing"))
    return retold(state, str(p["edge"]), traced_as, float(p.get("traced_allowance_mm", 0.0)))


def _edge_set(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    kind = p.get("kind")
    if kind == "fold" and state.edge(str(p["edge"]))[1].traced_allowance_mm > 0.0:
        # a fold has no allowance: whatever was taken off when the whole piece was called a cut edge comes back
        state = retold(state, str(p["edge"]), "net")
    return editing.with_edge_facts(
        state,
        str(p["edge"]),
        name=None if p.get("name") is None else str(p["name"]),
        kind=None if kind is None else one_of(kind, EdgeKind, "kind of edge"),
        allowance_mm=None if p.get("allowance_mm") is None else float(p["allowance_mm"]),
    )


def _say_edge_set(p: Params) -> str:
    edge = f"the {p['called']}" if p.get("called") else "an edge"
    width = None if p.get("allowance_mm") is None else f"{float(p['allowance_mm']):g} mm"
    said = []
    if p.get("name") is not None:
        said.append(f"called “{p['name']}”")
    if p.get("kind") is not None:
        said.append(f"{'an' if p['kind'] == 'opening' else 'a'} {p['kind']}")
    if not said:
        return f"Said nothing new of {edge}" if width is None else f"Gave {edge} {width} of allowance"
    if width is not None:
        said.append(f"with {width} of allowance")
    return f"Said that {edge} is {', '.join(said)}"


def _edge_split(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return editing.split_edge(state, str(p["edge"]), place_of(p, state), c.record_id)


def _edge_merge(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return editing.merge_edges(state, str(p["first"]), str(p["second"]))


def _corner_move(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    piece, edge = state.edge(str(p["edge"]))
    return state.with_piece(with_corner(piece, edge.id, end_of(p["end"]), pt(p["to"])))


def _straighten(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return trueing.straighten(state, str(p["edge"]))


def _fair(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return trueing.fair(state, str(p["edge"]), float(p.get("deviation_mm", trueing.FAIR_DEVIATION_MM)))


def _square(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    straight = p.get("straight_mm")
    return trueing.square(
        state, str(p["edge"]), end_of(p["end"]), None if straight is None else float(straight)
    )


def _share(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    share = p.get("share_a")
    return trueing.share_difference(
        state, str(p["seam"]), None if share is None else float(share), end_of(p.get("at", "end"))
    )


def _say_share(p: Params) -> str:
    share, seam = float(p.get("share_a", 0.5)), called(p, "a seam")
    if share in (0.0, 1.0):
        return f"Moved one end so that the sides of {seam} match"
    return f"Shared the difference between the sides of {seam}"


def _share_small(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    limit = p.get("limit_mm")
    if limit is None:
        return trueing.share_small(state)
    limit = float(limit)
    return trueing.share_small(state, Tolerances(length_fine_mm=limit, length_note_mm=max(limit, 3.0)))


def _match_all(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    only = p.get("only")
    return match_all(state, tuple(p.get("keep", ())), None if only is None else tuple(only)).pattern


def _join(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return trueing.smooth_join(state, str(p["seam"]), end_of(p["at"]))


def _grain_set(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    along = p.get("along")
    line = None if along is None else (pt(along[0]), pt(along[1]))
    return trueing.set_grain(state, str(p["piece"]), line, p.get("edge"))
