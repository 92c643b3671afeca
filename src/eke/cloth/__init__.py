"""Cloth as it is: shape, holes, flaws, grain, face, shrinkage, weight, price, origin; and its offcuts."""

from eke.cloth.advice import Advice, advice_for, kills_mites, treatment
from eke.cloth.cloth import HIDDEN, SOUND, Cloth, Flaw, Nap, Quality, Ring, clean_ring, polygons, ring_of
from eke.cloth.lengths import (
    TYPICAL_SHRINK_PERCENT,
    WeightCheck,
    check_by_weight,
    drop_mm,
    extra_for_repeat_mm,
    gsm_of,
    length_at_width,
    length_before_wash,
    shrink_percent,
    washed,
    weight_g,
    weight_words,
)
from eke.cloth.offcuts import KERF_MM, Rest, as_cloths, rest_of
from eke.cloth.record import cloth_from_json, cloth_to_json, flaw_from_json, flaw_to_json
from eke.cloth.rectangle import Rectangle, useful_rectangle
from eke.cloth.shapes import four_sided, from_offsets, half_round, l_shape, oval, rectangle, round_cloth
from eke.cloth.shelf import Cut, CutPlacement, Garment, Holding, Project, Reservation, Shelf
from eke.cloth.shelf_kinds import workroom_kinds

__all__ = [
    "HIDDEN",
    "KERF_MM",
    "SOUND",
    "TYPICAL_SHRINK_PERCENT",
    "Advice",
    "Cloth",
    "Cut",
    "CutPlacement",
    "Flaw",
    "Garment",
    "Holding",
    "Nap",
    "Project",
    "Quality",
    "Rectangle",
    "Reservation",
    "Rest",
    "Ring",
    "Shelf",
    "WeightCheck",
    "advice_for",
    "as_cloths",
    "check_by_weight",
    "clean_ring",
    "cloth_from_json",
    "cloth_to_json",
    "drop_mm",
    "extra_for_repeat_mm",
    "flaw_from_json",
    "flaw_to_json",
    "four_sided",
    "from_offsets",
    "gsm_of",
    "half_round",
    "kills_mites",
    "l_shape",
    "length_at_width",
    "length_before_wash",
    "oval",
    "polygons",
    "rectangle",
    "rest_of",
    "ring_of",
    "round_cloth",
    "shrink_percent",
    "treatment",
    "useful_rectangle",
    "washed",
    "weight_g",
    "weight_words",
    "workroom_kinds",
]
