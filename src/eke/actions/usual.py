"""A wearer's usual changes: what was changed on their earlier garments is offered on the next one.

Whom a garment is made for is a fact of the garment, ``wearer``, said by the maker and kept in its history. What was
changed is read from the histories of the wearer's other garments: only what is in force there, not what was taken back,
switched off or set aside. Nothing is made without a choice, and a change that is not for this garment is said to be so
once, in its history too.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from eke.actions.patterns import change
from eke.actions.room import Done, GarmentState, Room
from eke.cloth import Garment
from eke.errors import BadInput, EkeError, NotFound
from eke.fit.elsewhere import AMOUNTS, Taken
from eke.fit.elsewhere_places import Spot, same
from eke.pattern.model import Pattern
from eke.sentences import in_a_row

WEARER: Final = "wearer"
"""The fact that holds whom a garment is made for."""
NOT_HERE: Final = "usual_not_here"
"""The fact that holds which usual changes are not for this garment."""
LEAST_MM: Final = 0.5
"""What is left of a change that was mostly let go again, and a difference between two garments, counts from here on."""
LONGEST_NAME: Final = 120
_NUMBERS: Final = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


@dataclass(frozen=True, slots=True)
class Offer:
    """A usual change, as it would be made on this garment.

    ``params`` are none where its place is not found here without doubt; ``why`` says so then. ``note`` is the reason
    that the history keeps.
    """

    key: str
    kind: str
    sentence: str
    params: Mapping[str, Any] | None
    amount_mm: float
    why: str
    note: str
    garments: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Declined:
    """A usual change that the maker said is not for this garment."""

    key: str
    words: str


@dataclass(frozen=True, slots=True)
class Usual:
    """Whom a garment is made for, whom others are made for, and what is usually changed."""

    wearer: str | None
    wearers: tuple[str, ...]
    others: tuple[str, ...]
    """Names of the other garments for the same wearer."""
    offers: tuple[Offer, ...]
    declined: tuple[Declined, ...]


@dataclass(slots=True)
class _Made:
    """All that one garment has of one change at one place."""

    garment: Garment
    taken: Taken
    spot: Spot
    at: str
    key: str
    total_mm: float
    notes: list[str] = field(default_factory=list)


def wearer_of(pattern: Pattern) -> str | None:
    """Return whom a garment is made for; None where nobody is named."""
    said = pattern.facts.get(WEARER)
    return " ".join(said.split()) or None if isinstance(said, str) else None


def made_for(room: Room, garment: str, name: str | None, *, expected: int | None = None) -> Done:
    """Say whom a garment is made for, or (None) that it is for nobody in particular.

    Raises
    ------
    BadInput
        When the name is too long to read in a sentence.
    """
    clean = " ".join((name or "").split()) or None
    if clean is not None and len(clean) > LONGEST_NAME:
        raise BadInput(
            f"A name of {len(clean)} letters is too long. Use up to {LONGEST_NAME}. Nothing was changed."
        )
    return change(room, garment, "fact.set", {"name": WEARER, "value": clean}, expected=expected)


def usual(room: Room, garment: str, *, expected: int | None = None) -> Usual:
    """Return the usual changes of a garment's wearer that this garment has not got. Nothing is kept."""
    state = room.garment(garment)
    room.expect(state.stored, expected)
    wearer = wearer_of(state.pattern)
    everyone = {other.id: (other, _wearer_there(room, other)) for other in _garments(room)}
    known = {name.casefold(): name for _, name in everyone.values() if name}
    wearers = tuple(sorted(known.values(), key=str.casefold))
    declined = tuple(_declined(state.pattern))
    if wearer is None:
        return Usual(None, wearers, (), (), tuple(one for one, _, _ in declined))
    others = [
        other
        for other, name in everyone.values()
        if other.id != state.id and name is not None and name.casefold() == wearer.casefold()
    ]
    made = sorted((m for other in others for m in _made(room, other)), key=lambda m: m.at, reverse=True)
    own = _made(room, Garment(state.id, state.name))
    latest = list(dict.fromkeys(m.garment.id for m in made))
    offers = [
        _offer(room, state, wearer, group, latest)
        for group in _groups(made)
        if not any(m.taken.kind == group[0].taken.kind and same(m.spot, group[0].spot) for m in own)
        and not any(kind == group[0].taken.kind and same(spot, group[0].spot) for _, kind, spot in declined)
    ]
    offers.sort(key=lambda offer: -len(offer.garments))  # stable: the newest first among equals
    names = tuple(other.name for other in others)
    return Usual(wearer, wearers, names, tuple(offers), tuple(one for one, _, _ in declined))


def do_usual(
    room: Room, garment: str, key: str, *, amount_mm: float | None = None, expected: int | None = None
) -> Done:
    """Make a usual change on a garment, with the amount that it had or another one.

    Raises
    ------
    NotFound
        When no such change is offered.
    BadInput
        When its place is not found here without doubt, or the amount is nothing.
    """
    offer = _offered(room, garment, key, expected)
    if offer.params is None:
        raise BadInput(
            f"{offer.why} Nothing was changed. Make it with its place: on the drawing, or by eke fit."
        )
    params = dict(offer.params)
    if amount_mm is not None:
        if abs(amount_mm) < 0.1:
            raise BadInput("Say how much: more than nothing. Nothing was changed.")
        params = dict(Taken(offer.kind, params, Pattern()).with_amount(amount_mm).params)
    return change(room, garment, offer.kind, params, offer.note, expected=expected)


def not_here(room: Room, garment: str, key: str, *, expected: int | None = None) -> Done:
    """Say that a usual change is not for this garment: it is offered there no more. Raises :class:`NotFound`."""
    offer = _offered(room, garment, key, expected)
    state = room.garment(garment)
    (made,) = [m for other in _garments(room) for m in _made(room, other) if m.key == key][:1]
    entry = {
        "key": key,
        "kind": offer.kind,
        "part": made.spot.part,
        "label": made.spot.label,
        "ends": list(made.spot.ends),
        "share": round(made.spot.share, 3),
        "words": _done(room, made.taken, made.total_mm),
    }
    value = [*_entries(state.pattern), entry]
    return change(room, garment, "fact.set", {"name": NOT_HERE, "value": value}, expected=expected)


def here_again(room: Room, garment: str, key: str, *, expected: int | None = None) -> Done:
    """Offer a usual change again that was said not to be for this garment. Raises :class:`NotFound`."""
    entries = _entries(room.garment(garment).pattern)
    value = [one for one in entries if one.get("key") != key]
    if len(value) == len(entries):
        raise NotFound("That change was not put aside on this garment. Nothing was changed.", key=key)
    return change(room, garment, "fact.set", {"name": NOT_HERE, "value": value}, expected=expected)


# ---- reading histories


def _garments(room: Room) -> Iterator[Garment]:
    for project in room.shelf().projects.values():
        yield from project.garments


def _wearer_there(room: Room, garment: Garment) -> str | None:
    pattern: Pattern = room.replayed(room.stored(garment.id), garment.name).state
    return wearer_of(pattern)


def _made(room: Room, garment: Garment) -> list[_Made]:
    """Every change in force that follows from the body; those at one place are one, with what they come to in all."""
    made: list[_Made] = []
    before = Pattern(garment.name)
    for step, after in room.trail_of(garment.id):
        if step.applied and step.kind in AMOUNTS:
            taken = Taken(step.kind, step.params, before)
            try:
                spot, amount = taken.spot, taken.amount_mm
            except (EkeError, LookupError, TypeError, ValueError):
                amount = 0.0  # a change of a form that is not read here is not offered either
            if amount:
                found = next((m for m in made if m.taken.kind == step.kind and same(m.spot, spot)), None)
                notes = [step.record.note] if step.record.note else []
                total = amount + (found.total_mm if found else 0.0)
                notes = [*(found.notes if found else []), *notes]
                made = [m for m in made if m is not found]
                made.append(_Made(garment, taken, spot, step.record.at, step.id, total, notes))
        before = after
    return made


def _groups(made: Sequence[_Made]) -> list[list[_Made]]:
    """The same change of several garments together, the newest first."""
    groups: list[list[_Made]] = []
    for one in made:
        if abs(one.total_mm) < LEAST_MM:
            continue
        for group in groups:
            first = group[0]
            if (
                first.taken.kind == one.taken.kind
                and first.total_mm * one.total_mm > 0.0
                and same(first.spot, one.spot)
            ):
                group.append(one)
                break
        else:
            groups.append([one])
    return groups


# ---- offering


def _offered(room: Room, garment: str, key: str, expected: int | None) -> Offer:
    for offer in usual(room, garment, expected=expected).offers:
        if offer.key == key:
            return offer
    raise NotFound("That change is not offered on this garment. Look again at what is offered.", key=key)


def _offer(
    room: Room, state: GarmentState, wearer: str, group: Sequence[_Made], latest: Sequence[str]
) -> Offer:
    newest = group[0]
    taken = newest.taken.with_amount(newest.total_mm)
    names = tuple(f"“{name}”" for name in dict.fromkeys(m.garment.name for m in group))
    sentence = f"{_where(wearer, group, latest)} you {_done(room, taken, newest.total_mm)}{_unlike(group)}."
    why, params = "", None
    try:
        params = taken.on(state.pattern)
        room.try_garment(state.id, taken.kind, params)
    except EkeError as error:
        why, params = error.message, None
    noted = f": {newest.notes[-1]}" if newest.notes else ""
    note = f"Usual for {wearer}, as on {in_a_row(names)}{noted}"
    plain = tuple(dict.fromkeys(m.garment.name for m in group))
    return Offer(newest.key, taken.kind, sentence, params, round(newest.total_mm, 3), why, note, plain)


def _where(wearer: str, group: Sequence[_Made], latest: Sequence[str]) -> str:
    """On which of the wearer's garments, in words; those that were changed last come first in ``latest``."""
    ids = list(dict.fromkeys(m.garment.id for m in group))
    names = in_a_row(f"“{m.garment.name}”" for m in group)
    reach = 1 + max(latest.index(one) for one in ids)
    if len(ids) == 1 and reach == 1:
        return f"On the last garment for {wearer}, {names},"
    if len(ids) == reach:
        return f"On the last {_number(reach)} garments for {wearer}, {names},"
    if len(ids) == 1:
        return f"On an earlier garment for {wearer}, {names},"
    return f"On {_number(len(ids))} of the last {_number(reach)} garments for {wearer}, {names},"


def _number(count: int) -> str:
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def _done(room: Room, taken: Taken, total_mm: float) -> str:
    """What was done, to follow "you": "took a wedge of 8 mm out at the neck of back, near the centre"."""
    kind = next(k for k in room.garment_kinds if k.name == taken.kind)
    whole = taken.with_amount(round(total_mm, 1))
    said = kind.sentence({**whole.params, "name": taken.words})
    return ", ".join(part for part in (said[:1].lower() + said[1:], taken.nearby) if part)


def _unlike(group: Sequence[_Made]) -> str:
    """The amounts of the garments on which it was another one."""
    newest = group[0]
    told = [
        f"{abs(m.total_mm):.3g} mm on “{m.garment.name}”"
        for m in group[1:]
        if abs(m.total_mm - newest.total_mm) >= LEAST_MM
    ]
    return f" ({in_a_row(told)})" if told else ""


# ---- what is not for this garment


def _entries(pattern: Pattern) -> list[Mapping[str, Any]]:
    said = pattern.facts.get(NOT_HERE)
    return [one for one in said if isinstance(one, Mapping)] if isinstance(said, list | tuple) else []


def _declined(pattern: Pattern) -> Iterator[tuple[Declined, str, Spot]]:
    for one in _entries(pattern):
        try:
            start, end = one["ends"]
            spot = Spot(str(one["part"]), str(one["label"]), (str(start), str(end)), float(one["share"]))
            yield Declined(str(one["key"]), str(one.get("words", ""))), str(one["kind"]), spot
        except (KeyError, TypeError, ValueError):
            continue  # said by another program, in a form that says nothing here
