"""Sharing an amount exactly: the shares always add up to what was shared.

Two ways, for two questions. :func:`split` shares something among takers who are all known (a purchase
among projects). :func:`running_split` shares it among uses that come one after the other (cuts of one
cloth): a later use never changes what an earlier one was said to cost.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from eke.errors import BadInput
from eke.units import Money

Weight = int | Fraction


def split(amount: Money, weights: Sequence[Weight]) -> tuple[Money, ...]:
    """Share ``amount`` in proportion to ``weights``; the shares add up to it exactly.

    Each share differs from the exact proportion by less than one minor unit. What rounding down leaves
    over goes, one minor unit each, to the shares that lost most; among equals to the first.

    Parameters
    ----------
    amount
        What is shared; may be negative (money that came back).
    weights
        Whole numbers or fractions, none negative, not all 0.

    Raises
    ------
    BadInput
        When there is no weight above 0, or one below.

    References
    ----------
    The method of largest remainders, as used for seats in parliaments (common knowledge).
    """
    return tuple(Money(minor, amount.currency) for minor in split_whole(amount.minor, weights))


def split_whole(amount: int, weights: Sequence[Weight]) -> tuple[int, ...]:
    """Share whole units as :func:`split` shares money. Raises :class:`BadInput`."""
    exact = _exact(amount, weights)
    floors = [part.numerator // part.denominator for part in exact]
    over = amount - sum(floors)
    most_lost = sorted(range(len(exact)), key=lambda i: (floors[i] - exact[i], i))
    for i in most_lost[:over]:
        floors[i] += 1
    return tuple(floors)


def running_split(amount: Money, weights: Sequence[Weight]) -> tuple[Money, ...]:
    """Share ``amount`` among uses in their order, so that earlier shares never change.

    The share of a use is the rounded cumulative cost after it less the rounded cumulative cost before it.
    The shares add up exactly, each is within one minor unit of its proportion, and the first ``k`` of them
    depend only on the first ``k`` weights and on the sum of all.

    Raises
    ------
    BadInput
        When there is no weight above 0, or one below.
    """
    exact = _exact(amount.minor, weights)
    shares: list[Money] = []
    before, cumulative = 0, Fraction(0)
    for part in exact:
        cumulative += part
        after = round(cumulative)
        shares.append(Money(after - before, amount.currency))
        before = after
    return tuple(shares)


def _exact(amount: int, weights: Sequence[Weight]) -> list[Fraction]:
    whole = [Fraction(weight) for weight in weights]
    if any(weight < 0 for weight in whole):
        raise BadInput("A share cannot be less than nothing. Give each share 0 or more.")
    total = sum(whole, Fraction(0))
    if total == 0:
        raise BadInput("Nothing can be shared among nobody. Name at least one share above 0.")
    return [amount * weight / total for weight in whole]
