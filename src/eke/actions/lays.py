"""A lay as one looks at it: what is to be laid, on which cloths, the plan that was kept, and whether it holds.

:func:`prepare_lay` makes the values that the job :func:`eke.actions.work.lay_job` needs; :func:`keep_lay` keeps
what came of it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from eke.actions.cloths import cloths_of
from eke.actions.laying import (
    BESIDE,
    LAY,
    MOVED,
    Kept,
    chosen_cloths,
    cut_by,
    cutting_for,
    enough,
    keep_plan,
    kept_lays,
    kept_plan,
    plan_key,
    proposals,
    still_to_wash,
    why_stale,
)
from eke.actions.room import GarmentState, Room, now
from eke.cloth import Cloth, washed
from eke.cutting import CutPiece, Gaps, Laid, LayPlan, check_lay, plan_from_json, to_placements, to_problem
from eke.errors import BadInput, ChangeConflict, NotFound
from eke.lay import Placement, Problem, faults
from eke.pattern.model import Role
from eke.sentences import in_a_row
from eke.stint import Stint

LONGEST_S: Final = 600.0
"""Nobody watches a lay for longer than ten minutes; it can be started again from where it is."""
SHORTEST_S: Final = 0.5


@dataclass(frozen=True, slots=True)
class Lay:
    """How the lay of some roles of a garment stands.

    ``pieces`` are what is cut after what was given up (``stints``; ``off`` is what that took off the list), and
    ``cloths`` what it is laid on, as they will be when washed. ``plan`` is ``None`` before the first lay;
    ``stale`` says why it no longer holds, ``cut`` that it has been cut. ``beside`` is the lay that another search
    put aside; of the two the one with the higher ``made`` is the later.
    """

    garment: str
    name: str
    roles: tuple[Role, ...]
    revision: str
    pieces: tuple[CutPiece, ...]
    cloths: tuple[Cloth, ...]
    plan: LayPlan | None
    sentence: str
    stints: tuple[Stint, ...] = ()
    off: tuple[CutPiece, ...] = ()
    stale: tuple[str, ...] = ()
    to_wash: tuple[str, ...] = ()
    cut: bool = False
    gaps: Gaps = field(default_factory=Gaps)
    made: int = 0
    beside: Lay | None = None

    def with_plan(self, plan: LayPlan) -> Lay:
        """Return it with another plan, made of these pieces on these cloths."""
        return replace(
            self, plan=plan, sentence=plan.sentence, stale=(), to_wash=plan.to_wash, cut=False, gaps=plan.gaps
        )


def lay_of(room: Room, garment: str, roles: Sequence[Role]) -> Lay:
    """Return how the lay of these roles of a garment stands; without a plan, what is missing for one."""
    state, listed = cutting_for(room, garment, roles, ())
    here, beside = kept_lays(room, state.id, roles)
    if here is not None:
        lay = _stands(room, state, roles, here)
        return lay if beside is None else replace(lay, beside=_stands(room, state, roles, beside))
    mine = cloths_of(room, state.project.id)
    sentence = _before_the_first(state, listed.pieces, mine, roles)
    return Lay(
        state.id, state.name, tuple(roles), state.revision, listed.pieces, _ready(mine), None, sentence
    )


def _stands(room: Room, state: GarmentState, roles: Sequence[Role], kept: Kept) -> Lay:
    """How one lay stands: on the cloths that it cut, or on those that there are now."""
    plan, shelf = kept.plan, room.shelf()
    cut = cut_by(shelf, plan)
    stale = () if cut is not None else why_stale(room, plan, roles)
    try:
        listed = cutting_for(room, state.id, roles, plan.stints)[1]
    except BadInput:
        assert stale  # said there already
        listed = cutting_for(room, state.id, roles, ())[1]
    if cut is not None:
        cloths = cut.cloths
    else:
        # the cloths of the plan first, then those that it could be laid on too
        cloths = (
            *(shelf.cloths[c] for c in plan.cloth_prints if c in shelf.cloths),
            *(c for c in cloths_of(room, state.project.id) if c.id not in plan.cloth_prints),
        )
    return Lay(
        state.id, state.name, tuple(roles), state.revision, listed.pieces, _ready(cloths), plan, plan.sentence,
        listed.stints, listed.off, stale, () if cut is not None else still_to_wash(room, plan), cut is not None, plan.gaps,
        kept.made,
    )  # fmt: skip


def _ready(cloths: Sequence[Cloth]) -> tuple[Cloth, ...]:
    """Cloths as they will be when washed; as they are where nobody can say how they shrink."""
    ready = []
    for cloth in cloths:
        try:
            ready.append(washed(cloth))
        except BadInput:
            ready.append(cloth)
    return tuple(ready)


def _before_the_first(
    state: GarmentState, pieces: Sequence[CutPiece], cloths: Sequence[Cloth], roles: Sequence[Role]
) -> str:
    if not pieces:
        what = " or ".join(roles) if list(roles) != ["outer"] else ""
        of = f" from {what} cloth" if what else ""
        return f"“{state.name}” has nothing to cut{of} yet. Trace its pieces first, and say what each is cut from."
    if not cloths:
        return f"No cloth is kept for “{state.project.name}” yet. Keep one for it first."
    lost = next((c for c in cloths if c.grain_deg is None), None)
    if lost is not None:
        return f"Say which way the warp of “{lost.name}” runs; then the pieces can be laid on its grain."
    number = sum(piece.copies for piece in pieces)
    return f"{number} pieces wait to be laid." if number > 1 else "One piece waits to be laid."


def ways_out(room: Room, garment: str, roles: Sequence[Role]) -> tuple[Stint, ...]:
    """Return what could be given up beyond what has been, least harm first; also before the first lay."""
    lay = lay_of(room, garment, roles)
    given = {one.id for one in lay.stints}
    short = lay.plan.short_mm2 if lay.plan is not None else 0.0
    found = proposals(room, lay.pieces, lay.cloths)
    return enough([one for one in found if one.id not in given], short)


# ---- laying anew


@dataclass(frozen=True, slots=True)
class Placed:
    """Where the maker put one copy of a cut piece; the piece as drawn (grain along +y) in the frame of the cloth.

    ``id`` names the copy: :attr:`eke.cutting.Laid.id`.
    """

    id: str
    piece: str
    cloth: str
    x_mm: float
    y_mm: float
    turn_deg: float
    mirrored: bool = False
    locked: bool = False


def prepare_lay(
    room: Room,
    garment: str,
    *,
    roles: Sequence[Role],
    cloths: Sequence[str] | None = None,
    seconds: float = 20.0,
    seed: int = 0,
    stints: Sequence[str] = (),
    match_stripes: bool = False,
    keep: Sequence[Placed] = (),
) -> tuple[Lay, dict[str, Any]]:
    """Return the lay that is to be made, still without a plan, and the arguments of the job that makes it.

    ``keep`` says where pieces lie: what is locked stays there, the search goes on from the others. Where all of them
    lie well already, it goes on for more useful leftover cloth. ``match_stripes``: balance lines of one name lie on
    the same stripe.

    Raises
    ------
    BadInput
        When there is nothing to lay, no cloth, a cloth without a grain, or a stint that does not apply.
    ChangeConflict
        When a piece that is to stay cannot lie where it is; ``data["faults"]`` says why.
    """
    from eke.actions.lay_by_hand import fault_rows, laid_by_hand

    if not math.isfinite(seconds) or seconds <= 0.0:
        raise BadInput("Say for how many seconds to look for a lay; 20 is a good start.")
    state, listed = cutting_for(room, garment, roles, stints)
    chosen = chosen_cloths(room, state, cloths)
    gaps = Gaps()
    problem = to_problem(listed.pieces, chosen, gaps=gaps, name=state.name, match_stripes=match_stripes)
    there = {cloth.id for cloth in chosen}
    by_id = {piece.id for piece in listed.pieces}
    # what lies on a cloth that is not laid on, or is not cut any more, has no say; what is locked has to
    known = [one for one in keep if one.locked or (one.cloth in there and one.piece in by_id)]
    laid = laid_by_hand(known, listed.pieces, [washed(c) for c in chosen])
    locked = tuple(one for one in laid if one.locked)
    wrong = check_lay(locked, listed.pieces, chosen, gaps=gaps, match_stripes=match_stripes)
    if wrong:
        raise ChangeConflict(
            f"What is to stay cannot stay: {wrong[0].sentence} Move it or let it go, then lay again. Nothing was changed.",
            faults=fault_rows(wrong),
        )
    places = to_placements(locked, listed.pieces, chosen, problem)
    tight = faults(replace(problem, locked=()), places)
    if tight:
        names = in_a_row(f"“{one.name}”" for one in locked if one.piece in tight[0].parts)
        raise ChangeConflict(
            f"{names or 'A piece'} lies too near to stay exactly there. Move it by a millimetre, then lay again.",
            faults=[],
        )
    start = tuple(one for one in laid if not one.locked)
    whole = (*places, *to_placements(start, listed.pieces, chosen, problem))
    about = Lay(
        state.id, state.name, tuple(roles), state.revision, listed.pieces, tuple(washed(c) for c in chosen), None, "",
        listed.stints, listed.off,
    )  # fmt: skip
    return about, {
        "garment": state.id,
        "name": state.name,
        "revision": state.revision,
        "roles": tuple(roles),
        "stints": tuple(one.id for one in listed.stints),
        "pieces": listed.pieces,
        "cloths": chosen,
        "locked": locked,
        "start": start,
        "seconds": min(LONGEST_S, max(SHORTEST_S, seconds)),
        "seed": seed,
        "match_stripes": match_stripes,
        "tidy": bool(start) and _all_well(problem, whole),
    }


def _all_well(problem: Problem, places: Sequence[Placement]) -> bool:
    return len(places) == sum(part.count for part in problem.parts) and not faults(problem, places)


def numbered(laid: Sequence[Laid], locked: Sequence[Laid], start: Sequence[Laid]) -> tuple[Laid, ...]:
    """Return what lies where with the numbers of its copies: locked ones keep theirs, others the nearest one's.

    ``laid`` begins with the locked ones, in their order, as an answer of the packing does.
    """
    fixed, rest = laid[: len(locked)], laid[len(locked) :]
    out = [replace(one, copy=was.copy, locked=True) for one, was in zip(fixed, locked, strict=True)]
    used = {(one.piece, one.copy) for one in out}
    waiting = list(rest)
    named: dict[int, int] = {}
    pairs = sorted(
        (_apart(one, was), i, was.copy)
        for i, one in enumerate(waiting)
        for was in start
        if was.piece == one.piece and was.cloth == one.cloth
    )
    for _, i, copy in pairs:
        key = (waiting[i].piece, copy)
        if i not in named and key not in used:
            named[i] = copy
            used.add(key)
    for i, one in enumerate(waiting):
        if i not in named:
            named[i] = next(n for n in range(1, len(laid) + len(used) + 2) if (one.piece, n) not in used)
            used.add((one.piece, named[i]))
        out.append(replace(one, copy=named[i], locked=False))
    return tuple(out)


def _apart(one: Laid, other: Laid) -> float:
    return math.dist((one.x_mm, one.y_mm), (other.x_mm, other.y_mm))


def moved_by_hand(room: Room, garment: str, roles: Sequence[Role]) -> str:
    """Return a word for the last move by hand of the kept plan (by the garment's id); empty where a search made it."""
    with room.store.read() as reader:
        document = reader.document(LAY, plan_key(garment, roles))
    content: Any = {} if document is None else document.content
    return str(content.get(MOVED, ""))


def keep_lay(
    room: Room, value: Mapping[str, Any], *, by_hand: bool = False, began_on: str | None = None
) -> tuple[Lay, str]:
    """Keep the plan that a job made, and return the lay as it stands with a sentence about it.

    A plan that was there, still holds and has more on its cloths is not replaced by one that was stopped early,
    unless the maker had put pieces where they are (``by_hand``). One that was moved by hand since the job began
    (``began_on``, by :func:`moved_by_hand`) is never replaced: what was found lies beside it then.
    """
    plan = plan_from_json(value)
    roles: tuple[Role, ...] = plan.roles  # type: ignore[assignment]
    if began_on is not None and moved_by_hand(room, plan.garment, roles) not in ("", began_on):
        keep_plan(room, plan, roles, aside=True)
        return (
            lay_of(room, plan.garment, roles),
            "Pieces were moved by hand while the search went on, so the lay made by hand stays. What was found lies "
            "beside it.",
        )
    if not by_hand:
        try:
            old = kept_plan(room, plan.garment, roles)
        except NotFound:
            old = None
        if (
            old is not None
            and old.short_mm2 < plan.short_mm2 - 1.0
            and (old.list_print, old.stints, old.match_stripes)
            == (plan.list_print, plan.stints, plan.match_stripes)
            and dict(old.cloth_prints) == dict(plan.cloth_prints)
            and not why_stale(room, old, roles)
        ):
            return lay_of(
                room, plan.garment, roles
            ), f"The lay from before has more on, so it stays. {old.sentence}"
    keep_plan(room, plan, roles)
    return lay_of(room, plan.garment, roles), plan.sentence


def exchange(room: Room, garment: str, roles: Sequence[Role]) -> Lay:
    """Put the lay that is kept beside on the table, and the one on the table beside.

    Raises
    ------
    NotFound
        When none is kept beside.
    ChangeConflict
        When one of the two has been cut, or the one beside no longer holds.
    """
    lay = lay_of(room, garment, roles)
    if lay.beside is None:
        raise NotFound(f"No other lay of “{lay.name}” is kept. The one on the table stays.")
    if lay.cut or lay.beside.cut:
        raise ChangeConflict(
            "One of the two lays has been cut. Take the cut back first, then exchange them. Nothing was changed."
        )
    if lay.beside.stale:
        raise ChangeConflict(f"The lay beside no longer holds: {lay.beside.stale[0]} Nothing was changed.")
    key = plan_key(lay.garment, roles)
    with room.store.write() as tx:
        here, beside = tx.document(LAY, key), tx.document(BESIDE, key)
        if here is None or beside is None or plan_from_json(beside.content) != lay.beside.plan:
            raise ChangeConflict(
                "The lays have just changed in another window. Nothing was exchanged. Look at them again."
            )
        for kind, one in ((LAY, beside), (BESIDE, here)):
            tx.put_document(kind, key, one.content, subject=lay.garment, at=now())
    return lay_of(room, lay.garment, roles)
