"""What came of a photograph, as a question: what is missing where it was refused, and what can be said to help.

A refusal of the computation may say what would settle it: ``data["answers"]`` are references in their plain form
(:func:`eke.actions.photographs.reference_list` reads them). What follows from what was said and found is added here.
An answer is something that :func:`eke.actions.photographs.say_of_photograph` takes; its reason is the refusal, or a
warning of what was found.
"""

from __future__ import annotations

from collections.abc import Mapping
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
    "which reference": "scale",
    "unknown marks": "scale",
    "reference unclear": "scale",
    "corners": "scale",
    "a4 or letter": "scale",
    "other shape": "scale",
    "not flat": "scale",
    "focal length": "scale",
    "no tilt": "scale",
    "uncertain": "scale",
}
"""By the reason of a refusal; every other one (dark, tilted, mirrored, joined) is about the picture itself."""
_LENT_BY_CORNERS: Final = ("no tilt", "uncertain")
"""Refusals that the square corners of the paper may cure."""
_TAKEN_BY_SHAPE: Final = ("a4", "letter", "card")
"""What is taken by its shape alone when nobody has said what lies there."""


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


def answers_of(picture: Photograph) -> tuple[Mapping[str, Any], ...]:
    """Return what may be said of a photograph as it stands now to settle what is doubtful or missing."""
    if picture.state == "refused":
        if picture.answers:
            return tuple({"references": [answer]} for answer in picture.answers)
        helps = picture.reason in _LENT_BY_CORNERS and not picture.square_paper and not picture.cloth
        return ({"square_paper": True},) if helps else ()
    if picture.state == "found" and picture.found is not None:
        taken = picture.found["scale"]["reference"]
        unsaid = all(said["kind"] == "auto" for said in picture.references)
        if unsaid and taken in _TAKEN_BY_SHAPE:
            kinds = (taken, *(kind for kind in _TAKEN_BY_SHAPE if kind != taken))
            return tuple({"references": [{"kind": kind}]} for kind in kinds)
    return ()
