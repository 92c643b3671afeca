"""Shares add up exactly, to the cent, whatever is shared."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.errors import BadInput
from eke.ledger import running_split, split
from eke.units import Money

MONEY = st.builds(Money, st.integers(-(10**9), 10**9), st.sampled_from(["EUR", "JPY", "KWD", "SEK"]))
WEIGHTS = st.lists(
    st.one_of(st.integers(0, 10**9), st.fractions(0, 1000, max_denominator=997)), min_size=1, max_size=12
).filter(any)


@given(MONEY, WEIGHTS)
def test_shares_add_up_exactly_and_are_within_a_minor_unit(amount, weights):
    total = sum(map(Fraction, weights))
    for share_out in (split, running_split):
        shares = share_out(amount, weights)
        assert sum(share.minor for share in shares) == amount.minor
        assert all(share.currency == amount.currency for share in shares)
        for share, weight in zip(shares, weights, strict=True):
            assert abs(share.minor - amount.minor * Fraction(weight) / total) < (
                1 if share_out is split else 1.0001
            )


@given(MONEY, WEIGHTS, st.integers(2, 50))
def test_only_the_proportion_counts(amount, weights, factor):
    assert split(amount, weights) == split(amount, [weight * factor for weight in weights])


@given(st.integers(0, 10**7), st.lists(st.integers(0, 10**6), min_size=1, max_size=8), st.data())
def test_a_later_use_never_changes_what_an_earlier_one_cost(minor, amounts, data):
    whole = sum(amounts) + data.draw(st.integers(1, 10**6))
    seen: tuple[Money, ...] = ()
    for k in range(1, len(amounts) + 1):
        used = amounts[:k]
        shares = running_split(Money(minor, "EUR"), [*used, whole - sum(used)])
        assert shares[: k - 1] == seen
        assert all(share.minor >= 0 for share in shares)
        seen = shares[:k]


@given(st.integers(1, 9), st.integers(0, 1000))
def test_equal_shares_differ_by_at_most_one(n, minor):
    shares = [share.minor for share in split(Money(minor, "EUR"), [1] * n)]
    assert max(shares) - min(shares) <= 1
    assert shares == sorted(shares, reverse=True)


def test_ten_euros_among_three():
    assert [str(m) for m in split(Money(1000, "EUR"), [1, 1, 1])] == ["3.34 EUR", "3.33 EUR", "3.33 EUR"]


@pytest.mark.parametrize("weights", [[], [0, 0], [1, -1, 5]])
def test_no_share_at_all_is_refused(weights):
    with pytest.raises(BadInput):
        split(Money(100, "EUR"), weights)
