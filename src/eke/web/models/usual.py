"""A wearer's usual changes, offered on a garment."""

from __future__ import annotations

from typing import Any

from eke.web.models.common import Expected, Model


class UsualOfferView(Model):
    """A change that came on earlier garments. No params: its place is not found here without doubt, and ``why`` says so."""

    key: str
    sentence: str
    kind: str
    params: dict[str, Any] | None
    why: str
    note: str
    """What to keep with the step."""


class UsualAsideView(Model):
    """A usual change that the maker said is not for this garment."""

    key: str
    words: str


class UsualView(Model):
    """Whom a garment is made for, and what is usually changed for them; ``wearers`` are all that are named anywhere."""

    wearer: str | None
    wearers: list[str]
    others: list[str]
    """Names of the other garments for the same wearer."""
    offers: list[UsualOfferView]
    aside: list[UsualAsideView]


class WearerSaid(Expected):
    """Whom a garment is made for; none: nobody in particular."""

    name: str | None


class UsualSaid(Expected):
    """A usual change, by its key: not for this garment, or to be offered again."""

    key: str
    offered: bool
