"""The fit changes as kinds of change in a garment's history, with what each says in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from eke.changes import ChangeKind, Context, reading
from eke.errors import BadInput
from eke.fit.darts import add_dart
from eke.fit.named import (
    broaden,
    bust,
    cut,
    dart_cap,
    dart_intake,
    dart_remove,
    dart_shorten,
    dart_split,
    dart_to_ease,
    flare,
    hem,
    join,
    lengthen,
    move_freely,
    move_seam,
    open_dart,
    open_gathers,
    open_pleat,
    opening,
    princess,
    resize,
    shoulder_slope,
    sleeve_cap,
    wedge,
    widen,
)
from eke.fit.seams import TakeIn, take_in
from eke.geometry.path import Pt
from eke.pattern.model import EdgeId, EdgePlace, Pattern
from eke.pattern.pivot import transfer_dart

NAMED: Final = (
    wedge,
    lengthen,
    widen,
    dart_remove,
    dart_intake,
    dart_split,
    dart_to_ease,
    dart_shorten,
    dart_cap,
    move_seam,
    shoulder_slope,
    broaden,
    bust,
    opening,
    flare,
    hem,
    sleeve_cap,
    move_freely,
    cut,
    join,
    princess,
    resize,
    open_dart,
    open_pleat,
    open_gathers,
)
"""The named changes that have a file each."""


def fit_kinds() -> tuple[ChangeKind[Pattern], ...]:
    """Return the kinds of fit change, in the order in which a maker needs them."""
    return (*_first_kinds(), *(module.KIND for module in NAMED))


def _first_kinds() -> tuple[ChangeKind[Pattern], ...]:
    return (
        ChangeKind(
            "fit.take_in", 1, reading("fit.take_in", _take_in), _say_take_in, lambda p: (str(p["seam"]),)
        ),
        ChangeKind(
            "fit.add_dart", 1, reading("fit.add_dart", _add_dart), _say_add_dart, lambda p: (str(p["edge"]),)
        ),
        ChangeKind(
            "fit.move_dart",
            1,
            reading("fit.move_dart", _move_dart),
            _say_move_dart,
            lambda p: (str(p["dart"]), str(p["edge"])),
        ),
    )


def take_in_from(params: Mapping[str, Any]) -> TakeIn:
    """Return the change that ``seam``, ``knots`` [[mm, mm], …] and ``share_a`` describe."""
    try:
        knots = tuple((float(a), float(b)) for a, b in params["knots"])
        return TakeIn(str(params["seam"]), knots, float(params.get("share_a", 0.5)))
    except BadInput:
        raise
    except (KeyError, TypeError, ValueError) as gap:
        raise BadInput("Taking in needs a seam, and places with amounts along it.") from gap


def place_from(params: Mapping[str, Any]) -> EdgePlace:
    """Return the place that ``edge`` with ``fraction``, or ``mm`` and ``from_end``, describes."""
    if "fraction" in params:
        return EdgePlace(EdgeId(str(params["edge"])), fraction=float(params["fraction"]))
    if "mm" not in params:
        raise BadInput("Say where on the edge: a fraction of it, or mm from one end.")
    end = params.get("from_end", "start")
    return EdgePlace(
        EdgeId(str(params["edge"])), mm=float(params["mm"]), from_end="end" if end == "end" else "start"
    )


def apex_from(params: Mapping[str, Any]) -> Pt:
    """Return the point of a dart, ``apex`` [x, y] in the piece's frame."""
    try:
        x, y = params["apex"]
        return (float(x), float(y))
    except (KeyError, TypeError, ValueError) as gap:
        raise BadInput("Say where the dart points: x and y on the piece.") from gap


def _take_in(state: Pattern, params: Mapping[str, Any], context: Context) -> Pattern:
    return take_in(state, take_in_from(params))


def _say_take_in(params: Mapping[str, Any]) -> str:
    most = max((float(k[1]) for k in params["knots"]), key=abs)
    name = params.get("name") or "a seam"
    return f"{'Took in' if most >= 0 else 'Let out'} {name} by up to {abs(most):g} mm"


def _add_dart(state: Pattern, params: Mapping[str, Any], context: Context) -> Pattern:
    place = place_from(params)
    return add_dart(
        state, place.edge, place, float(params["intake_mm"]), apex_from(params), context.record_id
    )


def _say_add_dart(params: Mapping[str, Any]) -> str:
    return f"Added a dart of {float(params['intake_mm']):g} mm at {params.get('name') or 'an edge'}"


def _move_dart(state: Pattern, params: Mapping[str, Any], context: Context) -> Pattern:
    place = place_from(params)
    return transfer_dart(state, str(params["dart"]), place.edge, place, context.record_id)


def _say_move_dart(params: Mapping[str, Any]) -> str:
    return f"Moved a dart to {params.get('name') or 'another edge'}"
