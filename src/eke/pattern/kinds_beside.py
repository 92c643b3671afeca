"""Changes that do not move seam lines themselves: balance lines, taped lengths, two tracings of one piece."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from eke.changes import ChangeKind, Context, reading
from eke.errors import BadInput
from eke.pattern import balance
from eke.pattern.model import Pattern

Params = Mapping[str, Any]
Apply = Callable[[Pattern, dict[str, Any], Context], Pattern]


def kinds_beside() -> tuple[ChangeKind[Pattern], ...]:
    """Return the kinds of this file, to be put beside those of :mod:`eke.pattern.kinds`."""
    rows: tuple[tuple[str, Apply, Callable[[Params], str], tuple[str, ...]], ...] = (
        ("balance.match", _balance_match, _say_match, ("seam", "mark", "to")),
        (
            "balance.carry",
            _balance_carry,
            lambda p: f"Carried a balance line over {_called(p, 'a seam')}",
            ("seam", "mark"),
        ),
    )
    return tuple(
        ChangeKind(name, 1, reading(name, apply), sentence, _touching(keys))
        for name, apply, sentence, keys in rows
    )


def _touching(keys: tuple[str, ...]) -> Callable[[Params], tuple[str, ...]]:
    return lambda params: tuple(str(params[k]) for k in keys if params.get(k))


def _called(params: Params, otherwise: str) -> str:
    return f"“{params['called']}”" if params.get("called") else otherwise


def _flag(params: Params, key: str) -> bool:
    value = params.get(key, False)
    if not isinstance(value, bool):
        raise BadInput(f"“{key}” is yes or no, not “{value}”.")
    return value


def _balance_match(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    at = p.get("at_mm")
    return balance.match_line(
        state,
        str(p["seam"]),
        str(p["mark"]),
        str(p["to"]),
        at_mm=None if at is None else float(at),
        only_end=_flag(p, "only_end"),
    )


def _say_match(p: Params) -> str:
    what = "one end of a balance line" if p.get("only_end") else "a balance line"
    return f"Moved {what} to its mate at {_called(p, 'a seam')}"


def _balance_carry(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return balance.carry_line(state, str(p["seam"]), str(p["mark"]), c.record_id)
