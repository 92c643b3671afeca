"""What is said of a garment, in words for the history: "that the wearer is 9 years old", "6 buttons of 15 mm"."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from eke.errors import NotFound
from eke.pattern.corners import called
from eke.pattern.model import Pattern
from eke.sentences import in_a_row

NOT_SEWN: Final = "not_sewn_together"
"""The fact that holds which edges the maker said are not sewn to each other: "~" between the two sides, "+" between
the edges of one."""
LONGEST_WEARER: Final = 120
"""Letters of a wearer's name that a sentence can hold."""
GONE: Final = "an edge that is gone"


def fact_words(pattern: Pattern, name: str, value: Any) -> str:
    """Return a fact in words that follow "Noted", or nothing for a fact that has none.

    Parameters
    ----------
    pattern
        As it stands before: of a list, what is new is told.
    name, value
        What is said, of any form; a value that makes no sense has no words.
    """
    words = WORDS.get(name)
    return words(pattern, value) if words is not None else ""


def edges_words(pattern: Pattern, ids: Sequence[str]) -> str:
    """Return edges in plain words: "the armhole of front and the armhole of side front", each named once.

    The stretches that a dart makes of one edge have one name.
    """
    said: list[str] = []
    for id_ in ids:
        try:
            piece, edge = pattern.edge(id_)
            words = f"the {called(piece, edge)} of {piece.name}"
        except NotFound:
            words = GONE
        if words not in said:
            said.append(words)
    return " and ".join(said)


def _not_sewn(pattern: Pattern, value: Any) -> str:
    before = _list(pattern.facts.get(NOT_SEWN))
    new = [pair for pair in _list(value) if pair not in before]
    told = [
        " and ".join(edges_words(pattern, side.split("+")) for side in pair.split("~")) + " are not sewn together"
        for pair in new
    ]  # fmt: skip
    return f"that {', and that '.join(told)}" if told else "which edges are not sewn together"


def _age(pattern: Pattern, value: Any) -> str:
    if value is None:
        return "nothing of the wearer's age"
    if isinstance(value, bool) or not isinstance(value, int | float):
        return ""
    return f"that the wearer is {value:g} {'year' if value == 1 else 'years'} old"


def _wearer(pattern: Pattern, value: Any) -> str:
    if value is None:
        return "that it is made for nobody in particular"
    name = " ".join(value.split()) if isinstance(value, str) else ""
    return f"that it is made for {name}" if 0 < len(name) <= LONGEST_WEARER else ""


def _not_usual(pattern: Pattern, value: Any) -> str:
    """Which usual change is not for this garment, or is offered on it again."""
    before, now = (
        [str(one.get("words", "")) for one in said if isinstance(one, Mapping)]
        for said in (
            said if isinstance(said, list | tuple) else ()
            for said in (pattern.facts.get("usual_not_here"), value)
        )
    )
    new, gone = [w for w in now if w not in before], [w for w in before if w not in now]
    if new:
        return f"that a usual change is not for this garment: {in_a_row(new)}"
    return f"that a usual change may be offered here again: {in_a_row(gone)}" if gone else ""


def _either(yes: str, no: str) -> Callable[[Pattern, Any], str]:
    def words(pattern: Pattern, value: Any) -> str:
        return yes if value else no

    return words


def _cords(pattern: Pattern, value: Any) -> str:
    places = [f"the {place}" for place in _list(value)]
    return f"cords at {in_a_row(places)}" if places else "no cords"


def _buttons(pattern: Pattern, value: Any) -> str:
    rows = (value,) if isinstance(value, Mapping) else value if isinstance(value, list | tuple) else ()
    told: list[str] = []
    for row in rows:
        count, wide = (
            (row.get("count", 1), row.get("diameter_mm")) if isinstance(row, Mapping) else (None, None)
        )
        if not isinstance(count, int) or not isinstance(wide, int | float):
            return ""
        told.append(f"{count} {'button' if count == 1 else 'buttons'} of {wide:g} mm")
    return in_a_row(told) if told else "no buttons"


def _sewn_on(pattern: Pattern, value: Any) -> str:
    before, now = (_pairs(one) for one in (pattern.facts.get("sewn_on"), value))
    told = [
        f"that {_piece(pattern, what)} is sewn onto {_piece(pattern, onto)}"
        for what, onto in now.items()
        if before.get(what) != onto
    ]
    told += [
        f"that {_piece(pattern, what)} is not sewn onto {_piece(pattern, onto)}"
        for what, onto in before.items()
        if what not in now
    ]
    return in_a_row(told) if told else "what is sewn onto another piece"


def _piece(pattern: Pattern, id_or_name: str) -> str:
    try:
        return f"“{pattern.piece(id_or_name).name}”"
    except NotFound:
        return f"“{id_or_name}”"


def _list(value: Any) -> list[str]:
    return [str(one) for one in value] if isinstance(value, list | tuple) else []


def _pairs(value: Any) -> dict[str, str]:
    return {str(k): str(v) for k, v in value.items()} if isinstance(value, Mapping) else {}


WORDS: Final[Mapping[str, Callable[[Pattern, Any], str]]] = {
    NOT_SEWN: _not_sewn,
    "wearer_age_years": _age,
    "wearer": _wearer,
    "usual_not_here": _not_usual,
    "nightwear": _either("that it is for sleeping in", "that it is not for sleeping in"),
    "outerwear": _either("that it is worn outside, on top", "that it is not worn outside, on top"),
    "cords": _cords,
    "buttons": _buttons,
    "sewn_on": _sewn_on,
}
"""Every fact that the app asks for."""
