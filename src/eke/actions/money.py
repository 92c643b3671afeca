"""The ledger: purchases in any currency, budgets, notions, what was spent, used and left."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from eke.actions.room import Done, Room, find_cloth_id, find_garment, find_project, new_id
from eke.errors import BadInput
from eke.ledger import Account, money_to_json
from eke.units import Money

DEFAULT_CURRENCY: Final = "EUR"
"""For a project without a budget or a purchase: all its sums are nothing, and nothing needs a currency too."""


@dataclass(frozen=True, slots=True)
class GarmentCost:
    """What went into one garment."""

    garment: str
    name: str
    used: Money


@dataclass(frozen=True, slots=True)
class LedgerReport:
    """A project's money: the account, what each garment used, and what is still on the shelf."""

    project: str
    account: Account
    garments: tuple[GarmentCost, ...]
    left_on_shelf: Money


def buy(
    room: Room,
    what: str,
    paid: Money,
    *,
    projects: Mapping[str, str] | None = None,
    cloths: Mapping[str, str] | None = None,
    rate: tuple[str, str] | None = None,
    on: str | None = None,
) -> Done:
    """Record a purchase: shared among projects and among cloths by weight, with a typed rate where needed.

    ``projects`` and ``cloths`` map names to weights ("1", "2.5"); ``rate`` is (currency, "how much of it one unit
    of the paid currency is").
    """
    shelf = room.shelf()
    purchase = new_id()
    params = {
        "id": purchase,
        "what": what,
        "paid": money_to_json(paid),
        "on": on,
        "projects": {find_project(shelf, name).id: weight for name, weight in (projects or {}).items()},
        "items": {
            shelf.holdings[find_cloth_id(shelf, name)].item: weight for name, weight in (cloths or {}).items()
        },
        "rates": {} if rate is None else {rate[0]: rate[1]},
    }
    done = room.change_workroom("purchase.record", params)
    return Done(purchase, done.sentence, done.revision)


def set_budget(room: Room, project: str, amount: Money) -> Done:
    """Say what a project may cost in all."""
    found = find_project(room.shelf(), project)
    return room.change_workroom(
        "budget.set", {"project": found.id, "amount": money_to_json(amount), "names": {found.id: found.name}}
    )


def add_notion(room: Room, name: str, amount: str, unit: str = "pieces", price: Money | None = None) -> Done:
    """Put a notion on the shelf: buttons, thread, tape."""
    notion = new_id()
    params = {"id": notion, "name": name, "amount": amount, "unit": unit}
    if price is not None:
        params["price"] = money_to_json(price)  # type: ignore[assignment]
    done = room.change_workroom("notion.add", params)
    return Done(notion, done.sentence, done.revision)


def use_notion(room: Room, notion: str, amount: str, garment: str) -> Done:
    """Note that a garment used some of a notion."""
    shelf = room.shelf()
    matches = [n for n in shelf.notions.values() if notion in (n.id, n.name)]
    if len(matches) != 1:
        raise BadInput(
            f"There is no single notion “{notion}”. There are: {', '.join(n.name for n in shelf.notions.values())}."
        )
    found, (_, into) = matches[0], find_garment(shelf, garment)
    names = {found.id: found.name, into.id: into.name}
    return room.change_workroom(
        "notion.use", {"notion": found.id, "garment": into.id, "amount": amount, "names": names}
    )


def ledger_report(room: Room, project: str, currency: str | None = None) -> LedgerReport:
    """Return a project's account in one currency (its budget's where none is named)."""
    shelf = room.shelf()
    found = find_project(shelf, project)
    account = shelf.ledger.account(found.id, currency)
    said = currency or shelf.ledger.currency_of(found.id) or "EUR"
    garments = tuple(GarmentCost(g.id, g.name, shelf.ledger.used_by(g.id, said)) for g in found.garments)
    mine = {r.cloth for r in shelf.reservations if r.project == found.id}
    items = {h.item for key, h in shelf.holdings.items() if key in mine}
    for purchase in shelf.ledger.purchases.values():
        if any(share.by == found.id for share in purchase.projects):
            items |= {
                share.by for share in purchase.items
            }  # an offcut is kept for nobody, and still worth something
    return LedgerReport(found.name, account, garments, shelf.ledger.left_worth(items, said))
