"""Allowances and corners, facings, linings, layers, strips: recipes over a pattern, always up to date."""

from eke.derive.allowances import (
    PRESETS,
    AllowancePreset,
    CutOutline,
    allowance_of,
    cut_outline,
    first_sewn,
    preset_named,
)
from eke.derive.derived import Derived, derived_id
from eke.derive.kinds import recipe_changes
from eke.derive.recipes import Derivation, Derivations, derive, recipe_kinds, with_derived

__all__ = [
    "PRESETS",
    "AllowancePreset",
    "CutOutline",
    "Derivation",
    "Derivations",
    "Derived",
    "allowance_of",
    "cut_outline",
    "derive",
    "derived_id",
    "first_sewn",
    "preset_named",
    "recipe_changes",
    "recipe_kinds",
    "with_derived",
]
