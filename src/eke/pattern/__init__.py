"""Pieces, edges, seams, notches, darts; walking seams, trueing steps, measuring.

Start at :mod:`eke.pattern.model`, which opens with the words. Every change that a maker can do to a pattern is
a kind in :mod:`eke.pattern.kinds`; what is wrong with a pattern is told by :func:`check`.
"""

from eke.pattern.checking import check, check_seam
from eke.pattern.editing import unfolded
from eke.pattern.finished import FinishedMeasure, finished_measures
from eke.pattern.kinds import pattern_kinds
from eke.pattern.measure import run_length_mm, run_of, width_at_mm
from eke.pattern.proposals import Proposal, propose_seams
from eke.pattern.tolerances import Tolerances
from eke.pattern.trueing import fairing_of, straightness_of
from eke.pattern.walking import Walk, walk

__all__ = [
    "FinishedMeasure",
    "Proposal",
    "Tolerances",
    "Walk",
    "check",
    "check_seam",
    "fairing_of",
    "finished_measures",
    "pattern_kinds",
    "propose_seams",
    "run_length_mm",
    "run_of",
    "straightness_of",
    "unfolded",
    "walk",
    "width_at_mm",
]
