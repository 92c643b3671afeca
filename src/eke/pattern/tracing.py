"""From a traced outline to a piece: corners cut it into edges, marks become notches and grain, the allowance
of a traced cut edge comes off; and tracing a piece again onto the edges that are there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Final, Literal

import numpy as np

from eke.changes import child_id
from eke.errors import BadInput, BadShape, ChangeConflict
from eke.geometry import Cubic, Line, Path, Pt, offset_edge, path_area_mm2, register, require_simple
from eke.geometry.segments import Segment, distance
from eke.geometry.tolerance import JOIN_MM
from eke.pattern.corners import place_at, rejoined, sound, upright
from eke.pattern.model import (
    Edge,
    EdgeId,
    EdgeKind,
    EdgePlace,
    Mark,
    Notch,
    Pattern,
    Piece,
    PieceId,
    TracedAs,
)

CORNER_REACH_MM: Final = 5.0
"""A corner that a picture gave lies within this of its outline; farther off it belongs to something else."""
SNAP_GAP_MM: Final = 0.05
"""Gaps that rounding in a file leaves between segments are closed silently up to here."""
DOUBLE_NOTCH_MM: Final = 13.0
"""Notch marks within half an inch of each other are one double or triple notch (common practice)."""
MAP_CORNER_MM: Final = 25.0
"""A corner traced again lies within this of the old one, after laying the outlines on one another."""
MAP_LENGTH_SHARE: Final = 0.15
"""And its edge differs in length by no more than this share, or the maker is asked."""

TracedMark = Literal["notch", "grain", "line", "point"]


@dataclass(frozen=True, slots=True)
class EdgeFacts:
    """What the maker said about one traced edge."""

    id: str | None = None
    name: str = ""
    kind: EdgeKind = "seam"
    traced_as: TracedAs = "net"
    traced_allowance_mm: float = 0.0
    allowance_mm: float | None = None


def closed_outline(rows: Sequence[Any]) -> Path:
    """Return the outline that ``rows`` describe, closed and counter-clockwise.

    A row is ``["L", x0, y0, x1, y1]``, ``["C", x0, …, y3]``, or a table ``{"kind": "line" | "cubic",
    "points": [[x, y], …]}``. Gaps of rounding are closed.

    Raises
    ------
    BadInput, BadShape
        When a row is no segment, the outline has a gap, crosses itself or has no area.
    """
    segments: list[Segment] = []
    for row in rows:
        points = _points_of(row)
        start = segments[-1].end if segments else points[0]
        if distance(start, points[0]) > SNAP_GAP_MM:
            x, y = points[0]
            raise BadShape(
                f"The outline has a gap of {distance(start, points[0]):.1f} mm near ({x:.0f}, {y:.0f})."
            )
        points[0] = start
        if distance(points[0], points[-1]) <= JOIN_MM and len(points) == 2:
            continue
        segments.append(Line(points[0], points[1]) if len(points) == 2 else Cubic(*points))
    if not segments:
        raise BadShape("The outline has no line in it.")
    gap = distance(segments[-1].end, segments[0].start)
    if gap > SNAP_GAP_MM:
        raise BadShape(f"The outline is not closed: {gap:.1f} mm are missing between its end and its start.")
    segments[-1] = segments[-1].with_ends(segments[-1].start, segments[0].start)
    outline = Path(tuple(segments))
    return outline if path_area_mm2(outline) > 0.0 else outline.reversed()


def _points_of(row: Any) -> list[Pt]:
    try:
        if isinstance(row, Mapping):
            points = [(float(x), float(y)) for x, y in row["points"]]
            kind = {"line": "L", "cubic": "C"}.get(str(row["kind"]), "")
        else:
            values = [float(v) for v in row[1:]]
            points = list(zip(values[::2], values[1::2], strict=True))
            kind = str(row[0])
    except (TypeError, ValueError, KeyError, IndexError) as gap:
        raise BadInput("A stretch of the outline is neither a line nor a curve. Nothing was added.") from gap
    if len(points) != {"L": 2, "C": 4}.get(kind, -1):
        raise BadInput(f"A stretch of the outline has the unknown kind “{kind}”. Nothing was added.")
    if not all(math.isfinite(v) for p in points for v in p):
        raise BadInput("A point of the outline has no place: one of its coordinates is no number.")
    return points


def cut_at_corners(outline: Path, corners: Sequence[Pt]) -> list[Path]:
    """Return the outline cut at its corners, one path for each, starting at the first corner.

    Raises
    ------
    BadInput
        When a corner lies off the outline, two lie at one place, or they do not follow its direction.
    """
    if not corners:
        return [outline]
    places = []
    for corner in corners:
        near = outline.nearest(corner)
        if near.distance_mm > CORNER_REACH_MM:
            raise BadInput(
                f"The corner at ({corner[0]:.0f}, {corner[1]:.0f}) lies {near.distance_mm:.1f} mm off the outline."
            )
        places.append(near.at_mm % outline.length_mm)
    first = places[0]
    turned = [(p - first) % outline.length_mm for p in places]
    if sorted(turned) != turned or any(b - a < 1.0 for a, b in pairwise(turned)):
        raise BadInput(
            "The corners must follow the outline counter-clockwise, each at a place of its own, "
            "at least 1 mm from the next."
        )
    if outline.length_mm - turned[-1] < 1.0:
        raise BadInput("The last corner lies on the first one.")
    whole = (
        outline
        if min(first, outline.length_mm - first) <= JOIN_MM
        else outline.slice(first, outline.length_mm).joined(outline.slice(0.0, first))
    )
    cuts = [*turned, whole.length_mm]
    return [whole.slice(a, b) for a, b in pairwise(cuts)]


def traced_piece(
    piece_id: str,
    name: str,
    outline: Path,
    corners: Sequence[Pt],
    facts: Sequence[EdgeFacts],
    change_id: str,
    *,
    marks: Sequence[tuple[TracedMark, Sequence[Pt]]] = (),
) -> Piece:
    """Return a piece made of a traced outline.

    Parameters
    ----------
    outline
        Closed and counter-clockwise, in mm.
    corners
        Where one edge ends and the next begins, counter-clockwise.
    facts
        About each edge: the first begins at the first corner. Fewer than there are edges: the rest are plain
        seams traced on the seam line.
    marks
        What else was drawn: notches on the outline, a grain line, lines and points.

    Notes
    -----
    Allowances that were traced come off edge by edge. With a grain line among the marks the piece is turned
    so that its grain runs along +y.
    """
    require_simple(outline, name)
    paths = cut_at_corners(outline, corners)
    if len(facts) > len(paths):
        raise BadInput(f"“{name}” has {len(paths)} edges, and {len(facts)} were described.")
    told = [*facts, *(EdgeFacts() for _ in range(len(paths) - len(facts)))]
    net = net_lines(paths, told, name)
    edges = []
    for number, (path, fact) in enumerate(zip(net, told, strict=True)):
        # the number only seeds the name of a new edge; from here on the id is what stays
        edge_id = EdgeId(fact.id or child_id(piece_id, change_id, f"edge {number}"))
        straight = fact.kind == "fold"
        edges.append(
            Edge(
                edge_id,
                Path.line(path.start, path.end) if straight else path,
                fact.kind,
                fact.name,
                fact.allowance_mm,
                "straight" if straight else "as traced",
                "net" if straight else fact.traced_as,
                fact.traced_allowance_mm if fact.traced_as == "cut" and not straight else 0.0,
            )
        )
    folds = [e.id for e in edges if e.kind == "fold"]
    if len(folds) > 1:
        raise BadInput(f"“{name}” can lie on one fold only, and {len(folds)} edges were called folds.")
    piece = Piece(PieceId(piece_id), name, tuple(edges), fold=folds[0] if folds else None)
    require_simple(piece.outline, name)
    return upright(_with_marks(piece, marks, change_id))


def net_lines(paths: Sequence[Path], facts: Sequence[EdgeFacts], name: str) -> list[Path]:
    """Return the net lines of traced edges: what was traced as a cut edge moves in by its allowance."""
    amounts = []
    for path, fact in zip(paths, facts, strict=True):
        if not fact.traced_allowance_mm >= 0.0:
            raise BadInput(
                f"An allowance cannot be {fact.traced_allowance_mm:g} mm. Use 0 or more, or say it is the seam line."
            )
        del path
        cut = fact.traced_as == "cut" and fact.kind != "fold"
        amounts.append(fact.traced_allowance_mm if cut else 0.0)
    if not any(amounts):
        return list(paths)
    moved = [offset_edge(path, amount) for path, amount in zip(paths, amounts, strict=True)]
    if len(moved) == 1:
        return moved
    guesses = []
    for i, path in enumerate(paths):
        j = (i + 1) % len(paths)
        u = path.tangent_at(path.length_mm, side="before")
        v = paths[j].tangent_at(0.0)
        guesses.append(_inner_corner(path.end, u, v, amounts[i], amounts[j]))
    return rejoined(moved, guesses, name)


def retold(pattern: Pattern, edge_id: str, traced_as: TracedAs, allowance_mm: float = 0.0) -> Pattern:
    """Return the pattern after the maker said anew what the traced line of an edge was.

    The net line moves by the difference of the old allowance and the new; its neighbours are lengthened or cut
    to meet it.

    Raises
    ------
    BadInput
        When the allowance is below 0.
    BadShape
        When the edges no longer meet.
    """
    piece, edge = pattern.edge(edge_id)
    if not allowance_mm >= 0.0:
        raise BadInput(f"An allowance cannot be {allowance_mm:g} mm. Use 0 or more.")
    new_mm = allowance_mm if traced_as == "cut" else 0.0
    told = replace(edge, traced_as=traced_as, traced_allowance_mm=new_mm)
    inwards = new_mm - edge.traced_allowance_mm
    if inwards == 0.0:
        return pattern.with_piece(piece.with_edge(told))
    paths = [offset_edge(e.path, inwards) if e.id == edge.id else e.path for e in piece.edges]
    guesses = []
    for i, one in enumerate(piece.edges):
        two = piece.edges[(i + 1) % len(piece.edges)]
        u, v = one.path.tangent_at(one.path.length_mm, side="before"), two.path.tangent_at(0.0)
        before, after = (inwards if e.id == edge.id else 0.0 for e in (one, two))
        guesses.append(_inner_corner(one.path.end, u, v, before, after))
    edges = [
        replace(told if old.id == edge.id else old, path=path)
        for old, path in zip(piece.edges, rejoined(paths, guesses, piece.name), strict=True)
    ]
    by_id = {e.id: e for e in edges}

    def again(notch: Notch) -> Notch:
        # notches on the neighbours stay where they are on the cloth
        old = piece.edge(notch.at.edge)
        if old.path == by_id[old.id].path:
            return notch
        at = by_id[old.id].path.nearest(old.path.point_at(old.mm_of(notch.at))).at_mm
        return replace(notch, at=place_at(by_id[old.id], at, notch.at))

    made = replace(piece, edges=tuple(edges), notches=tuple(again(n) for n in piece.notches))
    return pattern.with_piece(sound(made, piece))


def _inner_corner(corner: Pt, u: Pt, v: Pt, before_mm: float, after_mm: float) -> Pt:
    """Return where the lines beside ``u`` and ``v``, moved to their left, meet."""
    det = u[0] * v[1] - u[1] * v[0]
    if abs(det) < 0.05:
        amount = (before_mm + after_mm) / 2.0
        return (corner[0] - amount * u[1], corner[1] + amount * u[0])
    p = (corner[0] - before_mm * u[1], corner[1] + before_mm * u[0])
    q = (corner[0] - after_mm * v[1], corner[1] + after_mm * v[0])
    along = ((q[0] - p[0]) * v[1] - (q[1] - p[1]) * v[0]) / det
    return (p[0] + along * u[0], p[1] + along * u[1])


def _with_marks(piece: Piece, marks: Sequence[tuple[TracedMark, Sequence[Pt]]], change_id: str) -> Piece:
    notches: list[tuple[str, float]] = []
    kept: list[Mark] = []
    grain: tuple[Pt, Pt] | None = None
    for number, (kind, points) in enumerate(marks):
        if not points:
            continue
        if kind == "notch":
            edge = min(piece.edges, key=lambda e: e.path.nearest(points[0]).distance_mm)
            notches.append((edge.id, edge.path.nearest(points[0]).at_mm))
        elif kind == "grain" and len(points) >= 2:
            grain = (points[0], points[-1])
        elif kind in ("line", "point"):
            kept.append(Mark(child_id(piece.id, change_id, f"mark {number}"), kind, tuple(points)))
    return replace(piece, notches=_grouped(piece, notches, change_id), marks=tuple(kept), grain=grain)


def _grouped(piece: Piece, places: Sequence[tuple[str, float]], change_id: str) -> tuple[Notch, ...]:
    made: list[Notch] = []
    for edge in piece.edges:
        groups: list[list[float]] = []
        for mm in sorted(mm for edge_id, mm in places if edge_id == edge.id):
            if groups and mm - groups[-1][-1] <= DOUBLE_NOTCH_MM and len(groups[-1]) < 3:
                groups[-1].append(mm)
            else:
                groups.append([mm])
        for number, group in enumerate(groups):
            at = place_at(edge, sum(group) / len(group))
            made.append(Notch(child_id(edge.id, change_id, f"notch {number}"), at, len(group)))
    return tuple(made)


# ---------------------------------------------------------------- tracing again


@dataclass(frozen=True, slots=True)
class EdgeMap:
    """Which new edge each old one became: old id → number of the new edge; and where that is unsure."""

    edges: Mapping[str, int]
    unsure: Mapping[str, tuple[int, ...]]


def map_edges(old: Piece, new: Sequence[Path]) -> EdgeMap:
    """Return which of the ``new`` edges each edge of ``old`` became, by corners and lengths.

    The outlines are laid on one another first, so that the tracing may lie anywhere.
    """
    outline = Path(tuple(s for path in new for s in path.segments))
    move = register(outline, old.outline).move
    laid = [path.moved(move) for path in new]
    edges: dict[str, int] = {}
    unsure: dict[str, tuple[int, ...]] = {}
    for edge in old.edges:
        scores = []
        for number, path in enumerate(laid):
            gap = max(distance(path.start, edge.path.start), distance(path.end, edge.path.end))
            ratio = abs(path.length_mm - edge.path.length_mm) / edge.path.length_mm
            middle = distance(path.point_at(path.length_mm / 2), edge.path.point_at(edge.path.length_mm / 2))
            scores.append((gap + middle + 100.0 * ratio, gap, ratio, number))
        scores.sort()
        _, gap, ratio, number = scores[0]
        rival = scores[1] if len(scores) > 1 else None
        clear = rival is None or rival[0] > 2.0 * scores[0][0] + 5.0
        if gap <= MAP_CORNER_MM and ratio <= MAP_LENGTH_SHARE and clear:
            edges[edge.id] = number
        else:
            unsure[edge.id] = tuple(s[3] for s in scores[:3])
    # two old edges that claim the same new one are both unsure
    for edge_id, number in list(edges.items()):
        rivals = [e for e, n in edges.items() if n == number]
        if len(rivals) > 1:
            for rival_id in rivals:
                unsure[rival_id] = (number,)
                edges.pop(rival_id, None)
        del edge_id
    return EdgeMap(edges, unsure)


def retraced(
    pattern: Pattern,
    piece_id: str,
    outline: Path,
    corners: Sequence[Pt],
    change_id: str,
    *,
    answers: Mapping[str, int | None] | None = None,
) -> Pattern:
    """Return the pattern with a piece traced again: edges keep their ids, kinds, names, seams and notches.

    Parameters
    ----------
    answers
        What the maker said where it was unsure: old edge id → number of the new edge (counted from the
        first corner), or ``None`` for an edge that is gone.

    Raises
    ------
    ChangeConflict
        When it is unsure which old edge a new one is; ``data["unsure"]`` maps old ids to candidates.
    """
    old = pattern.piece(piece_id)
    require_simple(outline, old.name)
    paths = cut_at_corners(outline, corners)
    facts_by_number: dict[int, Edge] = {}
    found = map_edges(old, paths)
    answers = {pattern.resolve(k): v for k, v in (answers or {}).items()}
    unsure = {k: v for k, v in found.unsure.items() if k not in answers}
    if unsure:
        named = ", ".join(f"“{old.edge(k).name or k}”" for k in unsure)
        raise ChangeConflict(
            f"It is not sure which of the {len(paths)} edges of the new tracing of “{old.name}” is {named}. "
            f"Say which, or that it is gone.",
            piece=old.id,
            unsure=unsure,
        )
    for edge in old.edges:
        number = answers.get(edge.id, found.edges.get(edge.id))
        if number is None:
            continue
        if not 0 <= number < len(paths) or number in facts_by_number:
            raise ChangeConflict(
                f"The new edge {number} of “{old.name}” was named twice or is not there.", piece=old.id
            )
        facts_by_number[number] = edge
    facts = [
        EdgeFacts(
            facts_by_number[n].id if n in facts_by_number else None,
            kind=facts_by_number[n].kind if n in facts_by_number else "seam",
            traced_as=facts_by_number[n].traced_as if n in facts_by_number else "net",
            traced_allowance_mm=facts_by_number[n].traced_allowance_mm if n in facts_by_number else 0.0,
        )
        for n in range(len(paths))
    ]
    net = net_lines(paths, facts, old.name)
    # the new tracing is laid where the old piece was, so that marks inside stay in place
    move = register(Path(tuple(s for path in net for s in path.segments)), old.outline).move
    edges = []
    for number, path in enumerate(net):
        laid = path.moved(move)
        kept = facts_by_number.get(number)
        if kept is None:
            edges.append(Edge(EdgeId(child_id(old.id, change_id, f"edge {number}")), laid))
        elif kept.kind == "fold" or kept.shape == "straight":
            edges.append(replace(kept, path=Path.line(laid.start, laid.end)))
        else:
            edges.append(replace(kept, path=laid, shape="as traced"))
    ids = {e.id for e in edges}
    notches = []
    by_id = {e.id: e for e in edges}
    for notch in old.notches:
        if notch.at.edge not in ids:
            continue
        length = by_id[notch.at.edge].path.length_mm
        at = notch.at
        if at.mm is not None and at.mm > length:
            at = EdgePlace(at.edge, fraction=1.0 if at.from_end == "start" else 0.0)
        notches.append(replace(notch, at=at))
    piece = replace(
        old,
        edges=tuple(edges),
        notches=tuple(notches),
        darts=tuple(d for d in old.darts if d.first_leg in ids and d.second_leg in ids),
        pleats=tuple(p for p in old.pleats if all(e in ids for mouth in p.mouths for e in mouth)),
        gathers=tuple(g for g in old.gathers if g.edge in ids),
        fold=old.fold if old.fold in ids else None,
    )
    return pattern.with_piece(sound(piece, old))


def averaged(paths: Sequence[Path]) -> Path:
    """Return the mean of tracings of the same edge, matched by share of length, through even places."""
    n = max(16, min(96, int(max(p.length_mm for p in paths) / 4.0)))
    shares = np.linspace(0.0, 1.0, n + 1)
    mean = np.mean([p.points_at(shares * p.length_mm) for p in paths], axis=0)
    return Path.from_points(mean)
