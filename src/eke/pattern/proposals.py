"""Propose which edges are sewn together, from lengths, corners, notches, names and the order round each piece.

The maker confirms every one; each proposal has a confidence and says in words what speaks for it.

How it works
------------
1. Every pair of unsewn edges, in both directions, gets a *gain*: what speaks for the pair less what speaks
   against it. The terms are in :func:`_evidence`; each is a plain fact of sewing, such as that the free edges
   of two mates run on smoothly (their corners add to 180°).
2. The pairs of greatest total gain are chosen, each edge in one pair at most and no two neighbouring edges of
   a piece going to two neighbouring edges of another at the same corner (a small integer programme).
3. Edges that are left over are chained over the seams found (an armhole over front and back) and compared
   with the edges of other pieces: sleeve caps with their ease, bands, facings.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np

from eke.errors import NotFound
from eke.pattern.corners import End, beyond_darts, dart_at, interior_angle_deg, notches_on, turn_deg
from eke.pattern.measure import run_of
from eke.pattern.model import Edge, Pattern, Piece, RunPart, Seam

BASE_GAIN: Final = 5.0
"""What a pair starts with: it is proposed when less speaks against it."""
EASE_SHARE: Final = 0.04
"""Mates differ in length by no more than this share (plus 4 mm) unless one is a cap."""
CAP_EASE_SHARE: Final = 0.13
"""A sleeve cap may be longer than its armhole by so much: 6 to 10 % is usual (from memory)."""
MOST_CHAIN: Final = 4
"""Edges that one side of a run over several pieces has at most: front, side, back, yoke."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """Two runs that are probably sewn together. ``confidence`` 0 to 1; ``reasons`` are plain sentences."""

    a: tuple[RunPart, ...]
    b: tuple[RunPart, ...]
    ease_mm: float
    confidence: float
    reasons: tuple[str, ...]
    b_mirrored: bool = False


@dataclass(frozen=True, slots=True)
class _Line:
    """An edge, or a chain of them, as a candidate: what it looks like when walked from its start."""

    parts: tuple[RunPart, ...]
    length_mm: float
    notches: tuple[tuple[float, int], ...]
    angles_deg: tuple[float, float]
    free_kinds: tuple[str, str]
    turning_deg: float
    lean_deg: float
    words: frozenset[str]

    def backwards(self) -> _Line:
        return _Line(
            tuple(RunPart(p.piece, p.edge, not p.reverse) for p in reversed(self.parts)),
            self.length_mm,
            tuple((self.length_mm - mm, n) for mm, n in reversed(self.notches)),
            (self.angles_deg[1], self.angles_deg[0]),
            (self.free_kinds[1], self.free_kinds[0]),
            -self.turning_deg,
            self.lean_deg,
            self.words,
        )


@dataclass(frozen=True, slots=True)
class _Pair:
    a: _Line
    b: _Line
    gain: float
    reasons: tuple[str, ...]

    @property
    def edges(self) -> frozenset[str]:
        return frozenset(p.edge for p in (*self.a.parts, *self.b.parts))


def propose_seams(pattern: Pattern) -> tuple[Proposal, ...]:
    """Return the seams that are probably meant among edges that belong to none, surest first."""
    said = {pattern.resolve(p.edge) for s in pattern.seams.values() for p in s.parts()}
    lines: dict[str, _Line] = {
        edge.id: _line_of(pattern, piece, edge)
        for piece in pattern.pieces.values()
        for edge in piece.edges
        if edge.kind == "seam" and edge.id not in said and dart_at(piece, edge.id) is None
    }
    # a corner that a seam has closed already is not closed again, and an edge is no mate of what it goes on in
    closed = {c for s in pattern.seams.values() for c in _corners_closed(pattern, s.a, s.b)}
    on = _links(pattern, [])
    pairs = [
        pair
        for one, other in combinations(lines.values(), 2)
        for pair in _pairs_of(one, other)
        if pair.gain > 0.0
        and not closed & set(_corners_closed(pattern, pair.a.parts, pair.b.parts))
        and not any(
            on.get((x.edge, end), ("", ""))[0] in pair.edges for x in pair.a.parts for end in ("start", "end")
        )
    ]
    chosen = _best_together(pattern, pairs)
    proposals = [_proposal(p, _rival_gain(p, pairs)) for p in chosen]
    taken = {e for p in chosen for e in p.edges}
    chains, taken_too = _chain_pairs(pattern, lines, chosen, taken)
    proposals += chains
    proposals += _mirrored(pattern, lines, taken | taken_too)
    return tuple(sorted(proposals, key=lambda p: -p.confidence))


# ---------------------------------------------------------------- what a candidate looks like


def _line_of(pattern: Pattern, piece: Piece, edge: Edge) -> _Line:
    path = edge.path
    mms = np.linspace(0.0, path.length_mm, 25)
    t = path.tangents_at(mms[:-1] + 1e-9)
    angles = np.unwrap(np.arctan2(t[:, 1], t[:, 0]))
    (x0, y0), (x1, y1) = path.start, path.end
    words = {w for w in f"{edge.name}".lower().replace("_", " ").replace("-", " ").split() if len(w) > 2}
    words -= set(piece.name.lower().split())
    return _Line(
        (RunPart(piece.id, edge.id),),
        path.length_mm,
        tuple((edge.mm_of(n.at), n.count) for n in notches_on(piece, edge.id)),
        (interior_angle_deg(piece, edge.id, "start"), interior_angle_deg(piece, edge.id, "end")),
        (_free_kind(piece, edge, "start"), _free_kind(piece, edge, "end")),
        math.degrees(float(angles[-1] - angles[0])),
        math.degrees(math.atan2(abs(x1 - x0), abs(y1 - y0))),
        frozenset(words),
    )


def _free_kind(piece: Piece, edge: Edge, end: End) -> str:
    return beyond_darts(piece, edge.id, end)[0].kind


# ---------------------------------------------------------------- pairs


def _pairs_of(one: _Line, other: _Line) -> Iterator[_Pair]:
    for turned in (other.backwards(), other):
        gain, reasons = _evidence(one, turned, EASE_SHARE)
        yield _Pair(one, turned, gain, reasons)


def _evidence(a: _Line, b: _Line, ease_share: float) -> tuple[float, tuple[str, ...]]:
    """Return the gain of sewing ``a`` to ``b``, both walked from the start, and what speaks for it."""
    reasons: list[str] = []
    off = abs(a.length_mm - b.length_mm)
    mean = (a.length_mm + b.length_mm) / 2.0
    if off > 4.0 + ease_share * mean:
        return -math.inf, ()
    gain = BASE_GAIN - min((off / (1.5 + 0.01 * mean)) ** 2, 4.0)
    if off <= 1.5:
        gain += 1.0
        reasons.append(f"both are {mean:.0f} mm long")
    else:
        reasons.append(f"they are {off:.1f} mm apart in length")
    for end, (x, y) in enumerate(zip(a.angles_deg, b.angles_deg, strict=True)):
        kinds = {a.free_kinds[end], b.free_kinds[end]}
        miss = abs(x + y - 180.0)
        if "fold" in kinds:
            # beside a fold the mate's corner says nothing; two folds meet at one point
            gain += 0.5 if len(kinds) == 1 else -0.5
        elif kinds == {"hem"} or kinds == {"opening"}:
            gain += 1.5 if miss <= 8.0 else -min((miss / 15.0) ** 2, 2.0)
            if miss <= 8.0:
                reasons.append(f"the {next(iter(kinds))} runs on over the join")
        elif len(kinds) == 2 and "hem" in kinds:
            gain -= 3.0
        else:
            gain += 0.8 if miss <= 8.0 else -min((miss / 25.0) ** 2, 1.5)
    gain += _notch_gain(a, b, reasons)
    # pieces that lie side by side: what one bends out the other bends in
    gain -= min(((a.turning_deg - b.turning_deg) / 45.0) ** 2, 3.0)
    gain -= min(((a.lean_deg - b.lean_deg) / 20.0) ** 2, 2.5)
    if a.words & b.words:
        gain += 3.0
        reasons.append(f"both are called “{min(a.words & b.words)}”")
    if a.parts[0].reverse == b.parts[0].reverse:
        gain -= 0.7  # right sides up, mates are walked in opposite directions
    if {p.piece for p in a.parts} & {p.piece for p in b.parts}:
        gain -= 1.0
    return gain, tuple(reasons)


def _notch_gain(a: _Line, b: _Line, reasons: list[str]) -> float:
    if not a.notches and not b.notches:
        return 0.0
    if len(a.notches) != len(b.notches):
        return -1.0 * abs(len(a.notches) - len(b.notches))
    gain = 0.0
    stretch = b.length_mm / a.length_mm
    fit = 0
    for (x, n), (y, m) in zip(a.notches, b.notches, strict=True):
        near = min(abs(x - y), abs(x * stretch - y)) <= 4.0
        gain += 1.5 if near and n == m else -1.5
        fit += near and n == m
    if fit:
        reasons.append(f"{fit} notch{'es' if fit > 1 else ''} meet")
    return gain


def _best_together(pattern: Pattern, pairs: Sequence[_Pair]) -> list[_Pair]:
    """Return the pairs of greatest total gain that can all be sewn."""
    if not pairs:
        return []
    # half the time of loading a pattern, and only a proposal needs it
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_matrix

    rows: list[list[int]] = []
    by_edge: dict[str, list[int]] = {}
    for k, pair in enumerate(pairs):
        for edge in pair.edges:
            by_edge.setdefault(edge, []).append(k)
    rows += [ks for ks in by_edge.values() if len(ks) > 1]
    corners: dict[tuple[str, str], list[int]] = {}
    for k, pair in enumerate(pairs):
        for key in _corners_closed(pattern, pair.a.parts, pair.b.parts):
            corners.setdefault(key, []).append(k)
    rows += [ks for ks in corners.values() if len(ks) > 1]
    # two pieces are both right side up, or one is turned over: all seams between them are walked accordingly
    hands = sorted({h for p in pairs for h in (_hand(p),) if h is not None})
    count = len(pairs) + len(hands)
    entries: list[tuple[int, int, float]] = [(r, k, 1.0) for r, ks in enumerate(rows) for k in set(ks)]
    upper = [1.0] * len(rows)
    for k, pair in enumerate(pairs):
        hand = _hand(pair)
        if hand is not None:
            entries += [(len(upper), k, 1.0), (len(upper), len(pairs) + hands.index(hand), -1.0)]
            upper.append(0.0)
    for both in {h[:2] for h in hands}:
        entries += [(len(upper), len(pairs) + n, 1.0) for n, h in enumerate(hands) if h[:2] == both]
        upper.append(1.0)
    constraints = []
    if upper:
        table = np.array(entries)
        at = (table[:, 0].astype(np.intp), table[:, 1].astype(np.intp))
        matrix = csr_matrix((table[:, 2], at), shape=(len(upper), count))
        constraints = [LinearConstraint(matrix, -np.inf, np.array(upper))]
    gains = np.concatenate([[p.gain for p in pairs], np.zeros(len(hands))])
    found = milp(
        -gains, integrality=np.ones(count, dtype=np.int64), bounds=Bounds(0.0, 1.0), constraints=constraints
    )
    if found.x is None:
        return []
    return [pair for pair, chosen in zip(pairs, found.x[: len(pairs)], strict=True) if chosen > 0.5]


def _hand(pair: _Pair) -> tuple[str, str, bool] | None:
    """Return the two pieces of a pair and whether one of them lies turned over; nothing within one piece."""
    one, other = sorted((str(pair.a.parts[0].piece), str(pair.b.parts[0].piece)))
    return None if one == other else (one, other, pair.a.parts[0].reverse == pair.b.parts[0].reverse)


def _corners_closed(
    pattern: Pattern, a: Sequence[RunPart], b: Sequence[RunPart]
) -> Iterator[tuple[str, str]]:
    """Yield the pairs of corners that sewing ``a`` to ``b`` brings together; a second seam there would close
    them."""
    for first in (True, False):
        corner = []
        for run in (a, b):
            part = run[0 if first else -1]
            try:
                piece, edge = pattern.edge(part.edge)
            except NotFound:
                break
            index = next(i for i, e in enumerate(piece.edges) if e.id == edge.id)
            at_start = first != part.reverse
            corner.append(f"{piece.id}/{index if at_start else (index + 1) % len(piece.edges)}")
        if len(corner) == 2:
            yield (min(corner), max(corner))


def _rival_gain(pair: _Pair, pairs: Sequence[_Pair]) -> float:
    """Return the greatest gain of another pair that wants one of the same edges, 0 where there is none."""
    others = (p.gain for p in pairs if p.edges & pair.edges and p.edges != pair.edges)
    return max(others, default=0.0)


def _proposal(pair: _Pair, rival: float) -> Proposal:
    margin = pair.gain - max(rival, 2.0)
    ease = pair.a.length_mm - pair.b.length_mm
    return Proposal(
        pair.a.parts,
        pair.b.parts,
        round(ease, 1) if abs(ease) > 5.0 else 0.0,
        round(1.0 / (1.0 + math.exp(-margin / 1.5)), 3),
        pair.reasons,
    )


# ---------------------------------------------------------------- runs over several pieces


def _chain_pairs(
    pattern: Pattern, lines: dict[str, _Line], chosen: Sequence[_Pair], taken: set[str]
) -> tuple[list[Proposal], set[str]]:
    links = _links(pattern, chosen)
    left = {e: line for e, line in lines.items() if e not in taken}
    chains = {c.parts: c for c in _chains(pattern, left, links)}
    candidates: list[_Pair] = []
    for chain in chains.values():
        own = {p.edge for p in chain.parts}
        pieces = {p.piece for p in chain.parts}
        for edge_id, line in left.items():
            if edge_id in own or line.parts[0].piece in pieces:
                continue
            if any(links.get((edge_id, end), ("", ""))[0] in own for end in ("start", "end")):
                continue  # one goes on into the other: they are one line of the garment, and no mates
            for turned in (line.backwards(), line):
                over = turned.length_mm - chain.length_mm
                if not -2.0 - 0.02 * chain.length_mm <= over <= CAP_EASE_SHARE * chain.length_mm + 2.0:
                    continue
                gain = (
                    3.0
                    - min((max(over, 0.0) / (0.12 * chain.length_mm)) ** 2, 1.0)
                    - (2.0 if over < -1.5 else 0.0)
                )
                reasons = [f"it is {over:+.0f} mm beside {len(chain.parts)} edges over the seams"]
                gain += _notch_gain(chain, turned, reasons)
                if chain.words & turned.words:
                    gain += 3.0
                    reasons.append(f"both are called “{min(chain.words & turned.words)}”")
                gain += 0.4 * (len(chain.parts) - 1)
                candidates.append(_Pair(turned, chain, gain, tuple(reasons)))
    candidates = [c for c in candidates if c.gain > 0.0]
    proposals: list[Proposal] = []
    used: set[str] = set()
    for pair in sorted(candidates, key=lambda c: -c.gain):
        if pair.edges & used:
            continue
        rivals = [c for c in candidates if c is not pair and c.edges & pair.edges and c.edges != pair.edges]
        proposals.append(_proposal(pair, max((c.gain for c in rivals), default=0.0)))
        used |= pair.edges
    return proposals, used


_EdgeEnd = tuple[str, str]


def _links(pattern: Pattern, chosen: Sequence[_Pair]) -> dict[_EdgeEnd, _EdgeEnd]:
    """Return which end of a free edge goes on into which other one over a seam, said or proposed."""
    sewn = [(pair.a.parts, pair.b.parts) for pair in chosen]
    sewn += [(s.a, s.b) for s in pattern.seams.values() if not s.b_mirrored and _whole(pattern, s)]
    links: dict[_EdgeEnd, _EdgeEnd] = {}
    for a, b in sewn:
        for first in (True, False):
            ends = []
            for run in (a, b):
                part = run[0 if first else -1]
                piece, edge = pattern.edge(part.edge)
                end: End = "start" if first != part.reverse else "end"
                free, _ = beyond_darts(piece, edge.id, end)
                ends.append((str(free.id), "end" if end == "start" else "start"))
            links[ends[0]] = ends[1]
            links[ends[1]] = ends[0]
    return links


def _whole(pattern: Pattern, seam: Seam) -> bool:
    """Whether all edges of a seam are still there."""
    try:
        for part in seam.parts():
            pattern.edge(part.edge)
    except NotFound:
        return False
    return True


def _chains(pattern: Pattern, left: dict[str, _Line], links: dict[_EdgeEnd, _EdgeEnd]) -> Iterator[_Line]:
    """Yield runs of two and more free edges that go on over seams, and single ones."""
    for edge_id in left:
        for reverse in (False, True):
            parts = [(edge_id, reverse)]
            yield _chain_line(pattern, left, parts)
            while len(parts) < MOST_CHAIN:
                last, backwards = parts[-1]
                following = links.get((last, "start" if backwards else "end"))
                if following is None or following[0] not in left or following[0] in {e for e, _ in parts}:
                    break
                parts.append((following[0], following[1] == "end"))
                yield _chain_line(pattern, left, parts)


def _chain_line(pattern: Pattern, left: dict[str, _Line], parts: Sequence[tuple[str, bool]]) -> _Line:
    run = tuple(RunPart(left[e].parts[0].piece, left[e].parts[0].edge, r) for e, r in parts)
    walked = run_of(pattern, run)
    words: frozenset[str] = frozenset.intersection(*(left[e].words for e, _ in parts))
    return _Line(
        run,
        walked.length_mm,
        tuple((n.at_mm, n.notch.count) for n in walked.notches()),
        (0.0, 0.0),
        ("seam", "seam"),
        0.0,
        0.0,
        words,
    )


def _mirrored(pattern: Pattern, lines: dict[str, _Line], taken: set[str]) -> list[Proposal]:
    """Return centre seams: an upright edge of a piece that is cut in pairs, sewn to its own mirror image."""
    made = []
    for edge_id, line in lines.items():
        piece, edge = pattern.edge(edge_id)
        if edge_id in taken or piece.fold is not None or not any(c.pairs for c in piece.cuts):
            continue
        if line.lean_deg > 20.0 or abs(turn_deg(edge.path.tangent_at(0.0), (0.0, 1.0))) % 180.0 > 60.0:
            continue
        part = line.parts[0]
        words = {"centre", "center", "middle", "cb", "cf"} & set(edge.name.lower().split())
        made.append(
            Proposal(
                (part,),
                (part,),
                0.0,
                0.8 if words else 0.4,
                ("the piece is cut as a pair and this edge has no mate",),
                True,
            )
        )
    return made
