"""A place of one pattern in words of the trade, and the same place on another pattern.

No two garments share ids. What they share is what a maker calls things: "the neck of the back, near the centre", "the
side seam, a third of the way down from the armhole". A place is described by the part of the garment (front, back,
sleeve), the name of its edge or seam, and how far it lies from a neighbour of a known name; and it is found on another
pattern only where exactly one place answers to that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from eke.errors import ChangeConflict, NotFound
from eke.pattern.corners import called, folds_away, neighbour
from eke.pattern.model import Edge, Pattern, Piece, RunPart, Seam
from eke.pattern.proposing.words import GROUPS, HEM_WORDS, groups_of, words_of
from eke.sentences import in_a_row

NEAR_SHARE: Final = 0.25
"""Two places on an edge, or along a seam, are the same change of fit within this share of its length: a wedge is pinned
where the cloth gapes, a hand's breadth up or down."""
MIDDLE_SHARE: Final = 0.1
"""So near to its middle a place is the same counted from either end."""
CENTRE: Final = "centre"
DART: Final = "dart"
HEM: Final = "hem"
_PARTS: Final = frozenset({"front", "back", "sleeve"})
"""Words in a piece's name that say which part of the garment it is."""
_SIDES: Final = frozenset({"left", "right", "piece", "of", "the"})
"""Words in a piece's name that do not."""
_OTHERS: Final = frozenset(
    "band belt collar cuff facing flap gusset hood interfacing interlining lining peplum placket pocket skirt stand strap "
    "waistband yoke".split()
)
"""A front facing is no front: with one of these words all words of the name count."""

Ends = tuple[str, str]


class NotClear(ChangeConflict):
    """A place cannot be found on another pattern without doubt; the message says why."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place along an edge or a seam, in words.

    ``part`` and ``label`` say on what; ``ends`` what lies at either end of it, and ``share`` how far it is from the first
    of them, 0 to 1.
    """

    part: str
    label: str
    ends: Ends
    share: float


@dataclass(frozen=True, slots=True)
class EdgeSpot:
    """A place on an edge with what is needed to find it again; ``alike`` edges answer to its part and label."""

    spot: Spot
    piece: str
    edge: str
    alike: int
    halved: bool


@dataclass(frozen=True, slots=True)
class Found:
    """A place on another pattern. ``turned``: its edge runs the other way."""

    piece: Piece
    edge: Edge
    mm: float
    turned: bool


@dataclass(frozen=True, slots=True)
class FoundSeam:
    """A seam on another pattern. ``swapped``: its sides are the other way about; ``turned``: it is walked backwards."""

    seam: Seam
    swapped: bool
    turned: bool
    scale: float


def same(one: Spot, other: Spot) -> bool:
    """Whether two places of different garments are the same in the trade's words. Symmetric."""
    if (one.part, one.label) != (other.part, other.label):
        return False
    turned = _turned(one.ends, other.ends)
    if turned is None:  # neither end tells which is which
        return True if not set(one.ends) & set(other.ends) else _folded(one.share, other.share)
    return abs(one.share - (1.0 - other.share if turned else other.share)) <= NEAR_SHARE


def _folded(one: float, other: float) -> bool:
    return abs(min(one, 1.0 - one) - min(other, 1.0 - other)) <= NEAR_SHARE


def part_of(piece: Piece) -> str:
    """Return which part of a garment a piece is: "front" (also of a side front), "sleeve", or the words of its name."""
    words = set("".join(c if c.isalnum() else " " for c in piece.name.casefold()).split())
    told = frozenset() if words & _OTHERS else words & _PARTS
    return " ".join(sorted(told or words - _SIDES or words))


def label_of(pattern: Pattern, piece: Piece, edge: Edge) -> str:
    """Return what an edge is in the trade: the group of its name or of its seams' names, or what it is called."""
    if edge.kind == "fold":
        return CENTRE
    if folds_away(piece, edge.id):
        return DART
    words = words_of(edge.name)
    for said in (words, *(words_of(seam.name) for seam in pattern.seams_of(edge.id))):
        groups = groups_of(said)
        if groups:
            return min(GROUPS[min(groups)])
    return HEM if edge.kind == "hem" or words & HEM_WORDS else called(piece, edge).casefold()


def halved(piece: Piece) -> bool:
    """Whether a piece is drawn for one half of the body: on a fold, or cut as a pair."""
    return piece.fold is not None or any(cut.pairs for cut in piece.cuts)


# ---- edges


def spot_on(pattern: Pattern, piece: Piece, edge: Edge, mm: float) -> EdgeSpot:
    """Describe a place on an edge, ``mm`` from its start."""
    part, label = part_of(piece), label_of(pattern, piece, edge)
    length = edge.path.length_mm
    spot = Spot(part, label, _ends(pattern, piece, edge), min(max(mm / length, 0.0), 1.0) if length else 0.0)
    alike = len(list(_edges(pattern, part, label)))
    return EdgeSpot(spot, piece.name, called(piece, edge), alike, halved(piece))


def find_spot(pattern: Pattern, wanted: EdgeSpot, *, ends: bool = False) -> Found:
    """Return the place of a pattern that answers to a description; ``ends``: it must be clear which end is which.

    Raises
    ------
    NotClear
        When none does, or more than one may, or the piece is drawn whole in one pattern and as a half in the other.
    """
    every = list(_edges(pattern, wanted.spot.part, wanted.spot.label))
    said = f"“{wanted.edge}” of “{wanted.piece}”"
    if not every:
        raise NotClear(f"Nothing here answers to the {said}.")
    names = (wanted.piece.casefold(), wanted.edge.casefold())
    exact = [one for one in every if (one[0].name.casefold(), called(*one).casefold()) == names]
    found = every if len(every) == 1 else exact
    if len(every) != wanted.alike or len(found) != 1:
        which = in_a_row(f"“{called(p, e)}” of “{p.name}”" for p, e in every)
        raise NotClear(f"It is not clear which edge here is the {said}: there is {which}.")
    ((piece, edge),) = found
    if halved(piece) != wanted.halved:
        there, here = ("for one half of the body", "whole") if wanted.halved else ("whole", "for one half")
        raise NotClear(f"“{wanted.piece}” was drawn {there} there, and “{piece.name}” is drawn {here} here.")
    turned = _turned(wanted.spot.ends, _ends(pattern, piece, edge))
    if turned is None:
        if ends or abs(wanted.spot.share - 0.5) > MIDDLE_SHARE:
            raise NotClear(f"It is not clear from which end of the {said} to measure here.")
        turned = False
    share = 1.0 - wanted.spot.share if turned else wanted.spot.share
    return Found(piece, edge, share * edge.path.length_mm, turned)


def _edges(pattern: Pattern, part: str, label: str) -> Iterator[tuple[Piece, Edge]]:
    for piece in pattern.pieces.values():
        if part_of(piece) == part:
            yield from ((piece, edge) for edge in piece.edges if label_of(pattern, piece, edge) == label)


def _ends(pattern: Pattern, piece: Piece, edge: Edge) -> Ends:
    start, end = neighbour(piece, edge.id, "start"), neighbour(piece, edge.id, "end")
    return label_of(pattern, piece, start), label_of(pattern, piece, end)


def _turned(one: Ends, other: Ends) -> bool | None:
    """Whether what lies at the ends of two lines is the other way about; None: it does not tell."""
    straight = (one[0] == other[0]) + (one[1] == other[1])
    crossed = (one[0] == other[1]) + (one[1] == other[0])
    return None if straight == crossed else crossed > straight


# ---- seams


@dataclass(frozen=True, slots=True)
class SeamSpot:
    """A seam with what is needed to find it again; ``spot`` is the place along it that a change is about."""

    spot: Spot
    name: str
    sides: tuple[tuple[str, ...], tuple[str, ...]]
    pieces: tuple[tuple[str, ...], tuple[str, ...]]
    ends: tuple[Ends, Ends]
    length_mm: float
    alike: int
    halved: bool


def spot_along(pattern: Pattern, seam: Seam, mm: float) -> SeamSpot:
    """Describe a seam and a place along it, ``mm`` from its start along its first side."""
    sides = (_keys(pattern, seam.a), _keys(pattern, seam.b))
    length = run_length(pattern, seam.a)
    # the same words whichever side comes first
    first, second = sorted(min(side, side[::-1]) for side in sides)
    spot = Spot(
        " + ".join(first),
        " + ".join(second),
        _run_ends(pattern, seam.a, parts=False),
        min(max(mm / length, 0.0), 1.0) if length else 0.0,
    )
    alike = len(list(_seams(pattern, sides)))
    both = all(halved(pattern.edge(part.edge)[0]) for part in seam.parts())
    return SeamSpot(
        spot,
        seam.name,
        sides,
        (_pieces(pattern, seam.a), _pieces(pattern, seam.b)),
        (_run_ends(pattern, seam.a), _run_ends(pattern, seam.b)),
        length,
        alike,
        both,
    )


def find_seam_like(pattern: Pattern, wanted: SeamSpot) -> FoundSeam:
    """Return the seam of a pattern that answers to a description.

    Raises
    ------
    NotClear
        When none does, or more than one may, or its sides or ends cannot be told apart.
    """
    said = (
        f"seam “{wanted.name}”"
        if wanted.name
        else f"seam of {in_a_row((*wanted.pieces[0], *wanted.pieces[1]))}"
    )
    found = list(_seams(pattern, wanted.sides))
    if not found:
        raise NotClear(f"No seam here answers to the {said}.")
    if len(found) > 1:
        exact = [s for s in found if s.name.casefold() == wanted.name.casefold() and s.name]
        if len(found) != wanted.alike or len(exact) != 1:
            raise NotClear(f"It is not clear which seam here is the {said}: {len(found)} could be.")
        found = exact
    elif wanted.alike != 1:
        raise NotClear(f"It is not clear whether this garment has the {said}: there it was one of several.")
    (seam,) = found
    swapped = _swapped(pattern, seam, wanted)
    run = seam.b if swapped else seam.a
    turned = _turned(wanted.ends[0], _run_ends(pattern, run))
    if turned is None:
        raise NotClear(f"It is not clear from which end of the {said} to measure here.")
    if all(halved(pattern.edge(part.edge)[0]) for part in seam.parts()) != wanted.halved:
        raise NotClear(
            f"The pieces of the {said} were drawn whole in one garment, and as halves in the other."
        )
    return FoundSeam(seam, swapped, turned, run_length(pattern, seam.a) / max(wanted.length_mm, 1e-9))


def _swapped(pattern: Pattern, seam: Seam, wanted: SeamSpot) -> bool:
    a, b = _keys(pattern, seam.a), _keys(pattern, seam.b)
    straight = _alike(a, wanted.sides[0]) and _alike(b, wanted.sides[1])
    crossed = _alike(b, wanted.sides[0]) and _alike(a, wanted.sides[1])
    if straight and crossed:  # two pieces of one part of the garment: their names tell
        names = (_pieces(pattern, seam.a), _pieces(pattern, seam.b))
        straight, crossed = names == wanted.pieces, names[::-1] == wanted.pieces
        if straight and crossed:  # one piece with itself
            return False
        if straight == crossed:
            raise NotClear("It is not clear which side of that seam here is which.")
    return crossed


def _seams(pattern: Pattern, sides: Sequence[tuple[str, ...]]) -> Iterator[Seam]:
    one, other = sides
    for seam in pattern.seams.values():
        try:
            a, b = _keys(pattern, seam.a), _keys(pattern, seam.b)
        except NotFound:  # an edge of it is gone
            continue
        if (_alike(a, one) and _alike(b, other)) or (_alike(b, one) and _alike(a, other)):
            yield seam


def _alike(one: tuple[str, ...], other: tuple[str, ...]) -> bool:
    return one in (other, other[::-1])


def _keys(pattern: Pattern, run: Sequence[RunPart]) -> tuple[str, ...]:
    """The edges of a run in words; stretches that a dart makes of one edge count once."""
    keys = []
    for part in run:
        piece, edge = pattern.edge(part.edge)
        keys.append(f"{part_of(piece)} {label_of(pattern, piece, edge)}")
    return tuple(key for key, _ in groupby(keys))


def _pieces(pattern: Pattern, run: Sequence[RunPart]) -> tuple[str, ...]:
    return tuple(name for name, _ in groupby(pattern.edge(part.edge)[0].name.casefold() for part in run))


def _run_ends(pattern: Pattern, run: Sequence[RunPart], *, parts: bool = True) -> Ends:
    """What lies at the start and the end of a run, with the part of the garment where ``parts``."""
    ends = []
    for part, at_start in ((run[0], True), (run[-1], False)):
        piece, edge = pattern.edge(part.edge)
        beyond = neighbour(piece, edge.id, "start" if at_start != part.reverse else "end")
        label = label_of(pattern, piece, beyond)
        ends.append(f"{part_of(piece)} {label}" if parts else label)
    return ends[0], ends[1]


def run_length(pattern: Pattern, run: Sequence[RunPart]) -> float:
    """Return the length of a run, mm."""
    return sum(pattern.edge(part.edge)[1].path.length_mm for part in run)
