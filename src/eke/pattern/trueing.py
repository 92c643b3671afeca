"""Trueing steps: straight lines straight, curves fair, corners square, joins smooth, seams that match.

Each step takes a pattern and returns a new one, with neighbours still joined; what it cost in deviation from
the traced line can be asked beforehand (:func:`fairing_of`, :func:`straightness_of`).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final, Literal

import numpy as np

from eke.errors import BadInput, BadShape, ChangeConflict
from eke.geometry import Fit, Line, Move, Path, Pt, fair_path, straightness_mm, with_end_direction
from eke.geometry.segments import distance, unit
from eke.pattern.corners import (
    End,
    beyond_darts,
    called,
    corner_point,
    index_of,
    interior_angle_deg,
    leaves_fold,
    neighbour,
    notches_on,
    place_at,
    run_on,
    sound,
    tangent_out,
    upright,
    with_path,
)
from eke.pattern.held import ended_by, length_held
from eke.pattern.measure import Run
from eke.pattern.model import Edge, EdgeShape, Notch, Pattern, Piece, RunPart
from eke.pattern.tolerances import DEFAULT, Tolerances
from eke.pattern.walking import walk

SeamEnd = Literal["start", "end"]

SQUARE_FOR_MM: Final = 10.0
"""A square corner is straight for so long: "a needle-width to 1/4 in", common practice, rounded up …"""
SQUARE_TURN_DEG: Final = 10.0
"""… and on a tight round end for no longer than the line takes to turn so far: it would be cut short by millimetres."""
SHARPEST_MM: Final = 3.0
"""A bend of a smaller radius is a corner that somebody rounded with the pencil, and no fair curve."""
SLIDE_MM: Final = 10.0
"""A corner slides along its neighbour by no more to keep a straight edge straight: a V neck is no such case."""
FAIR_DEVIATION_MM: Final = 1.0
"""A traced curve may move by so much to become fair, where nothing else is said: a pencil line's width."""


def straightness_of(pattern: Pattern, edge_id: str) -> float:
    """Return how far an edge leaves the straight line between its corners, in mm."""
    return straightness_mm(pattern.edge(edge_id)[1].path)


def straighten(pattern: Pattern, edge_id: str) -> Pattern:
    """Return the pattern with an edge made the straight line between its corners."""
    piece, edge = pattern.edge(edge_id)
    if distance(edge.path.start, edge.path.end) <= 1.0:
        raise BadShape(
            f"“{called(piece, edge)}” of “{piece.name}” goes round to its start and cannot be straight."
        )
    straight = Path.line(edge.path.start, edge.path.end)
    piece = piece.with_edge(replace(edge, path=straight, shape="straight"))
    return pattern.with_piece(sound(piece, piece))


def fairing_of(pattern: Pattern, edge_id: str, deviation_mm: float = FAIR_DEVIATION_MM) -> Fit:
    """Return the fair curve that an edge would become, with its deviation from the line as it is.

    Directions are kept at right where the edge meets a fold squarely already.
    """
    piece, edge = pattern.edge(edge_id)
    start = _square_direction(piece, edge, "start")
    end = _square_direction(piece, edge, "end")
    return fair_path(edge.path, deviation_mm, start_tangent=start, end_tangent=end)


def _square_direction(piece: Piece, edge: Edge, end: End) -> Pt | None:
    other = neighbour(piece, edge.id, end)
    if other.kind != "fold" or abs(interior_angle_deg(piece, edge.id, end) - 90.0) > 5.0:
        return None
    ux, uy = other.path.tangent_at(0.0)
    # the fold runs counter-clockwise too: the edge after it leaves to its left, the one before arrives there
    return (-uy, ux) if end == "start" else (uy, -ux)


def fair(pattern: Pattern, edge_id: str, deviation_mm: float = FAIR_DEVIATION_MM) -> Pattern:
    """Return the pattern with an edge made a fair curve within ``deviation_mm`` of its line.

    Raises
    ------
    BadShape
        When no smooth curve lies so near: the message says how near one comes.
    """
    piece, edge = pattern.edge(edge_id)
    fit = fairing_of(pattern, edge.id, deviation_mm)
    if fit.deviation_mm > deviation_mm:
        raise BadShape(
            f"No fair curve lies within {deviation_mm:g} mm of “{called(piece, edge)}” of “{piece.name}”; the best is "
            f"{fit.deviation_mm:.1f} mm away. Allow that much, or put a corner where the line breaks.",
            deviation_mm=fit.deviation_mm,
        )
    mms = np.linspace(0.0, fit.path.length_mm, 40 * len(fit.path.segments) + 1)
    bends = np.abs(fit.path.curvatures_at(mms))
    if float(bends.max()) > 1.0 / SHARPEST_MM:
        x, y = fit.path.point_at(float(mms[int(np.argmax(bends))]))
        raise BadShape(
            f"“{called(piece, edge)}” of “{piece.name}” breaks near ({x:.0f}, {y:.0f}) mm; no curve within "
            f"{deviation_mm:g} mm is fair there. Put a corner on it, or allow more.",
            at_mm=(x, y),
        )
    return pattern.with_piece(sound(piece.with_edge(replace(edge, path=fit.path, shape="fair")), piece))


def square(pattern: Pattern, edge_id: str, end: End, straight_mm: float | None = None) -> Pattern:
    """Return the pattern with an edge leaving its neighbour at a right angle, straight for ``straight_mm``.

    Where that is not said it is 10 mm, or less on a tight round end. The corner stays. A straight edge that is nearly square is turned about its other corner instead, so that
    it stays straight: the corner then slides a little along the neighbour.
    """
    piece, edge = pattern.edge(edge_id)
    other = neighbour(piece, edge.id, end)
    ux, uy = tangent_out(other.path, "end" if end == "start" else "start")
    if _is_straight(edge) and isinstance(other.path.segments[-1 if end == "start" else 0], Line):
        far = corner_point(edge, "end" if end == "start" else "start")
        corner = corner_point(edge, end)
        along = (far[0] - corner[0]) * ux + (far[1] - corner[1]) * uy
        to = (corner[0] + along * ux, corner[1] + along * uy)
        if abs(along) <= SLIDE_MM:
            moved = Path.line(to, far) if end == "start" else Path.line(far, to)
            return pattern.with_piece(with_path(piece, edge.id, moved))
    # inside lies from the outgoing edge round to the incoming one, counter-clockwise
    direction = (uy, -ux) if end == "start" else (-uy, ux)
    if straight_mm is None:
        straight_mm = _square_for_mm(edge.path if end == "start" else edge.path.reversed())
    path = with_end_direction(edge.path, end, direction, straight_mm)
    shape: EdgeShape = "fair" if edge.shape == "fair" else "as traced"
    return pattern.with_piece(sound(piece.with_edge(replace(edge, path=path, shape=shape)), piece))


def _square_for_mm(path: Path) -> float:
    """How far a path may run straight from its start, in mm: as long as that leaves a round end round."""
    mms = np.linspace(0.0, min(SQUARE_FOR_MM, path.length_mm), 21)
    ways = path.tangents_at(mms)
    along = ways @ np.array(path.start_direction)
    round_at = np.flatnonzero(along < np.cos(np.radians(SQUARE_TURN_DEG)))
    return float(mms[round_at[0] - 1]) if len(round_at) else SQUARE_FOR_MM


def _is_straight(edge: Edge) -> bool:
    return edge.shape == "straight" or (
        len(edge.path.segments) == 1 and isinstance(edge.path.segments[0], Line)
    )


# ---------------------------------------------------------------- seams


def resize_edge(pattern: Pattern, edge_id: str, by_mm: float, end: End) -> Pattern:
    """Return the pattern with an edge longer (or shorter) by ``by_mm`` at one end, along its own line.

    The corner there moves along the edge; the neighbour follows with the direction at both its ends kept.

    Raises
    ------
    BadInput
        When less than half of the edge would be left, or the corner lies on the fold and would leave it.
    BadShape
        When the outline would cross itself.
    """
    piece, edge = pattern.edge(edge_id)
    if by_mm == 0.0:
        return pattern
    if leaves_fold(piece, edge.id, end):
        far: End = "start" if end == "end" else "end"
        name = f"“{called(piece, edge)}” of “{piece.name}”"
        if leaves_fold(piece, edge.id, far):
            raise BadInput(
                f"{name} runs from the fold to the fold, and neither end can leave it. Move one of them along the fold."
            )
        raise BadInput(
            f"An end of {name} lies on the fold and slides along it only. Change its length at the other end."
        )
    length = edge.path.length_mm
    if by_mm < -length / 2.0:
        raise BadInput(
            f"“{called(piece, edge)}” of “{piece.name}” is {length:.1f} mm long and cannot become {-by_mm:.1f} mm shorter; "
            f"at most {length / 2.0:.1f} mm."
        )
    path = _longer(edge.path, by_mm, end)
    if len(path.segments) > len(edge.path.segments) and (
        edge.shape == "straight" or len(edge.path.segments) == 1
    ):
        straight = Path.line(path.start, path.end)
        path = straight if abs(straight.length_mm - path.length_mm) < 1e-9 else path
    kept = {n.id: edge.mm_of(n.at) for n in notches_on(piece, edge.id)}
    made = with_path(piece, edge.id, path)
    moved = made.edge(edge.id)
    shift = by_mm if end == "start" else 0.0

    # a notch stays where it is on the cloth; only those said by fraction need to be said anew
    def again(notch: Notch) -> Notch:
        if notch.id not in kept or notch.at.fraction is None:
            return notch
        return replace(notch, at=place_at(moved, kept[notch.id] + shift, notch.at))

    return pattern.with_piece(replace(made, notches=tuple(again(n) for n in made.notches)))


def _longer(path: Path, by_mm: float, end: End) -> Path:
    if end == "start":
        return _longer(path.reversed(), by_mm, "end").reversed()
    if by_mm < 0.0:
        return path.slice(0.0, path.length_mm + by_mm)
    return run_on(path, "end", by_mm)


def share_difference(
    pattern: Pattern, seam_id: str, share_a: float | None = None, at: SeamEnd = "end"
) -> Pattern:
    """Return the pattern in which the two sides of a seam match, their ease kept.

    ``share_a`` of the difference is taken from (or given to) run A at its ``at`` end, the rest to run B: one
    moves that end only. Where it is not said both give half, or all is given by the side that is not held in its length.
    A side that ends on the fold there gives at its other end, since a corner on the fold slides along it only.

    Raises
    ------
    BadInput, BadShape
        When an edge is too short for it or an outline would cross itself.
    ChangeConflict
        When a length or a point that is held would not be so any more.
    """
    if share_a is not None and not 0.0 <= share_a <= 1.0:
        raise BadInput(f"The share of one side lies between 0 and 1, not at {share_a:g}.")
    walked = walk(pattern, seam_id)
    off = walked.difference_mm
    if {p.edge for p in walked.seam.a} & {p.edge for p in walked.seam.b}:
        raise ChangeConflict(
            "The two sides of this seam are one edge and its mirror image; they match already."
        )
    if share_a is None:
        held_a, held_b = (_gives_at(run, at)[0] for run in (walked.a, walked.b))
        held = [length_held(pattern, edge) is not None for edge in (held_a, held_b)]
        share_a = 0.5 if held[0] == held[1] else 0.0 if held[0] else 1.0
    made = _resize_run(pattern, walked.a, -share_a * off, at)
    made = _resize_run(made, walked.b, (1.0 - share_a) * off, at)
    if ended := ended_by(pattern, made):
        raise ChangeConflict(
            f"{ended[:1].upper()}{ended[1:]}. Change the other side, share it at the other end, or let it go first.",
            seam=walked.seam.id,
        )
    return made


def can_share(pattern: Pattern, seam_id: str, share_a: float, at: SeamEnd) -> bool:
    """Whether a difference can be shared so: each side that gives can, and nothing that is held ends."""
    walked = walk(pattern, seam_id)
    giving = [run for run, share in ((walked.a, share_a), (walked.b, 1.0 - share_a)) if share > 0.0]
    if not all(_can_give(run) for run in giving):
        return False
    if not pattern.held_lengths and not pattern.held_points:
        return True
    try:
        share_difference(pattern, seam_id, share_a, at)
    except ChangeConflict:
        return False
    except BadInput:
        return True  # too much, which is told when it is tried
    return True


def _gives_at(run: Run, at: SeamEnd) -> tuple[str, End]:
    """The edge at an end of a run, and the end of it that would move; at its other end where that one is on the fold."""
    ends = _ends(run) if at == "start" else _ends(run)[::-1]
    free = [end for end in ends if not leaves_fold(*end)]
    _, edge, end = (free or ends)[0]
    return edge, end


def _can_give(run: Run) -> bool:
    return not all(leaves_fold(*end) for end in _ends(run))


def _ends(run: Run) -> list[tuple[Piece, str, End]]:
    """Both ends of a run: the piece, the edge there, and which end of it."""
    first, last = run.stretches[0], run.stretches[-1]
    return [(first.piece, first.edge.id, first.first_end), (last.piece, last.edge.id, last.last_end)]


def _resize_run(pattern: Pattern, run: Run, by_mm: float, at: SeamEnd) -> Pattern:
    if abs(by_mm) < 1e-12:
        return pattern
    edge, end = _gives_at(run, at)
    return resize_edge(pattern, edge, by_mm, end)


def share_small(pattern: Pattern, tolerances: Tolerances = DEFAULT) -> Pattern:
    """Return the pattern with all differences that are too small to ask about shared silently, in one step.

    Only seams that are off by no more than ``length_fine_mm`` are touched, each once; where sharing one would
    set another off by more than that, it is left as it is.
    """
    for seam_id in tuple(pattern.seams):
        off = walk(pattern, seam_id).difference_mm
        if not 1e-6 < abs(off) <= tolerances.length_fine_mm:
            continue
        try:
            tried = share_difference(pattern, seam_id)
        except (BadInput, ChangeConflict):
            continue
        worse = any(
            abs(walk(tried, other).difference_mm)
            > max(tolerances.length_fine_mm, abs(walk(pattern, other).difference_mm) + 1e-6)
            for other in pattern.seams
        )
        if not worse:
            pattern = tried
    return pattern


def smooth_join(pattern: Pattern, seam_id: str, at: SeamEnd) -> Pattern:
    """Return the pattern with the free edges at one end of a seam running on smoothly across it.

    Both edges get the mean of their two directions at the join, with the seam closed; the corners stay, so no
    seam changes its length.

    Raises
    ------
    ChangeConflict
        When the free edges there are not one line of the garment.
    """
    walked = walk(pattern, seam_id)
    join = next((j for j in walked.joins if j.at == at), None)
    if join is None:
        raise ChangeConflict(f"At the {at} of this seam no two edges run on into each other.", seam=seam_id)
    half = join.off_deg / 2.0
    for run in (walked.a, walked.b):
        stretch = run.stretches[0 if at == "start" else -1]
        end = stretch.first_end if at == "start" else stretch.last_end
        piece = pattern.piece(stretch.piece.id)
        free, _ = beyond_darts(piece, stretch.edge.id, end)
        free_end: End = "start" if end == "end" else "end"
        # opening the corner turns the free edge away from the seam: clockwise where it starts at the corner
        turn = half if free_end == "start" else -half
        direction = Move.rotation(turn).apply_vector(tangent_out(free.path, free_end))
        path = with_end_direction(free.path, free_end, direction)
        shape: EdgeShape = "as traced" if free.shape == "straight" else free.shape
        pattern = pattern.with_piece(sound(piece.with_edge(replace(free, path=path, shape=shape)), piece))
        if run is walked.a and _same_corner(walked.a, walked.b, at):
            break
    return pattern


def _same_corner(a: Run, b: Run, at: SeamEnd) -> bool:
    one, other = (a.stretches[0], b.stretches[0]) if at == "start" else (a.stretches[-1], b.stretches[-1])
    return one.edge.id == other.edge.id


# ---------------------------------------------------------------- grain


def set_grain(
    pattern: Pattern, piece_id: str, along: tuple[Pt, Pt] | None = None, edge_id: str | None = None
) -> Pattern:
    """Return the pattern with a piece's grain said, and the piece turned so that it runs along +y.

    ``along`` is a line in the piece; ``edge_id`` takes the direction of an edge, as of a centre-front fold.
    With neither the piece's grain runs up and down as it lies.
    """
    piece = pattern.piece(piece_id)
    xa, ya, xb, yb = piece.outline.bounds
    middle = ((xa + xb) / 2.0, (ya + yb) / 2.0)
    if edge_id is not None:
        edge = piece.edge(pattern.resolve(edge_id))
        half = 0.3 * max(yb - ya, 1.0)
        ux, uy = unit(edge.path.start, edge.path.end)
        along = (
            (middle[0] - half * ux, middle[1] - half * uy),
            (middle[0] + half * ux, middle[1] + half * uy),
        )
    if along is None:
        half = 0.3 * (yb - ya)
        along = ((middle[0], middle[1] - half), (middle[0], middle[1] + half))
    if distance(along[0], along[1]) < 1.0:
        raise BadInput("A grain line needs two points at least 1 mm apart.")
    return pattern.with_piece(upright(replace(piece, grain=along)))


def run_parts_in_order(pattern: Pattern, edge_ids: tuple[str, ...]) -> tuple[RunPart, ...]:
    """Return a run along neighbouring edges of one piece, in the order in which they are given.

    Whether it walks them forwards or backwards is seen from the first two.
    """
    piece, first = pattern.edge(edge_ids[0])
    reverse = False
    if len(edge_ids) > 1:
        _, second = pattern.edge(edge_ids[1])
        reverse = index_of(piece, second.id) == (index_of(piece, first.id) - 1) % len(piece.edges)
    return tuple(RunPart(pattern.edge(e)[0].id, pattern.edge(e)[1].id, reverse) for e in edge_ids)
