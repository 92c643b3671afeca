"""What can happen to a workroom's shelf, each as a pure function from shelf and plain values to shelf.

A function raises :class:`~eke.errors.ChangeConflict` when the shelf does not allow it (kept for somebody
else, already cut) and :class:`~eke.errors.BadInput` when a value cannot be.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from eke.cloth import lengths
from eke.cloth.cloth import Cloth, Flaw, Ring, clean_ring
from eke.cloth.record import cloth_changes, cloth_from_json, flaw_from_json
from eke.cloth.shelf import Garment, Holding, Project, Reservation, Shelf
from eke.errors import BadInput, ChangeConflict
from eke.ledger import (
    Budget,
    Item,
    Notion,
    Purchase,
    Rate,
    Share,
    Use,
    money_from_json,
)

TOUCHING_MM2: Final = 100.0
"""Two reserved parts may share a square centimetre: a drawn line has a width."""

Params = Mapping[str, Any]


# ---- projects


def start_project(shelf: Shelf, params: Params) -> Shelf:
    """``{id, name, budget?}``: begin a project, with what it may cost in all where that is said."""
    id_, name = need(params, "id"), need(params, "name")
    if id_ in shelf.projects:
        raise ChangeConflict(
            f"There is already a project “{shelf.projects[id_].name}” with that id.", project=id_
        )
    shelf = shelf.with_project(Project(id_, name))
    if params.get("budget") is None:
        return shelf
    return set_budget(shelf, {"project": id_, "amount": params["budget"]})


def enter_garment(shelf: Shelf, params: Params) -> Shelf:
    """``{id, name, project}``: enter a garment into a project."""
    id_, name = need(params, "id"), need(params, "name")
    project = shelf.project(need(params, "project"))
    for other in shelf.projects.values():
        if any(garment.id == id_ for garment in other.garments):
            raise ChangeConflict(f"“{other.name}” already has a garment with the id “{id_}”.", garment=id_)
    return shelf.with_project(replace(project, garments=(*project.garments, Garment(id_, name))))


# ---- cloths


def add_cloth(shelf: Shelf, params: Params) -> Shelf:
    """``{cloth: {…}}``: put a cloth on the shelf; the ledger knows it from now on."""
    cloth = cloth_from_json(need_map(params, "cloth"))
    if cloth.id in shelf.holdings or cloth.id in shelf.ledger.items:
        raise ChangeConflict(f"There is already a cloth with the id “{cloth.id}”.", cloth=cloth.id)
    units = max(1, math.floor(cloth.area_mm2))
    ledger = shelf.ledger.with_item(Item(cloth.id, cloth.name, units, cloth.price))
    return replace(shelf, ledger=ledger).with_cloth(cloth, Holding(cloth.id, units))


def describe_cloth(shelf: Shelf, params: Params) -> Shelf:
    """``{cloth, said: {…}}``: say something of a cloth anew (name, outline, grain, nap, weight, price …)."""
    said = need_map(params, "said")
    cloth = shelf.cloth(need(params, "cloth"))
    if "id" in said or "parent" in said:
        raise BadInput("The id of a cloth and what it was cut from cannot be changed.")
    # read as a whole record, so that unknown words are noticed in one place
    cloth_from_json({"id": cloth.id, "name": cloth.name, "outline": cloth.outline, **said})
    changes = cloth_changes(said)
    for name in ("name", "outline"):
        if name in said:
            changes[name] = said[name]
    cloth = replace(cloth, **changes)
    shelf = shelf.with_cloth(cloth)
    item = shelf.ledger.items.get(cloth.id)
    if item is not None:
        worth = cloth.price if "price" in said else item.worth
        shelf = replace(shelf, ledger=shelf.ledger.with_item(replace(item, name=cloth.name, worth=worth)))
    return shelf


def mark_flaw(shelf: Shelf, params: Params) -> Shelf:
    """``{cloth, flaw: {…}}``: mark a place on a cloth as flawed."""
    cloth = shelf.cloth(need(params, "cloth"))
    return shelf.with_cloth(cloth.with_flaw(flaw_from_json(need_map(params, "flaw"))))


def wash_cloth(shelf: Shelf, params: Params) -> Shelf:
    """``{cloth}``: the cloth has been washed, and has shrunk as expected (measure it again to be sure)."""
    cloth = shelf.cloth(need(params, "cloth"))
    if cloth.washed:
        raise ChangeConflict(f"“{cloth.name}” has been washed already.", cloth=cloth.id)
    return shelf.with_cloth(lengths.washed(cloth))


def discard_cloth(shelf: Shelf, params: Params) -> Shelf:
    """``{cloth}``: a cloth leaves the shelf uncut; what it cost stays in the ledger as left over."""
    cloth = shelf.cloth(need(params, "cloth"))
    for reservation in shelf.reserved_by(cloth.id):
        raise ChangeConflict(
            f"“{cloth.name}” is kept for “{shelf.project_name(reservation.project)}”. Release it first.",
            cloth=cloth.id,
        )
    return shelf.without_cloth(cloth.id)


def reserve_cloth(shelf: Shelf, params: Params) -> Shelf:
    """``{cloth, project, part?}``: keep a cloth, or the part within an outline, for a project."""
    cloth, project = shelf.cloth(need(params, "cloth")), shelf.project(need(params, "project"))
    given = params.get("part")
    part = None if given is None else clean_ring(given, f"The part of “{cloth.name}”")
    if part is not None and Polygon(part).intersection(cloth.polygon).area < TOUCHING_MM2:
        raise BadInput(f"The part does not lie on “{cloth.name}”. Draw it on the cloth.")
    for other in shelf.reserved_by(cloth.id):
        if other.project != project.id and overlap_mm2(cloth, part, other.part) > TOUCHING_MM2:
            which = "is" if other.part is None else "has a part of it"
            raise ChangeConflict(
                f"“{cloth.name}” {which} kept for “{shelf.project_name(other.project)}”. Release it there first, or "
                f"keep only a part that is free for “{project.name}”.",
                cloth=cloth.id,
                project=other.project,
            )
    mine = [r for r in shelf.reserved_by(cloth.id) if r.project == project.id]
    kept = shelf.reservations
    if part is None or any(r.part is None for r in mine):
        kept = tuple(r for r in kept if r not in mine)
    return replace(shelf, reservations=(*kept, Reservation(cloth.id, project.id, part)))


def release_cloth(shelf: Shelf, params: Params) -> Shelf:
    """``{cloth, project}``: the project gives the cloth, or its parts of it, back to the shelf."""
    cloth, project = shelf.cloth(need(params, "cloth")), shelf.project(need(params, "project"))
    rest = tuple(r for r in shelf.reservations if (r.cloth, r.project) != (cloth.id, project.id))
    if len(rest) == len(shelf.reservations):
        raise ChangeConflict(f"“{cloth.name}” is not kept for “{project.name}”.", cloth=cloth.id)
    return replace(shelf, reservations=rest)


def overlap_mm2(cloth: Cloth, a: Ring | None, b: Ring | None) -> float:
    """Area of ``cloth`` that two reserved parts share; ``None`` is all of it."""
    shape: BaseGeometry = cloth.polygon
    for part in (a, b):
        if part is not None:
            shape = shape.intersection(Polygon(part))
    return float(shape.area)


# ---- notions and money


def add_notion(shelf: Shelf, params: Params) -> Shelf:
    """``{id, name, amount, unit?, kind?, diameter_mm?, …}``: put notions on the shelf."""
    id_ = need(params, "id")
    if id_ in shelf.notions:
        raise ChangeConflict(f"There are already notions with the id “{id_}”.", notion=id_)
    sizes = {key: params.get(key) for key in ("diameter_mm", "thickness_mm", "width_mm")}
    notion = Notion(
        id_,
        need(params, "name"),
        exact(params.get("amount", 1), "amount"),
        params.get("unit", "piece"),
        params.get("kind", ""),
        origin=params.get("origin", ""),
        **sizes,
    )
    price = params.get("price")
    worth = None if price is None else money_from_json(price)
    ledger = shelf.ledger.with_item(Item(id_, notion.name, thousandths(notion.amount), worth))
    return replace(shelf, ledger=ledger).with_notion(notion)


def use_notion(shelf: Shelf, params: Params, change_id: str) -> Shelf:
    """``{notion, garment, amount}``: so much of a notion went into a garment."""
    notion = shelf.notion(need(params, "notion"))
    _, garment = shelf.garment(need(params, "garment"))
    amount = exact(params.get("amount", 1), "amount")
    if amount <= 0:
        raise BadInput(f"How much of “{notion.name}” was used? Type a number above 0.")
    use = Use(change_id, notion.id, garment.id, thousandths(amount))
    return replace(shelf.with_notion(notion.less(amount)), ledger=shelf.ledger.with_use(use))


def record_purchase(shelf: Shelf, params: Params) -> Shelf:
    """``{id, what, paid, on?, projects?: {id: weight}, items?: {id: weight}, rates?: {EUR: "0.087"}}``."""
    id_, what = need(params, "id"), need(params, "what")
    if id_ in shelf.ledger.purchases:
        raise ChangeConflict(f"“{shelf.ledger.purchases[id_].what}” is in the ledger already.", purchase=id_)
    paid = money_from_json(params.get("paid"))
    projects, items = shares(params.get("projects", {})), shares(params.get("items", {}))
    for share in projects:
        shelf.project(share.by)
    for share in items:
        if share.by not in shelf.ledger.items:
            raise ChangeConflict(
                f"“{what}” names a thing “{share.by}” that is not on the shelf.", item=share.by
            )
    rates = tuple(
        Rate.parse(paid.currency, into, str(rate)) for into, rate in params.get("rates", {}).items()
    )
    purchase = Purchase(id_, what, paid, params.get("on"), projects, items, rates, params.get("note", ""))
    return replace(shelf, ledger=shelf.ledger.with_purchase(purchase))


def strike_purchase(shelf: Shelf, params: Params) -> Shelf:
    """``{purchase}``: strike a purchase out of the ledger (typed twice, taken back to the shop)."""
    id_ = need(params, "purchase")
    if id_ not in shelf.ledger.purchases:
        raise ChangeConflict(f"There is no purchase “{id_}” in the ledger.", purchase=id_)
    return replace(shelf, ledger=shelf.ledger.without_purchase(id_))


def set_budget(shelf: Shelf, params: Params) -> Shelf:
    """``{project, amount}``: what a project may cost in all."""
    project = shelf.project(need(params, "project"))
    budget = Budget(project.id, money_from_json(params.get("amount")))
    return replace(shelf, ledger=shelf.ledger.with_budget(budget))


# ---- reading values


def need(params: Params, name: str) -> str:
    """A word that must be there. Raises :class:`BadInput`."""
    value = params.get(name)
    if not isinstance(value, str) or not value.strip():
        raise BadInput(f"This change needs its {name}.")
    return value


def need_map(params: Params, name: str) -> Mapping[str, Any]:
    """A record that must be there. Raises :class:`BadInput`."""
    value = params.get(name)
    if not isinstance(value, Mapping):
        raise BadInput(f"This change needs its {name}.")
    return value


def need_list(params: Params, name: str) -> Sequence[Any]:
    """A list that must be there and not be empty. Raises :class:`BadInput`."""
    value = params.get(name)
    if not isinstance(value, Sequence) or isinstance(value, str) or not value:
        raise BadInput(f"This change needs its {name}.")
    return value


def exact(value: Any, name: str) -> Fraction:
    """A number without rounding: whole, or typed as in ``"2.5"``. Raises :class:`BadInput`."""
    try:
        if isinstance(value, bool):
            raise ValueError
        number = Fraction(Decimal(str(value).strip().replace(",", ".")))
    except (ValueError, ArithmeticError, OverflowError):
        raise BadInput(f"“{value}” is not a number. Type the {name} as in 2 or 2.5.") from None
    if number < 0:
        raise BadInput(f"The {name} cannot be {value}. Type 0 or more.")
    return number


def thousandths(amount: Fraction) -> int:
    """An amount in whole thousandths, the ledger's unit for notions."""
    units = amount * 1000
    if units.denominator != 1:
        raise BadInput(f"{float(amount):g} is finer than a thousandth. Three decimals are enough.")
    return int(units)


def shares(value: Any) -> tuple[Share, ...]:
    """Shares from ``{"id": weight}``; weights whole or typed."""
    if not isinstance(value, Mapping):
        raise BadInput("Shares are given as names with their weight.")
    return tuple(Share(str(by), exact(weight, "share")) for by, weight in value.items())


def flaws_since(before: Cloth, offcuts: Sequence[Cloth]) -> tuple[Flaw, ...]:
    """Flaws that were marked on offcuts and are not on the cloth that they were cut from."""
    known = {flaw.id for flaw in before.flaws}
    known |= {f"{flaw.id}.{i}" for flaw in before.flaws for i in range(1, 1 + len(offcuts) * 8)}
    return tuple(flaw for offcut in offcuts for flaw in offcut.flaws if flaw.id not in known)
