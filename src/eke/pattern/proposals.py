"""Propose which edges are sewn together, from lengths, corners, notches, names and the order round each piece.

The maker confirms every one; each proposal has a confidence and says in words what speaks for it.

How it works
------------
1. Every pair of unsewn edges, in both directions, gets a *gain*: what speaks for it less what speaks against it
   (:mod:`eke.pattern.proposing.evidence`).
2. Edges that would go on into each other over such pairs, over darts or round a corner are chained (an armhole over
   front and back), and the chains compared with edges and with each other (:mod:`eke.pattern.proposing.chains`).
3. An edge of a piece that is cut in pairs may be sewn to its own mirror image.
4. Those of greatest gain in all are chosen together (:mod:`eke.pattern.proposing.choice`). How much would be lost
   without one of them says how sure it is (:func:`confidence_of`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Final

from eke.pattern.corners import index_of
from eke.pattern.model import CutOf, EdgeId, Pattern, RunPart
from eke.pattern.proposing.chains import Link, chains, closed_by, goes_round, joined_by, links_over
from eke.pattern.proposing.choice import Candidate, best_together
from eke.pattern.proposing.evidence import HEM_LOSS, MAYBE_GAIN, SEWN_GAIN, STRAIGHT_BULGE_DEG, evidence
from eke.pattern.proposing.lines import BOTH_ENDS, EdgeEnd, Line, beyond, free_lines, kinds_told
from eke.pattern.proposing.words import groups_of

AS_GOOD: Final = 0.38
"""How often a seam is right that could be left out at no loss, since something else is as good …"""
CLEAR_GAIN: Final = 1.41
"""… a loss of so much gain halves what is left of the doubt …"""
STEEPNESS: Final = 3
"""… and it goes with the cube beyond: what is a little behind is a rival still, what is far behind is none."""
LEAST_EASE_MM: Final = 5.0
"""A difference smaller than this is the tracing's, and no ease that was meant."""
MOST_CANDIDATES: Final = 6
"""So many candidates for each edge are weighed together, best first."""
MIRRORED_GAIN: Final = -1.8
"""What an edge starts with that may be sewn to its own mirror image."""
SQUARE_DEG: Final = 12.0
"""The ends of a band are square within this."""
CENTRE_GROUPS: Final = frozenset({8, 14})


@dataclass(frozen=True, slots=True)
class Proposal:
    """Two runs that are probably sewn together. ``confidence`` 0 to 1; ``reasons`` are plain sentences."""

    a: tuple[RunPart, ...]
    b: tuple[RunPart, ...]
    ease_mm: float
    confidence: float
    reasons: tuple[str, ...]
    b_mirrored: bool = False


def propose_seams(pattern: Pattern) -> tuple[Proposal, ...]:
    """Return the seams that are probably meant among edges that belong to none, surest first."""
    lines = free_lines(pattern)
    told = kinds_told(pattern)
    # corners that a seam has closed already are not closed again, and an edge is no mate of what it goes on in
    closed = {
        corner
        for seam in pattern.seams.values()
        if not seam.b_mirrored
        for corner in _closed_by_seam(pattern, seam.a, seam.b)
    }
    joined = {frozenset((end[0], link.to[0])) for end, on in links_over(pattern, []).items() for link in on}
    first = [
        c
        for one, other in combinations(lines.values(), 2)
        for c in _pairs(pattern, one, other, told=told, links=None)
        if c.gain > -1.5 and not closed & set(c.closes) and c.edges not in joined
    ]
    first = _best_few(first)
    links = links_over(pattern, first)
    pairs = [_with_ring(c, links, told=told) for c in first]
    runs = list(chains(pattern, lines, links))
    further = [
        c
        for c in _over_chains(pattern, lines, runs, links, told=told)
        if c.gain > 0.0 and not closed & set(c.closes)
    ]
    candidates = [*pairs, *_mirrored(pattern, lines, told=told), *_best_few(further)]
    chosen, gain = best_together(candidates)
    proposals = []
    for k in chosen:
        if candidates[k].gain <= 0.0 and not any(k in candidates[j].needs for j in chosen):
            continue
        same = {j for j, c in enumerate(candidates) if _same(c, candidates[k])}
        margin = gain - best_together(candidates, without=same)[1]
        proposals.append(_proposal(candidates[k], margin))
    return tuple(sorted(proposals, key=lambda p: -p.confidence))


def _same(one: Candidate, other: Candidate) -> bool:
    """Whether two candidates are one seam, walked one way or the other."""
    if one.b_mirrored != other.b_mirrored:
        return False
    return {one.a.edges, one.b.edges} == {other.a.edges, other.b.edges}


def _pairs(
    pattern: Pattern,
    one: Line,
    other: Line,
    *,
    told: bool,
    links: Mapping[EdgeEnd, Sequence[Link]] | None,
) -> Iterator[Candidate]:
    """Yield two lines sewn either way round."""
    ring = None if links is None else _ring(one, other, links)
    for turned in (other.backwards(), other):
        # within one piece mates are walked against one another: cloth has two faces, and a tube has an outside
        if one.pieces & turned.pieces and one.parts[0].reverse == turned.parts[0].reverse:
            continue
        found = evidence(one, turned, told=told, ring=ring)
        if found.gain == -math.inf:
            continue
        yield Candidate(
            one,
            turned,
            found.gain,
            found.reasons,
            closed_by(pattern, one.parts, turned.parts),
            joins=joined_by(pattern, one, turned),
            spans=_spans(pattern, one, turned),
        )


def _spans(pattern: Pattern, one: Line, other: Line) -> tuple[int, int] | None:
    """The places of two edges round their piece, where they are of one piece."""
    if len(one.parts) + len(other.parts) > 2 or one.pieces != other.pieces:
        return None
    piece = pattern.piece(one.parts[0].piece)
    return index_of(piece, one.parts[0].edge), index_of(piece, other.parts[0].edge)


def _ring(one: Line, other: Line, links: Mapping[EdgeEnd, Sequence[Link]]) -> bool | None:
    both = (goes_round(one, links), goes_round(other, links))
    return True if all(both) else False if any(both) else None


def _with_ring(pair: Candidate, links: Mapping[EdgeEnd, Sequence[Link]], *, told: bool) -> Candidate:
    found = evidence(pair.a, pair.b, told=told, ring=_ring(pair.a, pair.b, links))
    return replace(pair, gain=found.gain, reasons=found.reasons)


def _best_few(candidates: Sequence[Candidate]) -> list[Candidate]:
    """Return those that are among the best of one of their edges."""
    count: dict[EdgeId, int] = {}
    kept = []
    for candidate in sorted(candidates, key=lambda c: -c.gain):
        if any(count.get(e, 0) < MOST_CANDIDATES for e in candidate.edges):
            kept.append(candidate)
            for e in candidate.edges:
                count[e] = count.get(e, 0) + 1
    return kept


def _over_chains(
    pattern: Pattern,
    lines: Mapping[EdgeId, Line],
    runs: Sequence[Line],
    links: Mapping[EdgeEnd, Sequence[Link]],
    *,
    told: bool,
) -> Iterator[Candidate]:
    """Yield chains sewn to single edges, and to other chains of about their length."""
    for run in runs:
        for line in lines.values():
            if line.pieces & run.pieces or not 0.7 <= line.length_mm / run.length_mm <= 2.5:
                continue
            yield from _pairs(pattern, line, run, told=told, links=links)
    ordered = sorted((r for r in runs if len(r.pieces) > 1), key=lambda r: r.length_mm)
    for k, run in enumerate(ordered):
        for longer in ordered[k + 1 :]:
            if longer.length_mm > 1.1 * run.length_mm:
                break
            if not run.pieces & longer.pieces and len(run.parts) + len(longer.parts) <= 5:
                yield from _pairs(pattern, longer, run, told=told, links=links)


def _mirrored(pattern: Pattern, lines: Mapping[EdgeId, Line], *, told: bool) -> Iterator[Candidate]:
    """Yield centre seams: an edge of a piece that is cut in pairs, sewn to its own mirror image."""
    cuts_told = any(p.cuts != (CutOf(),) for p in pattern.pieces.values())
    for edge_id, line in lines.items():
        piece, _ = pattern.edge(edge_id)
        pairs = any(c.pairs for c in piece.cuts)
        folded = piece.fold is not None
        if cuts_told and not pairs and not folded:
            continue
        # a band on the fold is closed to a ring by its other end
        gain = (
            MIRRORED_GAIN + (SEWN_GAIN if told else MAYBE_GAIN) - (0.0 if pairs else 1.0 if folded else 2.0)
        )
        gain -= HEM_LOSS if line.hemlike and not told else 0.0
        if folded and (
            abs(line.bulge_deg) > STRAIGHT_BULGE_DEG
            or any(abs(angle - 90.0) > SQUARE_DEG for angle in line.angles_deg)
        ):
            continue
        for angle in line.angles_deg:
            # the neck, the waist, the hem run on over the middle
            miss = abs(2.0 * angle - 180.0)
            if abs(angle - 180.0) > 25.0:  # else the line goes on, and so does the seam
                gain += 0.7 if miss <= 16.0 else -min((miss / 60.0) ** 2, 1.0)
        if line.lean_deg is not None and abs(line.bulge_deg) < STRAIGHT_BULGE_DEG:
            gain += 0.5 - min((line.lean_deg / 30.0) ** 2, 3.0)
        groups = groups_of(line.words)
        if groups:
            gain += 2.0 if groups & CENTRE_GROUPS else -2.0
        if gain > 0.0:
            reason = (
                "the piece is cut as a pair and this edge has no mate"
                if pairs
                else "it lies on a fold and this edge has no mate"
                if folded
                else "the piece has no fold and this edge no mate"
            )
            beside = frozenset(beyond(pattern, edge_id, end)[0] for end in BOTH_ENDS)
            yield Candidate(line, line, gain, (reason,), (), b_mirrored=True, beside=beside)


def _closed_by_seam(
    pattern: Pattern, a: Sequence[RunPart], b: Sequence[RunPart]
) -> tuple[tuple[EdgeEnd, EdgeEnd], ...]:
    """Corners that a seam brings together; none where one of its edges is gone."""
    known = {e.id for p in pattern.pieces.values() for e in p.edges}
    if not all(pattern.resolve(p.edge) in known for p in (*a, *b)):
        return ()
    one, other = ([replace(p, edge=EdgeId(pattern.resolve(p.edge))) for p in run] for run in (a, b))
    return closed_by(pattern, one, other)


def _proposal(candidate: Candidate, margin: float) -> Proposal:
    ease = candidate.a.length_mm - candidate.b.length_mm
    if (candidate.a if ease > 0.0 else candidate.b).gathered:
        ease = 0.0  # its gathers take that up, whatever it is
    return Proposal(
        candidate.a.parts,
        candidate.b.parts,
        round(ease, 1) if abs(ease) > LEAST_EASE_MM else 0.0,
        round(confidence_of(margin), 3),
        candidate.reasons,
        candidate.b_mirrored,
    )


def confidence_of(margin: float) -> float:
    """Return how often a seam is right without which the best map loses ``margin`` of its gain.

    Fitted by greatest likelihood to the nine garments of ``bench/pattern`` that the proposer was improved by (54 seeds of
    tracing noise each, 2,364 proposals), and checked on the nine that were held out (2,532 proposals). A logistic rule says
    too much between 0.4 and 0.6 and too little above 0.8: up to a margin of about 0.75 a good third are right, whatever the
    margin, and from 2 on nine in ten, which is flatter first and steeper then than any logistic curve. On the garments held
    out the mean loss (minus the log of what was said of what came true) falls from 0.346 to 0.343, and fitted
    the other way about, from 0.322 to 0.318; what was said there and what was right differ by 0.03 in the mean.

    Of a single garment nothing is promised: they differ more than that. What stays below 0.7 is right oftener where the
    maker said which edges are hems and openings (0.57) than where not (0.36); a rule for each fits better, and checks worse
    (0.348), so there is one.
    """
    doubt = 1.0 / (1.0 + (max(margin, 0.0) / CLEAR_GAIN) ** STEEPNESS)
    return 1.0 - (1.0 - AS_GOOD) * doubt
