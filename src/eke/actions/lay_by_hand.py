"""A lay made by hand: checked exactly, and kept when nothing is wrong with it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from eke.actions.laying import keep_plan
from eke.actions.lays import Lay, Placed, lay_of
from eke.actions.room import Room
from eke.cloth import Cloth
from eke.cutting import (
    CutPiece,
    Laid,
    LayFault,
    check_lay,
    laid_at,
    plan_of,
    unlike_pairs,
    unmatched_stripes,
)
from eke.cutting.door import COPY_MARK
from eke.errors import BadInput, ChangeConflict
from eke.pattern.model import Role


def check_by_hand(
    room: Room, garment: str, placements: Sequence[Placed], roles: Sequence[Role]
) -> tuple[Lay, tuple[LayFault, ...]]:
    """Return the lay with these placements, and everything that is wrong with it; nothing is kept.

    The pieces are those of the plan that is there, with what was given up for it. The ids in a fault name copies.

    Raises
    ------
    BadInput
        When a placement names a piece, a copy or a cloth that is not there, or is no number.
    """
    lay = lay_of(room, garment, roles)
    if lay.cut:
        raise ChangeConflict(
            "This lay has been cut. Take the cut back first, or lay the next one. Nothing was changed."
        )
    if lay.stale and lay.plan is not None and lay.plan.stints and not lay.stints:
        raise BadInput(lay.stale[0])
    laid = laid_by_hand(placements, lay.pieces, lay.cloths)
    faults = _faults(laid, lay)
    used = {one.cloth for one in laid} or {c.id for c in lay.cloths}
    shelf = room.shelf()
    # as they are on the shelf: a plan remembers what is still to be washed
    cloths = [shelf.cloths[c.id] for c in lay.cloths if c.id in used]
    plan = plan_of(laid, lay.pieces, cloths, garment=lay.garment, revision=lay.revision, gaps=lay.gaps)
    plan = replace(
        plan, roles=tuple(roles), stints=tuple(one.id for one in lay.stints),
        match_stripes=lay.plan is not None and lay.plan.match_stripes,
    )  # fmt: skip
    return lay.with_plan(plan), faults


def broken(lay: Lay) -> tuple[LayFault, ...]:
    """Return what is wrong with a lay as it is kept, were its pieces as they are now to stay where they lie.

    Of one whose ground has changed that is whatever the check finds. Of one that holds it is a pair that would hang
    unlike, and stripes that miss each other: by hand one of the two is moved after the other, so that it is told and
    not refused. Nothing, of one that has been cut. The ids in a fault name copies.
    """
    if lay.plan is None or lay.cut:
        return ()
    by_id = {piece.id: piece for piece in lay.pieces}
    cloths = {cloth.id: cloth for cloth in lay.cloths}
    laid = [
        laid_at(by_id[one.piece], one.cloth, one.x_mm, one.y_mm, one.turn_deg, mirrored=one.mirrored, copy=one.copy)
        for one in lay.plan.laid
        if one.piece in by_id and one.cloth in cloths
    ]  # fmt: skip
    unlike = [
        replace(fault, pieces=tuple(one.id for one in laid if one.piece in fault.pieces))
        for fault in unlike_pairs(laid, by_id, cloths)
    ]
    askew = unmatched_stripes(*_copy_by_copy(laid, lay), lay.cloths) if lay.plan.match_stripes else []
    return (*(_faults(laid, lay) if lay.stale else ()), *unlike, *askew)


def keep_by_hand(room: Room, garment: str, placements: Sequence[Placed], roles: Sequence[Role]) -> Lay:
    """Keep a lay made by hand, complete or not, in place of the plan that was there.

    Raises
    ------
    ChangeConflict
        When something is wrong with it; ``data["faults"]`` says what and where. Nothing is kept then.
    """
    lay, faults = check_by_hand(room, garment, placements, roles)
    if faults:
        raise ChangeConflict(
            f"This lay cannot be cut as it is: {faults[0].sentence} The lay that was kept before is still there.",
            faults=fault_rows(faults),
        )
    assert lay.plan is not None  # it was made of the placements
    keep_plan(room, lay.plan, roles, by_hand=True)
    return lay_of(room, lay.garment, roles)


def laid_by_hand(
    placements: Sequence[Placed], pieces: Sequence[CutPiece], cloths: Sequence[Cloth]
) -> tuple[Laid, ...]:
    """Return placements as what lies on cloths. Raises :class:`BadInput` for what is not there."""
    by_id = {piece.id: piece for piece in pieces}
    there = {cloth.id for cloth in cloths}
    found: list[Laid] = []
    for one in placements:
        piece = by_id.get(one.piece)
        if piece is None:
            raise BadInput(
                "A piece of this lay is not on the cutting list any more. Look at the lay as it is now.",
                piece=one.piece,
            )
        if one.cloth not in there:
            raise BadInput(
                f"“{piece.name}” lies on a cloth that is not kept for this project. Look at the lay as it is now.",
                cloth=one.cloth,
            )
        if not all(math.isfinite(v) for v in (one.x_mm, one.y_mm, one.turn_deg)):
            raise BadInput(f"“{piece.name}” lies nowhere: one of its numbers is none.")
        copy = _copy(one, piece)
        found.append(
            laid_at(
                piece, one.cloth, one.x_mm, one.y_mm, one.turn_deg, mirrored=one.mirrored, copy=copy, locked=one.locked
            )
        )  # fmt: skip
    twice = [id_ for id_, number in Counter(one.id for one in found).items() if number > 1]
    if twice:
        raise BadInput("One copy of a piece lies in two places. Look at the lay as it is now.", copies=twice)
    return tuple(found)


def _copy(one: Placed, piece: CutPiece) -> int:
    of, _, number = one.id.rpartition(COPY_MARK)
    if of != piece.id or not number.isdecimal() or not 1 <= int(number) <= piece.copies:
        raise BadInput(
            f"“{piece.name}” is cut {piece.copies} times; there is no copy “{one.id}” of it. Look at the lay as it is now."
        )
    return int(number)


def _faults(laid: Sequence[Laid], lay: Lay) -> tuple[LayFault, ...]:
    """What is wrong, every copy judged as a piece of its own so that a fault says which copy it is."""
    copies, pieces = _copy_by_copy(laid, lay)
    return check_lay(copies, list(pieces.values()), lay.cloths, gaps=lay.gaps)


def _copy_by_copy(laid: Sequence[Laid], lay: Lay) -> tuple[list[Laid], dict[str, CutPiece]]:
    """What is laid and what is to be cut, every copy a piece of its own."""
    pieces = {
        id_: replace(piece, id=id_, copies=1)
        for piece in lay.pieces
        for id_ in (f"{piece.id}{COPY_MARK}{n}" for n in range(1, piece.copies + 1))
    }
    return [replace(one, piece=one.id) for one in laid], pieces


def fault_rows(faults: Sequence[LayFault]) -> list[dict[str, Any]]:
    """Return faults as plain values."""
    return [
        {
            "kind": one.kind,
            "pieces": list(one.pieces),
            "cloth": one.cloth,
            "amount": one.amount if math.isfinite(one.amount) else 0.0,
            "sentence": one.sentence,
        }
        for one in faults
    ]
