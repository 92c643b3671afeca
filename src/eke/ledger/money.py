"""Purchases, typed rates and budgets: what the maker wrote down about money.

Words
-----
purchase
    Money paid once, for one or several things, for one or several projects.
item
    A thing that was bought: a cloth, a packet of buttons. Known here by its id only.
share
    The part of a purchase that one project or one item bears, as a weight against the others.
rate
    What one unit of a currency cost in another on the day, typed by the maker and kept with the
    purchase, so that an old account never changes when money markets do.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Any

from eke.errors import BadInput
from eke.ledger.split import split
from eke.units import Money, minor_digits


@dataclass(frozen=True, slots=True)
class Share:
    """``weight`` parts of a purchase are borne by ``by`` (the id of a project or of an item)."""

    by: str
    weight: Fraction = Fraction(1)

    def __post_init__(self) -> None:
        if self.weight <= 0:
            raise BadInput(f"The share of “{self.by}” must be more than nothing, not {self.weight}.")


@dataclass(frozen=True, slots=True)
class Rate:
    """One unit of ``currency`` costs ``rate`` units of ``into`` (both ISO 4217)."""

    currency: str
    into: str
    rate: Decimal

    def __post_init__(self) -> None:
        minor_digits(self.currency), minor_digits(self.into)
        if not self.rate.is_finite() or self.rate <= 0:
            raise BadInput(
                f"A rate of {self.rate} makes no sense: type how much one {self.currency} is in {self.into}."
            )
        if self.currency == self.into:
            raise BadInput(f"{self.currency} needs no rate into itself. Leave the rate out.")

    @classmethod
    def parse(cls, currency: str, into: str, typed: str) -> Rate:
        """Read a typed rate such as ``"0.087"`` or ``"0,087"``. Raises :class:`BadInput`."""
        try:
            value = Decimal(typed.strip().replace(",", "."))
        except InvalidOperation:
            value = Decimal("NaN")
        if value.is_nan():
            raise BadInput(
                f"“{typed}” is not a rate. Type how much one {currency} is in {into}, as in 0.087."
            )
        return cls(currency, into, value)

    @property
    def sentence(self) -> str:
        """The rate as it is read: ``1 SEK = 0.087 EUR``."""
        return f"1 {self.currency} = {self.rate.normalize():f} {self.into}"


@dataclass(frozen=True, slots=True)
class Purchase:
    """Money paid once.

    Parameters
    ----------
    id, what
        Its id, and what was bought in the maker's words.
    paid
        The amount in the currency in which it was paid.
    on
        The day, ISO 8601 (``2026-03-14``), or ``None`` when it is not known.
    projects
        The projects that bear it; none: it is for the workroom as a whole.
    items
        The things that were bought, by id; none: thread, a bus ticket, …
    rates
        Rates typed with this purchase.
    """

    id: str
    what: str
    paid: Money
    on: str | None = None
    projects: tuple[Share, ...] = ()
    items: tuple[Share, ...] = ()
    rates: tuple[Rate, ...] = ()
    note: str = ""

    def __post_init__(self) -> None:
        if self.paid.minor < 0:
            raise BadInput(f"“{self.what}” cannot cost {self.paid}. Type what was paid, 0 for a gift.")
        if self.on is not None:
            try:
                date.fromisoformat(self.on)
            except ValueError as wrong:
                raise BadInput(
                    f"“{self.on}” is not a day. Type it as year-month-day, as in 2026-03-14."
                ) from wrong
        for shares in (self.projects, self.items):
            names = [share.by for share in shares]
            if len(set(names)) < len(names):
                twice = next(name for name in names if names.count(name) > 1)
                raise BadInput(
                    f"“{twice}” has two shares of “{self.what}”. Give it one share with their sum."
                )
        for rate in self.rates:
            if rate.currency != self.paid.currency:
                raise BadInput(
                    f"“{self.what}” was paid in {self.paid.currency}, but the rate is of {rate.currency}. "
                    f"Type how much one {self.paid.currency} is."
                )

    def in_currency(self, currency: str) -> Money | None:
        """The amount in ``currency`` by the rate typed with it; ``None`` when no such rate was typed."""
        if currency == self.paid.currency:
            return self.paid
        for rate in self.rates:
            if rate.into == currency:
                return self.paid.converted(currency, rate.rate)
        return None

    def by_project(self, currency: str) -> dict[str, Money] | None:
        """What each project bears, in ``currency``; the amounts add up to the whole exactly."""
        return self._by(self.projects, currency)

    def by_item(self, currency: str) -> dict[str, Money] | None:
        """What each item cost, in ``currency``; the amounts add up to the whole exactly."""
        return self._by(self.items, currency)

    def _by(self, shares: tuple[Share, ...], currency: str) -> dict[str, Money] | None:
        # converted as a whole and shared after that: the other way round the roundings would not add up
        whole = self.in_currency(currency)
        if whole is None:
            return None
        if not shares:
            return {}
        parts = split(whole, [share.weight for share in shares])
        return {share.by: part for share, part in zip(shares, parts, strict=True)}


@dataclass(frozen=True, slots=True)
class Budget:
    """What a project may cost in all."""

    project: str
    amount: Money

    def __post_init__(self) -> None:
        if self.amount.minor < 0:
            raise BadInput(f"A budget of {self.amount} is less than nothing. Type 0 or more.")


def money_to_json(money: Money) -> dict[str, Any]:
    """Return money as it is kept in a log: whole minor units and the currency."""
    return {"minor": money.minor, "currency": money.currency}


def money_from_json(value: Any) -> Money:
    """Read money from a log, or as typed (``{"amount": "4.50", "currency": "EUR"}``).

    Raises
    ------
    BadInput
        When it is neither, or the currency is unknown.
    """
    if isinstance(value, dict) and isinstance(value.get("currency"), str):
        minor, typed = value.get("minor"), value.get("amount")
        if isinstance(minor, int) and not isinstance(minor, bool):
            return Money(minor, value["currency"])
        if isinstance(typed, str):
            return Money.parse(typed, value["currency"])
    raise BadInput("An amount of money needs a number and a currency, such as 4.50 EUR.")
