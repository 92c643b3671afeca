"""The pattern: pieces, edges, seams, and what the maker said about them.

Words
-----
piece
    One pattern piece, its *net* outline (seam and finished lines, no allowances) as a closed
    counter-clockwise chain of edges, its grain along +y. Drawn whole, or as a half on a fold.
edge
    A stretch of a piece's outline between two corners. Edge ids never change: splitting gives child ids
    derived from the parent and the change, merging keeps both ids as aliases of the one that stays.
run
    A chain of edges, walked one after the other; it may cross several pieces (an armhole).
seam
    Two runs that are sewn together, walked from a common start.

All values are frozen; a change returns a new :class:`Pattern`. Lengths are mm, angles degrees.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal, NewType

from eke.errors import BadInput, NotFound
from eke.geometry.path import Path, Pt

PieceId = NewType("PieceId", str)
EdgeId = NewType("EdgeId", str)
SeamId = NewType("SeamId", str)

EdgeKind = Literal["seam", "hem", "fold", "opening"]
TracedAs = Literal["net", "finished", "cut"]
EdgeShape = Literal["as traced", "straight", "fair"]
Role = Literal["outer", "lining", "interlining", "interfacing", "mock-up"]
MarkKind = Literal[
    "line", "point", "balance", "apex", "drill", "button", "buttonhole", "dart", "fold", "stitch"
]
GatherHow = Literal["gathered", "eased"]
SeamKind = Literal["plain", "french", "flat-felled", "bound", "lapped", "enclosed"]
Keep = Literal["start", "end", "middle"]
Along = Literal["edge", "grain"]


@dataclass(frozen=True, slots=True)
class EdgePlace:
    """A place on an edge: a fraction of its length (scales with it), or mm from a named end (does not)."""

    edge: EdgeId
    fraction: float | None = None
    mm: float | None = None
    from_end: Literal["start", "end"] = "start"

    def __post_init__(self) -> None:
        if (self.fraction is None) == (self.mm is None):
            raise BadInput(
                "A place on an edge is either a fraction of its length or millimetres from one end."
            )
        if self.fraction is not None and not 0.0 <= self.fraction <= 1.0:
            raise BadInput(f"A fraction of an edge lies between 0 and 1, not at {self.fraction:g}.")


@dataclass(frozen=True, slots=True)
class Edge:
    """One edge: ``path`` runs counter-clockwise round the piece.

    ``allowance_mm`` is ``None`` where the preset of the kind holds. ``traced_as`` says what the traced line
    was; for a cut edge ``traced_allowance_mm`` was taken off to reach the net line in ``path``.
    """

    id: EdgeId
    path: Path
    kind: EdgeKind = "seam"
    name: str = ""
    allowance_mm: float | None = None
    shape: EdgeShape = "as traced"
    traced_as: TracedAs = "net"
    traced_allowance_mm: float = 0.0

    def __post_init__(self) -> None:
        if self.allowance_mm is not None and not self.allowance_mm >= 0.0:
            raise BadInput(
                f"The allowance of “{self.name or self.id}” cannot be {self.allowance_mm:g} mm. Use 0 or more."
            )

    def mm_of(self, place: EdgePlace) -> float:
        """Return how many mm from the start of this edge ``place`` lies, kept between its ends."""
        length = self.path.length_mm
        if place.fraction is not None:
            return place.fraction * length
        assert place.mm is not None  # one of the two is given
        at = place.mm if place.from_end == "start" else length - place.mm
        return min(max(at, 0.0), length)


@dataclass(frozen=True, slots=True)
class Notch:
    """A short mark across the seam line; ``count`` 1 single (front), 2 double (back), 3 triple."""

    id: str
    at: EdgePlace
    count: int = 1


@dataclass(frozen=True, slots=True)
class Mark:
    """A mark inside the piece: ``points`` in the piece's frame, one for a point, two or more for a line.

    Balance lines of the same ``name`` ("waist") belong together across pieces. A ``dart`` is one that lies inside
    the piece, drawn round its legs; a ``fold`` is where a tuck or pleat is folded, a ``stitch`` where it is sewn, or
    where its folded edge is laid.
    """

    id: str
    kind: MarkKind
    points: tuple[Pt, ...]
    name: str = ""


@dataclass(frozen=True, slots=True)
class Dart:
    """A dart in the outline: two legs that meet at the apex, sewn to each other.

    ``first_leg`` ends at the apex and ``second_leg`` starts there, counter-clockwise. ``pressed`` says
    towards which leg it is folded.
    """

    id: str
    first_leg: EdgeId
    second_leg: EdgeId
    pressed: Literal["first", "second"] = "first"


@dataclass(frozen=True, slots=True)
class Pleat:
    """A tuck or pleat in the outline: cloth that is folded away wherever it meets an edge.

    ``first`` and ``second`` are the ids of the two lines (marks of kind ``stitch``) that lie on each other when it is
    shut; both begin at the first mouth. A mouth is two edges that follow one another counter-clockwise and meet at the
    fold; the first mouth runs from ``first`` to ``second``, a mouth at the other end from ``second`` to ``first``.
    ``pressed`` says on which side the fold lies.
    """

    id: str
    mouths: tuple[tuple[EdgeId, EdgeId], ...]
    first: str
    second: str
    pressed: Literal["first", "second"] = "first"


@dataclass(frozen=True, slots=True)
class Gather:
    """A stretch of an edge that is gathered or eased on purpose, between two notches; none: from (to) its own end.

    ``ratio`` is its length lying flat over its length when sewn, above 1; none: whatever is longer there is meant.
    """

    id: str
    edge: EdgeId
    start: str | None = None
    end: str | None = None
    how: GatherHow = "gathered"
    ratio: float | None = None

    def __post_init__(self) -> None:
        if self.ratio is not None and not self.ratio > 1.0:
            raise BadInput(
                f"What is {self.how} is longer before it is sewn: {self.ratio:g} times as long is no fullness. "
                "Give more than 1, such as 1.5."
            )


@dataclass(frozen=True, slots=True)
class CutOf:
    """How often a piece is cut from one cloth: ``count`` times, or that many mirrored pairs."""

    role: Role = "outer"
    count: int = 1
    pairs: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece. ``fold`` names the edge on which a half piece is drawn; its whole is the half and its mirror."""

    id: PieceId
    name: str
    edges: tuple[Edge, ...]
    notches: tuple[Notch, ...] = ()
    marks: tuple[Mark, ...] = ()
    darts: tuple[Dart, ...] = ()
    pleats: tuple[Pleat, ...] = ()
    gathers: tuple[Gather, ...] = ()
    grain: tuple[Pt, Pt] | None = None
    fold: EdgeId | None = None
    cuts: tuple[CutOf, ...] = (CutOf(),)
    tracing: str | None = None

    def edge(self, edge_id: str) -> Edge:
        """Return the edge of that id. Raises :class:`NotFound`."""
        for edge in self.edges:
            if edge.id == edge_id:
                return edge
        raise NotFound(f"“{self.name}” has no edge “{edge_id}”.", piece=self.id, edge=edge_id)

    def with_edge(self, edge: Edge) -> Piece:
        """Return the piece with the edge of the same id exchanged; neighbours are not moved."""
        self.edge(edge.id)
        return replace(self, edges=tuple(edge if e.id == edge.id else e for e in self.edges))

    @property
    def outline(self) -> Path:
        """The net outline as one closed path, counter-clockwise, from the start of the first edge."""
        return Path.chained(edge.path for edge in self.edges)


@dataclass(frozen=True, slots=True)
class RunPart:
    """One edge of a run; ``reverse``: walked from its end to its start."""

    piece: PieceId
    edge: EdgeId
    reverse: bool = False


@dataclass(frozen=True, slots=True)
class Seam:
    """Two runs sewn together from a common start.

    ``ease_mm`` is how much longer run A is than run B on purpose (negative: B is longer), placed between
    the two notches of ``ease_between`` where that is said. ``b_mirrored``: run B lies on the mirrored
    copy of its piece, as at a centre-back seam of a paired piece.
    """

    id: SeamId
    a: tuple[RunPart, ...]
    b: tuple[RunPart, ...]
    name: str = ""
    ease_mm: float = 0.0
    ease_between: tuple[str, str] | None = None
    b_mirrored: bool = False
    kind: SeamKind = "plain"

    def parts(self) -> Iterator[RunPart]:
        """Both runs, part by part."""
        yield from self.a
        yield from self.b


@dataclass(frozen=True, slots=True)
class HandChange:
    """A hand adjustment on a derived piece: one change, replayed after its recipe."""

    id: str
    kind: str
    params: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Recipe:
    """A derived piece as a recipe: its ``kind``, parameters and hand adjustments; never an outline.

    ``sources`` are the ids of the pieces or recipes it is made of.
    """

    id: str
    kind: str
    name: str
    sources: tuple[str, ...]
    params: Mapping[str, Any] = field(default_factory=dict)
    by_hand: tuple[HandChange, ...] = ()


@dataclass(frozen=True, slots=True)
class Tracing:
    """Where a piece came from: the photograph (content hash) and what its scale is worth."""

    id: str
    photo: str | None
    reference: str
    scale_percent: float
    uncertainty_mm: float


@dataclass(frozen=True, slots=True)
class MockUp:
    """A mock-up: its number, what was noticed, and the revision (change id) that it was cut from.

    ``photos`` are content hashes; ``changes`` ids of the changes that came of it.
    """

    id: str
    number: int
    revision: str | None
    noticed: str = ""
    photos: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TapedAt:
    """Where a length was taped on the garment: along a seam or edges, or round at a level ("waist", "hem").

    ``each``: the edges are so many places of the same length, not one chain. ``half``: half of the round, on the
    garment laid flat. ``pieces`` restricts a round to those pieces.
    """

    seam: SeamId | None = None
    edges: tuple[str, ...] = ()
    each: bool = False
    at: str = ""
    half: bool = False
    pieces: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if (self.seam is not None) + bool(self.edges) + bool(self.at.strip()) != 1:
            raise BadInput(
                "A length is taped along a seam, along edges, or round at a level: say one of them."
            )


@dataclass(frozen=True, slots=True)
class HeldLength:
    """Edges that are to be ``mm`` long in all, whatever else changes: a band, or a seam for a zip.

    ``edges`` is one edge, or what it was parted into since, counter-clockwise; a dart between two is folded shut.
    ``keep`` says what stays where when the length is made good again; "middle": both ends move alike.
    """

    edges: tuple[EdgeId, ...]
    mm: float
    keep: Keep = "start"


@dataclass(frozen=True, slots=True)
class HeldPoint:
    """A corner (the ``end`` of ``edge``), a notch or a mark (``point``) that is to lie on a balance line.

    ``line`` is the id of the line's mark. ``along`` says how the point goes back there: along that edge, or along the
    grain.
    """

    line: str
    edge: EdgeId | None = None
    end: Literal["start", "end"] = "start"
    point: str | None = None
    along: Along = "edge"


@dataclass(frozen=True, slots=True)
class Pattern:
    """Everything known of a garment's pattern: the state that a garment's history replays to.

    ``aliases`` maps ids that were merged away to the id that stayed. ``sewn_first`` holds pairs of seams
    that meet: the first is sewn before the second. ``settled`` holds findings that the maker said are
    meant, as (code, ids). ``facts`` are said of the garment ("wearer_age_years": 9). ``measures`` are
    body measures in mm by their ISO 8559-1 name, ``taped`` lengths taped on the garment by point of measure, and
    ``taped_at`` where, for those that their name alone does not tell. ``held_lengths`` and ``held_points`` are what
    the maker said is to stay so, by ids of their own (:mod:`eke.pattern.held`).
    """

    name: str = ""
    pieces: Mapping[PieceId, Piece] = field(default_factory=dict)
    seams: Mapping[SeamId, Seam] = field(default_factory=dict)
    sewn_first: tuple[tuple[SeamId, SeamId], ...] = ()
    recipes: Mapping[str, Recipe] = field(default_factory=dict)
    tracings: Mapping[str, Tracing] = field(default_factory=dict)
    mock_ups: Mapping[str, MockUp] = field(default_factory=dict)
    aliases: Mapping[str, str] = field(default_factory=dict)
    settled: frozenset[tuple[str, tuple[str, ...]]] = frozenset()
    facts: Mapping[str, Any] = field(default_factory=dict)
    measures: Mapping[str, float] = field(default_factory=dict)
    taped: Mapping[str, float] = field(default_factory=dict)
    taped_at: Mapping[str, TapedAt] = field(default_factory=dict)
    held_lengths: Mapping[str, HeldLength] = field(default_factory=dict)
    held_points: Mapping[str, HeldPoint] = field(default_factory=dict)

    def resolve(self, any_id: str) -> str:
        """Follow aliases: the id that stands today for ``any_id``."""
        seen = set()
        while any_id in self.aliases and any_id not in seen:
            seen.add(any_id)
            any_id = self.aliases[any_id]
        return any_id

    def piece(self, piece_id: str) -> Piece:
        """Return the piece of that id, aliases followed. Raises :class:`NotFound`."""
        found = self.pieces.get(PieceId(self.resolve(piece_id)))
        if found is None:
            raise NotFound(f"There is no piece “{piece_id}” in this pattern.", piece=piece_id)
        return found

    def edge(self, edge_id: str) -> tuple[Piece, Edge]:
        """Return the edge of that id and its piece, aliases followed. Raises :class:`NotFound`."""
        edge_id = self.resolve(edge_id)
        for piece in self.pieces.values():
            for edge in piece.edges:
                if edge.id == edge_id:
                    return piece, edge
        raise NotFound(f"There is no edge “{edge_id}” in this pattern.", edge=edge_id)

    def seam(self, seam_id: str) -> Seam:
        """Return the seam of that id. Raises :class:`NotFound`."""
        found = self.seams.get(SeamId(seam_id))
        if found is None:
            raise NotFound(f"There is no seam “{seam_id}” in this pattern.", seam=seam_id)
        return found

    def seams_of(self, edge_id: str) -> tuple[Seam, ...]:
        """All seams that the edge belongs to."""
        edge_id = self.resolve(edge_id)
        return tuple(
            s for s in self.seams.values() if any(self.resolve(p.edge) == edge_id for p in s.parts())
        )

    def with_piece(self, piece: Piece) -> Pattern:
        """Return the pattern with ``piece`` added or exchanged."""
        return replace(self, pieces={**self.pieces, piece.id: piece})

    def without_piece(self, piece_id: str) -> Pattern:
        """Return the pattern without that piece; seams that name it stay and become findings."""
        gone = self.piece(piece_id).id
        return replace(self, pieces={k: p for k, p in self.pieces.items() if k != gone})

    def with_seam(self, seam: Seam) -> Pattern:
        """Return the pattern with ``seam`` added or exchanged."""
        return replace(self, seams={**self.seams, seam.id: seam})

    def with_recipe(self, recipe: Recipe) -> Pattern:
        """Return the pattern with ``recipe`` added or exchanged."""
        return replace(self, recipes={**self.recipes, recipe.id: recipe})
