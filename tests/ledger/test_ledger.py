"""Purchases, budgets, uses: sums that a maker can check with pencil and paper."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from eke.errors import BadInput, NotFound
from eke.ledger import (
    Budget,
    Item,
    Ledger,
    Notion,
    Purchase,
    Rate,
    Share,
    Use,
    money_from_json,
    money_to_json,
)
from eke.units import CURRENCIES, Money


def eur(text: str) -> Money:
    return Money.parse(text, "EUR")


def market_day() -> Ledger:
    """Two curtains and a tablecloth for 12 euros, for a pinafore and, one part in four, an apron."""
    shares = (Share("pinafore", Fraction(3)), Share("apron"))
    items = (Share("curtain-1", Fraction(2)), Share("curtain-2", Fraction(2)), Share("tablecloth"))
    ledger = Ledger().with_purchase(
        Purchase("p1", "cloth at the market", eur("12"), "2026-03-14", shares, items)
    )
    for name, area in (("curtain-1", 3_000_000), ("curtain-2", 3_000_000), ("tablecloth", 2_000_000)):
        ledger = ledger.with_item(Item(name, name, area))
    return ledger.with_budget(Budget("pinafore", eur("12"))).with_budget(Budget("apron", eur("5")))


def test_a_shared_purchase_leaves_the_budgets_that_pencil_and_paper_say():
    ledger = market_day()
    pinafore, apron = ledger.account("pinafore"), ledger.account("apron")
    assert (pinafore.spent, pinafore.left) == (eur("9"), eur("3"))
    assert (apron.spent, apron.left) == (eur("3"), eur("2"))


def test_used_follows_the_cloth_not_the_purse():
    ledger = market_day().with_use(Use("cut1", "curtain-1", "g-pinafore", 2_250_000))
    assert ledger.used_by("g-pinafore", "EUR") == eur("3.60")  # 4.80 for the curtain, three quarters of it
    account = ledger.item_account("curtain-1", "EUR")
    assert account is not None
    assert account.left == eur("1.20")
    assert ledger.left_worth(["curtain-1", "curtain-2", "tablecloth"], "EUR") == eur("8.40")


def test_overspent_is_said_with_a_minus():
    ledger = market_day().with_purchase(Purchase("p2", "buttons", eur("4"), projects=(Share("pinafore"),)))
    assert ledger.account("pinafore").left == -eur("1")


def test_the_rate_typed_with_a_purchase_stays_with_it():
    crowns = Purchase(
        "p2",
        "blanket",
        Money.parse("45", "SEK"),
        projects=(Share("jacket"),),
        rates=(Rate.parse("SEK", "EUR", "0,087"),),
    )
    ledger = Ledger().with_purchase(crowns).with_budget(Budget("jacket", eur("10")))
    assert ledger.account("jacket").spent == eur("3.92")  # 3.915, half to even
    assert crowns.rates[0].sentence == "1 SEK = 0.087 EUR"


def test_a_purchase_without_a_rate_is_named_not_dropped():
    ledger = Ledger().with_budget(Budget("jacket", eur("10")))
    ledger = ledger.with_purchase(Purchase("p2", "blanket", Money(4500, "SEK"), projects=(Share("jacket"),)))
    account = ledger.account("jacket")
    assert account.without_rate == ("p2",)
    assert account.spent == eur("0")


def test_a_thing_of_old_has_worth_but_was_not_spent():
    ledger = (
        Ledger().with_item(Item("c", "old sheet", 1000, worth=eur("2"))).with_use(Use("u", "c", "g", 250))
    )
    assert ledger.used_by("g", "EUR") == eur("0.50")
    assert ledger.currency_of("anything") is None
    ledger = ledger.with_item(Item("d", "found", 10)).with_use(Use("v", "d", "g", 10))
    assert ledger.unknown_worth("g", "EUR") == ("d",)


def test_more_than_there_is_cannot_be_used():
    ledger = market_day().with_use(Use("cut1", "tablecloth", "g", 1_999_999))
    with pytest.raises(BadInput, match="tablecloth"):
        ledger.with_use(Use("cut2", "tablecloth", "g", 2))
    with pytest.raises(NotFound):
        ledger.with_use(Use("cut2", "no such", "g", 2))


def test_taking_a_use_back_gives_the_worth_back():
    before = market_day()
    after = before.with_use(Use("cut1", "tablecloth", "g", 5)).without_use("cut1")
    assert after == before


@example(0, "EUR", [("a", 0)], 0)
@given(
    st.integers(0, 10**7),
    st.sampled_from(sorted(CURRENCIES)),
    st.lists(st.tuples(st.sampled_from("abc"), st.integers(0, 10**6)), max_size=8),
    st.integers(0, 10**6),
)
def test_used_and_left_always_add_up_to_the_worth(minor, currency, uses, rest):
    total = sum(amount for _, amount in uses) + rest
    ledger = Ledger().with_item(Item("x", "x", total, worth=Money(minor, currency)))
    for i, (garment, amount) in enumerate(uses):
        ledger = ledger.with_use(Use(f"u{i}", "x", garment, amount))
    account = ledger.item_account("x", currency)
    assert account is not None
    assert sum(m.minor for m in account.used.values()) + account.left.minor == minor
    for garment in {g for g, _ in uses}:
        assert ledger.used_by(garment, currency) == account.used.get(garment, Money(0, currency))


WHO_BEARS = st.dictionaries(st.text("abcdef", min_size=1), st.integers(1, 50), min_size=1, max_size=6)


@given(st.integers(0, 10**8), WHO_BEARS, st.decimals("0.0001", "9999", places=4))
def test_the_projects_together_bear_the_whole_purchase_in_any_currency(minor, weights, rate):
    shares = tuple(Share(name, Fraction(weight)) for name, weight in weights.items())
    purchase = Purchase("p", "x", Money(minor, "JPY"), projects=shares, rates=(Rate("JPY", "KWD", rate),))
    for currency in ("JPY", "KWD"):
        borne, whole = purchase.by_project(currency), purchase.in_currency(currency)
        assert borne is not None
        assert whole is not None
        assert sum(m.minor for m in borne.values()) == whole.minor


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Purchase("p", "cloth", Money(-1, "EUR")), "cannot cost"),
        (lambda: Purchase("p", "cloth", Money(1, "EUR"), on="14.3.2026"), "year-month-day"),
        (lambda: Purchase("p", "cloth", Money(1, "EUR"), projects=(Share("a"), Share("a"))), "two shares"),
        (lambda: Purchase("p", "c", Money(1, "EUR"), rates=(Rate("SEK", "EUR", Decimal(1)),)), "paid in EUR"),
        (lambda: Share("a", Fraction(0)), "more than nothing"),
        (lambda: Rate.parse("EUR", "SEK", "eleven"), "not a rate"),
        (lambda: Rate.parse("EUR", "SEK", "-1"), "makes no sense"),
        (lambda: Rate.parse("EUR", "EUR", "1"), "no rate"),
        (lambda: Rate.parse("EUR", "XYZ", "1"), "not a currency"),
        (lambda: Budget("p", Money(-1, "EUR")), "less than nothing"),
        (lambda: Notion("b", "buttons", Fraction(3), diameter_mm=0.0), "above 0"),
        (lambda: Notion("b", "buttons", Fraction(3)).less(Fraction(4)), "there are 3 left"),
        (lambda: money_from_json({"minor": True, "currency": "EUR"}), "number and a currency"),
        (lambda: money_from_json("4.50"), "number and a currency"),
    ],
)
def test_what_cannot_be_is_said_in_one_sentence(make, says):
    with pytest.raises(BadInput, match=says):
        make()


@given(st.integers(-(10**12), 10**12), st.sampled_from(sorted(CURRENCIES)))
def test_money_survives_the_log(minor, currency):
    money = Money(minor, currency)
    assert money_from_json(money_to_json(money)) == money
    assert money_from_json({"amount": "4", "currency": currency}) == Money.parse("4", currency)
