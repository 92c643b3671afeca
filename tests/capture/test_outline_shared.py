"""Photographs with known truth, straightened with the truth's own camera: what outlines and cloth edges are worth.

Loose thresholds: these pictures are a sample, not the aim.
"""

import json

import cv2
import numpy as np
import pytest
from tests.capture.outline_drawings import both_ways
from tests.capture.outside import shared_path

from eke.capture.cloth_edge import find_cloths
from eke.capture.outline import find_pieces
from eke.capture.rectify import Rectified

pytestmark = [pytest.mark.outside, pytest.mark.slow]

TRACINGS = [
    "p1_front_kraft_sheet",
    "p2_back_and_side_white_a4",
    "p3_sleeve_newspaper_sheet",
    "p4_pocket_facing_pins_card",
    "p5_gore_poster_letter_wide",
    "p6_front_back_taped_two_sheets",
]
CLOTHS = ["k1_curtain_burn_hole_sheet", "k2_tablecloth_quarter_a4", "k3_blanket_offcut_letter"]


def straightened(case):
    """The picture as seen from above by the camera of the truth file; truth frame turned y up."""
    truth = json.loads(shared_path(f"photos/{case}.truth.json").read_text())
    raw = np.frombuffer(shared_path(f"photos/{case}.jpg").read_bytes(), np.uint8)
    picture = cv2.imdecode(raw, cv2.IMREAD_COLOR_RGB | cv2.IMREAD_IGNORE_ORIENTATION)
    cam = truth["camera"]
    mm = 1 / cam["px_per_mm_centre"]
    references = [
        np.array(r.get("sheet_corners_frame_mm", r.get("corners_frame_mm"))) for r in truth["references"]
    ]
    w, h = truth["sheet"]["size_mm"]
    span = np.concatenate([*references, [[0, 0], [w, h]]])
    low, high = span.min(axis=0) - 25, span.max(axis=0) + 25
    cols, rows = ((high - low) / mm).astype(int)
    x, y = np.meshgrid(low[0] + np.arange(cols) * mm, low[1] + np.arange(rows) * mm)
    q = np.stack([x, y, np.ones_like(x)], axis=-1) @ np.array(truth["H_mm_to_px_undistorted"]).T
    u = (q[..., 0] / q[..., 2] - cam["cx"]) / cam["f_px"]
    v = (q[..., 1] / q[..., 2] - cam["cy"]) / cam["f_px"]
    r2 = u * u + v * v
    d = 1 + cam["k1"] * r2 + cam["k2"] * r2 * r2
    at = [(cam[c] + cam["f_px"] * p * d).astype(np.float32) for c, p in (("cx", u), ("cy", v))]
    flat = cv2.remap(picture, at[0], at[1], cv2.INTER_LINEAR)
    flip = np.array([1.0, -1.0])
    paper = np.array([[0, 0], [0, h], [w, h], [w, 0]]) * flip if truth["kind"] == "tracing" else None
    rect = Rectified(
        flat,
        mm,
        (float(low[0]), float(-low[1])),
        None,  # type: ignore[arg-type]
        0.1,
        lambda p: np.full(len(p), 0.1),
        tuple(r * flip for r in references),
        paper,
        flat.max(axis=2) > 0,
    )
    return rect, truth


def nearest(truth_piece, found):
    want = np.array(truth_piece["polyline_drawn"]) * [1, -1]
    return min(found, key=lambda f: np.hypot(*(f.outline_mm.mean(axis=0) - want.mean(axis=0)))), want


@pytest.mark.parametrize("case", TRACINGS)
def test_pieces(case):
    rect, truth = straightened(case)
    found = find_pieces(rect)
    assert len(found) == len(truth["pieces"])
    for piece in truth["pieces"]:
        got, want = nearest(piece, found)
        p95, worst = both_ways(got.outline_mm, want, 3.0)
        assert p95 < 0.4
        assert worst < 1.2
        assert p95 < 1.25 * 1.96 * got.drawn_sigma_mm + 0.1
        corners = np.array([c["xy"] for c in piece["corners"]]) * [1, -1]
        assert len(got.corners_mm) == len(corners)
        gaps = np.hypot(*(got.corners_mm[:, None] - corners[None]).transpose(2, 0, 1)).min(axis=0)
        assert gaps.mean() < 0.4
        assert len(got.segments) <= 1.3 * len(piece["segments"])
        notches = np.array([n["xy"] for n in piece["notches"]]).reshape(-1, 2) * [1, -1]
        seen = np.array([m.points_mm[0] for m in got.marks if m.kind == "notch"]).reshape(-1, 2)
        assert len(seen) == len(notches)
        if len(notches):
            assert np.hypot(*(seen[:, None] - notches[None]).transpose(2, 0, 1)).min(axis=0).max() < 1.0
        (grain,) = [m.points_mm for m in got.marks if m.kind == "grain"]
        a, b = np.array(piece["grain"]) * [1, -1]
        turn = np.degrees(np.arctan2(*(grain[1] - grain[0])[::-1]) - np.arctan2(*(b - a)[::-1]))
        assert abs((turn + 90) % 180 - 90) < 0.3


@pytest.mark.parametrize("case", CLOTHS)
def test_cloths_without_a_touch(case):
    rect, truth = straightened(case)
    (cloth,) = find_cloths(rect)
    want = np.array(truth["pieces"][0]["polyline_drawn"]) * [1, -1]
    p95, _ = both_ways(cloth.outline_mm, want, 4.0)
    assert p95 < 1.5
    assert p95 < 1.25 * 1.96 * cloth.sigma_mm
    assert len(cloth.holes_mm) == len(truth["cloth"]["holes"])
    assert len(cloth.flaws_mm) == len(truth["cloth"]["stains"])
    assert cloth.grain_deg is not None
    assert abs((cloth.grain_deg + truth["cloth"]["warp_deg"] + 45) % 90 - 45) < 0.5
    if truth["cloth"]["print"]:
        assert cloth.repeat_mm[0] == pytest.approx(truth["cloth"]["print"]["repeat"][0], rel=0.002)
    else:
        assert cloth.repeat_mm == (None, None)
