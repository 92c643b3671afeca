"""Fit changes over a pattern: a few primitives, named changes made of them, and their ruler steps."""

from eke.fit.darts import add_dart, dart_angle_deg
from eke.fit.kinds import apex_from, fit_kinds, place_from, take_in_from
from eke.fit.redrawn import Redrawn, redrawn
from eke.fit.ruler import RulerRow, RulerStep, dart_steps, take_in_steps
from eke.fit.seams import TakeIn, run_length_mm, take_in
from eke.pattern.pivot import transfer_dart

__all__ = [
    "Redrawn",
    "RulerRow",
    "RulerStep",
    "TakeIn",
    "add_dart",
    "apex_from",
    "dart_angle_deg",
    "dart_steps",
    "fit_kinds",
    "place_from",
    "redrawn",
    "run_length_mm",
    "take_in",
    "take_in_from",
    "take_in_steps",
    "transfer_dart",
]
