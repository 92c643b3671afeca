"""The workroom as actions see it: the store, the kinds of change that are known, and what they replay to.

One :class:`Room` is opened for a process. Every action that changes something opens one write transaction,
reads what it needs in it, and appends to one log; nothing else commits.
"""

from __future__ import annotations

import secrets
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Final

from eke import __version__
from eke.actions.memory import Memory
from eke.actions.outlines import Outlines
from eke.changes import (
    Attempt,
    Log,
    Record,
    Registry,
    ReplayCache,
    Replayed,
    StepResult,
    attempt,
    replay,
    sentence_of,
    trail,
)
from eke.cloth import Garment, Project, Shelf, workroom_kinds
from eke.derive import Derivation, Derivations, recipe_changes
from eke.errors import BadInput, NotFound
from eke.fit import fit_kinds
from eke.pattern.kinds import pattern_kinds
from eke.pattern.model import Pattern
from eke.store import ChangedMeanwhile, LogHead, Reader, Store, StoredLog, Transaction

WORKROOM_LOG: Final = "workroom"
"""Id of the log of cloths, money and cuts; every other log is a garment's."""


KEPT_LOGS: Final = 32
"""Histories that are kept in memory as read and replayed: more garments than anybody has open."""
KEPT_ANSWERS: Final = 64
"""Line, small pictures and the like of the garments that were looked at last."""
KEPT_PICTURES: Final = 48
"""Photographs made smaller that are kept in memory: some 10 MB, and every picture of a journal."""
KEPT_SENTENCES: Final = 400
"""What was done lately, for windows that have not seen it."""
MOST_TOLD: Final = 3
"""More sentences of what happened meanwhile than this nobody reads."""
Trail = tuple[tuple[StepResult, Pattern], ...]
"""Steps of a history, each with the pattern after it."""


@dataclass(frozen=True, slots=True)
class Done:
    """What an action did: the record, a sentence for the maker, and what it left without a place."""

    id: str
    sentence: str
    revision: int
    unsettled: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class GarmentState:
    """A garment as it stands: names, history, pattern, and what its recipes yield."""

    id: str
    name: str
    project: Project
    stored: StoredLog
    replayed: Replayed[Pattern]
    derivation: Derivation

    @property
    def pattern(self) -> Pattern:
        """The pattern at the head of the history."""
        return self.replayed.state

    @property
    def revision(self) -> str:
        """Id of the change that the pattern stands at; empty at the very beginning."""
        return self.stored.log.head or ""


class Room:
    """An open workroom. Use :func:`open_room` or :func:`make_room`; close it, or use it in a ``with``."""

    def __init__(self, store: Store, folder: Path) -> None:
        self.store = store
        self.folder = folder
        self.outlines = Outlines()
        self.cuttings: Memory[Hashable, Any] = Memory(KEPT_LOGS)
        self.pictures: Memory[tuple[str, int], bytes] = Memory(KEPT_PICTURES)
        self.workroom_kinds: Registry[Shelf] = Registry(workroom_kinds())
        self._shelves: ReplayCache[Shelf] = ReplayCache()
        self._derivations = Derivations()
        self._logs: Memory[LogHead, StoredLog] = Memory(KEPT_LOGS)
        self._replays: Memory[tuple[LogHead, str | None], Replayed[Any]] = Memory(KEPT_LOGS)
        self._trails: Memory[tuple[LogHead, str, str | None], Trail] = Memory(KEPT_LOGS)
        self.answers: Memory[tuple[Any, ...], Any] = Memory(KEPT_ANSWERS)
        """Answers of actions that are dear to work out; a key holds all that decides its answer."""
        self._said: dict[tuple[str, int], str] = {}
        self.garment_kinds = Registry([*pattern_kinds(), *fit_kinds(), *recipe_changes()])

    @property
    def garment_kinds(self) -> Registry[Pattern]:
        """The kinds of change that a garment's history may hold."""
        return self._garment_kinds

    @garment_kinds.setter
    def garment_kinds(self, kinds: Registry[Pattern]) -> None:
        # what was replayed with other kinds says nothing about these
        self._garment_kinds = kinds
        self._garments: ReplayCache[Pattern] = ReplayCache()
        self._replays.clear()
        self._trails.clear()
        self.cuttings.clear()
        self.answers.clear()

    def __enter__(self) -> Room:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Give the workroom back, so that another process may open it."""
        self.store.close()

    # ---- looking

    def shelf(self, reader: Reader | None = None) -> Shelf:
        """Return the shelf as it stands."""
        return self._shelf(self._log(WORKROOM_LOG, reader)).state

    def _shelf(self, stored: StoredLog) -> Replayed[Shelf]:
        return self.replayed(stored, None)

    def _log(self, log_id: str, reader: Reader | None) -> StoredLog:
        if reader is None:
            with self.store.read() as own:
                return self._log(log_id, own)
        # ids of records are random: the same revision with the same head and tip is the same history
        return self._logs.of(reader.head(log_id), lambda: reader.log(log_id))

    def stored(self, garment: str | None, reader: Reader | None = None) -> StoredLog:
        """Return the history of a garment by id or name, or of the workroom where none is named."""
        if garment is None:
            return self._log(WORKROOM_LOG, reader)
        return self._log(find_garment(self.shelf(reader), garment)[1].id, reader)

    def replayed(self, stored: StoredLog, name: str | None) -> Replayed[Any]:
        """Return what a history amounts to: the workroom's where ``name`` is None, else that of a garment so named."""
        return self._replays.of((_head_of(stored), name), lambda: self.replay_of(stored.log, name))

    def replay_of(self, log: Log, name: str | None) -> Replayed[Any]:
        """The same for a history that is not kept, such as one with its last step taken back."""
        if name is None:
            return replay(log, self.workroom_kinds, Shelf(), self._shelves)
        return replay(log, self.garment_kinds, Pattern(name), self._garments, initial_key=name)

    def trail_of(self, garment: str, reader: Reader | None = None, *, ahead: bool = False) -> Trail:
        """Return every step of a garment's history with the pattern after it.

        With ``ahead`` the steps that were taken back and can be done again are among them.
        """
        name = find_garment(self.shelf(reader), garment)[1].name
        stored = self.stored(garment, reader)
        log = Log(stored.log.records, stored.log.tip, stored.log.tip) if ahead else stored.log
        return self._trails.of(
            (_head_of(stored), name, log.head),
            lambda: trail(log, self.garment_kinds, Pattern(name), self._garments, initial_key=name),
        )

    def derived_of(self, pattern: Pattern) -> Derivation:
        """Return what the recipes of a pattern yield."""
        return self._derivations.of(pattern)

    def garment(self, name_or_id: str, reader: Reader | None = None) -> GarmentState:
        """Return a garment by its id, or by its name where only one has it. Raises :class:`NotFound`."""
        project, garment = find_garment(self.shelf(reader), name_or_id)
        stored = self._log(garment.id, reader)
        replayed = self.replayed(stored, garment.name)
        derivation = self._derivations.of(replayed.state)
        return GarmentState(garment.id, garment.name, project, stored, replayed, derivation)

    # ---- changing

    def change_garment(
        self,
        name_or_id: str,
        kind: str,
        params: Mapping[str, Any],
        *,
        note: str = "",
        expected: int | None = None,
    ) -> Done:
        """Append one change to a garment's history, if it can be applied.

        ``expected`` is the revision that the maker was looking at; without it the newest is meant.
        """
        with self.store.write() as tx:
            return self.change_garment_in(tx, name_or_id, kind, params, note=note, expected=expected)

    def change_garment_in(
        self,
        tx: Transaction,
        name_or_id: str,
        kind: str,
        params: Mapping[str, Any],
        *,
        note: str = "",
        expected: int | None = None,
    ) -> Done:
        """The same within a transaction that an action has open."""
        _, garment = find_garment(self.shelf(tx), name_or_id)
        stored = self._log(garment.id, tx)
        self.expect(stored, expected)
        record, tried = self._tried(stored, garment.name, kind, params, note)
        return self._append(tx, stored, record, tried)

    def try_garment(self, name_or_id: str, kind: str, params: Mapping[str, Any]) -> Attempt[Pattern]:
        """Return what one change would make of a garment's pattern; nothing is kept."""
        with self.store.read() as reader:
            _, garment = find_garment(self.shelf(reader), name_or_id)
            stored = self._log(garment.id, reader)
        return self._tried(stored, garment.name, kind, params, "")[1]

    def _tried(
        self, stored: StoredLog, name: str, kind: str, params: Mapping[str, Any], note: str
    ) -> tuple[Record, Attempt[Pattern]]:
        record = self._record(stored, self.garment_kinds, kind, params, note)
        return record, self.attempt_of(stored.log, record, name)

    def attempt_of(self, log: Log, record: Record, name: str | None) -> Attempt[Any]:
        """Return ``log`` with one record more, if it can be applied; of the workroom where ``name`` is None."""
        if name is None:
            return attempt(log, record, self.workroom_kinds, Shelf(), self._shelves)
        return attempt(log, record, self.garment_kinds, Pattern(name), self._garments, initial_key=name)

    def change_workroom(
        self, kind: str, params: Mapping[str, Any], *, note: str = "", expected: int | None = None
    ) -> Done:
        """Append one change to the workroom's history, if it can be applied."""
        with self.store.write() as tx:
            return self.change_workroom_in(tx, kind, params, note=note, expected=expected)

    def change_workroom_in(
        self,
        tx: Transaction,
        kind: str,
        params: Mapping[str, Any],
        *,
        note: str = "",
        expected: int | None = None,
    ) -> Done:
        """The same within a transaction that an action has open."""
        stored = self._log(WORKROOM_LOG, tx)
        self.expect(stored, expected)
        record = self._record(stored, self.workroom_kinds, kind, params, note)
        tried = self.attempt_of(stored.log, record, None)
        return self._append(tx, stored, record, tried)

    def _record(
        self, stored: StoredLog, kinds: Registry[Any], kind: str, params: Mapping[str, Any], note: str
    ) -> Record:
        if kind not in kinds:
            raise BadInput(
                f"There is no change named “{kind}”. There are: {', '.join(sorted(k.name for k in kinds))}."
            )
        version = next(k.version for k in kinds if k.name == kind)
        return Record(new_id(), stored.log.head, kind, version, dict(params), note, now(), __version__)

    def _append(self, tx: Transaction, stored: StoredLog, record: Record, tried: Attempt[Any]) -> Done:
        revision = tx.append(stored.id, record, expected_revision=stored.revision)
        step = tried.replayed.step(record.id)
        sentence = f"{step.sentence}." if step is not None else "Done."
        self.note_said(stored.id, revision, sentence)
        lost = tuple(f"{s.sentence}: {s.set_aside}" for s in tried.newly_set_aside)
        return Done(record.id, sentence, revision, lost)

    # ---- two windows

    def note_said(self, log_id: str, revision: int, sentence: str) -> None:
        """Remember what brought a history to a revision, for another window that has not seen it yet."""
        self._said[log_id, revision] = sentence
        while len(self._said) > KEPT_SENTENCES:
            self._said.pop(next(iter(self._said)), None)

    def said_at(self, log_id: str, revision: int) -> str:
        """Return the sentence of what brought a history to a revision; nothing where it is not known."""
        return self._said.get((log_id, revision), "")

    def expect(self, stored: StoredLog, expected: int | None) -> None:
        """Refuse to go on when the maker was looking at another revision than the present one.

        Raises
        ------
        ChangedMeanwhile
            With the sentences of what happened there meanwhile, as far as they are known.
        """
        if expected is None or expected == stored.revision:
            return
        between = range(expected + 1, stored.revision + 1)[-MOST_TOLD:]
        said = [self._said[stored.id, r] for r in between if (stored.id, r) in self._said]
        if not said and stored.log.head is not None and expected < stored.revision:
            kinds: Registry[Any] = self.workroom_kinds if stored.id == WORKROOM_LOG else self.garment_kinds
            said = [f"{sentence_of(stored.log, kinds, stored.log[stored.log.head])}."]
        told = f" There: {' '.join(said)}" if said else ""
        raise ChangedMeanwhile(
            f"Another window changed this meanwhile.{told} Your step was not added and nothing was lost: look at "
            "it as it stands now, and do it again.",
            log=stored.id,
            expected=expected,
            found=stored.revision,
            head=stored.log.head,
            meanwhile=said,
        )


def _head_of(stored: StoredLog) -> LogHead:
    return LogHead(stored.id, stored.about, stored.log.head, stored.log.tip, stored.revision)


def make_room(folder: Path | str) -> Room:
    """Make a new workroom in ``folder`` and open it."""
    store = Store.create(folder)
    try:
        with store.write() as tx:
            tx.create_log(WORKROOM_LOG, "workroom")
    except BaseException:
        store.close()
        raise
    return Room(store, Path(folder))


def open_room(folder: Path | str) -> Room:
    """Open the workroom in ``folder``. Raises :class:`StoreTrouble` or :class:`NotFound` with what to do."""
    return Room(Store.open(folder), Path(folder))


def find_project(shelf: Shelf, name_or_id: str) -> Project:
    """Return the project of that id, or of that name where only one has it."""
    if name_or_id in shelf.projects:
        return shelf.projects[name_or_id]
    found: Project = _only(
        "project",
        name_or_id,
        [p for p in shelf.projects.values() if _same(p.name, name_or_id)],
        shelf.projects,
    )
    return found


def find_garment(shelf: Shelf, name_or_id: str) -> tuple[Project, Garment]:
    """Return the garment of that id, or of that name where only one has it, and its project."""
    every = {g.id: (p, g) for p in shelf.projects.values() for g in p.garments}
    if name_or_id in every:
        return every[name_or_id]
    named = {key: g for key, (_, g) in every.items()}
    found = _only("garment", name_or_id, [g for g in named.values() if _same(g.name, name_or_id)], named)
    return every[found.id]


def find_cloth_id(shelf: Shelf, name_or_id: str) -> str:
    """Return the id of the cloth of that id, or of that name where only one has it."""
    if name_or_id in shelf.cloths:
        return name_or_id
    matches = [c for c in shelf.cloths.values() if _same(c.name, name_or_id)]
    if not matches:
        for cut in shelf.cuts.values():
            for gone in cut.cloths:
                if name_or_id == gone.id or _same(gone.name, name_or_id):
                    shelf.cloth(gone.id)  # says for which garment it has been cut
    return str(_only("cloth", name_or_id, matches, shelf.cloths).id)


def _same(one: str, other: str) -> bool:
    return one.casefold().strip() == other.casefold().strip()


def _only(what: str, asked: str, found: list[Any], every: Mapping[str, Any]) -> Any:
    if len(found) == 1:
        return found[0]
    if found:
        raise BadInput(
            f"There are {len(found)} of the name “{asked}”. Use the id: {', '.join(f.id for f in found)}."
        )
    names = ", ".join(f"“{e.name}”" for e in every.values())
    raise NotFound(f"There is no {what} “{asked}” in this workroom.{f' There is {names}.' if names else ''}")


def new_id() -> str:
    """Return a fresh random id: 64 bits, so that a workroom never meets the same one twice."""
    return secrets.token_hex(8)


def now() -> str:
    """Return the moment in ISO 8601, UTC, to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")
