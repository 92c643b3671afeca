"""Kinds of change: what a name in a record means, and the table of them that is passed to replay."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Final, Generic, TypeAlias, TypeVar

from eke.changes.record import Params, child_id, plain
from eke.errors import BadInput, ChangeConflict, EkeError

S = TypeVar("S")
_log = logging.getLogger(__name__)

Upcast = Callable[[dict[str, Any]], Mapping[str, Any]]
"""Turns the params of one version into those of the next."""

OWN_PREFIX: Final = "log."
"""Kinds that the log itself understands begin so; no other kind may."""
_NAME: Final = re.compile(r"[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)*\Z")


@dataclass(frozen=True, slots=True)
class Context:
    """What a change may know besides the state and its params: the id of its record."""

    record_id: str

    def child_id(self, parent_id: str, label: str = "") -> str:
        """Return the stable id of a child that this change makes of ``parent_id``."""
        return child_id(parent_id, self.record_id, label)


Apply: TypeAlias = Callable[[S, dict[str, Any], Context], S]
"""What a change does to a state, given its params."""


def _touches_nothing(params: Params) -> tuple[str, ...]:
    return ()


@dataclass(frozen=True, slots=True)
class ChangeKind(Generic[S]):
    """One kind of change over states of type ``S``.

    Parameters
    ----------
    name
        Lower-case words joined by dots, as in ``fit.take_in``.
    version
        Version of the meaning, counted from 1. Raise it when the same params would give another result.
    apply
        ``apply(state, params, context) -> state``; pure and deterministic: no clock, disk, locale or chance.
        Raises ChangeConflict (or BadInput from its mathematics) when it cannot be applied to this state.
    sentence
        ``sentence(params) -> str``: what it does in a maker's words, beginning with a capital, without a
        full stop: "Took in the side seam by 8 mm".
    touches
        ``touches(params) -> ids`` of the pieces, edges, seams … that it names.
    upcasts
        ``{n: params of n -> params of n + 1}`` for every version below ``version``, without gaps.
    """

    name: str
    version: int
    apply: Apply[S]
    sentence: Callable[[Params], str]
    touches: Callable[[Params], tuple[str, ...]] = _touches_nothing
    upcasts: Mapping[int, Upcast] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not _NAME.match(self.name):
            raise ValueError(f"{self.name!r} is no name for a kind of change: use lower-case words and dots")
        if self.name.startswith(OWN_PREFIX):
            raise ValueError(f"{self.name!r}: names beginning with {OWN_PREFIX!r} belong to the log itself")
        if self.version < 1:
            raise ValueError(f"{self.name}: versions count from 1")
        if sorted(self.upcasts) != list(range(1, self.version)):
            raise ValueError(
                f"{self.name} version {self.version} needs an upcast from each of the versions before it, "
                f"without gaps; it has {sorted(self.upcasts)}"
            )
        object.__setattr__(self, "upcasts", MappingProxyType(dict(self.upcasts)))

    def upcast(self, version: int, params: Params) -> dict[str, Any]:
        """Return a fresh copy of ``params`` of ``version`` as params of this kind's own version."""
        current: dict[str, Any] = plain(params)
        for step in range(version, self.version):
            current = plain(self.upcasts[step](current))
        return current


def reading(name: str, apply: Apply[S]) -> Apply[S]:
    """Return ``apply`` with a clear refusal where its params have a gap, or hold something of another form.

    Params may come from a file or another program; what they lack is no mistake of this one.
    """

    def applied(state: S, params: dict[str, Any], context: Context) -> S:
        try:
            return apply(state, params, context)
        except EkeError:
            raise
        except (LookupError, TypeError, AttributeError, ValueError, OverflowError) as gap:
            # should it be a mistake of the program after all, the log knows where
            _log.info("%s could not be read", name, exc_info=True)
            lacks = gap.args[0] if isinstance(gap, KeyError) and gap.args else None
            what = (
                f"lacks something: {lacks}"
                if isinstance(lacks, str)
                else "lacks something, or holds it in a form that Eke does not know"
            )
            raise BadInput(f"The change “{name}” {what}. Nothing was changed.", kind=name) from gap

    return applied


class Registry(Generic[S]):
    """The kinds of change that a program knows. Built by explicit calls and passed in; no global one."""

    __slots__ = ("_kinds",)

    def __init__(self, kinds: Iterable[ChangeKind[S]] = ()) -> None:
        self._kinds: dict[str, ChangeKind[S]] = {}
        for kind in kinds:
            self.add(kind)

    def add(self, kind: ChangeKind[S]) -> None:
        """Add one kind. Raises ValueError when the name is taken."""
        if kind.name in self._kinds:
            raise ValueError(f"two kinds of change are called {kind.name!r}")
        self._kinds[kind.name] = kind

    def __iter__(self) -> Iterator[ChangeKind[S]]:
        return iter(self._kinds.values())

    def __len__(self) -> int:
        return len(self._kinds)

    def __contains__(self, name: object) -> bool:
        return name in self._kinds

    def kind(self, name: str, version: int) -> ChangeKind[S]:
        """Return the kind called ``name``, able to read params of ``version``.

        Raises
        ------
        ChangeConflict
            When this program does not know the kind, or knows only older versions of it. The message tells a
            maker what to do; nothing is lost by it.
        """
        kind = self._kinds.get(name)
        if kind is None:
            raise ChangeConflict(
                f"This version of Eke does not know the change “{name}”. It is kept as it is; a newer Eke "
                "can apply it.",
                kind=name,
                version=version,
            )
        if version > kind.version:
            raise ChangeConflict(
                f"The change “{name}” was made by a newer Eke (version {version} of it; this one knows "
                f"{kind.version}). It is kept as it is; a newer Eke can apply it.",
                kind=name,
                version=version,
                known_version=kind.version,
            )
        return kind
