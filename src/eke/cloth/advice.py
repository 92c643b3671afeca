"""Advice for cloth that was found or used before: how to make it fit to bring home and to cut.

References
----------
Bed bugs: Naylor and Boase, *J. Econ. Entomol.* 2010, as passed on by extension services and the US EPA
(60 °C for 30 minutes kills all stages, 40 °C spares most eggs, a hot tumble of 30 minutes kills all, a
freezer at −18 °C needs 4 days). House dust mites: McDonald and Tovey 1992 (none survives 55 °C).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from eke.cloth.cloth import Cloth

KILLS_BY_WASH_DEG: Final = 60
WASH_MINUTES: Final = 30
TUMBLE_MINUTES: Final = 30
FREEZE_DEG: Final = -18
FREEZE_DAYS: Final = 4
MITES_DIE_DEG: Final = 55

Treatment = Literal["wash", "tumble", "freeze", "ask"]


@dataclass(frozen=True, slots=True)
class Advice:
    """One piece of advice: what about (``topic``), the sentence, and where it comes from."""

    topic: str
    sentence: str
    source: str = "common practice"


def treatment(hottest_wash_deg: int | None, tumble_dry: bool | None) -> Treatment:
    """What makes a used cloth safe to bring in: a 60 °C wash if it stands it, else the dryer, else the freezer.

    ``ask`` when neither is known: the maker looks for a label, or tries a corner.
    """
    if hottest_wash_deg is not None and hottest_wash_deg >= KILLS_BY_WASH_DEG:
        return "wash"
    if tumble_dry:
        return "tumble"
    if hottest_wash_deg is not None and tumble_dry is not None:
        return "freeze"
    return "ask"


def kills_mites(wash_deg: int) -> bool:
    """Whether a wash at that temperature kills all house dust mites."""
    return wash_deg >= MITES_DIE_DEG


_SENTENCES: Final[dict[Treatment, str]] = {
    "wash": (
        f"wash it at {KILLS_BY_WASH_DEG} °C for at least {WASH_MINUTES} minutes: that kills bed bugs and their eggs "
        "and dust mites, and does the shrinking too"
    ),
    "tumble": (
        f"dry it hot in a tumble dryer for at least {TUMBLE_MINUTES} minutes (not too full: about 3.5 kg). A wash at "
        "40 °C alone leaves most bed bug eggs alive"
    ),
    "freeze": (
        f"freeze it in a closed bag at {FREEZE_DEG} °C or colder for {FREEZE_DAYS} days, as it stands neither a hot wash "
        "nor a dryer; then wash it as cool as it likes"
    ),
    "ask": (
        f"find out what it stands (a label, or try a corner). If it stands {KILLS_BY_WASH_DEG} °C, wash it so for "
        f"{WASH_MINUTES} minutes; else dry it hot for {TUMBLE_MINUTES} minutes; else freeze it at {FREEZE_DEG} °C for "
        f"{FREEZE_DAYS} days"
    ),
}


def advice_for(cloth: Cloth) -> tuple[Advice, ...]:
    """What to do with a cloth before cutting, in the order in which to do it."""
    found: list[Advice] = []
    if cloth.second_hand and not cloth.washed:
        how = treatment(cloth.hottest_wash_deg, cloth.tumble_dry)
        found.append(
            Advice(
                "hygiene",
                f"“{cloth.name}” was used before. Keep it in a closed bag until you {_SENTENCES[how]}.",
                "Naylor and Boase 2010; McDonald and Tovey 1992",
            )
        )
    if not cloth.washed:
        shrinks = max(cloth.shrink_warp_percent, cloth.shrink_weft_percent)
        amount = f" It is expected to lose {shrinks:g} %; the lay reckons with that." if shrinks > 0 else ""
        found.append(
            Advice(
                "shrinking",
                f"Wash “{cloth.name}” before cutting, the way the garment will be washed.{amount}",
            )
        )
    if cloth.second_hand:
        found.append(
            Advice(
                "looking it over",
                f"Hold “{cloth.name}” against the light and mark thin places, stains and pulled threads as flaws. Feel for "
                "pins, staples and grit before any blade or needle meets it.",
            )
        )
    if cloth.grain_deg is None:
        found.append(
            Advice(
                "grain",
                f"Nobody has said which way the warp of “{cloth.name}” runs. Follow the selvedge, or draw one thread: it "
                "gives less along the warp when pulled. Until then pieces cannot be laid on the grain.",
            )
        )
    else:
        found.append(
            Advice(
                "straightening",
                f"Draw a thread or tear across “{cloth.name}” for a true line. Within 1° of square is fine; up to 3° can be "
                "steamed and pulled straight; beyond that, lay by the warp alone.",
            )
        )
    if cloth.nap == "one-way":
        found.append(
            Advice("nap", f"“{cloth.name}” has a direction: all pieces lie with their tops the same way.")
        )
    if any(cloth.repeat_mm):
        found.append(
            Advice(
                "repeat", f"Match stripes and checks of “{cloth.name}” on the seam line, not on the cut edge."
            )
        )
    return tuple(found)
