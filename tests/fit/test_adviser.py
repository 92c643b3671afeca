"""The adviser: remedies exist as changes, amounts follow the trade's arithmetic, sources are named."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.errors import BadInput, NotFound
from eke.fit import fit_kinds
from eke.fit.adviser import advise, mixture
from eke.fit.remedies import SHOWINGS

CODES = [s.code for s in SHOWINGS]


@pytest.mark.parametrize("showing", SHOWINGS, ids=CODES)
def test_remedies_are_changes_that_there_are_and_name_their_source(showing) -> None:
    kinds = {k.name for k in fit_kinds()} | {""}
    assert showing.remedies
    for remedy in showing.remedies:
        assert remedy.kind in kinds
        assert remedy.source
        assert remedy.touches
        assert remedy.does[0].isupper()
        assert not remedy.does.endswith(".")
    assert showing.asks.endswith("?")


def test_codes_are_told_apart() -> None:
    assert len(CODES) == len(set(CODES))


def first(code: str, kind: str, mm: float, **how):
    return next(a for a in advise(code, mm, **how) if a.kind == kind)


def test_amounts_follow_the_arithmetic_of_the_trade() -> None:
    # a bust of +50 mm is 25 mm on each half (plain arithmetic)
    assert first("drags-to-bust", "fit.bust", 50.0).amount_mm == 25.0
    # hip +40 mm at two side seams: 20 mm in all at each, 10 mm on each of four edges (taking in below 0 lets out)
    assert first("tight-over-hip", "fit.take_in", 40.0).amount_mm == -20.0
    # a front neck gape is lapped half on each half
    assert first("neck-gapes-front", "fit.wedge", 12.0).amount_mm == 6.0
    # pinned on one half it is the whole of that half
    assert first("neck-gapes-front", "fit.wedge", 6.0, whole=False).amount_mm == 6.0
    # lengths are not halved
    assert first("folds-above-back-waist", "fit.wedge", 12.0, whole=False).amount_mm == 12.0


def test_what_does_not_suit_the_amount_comes_last_with_the_reason() -> None:
    small, large = advise("neck-gapes-front", 8.0), advise("neck-gapes-front", 30.0)
    assert small[0].kind == ""
    assert large[0].kind == "fit.wedge"
    assert not large[-1].sensible
    assert "more than" in large[-1].reason


def test_ease_is_told_as_a_share_of_the_edge() -> None:
    # 10 mm over 150 mm are 7 % and pucker (common practice)
    eased = first("armhole-gapes", "", 20.0, over_mm=150.0)
    assert eased.amount_mm == 10.0
    assert not eased.sensible
    assert "6.7 %" in eased.reason
    assert first("armhole-gapes", "", 8.0, over_mm=150.0).sensible


def test_a_mixture_adds_up() -> None:
    assert mixture(12.0, 4.0, 150.0)[:2] == (8.0, 4.0)
    with pytest.raises(BadInput, match=r"up to 4\.5 mm") as refused:
        mixture(12.0, 6.0, 150.0)
    assert refused.value.data["most_mm"] == pytest.approx(4.5)
    with pytest.raises(BadInput, match="can be eased"):
        mixture(12.0, 13.0, 800.0)


@given(st.sampled_from(CODES), st.floats(0.01, 300.0), st.booleans())
def test_advice_is_always_there_and_in_order(code: str, mm: float, whole: bool) -> None:
    found = advise(code, mm, whole=whole)
    assert found
    ranks = [a.sensible for a in found]
    assert ranks == sorted(ranks, reverse=True)
    assert all(abs(a.amount_mm) <= 2.0 * mm + 0.01 for a in found)


def test_refused_in_words() -> None:
    for mm in (0.0, -3.0, 999.0, float("nan")):
        with pytest.raises(BadInput, match="how much was pinned"):
            advise("neck-tight", mm)
    with pytest.raises(NotFound, match="There is no advice"):
        advise("wings", 5.0)
    with pytest.raises(BadInput, match="cotton and wool"):
        advise("armhole-gapes", 8.0, over_mm=150.0, cloth="tin")
