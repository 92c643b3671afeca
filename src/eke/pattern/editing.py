"""Edits of a pattern that keep its ids, seams and notches: split, merge, exchange, unfold.

Every function takes a pattern (or piece) and returns a new one. Ids of what an edit makes are derived from
the parent's id and the id of the change, so replaying gives the same ids.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from eke.changes import child_id
from eke.errors import BadInput, ChangeConflict
from eke.geometry import Move, Path
from eke.geometry.segments import distance
from eke.geometry.tolerance import JOIN_MM
from eke.pattern.corners import called, folds_away, index_of, neighbour, place_at
from eke.pattern.held import let_go_all, merged_holds, refuse_merged
from eke.pattern.model import (
    Edge,
    EdgeId,
    EdgeKind,
    EdgePlace,
    Gather,
    Mark,
    Notch,
    Pattern,
    Piece,
    PieceId,
    Pleat,
    RunPart,
    Seam,
    SeamId,
)
from eke.pattern.parted import go_on_in_parts


def split_edge(pattern: Pattern, edge_id: str, at: EdgePlace, change_id: str) -> Pattern:
    """Return the pattern with an edge cut in two at a place, making a corner there.

    The two new ids are derived from the parent's; seams run over both, notches stay where they are on the
    cloth.

    Raises
    ------
    BadInput
        When the place is at an end, or the edge is a fold or a dart leg, which stay whole.
    """
    piece, edge = pattern.edge(edge_id)
    if edge.kind == "fold" or folds_away(piece, edge.id):
        what = "fold" if edge.kind == "fold" else "dart leg"
        raise BadInput(f"“{called(piece, edge)}” of “{piece.name}” is a {what} and cannot be cut in two.")
    mm = edge.mm_of(at)
    head, tail = edge.path.split(mm)
    one = replace(edge, id=EdgeId(child_id(edge.id, change_id, "first")), path=head)
    two = replace(edge, id=EdgeId(child_id(edge.id, change_id, "second")), path=tail)
    at_index = index_of(piece, edge.id)
    edges = (*piece.edges[:at_index], one, two, *piece.edges[at_index + 1 :])

    def moved(notch: Notch) -> Notch:
        if notch.at.edge != edge.id:
            return notch
        where = edge.mm_of(notch.at)
        place = place_at(one, where, notch.at) if where <= mm else place_at(two, where - mm, notch.at)
        return replace(notch, at=place)

    piece = replace(piece, edges=edges, notches=tuple(moved(n) for n in piece.notches))

    return go_on_in_parts(pattern.with_piece(piece), edge.id, (one.id, two.id))


def merge_edges(pattern: Pattern, first_id: str, second_id: str) -> Pattern:
    """Return the pattern with two neighbouring edges made one; both ids lead to the first, which stays.

    Raises
    ------
    ChangeConflict
        When they are not neighbours in this order, differ in kind, are sewn to different things, or only one of them,
        or the corner between, is held.
    """
    piece, one = pattern.edge(first_id)
    piece_too, two = pattern.edge(second_id)
    if piece.id != piece_too.id or one.id == two.id or neighbour(piece, one.id, "end").id != two.id:
        raise ChangeConflict(
            f"“{called(piece, one)}” and “{called(piece_too, two)}” do not follow one another on one piece.",
            edges=(one.id, two.id),
        )
    if one.kind != two.kind:
        raise ChangeConflict(
            f"“{called(piece, one)}” is a {one.kind} and “{called(piece_too, two)}” a {two.kind}. Give both the same kind first.",
            edges=(one.id, two.id),
        )
    if folds_away(piece, one.id) or folds_away(piece, two.id):
        raise ChangeConflict("The leg of a dart cannot be joined to another edge.", edges=(one.id, two.id))
    refuse_merged(pattern, piece, one.id, two.id)
    for seam in pattern.seams.values():
        for run in (seam.a, seam.b):
            ids = [pattern.resolve(p.edge) for p in run]
            if (one.id in ids) != (two.id in ids):
                raise ChangeConflict(
                    f"Only one of the two edges is sewn in “{seam.name or seam.id}”. Take it out of the seam first.",
                    edges=(one.id, two.id),
                    seam=seam.id,
                )
    gathers = _merged_gathers(piece, one, two)
    joined = replace(
        one, path=one.path.joined(two.path), shape=one.shape if one.shape == two.shape else "as traced"
    )
    edges = tuple(joined if e.id == one.id else e for e in piece.edges if e.id != two.id)

    def moved(notch: Notch) -> Notch:
        if notch.at.edge == one.id:
            return replace(notch, at=place_at(joined, one.mm_of(notch.at), notch.at))
        if notch.at.edge == two.id:
            return replace(notch, at=place_at(joined, one.path.length_mm + two.mm_of(notch.at), notch.at))
        return notch

    piece = replace(piece, edges=edges, notches=tuple(moved(n) for n in piece.notches), gathers=gathers)
    made = _with_runs(
        pattern.with_piece(piece), lambda run: tuple(p for p in run if pattern.resolve(p.edge) != two.id)
    )
    lengths = merged_holds(made, two.id)
    return replace(made, aliases={**made.aliases, two.id: one.id}, held_lengths=lengths)


def _merged_gathers(piece: Piece, one: Edge, two: Edge) -> tuple[Gather, ...]:
    """The gathered stretches of two edges that become one; one that ends at the corner between them cannot go on."""
    for gather in piece.gathers:
        if (gather.edge == one.id and gather.end is None) or (gather.edge == two.id and gather.start is None):
            raise ChangeConflict(
                f"What is {gather.how} ends at the corner between “{called(piece, one)}” and “{called(piece, two)}”. Take that "
                "back first, or end it at a notch.",
                gather=gather.id,
            )
    return tuple(replace(g, edge=one.id) if g.edge == two.id else g for g in piece.gathers)


def _with_runs(pattern: Pattern, change: Callable[[tuple[RunPart, ...]], tuple[RunPart, ...]]) -> Pattern:
    seams = {}
    for key, seam in pattern.seams.items():
        a, b = change(seam.a), change(seam.b)
        seams[key] = seam if (a, b) == (seam.a, seam.b) else replace(seam, a=a, b=b)
    return replace(pattern, seams=seams)


def with_edge_facts(
    pattern: Pattern,
    edge_id: str,
    *,
    name: str | None = None,
    kind: EdgeKind | None = None,
    allowance_mm: float | None = None,
) -> Pattern:
    """Return the pattern with an edge renamed, given another kind or allowance; what is not given stays.

    Calling an edge a fold makes its piece a half on that fold; it must be straight (true it first).

    Raises
    ------
    BadInput
        When another edge of the piece is its fold already, or the edge is sewn and called a fold.
    """
    piece, edge = pattern.edge(edge_id)
    fold = piece.fold
    if kind is not None and kind != edge.kind:
        if kind == "fold":
            if fold is not None and fold != edge.id:
                raise BadInput(f"“{piece.name}” has a fold already. Call that edge something else first.")
            sewn = pattern.seams_of(edge.id)
            if sewn:
                raise BadInput(
                    f"“{called(piece, edge)}” is sewn in “{sewn[0].name or sewn[0].id}”, so it cannot lie on a fold."
                )
            edge = replace(edge, path=Path.line(edge.path.start, edge.path.end), shape="straight")
            fold = edge.id
        elif fold == edge.id:
            fold = None
        edge = replace(edge, kind=kind)
    if name is not None:
        edge = replace(edge, name=name)
    if allowance_mm is not None:
        edge = replace(edge, allowance_mm=allowance_mm)
    return pattern.with_piece(replace(piece.with_edge(edge), fold=fold))


def unfolded(piece: Piece) -> Piece:
    """Return the whole of a half piece: the half, and its exact mirror image over the fold.

    Edges of the mirrored half have the ids of their originals with ``~`` behind; an edge that meets the fold
    at a right angle is still two edges, since each half may be named. A piece without a fold is returned as
    it is.
    """
    if piece.fold is None:
        return piece
    at = index_of(piece, piece.fold)
    fold = piece.edges[at]
    move = Move.mirror(fold.path.start, fold.path.end)
    half = [*piece.edges[at + 1 :], *piece.edges[:at]]
    far = [
        replace(edge, id=EdgeId(f"{edge.id}~"), path=edge.path.moved(move).reversed())
        for edge in reversed(half)
    ]
    edges = _closed([*half, *far])
    by_id = {e.id: e for e in edges}

    def mirrored(notch: Notch) -> Notch:
        old, new = piece.edge(notch.at.edge), by_id[EdgeId(f"{notch.at.edge}~")]
        mm = old.path.length_mm - old.mm_of(notch.at)
        return replace(notch, id=f"{notch.id}~", at=place_at(new, mm))

    def reflected(mark: Mark) -> Mark:
        return replace(mark, id=f"{mark.id}~", points=tuple(move.apply(p) for p in mark.points))

    darts = [*piece.darts]
    darts += [
        replace(
            d,
            id=f"{d.id}~",
            first_leg=EdgeId(f"{d.second_leg}~"),
            second_leg=EdgeId(f"{d.first_leg}~"),
            pressed="second" if d.pressed == "first" else "first",
        )
        for d in piece.darts
    ]
    return replace(
        piece,
        edges=edges,
        notches=(*piece.notches, *(mirrored(n) for n in piece.notches if n.at.edge != fold.id)),
        marks=(*piece.marks, *(reflected(m) for m in piece.marks)),
        darts=tuple(darts),
        pleats=(*piece.pleats, *(_over(p) for p in piece.pleats)),
        gathers=(
            *piece.gathers,
            *(
                replace(
                    g,
                    id=f"{g.id}~",
                    edge=EdgeId(f"{g.edge}~"),
                    start=_mirror_id(g.end),
                    end=_mirror_id(g.start),
                )
                for g in piece.gathers
            ),
        ),
        fold=None,
    )


def _over(pleat: Pleat) -> Pleat:
    """The pleat of the mirrored half: its mouths run the other way, from its second line to its first."""
    mouths = tuple((EdgeId(f"{back}~"), EdgeId(f"{under}~")) for under, back in pleat.mouths)
    return Pleat(
        f"{pleat.id}~",
        mouths,
        f"{pleat.second}~",
        f"{pleat.first}~",
        "second" if pleat.pressed == "first" else "first",
    )


def _mirror_id(notch: str | None) -> str | None:
    return None if notch is None else f"{notch}~"


def _closed(edges: list[Edge]) -> tuple[Edge, ...]:
    """Return the edges with ends that differ by rounding put on one another."""
    made = [edges[0]]
    for edge in edges[1:]:
        start = made[-1].path.end
        first = edge.path.segments[0]
        if distance(start, first.start) > JOIN_MM:
            raise BadInput("The fold must run from corner to corner of the piece.")
        made.append(replace(edge, path=Path((first.with_ends(start, first.end), *edge.path.segments[1:]))))
    return tuple(made)


def say_seam(pattern: Pattern, seam: Seam) -> Pattern:
    """Return the pattern with a seam said (or said anew).

    Raises
    ------
    BadInput
        When a run is empty, names an edge twice, both sides are the same edges, or an edge lies on a fold.
    NotFound
        When an edge is not there.
    """
    for label, run in (("first", seam.a), ("second", seam.b)):
        if not run:
            raise BadInput(f"The {label} side of “{seam.name or seam.id}” has no edge.")
    seam = replace(seam, a=_checked_run(pattern, seam.a), b=_checked_run(pattern, seam.b))
    a, b = [p.edge for p in seam.a], [p.edge for p in seam.b]
    both = set(a) & set(b)
    if len(set(a)) < len(a) or len(set(b)) < len(b):
        twice = next(e for e in (*a, *b) if a.count(e) > 1 or b.count(e) > 1)
        raise BadInput(f"{_say(pattern, twice)} is named twice on one side of “{seam.name or seam.id}”.")
    if both and not (seam.b_mirrored and set(a) == set(b)):
        raise BadInput(
            f"The two sides of “{seam.name or seam.id}” overlap: {_say(pattern, sorted(both)[0])} is on both. "
            f"Name it on one side only, or say that the other side is the mirrored piece."
        )
    for other in pattern.seams.values():
        if other.id != seam.id and _same_runs(pattern, other, seam):
            raise BadInput(f"These edges are sewn already, in “{other.name or other.id}”.")
    known = {n.id for p in pattern.pieces.values() for n in p.notches}
    for notch in seam.ease_between or ():
        if notch not in known:
            raise BadInput(f"There is no notch “{notch}” to place the ease at.")
    return pattern.with_seam(seam)


def _same_runs(pattern: Pattern, one: Seam, other: Seam) -> bool:
    def sides(seam: Seam) -> set[frozenset[str]]:
        return {frozenset(pattern.resolve(p.edge) for p in run) for run in (seam.a, seam.b)}

    return sides(one) == sides(other)


def _checked_run(pattern: Pattern, run: Iterable[RunPart]) -> tuple[RunPart, ...]:
    made = []
    for part in run:
        piece, edge = pattern.edge(part.edge)
        if edge.kind == "fold":
            raise BadInput(f"{_say(pattern, edge.id)} lies on a fold and cannot be sewn.")
        made.append(RunPart(piece.id, edge.id, part.reverse))
    return tuple(made)


def _say(pattern: Pattern, edge_id: str) -> str:
    piece, edge = pattern.edge(edge_id)
    return f"“{called(piece, edge)}” of “{piece.name}”"


def drop_seam(pattern: Pattern, seam_id: str) -> Pattern:
    """Return the pattern without that seam."""
    gone = pattern.seam(seam_id).id
    return replace(
        pattern,
        seams={k: s for k, s in pattern.seams.items() if k != gone},
        sewn_first=tuple(pair for pair in pattern.sewn_first if gone not in pair),
    )


def say_sewn_first(pattern: Pattern, first: str, second: str) -> Pattern:
    """Return the pattern in which seam ``first`` is sewn before ``second``.

    Raises
    ------
    BadInput
        When the opposite follows from what was said before.
    """
    one, two = pattern.seam(first).id, pattern.seam(second).id
    if one == two:
        raise BadInput("A seam cannot be sewn before itself.")
    after: dict[SeamId, set[SeamId]] = {}
    for a, b in pattern.sewn_first:
        after.setdefault(a, set()).add(b)
    reached, todo = {two}, [two]
    while todo:
        for nxt in after.get(todo.pop(), set()):
            if nxt not in reached:
                reached.add(nxt)
                todo.append(nxt)
    if one in reached:
        raise BadInput(
            f"“{pattern.seam(second).name or two}” was said to be sewn before “{pattern.seam(first).name or one}”, "
            f"so it cannot also come after it."
        )
    if (one, two) in pattern.sewn_first:
        return pattern
    return replace(pattern, sewn_first=(*pattern.sewn_first, (one, two)))


def with_notch(pattern: Pattern, piece_id: str, notch: Notch) -> Pattern:
    """Return the pattern with a notch set, or moved where one of that id is there."""
    piece = pattern.piece(piece_id)
    edge = piece.edge(pattern.resolve(notch.at.edge))
    if not 1 <= notch.count <= 3:
        raise BadInput(f"A notch is single, double or triple, not {notch.count}-fold.")
    if notch.at.mm is not None and not 0.0 <= notch.at.mm <= edge.path.length_mm:
        raise BadInput(
            f"There is no place {notch.at.mm:g} mm along “{called(piece, edge)}”: it is {edge.path.length_mm:.1f} mm long."
        )
    notch = replace(notch, at=replace(notch.at, edge=edge.id))
    others = tuple(n for n in piece.notches if n.id != notch.id)
    return pattern.with_piece(replace(piece, notches=(*others, notch)))


def without_notch(pattern: Pattern, notch_id: str) -> Pattern:
    """Return the pattern without that notch. Raises :class:`ChangeConflict` when it is not there."""
    for piece in pattern.pieces.values():
        if any(n.id == notch_id for n in piece.notches):
            left = replace(piece, notches=tuple(n for n in piece.notches if n.id != notch_id))
            return let_go_all(pattern, point=notch_id).with_piece(left)
    raise ChangeConflict(f"There is no notch “{notch_id}”.", notch=notch_id)


def drop_piece(pattern: Pattern, piece_id: str) -> Pattern:
    """Return the pattern without a piece; its seams and what is held of it go too: what is gone cannot be sewn."""
    gone = pattern.piece(piece_id)
    made = let_go_all(pattern, piece=gone).without_piece(gone.id)
    for seam in tuple(made.seams.values()):
        if any(PieceId(made.resolve(p.piece)) == gone.id for p in seam.parts()):
            made = drop_seam(made, seam.id)
    return made
