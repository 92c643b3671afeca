"""Choose the seams that do best together: a small integer programme.

Rules: an edge belongs to one seam; two corners that one seam brings together are not brought together by another; a
run over several edges needs the seams that it runs over; and pieces have two faces: each lies right side up or turned
over, so that mates are walked against one another, or alike where one of the two lies turned over.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np

from eke.pattern.model import EdgeId, PieceId
from eke.pattern.proposing.lines import EdgeEnd, Line

MOST_SECONDS: Final = 5.0
"""The programme is small; should it not be solved in this time, the best found so far is taken."""
TURNED_OVER_GAIN: Final = -1.1
"""What a piece costs that lies with the other face up: one in four does (a guess; most are traced right side up)."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """Two lines that might be sewn. ``b_mirrored``: the edge to its own mirror image, and ``beside`` it these.

    ``closes`` are the corners that the seam brings together, ``joins`` the edges that become one line over it;
    ``spans`` the places round their piece of two edges of one piece.
    """

    a: Line
    b: Line
    gain: float
    reasons: tuple[str, ...]
    closes: tuple[tuple[EdgeEnd, EdgeEnd], ...]
    b_mirrored: bool = False
    beside: frozenset[EdgeId] = frozenset()
    joins: frozenset[frozenset[EdgeId]] = frozenset()
    spans: tuple[int, int] | None = None

    @property
    def edges(self) -> frozenset[EdgeId]:
        """All edges of both sides."""
        return self.a.edges | self.b.edges

    @property
    def needs(self) -> frozenset[int]:
        """The numbers of the pairs that both sides run over."""
        return self.a.links | self.b.links

    def faces(self) -> Iterable[tuple[PieceId, PieceId, bool]]:
        """Yield pairs of pieces, and whether one of the two lies turned over."""
        if self.b_mirrored:
            return
        first = self.a.parts[0]
        for part in self.b.parts:
            yield first.piece, part.piece, first.reverse == part.reverse
        for part in self.a.parts[1:]:
            yield first.piece, part.piece, first.reverse != part.reverse


def best_together(candidates: Sequence[Candidate], without: Collection[int] = ()) -> tuple[list[int], float]:
    """Return the numbers of the candidates chosen and their gain in all; ``without`` some of them.

    The pairs that chains need come first in ``candidates``, by their numbers.
    """
    if not candidates:
        return [], 0.0
    # half the time of loading a pattern, and only a proposal needs it
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_matrix

    count = len(candidates)
    pieces = sorted({p for c in candidates for one, other, _ in c.faces() for p in (one, other)})
    face = {p: count + k for k, p in enumerate(pieces)}
    entries: list[tuple[int, int, float]] = []
    upper: list[float] = []

    def row(terms: Iterable[tuple[int, float]], most: float) -> None:
        entries.extend((len(upper), k, w) for k, w in terms)
        upper.append(most)

    for group in _clashing(candidates):
        row(((k, 1.0) for k in group), 1.0)
    for k, candidate in enumerate(candidates):
        for need in candidate.needs:
            row(((k, 1.0), (need, -1.0)), 0.0)
        for one, other, turned in set(candidate.faces()):
            if one == other:
                continue
            p, q = face[one], face[other]
            if turned:
                row(((k, 1.0), (p, -1.0), (q, -1.0)), 0.0)
                row(((k, 1.0), (p, 1.0), (q, 1.0)), 2.0)
            else:
                row(((k, 1.0), (p, 1.0), (q, -1.0)), 1.0)
                row(((k, 1.0), (p, -1.0), (q, 1.0)), 1.0)
    size = count + len(pieces)
    highest = np.ones(size)
    highest[list(without)] = 0.0
    constraints = []
    if upper:
        table = np.array(entries)
        at = (table[:, 0].astype(np.intp), table[:, 1].astype(np.intp))
        constraints = [
            LinearConstraint(
                csr_matrix((table[:, 2], at), shape=(len(upper), size)), -np.inf, np.array(upper)
            )
        ]
    gains = np.concatenate([[c.gain for c in candidates], np.full(len(pieces), TURNED_OVER_GAIN)])
    found = milp(
        -gains,
        integrality=np.ones(size, dtype=np.int64),
        bounds=Bounds(np.zeros(size), highest),
        constraints=constraints,
        options={"time_limit": MOST_SECONDS},
    )
    if found.x is None:
        return [], 0.0
    return [k for k in range(count) if found.x[k] > 0.5], float(-found.fun)


def _clashing(candidates: Sequence[Candidate]) -> Iterable[list[int]]:
    """Yield groups of candidates of which only one can be sewn."""
    by_edge: dict[EdgeId, list[int]] = {}
    by_corner: dict[tuple[EdgeEnd, EdgeEnd], list[int]] = {}
    for k, candidate in enumerate(candidates):
        for edge in candidate.edges:
            by_edge.setdefault(edge, []).append(k)
        for corner in set(candidate.closes):
            by_corner.setdefault(corner, []).append(k)
    for groups in (by_edge.values(), by_corner.values()):
        yield from (group for group in groups if len(group) > 1)
    # two edges that one seam makes one line of the garment are not sewn to each other
    own: dict[frozenset[EdgeId], list[int]] = {}
    for k, candidate in enumerate(candidates):
        own.setdefault(candidate.edges, []).append(k)
    for k, candidate in enumerate(candidates):
        yield from ([j, k] for joined in candidate.joins for j in own.get(joined, ()) if j != k)
    # a piece sewn to itself is a tube; two of its seams do not cross
    tubes = [(k, c) for k, c in enumerate(candidates) if c.spans is not None]
    for (j, one), (k, other) in combinations(tubes, 2):
        if one.a.parts[0].piece == other.a.parts[0].piece and _cross(one.spans, other.spans):
            yield [j, k]
    # a piece has one centre; its seam may have a corner, as at the back of a hood
    mirrored = [(k, c.a.parts[0]) for k, c in enumerate(candidates) if c.b_mirrored]
    for (j, this), (k, that) in combinations(mirrored, 2):
        if this.piece == that.piece and that.edge not in candidates[j].beside:
            yield [j, k]


def _cross(one: tuple[int, int] | None, other: tuple[int, int] | None) -> bool:
    """Whether two seams within one piece take turns round it, as if it were sewn to a torus."""
    if one is None or other is None or set(one) & set(other):
        return False
    low, high = min(one), max(one)
    return (low < other[0] < high) != (low < other[1] < high)
