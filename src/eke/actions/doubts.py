"""What came of a photograph, as a question: what is missing where it was refused, and what can be said to help.

A doubt has a reason and ways to settle it, each of them something that :func:`say_of_photograph` takes. Where the
computation itself doubts, it says so with what it found (``doubts`` of ``eke-found-1``) or with its refusal
(``data["doubts"]``), in the shape of :func:`doubt_from`; what follows from what was said and found is added here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from eke.actions.photographs import Photograph
from eke.errors import BadInput, EkeError, HonestNo

Missing = Literal["scale", "outline", "picture", "said"]
"""What a refusal is about: the scale, the thing to be found, the picture as such, or what was said of it."""

NOTHING_FOUND: Final = "nothing found"
NONSENSE: Final = "nonsense said"
UNREADABLE: Final = "unreadable"
_MISSING: Final[Mapping[str, Missing]] = {
    NOTHING_FOUND: "outline",
    NONSENSE: "said",
    "no reference": "scale",
    "reference unclear": "scale",
    "corners": "scale",
    "a4 or letter": "scale",
    "not flat": "scale",
    "focal length": "scale",
    "no tilt": "scale",
    "uncertain": "scale",
}
"""By the reason of a refusal; every other one (dark, tilted, mirrored, joined) is about the picture itself."""
_LENT_BY_CORNERS: Final = ("no tilt", "uncertain")
"""Refusals that the square corners of the paper may cure."""
_OTHER_SHEET: Final[Mapping[str, str]] = {"a4": "letter", "letter": "a4"}
_LIKE_A_CARD: Final = ("card", "letter", "a4", "sheet")
"""What may lie there when something was taken for a bank card and nobody had said so."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """A question about a photograph: why it is asked (None: a warning beside it says so), and ways to settle it."""

    sentence: str | None
    choices: tuple[Mapping[str, Any], ...]


def doubt_from(row: Mapping[str, Any]) -> Doubt:
    """Read ``{"sentence": …, "choices": [what may be said of the photograph, …]}``."""
    return Doubt(row.get("sentence"), tuple(row.get("choices", ())))


def reason_of(error: EkeError) -> str:
    """Return a short word for why there is no result; kept with the photograph."""
    reason = error.data.get("reason")
    if reason is not None:
        return str(reason)
    # the search for outlines gives no reason of its own: nothing to follow is the only one that it has
    if isinstance(error, HonestNo):
        return NOTHING_FOUND
    return NONSENSE if type(error) is BadInput else UNREADABLE


def missing_of(picture: Photograph) -> Missing | None:
    """Return what a refused photograph lacks; ``None``: it is not refused, or an older Eke did not keep why."""
    if picture.refused is None or picture.reason is None:
        return None
    return _MISSING.get(picture.reason, "picture")


def doubts_of(picture: Photograph) -> tuple[Doubt, ...]:
    """Return what can be settled about a photograph by saying something of it, as it stands now."""
    if picture.state == "refused":
        told = [doubt_from(row) for row in picture.doubts]
        return tuple(told or _of_refusal(picture))
    if picture.state == "found" and picture.found is not None:
        told = [doubt_from(row) for row in picture.found.get("doubts", ())]
        return tuple(told or _of_found(picture, picture.found))
    return ()


def _of_refusal(picture: Photograph) -> Iterable[Doubt]:
    if picture.reason == "a4 or letter":
        swapped = [
            {**said, "kind": _OTHER_SHEET.get(said["kind"], said["kind"])} for said in picture.references
        ]
        yield Doubt(None, ({"references": swapped},))
    elif picture.reason in _LENT_BY_CORNERS and not picture.square_paper and not picture.cloth:
        yield Doubt(None, ({"square_paper": True},))


def _of_found(picture: Photograph, found: Mapping[str, Any]) -> Iterable[Doubt]:
    """Boxes, books and tiles have about the shape of a bank card, too: nobody has said that one lies there."""
    unsaid = all(said["kind"] == "auto" for said in picture.references)
    if unsaid and found["scale"]["reference"] == "card":
        yield Doubt(None, tuple({"references": [{"kind": kind}]} for kind in _LIKE_A_CARD))
