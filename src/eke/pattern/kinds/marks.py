"""Kinds of change: notches, marks and darts."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Literal, cast

from eke.changes import ChangeKind, Context, child_id
from eke.errors import BadInput, ChangeConflict
from eke.pattern import darts, editing, gathers, inner_darts, notching, pleats
from eke.pattern.held import let_go_all
from eke.pattern.kinds.reading import Params, Row, called, kinds_of, one_of, place_of, pt
from eke.pattern.model import EdgeId, EdgePlace, GatherHow, Mark, MarkKind, Notch, Pattern


def marks_kinds() -> tuple[ChangeKind[Pattern], ...]:
    """Return the kinds of this file."""
    rows: tuple[Row, ...] = (
        ("notch.set", _notch_set, lambda p: f"Set a notch on {called(p, 'an edge')}", ("edge", "id")),
        ("notch.pair", _notch_pair, lambda p: f"Notched both sides of {called(p, 'a seam')}", ("seam",)),
        ("notch.match", _notch_match, lambda p: "Moved a notch to its mate", ("seam", "notch", "to")),
        ("notch.mate", _notch_mate, lambda p: "Set the mate of a notch", ("seam", "notch")),
        ("notch.double", _notch_double, lambda p: "Made a pair of notches double", ("seam", "notch")),
        ("notch.drop", _notch_drop, lambda p: "Removed a notch", ("notch",)),
        ("mark.set", _mark_set, lambda p: f"Marked {called(p, 'a place')}", ("piece", "id")),
        ("mark.drop", _mark_drop, lambda p: "Removed a mark", ("mark",)),
        ("gather.say", _gather_say, _say_gather, ("edge",)),
        ("gather.drop", _gather_drop, lambda p: "Said that a stretch is not gathered", ("gather",)),
        ("dart.say", _dart_say, lambda p: "Said that two edges are a dart", ("first_leg", "second_leg")),
        ("dart.true", _dart_true, lambda p: "Made the legs of a dart equal", ("dart",)),
        ("pleat.true", _pleat_true, lambda p: "Trued the edge across a pleat", ("pleat",)),
        ("dart.inside", _dart_inside, _say_inside, ("mark",)),
        ("dart.drop", _dart_drop, lambda p: "Said that two edges are no dart", ("dart",)),
    )
    return kinds_of(rows)


def _notch_set(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    place = place_of(p, state)
    piece, _ = state.edge(place.edge)
    notch_id = str(p.get("id") or child_id(place.edge, c.record_id, "notch"))
    return editing.with_notch(state, piece.id, Notch(notch_id, place, int(p.get("count", 1))))


def _notch_pair(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return notching.set_notches(state, str(p["seam"]), float(p["at_mm"]), int(p.get("count", 1)), c.record_id)


def _notch_match(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return notching.match_notch(state, str(p["seam"]), str(p["notch"]), str(p["to"]))


def _notch_mate(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return notching.add_mate(state, str(p["seam"]), str(p["notch"]), c.record_id)


def _notch_double(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return notching.double_pair(state, str(p["seam"]), str(p["notch"]))


def _notch_drop(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return editing.without_notch(state, str(p["notch"]))


def _mark_set(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    piece = state.piece(str(p["piece"]))
    points = tuple(pt(q) for q in p["points"])
    if not points:
        raise BadInput("A mark needs at least one point.")
    kind = cast(MarkKind, one_of(p["kind"], MarkKind, "kind of mark"))
    mark = Mark(
        str(p.get("id") or child_id(piece.id, c.record_id, "mark")), kind, points, str(p.get("name", ""))
    )
    others = tuple(m for m in piece.marks if m.id != mark.id)
    return state.with_piece(replace(piece, marks=(*others, mark)))


def _mark_drop(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    for piece in state.pieces.values():
        if any(m.id == p["mark"] for m in piece.marks):
            left = replace(piece, marks=tuple(m for m in piece.marks if m.id != p["mark"]))
            return let_go_all(state, point=str(p["mark"])).with_piece(left)
    raise ChangeConflict(f"There is no mark “{p['mark']}”.", mark=p["mark"])


def _dart_say(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    pressed = one_of(p.get("pressed", "first"), Literal["first", "second"], "leg of a dart")
    return darts.say_dart(state, str(p["first_leg"]), str(p["second_leg"]), pressed, c.record_id)


def _dart_true(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return darts.true_dart(state, str(p["dart"]))


def _pleat_true(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return pleats.true_pleat(state, str(p["pleat"]))


def _dart_inside(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    times = (
        2.0
        if one_of(p.get("measured", "whole"), Literal["whole", "folded"], "way to measure") == "folded"
        else 1.0
    )
    try:
        return inner_darts.mark_inner_dart(
            state, str(p["mark"]), times * float(p["intake_mm"]), float(p.get("widest", 0.5))
        )
    except BadInput as refused:
        most = refused.data.get("most_mm")
        if most is None or times == 1.0:
            raise
        told = float(most) / times
        raise BadInput(f"{refused.message} Folded, that is {told:.0f} mm.", most_mm=told) from None


def _say_inside(p: Params) -> str:
    whole = float(p["intake_mm"]) * (2.0 if p.get("measured") == "folded" else 1.0)
    return (
        f"Marked a dart inside {called(p, 'a piece')}, {whole:g} mm at its widest; the outline is as it was"
    )


def _gather_say(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    edge = EdgeId(state.resolve(str(p["edge"])))
    places = [
        None if p.get(key) is None else EdgePlace(edge, mm=float(p[key])) for key in ("from_mm", "to_mm")
    ]
    how = cast(GatherHow, one_of(p.get("how", "gathered"), GatherHow, "way to take up fullness"))
    ratio, sewn = p.get("ratio"), p.get("sewn_mm")
    return gathers.say_gather(
        state,
        edge,
        places[0],
        places[1],
        how,
        ratio=None if ratio is None else float(ratio),
        sewn_to_mm=None if sewn is None else float(sewn),
        change_id=c.record_id,
    )


def _say_gather(p: Params) -> str:
    where = called(p, "an edge")
    done = "gathered" if p.get("how", "gathered") == "gathered" else "eased in"
    if p.get("ratio") is not None:
        return f"Said that {where} is {done} on purpose, {float(p['ratio']):g} times as long flat"
    if p.get("sewn_mm") is not None:
        return f"Said that {where} is {done} on purpose, to {float(p['sewn_mm']):g} mm"
    return f"Said that {where} is {done} on purpose"


def _gather_drop(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return gathers.drop_gather(state, str(p["gather"]))


def _dart_drop(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return darts.drop_dart(state, str(p["dart"]))
