"""The changes of a pattern as kinds in a garment's history: what each does, and what it says in words.

A kind reads its params (plain JSON: mm, degrees, ids) and calls one function of this folder. To add one:
write the function, add a row to :func:`pattern_kinds`, and a line to ``docs/reference``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Literal, TypeVar, cast, get_args

from eke.changes import ChangeKind, Context, child_id, reading
from eke.errors import BadInput, ChangeConflict
from eke.findings import CODES
from eke.geometry import Move, Pt
from eke.pattern import darts, editing, trueing
from eke.pattern.corners import End, moved_piece, place_at, with_corner
from eke.pattern.kinds_beside import kinds_beside
from eke.pattern.matching import match_all
from eke.pattern.model import (
    CutOf,
    EdgeId,
    EdgeKind,
    EdgePlace,
    Mark,
    MarkKind,
    MockUp,
    Notch,
    Pattern,
    Role,
    RunPart,
    Seam,
    SeamId,
    SeamKind,
    TracedAs,
    Tracing,
)
from eke.pattern.tolerances import Tolerances
from eke.pattern.tracing import EdgeFacts, TracedMark, closed_outline, retold, retraced, traced_piece

Params = Mapping[str, Any]
Apply = Callable[[Pattern, dict[str, Any], Context], Pattern]
T = TypeVar("T")


def pattern_kinds() -> tuple[ChangeKind[Pattern], ...]:
    """Return all kinds of change that this folder knows, to be put into a registry."""
    rows: tuple[tuple[str, Apply, str | Callable[[Params], str], tuple[str, ...]], ...] = (
        ("pattern.rename", _rename_pattern, lambda p: f"Called the garment “{p['name']}”", ()),
        ("trace.add", _trace_add, lambda p: f"Traced “{p['name']}”", ("piece",)),
        ("trace.again", _trace_again, lambda p: f"Traced {_called(p, 'a piece')} again", ("piece",)),
        ("piece.rename", _rename_piece, lambda p: f"Called a piece “{p['name']}”", ("piece",)),
        ("piece.drop", _drop_piece, lambda p: f"Took {_called(p, 'a piece')} out of the pattern", ("piece",)),
        ("piece.cuts", _piece_cuts, lambda p: f"Said how often {_called(p, 'a piece')} is cut", ("piece",)),
        ("piece.move", _piece_move, lambda p: f"Turned or shifted {_called(p, 'a piece')}", ("piece",)),
        ("edge.set", _edge_set, _say_edge_set, ("edge",)),
        (
            "edge.traced_as",
            _edge_traced_as,
            lambda p: f"Said what the traced line of {_called(p, 'an edge')} was",
            ("edge",),
        ),
        ("edge.split", _edge_split, lambda p: f"Put a corner on {_called(p, 'an edge')}", ("edge",)),
        ("edge.merge", _edge_merge, lambda p: "Made two edges one", ("first", "second")),
        ("corner.move", _corner_move, lambda p: f"Moved a corner of {_called(p, 'an edge')}", ("edge",)),
        ("true.straighten", _straighten, lambda p: f"Straightened {_called(p, 'an edge')}", ("edge",)),
        ("true.fair", _fair, lambda p: f"Made {_called(p, 'an edge')} a fair curve", ("edge",)),
        ("true.square", _square, lambda p: f"Squared {_called(p, 'an edge')} off at its end", ("edge",)),
        ("true.share", _share, _say_share, ("seam",)),
        (
            "true.share_small",
            _share_small,
            lambda p: "Shared all small differences between the sides of seams",
            (),
        ),
        ("true.match_all", _match_all, lambda p: "Matched the sides of all seams together", ()),
        ("true.join", _join, lambda p: f"Redrew the join at {_called(p, 'a seam')} as one curve", ("seam",)),
        ("grain.set", _grain_set, lambda p: f"Set the grain of {_called(p, 'a piece')}", ("piece",)),
        ("notch.set", _notch_set, lambda p: f"Set a notch on {_called(p, 'an edge')}", ("edge", "id")),
        ("notch.pair", _notch_pair, lambda p: f"Notched both sides of {_called(p, 'a seam')}", ("seam",)),
        ("notch.match", _notch_match, lambda p: "Moved a notch to its mate", ("seam", "notch", "to")),
        ("notch.mate", _notch_mate, lambda p: "Set the mate of a notch", ("seam", "notch")),
        ("notch.double", _notch_double, lambda p: "Made a pair of notches double", ("seam", "notch")),
        ("notch.drop", _notch_drop, lambda p: "Removed a notch", ("notch",)),
        ("mark.set", _mark_set, lambda p: f"Marked {_called(p, 'a place')}", ("piece", "id")),
        ("mark.drop", _mark_drop, lambda p: "Removed a mark", ("mark",)),
        ("dart.say", _dart_say, lambda p: "Said that two edges are a dart", ("first_leg", "second_leg")),
        ("dart.true", _dart_true, lambda p: "Made the legs of a dart equal", ("dart",)),
        ("dart.drop", _dart_drop, lambda p: "Said that two edges are no dart", ("dart",)),
        ("seam.say", _seam_say, lambda p: f"Said how {_called(p, 'a seam')} is sewn", ("id",)),
        ("seam.ease", _seam_ease, _say_ease, ("seam",)),
        ("seam.drop", _seam_drop, lambda p: f"Dropped {_called(p, 'a seam')}", ("seam",)),
        ("seam.first", _seam_first, lambda p: "Said which of two seams is sewn first", ("first", "second")),
        ("finding.settle", _settle, lambda p: "Said that a finding is meant", ()),
        ("finding.reopen", _reopen, lambda p: "Said that a finding is not meant after all", ()),
        ("fact.set", _fact_set, _say_fact, ()),
        ("measure.set", _measure_set, lambda p: f"Measured {p['name']}: {float(p['mm']):g} mm", ()),
        ("mockup.note", _mock_up_note, lambda p: f"Noted what mock-up {p['number']} showed", ("id",)),
    )
    made = tuple(
        ChangeKind(name, 1, reading(name, apply), _saying(sentence), _touching(keys))
        for name, apply, sentence, keys in rows
    )
    return (*made, *kinds_beside())


# ---------------------------------------------------------------- reading params


def _saying(sentence: str | Callable[[Params], str]) -> Callable[[Params], str]:
    return (lambda params: sentence) if isinstance(sentence, str) else sentence


def _touching(keys: Sequence[str]) -> Callable[[Params], tuple[str, ...]]:
    return lambda params: tuple(str(params[k]) for k in keys if params.get(k))


def _called(params: Params, otherwise: str) -> str:
    name = params.get("called") or (params.get("name") if "piece" not in params else None)
    return f"“{name}”" if name else otherwise


def _one_of(value: Any, allowed: Any, what: str) -> Any:
    names = get_args(allowed)
    if value not in names:
        raise BadInput(f"“{value}” is no {what}. There are: {', '.join(names)}.")
    return value


def _end(value: Any) -> End:
    return cast(End, _one_of(value, Literal["start", "end"], "end of an edge"))


def _text_or_none(value: Any) -> str | None:
    return None if value is None else str(value)


def _pt(value: Any) -> Pt:
    x, y = value
    return (float(x), float(y))


def _place(params: Params, state: Pattern) -> EdgePlace:
    edge = EdgeId(state.resolve(str(params["edge"])))
    if params.get("fraction") is not None:
        return EdgePlace(edge, fraction=float(params["fraction"]))
    if params.get("mm") is not None:
        return EdgePlace(edge, mm=float(params["mm"]), from_end=_end(params.get("from_end", "start")))
    if params.get("point") is not None:
        found = state.edge(edge)[1]
        return place_at(found, found.path.nearest(_pt(params["point"])).at_mm)
    raise BadInput("Say where on the edge: a fraction of it, mm from one end, or a point.")


def _facts(rows: Sequence[Params], params: Params) -> list[EdgeFacts]:
    made = []
    for row in rows:
        traced_as = row.get("traced_as", params.get("traced_as", "net"))
        amount = row.get("traced_allowance_mm", params.get("traced_allowance_mm", 0.0))
        allowance = row.get("allowance_mm")
        made.append(
            EdgeFacts(
                row.get("id"),
                str(row.get("name", "")),
                _one_of(row.get("kind", "seam"), EdgeKind, "kind of edge"),
                cast(TracedAs, _one_of(traced_as, TracedAs, "way of tracing")),
                float(amount),
                None if allowance is None else float(allowance),
            )
        )
    return made


def _run(rows: Sequence[Any], state: Pattern) -> tuple[RunPart, ...]:
    made = []
    for row in rows:
        edge_id, reverse = (
            (row, False) if isinstance(row, str) else (row["edge"], bool(row.get("reverse", False)))
        )
        piece, edge = state.edge(str(edge_id))
        made.append(RunPart(piece.id, edge.id, reverse))
    return tuple(made)


def _cuts(rows: Sequence[Params]) -> tuple[CutOf, ...]:
    made = []
    for row in rows:
        count = int(row.get("count", 1))
        if count < 1:
            raise BadInput(f"A piece is cut once or more often, not {count} times.")
        role = _one_of(row.get("role", "outer"), Role, "role of a cloth")
        made.append(CutOf(role, count, bool(row.get("pairs", False))))
    if not made:
        raise BadInput("Say at least one cloth that the piece is cut from.")
    return tuple(made)


# ---------------------------------------------------------------- tracing and pieces


def _rename_pattern(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return replace(state, name=str(p["name"]))


def _trace_add(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    piece_id = str(p.get("piece") or child_id("piece", c.record_id))
    if piece_id in state.pieces:
        raise ChangeConflict(
            f"There is a piece “{piece_id}” already. To trace it again, say so.", piece=piece_id
        )
    outline = closed_outline(p["segments"])
    corners = [_pt(q) for q in p.get("corners", ())]
    rows = list(p.get("edges", ()))
    facts = _facts(rows + [{}] * (max(len(corners), 1) - len(rows)), p)
    marks: list[tuple[TracedMark, list[Pt]]] = [
        (_one_of(m["kind"], TracedMark, "kind of mark"), [_pt(q) for q in m["points"]])
        for m in p.get("marks", ())
    ]
    piece = traced_piece(piece_id, str(p["name"]), outline, corners, facts, c.record_id, marks=marks)
    if "cuts" in p:
        piece = replace(piece, cuts=_cuts(p["cuts"]))
    taken = {e.id for other in state.pieces.values() for e in other.edges}
    for edge in piece.edges:
        if edge.id in taken:
            raise ChangeConflict(f"There is an edge “{edge.id}” already.", edge=edge.id)
    if p.get("tracing"):
        row = p["tracing"]
        tracing = Tracing(
            str(row.get("id") or child_id("tracing", c.record_id)),
            _text_or_none(row.get("photo")),
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
        state, str(p["piece"]), outline, [_pt(q) for q in p["corners"]], c.record_id, answers=answers
    )


def _rename_piece(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    if not str(p["name"]).strip():
        raise BadInput("A piece needs a name.")
    return state.with_piece(replace(state.piece(str(p["piece"])), name=str(p["name"])))


def _drop_piece(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return editing.drop_piece(state, str(p["piece"]))


def _piece_cuts(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return state.with_piece(replace(state.piece(str(p["piece"])), cuts=_cuts(p["cuts"])))


def _piece_move(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    dx, dy = _pt(p.get("shift_mm", (0.0, 0.0)))
    about = _pt(p.get("about", (0.0, 0.0)))
    move = Move.rotation(float(p.get("turn_deg", 0.0)), about).then(Move.translation(dx, dy))
    return state.with_piece(moved_piece(state.piece(str(p["piece"])), move))


# ---------------------------------------------------------------- edges and corners


def _edge_traced_as(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    traced_as = cast(TracedAs, _one_of(p["traced_as"], TracedAs, "way of tracing"))
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
        kind=None if kind is None else _one_of(kind, EdgeKind, "kind of edge"),
        allowance_mm=None if p.get("allowance_mm") is None else float(p["allowance_mm"]),
    )


def _say_fact(p: Params) -> str:
    if p.get("called"):
        return f"Noted {p['called']}"
    name, value = str(p["name"]).replace("_", " "), p["value"]
    return f"Noted {name}" if isinstance(value, Mapping | list | tuple) else f"Noted {name}: {value}"


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
    return editing.split_edge(state, str(p["edge"]), _place(p, state), c.record_id)


def _edge_merge(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return editing.merge_edges(state, str(p["first"]), str(p["second"]))


def _corner_move(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    piece, edge = state.edge(str(p["edge"]))
    return state.with_piece(with_corner(piece, edge.id, _end(p["end"]), _pt(p["to"])))


# ---------------------------------------------------------------- trueing


def _straighten(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return trueing.straighten(state, str(p["edge"]))


def _fair(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return trueing.fair(state, str(p["edge"]), float(p.get("deviation_mm", trueing.FAIR_DEVIATION_MM)))


def _square(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return trueing.square(
        state, str(p["edge"]), _end(p["end"]), float(p.get("straight_mm", trueing.SQUARE_FOR_MM))
    )


def _share(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return trueing.share_difference(
        state, str(p["seam"]), float(p.get("share_a", 0.5)), _end(p.get("at", "end"))
    )


def _say_share(p: Params) -> str:
    share, seam = float(p.get("share_a", 0.5)), _called(p, "a seam")
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
    return trueing.smooth_join(state, str(p["seam"]), _end(p["at"]))


def _grain_set(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    along = p.get("along")
    line = None if along is None else (_pt(along[0]), _pt(along[1]))
    return trueing.set_grain(state, str(p["piece"]), line, p.get("edge"))


# ---------------------------------------------------------------- notches, marks, darts


def _notch_set(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    place = _place(p, state)
    piece, _ = state.edge(place.edge)
    notch_id = str(p.get("id") or child_id(place.edge, c.record_id, "notch"))
    return editing.with_notch(state, piece.id, Notch(notch_id, place, int(p.get("count", 1))))


def _notch_pair(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return trueing.set_notches(state, str(p["seam"]), float(p["at_mm"]), int(p.get("count", 1)), c.record_id)


def _notch_match(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return trueing.match_notch(state, str(p["seam"]), str(p["notch"]), str(p["to"]))


def _notch_mate(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return trueing.add_mate(state, str(p["seam"]), str(p["notch"]), c.record_id)


def _notch_double(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return trueing.double_pair(state, str(p["seam"]), str(p["notch"]))


def _notch_drop(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return editing.without_notch(state, str(p["notch"]))


def _mark_set(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    piece = state.piece(str(p["piece"]))
    points = tuple(_pt(q) for q in p["points"])
    if not points:
        raise BadInput("A mark needs at least one point.")
    kind = cast(MarkKind, _one_of(p["kind"], MarkKind, "kind of mark"))
    mark = Mark(
        str(p.get("id") or child_id(piece.id, c.record_id, "mark")), kind, points, str(p.get("name", ""))
    )
    others = tuple(m for m in piece.marks if m.id != mark.id)
    return state.with_piece(replace(piece, marks=(*others, mark)))


def _mark_drop(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    for piece in state.pieces.values():
        if any(m.id == p["mark"] for m in piece.marks):
            return state.with_piece(replace(piece, marks=tuple(m for m in piece.marks if m.id != p["mark"])))
    raise ChangeConflict(f"There is no mark “{p['mark']}”.", mark=p["mark"])


def _dart_say(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    pressed = _one_of(p.get("pressed", "first"), Literal["first", "second"], "leg of a dart")
    return darts.say_dart(state, str(p["first_leg"]), str(p["second_leg"]), pressed, c.record_id)


def _dart_true(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return darts.true_dart(state, str(p["dart"]))


def _dart_drop(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return darts.drop_dart(state, str(p["dart"]))


# ---------------------------------------------------------------- seams


def _seam_say(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    between = p.get("ease_between")
    seam = Seam(
        SeamId(str(p.get("id") or child_id("seam", c.record_id))),
        _run(p["a"], state),
        _run(p["b"], state),
        str(p.get("name", "")),
        float(p.get("ease_mm", 0.0)),
        None if not between else (str(between[0]), str(between[1])),
        bool(p.get("b_mirrored", False)),
        cast(SeamKind, _one_of(p.get("kind", "plain"), SeamKind, "kind of seam")),
    )
    return editing.say_seam(state, seam)


def _seam_ease(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    seam = state.seam(str(p["seam"]))
    between = p.get("ease_between", seam.ease_between)
    changed = replace(
        seam,
        ease_mm=float(p["ease_mm"]),
        ease_between=None if not between else (str(between[0]), str(between[1])),
    )
    return editing.say_seam(state, changed)


def _say_ease(p: Params) -> str:
    amount, seam = float(p["ease_mm"]), _called(p, "a seam")
    return (
        f"Said that one side of {seam} is {abs(amount):g} mm longer on purpose"
        if amount
        else f"Said that {seam} has no ease"
    )


def _seam_drop(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return editing.drop_seam(state, str(p["seam"]))


def _seam_first(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return editing.say_sewn_first(state, str(p["first"]), str(p["second"]))


# ---------------------------------------------------------------- what the maker said


def _finding_key(p: dict[str, Any]) -> tuple[str, tuple[str, ...]]:
    if p["code"] not in CODES:
        raise BadInput(f"There is no finding “{p['code']}”.")
    return str(p["code"]), tuple(sorted(str(w) for w in p["where"]))


def _settle(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return replace(state, settled=state.settled | {_finding_key(p)})


def _reopen(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return replace(state, settled=state.settled - {_finding_key(p)})


def _fact_set(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return replace(state, facts={**state.facts, str(p["name"]): p["value"]})


def _measure_set(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    mm = float(p["mm"])
    if not mm > 0.0:
        raise BadInput(f"A measure is longer than 0 mm; “{p['name']}” was given as {mm:g}.")
    if p.get("of", "body") == "garment":
        return replace(state, taped={**state.taped, str(p["name"]): mm})
    return replace(state, measures={**state.measures, str(p["name"]): mm})


def _mock_up_note(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    mock_up_id = str(p.get("id") or child_id("mock-up", c.record_id))
    photos = tuple(str(x) for x in p.get("photos", ()))
    revision = _text_or_none(p.get("revision"))
    made = MockUp(mock_up_id, int(p["number"]), revision, str(p.get("noticed", "")), photos)
    return replace(state, mock_ups={**state.mock_ups, made.id: made})
