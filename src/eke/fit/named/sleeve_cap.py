"""Fit a sleeve cap to the armhole as it is now, with the ease that it should have.

After an armhole has changed, the cap must follow by as much: the cap is made wider, higher, or both, until it is as
long as the armhole and the ease. The underarm seam of the sleeve keeps its length.

Params
------
seam
    The armhole seam; one of its sides is the cap, on one piece or on the two of a sleeve in two parts.
cap
    Which side that is: "a" or "b"; where not said, the side that lies on a single piece, or on sleeves by their names.
ease_mm
    By how much the cap is longer than the armhole, gathers drawn up; what the seam says where not given.
how
    "wider", "higher" or "both" (the default).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from scipy.optimize import brentq

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.falloff import bent, between_ends, with_ends_shifted
from eke.fit.growing import is_sleeve
from eke.fit.lines import down_of
from eke.geometry import Move, Path, Pt
from eke.geometry.segments import distance
from eke.pattern.corners import index_of, place_at, sound
from eke.pattern.gathers import gathers_on, sewn_length_mm
from eke.pattern.model import Edge, Notch, Pattern, Piece, PieceId, RunPart

MOST: Final = 0.35
"""A cap grows or shrinks by no more than this share; beyond it another sleeve is wanted."""

FOLLOWED: Final = (1.0, 0.7, 0.5, 0.35, 0.25, 0.15, 0.1, 0.05)
"""Parts of it that are tried where the underarm seams of a short sleeve cannot follow so far."""


def fit_cap(pattern: Pattern, seam_id: str, cap: str, ease_mm: float, how: str) -> Pattern:
    """Return the pattern with one side of a seam stretched until it is longer than the other by ``ease_mm``.

    A cap that crosses the two pieces of a sleeve is stretched by the same share on both. Gathers of which the fullness
    was said are compared drawn up.

    Raises
    ------
    BadInput
        When that side is no chain of edges on each of its pieces, or would have to change too much.
    """
    seam = pattern.seam(seam_id)
    own, other = (seam.a, seam.b) if cap == "a" else (seam.b, seam.a)
    caps = _caps(pattern, own)
    if set(caps) & {pattern.edge(p.edge)[0].id for p in other}:
        raise BadInput("Both sides of this seam lie on one piece.")
    parts = [_Part.of(pattern.piece(id_), edges, how) for id_, edges in caps.items()]
    wanted = sewn_run_mm(pattern, other) + ease_mm

    def off(share: float) -> float:
        return math.fsum(part.sewn_mm(share) for part in parts) - wanted

    low, high = _most(off, -MOST), _most(off, MOST)
    if off(low) * off(high) > 0.0:
        least, most = off(low) + wanted, off(high) + wanted
        raise BadInput(
            f"The cap should be {wanted:.0f} mm long; this sleeve can be brought to {least:.0f} to {most:.0f} mm.",
            least_mm=least,
            most_mm=most,
        )
    share = 0.0 if off(0.0) == 0.0 else float(brentq(off, low, high, xtol=1e-10))
    for part in parts:
        pattern = pattern.with_piece(sound(part.made(share), part.piece))
    return pattern.with_seam(replace(seam, ease_mm=ease_mm if cap == "a" else -ease_mm))


def _most(off: Callable[[float], float], share: float) -> float:
    """The share, or as much of it as the underarm seams can follow: a short sleeve's follow less."""
    for part in FOLLOWED:
        try:
            off(share * part)
        except BadInput:
            continue
        return share * part
    return 0.0


def sewn_run_mm(pattern: Pattern, run: Sequence[RunPart]) -> float:
    """Return how long a side of a seam is when it is sewn: gathers of which the fullness was said are drawn up."""
    return math.fsum(sewn_length_mm(*pattern.edge(part.edge)) for part in run)


def _caps(pattern: Pattern, run: Sequence[RunPart]) -> dict[PieceId, list[Edge]]:
    """The edges of a side of a seam, by the pieces that they lie on."""
    made: dict[PieceId, list[Edge]] = {}
    for part in run:
        piece, edge = pattern.edge(part.edge)
        made.setdefault(piece.id, []).append(edge)
    return made


@dataclass(frozen=True)
class _Part:
    """What of a cap lies on one piece, and how it is stretched."""

    piece: Piece
    chain: list[int]
    stretch: Callable[[float], list[Path]]

    @classmethod
    def of(cls, piece: Piece, edges: list[Edge], how: str) -> _Part:
        chain = _chain(piece, edges)
        return cls(piece, chain, _stretcher(piece, chain, how))

    def made(self, share: float) -> Piece:
        """The piece with its cap stretched by a share."""
        return _with_cap(self.piece, self.chain, self.stretch(share))

    def sewn_mm(self, share: float) -> float:
        """How long the cap is then, drawn up where it is gathered."""
        if not any(gathers_on(self.piece, self.piece.edges[k].id) for k in self.chain):
            return math.fsum(path.length_mm for path in self.stretch(share))
        made = self.made(share)
        return math.fsum(sewn_length_mm(made, made.edges[k]) for k in self.chain)


def _chain(piece: Piece, edges: list[Edge]) -> list[int]:
    """The numbers of the cap's edges, counter-clockwise."""
    count = len(piece.edges)
    numbers = {index_of(piece, e.id) for e in edges}
    first = [n for n in numbers if (n - 1) % count not in numbers]
    chain = [(first[0] + k) % count for k in range(len(numbers))] if first else []
    if set(chain) != numbers or len(numbers) > count - 2:
        raise BadInput(
            f"The edges of the cap follow one another on “{piece.name}”, without a dart between them."
        )
    return chain


def _stretcher(piece: Piece, chain: list[int], how: str) -> Callable[[float], list[Path]]:
    """What gives the cap's paths stretched by a share: across about its middle, upwards from its ends."""
    start, end = piece.edges[chain[0]].path.start, piece.edges[chain[-1]].path.end
    middle = ((start[0] + end[0]) / 2.0, (start[1] + end[1]) / 2.0)
    down, count = down_of(piece), len(piece.edges)
    level = Move.rotation(-math.degrees(math.atan2(-down[1], -down[0])) + 90.0, middle)
    back = level.inverse()

    def stretched(share: float) -> list[Path]:
        wide = 1.0 + (share if how in ("wider", "both") else 0.0)
        high = 1.0 + (share if how in ("higher", "both") else 0.0)
        move = level.then(Move.scale(wide, high, middle)).then(back)
        paths = [piece.edges[k].path.moved(move) for k in chain]
        # the underarm seams swing about their far ends, so that they keep their lengths
        falls = [
            _kept_length(piece.edges[(chain[0] - 1) % count].path.start, start, paths[0].start, down),
            _kept_length(piece.edges[(chain[-1] + 1) % count].path.end, end, paths[-1].end, down),
        ]
        field = between_ends(sum(p.length_mm for p in paths), *falls)
        made, done = [], 0.0
        for path in paths:
            made.append(bent(path, lambda mm, done=done: field(mm + done)))  # type: ignore[misc]
            done += path.length_mm
        return made

    return stretched


def _kept_length(far: Pt, was: Pt, now: Pt, down: Pt) -> Pt:
    """The shift down that brings ``now`` as far from ``far`` as ``was`` is."""
    along = (now[0] - far[0]) * down[0] + (now[1] - far[1]) * down[1]
    square = distance(now, far) ** 2 - along**2
    rest = distance(was, far) ** 2 - square
    if rest <= 0.0:
        raise BadInput("The underarm seam is too short to follow so wide a cap.")
    by_mm = math.copysign(math.sqrt(rest), along) - along
    return (by_mm * down[0], by_mm * down[1])


def _with_cap(piece: Piece, chain: list[int], paths: list[Path]) -> Piece:
    count = len(piece.edges)
    edges = list(piece.edges)
    for k, path in zip(chain, paths, strict=True):
        edges[k] = replace(edges[k], path=path)
    before, after = (chain[0] - 1) % count, (chain[-1] + 1) % count
    edges[before] = _swung(edges[before], "end", paths[0].start)
    edges[after] = _swung(edges[after], "start", paths[-1].end)
    new = {e.id: e for e in edges}

    def carried(notch: Notch) -> Notch:
        edge, was = new[notch.at.edge], piece.edge(notch.at.edge)
        if edge.path == was.path:
            return notch
        # on the cap and beside it alike: the same share of the edge, which was stretched as a whole
        share = was.mm_of(notch.at) / was.path.length_mm
        return replace(notch, at=place_at(edge, share * edge.path.length_mm, notch.at))

    return replace(piece, edges=tuple(edges), notches=tuple(carried(n) for n in piece.notches))


def _swung(edge: Edge, end: str, to: Pt) -> Edge:
    path = edge.path
    was = path.start if end == "start" else path.end
    shift = (to[0] - was[0], to[1] - was[1])
    still = (0.0, 0.0)
    moved = with_ends_shifted(edge, shift, still) if end == "start" else with_ends_shifted(edge, still, shift)
    segments = list(moved.path.segments)
    if end == "start":
        segments[0] = segments[0].with_ends(to, segments[0].end)
    else:
        segments[-1] = segments[-1].with_ends(segments[-1].start, to)
    return replace(moved, path=Path(tuple(segments)))


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    seam = state.seam(read.text(params, "seam"))
    sides = {side: _caps(state, run) for side, run in (("a", seam.a), ("b", seam.b))}
    likely = [side for side, caps in sides.items() if len(caps) == 1]
    if len(likely) != 1:
        likely = [side for side, caps in sides.items() if all(is_sleeve(state.piece(id_)) for id_ in caps)]
    if params.get("cap") is None and len(likely) != 1:
        raise BadInput("Say which side of the seam is the sleeve cap: a or b.")
    cap = read.word(params, "cap", ("a", "b"), likely[0] if likely else "a")
    if params.get("ease_mm") is None:
        _require_tight(state, sides[cap])
    now = seam.ease_mm if cap == "a" else -seam.ease_mm
    how = read.word(params, "how", ("wider", "higher", "both"), "both")
    return fit_cap(state, seam.id, cap, read.number(params, "ease_mm", now), how)


def _require_tight(pattern: Pattern, caps: dict[PieceId, list[Edge]]) -> None:
    """Refuse a cap that is gathered to fit: whatever it is longer is drawn up, so only the maker knows how long."""
    for id_, edges in caps.items():
        piece = pattern.piece(id_)
        if any(gather.ratio is None for e in edges for gather in gathers_on(piece, e.id)):
            raise BadInput(
                f"The cap of “{piece.name}” is gathered or eased to fit its armhole, so it fits already. Say by how much "
                "it is to be longer than the armhole, or how full the gathers are."
            )


def _say(params: read.Params) -> str:
    ease = f" with {read.mm(params, 'ease_mm')} of ease" if params.get("ease_mm") else ""
    return f"Fitted the sleeve cap to {read.called(params, 'the armhole')}{ease}"


KIND = read.named("fit.sleeve_cap", _apply, _say, "seam")
