"""State = replay(log): apply the steps in force, one after the other; set aside what does not fit.

A step that cannot be applied is *set aside* with the reason and the replay goes on without it. It stays in
the log, so it comes back by itself as soon as what it needs is there again.
"""

from __future__ import annotations

import hashlib
import logging
import threading
from collections import OrderedDict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Generic, TypeVar

from eke.changes.kinds import Context, Registry
from eke.changes.log import Log
from eke.changes.record import Params, Record
from eke.changes.steps import AMEND, INSERT, SWITCH, Step, steps_of
from eke.errors import EkeError, Stopped, StoreTrouble

S = TypeVar("S")
_log = logging.getLogger(__name__)

KEPT_STATES: Final = 512
"""States that a cache keeps. They share all that did not change, so this is a few garments' worth."""


@dataclass(frozen=True, slots=True)
class StepResult:
    """What became of one step.

    ``set_aside`` is None when the step was applied or is off; otherwise the reason in plain words.
    ``data`` is what the conflict carried: ids, candidates, values.
    """

    record: Record
    kind: str
    version: int
    params: Params
    on: bool
    set_aside: str | None
    sentence: str
    touches: tuple[str, ...] = ()
    data: Mapping[str, Any] = field(default_factory=dict, hash=False)
    error: EkeError | None = field(default=None, repr=False, compare=False)

    @property
    def id(self) -> str:
        """Id of the step."""
        return self.record.id

    @property
    def applied(self) -> bool:
        """Whether the state contains this step."""
        return self.on and self.set_aside is None


@dataclass(frozen=True, slots=True)
class Replayed(Generic[S]):
    """The state, and what became of every step on the way to it."""

    state: S
    steps: tuple[StepResult, ...]

    @property
    def set_aside(self) -> tuple[StepResult, ...]:
        """The steps that could not be applied."""
        return tuple(step for step in self.steps if step.set_aside is not None)

    def step(self, record_id: str) -> StepResult | None:
        """Return what became of one step; None when there is none of that id."""
        return next((step for step in self.steps if step.id == record_id), None)


@dataclass(frozen=True, slots=True)
class _Outcome(Generic[S]):
    state: S
    set_aside: str | None = None
    data: Mapping[str, Any] = field(default_factory=dict)
    error: EkeError | None = None


class ReplayCache(Generic[S]):
    """States after each prefix of steps, keyed by a hash of all that decides them; the oldest go first.

    Use one cache for one registry and one kind of initial state (tell several initial states apart with the
    ``initial_key`` of :func:`replay`). It may be shared by threads.
    """

    __slots__ = ("_held", "_limit", "_lock", "hits", "misses")

    def __init__(self, limit: int = KEPT_STATES) -> None:
        self._held: OrderedDict[str, _Outcome[S]] = OrderedDict()
        self._limit = limit
        self._lock = threading.Lock()
        self.hits = 0
        self.misses = 0

    def __len__(self) -> int:
        return len(self._held)

    def _get(self, key: str) -> _Outcome[S] | None:
        with self._lock:
            outcome = self._held.get(key)
            if outcome is None:
                self.misses += 1
                return None
            self._held.move_to_end(key)
            self.hits += 1
            return outcome

    def _put(self, key: str, outcome: _Outcome[S]) -> None:
        with self._lock:
            self._held[key] = outcome
            self._held.move_to_end(key)
            while len(self._held) > self._limit:
                self._held.popitem(last=False)


def replay(
    log: Log,
    registry: Registry[S],
    initial: S,
    cache: ReplayCache[S] | None = None,
    *,
    initial_key: str = "",
) -> Replayed[S]:
    """Return the state at the head of ``log`` and what became of every step.

    Parameters
    ----------
    log
        The history; only the line of its head counts.
    registry
        The kinds of change.
    initial
        The state before the first step.
    cache
        States of earlier replays. Only steps from the first that differs on are computed; the answer is the
        same with and without.
    initial_key
        Tells initial states apart that share a cache.

    Notes
    -----
    Set aside are steps that raise an EkeError, steps of an unknown kind or a newer version, and records about
    steps that are not there. A mistake in the program (any other exception) sets the step aside too and is
    logged with its traceback: one bad step must not lock the maker out of a garment. Stopped and
    StoreTrouble come through, since they say nothing about the step.
    """
    walked = trail(log, registry, initial, cache, initial_key=initial_key)
    return Replayed(walked[-1][1] if walked else initial, tuple(result for result, _ in walked))


def trail(
    log: Log,
    registry: Registry[S],
    initial: S,
    cache: ReplayCache[S] | None = None,
    *,
    initial_key: str = "",
) -> tuple[tuple[StepResult, S], ...]:
    """Return every step of :func:`replay` with the state after it, in order.

    The state before a step is that after the one before it, or ``initial``.
    """
    return tuple(_walked(log, registry, initial, cache, initial_key))


def _walked(
    log: Log, registry: Registry[S], initial: S, cache: ReplayCache[S] | None, initial_key: str
) -> Iterator[tuple[StepResult, S]]:
    state = initial
    key = hashlib.sha256(initial_key.encode("utf-8")).hexdigest()
    for step in steps_of(log.current):
        sentence, touches = _told(step, registry, log)
        if step.misfit is not None:
            yield _result(step, sentence, touches, _Outcome(state, step.misfit)), state
            continue
        if not step.on:
            yield _result(step, sentence, touches, _Outcome(state)), state
            continue
        key = hashlib.sha256(f"{key}\n{step.fingerprint!r}".encode()).hexdigest()
        outcome = cache._get(key) if cache is not None else None
        if outcome is None:
            outcome = _attempt(step, registry, state)
            if cache is not None:
                cache._put(key, outcome)
        state = outcome.state
        yield _result(step, sentence, touches, outcome), state


def _result(step: Step, sentence: str, touches: tuple[str, ...], outcome: _Outcome[S]) -> StepResult:
    return StepResult(
        step.record, step.kind, step.version, step.params, step.on,
        outcome.set_aside, sentence, touches, outcome.data, outcome.error,
    )  # fmt: skip


def _attempt(step: Step, registry: Registry[S], state: S) -> _Outcome[S]:
    try:
        kind = registry.kind(step.kind, step.version)
        return _Outcome(kind.apply(state, kind.upcast(step.version, step.params), Context(step.id)))
    except (Stopped, StoreTrouble):
        raise
    except EkeError as error:
        # without its traceback, which would keep every value of the computation alive in the cache
        return _Outcome(state, error.message, dict(error.data), error.with_traceback(None))
    except Exception:
        _log.exception("step %s (%s version %s) broke", step.id, step.kind, step.version)
        reason = (
            "Eke made a mistake while applying this step, so it was left out. The step is kept; please report "
            "it together with the log."
        )
        return _Outcome(state, reason, {"mistake": True})


def _told(step: Step, registry: Registry[S], log: Log) -> tuple[str, tuple[str, ...]]:
    """Return the sentence of a step and the ids it touches."""
    if step.misfit is not None:
        return sentence_of(log, registry, step.record), ()
    return _sentence(step.kind, step.version, step.params, registry)


def _sentence(
    kind_name: str, version: int, params: Params, registry: Registry[S]
) -> tuple[str, tuple[str, ...]]:
    try:
        kind = registry.kind(kind_name, version)
        current = kind.upcast(version, params)
        return kind.sentence(current), tuple(kind.touches(current))
    except Exception:  # an unknown kind, or params that its sentence cannot read: replay says why
        return f"A change of the kind “{kind_name}”", ()


def sentence_of(log: Log, registry: Registry[S], record: Record) -> str:
    """Return what ``record`` did, in a maker's words and without a full stop.

    For a record of the log's own kinds it quotes the step that it speaks of, as that step was at the time.
    """
    if record.kind not in (SWITCH, AMEND, INSERT):
        return _sentence(record.kind, record.version, record.params, registry)[0]
    before = {step.id: step for step in steps_of(log.line(record.parent))}
    step = before.get(str(record.params.get("before" if record.kind == INSERT else "target")))
    quoted = "a step that is not there"
    if step is not None:
        quoted = f"“{_sentence(step.kind, step.version, step.params, registry)[0]}”"
    if record.kind == SWITCH:
        return f"Switched {'on' if record.params.get('on') else 'off'}: {quoted}"
    version, params = record.params.get("version"), record.params.get("params")
    kind = str(record.params.get("kind")) if record.kind == INSERT else step.kind if step is not None else ""
    if not isinstance(version, int) or not isinstance(params, dict):
        return f"Changed something about {quoted}"
    now = f"“{_sentence(kind, version, params, registry)[0]}”"
    if record.kind == INSERT:
        return f"Put in before {quoted}: {now}"
    return f"Altered {quoted} to {now}"
