"""A bodice with a sleeve, drafted by the rules of textbooks, is walked with the ease that textbooks say.

The bodice follows the close-fitting block of W. Aldrich, *Metric Pattern Cutting for Women's Wear*, for a bust of 88 cm;
the sleeve the rule of the Bunka school for a one-piece sleeve: cap a third of the armhole high, its slopes as long as the
front armhole, and as the back armhole and 10 mm. Both from memory, without the books at hand, so single numbers may
differ from what is printed. The ease of a set-in cap, 25 to 38 mm, is what teaching pages that quote textbooks say.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from bench.pattern.drafting import Pen, garment

from eke.fit.named.sleeve_cap import fit_cap
from eke.geometry import Path, Pt
from eke.pattern.checking import check_seam
from eke.pattern.measure import run_length_mm
from eke.pattern.model import Pattern, Seam, SeamId

BUST, NAPE_TO_WAIST, ARMHOLE_DEPTH, NECK = 880.0, 410.0, 210.0, 370.0
SHOULDER, BACK_WIDTH, DART, CHEST = 122.5, 344.0, 70.0, 324.0
SHOULDER_EASE = 10.0  # the back shoulder is eased, or has a dart of this
CAP_EASE_MM = (25.0, 38.0)

CENTRE_FRONT = BUST / 2.0 + 50.0
UNDERARM = -(15.0 + ARMHOLE_DEPTH + 5.0)
WAIST = -(15.0 + NAPE_TO_WAIST)
BACK_X = BACK_WIDTH / 2.0 + 5.0
CHEST_X = CENTRE_FRONT - (CHEST + DART) / 2.0
SIDE_X = (BACK_X + CHEST_X) / 2.0


def along_shoulder(neck: Pt, length: float, drop: float) -> float:
    """How far across a shoulder of that length reaches, ending ``drop`` below its start."""
    return math.sqrt(length**2 - (drop - neck[1]) ** 2)


def smooth(*points: Pt) -> Path:
    return Path.from_points(points)


def back() -> Pen:
    neck = (NECK / 5.0 - 2.0, 0.0)
    drop = 15.0 + ARMHOLE_DEPTH / 5.0 - 7.0
    tip = (neck[0] + along_shoulder(neck, SHOULDER + SHOULDER_EASE, drop), -drop)
    corner = 25.0 / math.sqrt(2.0)
    pen = Pen("back", (0.0, WAIST)).line("waist", (SIDE_X, WAIST)).line("side", (SIDE_X, UNDERARM))
    hollow = (BACK_X + corner, UNDERARM + corner)
    pen.along("armhole", smooth((SIDE_X, UNDERARM), hollow, (BACK_X, (UNDERARM - 50.0) / 2.0), tip))
    return (
        pen.line("shoulder", neck)
        .curve("neck", 200.0, (0.0, -15.0), 180.0, "opening")
        .close("centre", "fold")
    )


def front() -> Pen:
    neck = (CENTRE_FRONT - (NECK / 5.0 - 7.0), 0.0)
    beyond = (neck[0] - DART, 0.0)
    drop = 15.0 + ARMHOLE_DEPTH / 5.0 - 7.0 + 15.0
    tip = (beyond[0] - along_shoulder(beyond, SHOULDER, drop), -drop)
    depth = NECK / 5.0 - 2.0
    bust = (CENTRE_FRONT - (CENTRE_FRONT - CHEST_X) / 2.0, UNDERARM - 25.0)
    corner = 20.0 / math.sqrt(2.0)
    pen = Pen("front", (SIDE_X, WAIST)).line("waist", (CENTRE_FRONT, WAIST))
    pen.line("centre", (CENTRE_FRONT, -depth), "fold").curve("neck", 180.0, neck, 100.0, "opening")
    pen.dart("dart", beyond, bust).line("shoulder", tip)
    third = (CHEST_X, UNDERARM + (-depth - UNDERARM) / 3.0)
    hollow = (CHEST_X - corner, UNDERARM + corner)
    pen.along("armhole", smooth(tip, third, hollow, (SIDE_X, UNDERARM)))
    return pen.close("side")


def sleeve(front_mm: float, back_mm: float) -> Pen:
    high = (front_mm + back_mm) / 3.0
    one, two = math.sqrt(front_mm**2 - high**2), math.sqrt((back_mm + 10.0) ** 2 - high**2)
    top = np.array([0.0, high])

    def off(end: Pt, share: float, out: float) -> Pt:
        """A place so far down a slope, and so many mm outside it."""
        d = np.array(end) - top
        n = np.array([-d[1], d[0]]) * math.copysign(1.0, end[0]) / np.hypot(*d)
        x, y = top + share * d + out * n
        return float(x), float(y)

    fore, rear = (one, 0.0), (-two, 0.0)
    cap = smooth(
        fore, off(fore, 0.75, -13.0), off(fore, 0.55, 0.0), off(fore, 0.25, 18.0), (0.0, high),
        off(rear, 0.25, 16.0), off(rear, 0.6, 3.0), off(rear, 0.8, -5.0), rear,
    )  # fmt: skip
    pen = Pen("sleeve", (-two, -400.0)).line("hem", (one, -400.0), "hem").line("underarm 1", fore)
    return pen.along("cap", cap).close("underarm 2")


@pytest.fixture(scope="module")
def drafted() -> Pattern:
    one, two = front(), back()
    arm = sleeve(one.length("armhole"), two.length("armhole"))
    made = garment(
        "bodice",
        [one.piece(), two.piece(), arm.piece(pairs=True)],
        "front.side = back.side~",
        "back.shoulder = front.shoulder~",
        "sleeve.underarm 1 = sleeve.underarm 2~",
        "sleeve.cap = front.armhole~ + back.armhole~",
    )
    pattern = made.pattern
    eases = (0.0, SHOULDER_EASE, 0.0, 0.0)
    for k, (sewn, ease) in enumerate(zip(made.sewn, eases, strict=True)):
        pattern = pattern.with_seam(Seam(SeamId(f"s{k}"), sewn.a, sewn.b, ease_mm=ease))
    return pattern


def longer_mm(pattern: Pattern, seam: str) -> float:
    """How much longer the first side of a seam is, walked along both."""
    one = pattern.seam(seam)
    return run_length_mm(pattern, one.a) - run_length_mm(pattern, one.b)


def length_faults(pattern: Pattern, seam: str) -> list[str]:
    return [f.code for f in check_seam(pattern, seam) if f.code.startswith(("seam-length", "seam-ease"))]


def test_sides_shoulders_and_underarm_walk_as_drafted(drafted: Pattern) -> None:
    for seam, difference in (("s0", 0.0), ("s1", SHOULDER_EASE), ("s2", 0.0)):
        assert longer_mm(drafted, seam) == pytest.approx(difference, abs=0.3)
        assert length_faults(drafted, seam) == []


def test_the_cap_has_the_ease_of_the_textbooks(drafted: Pattern) -> None:
    eased = longer_mm(drafted, "s3")
    assert CAP_EASE_MM[0] <= eased <= CAP_EASE_MM[1], eased
    assert length_faults(drafted, "s3"), "without ease said it is a fault"
    said = drafted.with_seam(replace(drafted.seam("s3"), ease_mm=round(eased)))
    assert length_faults(said, "s3") == []


@pytest.mark.parametrize("ease_mm", [25.0, 32.0, 38.0])
def test_trued_to_an_ease_it_walks_with_that_ease(drafted: Pattern, ease_mm: float) -> None:
    trued = fit_cap(drafted, "s3", "a", ease_mm, "both")
    assert longer_mm(trued, "s3") == pytest.approx(ease_mm, abs=0.3)
    assert longer_mm(trued, "s2") == pytest.approx(0.0, abs=0.3), "the underarm still fits"
    said = trued.with_seam(replace(trued.seam("s3"), ease_mm=ease_mm))
    assert length_faults(said, "s3") == []
