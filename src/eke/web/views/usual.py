"""A wearer's usual changes as a window is told of them."""

from __future__ import annotations

from eke.actions.usual import Offer, Usual
from eke.web.models.usual import UsualAsideView, UsualOfferView, UsualView


def usual_view(told: Usual) -> UsualView:
    """Return what is usual for a garment's wearer."""
    return UsualView(
        wearer=told.wearer,
        wearers=list(told.wearers),
        others=list(told.others),
        offers=[_offer_view(one) for one in told.offers],
        aside=[UsualAsideView(key=one.key, words=one.words) for one in told.declined],
    )


def _offer_view(offer: Offer) -> UsualOfferView:
    return UsualOfferView(
        key=offer.key,
        sentence=offer.sentence,
        kind=offer.kind,
        params=None if offer.params is None else dict(offer.params),
        why=offer.why,
        note=offer.note,
    )
