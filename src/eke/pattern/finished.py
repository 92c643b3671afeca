"""Finished measures: what the sewn garment measures round and along, beside the body and the ease that results.

How they are taken
------------------
- A **round** follows a balance line over every outer piece that has one of its name: the part inside the net
  outline (open darts lie outside it, allowances too), twice for a half on the fold, twice for a mirrored pair, and
  as often as the piece is cut.
- Where no line has that name, edges called so count ("waist" of skirt panels, darts shut). Of two such edges sewn to
  each other (a skirt's waist and its band) the side that is not eased counts.
- A **hem** is every group of hem edges that run on into each other over seams.
- A **length** is a sewn seam (mean of both its sides) or a centre on the fold, from end to end.

Names of body measures are those of ISO 8559-1:2017 (from memory; the 1989 list is tabled in *Anthropometry, Apparel
Sizing and Design*, table 4.1).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from eke.errors import EkeError
from eke.pattern.balance import inside_mm, line_name, read_on
from eke.pattern.corners import called
from eke.pattern.gathers import gathers_on, sewn_length_mm
from eke.pattern.model import Edge, Pattern, Piece, RunPart
from eke.pattern.walking import walk

MeasureKind = Literal["round", "length"]

BODY_NAMES: Final[Mapping[str, tuple[str, ...]]] = {
    "chest": ("chest girth", "bust girth"),
    "bust": ("bust girth", "chest girth"),
    "underbust": ("under-bust girth",),
    "under-bust": ("under-bust girth",),
    "waist": ("waist girth",),
    "hip": ("hip girth",),
    "hips": ("hip girth",),
    "neck": ("neck girth",),
    "upper arm": ("upper arm girth",),
    "biceps": ("upper arm girth",),
    "elbow": ("elbow girth",),
    "wrist": ("wrist girth",),
    "thigh": ("thigh girth",),
    "knee": ("knee girth",),
    "calf": ("calf girth",),
    "ankle": ("ankle girth",),
}
"""Body measures that a line or an edge of that name is compared with, the first that was taken."""
ONE_LIMB: Final = frozenset({"upper arm", "biceps", "elbow", "wrist", "thigh", "knee", "calf", "ankle"})
"""Lines that go round one arm or leg: of a pair of sleeves only one counts."""


@dataclass(frozen=True, slots=True)
class Share:
    """What one piece gives to a measure: ``mm`` on the piece as drawn, ``times`` in the whole garment."""

    piece: str
    name: str
    mm: float
    times: int


@dataclass(frozen=True, slots=True)
class FinishedMeasure:
    """One measure of the sewn garment. ``ease_mm``: how much larger than the body it is, where that is known.

    ``edges`` are the edges that it runs along, empty where it crosses the pieces.
    """

    name: str
    kind: MeasureKind
    mm: float
    shares: tuple[Share, ...]
    edges: tuple[str, ...] = ()
    body: str | None = None
    body_mm: float | None = None

    @property
    def ease_mm(self) -> float | None:
        """The wearing ease: finished less body; nothing where the body was not measured."""
        return None if self.body_mm is None else self.mm - self.body_mm


def times_cut(piece: Piece) -> int:
    """Return how often a piece, as drawn, is in the outer garment: its half, its pair, its count; 0 for a lining."""
    count = sum(c.count * (2 if c.pairs else 1) for c in piece.cuts if c.role == "outer")
    return count * (2 if piece.fold is not None else 1)


def finished_measures(pattern: Pattern) -> tuple[FinishedMeasure, ...]:
    """Return all measures that the pattern gives by itself: rounds, hems, then lengths."""
    rounds = _rounds(pattern)
    return (*rounds, *_hems(pattern), *_seam_lengths(pattern), *_fold_lengths(pattern))


def round_at(pattern: Pattern, name: str, pieces: Sequence[str] | None = None) -> FinishedMeasure | None:
    """Return the round of a name, of the whole garment or of some pieces only; nothing where no line is there."""
    wanted = " ".join(name.casefold().split())
    shares = [s for s in _line_shares(pattern, wanted) if pieces is None or s.piece in pieces]
    edges: tuple[str, ...] = ()
    if not shares:
        shares, edges = _edge_shares(pattern, wanted, pieces)
    if not shares:
        return None
    body, body_mm = _body(pattern, wanted)
    return FinishedMeasure(wanted, "round", _total(shares), tuple(shares), edges, body, body_mm)


def _total(shares: Iterable[Share]) -> float:
    return sum(s.mm * s.times for s in shares)


def _body(pattern: Pattern, name: str) -> tuple[str | None, float | None]:
    known = BODY_NAMES.get(name, ())
    taken = {" ".join(k.casefold().split()): mm for k, mm in pattern.measures.items()}
    for body in known:
        if body in taken:
            return body, taken[body]
    return (known[0] if known else None), None


def _rounds(pattern: Pattern) -> list[FinishedMeasure]:
    names = dict.fromkeys(
        line_name(m) for p in pattern.pieces.values() for m in p.marks if m.kind == "balance" and line_name(m)
    )
    by_edge = (n for n in BODY_NAMES if n not in names)
    return [m for n in (*names, *by_edge) for m in (round_at(pattern, n),) if m is not None]


def _line_shares(pattern: Pattern, name: str) -> list[Share]:
    made = []
    for piece in pattern.pieces.values():
        times = _times(piece, name)
        mark = next((m for m in piece.marks if m.kind == "balance" and line_name(m) == name), None)
        if mark is None or not times or len(mark.points) < 2:
            continue
        try:
            line = read_on(mark)
        except EkeError:
            continue
        made.append(Share(piece.id, piece.name, inside_mm(piece, line), times))
    return [s for s in made if s.mm > 0.0]


def _times(piece: Piece, name: str) -> int:
    times = times_cut(piece)
    if name in ONE_LIMB and piece.fold is None and any(c.pairs for c in piece.cuts if c.role == "outer"):
        return times // 2
    return times


def _edge_shares(
    pattern: Pattern, name: str, pieces: Sequence[str] | None
) -> tuple[list[Share], tuple[str, ...]]:
    named = {
        str(e.id): (p, e)
        for p in pattern.pieces.values()
        for e in p.edges
        if e.name.casefold().strip() == name
        and e.kind != "fold"
        and _times(p, name)
        and (pieces is None or p.id in pieces)
    }
    for seam in pattern.seams.values():
        a = {pattern.resolve(p.edge) for p in seam.a}
        b = {pattern.resolve(p.edge) for p in seam.b}
        if a & set(named) and b & set(named) and a != b:
            full = [any(gathers_on(named[e][0], e) for e in run & set(named)) for run in (a, b)]
            for eased in a if (full[0] if full[0] != full[1] else seam.ease_mm >= 0.0) else b:
                named.pop(eased, None)
    shares: dict[str, Share] = {}
    for piece, edge in named.values():
        before = shares.get(piece.id)
        mm = sewn_length_mm(piece, edge) + (before.mm if before else 0.0)
        shares[piece.id] = Share(piece.id, piece.name, mm, _times(piece, name))
    return list(shares.values()), tuple(named)


def _hems(pattern: Pattern) -> list[FinishedMeasure]:
    hems = {
        str(e.id): (p, e)
        for p in pattern.pieces.values()
        for e in p.edges
        if e.kind == "hem" and times_cut(p)
    }
    group = {e: e for e in hems}

    def root(e: str) -> str:
        while group[e] != e:
            e = group[e]
        return e

    for seam in pattern.seams.values():
        try:
            joins = walk(pattern, seam.id).joins
        except EkeError:
            continue  # an edge is gone: that is found elsewhere
        for join in joins:
            if join.free_a.id in hems and join.free_b.id in hems:
                group[root(join.free_a.id)] = root(join.free_b.id)
    made = []
    for one in dict.fromkeys(root(e) for e in hems):
        own = [hems[e] for e in hems if root(e) == one]
        # a tube closed by its own seam is one sleeve or leg of a pair; else the pieces go round the body together
        pieces = list(dict.fromkeys(p.id for p, _ in own))
        limb = len(pieces) == 1 and _closes_itself(pattern, own[0][0])
        shares = [
            Share(p.id, p.name, e.path.length_mm, times_cut(p) // (2 if limb and times_cut(p) > 1 else 1))
            for p, e in own
        ]
        names = " and ".join(dict.fromkeys(p.name for p, _ in own))
        made.append(
            FinishedMeasure(
                f"hem of {names}", "round", _total(shares), tuple(shares), tuple(e.id for _, e in own)
            )
        )
    return sorted(made, key=lambda m: -m.mm)


def _closes_itself(pattern: Pattern, piece: Piece) -> bool:
    def sides(run: Sequence[RunPart]) -> set[str]:
        return {str(pattern.edge(p.edge)[0].id) for p in run}

    for seam in pattern.seams.values():
        try:
            if not seam.b_mirrored and sides(seam.a) == sides(seam.b) == {piece.id}:
                return True
        except EkeError:
            continue
    return False


def _seam_lengths(pattern: Pattern) -> list[FinishedMeasure]:
    made = []
    for seam in pattern.seams.values():
        try:
            walked = walk(pattern, seam.id)
        except EkeError:
            continue
        # an eased side is drawn up to its mate; without ease, what is left apart is shared
        eased = seam.ease_mm != 0.0
        sewn = (walked.sewn_a_mm, walked.sewn_b_mm)
        mm = min(sewn) if eased else sum(sewn) / 2.0
        edges = tuple(str(s.edge.id) for run in (walked.a, walked.b) for s in run.stretches)
        shares = tuple(
            Share(s.piece.id, s.piece.name, s.path.length_mm, 1)
            for run in (walked.a, walked.b)
            for s in run.stretches
        )
        made.append(FinishedMeasure(f"{_seam_words(pattern, seam.id)}", "length", mm, shares, edges))
    return made


def _seam_words(pattern: Pattern, seam_id: str) -> str:
    seam = pattern.seam(seam_id)
    if seam.name:
        return seam.name if "seam" in seam.name.casefold() else f"{seam.name} seam"
    piece, edge = pattern.edge(seam.a[0].edge)
    return f"seam at {called(piece, edge)} of {piece.name}"


def _fold_lengths(pattern: Pattern) -> list[FinishedMeasure]:
    made = []
    for piece in pattern.pieces.values():
        if piece.fold is None or not times_cut(piece):
            continue
        edge: Edge = piece.edge(piece.fold)
        share = Share(piece.id, piece.name, edge.path.length_mm, 1)
        made.append(FinishedMeasure(f"centre of {piece.name}", "length", share.mm, (share,), (str(edge.id),)))
    return made
