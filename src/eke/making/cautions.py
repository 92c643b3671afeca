"""Cautions: what to mind for safety, from the garment, its wearer, its buttons and its cloth.

They are the usual cautions with the edition that they were read in. They are no legal advice, and each one
on rules says so: check the rules where you live.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from eke.cloth import Cloth, advice_for
from eke.making.facts import Facts
from eke.pattern.model import Pattern

CHECK: Final = "Check the rules where you live."
SMALL_PART_ACROSS_MM: Final = 31.7
"""Small parts cylinder, 1.25 in across, 1.00 to 2.25 in deep (16 CFR 1501; EN 71-1)."""
SMALL_PARTS_TO_YEARS: Final = 3
US_WAIST_END_MM: Final = 75
"""3 in outside the channel (ASTM F1816; 16 CFR 1120)."""
EU_WAIST_END_MM: Final = 140
"""EN 14682, figures of the 2007 edition."""
EU_NECK_LOOP_MM: Final = 150
UK_CHEST_MM: Final = 440
"""44 cm across the chest, laid flat (UK regulations of 1976, from a council's page)."""
UK_NIGHTDRESS_MM: Final = (910, 1220)
UK_GOWN_MM: Final = (970, 690)
UK_BABY_CHEST_MM: Final = 530
NIGHTWEAR_TO_YEARS: Final = 14


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: what it is about, the sentence, and the source with its edition."""

    topic: str
    sentence: str
    source: str


def is_small_part(diameter_mm: float) -> bool:
    """Whether a button fits into the small parts cylinder, so that a child under three could choke on it.

    A disc can only be put in so far that its full diameter lies across the cylinder: turning it does not help,
    and every ordinary button is thinner than the cylinder is deep.
    """
    return diameter_mm <= SMALL_PART_ACROSS_MM


def cautions_for(pattern: Pattern, facts: Facts, cloths: Sequence[Cloth] = ()) -> tuple[Caution, ...]:
    """Return the cautions that apply, the wearer's first, then cloth and tools."""
    return (*_cords(facts), *_small_parts(pattern, facts), *_nightwear(facts), *_found(cloths), *_tools())


def _cords(facts: Facts) -> tuple[Caution, ...]:
    age = facts.wearer_age_years
    if age is None or not facts.is_for_a_child:
        return ()
    found = []
    if age < 7:
        neck = "For a child under seven (about 134 cm) there must be no cord, tie or drawstring at hood or neck at all"
    else:
        neck = (
            "For a child of seven to fourteen, cords at hood or neck must have no free ends; a fixed loop there is at most "
            f"{EU_NECK_LOOP_MM} mm round when worn and does not stand out when the garment lies flat"
        )
    found.append(
        Caution(
            "cords at the neck",
            f"{neck}. In the United States no drawstring belongs at hood or neck of children's outerwear (sizes 2T to 12). "
            f"Straps that button or are sewn at both ends are safer than ties. {CHECK}",
            "EN 14682 (figures of the 2007 edition; a 2014 edition is in force); ASTM F1816, 16 CFR 1120",
        )
    )
    if any(cord in ("waist", "hem", "ankle") for cord in facts.cords):
        found.append(
            Caution(
                "cords at waist and hem",
                f"At the waist each end of a cord is at most {EU_WAIST_END_MM} mm long when the garment is widest (in the "
                f"United States {US_WAIST_END_MM} mm, without knots or toggles at the ends); sew it down in the middle of "
                "its channel. Nothing hangs below a hem that lies below the crotch, and at the ankles cords stay inside. "
                f"{CHECK}",
                "EN 14682 (2007 edition); ASTM F1816",
            )
        )
    if any(cord in ("hood", "neck") for cord in facts.cords):
        found.append(
            Caution(
                "this garment has a cord at hood or neck",
                f"You named a cord at {' and '.join(c for c in facts.cords if c in ('hood', 'neck'))}. Use a button, a "
                f"fastening tape that opens by itself, or elastic instead. {CHECK}",
                "EN 14682; ASTM F1816; for coats up to 44 cm across the chest also the UK regulations of 1976",
            )
        )
    if "back" in facts.cords:
        found.append(
            Caution("cord at the back", f"Children's garments have no cords that come out or tie at the back. {CHECK}",
                    "EN 14682 (2007 edition)")
        )  # fmt: skip
    return tuple(found)


def _small_parts(pattern: Pattern, facts: Facts) -> tuple[Caution, ...]:
    if not facts.is_for_a_child:
        return ()
    has_buttons = bool(facts.buttons) or any(
        mark.kind == "button" for piece in pattern.pieces.values() for mark in piece.marks
    )
    if not has_buttons:
        return ()
    sizes = [button.diameter_mm for button in facts.buttons]
    small = not sizes or any(is_small_part(size) for size in sizes)
    young = facts.wearer_age_years is not None and facts.wearer_age_years < SMALL_PARTS_TO_YEARS
    if young and small:
        return (
            Caution(
                "small parts",
                f"The wearer is under {SMALL_PARTS_TO_YEARS}: a button of {SMALL_PART_ACROSS_MM:g} mm or less can choke a "
                f"child. Use tapes or sewn-in elastic, or larger fastenings. {CHECK}",
                "16 CFR 1501; EN 71-1",
            ),
        )
    return (
        Caution(
            "buttons",
            "Sew each button on with a doubled thread, several times through, with a small backing button or a scrap of cloth "
            "behind it, pull hard at it, and look at it again after each wash. Keep it from children under "
            f"{SMALL_PARTS_TO_YEARS}: buttons are small parts. {CHECK}",
            "16 CFR 1501; EN 71-1; common practice",
        ),
    )


def _nightwear(facts: Facts) -> tuple[Caution, ...]:
    if not facts.nightwear or facts.wearer_age_years is None or facts.wearer_age_years >= NIGHTWEAR_TO_YEARS:
        return ()
    return (
        Caution(
            "nightwear burns",
            "Loose nightwear of cotton catches fire quickly. Children's nightdresses and dressing gowns have rules on how "
            "fast the cloth may burn (in the United Kingdom up to 91 cm chest or 122 cm length for nightdresses, 97 cm "
            "chest or 69 cm sleeve for gowns; in the United States sizes to 14 unless close-fitting). Make close-fitting "
            f"pyjamas, and keep them from open fire and heaters. {CHECK}",
            "UK SI 1985/2043; US 16 CFR 1615 and 1616; EN 14878",
        ),
    )


def _found(cloths: Sequence[Cloth]) -> tuple[Caution, ...]:
    return tuple(
        Caution(f"cloth: {advice.topic}", advice.sentence, advice.source)
        for cloth in cloths
        for advice in advice_for(cloth)
        if advice.topic in ("hygiene", "looking it over")
    )


def _tools() -> tuple[Caution, ...]:
    return (
        Caution(
            "blades",
            "Close the blade of a rotary cutter each time you put it down, cut away from yourself, and keep fingers off the "
            "edge of the ruler. Put shears where no child reaches them.",
            "common practice",
        ),
        Caution(
            "iron",
            "Stand the iron on its heel, keep its cord out of the way, keep hands out of the steam, and unplug it when you "
            "leave.",
            "common practice",
        ),
        Caution(
            "pins and needles",
            "Take pins out before the needle reaches them, count them back into the box, and find every part of a broken "
            "needle before the garment is worn.",
            "common practice",
        ),
    )
