"""The committed photographs: whole, small, turned right, and at one with their truth files."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pi_heif
import pytest
from demo.garments import as_traced, outline_points, piece, pieces
from PIL import Image
from scipy.spatial.transform import Rotation
from shapely.geometry import LineString, Point, Polygon

HERE = Path(__file__).resolve().parents[2] / "demo" / "photographs"
DOC = json.loads((HERE / "photographs.json").read_text(encoding="utf-8"))
ENTRIES = {e["file"]: e for e in DOC["photographs"]}
NAMES = sorted(ENTRIES)


def truth_of(name: str) -> dict:
    return json.loads((HERE / ENTRIES[name]["truth"]).read_text(encoding="utf-8"))


def opencv_project(truth: dict, points_mm: np.ndarray) -> np.ndarray:
    """The stored raster's pixels of points on the floor, by OpenCV."""
    c = truth["camera"]
    K = np.array([[c["f_px"], 0, c["centre_px"][0]], [0, c["f_px"], c["centre_px"][1]], [0, 0, 1]])
    rvec = Rotation.from_matrix(np.array(c["R"])).as_rotvec()
    p = np.c_[points_mm, np.zeros(len(points_mm))]
    px, _ = cv2.projectPoints(p, rvec, np.array(c["t_mm"]), K, np.array(c["k1_k2_p1_p2_k3"]))
    return px.reshape(-1, 2)


def turned(truth: dict, px: np.ndarray) -> np.ndarray:
    if truth["image"]["orientation"] == 6:
        return np.c_[truth["image"]["stored_px"][1] - 1 - px[:, 1], px[:, 0]]
    return px


def test_every_picture_is_listed_and_all_are_small():
    files = {p.name for p in HERE.iterdir() if p.suffix in {".jpg", ".heic"}}
    assert files == set(NAMES)
    assert sum(p.stat().st_size for p in HERE.rglob("*") if p.is_file()) < 10_000_000
    assert sum(n.endswith(".heic") for n in NAMES) == 1
    assert {e["shows"] for e in ENTRIES.values()} == {"tracing", "cloth"}


def test_every_piece_of_both_garments_was_traced_once():
    traced = [p["piece"] for e in ENTRIES.values() for p in e.get("left_to_right", [])]
    assert sorted(traced) == sorted(p.id for p in pieces())


@pytest.mark.parametrize("name", NAMES)
def test_size_and_turn_of_the_file(name: str):
    t = truth_of(name)
    w, h = t["image"]["upright_px"]
    if name.endswith(".heic"):
        heif = pi_heif.open_heif(HERE / name)
        assert heif.size == (w, h)
        return
    with Image.open(HERE / name) as im:
        assert list(im.size) == t["image"]["stored_px"]
        assert im.getexif()[0x0112] == t["image"]["orientation"]
        assert im.getexif().get_ifd(0x8769)[0xA405] == t["image"]["focal_35mm"]


@pytest.mark.parametrize("name", NAMES)
def test_references_and_outlines_are_in_the_picture(name: str):
    t = truth_of(name)
    w, h = t["image"]["upright_px"]
    for r in t["references"]:
        px = turned(t, opencv_project(t, np.array(r["corners_mm"])))
        # a card lies 0.76 mm above the floor: up to a few pixels of parallax
        np.testing.assert_allclose(px, r["corners_upright_px"], atol=0.02 if r["kind"] != "card" else 6.0)
        assert (px > 10).all()
        assert (px < [w - 10, h - 10]).all()
    rings = [p["drawn_mm"] for p in t.get("pieces", [])] or [t["cloth"]["outline_mm"]]
    for ring in rings:
        px = turned(t, opencv_project(t, np.array(ring)))
        assert (px > 10).all()
        assert (px < [w - 10, h - 10]).all()


@pytest.mark.parametrize("name", [n for n in NAMES if ENTRIES[n]["shows"] == "tracing"])
def test_what_was_drawn_is_the_draft_as_a_hand_draws_it(name: str):
    t = truth_of(name)
    paper = Polygon(t["paper"]["outline_mm"])
    for p in t["pieces"]:
        a = np.radians(p["placed"]["turn_deg"])
        R = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
        design = Polygon(outline_points(as_traced(piece(p["id"])), 0.25) @ R.T + p["placed"]["at_mm"])
        drawn = Polygon(p["drawn_mm"])
        assert drawn.is_valid
        assert paper.buffer(-5).contains(drawn)
        off = np.array([design.exterior.distance(Point(q)) for q in p["drawn_mm"]])
        assert np.percentile(off, 95) < 0.9
        assert 0.02 < off.mean() < 0.5  # a hand, neither a plotter nor a tremor
        for n in p["notches"]:
            assert drawn.exterior.distance(Point(n["at_mm"])) < 0.1
        assert drawn.contains(LineString(p["grain_mm"]))


@pytest.mark.parametrize("name", [n for n in NAMES if ENTRIES[n]["shows"] == "cloth"])
def test_touches_of_the_maker_are_on_the_right_side(name: str):
    t = truth_of(name)
    ring = turned(t, opencv_project(t, np.array(t["cloth"]["outline_mm"])))
    for touch in ENTRIES[name]["touches"]:
        assert Polygon(ring).contains(Point(touch["touch_px"])) == (touch["side"] == "+")


def test_pieces_are_told_from_left_to_right():
    for name in NAMES:
        xs = [p["tap_px"][0] for p in ENTRIES[name].get("left_to_right", [])]
        assert xs == sorted(xs)


def test_there_is_enough_cloth_but_no_plenty():
    """Good cloth is one and a half to three times the net area of all that is cut, the lining included."""
    good = 0.0
    for name in NAMES:
        if ENTRIES[name]["shows"] == "cloth":
            c = truth_of(name)["cloth"]
            good += Polygon(c["outline_mm"]).area - sum(
                Polygon(r).area for r in (*c["holes_mm"], *c["flaws_mm"])
            )
    cut = sum((2 if p.on_fold else 1) * p.cut * Polygon(outline_points(p)).area for p in pieces())
    bodice = sum(
        2
        * Polygon(outline_points(piece(i)))
        .intersection(Polygon([(-400, 330), (400, 330), (400, 900), (-400, 900)]))
        .area
        for i in ("front", "side_front", "side_back", "back")
    )
    assert 1.5 < good / (cut + bodice) < 3.0
