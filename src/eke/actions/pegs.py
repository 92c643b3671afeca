"""The pegged line: each step of the job, what it has produced, how it stands, and a small live picture of it.

Nothing is claimed that is not known: a step is *empty* where there is nothing of it, *outdated* where what it
produced no longer belongs to the pattern or cloth as they are, and asks for *attention* where the maker has
something to decide. Everything else is good.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal, cast

from eke.actions import peg_pictures as pictures
from eke.actions.cards import CARD
from eke.actions.laying import why_stale
from eke.actions.money import ledger_report
from eke.actions.photographs import Photograph, photographs_of
from eke.actions.placed import Placed, placed_findings
from eke.actions.room import WORKROOM_LOG, GarmentState, Room, find_garment
from eke.actions.sheets import making_up
from eke.actions.sketches import Sketch, pieces_sketch
from eke.actions.steps import step_picture
from eke.actions.ticks import steps_of
from eke.cloth import Cloth, Shelf
from eke.cutting import LayPlan, plan_from_json
from eke.errors import EkeError
from eke.pattern.model import Role
from eke.sentences import in_a_row

RoomWord = Literal["tracing", "pattern", "mock-ups", "cloth", "lay", "paper", "making", "ledger", "journal"]
State = Literal["empty", "good", "attention", "outdated"]

FIT: Final = "fit."
"""Kinds of change that answer what a mock-up showed begin so."""
NOTED: Final = "mockup.note"
_WORST: Final[Mapping[State, int]] = {"attention": 0, "outdated": 1, "good": 2, "empty": 3}


@dataclass(frozen=True, slots=True, eq=False)
class Peg:
    """One peg of the line."""

    room: RoomWord
    state: State
    sentence: str
    picture: Sketch | None = None


@dataclass(frozen=True, slots=True)
class _Seen:
    """All that the pegs look at, read once."""

    room: Room
    garment: GarmentState
    shelf: Shelf
    photographs: tuple[Photograph, ...]
    findings: tuple[Placed, ...]
    plans: tuple[tuple[tuple[Role, ...] | None, LayPlan], ...]

    @property
    def cloths(self) -> tuple[Cloth, ...]:
        """The cloths that are kept for the garment's project."""
        kept = {r.cloth for r in self.shelf.reservations if r.project == self.garment.project.id}
        return tuple(c for key, c in self.shelf.cloths.items() if key in kept)


def pegs_of(room: Room, garment: str) -> tuple[Peg, ...]:
    """Return the nine pegs of a garment in the order of the line.

    A step that cannot be worked out (a fact that makes no sense, say) asks for attention with the reason; the
    others stand as they are.
    """
    here = find_garment(room.shelf(), garment)[1].id
    with room.store.read() as reader:
        # all that a peg looks at: both histories, and what is kept beside the garment's
        kept = tuple((d.kind, d.key, d.sha256) for d in reader.documents(subject=here) if d.kind != CARD)
        key = ("pegs", reader.head(here), reader.head(WORKROOM_LOG), kept)

    def look() -> tuple[Peg, ...]:
        seen = _look(room, here)
        return tuple(_peg(word, make, seen) for word, make in _PEGS)

    found: tuple[Peg, ...] = room.answers.of(key, look)
    return found


def _peg(word: RoomWord, make: Callable[[_Seen], Peg], seen: _Seen) -> Peg:
    try:
        made = make(seen)
    except EkeError as error:
        return Peg(word, "attention", error.message)
    return replace(made, sentence=made.sentence[:1].upper() + made.sentence[1:])


def _look(room: Room, garment: str) -> _Seen:
    state = room.garment(garment)
    with room.store.read() as reader:
        documents = reader.documents("lay", state.id)
    # what is seen from outside comes first
    plans = sorted(
        ((_roles(d.key), plan_from_json(d.content)) for d in documents), key=lambda p: p[0] != ("outer",)
    )
    return _Seen(
        room, state, room.shelf(), photographs_of(room, state.id), placed_findings(state), tuple(plans)
    )


def _roles(key: str) -> tuple[Role, ...] | None:
    words = key.split(":", 1)[-1]
    return None if words == "all" else cast(tuple[Role, ...], tuple(words.split("+")))


# ---------------------------------------------------------------- from paper to pattern


def _tracing(seen: _Seen) -> Peg:
    traced = [p for p in seen.garment.pattern.pieces.values() if p.tracing is not None]
    shown = seen.photographs
    picture = pictures.photograph_sketch(shown[-1]) if shown else None
    if picture is None and traced:
        picture = pieces_sketch(traced)
    refused = [p for p in shown if p.state == "refused"]
    waiting = [p for p in shown if p.state in ("new", "changed")]
    there = seen.garment.pattern.pieces
    # what was made of it counts as long as it exists
    unused = [
        p for p in shown if p.state == "found" and not there.keys() & set(p.made.get("pieces", {}).values())
    ]
    if refused:
        why = refused[0].refused or "No true scale can be promised from it."
        return Peg("tracing", "attention", f"“{refused[0].name}”: {why}", picture)
    if waiting:
        return Peg("tracing", "attention", f"{_count(len(waiting), 'photograph')} to trace.", picture)
    if unused:
        outlines = sum(len(p.found["pieces"]) for p in unused if p.found)
        on = f"on {_count(len(unused), 'photograph')}"
        words = f"{_count(outlines, 'outline')} found {on}; none of them is in the pattern yet."
        return Peg("tracing", "attention", words, picture)
    if not traced:
        return Peg("tracing", "empty", "Photograph the tracing of a piece, with a sheet of paper beside it.")
    worst = max(
        (t.uncertainty_mm for t in seen.garment.pattern.tracings.values() if t.uncertainty_mm), default=None
    )
    sure = "" if worst is None else f", each within {worst:.1f} mm"
    return Peg("tracing", "good", f"{_count(len(traced), 'piece')} traced{sure}.", picture)


def _pattern(seen: _Seen) -> Peg:
    pattern, derivation = seen.garment.pattern, seen.garment.derivation
    if not pattern.pieces:
        return Peg("pattern", "empty", "The traced pieces come together here.")
    picture = pieces_sketch(pattern.pieces.values(), (d.piece for d in derivation.pieces.values()))
    asking = [one for one in seen.findings if one.finding.severity != "note"]
    has = f"{_count(len(pattern.pieces), 'piece')}, {_count(len(pattern.seams), 'seam')}"
    if asking:
        faults = sum(one.finding.severity == "fault" for one in asking)
        words = f"{_count(len(asking), 'thing')} to look at"
        if faults and faults < len(asking):
            words += f", {faults} of them before anything is cut"
        return Peg("pattern", "attention", f"{words}. {asking[0].finding.sentence}", picture)
    notes = len(seen.findings)
    small = f" {_count(notes, 'small thing')} noted." if notes else ""
    if not pattern.seams:
        return Peg(
            "pattern", "good", f"{_count(len(pattern.pieces), 'piece')}, no seams said.{small}", picture
        )
    return Peg("pattern", "good", f"{has}; the sides of every seam match.{small}", picture)


def _mock_ups(seen: _Seen) -> Peg:
    pattern = seen.garment.pattern
    steps = [s for s in seen.garment.replayed.steps if s.applied]
    fits = [i for i, s in enumerate(steps) if s.kind.startswith(FIT)]
    notes = [i for i, s in enumerate(steps) if s.kind == NOTED]
    if not fits and not pattern.mock_ups:
        return Peg("mock-ups", "empty", "Sew a mock-up in cheap cloth, put it on, and note what you see.")
    picture = step_picture(seen.room, seen.garment.id, steps[fits[-1]].id) if fits else None
    last = max(pattern.mock_ups.values(), key=lambda m: m.number, default=None)
    if picture is None and last is not None and last.photos:
        picture = pictures.photo_sketch(last.photos[0])
    if last is not None and last.noticed and notes and (not fits or fits[-1] < notes[-1]):
        said = last.noticed.rstrip(".")
        return Peg(
            "mock-ups", "attention", f"Mock-up {last.number}: {said}. Nothing is altered for it yet.", picture
        )
    words = [_count(len(pattern.mock_ups), "mock-up")] if pattern.mock_ups else []
    if fits:
        words.append(_count(len(fits), "fit change"))
    newest = f" Last: {steps[fits[-1]].sentence}." if fits else ""
    return Peg("mock-ups", "good", f"{', '.join(words)}.{newest}", picture)


# ---------------------------------------------------------------- cloth and lay


def _cloth(seen: _Seen) -> Peg:
    kept = seen.cloths
    cuts = [one for one in seen.shelf.cuts.values() if one.garment == seen.garment.id]
    cut = tuple({c.id: c for one in cuts for c in one.cloths}.values())
    if not kept and not cut:
        if not seen.garment.pattern.pieces:
            return Peg("cloth", "empty", "Put the cloth that you have on the shelf.")
        there = len(seen.shelf.cloths)
        hint = (
            f"Keep one of the {there} on the shelf for it."
            if there > 1
            else "Keep the one on the shelf for it."
            if there
            else "Put what you have on the shelf."
        )
        return Peg("cloth", "attention", f"No cloth is kept for {seen.garment.project.name} yet. {hint}")
    picture = pictures.cloths_sketch(kept or cut)
    words = [f"{_names([c.name for c in kept])} kept for it"] if kept else []
    if cut:
        words.append(f"cut from {_names([c.name for c in cut])}")
    return Peg("cloth", "good", f"{'; '.join(words)}.", picture)


def _lay(seen: _Seen) -> Peg:
    if not seen.plans:
        ready = seen.garment.pattern.pieces and seen.cloths
        words = "Lay the pieces on the cloth." if ready else "Once there are pieces and cloth, lay them here."
        return Peg("lay", "empty", words)
    stood = [_plan_stands(seen, roles, plan) for roles, plan in seen.plans]
    return min(stood, key=lambda peg: _WORST[peg.state])


def _plan_stands(seen: _Seen, roles: tuple[Role, ...] | None, plan: LayPlan) -> Peg:
    which = "" if roles is None or roles == ("outer",) else f" ({', '.join(roles)})"
    pieces = sorted((one.piece, one.cloth) for one in plan.laid)
    for cut in seen.shelf.cuts.values():
        if cut.garment == seen.garment.id and sorted((p.piece, p.cloth) for p in cut.placements) == pieces:
            picture = pictures.lay_sketch(plan, {c.id: c for c in cut.cloths})
            return Peg("lay", "good", f"Cut{which}: {_count(len(pieces), 'piece')}.", picture)
    picture = pictures.lay_sketch(plan, seen.shelf.cloths)
    old = why_stale(seen.room, plan, roles)
    if old:
        return Peg("lay", "outdated", f"The lay{which} no longer holds: {old[0]}", picture)
    return Peg("lay", "good" if plan.complete else "attention", plan.sentence, picture)


# ---------------------------------------------------------------- paper, making up, money, the story


def _paper(seen: _Seen) -> Peg:
    pattern = seen.garment.pattern
    if not pattern.pieces:
        return Peg("paper", "empty", "The pattern in true scale prints from here, once there is one.")
    faults = [one for one in seen.findings if one.finding.severity == "fault"]
    picture = pictures.paper_sketch(pattern.pieces.values())
    if faults:
        return Peg("paper", "attention", f"Before you print: {faults[0].finding.sentence}", picture)
    derived = len(seen.garment.derivation.pieces)
    more = f" and {_count(derived, 'derived piece')}" if derived else ""
    return Peg(
        "paper", "good", f"{_count(len(pattern.pieces), 'piece')}{more} to print in true scale.", picture
    )


def _making(seen: _Seen) -> Peg:
    if not seen.garment.pattern.pieces:
        return Peg("making", "empty", "Cutting list and order of work, once there is a pattern.")
    made = making_up(seen.room, seen.garment.id)
    steps = steps_of(seen.room, seen.garment.id, made)
    done = sum(step.done for step in steps)
    picture = pictures.list_sketch([step.done for step in steps])
    minds = _count(len(made.cautions), "caution")
    if not done:
        mind = f" {minds} to read first." if made.cautions else ""
        return Peg("making", "good", f"{_count(len(steps), 'step')} of work.{mind}", picture)
    if done == len(steps):
        return Peg("making", "good", f"All {len(steps)} steps are done.", picture)
    following = next(step.sentence for step in steps if not step.done)
    return Peg("making", "good", f"{done} of {len(steps)} steps done. Next: {following}", picture)


def _ledger(seen: _Seen) -> Peg:
    if seen.shelf.ledger.currency_of(seen.garment.project.id) is None:
        return Peg("ledger", "empty", "Say what it may cost, and note what you buy.")
    report = ledger_report(seen.room, seen.garment.project.id)
    account, used = report.account, [g for g in report.garments if g.used.minor]
    if account.budget is None and not account.spent.minor and not used:
        return Peg("ledger", "empty", "Say what it may cost, and note what you buy.")
    if account.budget is None:
        return Peg("ledger", "good", f"{account.spent} spent.", None)
    share = (
        account.spent.minor / account.budget.minor
        if account.budget.minor
        else float(bool(account.spent.minor))
    )
    picture = pictures.bar_sketch(share)
    if account.left is not None and account.left.minor < 0:
        over = type(account.left)(-account.left.minor, account.left.currency)
        return Peg("ledger", "attention", f"{account.spent} spent, {over} over the budget.", picture)
    return Peg("ledger", "good", f"{account.spent} of {account.budget} spent, {account.left} left.", picture)


def _journal(seen: _Seen) -> Peg:
    pattern = seen.garment.pattern
    if not pattern.pieces:
        return Peg("journal", "empty", "The story of the garment writes itself here.")
    told = sum(s.applied and s.kind.startswith(FIT) for s in seen.garment.replayed.steps)
    photo = next((t.photo for t in pattern.tracings.values() if t.photo), None)
    picture = pieces_sketch(pattern.pieces.values()) if photo is None else pictures.photo_sketch(photo)
    cuts = sum(one.garment == seen.garment.id for one in seen.shelf.cuts.values())
    words = [f"{_count(len(pattern.pieces), 'piece')} traced"]
    words += [_count(told, "fit change")] if told else []
    words += ["cut"] if cuts else []
    return Peg("journal", "good", f"{', '.join(words)}.", picture)


_PEGS: Final[tuple[tuple[RoomWord, Callable[[_Seen], Peg]], ...]] = (
    ("tracing", _tracing),
    ("pattern", _pattern),
    ("mock-ups", _mock_ups),
    ("cloth", _cloth),
    ("lay", _lay),
    ("paper", _paper),
    ("making", _making),
    ("ledger", _ledger),
    ("journal", _journal),
)
"""The line, in order."""


def _count(number: int, word: str) -> str:
    return f"{'one' if number == 1 else number} {word}{'' if number == 1 else 's'}"


def _names(names: Sequence[str]) -> str:
    if len(names) > 3:
        return f"{len(names)} cloths"
    return in_a_row(f"“{name}”" for name in names)
