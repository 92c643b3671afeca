"""Does it fit: packing problems as files, and the cutting list of a project on its cloths."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from eke.actions.cloths import cloths_of
from eke.actions.room import WORKROOM_LOG, Done, GarmentState, Room, find_garment, new_id, now
from eke.cloth import Cloth, Cut, CutPlacement, Shelf
from eke.cutting import (
    CutPiece,
    Gaps,
    Laid,
    LayPlan,
    cut_params,
    cutting_list,
    from_answer,
    plan_from_json,
    plan_to_json,
    stale,
    to_problem,
)
from eke.errors import BadInput, ChangeConflict, NotFound
from eke.lay import Answer, Problem, Progress, answer_to_dict, problem_from_dict, solve
from eke.pattern.model import Role
from eke.stint import Stint, apply, propose, taken_off
from eke.store import Reader

SAME_PLACE_MM: Final = 0.1
"""A piece that was cut within a tenth of a millimetre of where a plan has it was cut by that plan."""
LAY: Final = "lay"
"""Kind of document: the plan that is on the table, by garment and roles."""
BESIDE: Final = "lay-beside"
"""Kind of document: the plan that was there before the last search, kept beside the other under the same key."""
MOVED: Final = "moved"
"""In a kept plan: a word for the last move by hand."""
MADE: Final = "made"
"""In a kept plan: counts up with every search, so that one knows which of two lays was there before."""
Say = Callable[[str], None]
Stop = Callable[[], bool]


@dataclass(frozen=True, slots=True, eq=False)
class LayResult:
    """An answer to a packing problem: the document, a report in words, and whether everything is on."""

    problem: Problem
    answer: Answer
    document: dict[str, Any]
    report: str

    @property
    def complete(self) -> bool:
        """Whether every copy is on."""
        return self.answer.complete


def lay_problem(
    document: Any,
    *,
    fill: float | None = None,
    seconds: float | None = None,
    passes: int | None = None,
    seed: int = 0,
    listener: Say | None = None,
    stop: Stop | None = None,
) -> LayResult:
    """Lay the pieces of a problem as read from JSON: ``nesting-case-1`` or ``eke-lay-1``."""
    problem = problem_from_dict(document, fill=fill)
    answer = solve(problem, seconds=seconds, passes=passes, seed=seed, listener=_telling(listener), stop=stop)
    asked = sum(part.count for part in problem.parts)
    lines = [answer.verdict.sentence]
    if not answer.complete:
        lines.append(
            f"{len(answer.placements)} of {asked} pieces are on, {100 * answer.area_share:.1f} % of their area."
        )
        lines += [f"not on: {count} × {part}" for part, count in sorted(answer.unplaced.items())]
        if answer.verdict.proof:
            lines.append(answer.verdict.proof)
    elif answer.length_mm is not None:
        lines.append(f"Used length {answer.length_mm:.2f}.")
    lines.append(f"{answer.passes} passes in {answer.seconds:.1f} s, seed {answer.seed}.")
    return LayResult(problem, answer, answer_to_dict(answer), "\n".join(dict.fromkeys(lines)))


def _telling(listener: Say | None) -> Callable[[Progress], None] | None:
    if listener is None:
        return None

    def tell(progress: Progress) -> None:
        answer = progress.answer
        listener(
            f"{progress.seconds:5.1f} s: {len(answer.placements)} on, {100 * answer.area_share:.1f} % of the area"
        )

    return tell


def cutting_of(
    room: Room, garment: str, roles: Sequence[Role] | None = None
) -> tuple[GarmentState, tuple[CutPiece, ...]]:
    """Return a garment and its cutting list, in the roles asked for (all but the mock-up by default)."""
    state = room.garment(garment)
    derived = tuple(state.derivation.pieces.values())
    # ids of records are random: a history with the same head is the same pattern
    key = ("cutting list", state.id, state.revision, None if roles is None else tuple(roles))
    return state, room.cuttings.of(key, lambda: cutting_list(state.pattern, derived, roles=roles))


@dataclass(frozen=True, slots=True)
class Stinted:
    """A cutting list after what was given up, and what that was: ``off`` is not cut from these cloths any more."""

    pieces: tuple[CutPiece, ...]
    stints: tuple[Stint, ...] = ()
    off: tuple[CutPiece, ...] = ()


Propose = Callable[[tuple[CutPiece, ...]], tuple[Stint, ...]]


def stinted(pieces: Sequence[CutPiece], stints: Sequence[str], proposed: Propose) -> Stinted:
    """Return a cutting list after giving up what ``stints`` name, one after the other.

    Raises
    ------
    BadInput
        When one of them does not apply (any more).
    """
    left = tuple(pieces)
    done: list[Stint] = []
    off: list[CutPiece] = []
    for id_ in dict.fromkeys(stints):
        found = next((one for one in proposed(left) if one.id == id_), None)
        if found is None:
            raise BadInput(
                "What was to be given up no longer applies: the pieces have changed. Look at what can be given up now."
            )
        off += taken_off(found, left)
        left = apply(found, left)
        done.append(found)
    return Stinted(left, tuple(done), tuple(off))


def proposals(room: Room, pieces: Sequence[CutPiece], cloths: Sequence[Cloth]) -> tuple[Stint, ...]:
    """Return what could be given up of a cutting list, remembered as long as it stays what it is."""
    # all that a proposal asks of cloths is whether one of them has a direction
    one_way = any(cloth.nap == "one-way" for cloth in cloths)
    found: tuple[Stint, ...] = room.cuttings.of(
        ("stints", tuple(pieces), one_way), lambda: propose(pieces, cloths)
    )
    return found


def cutting_for(
    room: Room, garment: str, roles: Sequence[Role] | None, stints: Sequence[str]
) -> tuple[GarmentState, Stinted]:
    """Return a garment and its cutting list as a plan with these stints has it."""
    state, pieces = cutting_of(room, garment, roles)
    cloths = cloths_of(room, state.project.id) if stints else ()
    return state, stinted(pieces, stints, lambda left: proposals(room, left, cloths))


def lay_garment(
    room: Room,
    garment: str,
    *,
    roles: Sequence[Role] | None = None,
    cloths: Sequence[str] | None = None,
    seconds: float | None = 10.0,
    passes: int | None = None,
    seed: int = 0,
    stints: Sequence[str] = (),
    match_stripes: bool = False,
    listener: Say | None = None,
    stop: Stop | None = None,
) -> LayPlan:
    """Lay a garment's cutting list on the cloths kept for its project (or those named) and keep the plan.

    The plan is kept under the garment and the roles; it remembers the revision and what was given up
    (``stints``), and says later when it is stale. ``match_stripes``: see :func:`eke.cutting.to_problem`.
    """
    state, listed = cutting_for(room, garment, roles, stints)
    chosen = chosen_cloths(room, state, cloths)
    gaps = Gaps()
    problem = to_problem(listed.pieces, chosen, gaps=gaps, name=state.name, match_stripes=match_stripes)
    answer = solve(problem, seconds=seconds, passes=passes, seed=seed, listener=_telling(listener), stop=stop)
    plan = from_answer(
        answer, listed.pieces, chosen, garment=state.id, revision=state.revision, gaps=gaps, match_stripes=match_stripes
    )  # fmt: skip
    plan = replace(plan, roles=tuple(roles or ()), stints=tuple(one.id for one in listed.stints))
    keep_plan(room, plan, roles)
    return plan


def chosen_cloths(room: Room, state: GarmentState, cloths: Sequence[str] | None) -> tuple[Cloth, ...]:
    """Return the cloths kept for a garment's project, or those of them that are named by id or name.

    Raises
    ------
    BadInput, NotFound
        When none is kept, or one that is named is not.
    """
    kept = cloths_of(room, state.project.id)
    if cloths is None:
        if not kept:
            raise BadInput(f"No cloth is kept for “{state.project.name}” yet. Keep one for it first.")
        return kept
    found = []
    for name in cloths:
        matches = [c for c in kept if name in (c.id, c.name)]
        if len(matches) != 1:
            names = ", ".join(f"“{c.name}”" for c in kept)
            raise NotFound(
                f"“{name}” is not one of the cloths kept for “{state.project.name}”: {names or 'none'}."
            )
        found.append(matches[0])
    return tuple(found)


def plan_key(garment: str, roles: Sequence[str] | None) -> str:
    """The key under which the lay plan of some roles of a garment is kept."""
    return f"{garment}:{'+'.join(sorted(roles)) if roles else 'all'}"


def roles_in_key(key: str) -> tuple[str, ...]:
    """The roles that :func:`plan_key` was given; none for all."""
    said = key.rpartition(":")[2]
    return () if said == "all" else tuple(said.split("+"))


def keep_plan(
    room: Room,
    plan: LayPlan,
    roles: Sequence[str] | None = None,
    *,
    by_hand: bool = False,
    aside: bool = False,
) -> None:
    """Keep a lay plan, in place of the one that was there for the same garment and roles.

    One that was moved by hand (``by_hand``) takes the place of what it was before, and carries a word of its own for
    that move. One that was searched for moves the other aside, where :func:`kept_lays` finds it: in the same
    transaction, so that no lay is lost unseen. Only one lies there; one that has nothing on it, or that is the same
    lay, does not take its place. ``aside``: the one on the table stays, and this one lies beside it.
    """
    key = plan_key(plan.garment, roles)
    content = plan_to_json(plan) | ({MOVED: new_id()} if by_hand else {})
    with room.store.write() as tx:
        here: Any = _content(tx, LAY, key)
        if by_hand:
            content[MADE] = here.get(MADE, 0)
        else:
            content[MADE] = 1 + max(here.get(MADE, 0), _content(tx, BESIDE, key).get(MADE, 0))
            if not aside and here.get("laid") and not same_lay(plan_from_json(here), plan):
                tx.put_document(BESIDE, key, here, subject=plan.garment, at=now())
        tx.put_document(BESIDE if aside else LAY, key, content, subject=plan.garment, at=now())


def _content(reader: Reader, kind: str, key: str) -> Mapping[str, Any]:
    document = reader.document(kind, key)
    return {} if document is None else document.content


def same_lay(one: LayPlan, other: LayPlan) -> bool:
    """Whether two plans have the same pieces in the same places, and the same things given up."""
    return (
        one.stints == other.stints
        and one.list_print == other.list_print
        and same_places(one.laid, other.laid)
    )


def same_places(one: Sequence[Laid | CutPlacement], other: Sequence[Laid | CutPlacement]) -> bool:
    """Whether the same pieces lie in the same places, whichever copy is called the first."""

    def same(a: Laid | CutPlacement, b: Laid | CutPlacement) -> bool:
        return (
            (a.piece, a.cloth, len(a.outline)) == (b.piece, b.cloth, len(b.outline))
            and all(math.dist(p, q) < SAME_PLACE_MM for p, q in zip(a.outline, b.outline, strict=True))
        )  # fmt: skip

    return len(one) == len(other) and all(any(same(a, b) for b in other) for a in one)


def kept_plan(room: Room, garment: str, roles: Sequence[Role] | None = None) -> LayPlan:
    """Return the lay plan that was kept last. Raises :class:`NotFound` where there is none."""
    found = find_garment(room.shelf(), garment)[1]
    with room.store.read() as reader:
        document = reader.document(LAY, plan_key(found.id, roles))
    if document is None:
        raise NotFound(f"“{found.name}” has not been laid on its cloth yet. Lay it first.")
    return plan_from_json(document.content)


@dataclass(frozen=True, slots=True)
class Kept:
    """A plan as it is kept, and the how-manieth search made it: of two lays the higher number is the later."""

    plan: LayPlan
    made: int


def kept_lays(
    room: Room, garment: str, roles: Sequence[Role] | None = None
) -> tuple[Kept | None, Kept | None]:
    """Return the lay on the table and the one kept beside it (by the garment's id), as they are in one moment."""
    key = plan_key(garment, roles)
    with room.store.read() as reader:
        documents = reader.document(LAY, key), reader.document(BESIDE, key)
    here, beside = (
        None if one is None else Kept(plan_from_json(one.content), int(one.content.get(MADE, 0)))
        for one in documents
    )
    return here, beside


def why_stale(room: Room, plan: LayPlan, roles: Sequence[Role] | None = None) -> tuple[str, ...]:
    """Return why a plan no longer holds: the pattern changed, a cloth changed or is gone. Empty: it holds."""
    try:
        _, listed = cutting_for(room, plan.garment, roles, plan.stints)
    except BadInput as changed:
        return (f"{changed.message} Lay again.",)
    shelf = room.shelf()
    cloths = [shelf.cloths[c] for c in plan.cloth_prints if c in shelf.cloths]
    # the plan knows a cloth that is gone by its id only; the cut that took it knows its name
    gone = {c.id: c.name for cut in shelf.cuts.values() for c in cut.cloths if c.id not in shelf.cloths}
    return tuple(_in_names(sentence, gone) for sentence in stale(plan, listed.pieces, cloths))


def _in_names(sentence: str, names: Mapping[str, str]) -> str:
    for id_, name in names.items():
        sentence = sentence.replace(f"“{id_}”", f"“{name}”")
    return sentence


def ways_to_save(room: Room, garment: str, roles: Sequence[Role] | None = None) -> tuple[Stint, ...]:
    """Return what could be given up (beyond what has been) so that a plan that is short fits, least harm first."""
    plan = kept_plan(room, garment, roles)
    state, listed = cutting_for(room, garment, roles, plan.stints)
    found = proposals(room, listed.pieces, chosen_cloths(room, state, None))
    return enough(tuple(one for one in found if one.id not in plan.stints), plan.short_mm2)


def enough(stints: Sequence[Stint], short_mm2: float) -> tuple[Stint, ...]:
    """Return stints, each marked when its area alone covers what is short."""
    return tuple(replace(one, enough=0.0 < short_mm2 <= one.saved_mm2) for one in stints)


def cut_by(shelf: Shelf, plan: LayPlan) -> Cut | None:
    """Return the confirmed cut that cut this very plan, or None."""
    return next((cut for cut in shelf.cuts_of(plan.garment) if same_places(plan.laid, cut.placements)), None)


def still_to_wash(room: Room, plan: LayPlan) -> tuple[str, ...]:
    """Return the ids of the cloths that have to be washed before a plan holds, and have not been yet."""
    cloths = room.shelf().cloths
    return tuple(c for c in plan.to_wash if c in cloths and not cloths[c].washed)


def confirm_cut(room: Room, garment: str, roles: Sequence[Role] | None = None) -> Done:
    """Note that a plan has been cut: the cloths become offcuts, the cloth used goes into the ledger.

    Raises
    ------
    BadInput
        When the plan is stale or not everything is on it.
    """
    garment_id = find_garment(room.shelf(), garment)[1].id
    with room.store.read() as reader:
        looked_at = _grounds(reader, garment_id, roles)
    plan = kept_plan(room, garment_id, roles)
    old = why_stale(room, plan, roles)
    if old:
        raise BadInput(f"This lay no longer holds: {old[0]} Lay it again before cutting.")
    if plan.missing:
        raise BadInput(f"This lay is not complete. {plan.sentence}")
    if unwashed := still_to_wash(room, plan):
        names = ", ".join(f"“{room.shelf().cloths[c].name}”" for c in unwashed)
        raise BadInput(
            f"{names} has to be washed before it is cut: the plan counts on it. Note the wash first."
        )
    shelf = room.shelf()
    params = cut_params(plan)
    names_of = {c: shelf.cloths[c].name for c in plan.cloth_prints if c in shelf.cloths}
    names_of[plan.garment] = find_garment(shelf, plan.garment)[1].name
    with room.store.write() as tx:
        if _grounds(tx, garment_id, roles) != looked_at:
            raise ChangeConflict(
                "The pattern, the shelf or the lay has just changed in another window. Nothing was noted as cut. "
                "Look at the lay again.",
            )
        return room.change_workroom_in(tx, "cut.confirm", {**params, "names": names_of})


def _grounds(reader: Reader, garment: str, roles: Sequence[str] | None) -> tuple[Any, ...]:
    """All that a confirmed cut rests on: both histories and the plan, as they stand in one moment."""
    document = reader.document(LAY, plan_key(garment, roles))
    return (
        reader.head(WORKROOM_LOG).revision,
        reader.head(garment).revision,
        None if document is None else document.content,
    )


def rings_of(answer: Answer) -> dict[str | None, list[tuple[str, Any]]]:
    """Return the outlines of an answer where they lie, by sheet: (part, ``(n, 2)`` mm)."""
    assert answer.problem is not None  # solve() always sets it
    outlines = {part.id: np.asarray(part.outline) for part in answer.problem.parts}
    found: dict[str | None, list[tuple[str, Any]]] = {}
    for one in answer.placements:
        points = outlines[one.part] * np.array([-1.0 if one.mirrored else 1.0, 1.0])
        turn_rad = np.radians(one.turn_deg)
        c, s = np.cos(turn_rad), np.sin(turn_rad)
        laid = points @ np.array([[c, s], [-s, c]]) + np.array([one.x_mm, one.y_mm])
        found.setdefault(one.sheet, []).append((one.part, laid))
    return found
