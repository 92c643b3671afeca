"""Pieces that many garments share, drafted by plain geometry: halves of a bodice, sleeves, strips."""

from __future__ import annotations

import math
from typing import Literal

from eke.geometry import Path
from eke.pattern.model import EdgeKind, Piece

from .drafting import Pen, curve, of_length

Centre = Literal["fold", "opening", "seam"]
SLOPE_DEG = -20.0


def half_top(
    name: str,
    *,
    quarter: float = 240.0,
    hem: float | None = None,
    length: float = 430.0,
    underarm: float = 220.0,
    neck: float = 70.0,
    drop: float = 110.0,
    shoulder: float = 120.0,
    centre: Centre = "fold",
    v_neck: bool = False,
    extension: float = 0.0,
    hem_kind: EdgeKind = "hem",
    neck_kind: EdgeKind = "seam",
    notch: int = 0,
) -> Pen:
    """Half a bodice, its centre at the left: hem, side, armhole, shoulder, neck, centre, counter-clockwise.

    ``quarter`` is the width at the underarm, ``neck`` half the width of the neck, ``drop`` its depth.
    ``neck_kind`` is an opening where nothing is sewn to the neck.
    """
    hem = quarter if hem is None else hem
    pen = Pen(name, (-extension, 0.0))
    pen.line("hem", (hem, 0.0), hem_kind)
    pen.line("side", (quarter, underarm))
    s = math.radians(SLOPE_DEG)
    tip = (neck + shoulder * math.cos(s), length + shoulder * math.sin(s))
    # square to the shoulder at the tip, level at the underarm: fronts are hollower than backs
    pen.curve("armhole", 180.0, tip, SLOPE_DEG + 90.0, "seam", 0.42 if drop > 80.0 else 0.36)
    pen.line("shoulder", (neck, length))
    if v_neck:
        pen.line("neck", (-extension, length - drop), neck_kind)
    else:
        round_neck = curve(pen.at, SLOPE_DEG - 90.0, (0.0, length - drop), 180.0)
        if extension:
            round_neck = round_neck.joined(Path.line(round_neck.end, (-extension, round_neck.end[1])))
        pen.along("neck", round_neck, neck_kind)
    pen.close("centre", "fold" if centre == "fold" else "opening" if centre == "opening" else "seam")
    if notch:
        pen.notch("armhole", 90.0, notch).notch("side", 80.0)
    return pen


def sleeve(
    name: str,
    cap_mm: float,
    *,
    biceps: float = 330.0,
    wrist: float = 240.0,
    length: float = 420.0,
    hem_kind: EdgeKind = "hem",
    notches: bool = False,
) -> Pen:
    """A whole sleeve: hem, underarm 1 (front), cap (from front to back), underarm 2."""
    inset = (biceps - wrist) / 2.0

    def cap(height: float) -> Path:
        top = (biceps * 0.48, length + height)
        front = curve((biceps, length), 165.0, top, 180.0, 0.45)
        back = curve(top, 180.0, (0.0, length), 202.0, 0.42)
        return front.joined(back)

    pen = Pen(name, (inset, 0.0))
    pen.line("wrist", (biceps - inset, 0.0), hem_kind)
    pen.line("underarm 1", (biceps, length))
    pen.along("cap", of_length(cap, cap_mm, 10.0, 320.0))
    pen.close("underarm 2")
    if notches:
        pen.notch("cap", 92.0, 1).notch("cap", -92.0, 2)
    return pen


def strip(
    name: str, length: float, depth: float, *, fold: bool = False, ends: EdgeKind = "seam", **kinds: EdgeKind
) -> Piece:
    """A strip that lies level: lower, right, upper, left; ``fold``: a half, its left end on the fold."""
    return (
        Pen(name, (0.0, 0.0))
        .line("lower", (length, 0.0), kinds.get("lower", "seam"))
        .line("right", (length, depth), ends)
        .line("upper", (0.0, depth), kinds.get("upper", "seam"))
        .close("left", "fold" if fold else ends)
        .piece()
    )
