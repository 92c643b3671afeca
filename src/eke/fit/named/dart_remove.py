"""Remove a dart: the edge is drawn across its mouth, and what it took up is cloth again.

The seam that the edge belongs to is longer by the intake then; walking says so, until it is taken in elsewhere or
said to be ease (see ``fit.dart_to_ease``).

Params
------
dart
    The dart.
"""

from __future__ import annotations

from typing import Any

from eke.changes import Context
from eke.fit import reading as read
from eke.fit.named.darts import bridged
from eke.pattern.darts import dart_of
from eke.pattern.model import Pattern


def remove_dart(pattern: Pattern, dart_id: str) -> Pattern:
    """Return the pattern without a dart. Raises :class:`ChangeConflict` when it is not there."""
    return bridged(pattern, *dart_of(pattern, dart_id))[0]


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    return remove_dart(state, read.text(params, "dart"))


KIND = read.named("fit.dart_remove", _apply, lambda p: "Removed a dart", "dart")
