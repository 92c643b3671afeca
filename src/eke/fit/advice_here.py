"""The adviser on a pattern: what the mock-up showed at a place, to remedies that are possible there, as changes.

Each remedy of the table (:mod:`eke.fit.remedies`) is worked out at the place by its *way*, tried on the pattern, and
told with what it means; mixtures are made where easing alone is too much for the cloth. Nothing is applied.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

from eke.errors import BadInput
from eke.fit import advice_seams, advice_ways, advice_whole
from eke.fit.advice_draft import LEAST_MM, Draft, Kinds, NotHere, Offer, tried
from eke.fit.advice_place import Here, about, drawn_whole, here_at
from eke.fit.advice_ways import Case
from eke.fit.adviser import STAY_PERCENT, advise, mixture, showing
from eke.fit.showing import COMMON, Showing
from eke.pattern.model import EdgePlace, Pattern
from eke.units import format_mm

MOST_OFFERS: Final = 9
"""More remedies than this nobody weighs; the last ones are left out."""
MIXED: Final = 0.5
"""A mixture stands right behind the remedy that takes its greater part."""

Made = Iterator[Draft | NotHere]
WAYS: Final[Mapping[str, Callable[[Case], Made]]] = {
    "into-dart": advice_ways.into_dart,
    "to-armhole": advice_ways.to_armhole,
    "to-hem": advice_ways.to_hem,
    "level": advice_ways.level,
    "fit.add_dart": advice_ways.new_dart,
    "seam-level": advice_seams.level,
    "seam-top": advice_seams.from_top,
    "seam-here": advice_seams.at_place,
    "seam-below": advice_seams.at_place_and_below,
    "seam-one": advice_seams.at_place_alone,
    "hem": advice_whole.hem,
    "top": advice_whole.top,
    "fit.shoulder_slope": advice_whole.shoulder_slope,
    "fit.bust": advice_whole.bust,
    "fit.flare": advice_whole.flare,
    "fit.dart_intake": advice_whole.dart_intake,
    "fit.lengthen": advice_whole.lengthen,
    "fit.broaden": advice_whole.broaden,
    "fit.sleeve_cap": advice_whole.sleeve_cap,
    "fit.move_seam": advice_whole.move_seam,
    "fit.opening": advice_whole.opening,
}
"""How each remedy is worked out: by its way, or where it has none by its kind of change."""


@dataclass(frozen=True, slots=True)
class AdviceHere:
    """What can be done about a showing at a place, the most sensible first, and what cannot with the reason.

    ``seen`` is the showing with its amount in words, to keep with the step. ``amount_mm`` is what it means for this
    piece.
    """

    showing: Showing
    piece: str
    edge: str
    seen: str
    means: str
    amount_mm: float
    offers: tuple[Offer, ...]
    not_here: tuple[NotHere, ...]


def advise_here(
    pattern: Pattern,
    kinds: Kinds,
    code: str,
    place: EdgePlace,
    pinned_mm: float,
    *,
    whole: bool = True,
    cloth: str = "cotton",
) -> AdviceHere:
    """Return what can be done about what the mock-up showed at a place of the pattern.

    Parameters
    ----------
    kinds
        The kinds of fit change by name: each remedy is tried by its kind before it is offered.
    pinned_mm
        What was pinned out there, or is missing: always above 0, in all on the body or (not ``whole``) on one half.

    Raises
    ------
    NotFound
        When there is no such showing, or no such edge.
    BadInput
        When the amount is nothing or too much, the cloth is not known, or the place is the leg of a dart.
    """
    found = showing(code)
    if cloth not in STAY_PERCENT:
        raise BadInput(f"It is known how much {' and '.join(STAY_PERCENT)} can be eased, not “{cloth}”.")
    here = here_at(pattern, place)
    advice = advise(code, pinned_mm, whole=whole, over_mm=here.edge.path.length_mm, cloth=cloth)
    order = {id(remedy): float(k) for k, remedy in enumerate(found.remedies)}
    seen = f"{found.words}, {format_mm(pinned_mm)} on {'the whole body' if whole else 'one half'}"
    offers: list[Offer] = []
    missing: list[NotHere] = []
    eased: list[Case] = []
    drafts: list[Draft] = []
    for one in advice:
        case = Case(here, one.remedy, one, cloth)
        at = order[id(one.remedy)]
        if one.kind == "":
            sewn = _sewn(case)
            # what puckers is no mild remedy, and is weighed last
            offers.append(replace(sewn, order=at if sewn.sensible else at + len(order)))
            eased += [case] if one.remedy.way == "stay" else []
            continue
        for made in WAYS[one.remedy.way or one.remedy.kind](case):
            if isinstance(made, NotHere):
                missing.append(made)
            else:
                drafts.append(replace(made, watch=one.remedy.watch, source=one.remedy.source, order=at))
    for case in eased:
        drafts += _mixtures(case, drafts)
    for draft in drafts:
        told = tried(pattern, kinds, draft)
        if isinstance(told, NotHere):
            missing.append(told)
        else:
            offers.append(told)
    ranked = sorted(offers, key=lambda o: (not o.sensible, o.order))[:MOST_OFFERS]
    lengths = found.remedies[0].length
    amount = pinned_mm if lengths else (pinned_mm / 2.0 if whole else pinned_mm) * here.share
    return AdviceHere(
        found,
        here.piece.id,
        here.edge.id,
        seen,
        f"{format_mm(pinned_mm)} at this place." if lengths else _halves(here, amount, pinned_mm, whole),
        round(amount, 2),
        tuple(replace(o, note=f"{seen}: {_note(o)}") for o in ranked),
        _once(missing),
    )


def _sewn(case: Case) -> Offer:
    """What is done in sewing: a stay to ease onto, or a pad; the pattern stays."""
    here, amount, remedy = case.here, case.amount_mm, case.remedy
    if remedy.way == "pad":
        return Offer(
            f"A shoulder pad {format_mm(amount)} thick",
            "",
            {},
            0.0,
            0.0,
            ("The pattern stays as it is.",),
            case.advice.sensible,
            case.reason or "It fills what the shoulder lacks, and nothing is cut anew.",
            remedy.watch,
            remedy.source,
        )
    length = here.edge.path.length_mm
    return Offer(
        f"Ease the {here.words} of “{here.piece.name}” onto a stay {format_mm(amount)} shorter",
        "",
        {},
        0.0,
        amount,
        (f"Cut the stay {format_mm(max(length - amount, 0.0))} long for the {about(length)} of the edge.",),
        _eases(case),
        _stay_reason(case),
        remedy.watch,
        remedy.source,
    )


def _takes(case: Case) -> float:
    """How many mm of an edge can be eased: what the cloth takes of it, and no more than is ever sensible."""
    of_cloth = STAY_PERCENT[case.cloth] * case.here.edge.path.length_mm / 100.0
    most = case.remedy.most_mm
    return of_cloth if most is None else min(of_cloth, case.remedy.factor * most)


def _eases(case: Case) -> bool:
    return case.amount_mm <= _takes(case) + 1e-9


def _stay_reason(case: Case) -> str:
    amount, length = case.amount_mm, case.here.edge.path.length_mm
    takes = f"{case.cloth} takes {STAY_PERCENT[case.cloth]:g} %"
    told = f"{format_mm(amount)} over {about(length)} are {_percent(amount, length)}; {takes}"
    if 100.0 * amount > STAY_PERCENT[case.cloth] * length:
        return f"{told}, more puckers."
    if not _eases(case):
        return f"{told}, but more than {format_mm(_takes(case))} at one edge is better taken out."
    return f"{told}."


def _percent(amount: float, length: float) -> str:
    return f"{100.0 * amount / length:.1f} %"


def eased_in_a_mixture(case: Case) -> float:
    """Return how much of an amount is eased where a seam or a dart takes the rest: whole mm, as the cloth takes them."""
    return float(math.floor(min(_takes(case), case.amount_mm - LEAST_MM) + 1e-9))


def _mixtures(case: Case, drafts: Iterable[Draft]) -> list[Draft]:
    """Where the cloth does not take it all: what it takes eased, the rest by the first seam and by the first dart."""
    amount, length = case.amount_mm, case.here.edge.path.length_mm
    eased = eased_in_a_mixture(case)
    if _eases(case) or eased < LEAST_MM:
        return []
    rest, eased, percent = mixture(amount, eased, length, case.cloth)
    rest = round(rest, 2)
    made: dict[str, Draft] = {}
    for draft in drafts:
        way = "dart" if "dart" in draft.build(amount).get("to", {}) else draft.kind
        if way not in ("dart", "fit.take_in") or way in made or draft.amount_mm != amount:
            continue
        made[way] = replace(
            draft,
            does=f"{draft.does}: {format_mm(rest)}, and ease {format_mm(eased)} onto a stay",
            amount_mm=rest,
            eased_mm=eased,
            reason=f"{format_mm(amount)} are {format_mm(rest)} there and {format_mm(eased)} eased; {format_mm(eased)} over "
            f"{about(length)} are {percent:.1f} %, and {case.cloth} takes {STAY_PERCENT[case.cloth]:g} %.",
            source=COMMON,
            order=draft.order + MIXED,
        )
    return list(made.values())


def _halves(here: Here, on_piece: float, pinned: float, whole: bool) -> str:
    """What the amount means for this piece, in words."""
    amount = format_mm(on_piece)
    if here.share == 2.0:
        return f"“{here.piece.name}” is drawn whole, and the place is at its middle: {amount} in all there."
    other = (
        f" “{here.piece.name}” is drawn whole: do the same on its other side." if drawn_whole(here) else ""
    )
    if not whole:
        return f"{amount} at this place.{other}"
    return f"{format_mm(pinned)} on the whole body: {amount} on each half.{other}"


def _note(offer: Offer) -> str:
    """How much went which way, for the history."""
    parts = []
    if offer.amount_mm:
        parts.append(f"{format_mm(offer.amount_mm)} here")
    if offer.eased_mm:
        parts.append(f"{format_mm(offer.eased_mm)} eased onto a stay")
    return ", ".join(parts) or offer.does


def _once(missing: Iterable[NotHere]) -> tuple[NotHere, ...]:
    return tuple(dict.fromkeys(missing))
