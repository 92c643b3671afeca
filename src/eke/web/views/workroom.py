"""The first screen."""

from __future__ import annotations

from collections.abc import Iterable

from eke import __version__
from eke.actions.cards import Table
from eke.actions.history import Back
from eke.actions.room import Room
from eke.units import Money
from eke.web.models.workroom import GarmentCard, ProjectCard, WorkroomView
from eke.web.views.garment import back_view
from eke.web.views.pictures import picture_view


def workroom_view(room: Room, tables: Iterable[Table], back: Back, revision: int) -> WorkroomView:
    """Return the workroom with its projects and their garments."""
    return WorkroomView(
        name=room.folder.name,
        folder=str(room.folder),
        version=__version__,
        revision=revision,
        projects=[
            ProjectCard(
                id=table.id,
                name=table.name,
                budget=_money(table.budget),
                left=_money(table.left),
                garments=[
                    GarmentCard(
                        id=card.id,
                        name=card.name,
                        pieces=card.pieces,
                        attention=card.attention,
                        picture=None if card.picture is None else picture_view(card.picture),
                    )
                    for card in table.garments
                ],
            )
            for table in tables
        ],
        cloths=len(room.shelf().cloths),
        steps=back_view(back),
    )


def _money(amount: Money | None) -> str | None:
    return None if amount is None else str(amount)
