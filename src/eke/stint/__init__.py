"""What to give up when cloth is short: ways to save, ranked by harm, each a pure change of the cutting list."""

from eke.stint.propose import apply, least, propose, taken_off
from eke.stint.shapes import edge_moved_in, narrowed, opened, pieced, seam_length_mm, with_allowances
from eke.stint.stint import HARM, Stint, StintKind

__all__ = [
    "HARM",
    "Stint",
    "StintKind",
    "apply",
    "edge_moved_in",
    "least",
    "narrowed",
    "opened",
    "pieced",
    "propose",
    "seam_length_mm",
    "taken_off",
    "with_allowances",
]
