"""The changes of a pattern as kinds in a garment's history: what each does, and what it says in words.

A kind reads its params (plain JSON: mm, degrees, ids) and calls one function of :mod:`eke.pattern`. To add one: write
the function, and add a row to the file of this folder that has its like.
"""

from __future__ import annotations

from eke.changes import ChangeKind
from eke.pattern.kinds.edges import edges_kinds
from eke.pattern.kinds.held import held_kinds
from eke.pattern.kinds.levels import levels_kinds
from eke.pattern.kinds.marks import marks_kinds
from eke.pattern.kinds.pieces import pieces_kinds
from eke.pattern.kinds.said import said_kinds
from eke.pattern.kinds.seams import seams_kinds
from eke.pattern.model import Pattern


def pattern_kinds() -> tuple[ChangeKind[Pattern], ...]:
    """Return all kinds of change that :mod:`eke.pattern` knows, to be put into a registry."""
    return (
        *pieces_kinds(),
        *edges_kinds(),
        *marks_kinds(),
        *seams_kinds(),
        *said_kinds(),
        *levels_kinds(),
        *held_kinds(),
    )
