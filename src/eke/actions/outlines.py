"""Cut outlines, remembered by content: a piece that did not change is not worked out again."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from eke.actions.memory import Memory
from eke.derive import PRESETS, AllowancePreset, cut_outline, first_sewn
from eke.errors import BadShape
from eke.pattern.model import Pattern, Piece

KEPT: Final = 512
"""Cut outlines that are remembered: some twenty garments' worth."""

PointsMm = NDArray[np.float64]
_Key = tuple[Piece, tuple[tuple[tuple[str, str], str], ...], str]


class Outlines:
    """Works out the cut outline of pieces and remembers the last ones."""

    def __init__(self) -> None:
        self._known: Memory[_Key, PointsMm] = Memory(KEPT)

    def cut(self, pattern: Pattern, piece: Piece, preset: AllowancePreset = PRESETS["home"]) -> PointsMm:
        """Return the cut outline, ``(n, 2)`` mm, counter-clockwise; of no points where the net line crosses itself.

        A piece whose outline crosses itself has a finding of its own that says so.
        """
        first = first_sewn(pattern, piece)
        return self._known.of(
            (piece, tuple(sorted(first.items())), preset.name), lambda: _cut(piece, preset, first)
        )


def _cut(piece: Piece, preset: AllowancePreset, first: dict[tuple[str, str], str]) -> PointsMm:
    try:
        return cut_outline(piece, preset, first_at=first).ring
    except BadShape:
        return np.empty((0, 2))
