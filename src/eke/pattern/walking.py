"""Walk seams: lay one run along the other and compare lengths, notches, and how the ends join.

Words
-----
wanted difference
    How much longer run A is than run B on purpose: the seam ease.
running difference
    How far A is ahead of B at a place of the seam, with the ease that should be used up by then taken off.
free edge
    The edge that goes on from the end of a seam and is not part of it. Where the free edges of both sides
    belong to one line of the garment (neck, armhole, hem), they must run on smoothly: the two corners add up
    to 180°.
taken up
    What is gathered or eased on purpose along a run: it is shorter by that when it is sewn.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from eke.pattern import gathers
from eke.pattern.corners import beyond_darts, interior_angle_deg
from eke.pattern.measure import NotchOnRun, Run, Stretch, run_of
from eke.pattern.model import Edge, Pattern, Piece, Seam
from eke.pattern.tolerances import DEFAULT, Tolerances

SeamEnd = Literal["start", "end"]


@dataclass(frozen=True, slots=True)
class NotchPair:
    """A notch of run A and its mate on run B. ``apart_mm``: how far B's lies from where it should, along B."""

    a: NotchOnRun
    b: NotchOnRun
    apart_mm: float


@dataclass(frozen=True, slots=True)
class Join:
    """How the free edges run on at one end of a seam, when they belong to one line of the garment."""

    at: SeamEnd
    angle_a_deg: float
    angle_b_deg: float
    free_a: Edge
    free_b: Edge
    piece_a: Piece
    piece_b: Piece

    @property
    def off_deg(self) -> float:
        """How far the two corners are from adding up to 180°: above 0 the line dips into the garment, below it gets
        a point."""
        return self.angle_a_deg + self.angle_b_deg - 180.0


@dataclass(frozen=True, slots=True)
class Walk:
    """What walking one seam showed. ``taken_a`` and ``taken_b`` are the gathered stretches of both runs."""

    seam: Seam
    a: Run
    b: Run
    pairs: tuple[NotchPair, ...]
    alone: tuple[NotchOnRun, ...]
    joins: tuple[Join, ...]
    taken_a: tuple[gathers.TakenUp, ...] = ()
    taken_b: tuple[gathers.TakenUp, ...] = ()

    @property
    def difference_mm(self) -> float:
        """How much longer A is than it should be beside B: 0 where the seam fits, gathers drawn up and ease counted."""
        return self.sewn_a_mm - self.sewn_b_mm - self.seam.ease_mm

    @property
    def sewn_a_mm(self) -> float:
        """Length of run A with its gathers drawn up."""
        return self.a.length_mm - sum(t.mm for t in self.taken_a)

    @property
    def sewn_b_mm(self) -> float:
        """Length of run B with its gathers drawn up."""
        return self.b.length_mm - sum(t.mm for t in self.taken_b)

    def running(self, steps: int = 40) -> tuple[tuple[float, float], ...]:
        """Return (mm along A, running difference there): 0 at the start, stepwise from notch pair to pair."""
        knots = [
            (0.0, 0.0),
            *((p.a.at_mm, p.b.at_mm) for p in self.pairs),
            (self.a.length_mm, self.b.length_mm),
        ]
        made = []
        for i in range(steps + 1):
            mm = self.a.length_mm * i / steps
            k = max(j for j, knot in enumerate(knots) if knot[0] <= mm + 1e-9)
            if k == len(knots) - 1:
                on_b = knots[-1][1]
            else:
                (a0, b0), (a1, b1) = knots[k], knots[k + 1]
                on_b = b0 + (b1 - b0) * ((mm - a0) / (a1 - a0) if a1 > a0 else 1.0)
            made.append((mm, mm - on_b - (mm - self.expected_on_b(mm))))
        return tuple(made)

    def expected_on_b(self, a_mm: float) -> float:
        """Return where on B the place ``a_mm`` of A should lie, with the ease and gathers used up by then taken off.

        Where the ease has no place said, it is spread evenly over the whole seam.
        """
        start, stop = self._ease_span()
        share = min(max((a_mm - start) / (stop - start), 0.0), 1.0) if stop > start else 1.0
        sewn = gathers.sewn_mm(self.taken_a, a_mm) - self.seam.ease_mm * share
        return gathers.flat_mm(self.taken_b, sewn)

    def _ease_span(self) -> tuple[float, float]:
        if self.seam.ease_between is not None:
            places = {n.notch.id: n.at_mm for n in self.a.notches()}
            on_b = {n.notch.id: n.at_mm for n in self.b.notches()}
            found = []
            for notch in self.seam.ease_between:
                if notch in places:
                    found.append(places[notch])
                else:
                    mate = next((p.a.at_mm for p in self.pairs if p.b.notch.id == notch), None)
                    if mate is None and notch in on_b:
                        mate = on_b[notch] / max(self.b.length_mm, 1e-9) * self.a.length_mm
                    if mate is not None:
                        found.append(mate)
            if len(found) == 2:
                return min(found), max(found)
        return 0.0, self.a.length_mm


def walk(pattern: Pattern, seam_id: str, tolerances: Tolerances = DEFAULT) -> Walk:
    """Walk one seam.

    Raises
    ------
    NotFound
        When there is no such seam, or one of its edges is gone.
    """
    seam = pattern.seam(seam_id)
    a, b = run_of(pattern, seam.a), run_of(pattern, seam.b)
    bare = Walk(seam, a, b, (), (), (), gathers.taken_up(a), gathers.taken_up(b))
    surplus = bare.difference_mm
    bare = replace(
        bare,
        taken_a=gathers.drawn_up(bare.taken_a, surplus),
        taken_b=gathers.drawn_up(bare.taken_b, -surplus),
    )
    pairs, alone = _matched(bare, tolerances)
    # the ease may sit between notches of B: with the pairs known its place on A is known
    pairs, alone = _matched(replace(bare, pairs=pairs, alone=alone), tolerances)
    joins = tuple(j for end in ("start", "end") if (j := join_at(pattern, seam, a, b, end)) is not None)
    return replace(bare, pairs=pairs, alone=alone, joins=joins)


def _matched(walk: Walk, tolerances: Tolerances) -> tuple[tuple[NotchPair, ...], tuple[NotchOnRun, ...]]:
    """Pair notches of the same count in order, so that the least distance is left (alignment by dynamic
    programming: Needleman & Wunsch, J. Mol. Biol. 48, 1970, with distances as costs)."""
    a, b = walk.a.notches(), walk.b.notches()
    if _same_edges(walk.seam):
        # a seam of an edge with its own mirror image: each notch is its own mate
        return tuple(NotchPair(n, n, 0.0) for n in a), ()
    skip = tolerances.notch_mate_mm / 2.0
    best: list[list[float]] = [[skip * (i + j) for j in range(len(b) + 1)] for i in range(len(a) + 1)]
    for i in range(1, len(a) + 1):
        for j in range(1, len(b) + 1):
            best[i][j] = min(
                best[i - 1][j] + skip,
                best[i][j - 1] + skip,
                best[i - 1][j - 1] + _cost(walk, a[i - 1], b[j - 1], tolerances),
            )
    pairs: list[NotchPair] = []
    alone: list[NotchOnRun] = []
    i, j = len(a), len(b)
    while i or j:
        if i and j and best[i][j] == best[i - 1][j - 1] + _cost(walk, a[i - 1], b[j - 1], tolerances):
            i, j = i - 1, j - 1
            pairs.append(NotchPair(a[i], b[j], b[j].at_mm - walk.expected_on_b(a[i].at_mm)))
        elif i and best[i][j] == best[i - 1][j] + skip:
            i -= 1
            alone.append(a[i])
        else:
            j -= 1
            alone.append(b[j])
    return tuple(reversed(pairs)), tuple(reversed(alone))


def _cost(walk: Walk, a: NotchOnRun, b: NotchOnRun, tolerances: Tolerances) -> float:
    if a.notch.count != b.notch.count:
        return float("inf")
    gap = abs(b.at_mm - walk.expected_on_b(a.at_mm))
    return gap if gap <= tolerances.notch_mate_mm else float("inf")


def _same_edges(seam: Seam) -> bool:
    return {p.edge for p in seam.a} == {p.edge for p in seam.b}


def join_at(pattern: Pattern, seam: Seam, a: Run, b: Run, end: SeamEnd) -> Join | None:
    """Return how the free edges join at one end of a seam, or nothing where they are not one line."""
    stretch_a, stretch_b = (
        (a.stretches[0], b.stretches[0]) if end == "start" else (a.stretches[-1], b.stretches[-1])
    )
    side_a, side_b = _corner(stretch_a, end), _corner(stretch_b, end)
    free_a, _ = beyond_darts(stretch_a.piece, *side_a)
    free_b, _ = beyond_darts(stretch_b.piece, *side_b)
    if not _one_line(pattern, free_a, free_b):
        return None
    return Join(
        end,
        interior_angle_deg(stretch_a.piece, *side_a),
        interior_angle_deg(stretch_b.piece, *side_b),
        free_a,
        free_b,
        stretch_a.piece,
        stretch_b.piece,
    )


def _corner(stretch: Stretch, end: SeamEnd) -> tuple[str, Literal["start", "end"]]:
    return stretch.edge.id, stretch.first_end if end == "start" else stretch.last_end


def _one_line(pattern: Pattern, one: Edge, other: Edge) -> bool:
    """Whether two free edges are one line of the garment: both hem or opening, or neighbours in a run.

    Two edges that are in no seam yet are taken for one line when both are to be sewn: a neck before its
    facing is said.
    """
    if "fold" in (one.kind, other.kind) or one.kind != other.kind:
        return False
    if one.kind in ("hem", "opening"):
        return True
    seams_one, seams_other = pattern.seams_of(one.id), pattern.seams_of(other.id)
    if not seams_one and not seams_other:
        return True
    for seam in seams_one:
        for run in (seam.a, seam.b):
            ids = [pattern.resolve(p.edge) for p in run]
            if (
                one.id in ids
                and other.id in ids
                and (one.id == other.id or abs(ids.index(one.id) - ids.index(other.id)) == 1)
            ):
                return True
            if one.id in ids and one.id == other.id:
                return True
    return False
