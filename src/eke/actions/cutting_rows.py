"""The cutting list as it is read at the table: every piece with the cloth that it lies on, and what was given up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from eke.actions.drawn import piece_numbers
from eke.actions.laying import Stinted, cutting_of, proposals, roles_in_key, stinted
from eke.actions.room import Room
from eke.cutting import CutPiece, LayPlan, plan_from_json
from eke.errors import BadInput
from eke.pattern.model import Role
from eke.stint import Stint

ELSEWHERE: Final = "another cloth"
"""Where a piece is cut from that was given up on its own."""


@dataclass(frozen=True, slots=True)
class CuttingRow:
    """One line: the cut piece's id and number, the piece that it is of, how often, from what, and notes."""

    id: str
    number: str
    piece: str
    name: str
    cut: str
    cloth: str
    notes: str = ""


def cutting_rows(room: Room, garment: str) -> tuple[CuttingRow, ...]:
    """Return the cutting list of a garment, sorted by cloth, then by number; what is left out is not on it."""
    state, pieces = cutting_of(room, garment)
    shelf = room.shelf()
    names = {c.id: c.name for cut in shelf.cuts.values() for c in cut.cloths}
    names |= {key: cloth.name for key, cloth in shelf.cloths.items()}
    on: dict[str, str] = {}
    for plan in plans_of(room, state.id):
        pieces, elsewhere = _as_given_up(room, pieces, plan)
        on |= dict.fromkeys(elsewhere, ELSEWHERE)
        on |= {one.piece: names[one.cloth] for one in plan.laid if one.cloth in names}
    numbers = piece_numbers(state)
    rows = [
        CuttingRow(
            p.id,
            numbers.get(p.piece, ""),
            p.piece,
            p.name,
            f"cut {p.copies}" + (", face down" if p.mirrored else ""),
            on.get(p.id, f"any {p.role} cloth"),
            "; ".join(p.pieced),
        )
        for p in pieces
    ]
    return tuple(sorted(rows, key=lambda r: (r.cloth.startswith("any "), r.cloth, int(r.number or 0))))


def plans_of(room: Room, garment_id: str) -> tuple[LayPlan, ...]:
    """Return the lay plans that are kept of a garment, of whatever roles."""
    with room.store.read() as reader:
        documents = reader.documents("lay", garment_id)
    return tuple(replace(plan_from_json(d.content), roles=roles_in_key(d.key)) for d in documents)


def roles_of(plan: LayPlan, pieces: Sequence[CutPiece]) -> tuple[Role, ...]:
    """Return the roles that a plan is about; a plan for all, or of an earlier version, is told by its pieces."""
    if plan.roles:
        return plan.roles  # type: ignore[return-value]
    listed = {one.piece for one in plan.laid} | {one.piece for one in plan.missing}
    return tuple(dict.fromkeys(p.role for p in pieces if p.id in listed))


def _given(room: Room, pieces: Sequence[CutPiece], plan: LayPlan) -> Stinted:
    """What was given up for a plan, of the pieces of its roles; nothing when they have changed since."""
    roles = set(roles_of(plan, pieces))
    mine = tuple(p for p in pieces if p.role in roles)
    shelf = room.shelf()
    cloths = [shelf.cloths[c] for c in plan.cloth_prints if c in shelf.cloths]
    try:
        return stinted(mine, plan.stints, lambda left: proposals(room, left, cloths))
    except BadInput:
        return Stinted(mine)  # the plan says itself that it no longer holds


def _as_given_up(
    room: Room, pieces: tuple[CutPiece, ...], plan: LayPlan
) -> tuple[tuple[CutPiece, ...], tuple[str, ...]]:
    """The cutting list after what was given up for a plan, and the ids of what is cut from another cloth."""
    if not plan.stints:
        return pieces, ()
    given = _given(room, pieces, plan)
    left_out = {id_ for one in given.stints if one.kind == "leave out" for id_ in one.pieces}
    elsewhere = tuple(p for p in given.off if p.id not in left_out)
    roles = set(roles_of(plan, pieces))
    others = tuple(p for p in pieces if p.role not in roles)
    return (*given.pieces, *elsewhere, *others), tuple(p.id for p in elsewhere)


def given_up(room: Room, garment: str) -> tuple[Stint, ...]:
    """Return what was given up for the plans of a garment, as far as it still applies."""
    state, pieces = cutting_of(room, garment)
    found: dict[str, Stint] = {}
    for plan in plans_of(room, state.id):
        found |= {one.id: one for one in _given(room, pieces, plan).stints}
    return tuple(found.values())
