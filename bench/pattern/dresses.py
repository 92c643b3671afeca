"""Dresses and pinafores."""

from __future__ import annotations

from eke.geometry import Path

from .drafting import Garment, Pen, curve, garment, of_length
from .parts import half_top, sleeve, strip


def princess_dress() -> Garment:
    """A sleeveless dress with princess seams from the armhole, and a seam at the centre back."""

    def centre(name: str, width: float, low: float, neck_drop: float, *, fold: bool) -> Pen:
        pen = Pen(name, (0.0, 0.0)).line("hem", (low, 0.0), "hem")
        skirt = curve(pen.at, 98.0, (width - 25.0, 560.0), 88.0)
        bodice = curve(skirt.end, 88.0, (width, 760.0), 95.0).joined(
            curve((width, 760.0), 95.0, (150.0, 860.0), 50.0)
        )
        pen.along("princess", skirt.joined(bodice))
        pen.curve("armhole", 110.0, (175.0, 930.0), 72.0, "opening").line("shoulder", (75.0, 965.0))
        pen.curve("neck", 252.0, (0.0, 965.0 - neck_drop), 180.0, "opening")
        return pen.close("centre", "fold" if fold else "seam")

    def side(name: str, panel: Pen, low: float, width: float) -> Pen:
        pen = Pen(name, (0.0, 0.0)).line("hem", (low, 0.0), "hem")
        pen.along(
            "side",
            curve(pen.at, 98.0, (width - 22.0, 540.0), 90.0).joined(
                curve((width - 22.0, 540.0), 90.0, (width, 740.0), 84.0)
            ),
        )
        pen.curve("armhole", 175.0, (40.0, 855.0), 125.0, "opening")

        def down(x: float) -> Path:
            top = curve(pen.at, 228.0, (-x, 740.0), 275.0)
            return top.joined(curve((-x, 740.0), 275.0, (18.0, 560.0), 271.0)).joined(
                curve((18.0, 560.0), 271.0, (0.0, 0.0), 265.0)
            )

        wanted = panel.length("princess") + (4.0 if name == "side front" else 0.0)
        low_x = next(
            x for x in range(-40, 60) if down(float(x)).length_mm <= wanted <= down(float(x) + 40.0).length_mm
        )
        return pen.along("princess", of_length(down, wanted, float(low_x), low_x + 40.0))

    front = centre("front", 140.0, 190.0, 130.0, fold=True)
    back = centre("back", 125.0, 180.0, 30.0, fold=False)
    side_front, side_back = side("side front", front, 180.0, 130.0), side("side back", back, 175.0, 125.0)
    return garment(
        "princess dress",
        [front.piece(), side_front.piece(pairs=True), back.piece(pairs=True), side_back.piece(pairs=True)],
        "front.princess = side front.princess~",
        "back.princess = side back.princess~",
        "side front.side = side back.side",
        "front.shoulder = back.shoulder",
        "back.centre = mirror",
    )


def pinafore() -> Garment:
    """A child's pinafore: front, side front, back on the fold, neck facings, a patch pocket."""
    front = Pen("front", (0.0, 0.0)).line("hem", (170.0, 0.0), "hem")
    front.curve("panel seam", 96.0, (105.0, 560.0), 88.0).line("shoulder tip", (100.0, 640.0), "opening")
    front.line("shoulder", (60.0, 652.0)).curve("neck", 270.0, (0.0, 570.0), 180.0).close("centre", "fold")
    side = Pen("side front", (0.0, 0.0)).line("hem", (150.0, 0.0), "hem").line("side", (95.0, 470.0))
    side.curve("armhole", 175.0, (12.0, 556.0), 118.0, "opening")
    length = front.length("panel seam")
    side.along(
        "panel seam",
        of_length(lambda x: curve(side.at, 270.0 - x, (0.0, 0.0), 268.0 + x), length, -4.0, 45.0),
    )
    back = Pen("back", (0.0, 0.0)).line("hem", (330.0, 0.0), "hem").line("side", (215.0, 458.6))
    back.curve("armhole", 178.0, (105.0, 640.0), 95.0, "opening").line("shoulder", (64.0, 650.0))
    back.curve("neck", 262.0, (0.0, 620.0), 180.0).close("centre", "fold")

    def facing(name: str, of: Pen, drop: float) -> Pen:
        neck = next(e.path for e in of.edges if e.name == "neck")
        shoulder = next(e.path for e in of.edges if e.name == "shoulder")
        pen = Pen(name, (0.0, neck.end[1] - drop)).curve(
            "outer", 0.0, shoulder.point_at(2.0), 88.0, "hem", 0.4
        )
        return pen.line("shoulder", shoulder.end).along("neck", neck).close("centre", "fold")

    front_facing, back_facing = facing("front facing", front, 50.0), facing("back facing", back, 50.0)
    pocket = Pen("pocket", (0.0, 0.0)).line("lower", (120.0, 0.0), "hem").line("right", (120.0, 130.0), "hem")
    pocket.line("top", (0.0, 130.0), "hem").close("left", "hem")
    return garment(
        "pinafore",
        [
            front.piece(),
            side.piece(pairs=True),
            back.piece(),
            front_facing.piece(),
            back_facing.piece(),
            pocket.piece(count=2),
        ],
        "front.panel seam = side front.panel seam~",
        "side front.side = back.side",
        "front.shoulder = back.shoulder",
        "front facing.shoulder = back facing.shoulder",
        "front facing.neck = front.neck",
        "back facing.neck = back.neck",
    )


def puff_sleeve_dress() -> Garment:
    """A child's dress: gathered skirt and puffed sleeves with bands, a flat collar."""
    front = half_top(
        "front",
        quarter=170.0,
        hem=165.0,
        length=280.0,
        underarm=140.0,
        neck=52.0,
        drop=65.0,
        shoulder=80.0,
        hem_kind="seam",
    )
    back = half_top(
        "back",
        quarter=165.0,
        hem=160.0,
        length=285.0,
        underarm=140.0,
        neck=52.0,
        drop=18.0,
        shoulder=80.0,
        centre="opening",
        hem_kind="seam",
    )
    round_mm = front.length("armhole") + back.length("armhole")
    arm = sleeve("sleeve", 1.35 * round_mm, biceps=330.0, wrist=300.0, length=60.0, hem_kind="seam")
    band = strip("sleeve band", 200.0, 30.0)
    skirt_front = Pen("skirt front", (0.0, 0.0)).line("hem", (300.0, 0.0), "hem").line("side", (290.0, 380.0))
    skirt_front.line("waist", (0.0, 380.0)).close("centre", "fold")
    skirt_back = Pen("skirt back", (0.0, 0.0)).line("hem", (295.0, 0.0), "hem").line("side", (285.0, 380.0))
    skirt_back.line("waist", (0.0, 380.0)).close("centre")
    half_neck = front.length("neck") + back.length("neck")
    collar_neck = of_length(
        lambda x: curve((0.0, 0.0), 0.0, (70.0, 60.0 + x), 120.0, 0.55), half_neck, -40.0, 120.0
    )
    collar = Pen("collar", (0.0, -55.0)).curve("outer", 0.0, collar_neck.end, 140.0, "hem", 0.75)
    collar.along("neck", collar_neck.reversed()).close("back edge", "hem")
    return garment(
        "puff-sleeve dress",
        [
            front.piece(),
            back.piece(pairs=True),
            arm.piece(pairs=True),
            band,
            skirt_front.piece(),
            skirt_back.piece(pairs=True),
            collar.piece(pairs=True, count=2),
        ],
        "front.side = back.side",
        "front.shoulder = back.shoulder",
        "sleeve.underarm 1 = sleeve.underarm 2~",
        "sleeve.cap = front.armhole + back.armhole~",
        "sleeve band.upper | sleeve band.lower~ = sleeve.wrist~",
        "sleeve band.left = sleeve band.right~",
        "skirt front.side = skirt back.side",
        "skirt back.centre = mirror",
        "skirt front.waist = front.hem~",
        "skirt back.waist = back.hem~",
        "collar.neck = front.neck~ + back.neck",
    )
