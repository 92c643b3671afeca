"""Garments for the upper body."""

from __future__ import annotations

import math

from eke.geometry import Path

from .drafting import Garment, Pen, curve, garment, of_length
from .parts import SLOPE_DEG, half_top, sleeve, strip


def blouse() -> Garment:
    """A darted blouse with set-in sleeves, eased caps; the neck is only hemmed."""
    front = half_top("front", notch=1, neck_kind="opening")
    back = half_top("back", drop=25.0, quarter=235.0, centre="seam", notch=2, neck_kind="opening")
    round_mm = front.length("armhole") + back.length("armhole")
    arm = sleeve("sleeve", round_mm + 22.0, notches=True)
    return garment(
        "blouse",
        [front.piece(), back.piece(pairs=True), arm.piece(pairs=True)],
        "front.side = back.side",
        "front.shoulder = back.shoulder",
        "sleeve.underarm 1 = sleeve.underarm 2~",
        "sleeve.cap = front.armhole + back.armhole~",
        "back.centre = mirror",
    )


def shirt() -> Garment:
    """A shirt: button stand, yoke, tucked back, sleeves with cuffs, collar with stand."""
    front = half_top(
        "front", quarter=270.0, length=720.0, underarm=480.0, drop=90.0, centre="opening", extension=18.0
    )
    full = half_top("whole back", quarter=270.0, length=735.0, underarm=480.0, drop=25.0)
    # the back is cut level below the shoulder: yoke above, back below
    arm = next(e.path for e in full.edges if e.name == "armhole")
    level = 640.0
    at = next(mm for mm in range(int(arm.length_mm)) if arm.point_at(float(mm))[1] >= level)
    low, high = arm.split(float(at))
    # the fold lies 25 mm beyond the centre: the yoke seam is longer by the tuck
    back = Pen("back", (-25.0, 0.0)).line("hem", (270.0, 0.0), "hem").line("side", (270.0, 480.0))
    back.along("armhole", low).line("yoke", (-25.0, low.end[1])).close("centre", "fold")
    yoke = Pen("yoke", (0.0, low.end[1])).line("back seam", low.end).along("armhole", high)
    shoulder, neck = (next(e.path for e in full.edges if e.name == n) for n in ("shoulder", "neck"))
    yoke.along("shoulder", shoulder).along("neck", neck).close("centre", "fold")
    armhole = front.length("armhole") + back.length("armhole") + yoke.length("armhole")
    arm_piece = sleeve("sleeve", armhole + 8.0, biceps=400.0, wrist=290.0, length=480.0, hem_kind="seam")
    cuff = strip("cuff", 250.0, 60.0, ends="opening", upper="seam", lower="hem")
    half_neck = front.length("neck") + yoke.length("neck")
    lower = of_length(
        lambda x: curve((0.0, 0.0), 0.0, (x, 12.0), 12.0), half_neck, half_neck - 20.0, half_neck
    )
    stand = Pen("stand", (0.0, 0.0)).along("neck", lower)
    top = (stand.at[0] - 24.0, stand.at[1] + 33.0)
    stand.curve("front end", 100.0, top, 185.0, "opening").curve("collar", 187.0, (0.0, 36.0), 180.0)
    stand.close("centre back", "fold")
    collar_mm = stand.length("collar")
    under = of_length(lambda x: curve((0.0, 0.0), 0.0, (x, 4.0), 6.0), collar_mm, collar_mm - 20.0, collar_mm)
    collar = Pen("collar", (0.0, 0.0)).along("stand", under)
    collar.by("point", 22.0, 66.0, "hem").line("outer", (0.0, 48.0), "hem").close("centre back", "fold")
    return garment(
        "shirt",
        [
            front.piece(pairs=True),
            back.piece(),
            yoke.piece(count=2),
            arm_piece.piece(pairs=True),
            cuff,
            stand.piece(count=2),
            collar.piece(count=2),
        ],
        "front.side = back.side",
        "back.yoke = yoke.back seam~",
        "front.shoulder = yoke.shoulder",
        "sleeve.underarm 1 = sleeve.underarm 2~",
        "sleeve.cap = front.armhole + yoke.armhole~ + back.armhole~",
        "cuff.upper = sleeve.wrist~",
        "stand.neck = yoke.neck~ + front.neck",
        "stand.collar = collar.stand~",
    )


def t_shirt() -> Garment:
    """A knitted top with short sleeves and a neck band that is stretched on."""
    front = half_top("front", length=640.0, underarm=410.0, quarter=250.0, drop=90.0)
    back = half_top("back", length=640.0, underarm=410.0, quarter=250.0, drop=25.0)
    arm = sleeve(
        "sleeve", front.length("armhole") + back.length("armhole"), biceps=370.0, wrist=330.0, length=110.0
    )
    band = strip("neck band", 0.85 * (front.length("neck") + back.length("neck")), 40.0, fold=True)
    return garment(
        "T-shirt",
        [front.piece(), back.piece(), arm.piece(pairs=True), band],
        "front.side = back.side",
        "front.shoulder = back.shoulder",
        "sleeve.underarm 1 = sleeve.underarm 2~",
        "sleeve.cap = front.armhole + back.armhole~",
        "neck band.lower | neck band.upper~ = front.neck~ + back.neck",
        "neck band.right = mirror",
    )


def hooded_top() -> Garment:
    """A top with sleeves, a hood of two panels, and a waist band."""
    front = half_top("front", length=560.0, underarm=300.0, quarter=280.0, drop=95.0, hem_kind="seam")
    back = half_top("back", length=570.0, underarm=300.0, quarter=280.0, drop=28.0, hem_kind="seam")
    arm = sleeve(
        "sleeve", front.length("armhole") + back.length("armhole"), biceps=420.0, wrist=260.0, hem_kind="seam"
    )
    half_neck = front.length("neck") + back.length("neck")
    neck = of_length(
        lambda x: curve((0.0, 20.0), -12.0, (x, 0.0), 8.0), half_neck, half_neck - 40.0, half_neck
    )
    hood = Pen("hood", (0.0, 20.0)).along("neck", neck).by("face", 6.0, 300.0, "hem")
    hood.curve("crown", 172.0, (-30.0, 190.0), 262.0, pull=0.5)
    hood.along("nape", curve((-30.0, 190.0), 262.0, (0.0, 20.0), 285.0))
    band = strip("waist band", 240.0 * 2.0, 60.0, fold=True, lower="seam", upper="seam")
    cuff = strip("cuff", 220.0, 70.0)
    return garment(
        "hooded top",
        [front.piece(), back.piece(), arm.piece(pairs=True), hood.piece(pairs=True), band, cuff],
        "front.side = back.side",
        "front.shoulder = back.shoulder",
        "sleeve.underarm 1 = sleeve.underarm 2~",
        "sleeve.cap = front.armhole + back.armhole~",
        "hood.neck = back.neck~ + front.neck",
        "hood.crown = mirror",
        "hood.nape = mirror",
        "waist band.upper | waist band.lower~ = back.hem + front.hem~",
        "waist band.right = mirror",
        "cuff.left = cuff.right~",
        "cuff.upper | cuff.lower~ = sleeve.wrist~",
    )


def raglan() -> Garment:
    """A top with raglan sleeves and a neck band."""

    def body(name: str, top: float) -> Pen:
        pen = Pen(name, (0.0, 0.0)).line("hem", (260.0, 0.0), "hem").line("side", (260.0, 380.0))
        pen.curve("raglan", 165.0, (85.0, top), 105.0, pull=0.36)
        pen.curve("neck", 215.0, (0.0, top - (60.0 if name == "front" else 15.0)), 180.0)
        return pen.close("centre", "fold")

    front, back = body("front", 590.0), body("back", 625.0)
    pen = Pen("sleeve", (40.0, 0.0)).line("wrist", (340.0, 0.0), "hem").line("underarm front", (380.0, 300.0))
    right = of_length(
        lambda x: curve((380.0, 300.0), 165.0, (235.0, 300.0 + x), 95.0, 0.36),
        front.length("raglan"),
        100.0,
        300.0,
    )
    pen.along("raglan front", right)
    left_end = (380.0 - 380.0, 300.0)
    top_left = of_length(
        lambda x: curve((150.0, 300.0 + x), 265.0, left_end, 195.0, 0.36), back.length("raglan"), 100.0, 320.0
    )
    pen.curve("neck", 200.0, top_left.start, 165.0).along("raglan back", top_left).close("underarm back")
    round_neck = front.length("neck") + back.length("neck") + pen.length("neck")
    band = strip("band", 0.9 * round_neck, 36.0, fold=True)
    return garment(
        "raglan top",
        [front.piece(), back.piece(), pen.piece(pairs=True), band],
        "front.side = back.side",
        "front.raglan = sleeve.raglan front",
        "back.raglan = sleeve.raglan back~",
        "sleeve.underarm front = sleeve.underarm back~",
        "band.lower | band.upper~ = front.neck~ + sleeve.neck + back.neck",
        "band.right = mirror",
    )


def waistcoat() -> Garment:
    """A waistcoat: V neck, points at the front hem, a centre-back seam, armholes left to a lining."""
    front = Pen("front", (0.0, 30.0)).line("hem point", (70.0, 0.0), "hem").line("hem", (245.0, 50.0), "hem")
    front.line("side", (250.0, 300.0))
    s = math.radians(SLOPE_DEG)
    tip = (85.0 + 90.0 * math.cos(s), 560.0 + 90.0 * math.sin(s))
    front.curve("armhole", 180.0, tip, SLOPE_DEG + 90.0, "opening").line("shoulder", (85.0, 560.0))
    front.curve("neck", 262.0, (0.0, 330.0), 240.0, "opening").close("front edge", "opening")
    back = Pen("back", (0.0, 0.0)).line("hem", (215.0, 50.0), "hem").line("side", (235.0, 300.0))
    tip = (80.0 + 92.0 * math.cos(s), 560.0 + 92.0 * math.sin(s))
    back.curve("armhole", 180.0, tip, SLOPE_DEG + 90.0, "opening", 0.33).line("shoulder", (80.0, 560.0))
    back.curve("neck", SLOPE_DEG - 90.0, (-4.0, 535.0), 180.0, "opening").curve(
        "centre back", 270.0, (0.0, 0.0), 274.0
    )
    return garment(
        "waistcoat",
        [front.piece(pairs=True), back.piece(pairs=True)],
        "front.side = back.side",
        "front.shoulder = back.shoulder",
        "back.centre back = mirror",
    )


def jacket() -> Garment:
    """A jacket with a side panel, a sleeve in two parts and a collar."""
    s = math.radians(SLOPE_DEG)
    front = Pen("front", (0.0, 0.0)).line("hem", (200.0, 0.0), "hem")
    front.curve("panel seam", 92.0, (205.0, 455.0), 86.0)
    tip = (82.0 + 125.0 * math.cos(s), 700.0 + 125.0 * math.sin(s))
    front.curve("armhole", 105.0, tip, SLOPE_DEG + 90.0).line("shoulder", (82.0, 700.0))
    front.curve("neck", SLOPE_DEG - 90.0, (0.0, 600.0), 190.0).close("front edge", "opening")
    back = Pen("back", (0.0, 0.0)).line("hem", (165.0, 0.0), "hem")
    back.curve("panel seam", 88.0, (178.0, 500.0), 84.0)
    tip = (80.0 + 131.0 * math.cos(s), 715.0 + 131.0 * math.sin(s))
    back.curve("armhole", 98.0, tip, SLOPE_DEG + 90.0).line("shoulder", (80.0, 715.0))
    back.curve("neck", SLOPE_DEG - 90.0, (0.0, 690.0), 180.0).curve("centre back", 268.0, (0.0, 0.0), 272.0)
    side = Pen("side panel", (0.0, 0.0)).line("hem", (130.0, 0.0), "hem")
    side.along(
        "to back",
        of_length(
            lambda x: curve((130.0, 0.0), 86.0, (124.0, x), 98.0), back.length("panel seam"), 480.0, 505.0
        ),
    )
    side.curve("armhole", 215.0, (12.0, 452.0), 140.0, pull=0.45)
    down = of_length(
        lambda x: curve((12.0, 452.0), 264.0, (0.0, 0.0), 276.0, x), front.length("panel seam"), 0.2, 1.2
    )
    side.along("to front", down)
    upper = (
        Pen("upper sleeve", (0.0, 0.0))
        .line("wrist", (150.0, 0.0), "hem")
        .curve("elbow seam", 80.0, (205.0, 430.0), 92.0)
    )
    armhole = front.length("armhole") + back.length("armhole") + side.length("armhole")
    under_cap = 0.24 * armhole

    def cap(height: float) -> Path:
        return curve((205.0, 430.0), 120.0, (100.0, 430.0 + height), 180.0).joined(
            curve((100.0, 430.0 + height), 180.0, (-10.0, 400.0), 235.0)
        )

    upper.along("cap", of_length(cap, armhole + 30.0 - under_cap, 20.0, 300.0))
    upper.curve("front seam", 270.0, (0.0, 0.0), 275.0)
    under = Pen("under sleeve", (0.0, 0.0)).line("wrist", (105.0, 0.0), "hem")
    under.along(
        "elbow seam",
        of_length(
            lambda x: curve((105.0, 0.0), 82.0, (150.0, x), 95.0), upper.length("elbow seam"), 390.0, 440.0
        ),
    )
    x = 150.0 - 0.93 * under_cap
    under.along(
        "cap",
        of_length(lambda d: curve(under.at, 180.0 + d, (x, 398.0), 180.0 - d, 0.4), under_cap, 5.0, 75.0),
    )
    under.along(
        "front seam",
        of_length(
            lambda d: curve(under.at, 267.0 + d, (0.0, 0.0), 267.0 - d),
            upper.length("front seam"),
            0.0,
            60.0,
        ),
    )
    half_neck = front.length("neck") + back.length("neck")
    edge = of_length(
        lambda x: curve((0.0, 0.0), 0.0, (x, 10.0), 10.0), half_neck, half_neck - 30.0, half_neck
    )
    collar = Pen("collar", (0.0, 0.0)).along("neck", edge).by("point", 20.0, 70.0, "hem")
    collar.line("outer", (0.0, 75.0), "hem").close("centre back", "fold")
    return garment(
        "jacket",
        [
            front.piece(pairs=True),
            back.piece(pairs=True),
            side.piece(pairs=True),
            upper.piece(pairs=True),
            under.piece(pairs=True),
            collar.piece(count=2),
        ],
        "front.panel seam = side panel.to front~",
        "back.panel seam = side panel.to back",
        "front.shoulder = back.shoulder",
        "back.centre back = mirror",
        "upper sleeve.elbow seam = under sleeve.elbow seam",
        "upper sleeve.front seam = under sleeve.front seam",
        "collar.neck = back.neck~ + front.neck",
        "upper sleeve.cap + under sleeve.cap~ = back.armhole + front.armhole~ + side panel.armhole~",
    )
