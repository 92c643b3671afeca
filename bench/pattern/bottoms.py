"""Skirts and trousers."""

from __future__ import annotations

import math

from eke.geometry import Path

from .drafting import Garment, Pen, curve, garment, of_length
from .parts import strip


def gored_skirt() -> Garment:
    """A skirt of gores: centre front and back on the fold, two side gores, a waistband."""

    def gore(name: str, top: float, hip: float, low: float, bulge: float, *, fold: bool) -> Pen:
        half = 0.0 if fold else 0.5
        pen = Pen(name, (-half * low, 0.0 if fold else 4.0)).curve(
            "hem", 0.0 if fold else -3.0, (low * (1 - half), 4.0), 4.0, "hem"
        )
        lower = Path.line(pen.at, (hip * (1 - half), 460.0))
        upper = curve(lower.end, 92.0 + bulge, (top * (1 - half), 660.0), 100.0 + bulge)
        pen.along("right", lower.joined(upper))
        if fold:
            pen.curve("waist", 184.0, (0.0, 657.0), 180.0).close("centre", "fold")
            return pen
        pen.curve("waist", 184.0, (-top / 2, 660.0), 176.0)
        upper = curve(pen.at, 268.0 - bulge, (-hip / 2, 458.0), 272.0 - bulge)
        return pen.along("left", upper.joined(Path.line(upper.end, (-low / 2, 4.0))))

    front = gore("front", 80.0, 105.0, 170.0, 0.0, fold=True)
    side_front = gore("side front", 105.0, 140.0, 260.0, 2.0, fold=False)
    side_back = gore("side back", 98.0, 150.0, 270.0, 3.0, fold=False)
    back = gore("back", 70.0, 110.0, 180.0, 1.0, fold=True)
    waist = sum(p.length("waist") for p in (front, side_front, side_back, back))
    # gores are told apart by their notches: one at the front, two at the side, three at the back
    for count, (one, edge, two, other) in enumerate(
        (
            (front, "right", side_front, "left"),
            (side_front, "right", side_back, "left"),
            (side_back, "right", back, "right"),
        )
    ):
        one.notch(edge, 300.0, count + 1)
        two.notch(other, -300.0 if other == "left" else 300.0, count + 1)
    half_band = strip("waistband", waist - 6.0, 70.0, ends="opening", upper="hem", fold=True)
    return garment(
        "gored skirt",
        [front.piece(), side_front.piece(pairs=True), side_back.piece(pairs=True), back.piece(), half_band],
        "front.right = side front.left~",
        "side front.right = side back.left~",
        "side back.right = back.right",
        "waistband.lower = front.waist~ + side front.waist~ + side back.waist~ + back.waist",
    )


def straight_skirt() -> Garment:
    """A straight skirt: front on the fold, two backs with a seam, a dart in each, a waistband."""

    def panel(name: str, hip: float, waist: float, intake: float, depth: float, *, fold: bool) -> Pen:
        pen = Pen(name, (0.0, 0.0)).line("hem", (hip - 15.0, 0.0), "hem")
        side = Path.line(pen.at, (hip, 380.0))
        pen.along("side", side.joined(curve((hip, 380.0), 92.0, (waist + intake, 590.0), 104.0)))
        at = 0.55 * (waist + intake)
        pen.curve("waist side", 186.0, (at + intake / 2, 580.0), 180.0)
        pen.dart("dart", (at - intake / 2, 580.0), (at, 580.0 - depth))
        pen.line("waist centre", (0.0, 578.0))
        return pen.close("centre", "fold" if fold else "seam")

    front, back = (
        panel("front", 245.0, 180.0, 20.0, 90.0, fold=True),
        panel("back", 240.0, 170.0, 30.0, 130.0, fold=False),
    )
    waist = sum(p.length("waist side", "waist centre") for p in (front, back))
    band = strip("waistband", waist - 8.0, 60.0, fold=True, ends="opening", upper="hem")
    return garment(
        "straight skirt",
        [front.piece(), back.piece(pairs=True), band],
        "front.side = back.side",
        "back.centre = mirror",
        "waistband.lower = front.waist centre~ + front.waist side~ + back.waist side + back.waist centre",
    )


def circle_skirt() -> Garment:
    """A half circle skirt in two quarters on the fold, and its waistband."""
    quarter = math.pi / 4.0

    def panel(name: str, drop: float) -> Pen:
        r, far = 240.0, 240.0 + 560.0
        side = (math.sin(quarter), math.cos(quarter))
        pen = Pen(name, (0.0, -far - drop))
        pen.along("hem", curve(pen.at, 0.0, (far * side[0], -far * side[1]), 45.0, 0.35), "hem")
        pen.line("side", (r * side[0], -r * side[1]))
        pen.curve("waist", 225.0, (0.0, -r - drop), 180.0, pull=0.35)
        return pen.close("centre", "fold")

    front, back = panel("front", 0.0), panel("back", 12.0)
    band = strip(
        "band", front.length("waist") + back.length("waist"), 50.0, fold=True, ends="opening", upper="hem"
    )
    return garment(
        "circle skirt",
        [front.piece(), back.piece(), band],
        "front.side = back.side",
        "band.lower = front.waist~ + back.waist",
    )


def _leg(name: str, *, out: float, fork: float, rise: float, knee: float, hem: float, tilt: float) -> Pen:
    """A trouser leg, its crease upright at x = 0, outside leg at the right."""
    pen = Pen(name, (-hem / 2, 0.0)).line("hem", (hem / 2, 0.0), "hem")
    low = Path.line(pen.at, (knee / 2, 360.0))
    pen.along("outside leg", low.joined(curve(low.end, 86.0, (out - tilt * 0.3, 1000.0), 97.0)))
    waist = (out - tilt * 0.3 - 190.0, 1000.0 + tilt)
    pen.line("waist", waist)
    crotch = curve((waist[0], waist[1]), 268.0 - tilt * 0.5, (-fork, rise), 190.0, 0.5)
    pen.along("crotch", crotch)
    inner = curve(crotch.end, 292.0, (-knee / 2, 360.0), 268.0)
    return pen.along("inside leg", inner.joined(Path.line(inner.end, (-hem / 2, 0.0))))


def trousers() -> Garment:
    """Trousers: two fronts, two backs, a waistband."""
    front = _leg("front", out=120.0, fork=150.0, rise=730.0, knee=210.0, hem=190.0, tilt=0.0)
    # the back's sides are made as long as the front's
    back = _leg("back", out=125.0, fork=195.0, rise=722.0, knee=240.0, hem=220.0, tilt=28.0)
    waist = front.length("waist") + back.length("waist")
    half = strip("waistband", waist, 70.0, ends="opening", upper="hem", fold=True)
    return garment(
        "trousers",
        [front.piece(pairs=True), back.piece(pairs=True), half],
        "front.outside leg = back.outside leg",
        "front.inside leg = back.inside leg",
        "front.crotch = mirror",
        "back.crotch = mirror",
        "waistband.lower = back.waist~ + front.waist",
    )


def pyjamas() -> Garment:
    """Pyjama trousers of one piece a leg: an inside leg sewn to itself, centre seams, a cased waist."""
    pen = Pen("leg", (-210.0, 0.0)).line("hem", (210.0, 0.0), "hem")
    pen.curve("inside leg back", 78.0, (360.0, 640.0), 74.0)
    back = curve(pen.at, 170.0, (215.0, 960.0), 102.0, 0.5)
    pen.along("crotch back", back).line("waist", (-235.0, 925.0), "hem")
    pen.curve("crotch front", 268.0, (-315.0, 640.0), 195.0, pull=0.5)
    inner = pen.length("inside leg back")
    pen.along(
        "inside leg front",
        of_length(lambda x: curve(pen.at, 279.0 + x, (-210.0, 0.0), 279.0 - x), inner, 0.0, 60.0),
    )
    return garment(
        "pyjama trousers",
        [pen.piece(pairs=True)],
        "leg.inside leg back = leg.inside leg front~",
        "leg.crotch back = mirror",
        "leg.crotch front = mirror",
    )
