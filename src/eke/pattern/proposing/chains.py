"""Runs over several edges: which free edge goes on into which over a seam that might be sewn, over a dart, round a corner."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from eke.errors import NotFound
from eke.pattern.corners import End, interior_angle_deg
from eke.pattern.model import EdgeId, Pattern, RunPart, Seam
from eke.pattern.proposing.choice import Candidate
from eke.pattern.proposing.evidence import runs_together
from eke.pattern.proposing.lines import BOTH_ENDS, EdgeEnd, Line, beyond, chained, corner_at

MOST_CHAIN: Final = 5
"""Edges that one side of a seam has at most: four gores of a skirt and one to spare."""
RUNS_ON_DEG: Final = 32.0
"""A line of the garment goes on over a seam when the two corners add to 180° within this."""
STRAIGHT_DEG: Final = 25.0
"""On one piece an edge goes on into the next where the corner is flatter than this …"""
SQUARE_DEG: Final = (55.0, 125.0)
"""… or goes round a corner of about so much, as a strip round a bag."""


@dataclass(frozen=True, slots=True)
class Link:
    """Where a line goes on: the edge and the end that it begins at, the pair that must be sewn for it, whether it turns, and whether it runs on smoothly."""

    to: EdgeEnd
    pair: int | None
    turns: bool = False
    smooth: bool = True


def corner_of(pattern: Pattern, edge_id: EdgeId, end: End) -> EdgeEnd:
    """Return the one name of a corner: the edge that starts there, darts passed over."""
    if end == "start":
        return edge_id, "start"
    return beyond(pattern, edge_id, "end")


def closed_by(
    pattern: Pattern, a: Sequence[RunPart], b: Sequence[RunPart]
) -> tuple[tuple[EdgeEnd, EdgeEnd], ...]:
    """Return the pairs of corners that sewing run ``a`` to run ``b`` brings together."""
    made = []
    for end in BOTH_ENDS:
        one, two = (corner_of(pattern, *corner_at(run, end)) for run in (a, b))
        made.append((min(one, two), max(one, two)))
    return tuple(made)


def joined_by(pattern: Pattern, a: Line, b: Line) -> frozenset[frozenset[EdgeId]]:
    """Return the pairs of edges that become one line of the garment when ``a`` is sewn to ``b``."""
    made = set()
    for end in BOTH_ENDS:
        one, two = (beyond(pattern, *line.corner(end))[0] for line in (a, b))
        if one != two:
            made.add(frozenset((one, two)))
    return frozenset(made)


def links_over(pattern: Pattern, pairs: Sequence[Candidate]) -> dict[EdgeEnd, list[Link]]:
    """Return where each free edge goes on at each of its ends, over seams said and over pairs that might be."""
    links: dict[EdgeEnd, list[Link]] = {}
    sewn: list[tuple[Sequence[RunPart], Sequence[RunPart], int | None]] = [
        (p.a.parts, p.b.parts, k) for k, p in enumerate(pairs) if not p.b_mirrored
    ]
    sewn += [(s.a, s.b, None) for s in pattern.seams.values() if not s.b_mirrored and _whole(pattern, s)]
    for a, b, number in sewn:
        for first in (True, False):
            sides = []
            angle = 0.0
            for run in (a, b):
                part = run[0 if first else -1]
                end: End = "start" if first != part.reverse else "end"
                piece, edge = pattern.edge(part.edge)
                angle += interior_angle_deg(piece, edge.id, end)
                sides.append(beyond(pattern, edge.id, end))
            smooth = number is None or abs(angle - 180.0) <= RUNS_ON_DEG
            links.setdefault(sides[0], []).append(Link(sides[1], number, smooth=smooth))
            links.setdefault(sides[1], []).append(Link(sides[0], number, smooth=smooth))
    return links


def goes_round(line: Line, links: Mapping[EdgeEnd, Sequence[Link]]) -> bool:
    """Whether a line closes to a ring over a seam that might be."""
    first = line.corner("start")
    return any(link.to == first for link in links.get(line.corner("end"), ()))


def chains(
    pattern: Pattern, lines: Mapping[EdgeId, Line], links: Mapping[EdgeEnd, Sequence[Link]]
) -> Iterator[Line]:
    """Yield the runs over two and more free edges, each walked one way only."""
    for edge_id in lines:
        for reverse in (False, True):
            start = lines[edge_id].backwards() if reverse else lines[edge_id]
            yield from _grown(pattern, lines, links, [start], frozenset())


def _grown(
    pattern: Pattern,
    lines: Mapping[EdgeId, Line],
    links: Mapping[EdgeEnd, Sequence[Link]],
    so_far: list[Line],
    needs: frozenset[int],
    turns: int = 0,
) -> Iterator[Line]:
    if len(so_far) > 1 and so_far[0].parts[0].edge < so_far[-1].parts[0].edge:
        yield chained(so_far, needs, turns)
    if len(so_far) == MOST_CHAIN:
        return
    used = {line.parts[0].edge for line in so_far}
    last = so_far[-1].corner("end")
    round_corner = len({line.parts[0].piece for line in so_far}) == 1
    steps = [*links.get(last, ()), *_on_one_piece(pattern, last, round_corner=round_corner)]
    for link in steps:
        edge_id, end = link.to
        if not link.smooth or edge_id not in lines or edge_id in used:
            continue
        nxt = lines[edge_id] if end == "start" else lines[edge_id].backwards()
        grown = [*so_far, nxt]
        if not runs_together(grown):
            continue
        more = needs if link.pair is None else needs | {link.pair}
        yield from _grown(pattern, lines, links, grown, more, turns + link.turns)


def _on_one_piece(pattern: Pattern, corner: EdgeEnd, *, round_corner: bool) -> Iterator[Link]:
    edge_id, end = corner
    piece, edge = pattern.edge(edge_id)
    nxt = beyond(pattern, edge.id, end)
    angle = interior_angle_deg(piece, edge.id, end)
    straight = abs(angle - 180.0) <= STRAIGHT_DEG
    square = SQUARE_DEG[0] <= angle <= SQUARE_DEG[1]
    if straight or (round_corner and square):
        yield Link(nxt, None, turns=not straight)


def _whole(pattern: Pattern, seam: Seam) -> bool:
    """Whether all edges of a seam are still there."""
    try:
        for part in seam.parts():
            pattern.edge(part.edge)
    except NotFound:
        return False
    return True
