"""The lay plan: what lies where, what does not fit, what is left, in words that a maker can act on."""

from __future__ import annotations

import hashlib
import json
import math
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from shapely.geometry import Polygon
from shapely.ops import unary_union

from eke.cloth import Cloth, Rectangle, cloth_to_json, polygons, useful_rectangle, washed
from eke.cutting.check import check_lay
from eke.cutting.door import Gaps, Laid, from_placements
from eke.cutting.piece import CutPiece, fingerprint, total_area_mm2
from eke.errors import BadInput, EkeError
from eke.lay.problem import Answer
from eke.sentences import in_a_row

LAY_PLAN_FORMAT: Final = "eke-lay-plan-1"
NOT_OF_THE_LAY: Final = ("name", "price", "origin", "photos", "fibre", "uncertainty_mm", "weight_gsm", "parent",
                         "second_hand", "hottest_wash_deg", "tumble_dry")  # fmt: skip
"""What may be said of a cloth without making its lay stale."""
NUMBERS: Final = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)
MOST_NAMES: Final = 4
"""A sentence with more names than this is not read to its end; the list has them all."""
WORTH_SAYING_MM: Final = 100.0
"""A leftover narrower than a hand is not spoken of."""


@dataclass(frozen=True, slots=True)
class Missing:
    """So many copies of a piece that did not fit, with their area in mm² together."""

    piece: str
    name: str
    count: int
    area_mm2: float


@dataclass(frozen=True, slots=True)
class Leftover:
    """What is left of a cloth beside the pieces: the most useful rectangle along the grain, and the area."""

    cloth: str
    rectangle: Rectangle | None
    area_mm2: float


@dataclass(frozen=True, slots=True)
class LayPlan:
    """Pieces of one garment's revision on cloths, each in its cloth's own frame.

    ``sentence`` is the verdict. ``use_percent`` is the area of the pieces on a cloth by the area of the
    cloths that were used. ``to_wash`` names cloths that must be washed before the plan holds: their shape
    here is the one expected after it. ``list_print`` and ``cloth_prints`` tell whether the plan is stale.
    ``roles`` and ``stints`` say which cutting list it was made of: for which cloths, and what was given up.
    ``match_stripes``: balance lines were to lie on the same stripe. ``seconds`` is how long it was looked for; 0:
    it was made by hand.
    """

    garment: str
    revision: str
    laid: tuple[Laid, ...]
    missing: tuple[Missing, ...]
    leftovers: tuple[Leftover, ...]
    use_percent: float
    sentence: str
    proof: str | None
    to_wash: tuple[str, ...]
    list_print: str
    cloth_prints: Mapping[str, str]
    gaps: Gaps = field(default_factory=Gaps)
    seed: int = 0
    passes: int = 0
    roles: tuple[str, ...] = ()
    stints: tuple[str, ...] = ()
    match_stripes: bool = False
    seconds: float = field(default=0.0, compare=False)

    @property
    def complete(self) -> bool:
        """Whether every piece is on a cloth."""
        return not self.missing

    @property
    def short_mm2(self) -> float:
        """Area of the pieces that did not fit."""
        return sum(one.area_mm2 for one in self.missing)

    def on(self, cloth_id: str) -> tuple[Laid, ...]:
        """What lies on one cloth."""
        return tuple(one for one in self.laid if one.cloth == cloth_id)


def from_answer(
    answer: Answer,
    pieces: Sequence[CutPiece],
    cloths: Sequence[Cloth],
    *,
    garment: str = "",
    revision: str = "",
    gaps: Gaps | None = None,
    taken: Mapping[str, Sequence[Any]] | None = None,
    match_stripes: bool = False,
) -> LayPlan:
    """Return the lay plan that an answer of the packing means, after an exact check of it.

    All but ``garment`` and ``revision`` are what the problem was made from.

    Raises
    ------
    EkeError
        When the lay does not pass the check; it is not shown to anybody.
    """
    gaps = gaps or Gaps()
    laid = from_placements(answer.placements, pieces, cloths)
    faults = check_lay(laid, pieces, cloths, gaps=gaps, match_stripes=match_stripes)
    if faults:
        raise EkeError(
            f"A lay was found that does not hold, so it is not shown: {faults[0].sentence} Your pattern and cloth are "
            "as they were. Lay again, and please report this.",
            faults=faults,
        )
    plan = plan_of(laid, pieces, cloths, garment=garment, revision=revision, gaps=gaps, taken=taken)
    proof = answer.verdict.proof if plan.missing else None
    return replace(
        plan, proof=proof, seed=answer.seed, passes=answer.passes, match_stripes=match_stripes,
        seconds=round(answer.seconds, 2),
    )  # fmt: skip


def plan_of(
    laid: Sequence[Laid],
    pieces: Sequence[CutPiece],
    cloths: Sequence[Cloth],
    *,
    garment: str = "",
    revision: str = "",
    gaps: Gaps | None = None,
    taken: Mapping[str, Sequence[Any]] | None = None,
) -> LayPlan:
    """Return the plan of what lies where, however it came there. It is not checked here: see :func:`check_lay`."""
    on = Counter(one.piece for one in laid)
    missing = tuple(
        Missing(
            piece.id, piece.name, piece.copies - on[piece.id], piece.area_mm2 * (piece.copies - on[piece.id])
        )
        for piece in pieces
        if on[piece.id] < piece.copies
    )
    ready = [washed(cloth) for cloth in cloths]
    leftovers = tuple(leftover(cloth, laid, (taken or {}).get(cloth.id, ())) for cloth in ready)
    used = [cloth for cloth in ready if any(one.cloth == cloth.id for one in laid)]
    area_used = sum(cloth.usable_area_mm2(least=1) for cloth in used)
    area_laid = sum(Polygon(one.outline).area for one in laid)
    return LayPlan(
        garment=garment,
        revision=revision,
        laid=tuple(laid),
        missing=missing,
        leftovers=leftovers,
        use_percent=100.0 * area_laid / area_used if area_used else 0.0,
        sentence=verdict(pieces, missing, leftovers, cloths, {one.cloth for one in laid}),
        proof=None,
        to_wash=tuple(
            c.id for c in cloths if not c.washed and (c.shrink_warp_percent or c.shrink_weft_percent)
        ),
        list_print=fingerprint(pieces),
        cloth_prints={cloth.id: cloth_print(cloth) for cloth in cloths},
        gaps=gaps or Gaps(),
    )


def leftover(cloth: Cloth, laid: Sequence[Laid], taken: Sequence[Any] = ()) -> Leftover:
    """Return what is left of a cloth: largest sound rectangle along the grain, and area of all that is left."""
    gone = [Polygon(one.outline) for one in laid if one.cloth == cloth.id] + [Polygon(ring) for ring in taken]
    sound = unary_union(list(cloth.usable()))
    rest = polygons(sound.difference(unary_union(gone)) if gone else sound)
    return Leftover(cloth.id, useful_rectangle(rest, cloth.grain_deg), sum(part.area for part in rest))


def verdict(
    pieces: Sequence[CutPiece],
    missing: Sequence[Missing],
    leftovers: Sequence[Leftover],
    cloths: Sequence[Cloth],
    used: Collection[str],
) -> str:
    """The lay in one sentence: what is left when all fits, what is missing when not. ``used``: ids of cloths cut into."""
    if not missing:
        return _all_on(leftovers, {cloth.id: cloth.name for cloth in cloths}, used)
    names = said(_by_name(pieces, missing))
    verb = "does" if len(missing) == 1 and missing[0].count == 1 else "do"
    all_mm2, off_mm2 = total_area_mm2(pieces), sum(one.area_mm2 for one in missing)
    lacking_mm2 = off_mm2 - sum(one.area_mm2 for one in leftovers)
    if lacking_mm2 > 0.0:
        lacking = f"{lacking_mm2 / 1e6:.2f} m²" if lacking_mm2 >= 1e5 else f"{lacking_mm2 / 100:.0f} cm²"
        return f"Too little cloth, by {lacking} at the least: {names} {verb} not fit."
    share = max(1, math.ceil(100.0 * off_mm2 / all_mm2 - 0.5))
    return f"{names[0].upper()}{names[1:]} {verb} not fit: {share} % of what is to be cut."


def _all_on(leftovers: Sequence[Leftover], names: Mapping[str, str], used: Collection[str]) -> str:
    whole = [f"“{name}”" for cloth, name in names.items() if cloth not in used]
    on = f" on “{names[next(iter(used))]}”" if len(used) == 1 and whole else ""
    spared = f" {in_a_row(whole)} {'stays' if len(whole) == 1 else 'stay'} whole." if whole else ""
    best = max(
        (one for one in leftovers if one.rectangle is not None and one.cloth in used),
        key=lambda one: one.rectangle.worth_mm2 if one.rectangle else 0.0,
        default=None,
    )
    rectangle = best.rectangle if best else None
    if best is None or rectangle is None or min(rectangle.width_mm, rectangle.length_mm) < WORTH_SAYING_MM:
        return f"Everything fits{on}, with nothing left worth speaking of.{spared}"
    of = f" of “{names[best.cloth]}”" if len(used) > 1 else ""
    return f"Everything fits{on}, and a piece of {rectangle.words}{of} is left.{spared}"


def _by_name(pieces: Sequence[CutPiece], missing: Sequence[Missing]) -> list[tuple[str, int, int]]:
    """(name, how many do not fit, of how many), a pair taken together, the largest area first."""
    short: dict[str, int] = {}
    area: dict[str, float] = {}
    for one in missing:
        name = _plain_name(one.name)
        short[name] = short.get(name, 0) + one.count
        area[name] = area.get(name, 0.0) + one.area_mm2
    copies: dict[str, int] = {}
    for piece in pieces:
        copies[_plain_name(piece.name)] = copies.get(_plain_name(piece.name), 0) + piece.copies
    return [(name, short[name], copies[name]) for name in sorted(short, key=lambda n: -area[n])]


def _plain_name(name: str) -> str:
    return name.removesuffix(", mirrored").removesuffix(", as drawn")


def said(missing: Sequence[tuple[str, int, int]]) -> str:
    """Pieces in words, from (name, how many, of how many): ``the pocket facing and one of two backs``."""
    words = []
    for name, count, copies in missing:
        number = NUMBERS[count] if count < len(NUMBERS) else str(count)
        if copies == 1:
            words.append(f"“{name}”")
        elif count == copies:
            words.append(f"all {number} of “{name}”" if copies > 2 else f"both of “{name}”")
        else:
            words.append(f"{number} of “{name}”")
    if len(words) > MOST_NAMES + 1:
        words = [*words[:MOST_NAMES], f"{len(words) - MOST_NAMES} more"]
    return in_a_row(words)


def stale(
    plan: LayPlan, pieces: Sequence[CutPiece], cloths: Sequence[Cloth], *, revision: str | None = None
) -> tuple[str, ...]:
    """Why a plan no longer holds, in sentences; empty while it does.

    A new revision alone does not make it stale: a change that left every cut line as it was does not touch
    the lay.
    """
    reasons = []
    if fingerprint(pieces) != plan.list_print:
        when = f" (now at {revision})" if revision and revision != plan.revision else ""
        reasons.append(f"The pieces have changed since this lay was made{when}. Lay again.")
    there = {cloth.id: cloth for cloth in cloths}
    for id_, print_ in plan.cloth_prints.items():
        if id_ not in there:
            reasons.append(f"The cloth “{id_}” is not there any more. Lay again.")
        elif cloth_print(there[id_]) != print_:
            reasons.append(f"“{there[id_].name}” has changed since this lay was made. Lay again.")
    return tuple(reasons)


def cloth_print(cloth: Cloth) -> str:
    """A short word that changes when anything of a cloth changes that a lay depends on.

    A cloth that is still to be washed has the word of what it will be after that.
    """
    facts = {key: value for key, value in cloth_to_json(washed(cloth)).items() if key not in NOT_OF_THE_LAY}
    for shrink in ("shrink_warp_percent", "shrink_weft_percent"):
        facts.pop(shrink, None)
    return hashlib.sha256(json.dumps(_rounded(facts), sort_keys=True).encode()).hexdigest()[:16]


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return round(value, 3)
    if isinstance(value, Mapping):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(item) for item in value]
    return value


def cut_params(plan: LayPlan) -> dict[str, Any]:
    """The plan as the params of the workroom's change ``cut.confirm``."""
    return {
        "garment": plan.garment,
        "revision": plan.revision,
        "placements": [
            {
                "piece": one.piece,
                "name": one.name,
                "cloth": one.cloth,
                "outline": [list(p) for p in one.outline],
            }
            for one in plan.laid
        ],
    }


def plan_to_json(plan: LayPlan) -> dict[str, Any]:
    """The plan as plain values, for a file or the app."""
    return {
        "format": LAY_PLAN_FORMAT,
        "garment": plan.garment,
        "revision": plan.revision,
        "complete": plan.complete,
        "sentence": plan.sentence,
        "proof": plan.proof,
        "use_percent": plan.use_percent,
        "laid": [
            {
                "piece": one.piece,
                "name": one.name,
                "cloth": one.cloth,
                "turn_deg": one.turn_deg,
                "x_mm": one.x_mm,
                "y_mm": one.y_mm,
                "mirrored": one.mirrored,
                "outline": [list(p) for p in one.outline],
                "copy": one.copy,
                "locked": one.locked,
            }
            for one in plan.laid
        ],
        "missing": [
            {"piece": m.piece, "name": m.name, "count": m.count, "area_mm2": m.area_mm2} for m in plan.missing
        ],
        "leftovers": [
            {
                "cloth": one.cloth,
                "area_mm2": one.area_mm2,
                "rectangle_mm": None
                if one.rectangle is None
                else [one.rectangle.width_mm, one.rectangle.length_mm],
                "corners": None if one.rectangle is None else [list(p) for p in one.rectangle.corners],
            }
            for one in plan.leftovers
        ],
        "to_wash": list(plan.to_wash),
        "list_print": plan.list_print,
        "cloth_prints": dict(plan.cloth_prints),
        "gaps_mm": [plan.gaps.pieces_mm, plan.gaps.edge_mm, plan.gaps.hole_mm],
        "seed": plan.seed,
        "passes": plan.passes,
        "roles": list(plan.roles),
        "stints": list(plan.stints),
        "match_stripes": plan.match_stripes,
        "seconds": plan.seconds,
    }


def plan_from_json(value: Mapping[str, Any]) -> LayPlan:
    """Read a plan that :func:`plan_to_json` wrote.

    Raises
    ------
    BadInput
        When it is no lay plan, or of a later form than this program knows.
    """
    if value.get("format") != LAY_PLAN_FORMAT:
        raise BadInput(
            f"This is no lay plan that Eke can read (its form is “{value.get('format')}”). Lay again."
        )
    copies: Counter[str] = Counter()
    try:
        return LayPlan(
            garment=value["garment"],
            revision=value["revision"],
            laid=tuple(_laid(one, copies) for one in value["laid"]),
            missing=tuple(
                Missing(m["piece"], m["name"], m["count"], m["area_mm2"]) for m in value["missing"]
            ),
            leftovers=tuple(_leftover(one) for one in value["leftovers"]),
            use_percent=value["use_percent"],
            sentence=value["sentence"],
            proof=value["proof"],
            to_wash=tuple(value["to_wash"]),
            list_print=value["list_print"],
            cloth_prints=dict(value["cloth_prints"]),
            gaps=Gaps(*value["gaps_mm"]),
            seed=value["seed"],
            passes=value["passes"],
            roles=tuple(value.get("roles", ())),
            stints=tuple(value.get("stints", ())),
            match_stripes=bool(value.get("match_stripes", False)),
            seconds=float(value.get("seconds", 0.0)),
        )
    except (KeyError, TypeError, IndexError) as wrong:
        raise BadInput(f"This lay plan is not whole ({wrong}). Lay again.") from wrong


def _laid(value: Mapping[str, Any], copies: Counter[str]) -> Laid:
    copies[value["piece"]] += 1
    return Laid(
        piece=value["piece"],
        name=value["name"],
        cloth=value["cloth"],
        turn_deg=value["turn_deg"],
        x_mm=value["x_mm"],
        y_mm=value["y_mm"],
        mirrored=value["mirrored"],
        outline=_ring(value["outline"]),
        # plans of earlier versions name no copies: they are counted
        copy=value.get("copy", copies[value["piece"]]),
        locked=value.get("locked", False),
    )


def _leftover(value: Mapping[str, Any]) -> Leftover:
    found = None
    if value["rectangle_mm"] is not None:
        width_mm, length_mm = value["rectangle_mm"]
        found = Rectangle(width_mm, length_mm, _ring(value["corners"]))
    return Leftover(value["cloth"], found, value["area_mm2"])


def _ring(points: Sequence[Sequence[float]]) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)
