"""What pieces have in common: one turn, one tilt, one phase of the stripes.

A tie is *dealt*: before an attempt every group gets a common value, the kernels keep each piece to it, and
between attempts one tie gets another value. So a search of one piece never has to look at the others of its group.

Points that match are tied through their parts: where a part has two such points on the same stripes, the phase of
the one follows from the phase of the other, the turn of the part, and the way between them. Such parts are therefore
dealt their turn too. (Where sheets differ in their stripes, the first sheet's are reckoned with; on the others
the mismatch counts as a loss, and the lay is still checked.)
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from eke.lay.collide.tables import (
    PF_PHASE,
    PF_TH,
    PF_TILT,
    PF_X,
    PF_Y,
    PI_MIRROR,
    PI_ON,
    PI_SHEET,
    PI_TURN,
    RP_DX,
    RP_DY,
    RP_PERIOD,
    RP_X,
    RP_Y,
    RP_ZERO,
    SI_A,
    SI_MIRROR,
    SI_NA,
    SI_NPHASE,
    SI_PHASE,
    Field,
    State,
)
from eke.lay.problem import Part, PhaseRule, Placement, Problem

DEAL_SHARE: Final = 0.4
"""Chance that a tie is dealt anew when an attempt is stuck; else two pieces change places."""


@dataclass(frozen=True, slots=True)
class TurnGroup:
    """Pieces that lie at one turn and are mirrored alike; ``fixed`` where a locked part says how.

    ``free``: there is more than one way.
    """

    pieces: tuple[int, ...]
    fixed: tuple[float, bool] | None = None
    free: bool = True


@dataclass(frozen=True, slots=True)
class TiltGroup:
    """Pieces tilted by one amount, each with its sign; ``fixed_rad`` where a locked part says by how much."""

    pieces: tuple[tuple[int, int], ...]
    limit_rad: float
    fixed_rad: float | None = None


@dataclass(frozen=True, slots=True)
class Ties:
    """All ties of a problem; ``rules`` are the phase rules of each piece, ``fixed_phases`` what is given."""

    turns: tuple[TurnGroup, ...] = ()
    tilts: tuple[TiltGroup, ...] = ()
    rules: tuple[tuple[PhaseRule, ...], ...] = ()
    fixed_phases: dict[str, float] = field(default_factory=dict)

    @property
    def any(self) -> bool:
        """Whether there is anything that could be dealt anew."""
        return bool(self.free_turns or self.free_tilts or self.free_matches)

    @property
    def free_turns(self) -> tuple[TurnGroup, ...]:
        """Groups that may lie another way."""
        return tuple(g for g in self.turns if g.free)

    @property
    def free_tilts(self) -> tuple[TiltGroup, ...]:
        """Groups that may be tilted by another amount."""
        return tuple(g for g in self.tilts if g.fixed_rad is None and g.limit_rad > 0)

    @property
    def free_matches(self) -> tuple[str, ...]:
        """Words of matching points whose common phase nobody has given."""
        words = {r.match for rules in self.rules for r in rules if r.match is not None and r.phase is None}
        return tuple(sorted(words - set(self.fixed_phases)))


# ---- who is tied to whom


def turn_names(problem: Problem) -> dict[str, str]:
    """Return the word of the group by part id, for parts that are dealt their turn.

    Besides those with ``same_turn`` these are parts with two matching points on the same stripes, each by itself.
    """
    out: dict[str, str] = {}
    for part in problem.parts:
        if part.same_turn is not None:
            out[part.id] = f"turn {part.same_turn}"
        elif _chained(part) and (part.turns is None or len(part.turns) > 1 or part.mirror_allowed):
            out[part.id] = f"part {part.id}"
    return out


def _chained(part: Part) -> bool:
    repeats = [r.repeat for r in part.phases]
    return any(repeats.count(name) > 1 for name in repeats)


def tilt_limit_deg(part: Part) -> float:
    """Return the tilt that the kernels may give a piece by themselves: none where it is dealt."""
    return 0.0 if part.tilt_pair is not None else part.tilt_deg


def tilt_of(part: Part, place: Placement) -> float:
    """Return how far a placement is tilted off the nearest allowed turn, in degrees, with its sign."""
    if part.turns is None:
        return 0.0
    return min((math.remainder(place.turn_deg - t, 360.0) for t in part.turns), key=abs)


def sign_of(part: Part, mirrored: bool) -> int:
    """Return 1, or −1 for what is tilted the other way in its pair."""
    other = part.tilt_pair is not None and part.tilt_pair.mirrored
    return -1 if other != mirrored else 1


def find_ties(
    problem: Problem, piece_part: Sequence[Part], groups: Sequence[int], locked: Sequence[Placement]
) -> Ties:
    """Return the ties of the pieces to be laid; ``groups`` is the turn group of each, or −1."""
    parts = {p.id: p for p in problem.parts}
    names = turn_names(problem)
    turns = []
    for g in range(max(groups, default=-1) + 1):
        members = tuple(i for i, own in enumerate(groups) if own == g)
        word = names[piece_part[members[0]].id]
        held = [p for p in locked if names.get(p.part) == word]
        its_parts = [piece_part[i] for i in members]
        free = all(p.turns is None or len(p.turns) > 1 for p in its_parts) or all(
            p.mirror_allowed for p in its_parts
        )
        fixed_turn = (held[0].turn_deg, held[0].mirrored) if held else None
        turns.append(TurnGroup(members, fixed_turn, free and not held))
    tilts = []
    for name in sorted({p.tilt_pair.name for p in piece_part if p.tilt_pair is not None}):
        its = [
            (i, p) for i, p in enumerate(piece_part) if p.tilt_pair is not None and p.tilt_pair.name == name
        ]
        fixed = None
        for place in locked:
            part = parts[place.part]
            if part.tilt_pair is not None and part.tilt_pair.name == name:
                fixed = math.radians(tilt_of(part, place)) * sign_of(part, place.mirrored)
        limit = math.radians(min(p.tilt_deg for _, p in its))
        tilts.append(TiltGroup(tuple((i, sign_of(p, False)) for i, p in its), limit, fixed))
    fixed_phases: dict[str, float] = {}
    for part in problem.parts:
        for rule in part.phases:
            if rule.match is not None and rule.phase is not None:
                fixed_phases[rule.match] = rule.phase
    for place in locked:
        for rule in parts[place.part].phases:
            phase = phase_at(problem, parts[place.part], rule, place)
            if rule.match is not None and phase is not None:
                fixed_phases.setdefault(rule.match, phase)
    return Ties(tuple(turns), tuple(tilts), tuple(tuple(p.phases) for p in piece_part), fixed_phases)


def phase_at(problem: Problem, part: Part, rule: PhaseRule, place: Placement) -> float | None:
    """Return the phase (0 … 1) at which a point of a placement lies; ``None`` where its sheet has no such stripes."""
    sheet = next((s for s in problem.sheets if s.id == place.sheet), None)
    repeat = next((r for r in sheet.repeats if r.name == rule.repeat), None) if sheet else None
    if repeat is None:
        return None
    a, d = math.radians(place.turn_deg), math.radians(repeat.direction_deg)
    px, py = (-rule.at[0] if place.mirrored else rule.at[0]), rule.at[1]
    x = math.cos(a) * px - math.sin(a) * py + place.x_mm - repeat.origin[0]
    y = math.sin(a) * px + math.cos(a) * py + place.y_mm - repeat.origin[1]
    return (x * math.cos(d) + y * math.sin(d)) / repeat.period_mm % 1.0


# ---- dealing


def deal(ties: Ties, f: Field, s: State, piece_shape: Sequence[int], luck: np.random.Generator) -> None:
    """Give every tie a value: turns and phases at random, tilts none."""
    for group in ties.turns:
        _deal_turn(group, f, s, piece_shape, luck)
    for tilts in ties.tilts:
        _set_tilt(tilts, f, s, piece_shape, 0.0 if tilts.fixed_rad is None else tilts.fixed_rad)
    if any(ties.rules):
        _spread_phases(ties, f, s, piece_shape, {}, luck)


def deal_one(ties: Ties, f: Field, s: State, piece_shape: Sequence[int], luck: np.random.Generator) -> bool:
    """Give one tie, chosen at random, another value; return whether there is any to choose from."""
    turns, tilts, matches = ties.free_turns, ties.free_tilts, ties.free_matches
    choices = len(turns) + len(tilts) + len(matches)
    if not choices:
        return False
    pick = int(luck.integers(choices))
    known = _phases_now(ties, f, s, piece_shape) if any(ties.rules) else {}
    if pick < len(turns):
        _deal_turn(turns[pick], f, s, piece_shape, luck)
    elif pick < len(turns) + len(tilts):
        group = tilts[pick - len(turns)]
        _set_tilt(group, f, s, piece_shape, float(luck.uniform(-group.limit_rad, group.limit_rad)))
    else:
        # what hangs together with it moves along; the rest stays
        word = matches[pick - len(turns) - len(tilts)]
        for other in _linked(ties, word):
            known.pop(other, None)
    if any(ties.rules):
        _spread_phases(ties, f, s, piece_shape, known, luck)
    return True


def take_from(ties: Ties, f: Field, s: State, piece_shape: Sequence[int], luck: np.random.Generator) -> None:
    """Read the ties from where the pieces lie, so that a lay that keeps them stays as it is.

    Pieces that are not on yet, or lie otherwise than the rest of their group, take over what it has.
    """
    for group in ties.turns:
        first = next((i for i in group.pieces if s.piece_i[i, PI_ON]), None)
        if group.fixed is not None or first is None:
            _deal_turn(group, f, s, piece_shape, luck)
            continue
        turn, mirror = int(s.piece_i[first, PI_TURN]), int(s.piece_i[first, PI_MIRROR])
        for i in group.pieces:
            if (s.piece_i[i, PI_TURN], s.piece_i[i, PI_MIRROR]) != (turn, mirror):
                s.piece_i[i, PI_TURN], s.piece_i[i, PI_MIRROR] = turn, mirror
                _set_angle(f, s, i, piece_shape[i])
    for tilts in ties.tilts:
        amount = tilts.fixed_rad
        for i, sign in tilts.pieces:
            if amount is None and s.piece_i[i, PI_ON]:
                t = piece_shape[i]
                base = f.turns[int(f.shape_i[t, SI_A]) + int(s.piece_i[i, PI_TURN])]
                way = -sign if s.piece_i[i, PI_MIRROR] else sign
                amount = way * math.remainder(float(s.piece_f[i, PF_TH] - base), math.tau)
        limit = tilts.limit_rad
        _set_tilt(tilts, f, s, piece_shape, min(max(amount or 0.0, -limit), limit))
    if any(ties.rules):
        on = [i for i in range(len(piece_shape)) if s.piece_i[i, PI_ON]]
        found: dict[str, float] = {}
        for i in on:
            for k, rule in enumerate(ties.rules[i]):
                phase = _phase_of_piece(f, s, piece_shape[i], i, k)
                if rule.match is not None and phase is not None:
                    found.setdefault(rule.match, phase)
        _spread_phases(ties, f, s, piece_shape, found, luck)


def _deal_turn(
    group: TurnGroup, f: Field, s: State, piece_shape: Sequence[int], luck: np.random.Generator
) -> None:
    shapes = [piece_shape[i] for i in group.pieces]
    if group.fixed is not None:
        t = shapes[0]
        angles = f.turns[int(f.shape_i[t, SI_A]) : int(f.shape_i[t, SI_A] + f.shape_i[t, SI_NA])]
        off = [abs(math.remainder(float(a) - math.radians(group.fixed[0]), math.tau)) for a in angles]
        turn, mirror = off.index(min(off)), int(group.fixed[1])
    else:
        turn = int(luck.integers(min(int(f.shape_i[t, SI_NA]) for t in shapes)))
        mirror = int(luck.integers(2)) if all(f.shape_i[t, SI_MIRROR] for t in shapes) else 0
    for i, t in zip(group.pieces, shapes, strict=True):
        s.piece_i[i, PI_TURN] = turn
        s.piece_i[i, PI_MIRROR] = mirror
        _set_angle(f, s, i, t)


def _set_angle(f: Field, s: State, i: int, t: int) -> None:
    tilt = -s.piece_f[i, PF_TILT] if s.piece_i[i, PI_MIRROR] else s.piece_f[i, PF_TILT]
    s.piece_f[i, PF_TH] = f.turns[int(f.shape_i[t, SI_A]) + int(s.piece_i[i, PI_TURN])] + tilt


def _set_tilt(group: TiltGroup, f: Field, s: State, piece_shape: Sequence[int], amount: float) -> None:
    for i, sign in group.pieces:
        s.piece_f[i, PF_TILT] = sign * amount
        _set_angle(f, s, i, piece_shape[i])


def _phase_of_piece(f: Field, s: State, t: int, i: int, k: int) -> float | None:
    n = int(f.shape_i[t, SI_NPHASE])
    row = f.phases[int(f.shape_i[t, SI_PHASE]) + int(s.piece_i[i, PI_SHEET]) * n + k]
    if row[RP_PERIOD] <= 0:
        return None
    x, y = _turned(row, s, i)
    along = (x + s.piece_f[i, PF_X]) * row[RP_DX] + (y + s.piece_f[i, PF_Y]) * row[RP_DY] - row[RP_ZERO]
    return float(along / row[RP_PERIOD]) % 1.0


def _turned(row: np.ndarray, s: State, i: int) -> tuple[float, float]:
    c, sn = math.cos(float(s.piece_f[i, PF_TH])), math.sin(float(s.piece_f[i, PF_TH]))
    x, y = float(-row[RP_X] if s.piece_i[i, PI_MIRROR] else row[RP_X]), float(row[RP_Y])
    return c * x - sn * y, sn * x + c * y


def _phases_now(ties: Ties, f: Field, s: State, piece_shape: Sequence[int]) -> dict[str, float]:
    """Return the phase that each word of matching points is dealt now."""
    return {
        rule.match: float(s.piece_f[i, PF_PHASE + k])
        for i, rules in enumerate(ties.rules)
        for k, rule in enumerate(rules)
        if rule.match is not None
    }


def _linked(ties: Ties, word: str) -> set[str]:
    """Return the words whose phases follow from that of ``word``, itself included."""
    reached = {word}
    grew = True
    while grew:
        grew = False
        for rules in ties.rules:
            for repeat in {r.repeat for r in rules}:
                here = {r.match for r in rules if r.repeat == repeat and r.match is not None}
                if here & reached and not here <= reached:
                    reached |= here
                    grew = True
    return reached


def _spread_phases(
    ties: Ties,
    f: Field,
    s: State,
    piece_shape: Sequence[int],
    known: dict[str, float],
    luck: np.random.Generator,
) -> None:
    """Give every rule of every piece its phase: as given, as known, as follows from another, or at random."""
    fixed = dict(ties.fixed_phases)
    _follow(ties, f, s, piece_shape, fixed)
    phases = fixed
    for word in sorted({r.match for rules in ties.rules for r in rules if r.match is not None}):
        if word not in phases:
            phases[word] = known[word] if word in known else float(luck.random())
            _follow(ties, f, s, piece_shape, phases)
    for i, rules in enumerate(ties.rules):
        for k, rule in enumerate(rules):
            value = rule.phase if rule.phase is not None else phases[rule.match or ""]
            s.piece_f[i, PF_PHASE + k] = value


def _follow(ties: Ties, f: Field, s: State, piece_shape: Sequence[int], phases: dict[str, float]) -> None:
    """Work out the phases that follow from those known, through parts with several points on the same stripes."""
    grew = True
    while grew:
        grew = False
        for i, rules in enumerate(ties.rules):
            for a, b in _pairs(rules):
                given = rules[a].phase if rules[a].phase is not None else phases.get(rules[a].match or "")
                word = rules[b].match
                if given is None or word is None or word in phases:
                    continue
                step = _step(f, s, piece_shape[i], i, a, b)
                if step is not None:
                    phases[word] = (given + step) % 1.0
                    grew = True


def _pairs(rules: Sequence[PhaseRule]) -> Iterable[tuple[int, int]]:
    for a, one in enumerate(rules):
        for b, other in enumerate(rules):
            if a != b and one.repeat == other.repeat:
                yield a, b


def _step(f: Field, s: State, t: int, i: int, a: int, b: int) -> float | None:
    """Return by how much the phase differs between two points of a piece, on the first sheet with such stripes."""
    n = int(f.shape_i[t, SI_NPHASE])
    first = int(f.shape_i[t, SI_PHASE])
    for sheet in range(s.limit.shape[0]):
        one, other = f.phases[first + sheet * n + a], f.phases[first + sheet * n + b]
        if one[RP_PERIOD] > 0:
            (x0, y0), (x1, y1) = _turned(one, s, i), _turned(other, s, i)
            return float(((x1 - x0) * one[RP_DX] + (y1 - y0) * one[RP_DY]) / one[RP_PERIOD])
    return None
