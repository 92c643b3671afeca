"""The ledger: money spent, used and left.

*Spent* is what was paid: it belongs to projects. *Used* is the worth of what went into a garment: it
follows the things. A cloth bought for one project may end in the garment of another; both sums stay
exact. What a use takes is counted in whole units of the item (square millimetres of cloth, buttons), so
that the uses of a thing and its rest add up to its price without a cent too few or too many.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from eke.errors import BadInput, NotFound
from eke.ledger.money import Budget, Purchase
from eke.ledger.split import running_split
from eke.units import Money


@dataclass(frozen=True, slots=True)
class Use:
    """``amount`` whole units of item ``item`` went into ``garment``.

    For cloth the unit is a square millimetre, and the amount includes the waste that the cut made: who
    cuts, bears it. ``id`` is the id of the change that used it.
    """

    id: str
    item: str
    garment: str
    amount: int

    def __post_init__(self) -> None:
        if self.amount < 0:
            raise BadInput("A garment cannot use less than nothing of a thing.")


@dataclass(frozen=True, slots=True)
class Item:
    """A thing with a worth: ``amount`` whole units of it were there at first.

    ``worth`` is what it cost when no purchase names it (bought long ago, given): it counts as used, never
    as spent.
    """

    id: str
    name: str
    amount: int
    worth: Money | None = None


@dataclass(frozen=True, slots=True)
class Account:
    """How a project stands. ``left`` is ``None`` without a budget; below 0 it is overspent.

    ``without_rate`` names the purchases that are in another currency and have no rate: they are in
    neither sum, and the maker is told.
    """

    project: str
    budget: Money | None
    spent: Money
    left: Money | None
    without_rate: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ItemAccount:
    """Where the worth of one item went: ``used`` by garment, and what is ``left`` on the shelf.

    ``worth`` always equals the sum of ``used`` and ``left``.
    """

    item: str
    worth: Money
    used: Mapping[str, Money]
    left: Money


@dataclass(frozen=True, slots=True)
class Ledger:
    """All that was written down about money in a workroom. A change returns a new ledger."""

    purchases: Mapping[str, Purchase] = field(default_factory=lambda: MappingProxyType({}))
    budgets: Mapping[str, Budget] = field(default_factory=lambda: MappingProxyType({}))
    items: Mapping[str, Item] = field(default_factory=lambda: MappingProxyType({}))
    uses: tuple[Use, ...] = ()

    def with_purchase(self, purchase: Purchase) -> Ledger:
        """Return the ledger with ``purchase`` added or exchanged."""
        return replace(self, purchases={**self.purchases, purchase.id: purchase})

    def without_purchase(self, purchase_id: str) -> Ledger:
        """Return the ledger with that purchase struck out. Raises :class:`NotFound`."""
        if purchase_id not in self.purchases:
            raise NotFound(f"There is no purchase “{purchase_id}” in the ledger.", purchase=purchase_id)
        return replace(self, purchases={k: p for k, p in self.purchases.items() if k != purchase_id})

    def with_budget(self, budget: Budget) -> Ledger:
        """Return the ledger with that project's budget set."""
        return replace(self, budgets={**self.budgets, budget.project: budget})

    def with_item(self, item: Item) -> Ledger:
        """Return the ledger with ``item`` known."""
        return replace(self, items={**self.items, item.id: item})

    def with_use(self, use: Use) -> Ledger:
        """Return the ledger with ``use`` written down.

        Raises
        ------
        NotFound
            When the item is not known.
        BadInput
            When more would be used than there is.
        """
        item = self.items.get(use.item)
        if item is None:
            raise NotFound(f"The ledger knows no “{use.item}”.", item=use.item)
        taken = sum(u.amount for u in self.uses if u.item == use.item)
        if taken + use.amount > item.amount:
            raise BadInput(
                f"More of “{item.name}” would be used than there was "
                f"({taken + use.amount} of {item.amount} units). Nothing was written down."
            )
        return replace(self, uses=(*self.uses, use))

    def without_use(self, use_id: str) -> Ledger:
        """Return the ledger with the uses of that change taken out; unknown ids change nothing."""
        return replace(self, uses=tuple(u for u in self.uses if u.id != use_id))

    # ---- accounts

    def currency_of(self, project: str) -> str | None:
        """The currency a project is reckoned in: that of its budget, else of its first purchase."""
        budget = self.budgets.get(project)
        if budget is not None:
            return budget.amount.currency
        for purchase in self.purchases.values():
            if any(share.by == project for share in purchase.projects):
                return purchase.paid.currency
        return None

    def account(self, project: str, currency: str | None = None) -> Account:
        """How ``project`` stands, in ``currency`` or in its own.

        Raises
        ------
        BadInput
            When the project has neither budget nor purchase, and no currency is given.
        """
        currency = currency or self.currency_of(project)
        if currency is None:
            raise BadInput("This project has no budget and no purchase yet. Say in which currency to reckon.")
        spent = Money(0, currency)
        without_rate: list[str] = []
        for purchase in self.purchases.values():
            if all(share.by != project for share in purchase.projects):
                continue
            borne = purchase.by_project(currency)
            if borne is None:
                without_rate.append(purchase.id)
            else:
                spent += borne[project]
        budget = self.budgets.get(project)
        amount = budget.amount if budget is not None and budget.amount.currency == currency else None
        return Account(
            project, amount, spent, None if amount is None else amount - spent, tuple(without_rate)
        )

    def worth(self, item_id: str, currency: str) -> Money | None:
        """What an item cost: by the purchases that name it, else by its own worth; ``None``: not known.

        A purchase without a rate into ``currency`` makes the whole unknown: half a price is no price.
        """
        item = self.items.get(item_id)
        total: Money | None = None
        for purchase in self.purchases.values():
            if all(share.by != item_id for share in purchase.items):
                continue
            part = purchase.by_item(currency)
            if part is None:
                return None
            total = part[item_id] if total is None else total + part[item_id]
        if total is None and item is not None and item.worth is not None and item.worth.currency == currency:
            total = item.worth
        return total

    def item_account(self, item_id: str, currency: str) -> ItemAccount | None:
        """Where the worth of an item went; ``None`` when it is not known in ``currency``.

        Raises
        ------
        NotFound
            When the ledger knows no such item.
        """
        item = self.items.get(item_id)
        if item is None:
            raise NotFound(f"The ledger knows no “{item_id}”.", item=item_id)
        worth = self.worth(item_id, currency)
        if worth is None:
            return None
        uses = [use for use in self.uses if use.item == item_id]
        rest = item.amount - sum(use.amount for use in uses)
        if not item.amount:
            return ItemAccount(item_id, worth, {}, worth)
        parts = running_split(worth, [*(use.amount for use in uses), rest])
        used: dict[str, Money] = {}
        for use, part in zip(uses, parts, strict=False):
            used[use.garment] = used.get(use.garment, Money(0, currency)) + part
        return ItemAccount(item_id, worth, used, parts[-1])

    def used_by(self, garment: str, currency: str) -> Money:
        """The worth of all that went into ``garment``, as far as it is known in ``currency``."""
        total = Money(0, currency)
        for item_id in dict.fromkeys(use.item for use in self.uses if use.garment == garment):
            account = self.item_account(item_id, currency)
            if account is not None:
                # a thing of which there was nothing has been used by nobody, whatever was written down
                total += account.used.get(garment, Money(0, currency))
        return total

    def unknown_worth(self, garment: str, currency: str) -> tuple[str, ...]:
        """The items in ``garment`` whose worth is not known in ``currency`` (free, found, or no rate)."""
        used = dict.fromkeys(use.item for use in self.uses if use.garment == garment)
        return tuple(item for item in used if self.worth(item, currency) is None)

    def left_worth(self, item_ids: Iterable[str], currency: str) -> Money:
        """The worth of what is still on the shelf of these items, as far as it is known."""
        total = Money(0, currency)
        for item_id in item_ids:
            account = self.item_account(item_id, currency)
            if account is not None:
                total += account.left
        return total
