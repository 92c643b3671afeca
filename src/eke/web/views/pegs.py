"""The pegged line."""

from __future__ import annotations

from eke.actions.pegs import Peg
from eke.web.models.garment import PegView
from eke.web.views.pictures import picture_view


def peg_view(peg: Peg) -> PegView:
    """Return one peg with its picture."""
    return PegView(
        room=peg.room,
        state=peg.state,
        sentence=peg.sentence,
        picture=None if peg.picture is None else picture_view(peg.picture),
    )
