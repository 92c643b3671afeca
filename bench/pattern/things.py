"""Aprons, hoods and bags."""

from __future__ import annotations

from .drafting import Garment, Pen, curve, garment, of_length
from .parts import strip


def apron() -> Garment:
    """A bib apron with a facing at the top, ties and a patch pocket."""
    body = Pen("apron", (0.0, 0.0)).line("hem", (300.0, 0.0), "hem").line("side", (300.0, 500.0), "hem")
    body.curve("armhole", 178.0, (120.0, 760.0), 95.0, "hem").line("bib top", (0.0, 760.0)).close(
        "centre", "fold"
    )
    arm = next(e.path for e in body.edges if e.name == "armhole")
    at = next(mm for mm in range(int(arm.length_mm), 0, -1) if arm.point_at(float(mm))[1] < 700.0)
    corner = arm.point_at(float(at))
    facing = (
        Pen("facing", (0.0, corner[1]))
        .line("lower", corner, "hem")
        .along("side", arm.split(float(at))[1], "hem")
    )
    facing.line("top", (0.0, 760.0)).close("centre", "fold")
    pocket = Pen("pocket", (0.0, 0.0)).line("lower", (240.0, 0.0), "hem").line("right", (240.0, 180.0), "hem")
    pocket.line("top", (0.0, 180.0), "hem").close("left", "hem")
    tie = strip("tie", 900.0, 50.0, ends="hem", lower="hem", upper="hem")
    return garment(
        "apron",
        [body.piece(), facing.piece(), pocket.piece(), tie],
        "facing.top = apron.bib top",
    )


def box_bag() -> Garment:
    """A bag: two panels, and one strip round bottom and sides; a facing at the top of each panel."""
    panel = Pen("panel", (0.0, 0.0)).line("bottom", (360.0, 0.0)).line("right", (360.0, 320.0))
    panel.line("top", (0.0, 320.0)).close("left")
    gusset = Pen("gusset", (0.0, 0.0)).line("end 1", (55.0, 0.0), "hem").line("edge", (55.0, 1000.0))
    gusset.line("end 2", (0.0, 1000.0), "hem").close("middle", "fold")
    facing = strip("facing", 360.0, 60.0, ends="hem", lower="hem")
    return garment(
        "box bag",
        [panel.piece(count=2), gusset.piece(), facing],
        "gusset.edge = panel.left + panel.bottom + panel.right",
        "facing.upper = panel.top",
    )


def hood() -> Garment:
    """A hood of three parts: a side twice, and a strip over the crown."""
    side = Pen("side", (0.0, 0.0)).curve("neck", 8.0, (190.0, -20.0), -14.0).by("face", 6.0, 290.0, "hem")
    crown = curve(side.at, 176.0, (-20.0, 150.0), 266.0, 0.5).joined(
        curve((-20.0, 150.0), 266.0, (0.0, 0.0), 285.0)
    )
    side.along("crown", crown)
    length = side.length("crown")
    middle = Pen("crown strip", (0.0, 0.0)).line("face", (35.0, 0.0), "hem")
    middle.along(
        "side", of_length(lambda y: curve((35.0, 0.0), 88.0, (28.0, y), 92.0), length, length - 30.0, length)
    )
    middle.line("neck", (0.0, middle.at[1])).close("centre", "fold")
    cape = Pen("cape", (0.0, 0.0)).curve("hem", 0.0, (330.0, 180.0), 62.0, "hem")
    half = side.length("neck") + middle.length("neck")
    cape.line("front edge", (200.0, 250.0), "opening")
    cape.along(
        "neck",
        of_length(
            lambda d: curve(cape.at, 240.0 - d, (0.0, 180.0), 180.0, 0.42 + d / 100), half, -20.0, 60.0
        ),
    )
    cape.close("centre", "fold")
    return garment(
        "hood with cape",
        [side.piece(pairs=True), middle.piece(), cape.piece()],
        "side.crown = crown strip.side",
        "cape.neck = side.neck~ + crown strip.neck",
    )
