"""Sleeve caps that lie on two pieces, and caps that are gathered: compared as they are sewn."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest

from eke.errors import BadInput
from eke.pattern.gathers import sewn_length_mm
from eke.pattern.model import EdgeId, Gather, Pattern, Seam, SeamId
from fit.bodies import bodice, do, length

sys.path.insert(0, str(Path(__file__).parents[2]))

from bench.pattern.tops import jacket

RATIO = 1.5


def sewn_jacket() -> tuple[Pattern, Seam]:
    garment = jacket()
    made = garment.pattern
    for number, one in enumerate(garment.sewn):
        made = made.with_seam(Seam(SeamId(f"s{number}"), one.a, one.b, b_mirrored=one.b_mirrored))
    caps = next(s for s in made.seams.values() if s.a[0].edge == "upper sleeve.cap")
    return made, caps


def sewn_mm(pattern: Pattern, run) -> float:
    return sum(sewn_length_mm(*pattern.edge(part.edge)) for part in run)


def ease(pattern: Pattern, seam: Seam) -> float:
    return sewn_mm(pattern, seam.a) - sewn_mm(pattern, seam.b)


@pytest.mark.parametrize("amounts", [{"girth_mm": -40.0}, {"armhole_mm": 8.0}, {"underarm_mm": 5.0}])
def test_the_cap_of_a_sleeve_in_two_parts_follows_its_armhole(amounts: dict[str, float]) -> None:
    before, seam = sewn_jacket()
    after = do(before, "fit.resize", **amounts)
    assert abs(sewn_mm(after, seam.b) - sewn_mm(before, seam.b)) > 3.0
    assert ease(after, seam) == pytest.approx(ease(before, seam), abs=1e-6)
    # both seams of the sleeve still match
    for name in ("elbow seam", "front seam"):
        upper, under = (length(after, f"{part} sleeve.{name}") for part in ("upper", "under"))
        assert upper == pytest.approx(under, abs=0.5), name


def test_the_change_is_split_over_both_by_their_lengths() -> None:
    before, seam = sewn_jacket()
    now = ease(before, seam)
    after = do(before, "fit.sleeve_cap", seam=seam.id, ease_mm=now + 20.0)
    assert ease(after, seam) == pytest.approx(now + 20.0, abs=1e-6)
    grown = {
        part: length(after, f"{part} sleeve.cap") - length(before, f"{part} sleeve.cap")
        for part in ("upper", "under")
    }
    share = {part: mm / length(before, f"{part} sleeve.cap") for part, mm in grown.items()}
    assert grown["upper"] > 2.0 * grown["under"] > 0.0
    assert share["upper"] == pytest.approx(share["under"], rel=0.35)


def gathered(ratio: float | None) -> Pattern:
    """The bodice with the front half of its cap gathered all along."""
    made = bodice()
    sleeve = made.piece("sleeve")
    edge = EdgeId("sleeve-cap-a")
    return made.with_piece(replace(sleeve, gathers=(Gather("g", edge, "gathered", ratio=ratio),)))


def test_a_gathered_cap_is_compared_drawn_up() -> None:
    before = gathered(RATIO)
    seam = before.seam("armhole")
    after = do(before, "fit.sleeve_cap", seam="armhole", ease_mm=4.0)
    assert ease(after, seam) == pytest.approx(4.0, abs=1e-6)
    drawn = length(after, "sleeve-cap-a") / RATIO + length(after, "sleeve-cap-b")
    assert sewn_mm(after, seam.a) == pytest.approx(drawn, abs=1e-9)
    # without the gathers the same ease would make a cap that is shorter by the fullness
    flat = do(bodice(), "fit.sleeve_cap", seam="armhole", ease_mm=4.0)
    assert length(after, "sleeve-cap-a") > length(flat, "sleeve-cap-a") + 20.0


def test_larger_keeps_what_a_gathered_cap_is_longer_drawn_up() -> None:
    before = gathered(RATIO)
    seam = before.seam("armhole")
    after = do(before, "fit.resize", girth_mm=40.0)
    assert ease(after, seam) == pytest.approx(ease(before, seam), abs=0.06)


def test_a_cap_that_is_gathered_to_fit_is_not_made_smaller_unasked() -> None:
    before = gathered(None)
    with pytest.raises(BadInput, match="so it fits already"):
        do(before, "fit.sleeve_cap", seam="armhole")
    after = do(before, "fit.sleeve_cap", seam="armhole", ease_mm=60.0)
    assert ease(after, before.seam("armhole")) == pytest.approx(60.0, abs=1e-6)
