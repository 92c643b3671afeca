"""The shelf as one looks at it and speaks of it: cloths added with all their words, described, flaws dropped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from eke.actions.cloths import add_cloth_in, typed_outline
from eke.actions.room import Done, Room, find_cloth_id, find_project
from eke.cloth import Cloth, Shelf, flaw_to_json
from eke.errors import BadInput, NotFound
from eke.ledger import money_to_json
from eke.store import Transaction
from eke.units import Money

NOT_SAID: Final = ("id", "parent")
"""What a cloth is known by and was cut from is not said but known."""


def put_on_shelf(
    room: Room,
    name: str,
    *,
    shape: str | None = None,
    measures_mm: Sequence[float] = (),
    outline: Sequence[Sequence[float]] | None = None,
    said: Mapping[str, Any] | None = None,
    price: Money | None = None,
    project: str | None = None,
) -> Done:
    """Put a cloth on the shelf from typed measures or a drawn outline; keep it for a project where one is named.

    Raises
    ------
    BadInput
        When neither, or both, a shape and an outline are given, or a word of it cannot be. Nothing is added then.
    """
    if (shape is None) == (outline is None):
        raise BadInput("Give the cloth a shape with its measures, or draw its outline.")
    drawn = typed_outline(shape, measures_mm) if shape is not None else outline
    assert drawn is not None  # one of the two was given
    words = _words(said, "name", "outline")
    if price is not None:
        words["price"] = price
    with room.store.write() as tx:
        done = add_cloth_in(room, tx, _name(name), drawn, words)
        return done if project is None else keep_new_in(room, tx, done, name, project)


def keep_new_in(room: Room, tx: Transaction, done: Done, name: str, project: str) -> Done:
    """Keep a cloth that was put on the shelf just now for a project. Raises :class:`NotFound` for one not there."""
    kept_for = find_project(room.shelf(tx), project)
    params = {
        "cloth": done.id,
        "project": kept_for.id,
        "names": {done.id: name, kept_for.id: kept_for.name},
    }
    kept = room.change_workroom_in(tx, "cloth.reserve", params)
    return Done(done.id, f"{done.sentence} {kept.sentence}", kept.revision)


def describe(
    room: Room,
    cloth: str,
    said: Mapping[str, Any],
    *,
    price: Money | None = None,
    expected: int | None = None,
) -> Done:
    """Say words of a cloth anew: name, outline, grain, nap, weight …; ``expected`` is the revision looked at."""
    words = _words(said)
    if "name" in words:
        words["name"] = _name(str(words["name"]))
    if price is not None:
        words["price"] = money_to_json(price)
    if not words:
        raise BadInput("Say at least one thing of the cloth, such as which way its warp runs.")
    found = _cloth(room.shelf(), cloth)
    params = {"cloth": found.id, "said": words, "names": {found.id: found.name}}
    done = room.change_workroom("cloth.describe", params, expected=expected)
    return Done(found.id, done.sentence, done.revision, done.unsettled)


def drop_flaw(room: Room, cloth: str, flaw: str) -> Done:
    """Take a marked flaw off a cloth again. Raises :class:`NotFound` when it has none of that id."""
    with room.store.write() as tx:
        found = _cloth(room.shelf(tx), cloth)
        left = [flaw_to_json(f) for f in found.flaws if f.id != flaw]
        if len(left) == len(found.flaws):
            raise NotFound(f"“{found.name}” has no flaw “{flaw}”. Look at it as it is now.", flaw=flaw)
        params = {"cloth": found.id, "said": {"flaws": left}, "names": {found.id: found.name}}
        done = room.change_workroom_in(tx, "cloth.describe", params)
        return Done(found.id, done.sentence, done.revision, done.unsettled)


def gone_from(shelf: Shelf) -> tuple[str, ...]:
    """Return the names of cloths that were on the shelf once and have been cut or discarded."""
    cut = {c.id: c.name for one in shelf.cuts.values() for c in one.cloths}
    names = dict(cut)
    for item in shelf.ledger.items.values():
        if item.id not in shelf.notions and item.id not in shelf.cloths and item.id not in cut:
            names[item.id] = item.name
    return tuple(names.values())


def kept_for(shelf: Shelf, cloth: str) -> tuple[str, ...]:
    """Return the ids of the projects that a cloth, or a part of it, is kept for."""
    return tuple(dict.fromkeys(r.project for r in shelf.reserved_by(cloth)))


def _cloth(shelf: Shelf, cloth: str) -> Cloth:
    return shelf.cloths[find_cloth_id(shelf, cloth)]


def _words(said: Mapping[str, Any] | None, *more: str) -> dict[str, Any]:
    words = dict(said or {})
    for word in (*NOT_SAID, *more):
        if word in words:
            raise BadInput(f"The {word} of a cloth is not said among its words here.")
    return words


def _name(name: str) -> str:
    clean = " ".join(name.split())
    if not clean:
        raise BadInput("Give the cloth a name.")
    if len(clean) > 120:
        raise BadInput(f"A name of {len(clean)} letters is too long. Use up to 120.")
    return clean
