"""The odd-cloth problems through the whole door: as pieces and cloths, laid, and judged in the case's own frame."""

import json
import os
from pathlib import Path

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Polygon

from eke.cloth import Cloth
from eke.cutting import CutPiece, Gaps, check_lay, from_answer, piece_with_grain_along_x, to_problem
from eke.lay import solve

CASES = ("curtain_burn", "remnants_three", "shirt_remnant_L", "tablecloth_round")


def problems() -> Path:
    """The published problems: beside the checkout, or in the folder that EKE_SHARED names."""
    root = Path(os.environ.get("EKE_SHARED") or Path(__file__).parents[2].parent / "shared")
    if not (root / "nesting").is_dir():
        pytest.skip("the published problems are not here (EKE_SHARED, or ../shared)")
    return root / "nesting"


@pytest.mark.outside
@pytest.mark.parametrize("name", CASES)
def test_an_odd_cloth_goes_through_the_door_and_back(name):
    case = json.loads((problems() / "oddcloth" / f"{name}.json").read_text())
    scale = next(v["cloth_scale"] for v in case["versions"] if v["fill"] == 0.6)
    plain = [p for p in case["pieces"] if p["rotations"] == [0.0, 180.0]]
    assert plain, "most pieces of a case keep the grain"
    pieces = [
        CutPiece(p["id"], p["id"], p["id"], "outer", piece_with_grain_along_x(p["polygon"]), copies=p["demand"],
                 priority=p.get("priority", 1))
        for p in plain
    ]  # fmt: skip
    # in the cases the cloth's grain runs along x
    cloths = [
        Cloth(c["id"], c["id"], [(x * scale, y * scale) for x, y in c["outline"]],
              holes=tuple(tuple((x * scale, y * scale) for x, y in hole) for hole in c["holes"]), grain_deg=0.0)
        for c in case["cloths"]
    ]  # fmt: skip
    gaps = Gaps(case["min_gap_pieces"], case["min_gap_edge"], case["min_gap_hole"])
    problem = to_problem(pieces, cloths, gaps=gaps)
    plan = from_answer(solve(problem, passes=8, seed=1, workers=1), pieces, cloths, gaps=gaps)
    assert len(plan.laid) > len(pieces) / 2
    assert check_lay(plan.laid, pieces, cloths, gaps=gaps) == ()
    drawn = {p["id"]: p["polygon"] for p in plain}
    sheets = {c.id: c.polygon for c in cloths}
    for one in plan.laid:
        # judged without Eke: the case's own outline, turned by 0 or 180 and moved, must be what was laid
        found = Polygon(one.outline)
        assert sheets[one.cloth].buffer(0.02).covers(found)
        fits = []
        for turn in (0, 180):
            there = affinity.rotate(Polygon(drawn[one.piece]), turn, origin=(0, 0))
            shift = np.array(found.bounds[:2]) - np.array(there.bounds[:2])
            moved = affinity.translate(there, *shift)
            fits.append(moved.symmetric_difference(found).area / found.area)
        assert min(fits) < 1e-6
