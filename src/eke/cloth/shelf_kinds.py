"""The workroom's kinds of change: each function of the shelf with its sentence, for the log.

A sentence knows the params only. Where they name things by id, ``names`` may hold what they are called:
``{"cloth": "c1", "project": "p1", "names": {"c1": "Blue curtain", "p1": "Pinafore"}}``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from eke.changes import ChangeKind, Context, child_id, reading
from eke.cloth import cuts
from eke.cloth import shelf_changes as shelf
from eke.cloth.shelf import Shelf
from eke.errors import BadInput
from eke.ledger import money_from_json
from eke.sentences import in_a_row

Params = Mapping[str, Any]


def workroom_kinds() -> tuple[ChangeKind[Shelf], ...]:
    """All kinds of change of a workroom."""
    return (
        _kind("project.start", shelf.start_project, _begun, "id"),
        _kind("garment.enter", shelf.enter_garment, lambda p: f"Entered {_named(p)} into {_of(p, 'project')}",
              "id", "project"),
        _kind("cloth.add", shelf.add_cloth, lambda p: f"Put {_named(p.get('cloth'))} on the shelf", "cloth"),
        _kind("cloth.describe", shelf.describe_cloth,
              _described, "cloth"),
        _kind("cloth.mark_flaw", shelf.mark_flaw, lambda p: f"Marked a {_flaw(p)} on {_of(p, 'cloth')}", "cloth"),
        _kind("cloth.wash", shelf.wash_cloth, lambda p: f"Washed {_of(p, 'cloth')}", "cloth"),
        _kind("cloth.discard", shelf.discard_cloth, lambda p: f"Took {_of(p, 'cloth')} off the shelf", "cloth"),
        _kind("cloth.reserve", shelf.reserve_cloth,
              lambda p: f"Kept {'a part of ' if p.get('part') else ''}{_of(p, 'cloth')} for {_of(p, 'project')}",
              "cloth", "project"),
        _kind("cloth.release", shelf.release_cloth,
              lambda p: f"Released {_of(p, 'cloth')} from {_of(p, 'project')}", "cloth", "project"),
        _kind("notion.add", shelf.add_notion, lambda p: f"Put {_named(p)} on the shelf", "id"),
        ChangeKind("notion.use", 1, reading("notion.use", _use_notion),
                   lambda p: f"Used {p.get('amount', 1)} of {_of(p, 'notion')} for {_of(p, 'garment')}",
                   _touching("notion", "garment")),
        _kind("purchase.record", shelf.record_purchase, lambda p: f"Bought {p.get('what', 'something')}{_paid(p)}",
              "id"),
        _kind("purchase.strike", shelf.strike_purchase, lambda p: f"Struck out the purchase {_of(p, 'purchase')}",
              "purchase"),
        _kind("budget.set", shelf.set_budget, lambda p: f"Set the budget of {_of(p, 'project')}{_amount(p)}",
              "project"),
        ChangeKind("cut.confirm", 1, reading("cut.confirm", _confirm_cut),
                   lambda p: f"Cut {_pieces(p)} for {_of(p, 'garment')} from {_cloths(p)}", _cut_touches),
        _kind("cut.take_back", cuts.take_back_cut, lambda p: f"Took back the cut {_of(p, 'cut')}", "cut"),
    )  # fmt: skip


def _kind(
    name: str, change: Callable[[Shelf, Params], Shelf], sentence: Callable[[Params], str], *ids: str
) -> ChangeKind[Shelf]:
    def apply(state: Shelf, params: dict[str, Any], context: Context) -> Shelf:
        return change(state, params)

    return ChangeKind(name, 1, reading(name, apply), sentence, _touching(*ids))


def _confirm_cut(state: Shelf, params: dict[str, Any], context: Context) -> Shelf:
    def new_id(parent: str, change_id: str, number: int) -> str:
        return child_id(parent, change_id, f"offcut {number}")

    return cuts.confirm_cut(state, params, context.record_id, new_id)


def _use_notion(state: Shelf, params: dict[str, Any], context: Context) -> Shelf:
    return shelf.use_notion(state, params, context.record_id)


def _touching(*names: str) -> Callable[[Params], tuple[str, ...]]:
    def touches(params: Params) -> tuple[str, ...]:
        found = []
        for name in names:
            value = params.get(name)
            if isinstance(value, Mapping):
                value = value.get("id")
            if isinstance(value, str):
                found.append(value)
        return tuple(found)

    return touches


def _cut_touches(params: Params) -> tuple[str, ...]:
    garment = params.get("garment")
    return tuple(dict.fromkeys(([garment] if isinstance(garment, str) else []) + _cut_from(params)))


def _cut_from(params: Params) -> list[str]:
    return [str(p["cloth"]) for p in params.get("placements", ()) if isinstance(p, Mapping) and "cloth" in p]


def _begun(params: Params) -> str:
    budget = _amount({"amount": params["budget"]}).removeprefix(" to ") if params.get("budget") else ""
    return f"Began the project {_named(params)}" + (f" with a budget of {budget}" if budget else "")


def _named(params: Any) -> str:
    name = params.get("name") if isinstance(params, Mapping) else None
    return f"“{name}”" if name else "something"


def _of(params: Params, key: str) -> str:
    id_ = params.get(key)
    names = params.get("names", {})
    return f"“{names.get(id_, id_) if isinstance(names, Mapping) else id_}”"


def _cloths(params: Params) -> str:
    names = params.get("names", {})
    return in_a_row(f"“{names.get(id_, id_)}”" for id_ in dict.fromkeys(_cut_from(params)))


def _pieces(params: Params) -> str:
    number = len(params.get("placements", ()))
    return "one piece" if number == 1 else f"{number} pieces"


_SAID_ALONE: Final[Mapping[str, str]] = {
    "outline": "Moved the edge of {}",
    "holes": "Changed the holes of {}",
    "flaws": "Changed the marked places of {}",
    "grain_deg": "Set the grain of {}",
    "price": "Set the price of {}",
    "photos": "Changed the photographs of {}",
    "nap": "Said whether {} has an up and a down",
    "same_face": "Said whether both faces of {} look alike",
    "repeat_mm": "Set the repeat of {}",
    "weight_gsm": "Set the weight of {}",
    "shrink_warp_percent": "Said how much {} shrinks along",
    "shrink_weft_percent": "Said how much {} shrinks across",
    "hottest_wash_deg": "Said how hot {} may be washed",
    "tumble_dry": "Said whether {} may be tumbled dry",
    "fibre": "Said what {} is made of",
    "origin": "Said where {} comes from",
    "second_hand": "Said whether {} is second-hand",
}
"""What is said of a cloth by itself, as a sewist would say it."""


def _described(params: Params) -> str:
    said = params.get("said")
    if isinstance(said, Mapping) and len(said) == 1:
        word = str(next(iter(said)))
        if word in _SAID_ALONE:
            return _SAID_ALONE[word].format(_of(params, "cloth"))
        if word == "name":
            return f"Called {_of(params, 'cloth')} {_named(said)}"
    return f"Described {_of(params, 'cloth')}: {_words(said)}"


def _words(said: Any) -> str:
    if not isinstance(said, Mapping):
        return "nothing"
    return ", ".join(str(name).removesuffix("_mm").removesuffix("_deg").replace("_", " ") for name in said)


def _flaw(params: Params) -> str:
    flaw = params.get("flaw")
    return str(flaw.get("kind", "flaw")) if isinstance(flaw, Mapping) else "flaw"


def _paid(params: Params) -> str:
    try:
        return f" for {money_from_json(params.get('paid'))}"
    except BadInput:
        return ""


def _amount(params: Params) -> str:
    try:
        return f" to {money_from_json(params.get('amount'))}"
    except BadInput:
        return ""
