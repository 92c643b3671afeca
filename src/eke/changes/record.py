"""One change as it is written down, and the ids that changes give to what they make.

A *record* is a plain fact: which kind of change, with which numbers, on top of which other record. It is
never altered. Its id is given by the caller and never comes from a place in a list.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from numbers import Integral, Real
from typing import Any, Final, TypeAlias

from eke.errors import BadInput

Json: TypeAlias = Any
"""None, bool, int, float, str, list of Json or dict of str to Json."""
Params: TypeAlias = Mapping[str, Json]
"""What a change was told: plain JSON, lengths in mm and angles in degrees."""

CHILD_ID_LENGTH: Final = 16
"""Hex digits of a derived id: 64 bits, so that a million ids in one garment collide with odds below 1e-7."""


def plain(value: object, where: str = "params") -> Json:
    """Return a deep copy of ``value`` as plain JSON: tuples become lists, NumPy numbers Python ones.

    Raises
    ------
    BadInput
        When something in it cannot be written as JSON, or is NaN or infinite.
    """
    if value is None or isinstance(value, bool):
        return value
    if type(value) is float or type(value) is int:  # the bulk of a traced outline, so first and quick
        if value - value != 0:
            raise BadInput(
                f"A change cannot be written down: {where} is {value}, and has to be a finite number."
            )
        return value
    if isinstance(value, str):
        return _clean_text(value, where)
    if isinstance(value, Mapping):
        out: dict[str, Json] = {}
        for key, item in value.items():
            if not isinstance(key, str):
                raise BadInput(
                    f"A change cannot be written down: {where} has the key {key!r}, which is no text."
                )
            out[_clean_text(key, where)] = plain(item, f"{where}.{key}")
        return out
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real):
        number = float(value)
        if not math.isfinite(number):
            raise BadInput(
                f"A change cannot be written down: {where} is {number}, and has to be a finite number."
            )
        return number
    if hasattr(value, "tolist"):  # a NumPy array or scalar; NumPy itself is not needed here
        return plain(value.tolist(), where)
    if isinstance(value, Sequence) and not isinstance(value, bytes | bytearray | memoryview):
        return [plain(item, f"{where}[{number}]") for number, item in enumerate(value)]
    raise BadInput(f"A change cannot be written down: {where} is a {type(value).__name__}, not plain JSON.")


def _clean_text(text: str, where: str) -> str:
    try:
        text.encode("utf-8")
    except UnicodeEncodeError as error:
        # half a surrogate pair: no file and no database could hold it
        raise BadInput(f"A change cannot be written down: {where} holds half a character.") from error
    return str(text)


def canonical(value: Json) -> str:
    """Return ``value`` as JSON text that is the same for equal values: keys sorted, no blanks."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), allow_nan=False)


def digest(value: Json) -> str:
    """Return the SHA-256 of the canonical JSON of ``value`` as 64 hex digits."""
    return hashlib.sha256(canonical(value).encode("ascii")).hexdigest()


@dataclass(frozen=True, slots=True)
class Record:
    """One change in a log.

    Parameters
    ----------
    id
        Given by the caller, unique in the log; never from an index.
    parent
        Id of the record that this one was made on top of; None for the first.
    kind, version
        Name of the change and the version of its meaning.
    params
        Plain JSON, copied here. Treat as read-only; replay hands out copies.
    note
        What the maker wrote beside it.
    at
        Moment in ISO 8601, given by the caller; nothing in this folder reads a clock.
    app_version
        Program that wrote it.

    Raises
    ------
    BadInput
        When the id or kind is empty, the version is below 1, or ``params`` is not plain JSON.
    """

    id: str
    parent: str | None
    kind: str
    version: int
    params: Params = field(hash=False)
    note: str = ""
    at: str = ""
    app_version: str = ""
    _payload_digest: str = field(default="", init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not isinstance(self.id, str) or not self.id:
            raise BadInput("A change needs an id.")
        if self.parent is not None and (not isinstance(self.parent, str) or not self.parent):
            raise BadInput(f"The change {self.id} has a parent that is no id.")
        if self.parent == self.id:
            raise BadInput(f"The change {self.id} names itself as the one before it.")
        if not isinstance(self.kind, str) or not self.kind:
            raise BadInput(f"The change {self.id} does not say what kind of change it is.")
        if not isinstance(self.version, int) or isinstance(self.version, bool) or self.version < 1:
            raise BadInput(f"The change {self.id} has version {self.version!r}; versions count from 1.")
        if not isinstance(self.params, Mapping):
            raise BadInput(f"The change {self.id} has params that are no table of names and values.")
        for name in ("id", "kind", "note", "at", "app_version"):
            text = getattr(self, name)
            if not isinstance(text, str):
                raise BadInput(f"The change {self.id} has a {name} that is no text.")
            _clean_text(text, name)
        object.__setattr__(self, "params", plain(self.params))

    def payload_digest(self, payload: Json) -> str:
        """Return :func:`digest` of ``payload``, the part of ``params`` that a step uses; remembered."""
        if not self._payload_digest:
            object.__setattr__(self, "_payload_digest", digest(payload))
        return self._payload_digest


def child_id(parent_id: str, change_id: str, label: str = "") -> str:
    """Return the id of something that a change made out of ``parent_id``.

    The same three always give the same id, on every machine and in every release, so that later changes
    find the child again in each replay. ``label`` tells the children of one change apart ("left", "right").

    Notes
    -----
    The first 16 hex digits of SHA-256 over the three as a JSON list; a list, so that ``("ab", "c")`` and
    ``("a", "bc")`` differ.
    """
    return digest([parent_id, change_id, label])[:CHILD_ID_LENGTH]
