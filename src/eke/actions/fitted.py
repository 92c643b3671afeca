"""A mock-up piece, photographed after the fitting and traced, and carried to its pattern piece as changes of fit.

The traced piece is taken into the pattern like any other. Here it is laid on the piece that it was cut from; what differs
by more than its tracing is uncertain is offered, edge by edge, as a change that Eke has anyway; and what is chosen is
made. Then the traced piece has done its work and is taken out; the mock-up keeps the photograph and the changes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np

from eke.actions.naming import filled
from eke.actions.patterns import find_piece
from eke.actions.room import Done, GarmentState, Room
from eke.changes import Context
from eke.errors import BadInput, EkeError, NotFound
from eke.fit import fit_kinds
from eke.pattern.fitted import EdgeFitted, Fitted, laid_on
from eke.pattern.measure import run_length_mm
from eke.pattern.model import MockUp, Pattern, Piece, RunPart, Seam

Sides = Literal["this", "both"]
"""Which side of a seam moves: the piece that was traced alone, or its mate by as much."""

FADE_MM: Final = 60.0
"""Where a run goes on over the next piece, what is moved fades to nothing over so much of it: about a hand's reach."""
ROUNDED_MM: Final = 0.1
STRETCH_SHARE: Final = 0.8
"""Of a bump in an edge that is sewn to nothing, so much of its height counts as moved whole; the rest fades."""
LEFT_SHARE: Final = 0.5
"""A change is offered when it takes away at least half of what differs, or all but the uncertainty."""


@dataclass(frozen=True, slots=True)
class Carry:
    """One edge that was moved, as a change: ``left_mm`` is what would still differ there after it.

    ``before`` are the changes that move what is sewn there in its other seams, in order: they are made first. Without
    ``kind`` Eke has no change for it, and ``why`` says so.
    """

    edge: str
    sides: Sides
    kind: str | None
    params: Mapping[str, Any]
    left_mm: float
    why: str = ""
    before: tuple[tuple[str, Mapping[str, Any]], ...] = ()


@dataclass(frozen=True, slots=True)
class Offered:
    """A traced mock-up piece on its pattern piece, and what can be carried over."""

    piece: Piece
    traced: Piece
    fitted: Fitted
    carries: tuple[Carry, ...]

    @property
    def warnings(self) -> tuple[str, ...]:
        """What to look at before anything is carried over."""
        said = []
        if self.fitted.turned_over:
            said.append(
                f"“{self.traced.name}” is the mirror image of “{self.piece.name}”: the other one of the pair, or seen from "
                "its other side. It was turned over."
            )
        if self.fitted.poor:
            said.append(
                f"Only {100 * self.fitted.agreeing:.0f} % of its outline lies on “{self.piece.name}”, so it is unsure how the "
                "two belong on each other. Look at the edges closely, and carry over only what you pinned."
            )
        return tuple(said)


def offer_fitted(
    room: Room, garment: str, piece: str, traced: str, sides: Mapping[str, Sides] | None = None
) -> Offered:
    """Return where a traced mock-up piece differs from its pattern piece, and the changes that would carry it over.

    Parameters
    ----------
    piece, traced
        By name or id.
    sides
        For edges in seams, whether the mates move too, those of all its seams; only the traced piece where nothing is
        said.

    Raises
    ------
    BadInput
        When it is one piece, or they hardly belong together.
    NotFound
        When one of them is not there.
    """
    return _offered(room.garment(garment).pattern, piece, traced, sides or {})


@dataclass(frozen=True, slots=True)
class Carried:
    """What was carried over, change by change, and the notes that followed."""

    changes: tuple[Done, ...]
    last: Done


def carry_fitted(
    room: Room,
    garment: str,
    piece: str,
    traced: str,
    chosen: Mapping[str, Sides],
    *,
    mock_up: int | None = None,
    expected: int | None = None,
) -> Carried:
    """Make the changes that carry what differs at the ``chosen`` edges to the pattern; each can be taken back.

    All of them are made, or none. The traced piece is then taken out of the pattern, and the mock-up keeps its
    photograph and the ids of the changes.

    Parameters
    ----------
    chosen
        Ids of edges of the pattern piece, and which side of their seam moves.
    mock_up
        Number of the mock-up; the newest where none is said, and a new one is noted where there is none.

    Raises
    ------
    BadInput
        When nothing is chosen, or for one of the edges there is no change; nothing is changed then.
    """
    with room.store.write() as tx:
        state = room.garment(garment, tx)
        room.expect(state.stored, expected)
        own, other = _two(state.pattern, piece, traced)
        noted = _mock_up(state.pattern, mock_up)
        number = noted.number if noted is not None else 1
        if not chosen:
            raise BadInput("Choose at least one edge that is to be carried over.")
        done: list[Done] = []
        for edge, sides in chosen.items():
            # each is worked out on what the one before has left, so that no part is carried over twice
            pattern = room.garment(state.id, tx).pattern
            offered = _offered(pattern, own.id, other.id, {edge: sides})
            found = next((c for c in offered.carries if c.edge == edge), None)
            if found is None:
                raise BadInput(
                    f"“{_edge_name(own, edge)}” differs by no more than its tracing is uncertain. Nothing was changed."
                )
            if found.kind is None:
                raise BadInput(f"{found.why} Nothing was changed.")
            note = f"from the traced mock-up {number}"
            for kind, params in (*found.before, (found.kind, found.params)):
                told = filled(room.garment(state.id, tx).pattern, None, kind, params)
                done.append(room.change_garment_in(tx, state.id, kind, told, note=note))
        room.change_garment_in(
            tx, state.id, "piece.drop", filled(state.pattern, None, "piece.drop", {"piece": other.id})
        )
        last = room.change_garment_in(tx, state.id, "mockup.note", _note(state, noted, other, done))
    return Carried(tuple(done), last)


def _note(state: GarmentState, noted: MockUp | None, traced: Piece, done: list[Done]) -> dict[str, Any]:
    tracing = state.pattern.tracings.get(traced.tracing or "")
    photo = (tracing.photo,) if tracing is not None and tracing.photo else ()
    told = filled(
        state.pattern, state.stored.log.head, "mockup.note", {"noticed": "Traced after the fitting"}
    )
    if noted is not None:
        told |= {"id": noted.id, "number": noted.number, "revision": noted.revision, "noticed": noted.noticed}
    before, changes = (noted.photos, noted.changes) if noted is not None else ((), ())
    told["photos"] = list(dict.fromkeys((*before, *photo)))
    told["changes"] = list(dict.fromkeys((*changes, *(one.id for one in done))))
    return told


def _mock_up(pattern: Pattern, number: int | None) -> MockUp | None:
    if number is None:
        return max(pattern.mock_ups.values(), key=lambda m: m.number, default=None)
    found = [m for m in pattern.mock_ups.values() if m.number == number]
    if not found:
        raise NotFound(f"There is no mock-up {number} of this garment. Note it first.")
    return found[0]


def _two(pattern: Pattern, piece: str, traced: str) -> tuple[Piece, Piece]:
    one, other = find_piece(pattern, piece), find_piece(pattern, traced)
    if one.id == other.id:
        raise BadInput("A mock-up piece is laid on the pattern piece that it was cut from, not on itself.")
    sewn = [s for e in other.edges for s in pattern.seams_of(e.id)]
    if sewn:
        raise BadInput(
            f"“{other.name}” is sewn in the pattern, so it is no traced mock-up piece. Choose the one that was traced."
        )
    return one, other


def _edge_name(piece: Piece, edge: str) -> str:
    found = [e.name for e in piece.edges if e.id == edge]
    if not found:
        raise NotFound(f"There is no edge “{edge[:80]}” on “{piece.name}”.")
    return found[0] or "This edge"


def _offered(pattern: Pattern, piece: str, traced: str, sides: Mapping[str, Sides]) -> Offered:
    own, other = _two(pattern, piece, traced)
    tracing = pattern.tracings.get(other.tracing or "")
    fitted = laid_on(own, other, tracing.uncertainty_mm if tracing is not None else 0.0)
    legs = {leg for dart in own.darts for leg in (dart.first_leg, dart.second_leg)}
    carries = tuple(
        _carry(pattern, own, other, fitted, edge, sides.get(edge.edge, "this"))
        for edge in fitted.edges
        if edge.beyond and edge.edge not in legs
    )
    return Offered(own, other, fitted, carries)


def _carry(
    pattern: Pattern, own: Piece, traced: Piece, fitted: Fitted, edge: EdgeFitted, sides: Sides
) -> Carry:
    redraw = f"The {edge.name} of “{own.name}” was moved in a way that no single change of fit draws; move it by hand."
    if edge.kind == "fold":
        fold = f"The {edge.name} of “{own.name}” is a fold and stays straight. Unfold the piece, or trace it again."
        return Carry(edge.edge, sides, None, {}, abs(edge.most_mm), fold)
    try:
        steps, after = _changed(pattern, own, fitted, edge, sides)
        left = next(
            e
            for e in laid_on(after.piece(own.id), traced, fitted.uncertainty_mm).edges
            if e.edge == edge.edge
        )
    except (EkeError, StopIteration) as trouble:
        said = trouble.message if isinstance(trouble, EkeError) else redraw
        return Carry(edge.edge, sides, None, {}, abs(edge.most_mm), said)
    rest = abs(left.most_mm)
    if rest > max(fitted.uncertainty_mm, LEFT_SHARE * abs(edge.most_mm)):
        return Carry(edge.edge, sides, None, {}, abs(edge.most_mm), redraw)
    *before, (kind, params) = steps
    return Carry(edge.edge, sides, kind, params, rest, before=tuple(before))


_KINDS: Final = {kind.name: kind for kind in fit_kinds()}
Step = tuple[str, dict[str, Any]]


def _changed(
    pattern: Pattern, own: Piece, fitted: Fitted, edge: EdgeFitted, sides: Sides
) -> tuple[list[Step], Pattern]:
    """The changes that carry one edge over, the one that moves it last, and the pattern after them."""
    steps: list[Step] = []

    def do(kind: str, params: dict[str, Any]) -> None:
        nonlocal pattern
        pattern = _KINDS[kind].apply(pattern, params, Context("fitted"))
        steps.append((kind, params))

    knots = inward_knots(edge, fitted.uncertainty_mm)
    seams = sorted(
        pattern.seams_of(edge.edge),
        key=lambda s: (_with_itself(pattern, s), -len(_run_of(pattern, s, edge.edge))),
    )
    if seams:
        # the seam whose run goes on over the most edges moves it, so that it fades over them
        main, *others = seams
        follow = sides == "both" and not _with_itself(pattern, main)
        moved = {edge.edge, *_mates(pattern, main, edge.edge)} if follow else {edge.edge}
        for seam in others if sides == "both" else ():
            mates = _mates(pattern, seam, edge.edge)
            if moved.isdisjoint(mates):  # what is sewn there twice moves once
                moved |= mates
                do("fit.take_in", _taken_in(pattern, seam, edge.edge, knots, "mates"))
        do(
            "fit.take_in",
            _taken_in(pattern, pattern.seam(main.id), edge.edge, knots, "both" if follow else "this"),
        )
        return steps, pattern
    amounts = np.array([inward for _, inward in knots])
    if edge.kind == "hem" and float(np.ptp(amounts)) <= fitted.uncertainty_mm:
        do("fit.hem", {"edge": edge.edge, "by_mm": round(edge.mean_mm, 1)})
    else:
        do("fit.move_freely", _bump(own, edge))
    return steps, pattern


def _run_of(pattern: Pattern, seam: Seam, edge: str) -> tuple[RunPart, ...]:
    """The side of a seam that an edge is on."""
    return seam.a if any(pattern.resolve(part.edge) == edge for part in seam.a) else seam.b


def _mates(pattern: Pattern, seam: Seam, edge: str) -> set[str]:
    """The edges on the other side of a seam."""
    other = seam.b if _run_of(pattern, seam, edge) is seam.a else seam.a
    return {pattern.resolve(part.edge) for part in other}


def _with_itself(pattern: Pattern, seam: Seam) -> bool:
    """Whether an edge is sewn to its own mirror image, which moves with it."""
    return {pattern.resolve(p.edge) for p in seam.a} == {pattern.resolve(p.edge) for p in seam.b}


def inward_knots(edge: EdgeFitted, uncertainty_mm: float) -> tuple[tuple[float, float], ...]:
    """Return few places with the amount moved inwards there, true to half of what is uncertain (not below 0.5 mm).

    What differs by less than half of the uncertainty is not moved at all.
    """
    rows = [(mm, 0.0 if abs(out) <= uncertainty_mm / 2.0 else -out) for mm, out in edge.out_mm]
    kept = [0, len(rows) - 1]
    tolerance = max(uncertainty_mm / 2.0, 0.5)
    while True:
        at = [rows[k][0] for k in kept]
        line = np.interp([mm for mm, _ in rows], at, [rows[k][1] for k in kept])
        off = np.abs(line - np.array([amount for _, amount in rows]))
        worst = int(np.argmax(off))
        if off[worst] <= tolerance or worst in kept:
            break
        kept = sorted((*kept, worst))
    return tuple((round(rows[k][0], 1), round(rows[k][1] / ROUNDED_MM) * ROUNDED_MM) for k in kept)


def _taken_in(
    pattern: Pattern,
    seam: Seam,
    edge: str,
    knots: tuple[tuple[float, float], ...],
    sides: Literal["this", "both", "mates"],
) -> dict[str, Any]:
    """The profile along a seam that moves one of its edges; in mm along run A, as the change wants it.

    ``mates``: only what it is sewn to moves, by as much.
    """
    on_a = any(pattern.resolve(part.edge) == edge for part in seam.a)
    run = _run_of(pattern, seam, edge)
    whole, length = run_length_mm(pattern, seam.a), run_length_mm(pattern, run)
    start = 0.0
    for part in run:
        own = pattern.edge(part.edge)[1].path.length_mm
        if pattern.resolve(part.edge) == edge:
            along = [(start + (own - mm if part.reverse else mm), amount) for mm, amount in knots]
            first, last = start, start + own
            break
        start += own
    else:
        raise BadInput("This edge is not part of its seam any more. Look at the seam in the pattern.")
    along.sort()
    if first > 1e-6 and along[0][1]:
        along.insert(0, (max(first - FADE_MM, 0.0), 0.0))
    if last < length - 1e-6 and along[-1][1]:
        along.append((min(last + FADE_MM, length), 0.0))
    times = 2.0 if sides == "both" else 1.0
    rows = [[min(mm * whole / length, whole), round(times * amount, 1)] for mm, amount in along]
    share = 0.5 if sides == "both" else 1.0 if on_a == (sides == "this") else 0.0
    return {"seam": seam.id, "knots": rows, "share_a": share}


def _bump(own: Piece, edge: EdgeFitted) -> dict[str, Any]:
    """One stretch of an edge that is sewn to nothing, moved in or out and fading to where nothing moved."""
    rows = edge.out_mm
    top = max(range(len(rows)), key=lambda k: abs(rows[k][1]))
    high, sign = abs(rows[top][1]), np.sign(rows[top][1])
    low = up = top
    while low > 0 and sign * rows[low - 1][1] >= STRETCH_SHARE * high:
        low -= 1
    while up < len(rows) - 1 and sign * rows[up + 1][1] >= STRETCH_SHARE * high:
        up += 1
    left, right = low, up
    while left > 0 and sign * rows[left][1] > 0.1 * high:
        left -= 1
    while right < len(rows) - 1 and sign * rows[right][1] > 0.1 * high:
        right += 1
    fade = max((rows[low][0] - rows[left][0] + rows[right][0] - rows[up][0]) / 2.0, 1.0)
    middle, over = (rows[low][0] + rows[up][0]) / 2.0, rows[up][0] - rows[low][0]
    return {
        "edge": edge.edge, "mm": round(middle, 1), "in_mm": round(-rows[top][1], 1), "over_mm": round(over, 1),
        "fade_mm": round(fade, 1),
    }  # fmt: skip
