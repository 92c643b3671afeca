"""Cloth on the shelf: from a photograph or from typed measures; kept for a project, washed, marked, discarded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from eke.actions.room import Done, Room, find_cloth_id, find_project, new_id
from eke.cloth import (
    Advice,
    Cloth,
    advice_for,
    four_sided,
    half_round,
    l_shape,
    oval,
    rectangle,
    round_cloth,
)
from eke.errors import BadInput
from eke.ledger import money_to_json
from eke.store import Transaction
from eke.units import Money

LONGEST_MM: Final = 100_000.0
"""No bolt of cloth is longer than 100 m (common practice); more is a slip of the finger."""

SHAPES: Mapping[str, tuple[Any, tuple[str, ...]]] = {
    "rectangle": (rectangle, ("width_mm", "length_mm")),
    "round": (round_cloth, ("diameter_mm",)),
    "half-round": (half_round, ("diameter_mm",)),
    "oval": (oval, ("width_mm", "length_mm")),
    "l-shape": (l_shape, ("width_mm", "length_mm", "gone_width_mm", "gone_length_mm")),
    "four-sided": (four_sided, ("bottom_mm", "right_mm", "top_mm", "left_mm", "diagonal_mm")),
}
"""Shapes that can be typed, and the measures that each needs."""


def typed_outline(shape: str, measures: Sequence[float]) -> Any:
    """Return the outline of a typed shape. Raises :class:`BadInput` with the measures that it needs."""
    if shape not in SHAPES:
        raise BadInput(f"A cloth's shape is one of {', '.join(SHAPES)}, not “{shape}”.")
    make, names = SHAPES[shape]
    if len(measures) != len(names):
        needs = ", ".join(n.removesuffix("_mm").replace("_", " ") for n in names)
        raise BadInput(f"A {shape} cloth needs {len(names)} measures in mm: {needs}.")
    longest = max(measures)
    if longest > LONGEST_MM:
        raise BadInput(
            f"{longest / 1000:g} m is longer than any cloth on a shelf. Give the measures in mm, up to {LONGEST_MM / 1000:g} m."
        )
    return make(*measures)


def add_cloth(
    room: Room, name: str, outline: Sequence[Sequence[float]], *, price: Money | None = None, **said: Any
) -> Done:
    """Put a cloth on the shelf. ``said`` are further words of a cloth: holes, grain_deg, nap, weight_gsm, origin …"""
    if price is not None:
        said["price"] = price
    with room.store.write() as tx:
        return add_cloth_in(room, tx, name, outline, said)


def add_cloth_in(
    room: Room, tx: Transaction, name: str, outline: Sequence[Sequence[float]], said: Mapping[str, Any]
) -> Done:
    """Put a cloth on the shelf within a transaction that an action has open."""
    cloth_id = new_id()
    points = [list(map(float, p)) for p in outline]
    cloth: dict[str, Any] = {"id": cloth_id, "name": name, "outline": points, **said}
    if isinstance(cloth.get("price"), Money):
        cloth["price"] = money_to_json(cloth["price"])
    done = room.change_workroom_in(tx, "cloth.add", {"cloth": cloth})
    return Done(cloth_id, done.sentence, done.revision)


def describe_cloth(room: Room, cloth: str, **said: Any) -> Done:
    """Say something of a cloth anew; what it cost as money."""
    if isinstance(said.get("price"), Money):
        said = {**said, "price": money_to_json(said["price"])}
    found = room.shelf().cloths[find_cloth_id(room.shelf(), cloth)]
    return room.change_workroom(
        "cloth.describe", {"cloth": found.id, "said": said, "names": {found.id: found.name}}
    )


def mark_flaw(
    room: Room, cloth: str, polygon: Sequence[Sequence[float]], kind: str = "stain", quality: int = 1
) -> Done:
    """Mark a place on a cloth as flawed; pieces that ask for sound cloth keep off it."""
    found = _cloth(room, cloth)
    flaw = {
        "id": new_id(),
        "polygon": [list(map(float, p)) for p in polygon],
        "kind": kind,
        "quality": quality,
    }
    return room.change_workroom(
        "cloth.mark_flaw", {"cloth": found.id, "flaw": flaw, "names": {found.id: found.name}}
    )


def wash_cloth(room: Room, cloth: str) -> Done:
    """Note that a cloth has been washed, and shrink it as expected."""
    found = _cloth(room, cloth)
    return room.change_workroom("cloth.wash", {"cloth": found.id, "names": {found.id: found.name}})


def reserve_cloth(room: Room, cloth: str, project: str) -> Done:
    """Keep a cloth for a project."""
    found, kept_for = _cloth(room, cloth), find_project(room.shelf(), project)
    names = {found.id: found.name, kept_for.id: kept_for.name}
    return room.change_workroom("cloth.reserve", {"cloth": found.id, "project": kept_for.id, "names": names})


def release_cloth(room: Room, cloth: str, project: str) -> Done:
    """Let a cloth go from a project."""
    found, kept_for = _cloth(room, cloth), find_project(room.shelf(), project)
    names = {found.id: found.name, kept_for.id: kept_for.name}
    return room.change_workroom("cloth.release", {"cloth": found.id, "project": kept_for.id, "names": names})


def discard_cloth(room: Room, cloth: str) -> Done:
    """Take a cloth off the shelf uncut."""
    found = _cloth(room, cloth)
    return room.change_workroom("cloth.discard", {"cloth": found.id, "names": {found.id: found.name}})


def cloths_of(room: Room, project: str) -> tuple[Cloth, ...]:
    """Return the cloths that are kept for a project, in the order in which they were put on the shelf."""
    shelf = room.shelf()
    wanted = {r.cloth for r in shelf.reservations if r.project == find_project(shelf, project).id}
    return tuple(c for key, c in shelf.cloths.items() if key in wanted)


def advice_of(room: Room, cloth: str) -> tuple[Advice, ...]:
    """Return what to do with a found cloth before it comes near the others."""
    return tuple(advice_for(_cloth(room, cloth)))


def _cloth(room: Room, cloth: str) -> Cloth:
    shelf = room.shelf()
    return shelf.cloths[find_cloth_id(shelf, cloth)]
