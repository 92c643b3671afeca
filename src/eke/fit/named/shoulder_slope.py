"""Make shoulders slope more, or less (square shoulders), the armhole keeping its size.

The shoulder seam turns about its neck end until its tip lies lower by the amount, on both pieces; its length stays.
The armhole goes down with it, and the underarm slides down the side seam by the same amount, so that the sleeve still
fits. A forward shoulder is ``fit.move_seam``.

A shoulder is known by the name of its edge; where that says nothing, it is an edge at the top of its piece that falls
from the neck to the armhole.

Params
------
seam
    The shoulder seam: one edge on each side.
tip
    Which end of the seam is the tip: "start" or "end", as it is walked.
drop_mm
    How much lower the tip; below 0 higher.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, Final

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.falloff import with_ends_shifted
from eke.fit.lines import down_of
from eke.fit.slide import trimmed, with_edges_kept
from eke.geometry import Move, Path, Pt
from eke.pattern.corners import End, called, index_of, sound
from eke.pattern.model import Edge, Pattern, Piece
from eke.pattern.proposing.words import ARMHOLE, NECK, SHOULDER, YOKE, groups_of, words_of

MOST_DEG = 25.0
"""No shoulder is turned by more."""
FLATTEST: Final = 0.5
"""Cosine between straight down and the way into the piece over a shoulder; a slope of 20° is usual (common practice)."""
RISING: Final = 0.17
"""An edge without a name whose tip lies higher than its neck end by more than this share (10°) is no shoulder."""
FALLING: Final = 0.5
"""What an armhole at least goes down, of the straight line between its ends."""


def shoulder_slope(pattern: Pattern, seam_id: str, tip: End, drop_mm: float) -> Pattern:
    """Return the pattern with the tip of a shoulder lower by ``drop_mm`` on both sides (below 0: higher).

    Raises
    ------
    BadInput
        When a side of the seam is more than one edge or no shoulder, or the shoulder would turn too far.
    """
    seam = pattern.seam(seam_id)
    done: set[str] = set()
    for run in (seam.a, seam.b):
        if len(run) != 1:
            raise BadInput(
                f"One side of “{seam.name or seam.id}” is in {len(run)} parts. Close or move the dart in the shoulder first."
            )
        part = run[0]
        piece, edge = pattern.edge(part.edge)
        if edge.id in done:
            continue
        done.add(edge.id)
        at_end = (tip == "end") != part.reverse
        _require_shoulder(piece, edge, "end" if at_end else "start", tip)
        pattern = pattern.with_piece(_sloped(piece, edge.id, "end" if at_end else "start", drop_mm))
    return pattern


def _require_shoulder(piece: Piece, edge: Edge, tip: End, said: End) -> None:
    """Refuse an edge that is no shoulder, or one of which the neck end was said to be the tip (``said``: of the seam)."""
    name, count = called(piece, edge), len(piece.edges)
    at, step = index_of(piece, edge.id), 1 if tip == "end" else -1
    arm, neck = piece.edges[(at + step) % count], piece.edges[(at - step) % count]
    says, beyond, before = (groups_of(words_of(e.name)) for e in (edge, arm, neck))
    down, path = down_of(piece), edge.path
    top, low = (path.start, path.end) if tip == "end" else (path.end, path.start)
    fallen = _fallen(top, low, down)
    by_name = SHOULDER in says
    rises = fallen < -RISING * path.length_mm
    if (NECK in beyond and NECK not in before) or (ARMHOLE in before and ARMHOLE not in beyond):
        rises = True
    normal = path.normal_at(path.length_mm / 2.0)
    on_top = normal[0] * down[0] + normal[1] * down[1] >= FLATTEST
    if rises and on_top and (by_name or not says):
        other: End = "start" if said == "end" else "end"
        raise BadInput(
            f"The tip of a shoulder is its end at the armhole. Of “{name}” of “{piece.name}” that is the other end.",
            goes_with={"tip": other},
        )
    if by_name:
        return
    far = arm.path.end if step == 1 else arm.path.start
    falls = _fallen(low, far, down) >= FALLING * math.dist(low, far)
    if says - {YOKE} or not on_top or not falls:
        raise BadInput(
            f"“{name}” of “{piece.name}” is no shoulder: a shoulder runs at the top of a piece from the neck to the "
            "armhole. Choose the shoulder seam, or name its edges so."
        )


def _fallen(p: Pt, q: Pt, down: Pt) -> float:
    """How much lower ``q`` lies than ``p``, in mm."""
    return (q[0] - p[0]) * down[0] + (q[1] - p[1]) * down[1]


def _sloped(piece: Piece, shoulder_id: str, tip: End, drop_mm: float) -> Piece:
    count = len(piece.edges)
    if count < 4:
        raise BadInput(f"“{piece.name}” has too few edges to have a shoulder, an armhole and a side.")
    at, step = index_of(piece, shoulder_id), 1 if tip == "end" else -1
    arm, side = (at + step) % count, (at + 2 * step) % count
    edges = list(piece.edges)
    shoulder = edges[at].path
    neck, was = (shoulder.start, shoulder.end) if tip == "end" else (shoulder.end, shoulder.start)
    down = down_of(piece)
    turned = _turn(neck, was, down, drop_mm)
    edges[at] = replace(edges[at], path=shoulder.moved(turned))
    new_tip = edges[at].path.end if tip == "end" else edges[at].path.start
    # the underarm slides along the side as far as the tip went down
    far: End = "start" if step == 1 else "end"
    corner = edges[arm].path.end if step == 1 else edges[arm].path.start
    u = edges[side].path.tangent_at(0.0 if far == "start" else edges[side].path.length_mm, side="before")
    steep = abs(u[0] * down[0] + u[1] * down[1])
    if steep < 0.3:
        raise BadInput(f"The edge of “{piece.name}” beyond the armhole is no side seam: it runs across.")
    edges[side] = trimmed(piece, edges[side], far, drop_mm / steep)
    under = edges[side].path.start if far == "start" else edges[side].path.end
    ends = (_less(new_tip, was), _less(under, corner))
    edges[arm] = with_ends_shifted(edges[arm], *(ends if step == 1 else ends[::-1]))
    edges[arm] = replace(edges[arm], path=_ending(edges[arm].path, new_tip, under, step))
    return sound(with_edges_kept(piece, edges), piece)


def _turn(neck: Pt, tip: Pt, down: Pt, drop_mm: float) -> Move:
    """The turn about the neck that brings the tip down by ``drop_mm``."""
    dx, dy = tip[0] - neck[0], tip[1] - neck[1]
    across = (-down[1], down[0])
    fallen, out = dx * down[0] + dy * down[1], dx * across[0] + dy * across[1]
    length = math.hypot(fallen, out)
    if abs(fallen + drop_mm) >= length:
        raise BadInput(f"The shoulder is {length:.0f} mm long; its tip cannot go {abs(drop_mm):g} mm.")
    by_deg = math.degrees(math.asin((fallen + drop_mm) / length) - math.asin(fallen / length))
    if abs(by_deg) > MOST_DEG:
        most = abs(
            length * math.sin(math.asin(fallen / length) + math.radians(math.copysign(MOST_DEG, drop_mm)))
            - fallen
        )
        raise BadInput(
            f"That would turn the shoulder by {abs(by_deg):.0f}°; up to {most:.0f} mm can be done.",
            most_mm=most,
        )
    # across and down are a left-handed pair: what grows there turns clockwise
    sign = -1.0 if out > 0.0 else 1.0
    return Move.rotation(sign * by_deg, neck)


def _ending(path: Path, tip: Pt, under: Pt, step: int) -> Path:
    start, end = (tip, under) if step == 1 else (under, tip)
    segments = list(path.segments)
    segments[0] = segments[0].with_ends(start, segments[0].end)
    segments[-1] = segments[-1].with_ends(segments[-1].start, end)
    return Path(tuple(segments))


def _less(p: Pt, q: Pt) -> Pt:
    return (p[0] - q[0], p[1] - q[1])


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    tip: End = "end" if read.word(params, "tip", ("start", "end"), "start") == "end" else "start"
    return shoulder_slope(state, read.text(params, "seam"), tip, read.number(params, "drop_mm"))


def _say(params: read.Params) -> str:
    way = "down" if read.over(params, "drop_mm") else "up"
    return f"Brought the tip of {read.called(params, 'the shoulder')} {way} by {read.mm(params, 'drop_mm')}"


KIND = read.named("fit.shoulder_slope", _apply, _say, "seam")
