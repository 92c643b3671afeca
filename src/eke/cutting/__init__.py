"""The cutting list, and the one door between pattern and cloth on one side and the packing on the other."""

from eke.cutting.check import LayFault, check_lay, grain_of, unlike_pairs, unmatched_stripes
from eke.cutting.door import (
    Gaps,
    Laid,
    from_placements,
    laid_at,
    piece_with_grain_along_x,
    placed,
    to_placements,
    to_problem,
)
from eke.cutting.folded import Fold, doubled, from_folded, to_folded_problem
from eke.cutting.listing import ROLE_PRESETS, cut_pieces, cutting_list, outlined, unfolded
from eke.cutting.piece import CutPiece, GrainRule, Source, fingerprint, mirrored, total_area_mm2
from eke.cutting.plan import (
    LayPlan,
    Leftover,
    Missing,
    cut_params,
    from_answer,
    plan_from_json,
    plan_of,
    plan_to_json,
    stale,
)
from eke.cutting.stripes import matched_lines

__all__ = [
    "ROLE_PRESETS",
    "CutPiece",
    "Fold",
    "Gaps",
    "GrainRule",
    "Laid",
    "LayFault",
    "LayPlan",
    "Leftover",
    "Missing",
    "Source",
    "check_lay",
    "cut_params",
    "cut_pieces",
    "cutting_list",
    "doubled",
    "fingerprint",
    "from_answer",
    "from_folded",
    "from_placements",
    "grain_of",
    "laid_at",
    "matched_lines",
    "mirrored",
    "outlined",
    "piece_with_grain_along_x",
    "placed",
    "plan_from_json",
    "plan_of",
    "plan_to_json",
    "stale",
    "to_folded_problem",
    "to_placements",
    "to_problem",
    "total_area_mm2",
    "unfolded",
    "unlike_pairs",
    "unmatched_stripes",
]
