"""A cloth as plain values for a log, and back: numbers, words and lists only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any, Final

from eke.cloth.cloth import Cloth, Flaw
from eke.errors import BadInput
from eke.ledger import money_from_json, money_to_json

_PLAIN: Final = (
    "grain_deg", "same_face", "nap", "weight_gsm", "shrink_warp_percent", "shrink_weft_percent", "origin",
    "second_hand", "hottest_wash_deg", "tumble_dry", "washed", "fibre", "uncertainty_mm", "parent",
)  # fmt: skip
_DEFAULTS: Final = {f.name: f.default for f in fields(Cloth)}


def cloth_to_json(cloth: Cloth) -> dict[str, Any]:
    """Return the cloth as plain values; what is as by default is left out, so that logs read well."""
    out: dict[str, Any] = {"id": cloth.id, "name": cloth.name, "outline": [list(p) for p in cloth.outline]}
    if cloth.holes:
        out["holes"] = [[list(p) for p in hole] for hole in cloth.holes]
    if cloth.flaws:
        out["flaws"] = [flaw_to_json(flaw) for flaw in cloth.flaws]
    for name in _PLAIN:
        value = getattr(cloth, name)
        if value != _DEFAULTS[name]:
            out[name] = value
    if any(cloth.repeat_mm):
        out["repeat_mm"] = list(cloth.repeat_mm)
    if cloth.price is not None:
        out["price"] = money_to_json(cloth.price)
    if cloth.photos:
        out["photos"] = list(cloth.photos)
    return out


def cloth_from_json(value: Mapping[str, Any]) -> Cloth:
    """Read a cloth from plain values.

    Raises
    ------
    BadInput
        When id, name or outline is missing, a field is unknown, or a value cannot be.
    """
    _known(value, ("id", "name", "outline", *cloth_fields()))
    for needed in ("id", "name", "outline"):
        if needed not in value:
            raise BadInput(f"A cloth needs its {needed}.")
    return Cloth(str(value["id"]), str(value["name"]), value["outline"], **cloth_changes(value))


def cloth_fields() -> tuple[str, ...]:
    """The fields of a cloth that may be said or said anew, apart from its id."""
    return (*_PLAIN, "holes", "flaws", "repeat_mm", "price", "photos")


def cloth_changes(value: Mapping[str, Any]) -> dict[str, Any]:
    """The fields in ``value`` that a cloth has, each as the type that it needs."""
    found: dict[str, Any] = {name: value[name] for name in _PLAIN if name in value}
    for name in ("grain_deg", "weight_gsm", "shrink_warp_percent", "shrink_weft_percent", "uncertainty_mm"):
        if found.get(name) is not None:
            found[name] = _number(found[name], name)
    if "holes" in value:
        found["holes"] = tuple(value["holes"])
    if "flaws" in value:
        found["flaws"] = tuple(flaw_from_json(flaw) for flaw in value["flaws"])
    if "repeat_mm" in value:
        repeats = list(value["repeat_mm"])
        if len(repeats) != 2:
            raise BadInput(
                "A repeat has two lengths: along the warp and across it; leave out (null) what there is not."
            )
        found["repeat_mm"] = tuple(None if r is None else _number(r, "repeat_mm") for r in repeats)
    if "price" in value:
        found["price"] = None if value["price"] is None else money_from_json(value["price"])
    if "photos" in value:
        found["photos"] = tuple(str(photo) for photo in value["photos"])
    return found


def flaw_to_json(flaw: Flaw) -> dict[str, Any]:
    """Return a flaw as plain values."""
    return {
        "id": flaw.id,
        "polygon": [list(p) for p in flaw.polygon],
        "kind": flaw.kind,
        "quality": flaw.quality,
    }


def flaw_from_json(value: Mapping[str, Any]) -> Flaw:
    """Read a flaw from plain values. Raises :class:`BadInput`."""
    _known(value, ("id", "polygon", "kind", "quality"))
    if "id" not in value or "polygon" not in value:
        raise BadInput("A flaw needs an id and an outline (polygon).")
    return Flaw(str(value["id"]), value["polygon"], str(value.get("kind", "flaw")), value.get("quality", 0))


def _number(value: Any, name: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadInput(f"“{name}” needs a number, not “{value}”.")
    return float(value)


def _known(value: Mapping[str, Any], names: tuple[str, ...]) -> None:
    for name in value:
        if name not in names:
            raise BadInput(f"A record has “{name}”, which Eke does not know. Known are: {', '.join(names)}.")
