"""Advice as a window is told of it."""

from __future__ import annotations

from eke.actions.advice import Effect
from eke.fit.advice_draft import Offer
from eke.fit.advice_here import AdviceHere
from eke.fit.showing import Showing
from eke.web.models.advice import EffectView, FitAdviceView, NotHereView, RemedyView, ShowingView


def showing_view(showing: Showing) -> ShowingView:
    """Return something that a mock-up may show."""
    return ShowingView(code=showing.code, words=showing.words, asks=showing.asks, press=showing.press)


def advice_view(told: AdviceHere) -> FitAdviceView:
    """Return what can be done about it, and what cannot."""
    return FitAdviceView(
        showing=told.showing.code,
        piece=told.piece,
        edge=told.edge,
        seen=told.seen,
        means=told.means,
        amount_mm=told.amount_mm,
        remedies=[_remedy_view(one) for one in told.offers],
        not_here=[NotHereView(does=one.does, why=one.why) for one in told.not_here],
    )


def _remedy_view(offer: Offer) -> RemedyView:
    return RemedyView(
        does=offer.does,
        kind=offer.kind,
        params=dict(offer.params),
        amount_mm=offer.amount_mm,
        eased_mm=offer.eased_mm,
        means=list(offer.means),
        sensible=offer.sensible,
        reason=offer.reason,
        watch=offer.watch,
        source=offer.source,
        note=offer.note,
    )


def effect_view(effect: Effect) -> EffectView:
    """Return what a remedy does."""
    return EffectView(
        sentence=effect.sentence,
        pieces=list(effect.pieces),
        caused=[found.finding.sentence for found in effect.caused],
        solved=effect.solved,
        unsettled=list(effect.unsettled),
    )
