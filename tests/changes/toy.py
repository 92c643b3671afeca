"""A toy domain for the log: a row of named sticks with lengths in mm. Splitting makes children."""

from __future__ import annotations

from types import MappingProxyType

from eke.changes import ChangeKind, Context, Registry
from eke.errors import BadInput, ChangeConflict

State = MappingProxyType  # id -> length_mm
EMPTY: State = MappingProxyType({})


def _need(state: State, stick: str) -> float:
    if stick not in state:
        raise ChangeConflict(f"The stick {stick} is not there.", wanted=stick, candidates=tuple(state))
    return state[stick]


def add(state: State, params: dict, ctx: Context) -> State:
    if params["length_mm"] <= 0:
        raise BadInput("A stick needs a length above 0 mm.")
    return MappingProxyType({**state, ctx.child_id("", "stick"): float(params["length_mm"])})


def grow(state: State, params: dict, ctx: Context) -> State:
    length = _need(state, params["stick"]) + params["by_mm"]
    if length <= 0:
        raise BadInput(f"The stick {params['stick']} would be {length} mm long.")
    params["by_mm"] = 1e9  # a rude kind: what it does to its params must not reach the record
    return MappingProxyType({**state, params["stick"]: length})


def split(state: State, params: dict, ctx: Context) -> State:
    length = _need(state, params["stick"])
    rest = {one: mm for one, mm in state.items() if one != params["stick"]}
    left, right = ctx.child_id(params["stick"], "left"), ctx.child_id(params["stick"], "right")
    return MappingProxyType({**rest, left: length * params["at"], right: length * (1 - params["at"])})


def drop(state: State, params: dict, ctx: Context) -> State:
    _need(state, params["stick"])
    return MappingProxyType({one: mm for one, mm in state.items() if one != params["stick"]})


def broken(state: State, params: dict, ctx: Context) -> State:
    raise KeyError("a slip of the programmer")


def registry() -> Registry[State]:
    return Registry(
        [
            ChangeKind("stick.add", 1, add, lambda p: f"Added a stick of {p['length_mm']:g} mm"),
            ChangeKind(
                "stick.grow", 2, grow, lambda p: f"Made {p['stick']} longer by {p['by_mm']:g} mm",
                lambda p: (p["stick"],), {1: lambda p: {"stick": p["stick"], "by_mm": p["by_cm"] * 10}},
            ),
            ChangeKind("stick.split", 1, split, lambda p: f"Split {p['stick']}", lambda p: (p["stick"],)),
            ChangeKind("stick.drop", 1, drop, lambda p: f"Dropped {p['stick']}", lambda p: (p["stick"],)),
            ChangeKind("stick.broken", 1, broken, lambda p: "Broke"),
        ]
    )  # fmt: skip
