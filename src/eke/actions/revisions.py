"""Two stages of a garment compared: its pieces over one another, its measures, and what was changed in between.

A stage is the garment as it stood once a change had been recorded: what a mock-up was cut from. It is not a step as
the history stands now: a step that was amended since had its old numbers at that stage.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from eke.actions.previews import Standing
from eke.actions.room import Room, find_garment
from eke.changes import Log, Replayed, StepResult, sentence_of
from eke.cloth import Garment
from eke.errors import BadInput, NotFound
from eke.pattern.between import MeasureBetween, PieceBetween, measures_between, pieces_between
from eke.pattern.model import Pattern
from eke.sentences import in_a_row

NOW: Final = "now"
MEASURED_MM: Final = 0.05
"""Finished measures that differ by less are the same: they are told to a tenth of a millimetre."""
LEAST_LETTERS: Final = 4
"""So many letters of an id name a stage, where only one begins with them."""

Fate = Literal["made", "made off", "made aside", "off", "on", "altered", "aside", "found", "gone"]
"""What became of a step between two stages: it was made (and is switched off, or set aside, at the later one); it was
switched off or on; it has other numbers; it was set aside, or found its place again; it was taken back."""


@dataclass(frozen=True, slots=True)
class Stage:
    """The garment once a change had been recorded.

    ``id`` is that of the change. ``mock_ups`` are the numbers of the mock-ups that were cut from it; ``now``: the
    garment stands there; ``undone``: what came last was taken back since.
    """

    id: str
    sentence: str
    at: str
    mock_ups: tuple[int, ...] = ()
    now: bool = False
    undone: bool = False

    @property
    def words(self) -> str:
        """What a maker calls it: now, the mock-up cut from it, or what was done last."""
        if self.mock_ups:
            cut = in_a_row(f"mock-up {n}" for n in self.mock_ups)
            return f"{cut}, as it was cut{', which is how it is now' if self.now else ''}"
        return "now" if self.now else f"after “{self.sentence}”"


@dataclass(frozen=True, slots=True)
class StepBetween:
    """What became of one step between two stages. ``was`` is what it said before, where its numbers were changed;
    ``why`` the reason why it was set aside."""

    id: str
    kind: str
    sentence: str
    fate: Fate
    at: str
    note: str
    was: str | None = None
    why: str | None = None


@dataclass(frozen=True, slots=True)
class TwoStages:
    """Two stages of a garment, the earlier first, and all that differs between them."""

    garment: str
    earlier: Stage
    later: Stage
    before: Standing
    after: Standing
    pieces: tuple[PieceBetween, ...]
    measures: tuple[MeasureBetween, ...]
    steps: tuple[StepBetween, ...]


def stages(room: Room, garment: str) -> tuple[Stage, ...]:
    """Return every stage that a garment can be looked at in, in the order in which they were reached.

    What was taken back and can be done again comes after the present one. A stage on a way that was left is among them
    only where a mock-up was cut from it.
    """
    _, here = find_garment(room.shelf(), garment)
    return _stages(room, here, room.stored(here.id).log)


def compare_stages(
    room: Room, garment: str, earlier: str | None = None, later: str | None = None
) -> TwoStages:
    """Return what differs between two stages of a garment.

    Parameters
    ----------
    earlier, later
        "now", "mock-up 2", or the id of a change (its first letters do). Without them: what the newest mock-up was cut
        from (or the beginning), and now. In whichever order they are named, the one that was reached first is the
        earlier.

    Raises
    ------
    NotFound
        When there is no such garment or stage; the message lists those with a name.
    BadInput
        When nothing has been done to the garment yet.
    """
    _, here = find_garment(room.shelf(), garment)
    log = room.stored(here.id).log
    every = _stages(room, here, log)
    if not every:
        raise BadInput(
            f"Nothing has been done to “{here.name}” yet, so there is nothing to compare. Trace a piece first."
        )
    one = _stage(every, earlier) if earlier else _usual(every)
    two = _stage(every, later) if later else next((s for s in every if s.now), every[-1])
    if every.index(two) < every.index(one):
        one, two = two, one
    old, new = _at(room, here, log, one), _at(room, here, log, two)
    before, after = _standing(room, old), _standing(room, new)
    aliases = {key: after.pattern.resolve(key) for key in before.pieces}
    return TwoStages(
        here.name,
        one,
        two,
        before,
        after,
        pieces_between(before.pieces, after.pieces, aliases),
        measures_between(before.pattern, after.pattern),
        steps_between(old.steps, new.steps),
    )


def steps_between(before: tuple[StepResult, ...], after: tuple[StepResult, ...]) -> tuple[StepBetween, ...]:
    """Return what became of every step that is not the same at both stages, in the order of the later one; what was
    taken back comes last."""
    old, new = {s.id: s for s in before}, {s.id: s for s in after}
    made = [_fate(old.get(step.id), step) for step in after]
    gone = [_row(step, "gone") for step in before if step.id not in new]
    return (*(one for one in made if one is not None), *gone)


def _fate(old: StepResult | None, new: StepResult) -> StepBetween | None:
    if old is None:
        if not new.on:
            return _row(new, "made off")
        return _row(new, "made" if new.set_aside is None else "made aside")
    altered = (old.kind, old.version, old.params) != (new.kind, new.version, new.params)
    was = old.sentence if altered and old.sentence != new.sentence else None
    if old.on != new.on:
        return _row(new, "on" if new.on else "off", was)
    if new.on and old.applied != new.applied:
        return _row(new, "found" if new.applied else "aside", was)
    return _row(new, "altered", was) if altered else None


def _row(step: StepResult, fate: Fate, was: str | None = None) -> StepBetween:
    why = step.set_aside if fate in ("made aside", "aside") else None
    return StepBetween(step.id, step.kind, step.sentence, fate, step.record.at, step.record.note, was, why)


def _stages(room: Room, here: Garment, log: Log) -> tuple[Stage, ...]:
    cut: dict[str, set[int]] = {}
    for head in (log.head, log.tip):
        pattern: Pattern = room.replay_of(Log(log.records, head, head), here.name).state
        for one in pattern.mock_ups.values():
            if one.revision in log.records:
                cut.setdefault(str(one.revision), set()).add(one.number)
    line = {record.id for record in log.line(log.tip)}
    undone = {record.id for record in log.undone}
    return tuple(
        Stage(
            record.id,
            sentence_of(log, room.garment_kinds, record),
            record.at,
            tuple(sorted(cut.get(record.id, ()))),
            record.id == log.head,
            record.id in undone or record.id not in line,
        )
        for record in log.records.values()
        if record.id in line or record.id in cut
    )


def _usual(every: tuple[Stage, ...]) -> Stage:
    """What the newest mock-up was cut from; the first stage where there is none."""
    cut = [one for one in every if one.mock_ups and not one.now]
    return max(cut, key=lambda one: max(one.mock_ups), default=every[0])


def _stage(every: tuple[Stage, ...], words: str) -> Stage:
    said = " ".join(words.casefold().split())
    if said == NOW:
        found = [one for one in every if one.now]
    else:
        found = [one for one in every if one.id == said or said in _names(one)]
        if not found and len(said) >= LEAST_LETTERS:
            found = [one for one in every if one.id.startswith(said)]
    if len(found) == 1:
        return found[0]
    named = [NOW] if any(one.now for one in every) else []
    named += [f"mock-up {n}" for one in every for n in one.mock_ups]
    names = f"Those with a name are: {', '.join(named)}. " if named else ""
    raise NotFound(
        f"There is no single stage “{words[:80]}” of this garment. {names}Any other is named by the id of its change in "
        "the history.",
        stage=words[:80],
    )


def _names(stage: Stage) -> set[str]:
    return {f"{name}{n}" for n in stage.mock_ups for name in ("mock-up ", "mock-up", "mockup ")}


def _at(room: Room, here: Garment, log: Log, stage: Stage) -> Replayed[Pattern]:
    return room.replay_of(Log(log.records, stage.id, stage.id), here.name)


def _standing(room: Room, replayed: Replayed[Pattern]) -> Standing:
    return Standing(replayed.state, room.derived_of(replayed.state))


FATES: Final[Mapping[Fate, str]] = {
    "made": "",
    "made off": "made, and switched off",
    "made aside": "made, and set aside since",
    "off": "switched off",
    "on": "switched on again",
    "altered": "given other numbers",
    "aside": "set aside",
    "found": "found its place again",
    "gone": "taken back",
}
"""What became of a step, in words; nothing for one that was simply made."""
