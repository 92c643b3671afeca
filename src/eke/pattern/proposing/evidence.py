"""What speaks for and against sewing two lines to each other.

Each fact adds the logarithm of how much likelier it is for mates than for two lines that have nothing to do with each
other. The likelihoods are plain guesses about sewing (most mates are equally long; a few are eased, gathered or
stretched; free edges usually run on over a seam), not fitted to any one garment.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from eke.pattern.proposing.lines import Line
from eke.pattern.proposing.words import groups_of, wanted_by

SEWN_GAIN: Final = 2.2
"""For each edge that a seam explains, where the maker said which edges are hems: what is left is sewn to something."""
MAYBE_GAIN: Final = 1.0
"""The same where hems are not told: the edge may be one."""
START_GAIN: Final = -4.0
"""What each seam starts with: most pairs of edges are no mates."""
LINK_GAIN: Final = -0.8
"""What each further edge of a chain costs: there are many chains, and one of them fits by chance."""
TURN_GAIN: Final = -0.8
"""What it costs to go round a corner of one piece: only bags and gussets do."""
SMOOTH_DEG: Final = 9.0
"""Corners that add to 180° within this run on smoothly, as a hand traces them."""


@dataclass(frozen=True, slots=True)
class Ways:
    """How often mates are equal, eased, gathered, stretched: shares, and the greatest ratio of their lengths."""

    equal: float
    eased: float
    most_eased: float
    gathered: float
    stretched: float


PAIR: Final = Ways(0.84, 0.10, 1.06, 0.03, 0.03)
"""One edge to one: side seams, shoulders; seldom a gathered skirt or a cuff on pleats."""
OVER_CHAIN: Final = Ways(0.55, 0.30, 1.14, 0.05, 0.10)
"""One edge to a run over seams: bands and collars equal, caps eased by up to 14 %, bands of rib stretched."""
MOST_GATHERED: Final = 2.5
LEAST_STRETCHED: Final = 0.72
SAME_PIECE_GAIN: Final = -0.8
"""Most seams join two pieces; a sleeve, a leg and a cuff are sewn to themselves."""
NARROWEST_TUBE: Final = 0.4
"""A piece sewn to itself is a tube; its girth is seldom less than this share of its length: strips are sewn by their
ends."""
STRAIGHT_BULGE_DEG: Final = 25.0
"""A line that bends by less in all hangs as its chord does."""
UPRIGHT_DEG: Final = 30.0
"""Lines nearer to the grain than this are hardly ever gathered or stretched onto each other."""
HEM_LOSS: Final = 1.6
"""What speaks against sewing an edge that looks like a hem, where nobody said which edges are hems."""
STEEP: Final = math.cos(math.radians(UPRIGHT_DEG))
"""A line that rises by more of its length runs up the piece, or down."""
SAME_WAY: Final = 0.65
"""How often both of two pieces are traced with the same end up (a guess: most are traced as they are worn)."""
IMPOSSIBLE: Final = -math.inf


@dataclass(frozen=True, slots=True)
class Evidence:
    """The gain of sewing two lines, and in words what speaks for it."""

    gain: float
    reasons: tuple[str, ...]


def evidence(a: Line, b: Line, *, told: bool, ring: bool | None) -> Evidence:
    """Return the evidence for sewing ``a`` to ``b``, both walked from the common start.

    ``told``: the maker said which edges are hems. ``ring``: both lines close to a ring over other seams (``True``),
    only one does (``False``), or neither (``None``).
    """
    reasons: list[str] = []
    chain = max(len(a.parts), len(b.parts))
    over_chain = chain > 1
    # of a chain and a single edge the single one is eased onto the chain, not the other way round
    single, run = (a, b) if len(a.parts) <= len(b.parts) else (b, a)
    gain = START_GAIN + (SEWN_GAIN if told else MAYBE_GAIN) * (len(a.parts) + len(b.parts))
    gain += LINK_GAIN * (len(a.parts) + len(b.parts) - 2)
    gain += TURN_GAIN * (a.turns + b.turns)
    gain += _lengths(single, run, OVER_CHAIN if over_chain else PAIR, reasons, symmetric=not over_chain)
    if gain == IMPOSSIBLE:
        return Evidence(gain, ())
    # where a ring begins is nobody's corner
    weight = 0.3 if ring else 1.0
    for k in (0, 1):
        gain += weight * _ends(
            a.angles_deg[k], b.angles_deg[k], a.free_kinds[k], b.free_kinds[k], told=told, reasons=reasons
        )
    if ring is not None and not a.pieces & b.pieces:
        gain += 1.5 if ring else -0.5
        if ring:
            reasons.append("both go round")
    gain += _notches(a, b, reasons)
    gain += _shapes(a, b, 0.5 if over_chain else 1.0)
    gain += _as_traced(a, b)
    gain += _names(a, b, reasons)
    gain += _pieces(a, b)
    if not told:
        gain -= HEM_LOSS * (a.hemlike + b.hemlike)
    return Evidence(gain, tuple(reasons))


def _lengths(single: Line, run: Line, ways: Ways, reasons: list[str], *, symmetric: bool) -> float:
    mean = (single.length_mm + run.length_mm) / 2.0
    off = single.length_mm - run.length_mm
    ratio = single.length_mm / run.length_mm
    if symmetric and ratio < 1.0:
        ratio = 1.0 / ratio
    spread = 1.2 + 0.004 * mean
    longer = single if off > 0.0 else run
    if longer.gathered and abs(off) > 2.0 * spread and max(ratio, 1.0 / ratio) <= MOST_GATHERED:
        # any fullness is as likely as another there
        reasons.append(f"one is {abs(off):.0f} mm longer, and said to be gathered or eased")
        return -math.log(MOST_GATHERED - 1.0)
    likely = ways.equal * math.exp(-0.5 * (off / spread) ** 2) / (spread * math.sqrt(2.0 * math.pi))
    wide = (2.0 if symmetric else 1.0) * mean
    if 1.0 <= ratio <= ways.most_eased:
        likely += ways.eased / ((ways.most_eased - 1.0) * wide)
    seldom = 0.02 if _upright(single) and _upright(run) else 1.0
    if 1.05 <= ratio <= MOST_GATHERED:
        likely += seldom * ways.gathered / ((MOST_GATHERED - 1.05) * wide)
    if LEAST_STRETCHED <= (1.0 / ratio if symmetric else ratio) < 0.98:
        likely += seldom * ways.stretched / ((0.98 - LEAST_STRETCHED) * wide)
    if likely <= 1e-9:
        return IMPOSSIBLE
    if abs(off) <= 2.0 * spread:
        reasons.append(
            f"both are {mean:.0f} mm long" if abs(off) <= 1.5 else f"they are {abs(off):.1f} mm apart"
        )
    else:
        reasons.append(f"one is {abs(off):.0f} mm longer, as if eased or gathered")
    return math.log(likely * mean)


def _upright(line: Line) -> bool:
    return (
        line.lean_deg is not None and line.lean_deg < UPRIGHT_DEG and abs(line.bulge_deg) < STRAIGHT_BULGE_DEG
    )


def _ends(x: float, y: float, one: str, other: str, *, told: bool, reasons: list[str]) -> float:
    kinds = {one, other}
    if "fold" in kinds:
        # half pieces meet at the fold together, unless one of them is cut whole or has a seam there
        return 1.2 if len(kinds) == 1 else -0.4
    miss = abs(x + y - 180.0)
    if kinds in ({"hem"}, {"opening"}):
        kind = next(iter(kinds))
        if miss <= SMOOTH_DEG:
            reasons.append(f"the {kind} runs on over the join")
            return 1.8
        return 0.6 - min((miss / 25.0) ** 2, 1.6)
    gain = -1.2 if "hem" in kinds and told else 0.0
    if miss <= SMOOTH_DEG:
        # two right angles say little, 112° and 68° a good deal
        return gain + 0.3 + 1.1 * min(abs(x - y) / 40.0, 1.0)
    return gain - min((miss / 30.0) ** 2, 1.2)


def _notches(a: Line, b: Line, reasons: list[str]) -> float:
    if not a.notches and not b.notches:
        return 0.0
    if not a.notches or not b.notches:
        return -0.5
    stretch = b.length_mm / a.length_mm
    near = 4.0 + 0.03 * abs(b.length_mm - a.length_mm)
    left, met = list(b.notches), 0
    for mm, count in a.notches:
        fit = [n for n in left if n[1] == count and min(abs(mm - n[0]), abs(mm * stretch - n[0])) <= near]
        if fit:
            left.remove(fit[0])
            met += 1
    alone = len(a.notches) + len(b.notches) - 2 * met
    if met:
        reasons.append(f"{met} notch{'es' if met > 1 else ''} meet")
    return min(2.2 * met, 5.0) - min(0.9 * alone, 2.7)


def _shapes(a: Line, b: Line, weight: float) -> float:
    gain = 0.0
    # laid side by side, what one bends out the other bends in
    off = abs(a.bulge_deg + b.bulge_deg)
    if off <= 12.0:
        gain += weight * (0.2 + 1.2 * min(max(abs(a.bulge_deg), abs(b.bulge_deg)) / 40.0, 1.0))
    else:
        gain -= weight * min((off / 60.0) ** 2, 1.5)
    # bands and collars go round any curve: only straight lines tell how they hang
    straight = (
        max(abs(a.bulge_deg), abs(b.bulge_deg)) < STRAIGHT_BULGE_DEG and len(a.parts) + len(b.parts) == 2
    )
    if straight and a.lean_deg is not None and b.lean_deg is not None:
        lean = abs(a.lean_deg - b.lean_deg)
        gain += 0.4 - min((lean / 25.0) ** 2, 2.2)
    return gain


def _as_traced(a: Line, b: Line) -> float:
    """What speaks for and against it in which end of each piece is up; which face is, is weighed for each piece once."""
    if a.pieces & b.pieces or a.rise is None or b.rise is None or min(abs(a.rise), abs(b.rise)) < STEEP:
        return 0.0
    return math.log(2.0 * (SAME_WAY if a.rise * b.rise > 0.0 else 1.0 - SAME_WAY))


def _names(a: Line, b: Line, reasons: list[str]) -> float:
    same = a.words & b.words
    if same:
        reasons.append(f"both are called “{min(same)}”")
        return 3.0
    one, other = groups_of(a.words), groups_of(b.words)
    shared = (one | wanted_by(a.piece_words)) & (other | wanted_by(b.piece_words))
    if shared and (one or other):
        reasons.append("their names belong together")
        return 2.2
    if one and other:
        return -2.0
    return -0.3 if a.words and b.words else 0.0


def _pieces(a: Line, b: Line) -> float:
    if not a.pieces & b.pieces:
        # a side front is sewn to the front rather than to the back
        return 0.6 if a.piece_words & b.piece_words else 0.0
    gain = SAME_PIECE_GAIN
    between = math.dist(a.middle, b.middle)
    if between < NARROWEST_TUBE * a.length_mm:
        gain -= 4.0
    if a.on_fold:
        gain -= 1.5
    return gain


def runs_together(lines: Sequence[Line]) -> bool:
    """Whether the lines of a chain are told apart by no name."""
    named = [groups_of(line.words) for line in lines if groups_of(line.words)]
    return not named or bool(frozenset.intersection(*named))
