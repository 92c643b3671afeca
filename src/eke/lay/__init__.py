"""Stand-alone packing of outlines on odd-shaped sheets: no garment word, no files, no web.

:func:`solve` lays a :class:`Problem` and returns an :class:`Answer` that has passed the exact check of
:mod:`eke.lay.verify`. :mod:`eke.lay.warm` compiles the kernels ahead of time. How it works is told in
``docs/explanation/lay.md``.
"""

from eke.lay.documents import answer_to_dict, placements_from_dict, problem_from_dict, problem_to_dict
from eke.lay.problem import (
    FULL_QUALITY,
    Answer,
    Clash,
    Edge,
    EdgeRule,
    Part,
    PhaseRule,
    Placement,
    Problem,
    Repeat,
    Sheet,
    Strip,
    TiltPair,
    Verdict,
    Zone,
)
from eke.lay.solve import Progress, solve
from eke.lay.verify import Fault, faults

__all__ = [
    "FULL_QUALITY",
    "Answer",
    "Clash",
    "Edge",
    "EdgeRule",
    "Fault",
    "Part",
    "PhaseRule",
    "Placement",
    "Problem",
    "Progress",
    "Repeat",
    "Sheet",
    "Strip",
    "TiltPair",
    "Verdict",
    "Zone",
    "answer_to_dict",
    "faults",
    "placements_from_dict",
    "problem_from_dict",
    "problem_to_dict",
    "solve",
]
