"""Open an edge that was traced gathered: it is slashed and spread to its full length, and said to be gathered.

The stretch between two places is opened at even slashes that run to the edge opposite, to nothing there (a sleeve head)
or by as much (a frill). It is marked as gathered or eased between two notches; walking draws it up to the length that
was traced, so that every seam fits as it did.

Params
------
edge
    The edge that was traced gathered.
from_mm, to_mm
    Between which places, in mm from the edge's start; from end to end where not said.
ratio, or flat_mm
    How many times as long it is flat; or how long the stretch is when the cloth is pulled flat.
to
    {edge}: the edge opposite, where the slashes end, or at what they meet before it.
far
    "nothing" (where not said): that edge keeps its length; "same": it grows by as much.
how
    "gathered" (where not said) or "eased".
slashes
    How many, evenly spread; 5 where not said.
"""

from __future__ import annotations

from typing import Any, Final, Literal, cast

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.hinge import hinge_angle_deg, stays_inside
from eke.fit.parts import At, seams_over
from eke.fit.spread import spread_along
from eke.fit.traced import first_met, point_at
from eke.geometry.segments import distance, unit
from eke.pattern.corners import called, folds_away, index_of
from eke.pattern.gathers import AT_END_MM, LEAST_MM, MOST_RATIO, require_ratio, say_gather
from eke.pattern.model import Edge, EdgeId, EdgePlace, GatherHow, Pattern, Piece

MOST_SLASHES: Final = 12
WIDEST_DEG: Final = 45.0
"""One slash opens by no more: beyond that its edge is a corner, however it is smoothed."""
SAME_MM: Final = 0.1
"""Two places so near are one."""
ROUNDS: Final = 3
"""So often the slashes are widened a little, until the edge smoothed over them is as long as it was measured."""


def open_gathers(
    pattern: Pattern,
    piece: Piece,
    edge: Edge,
    span: tuple[float, float],
    opposite: Edge,
    flat_mm: float,
    far: Literal["nothing", "same"],
    how: GatherHow,
    slashes: int,
    change_id: str,
) -> Pattern:
    """Return the pattern with a stretch of an edge spread until it is ``flat_mm`` long, and said to be gathered.

    ``span`` is from where to where, mm from the edge's start.

    Raises
    ------
    BadInput
        When the stretch is too short, the slashes leave the piece, or they would open too wide; with the most that works.
    """
    low, high = span
    long = high - low
    if "fold" in (edge.kind, opposite.kind):
        raise BadInput("A slash neither begins nor ends at a fold.")
    if folds_away(piece, edge.id) or folds_away(piece, opposite.id):
        raise BadInput("That edge is folded away when the piece is sewn. Choose another.")
    if long < LEAST_MM:
        raise BadInput(
            f"A stretch of {long:.1f} mm is too short to be {how}. Let it be {LEAST_MM:g} mm or more."
        )
    require_ratio(flat_mm / long)
    wanted = flat_mm - long
    by_mm, made, grown = wanted, pattern, 0.0
    for _ in range(ROUNDS):
        made = _spread(pattern, piece, edge, span, opposite, by_mm / slashes, far, slashes, change_id)
        grown = made.edge(edge.id)[1].path.length_mm - edge.path.length_mm
        if grown <= 0.0 or abs(grown - wanted) <= 0.005:
            break
        by_mm *= wanted / grown
    to = low + long + grown
    length = made.edge(edge.id)[1].path.length_mm
    return say_gather(
        made,
        edge.id,
        EdgePlace(EdgeId(edge.id), mm=low),
        EdgePlace(EdgeId(edge.id), mm=min(to, length)),
        how,
        ratio=(long + grown) / long,
        change_id=change_id,
    )


def _spread(
    pattern: Pattern,
    piece: Piece,
    edge: Edge,
    span: tuple[float, float],
    opposite: Edge,
    width: float,
    far: str,
    slashes: int,
    change_id: str,
) -> Pattern:
    low, high = span
    for k in range(slashes):
        here = pattern.piece(piece.id)
        now, other = here.edge(edge.id), here.edge(opposite.id)
        # slashes before this one have widened the edge on that side already
        mm = (
            low
            + (high - low) * (k + 0.5) / slashes
            + k * (now.path.length_mm - edge.path.length_mm) / max(k, 1)
        )
        share = (low + (high - low) * (k + 0.5) / slashes) / edge.path.length_mm
        at = At(index_of(here, edge.id), mm)
        to = At(index_of(here, opposite.id), _across(other, opposite, share, k, far))
        to = _before_it(here, edge, at, to) if far == "nothing" else to
        start, end = point_at(here, at), point_at(here, to)
        stays_inside(here, start, end)
        reach = distance(start, end)
        if far == "nothing" and (width >= reach or hinge_angle_deg(width, reach) > WIDEST_DEG):
            most = (high - low) + slashes * reach * 0.76
            raise BadInput(
                f"With {slashes} slashes of {reach:.0f} mm the stretch can be opened to about {most:.0f} mm, not to "
                f"{high - low + width * slashes:.0f} mm. Say less, make more slashes, or let the edge opposite grow as well.",
                most_mm=most,
            )
        made = spread_along(here, at, to, width, width if far == "same" else 0.0, change_id)
        pattern = seams_over(pattern.with_piece(made.piece), made.parted)
    return pattern


def _before_it(piece: Piece, edge: Edge, at: At, to: At) -> At:
    """Where a slash ends that meets another edge before the one opposite, as below a deep neck."""
    start = point_at(piece, at)
    met = first_met(piece, start, unit(start, point_at(piece, to)))
    if met is None or distance(point_at(piece, met[0]), point_at(piece, to)) <= SAME_MM:
        return to
    other = piece.edges[met[0].index]
    return to if other.kind == "fold" or other.id == edge.id or folds_away(piece, other.id) else met[0]


def _across(now: Edge, before: Edge, share: float, k: int, far: str) -> float:
    """Where on the edge opposite a slash ends: it runs the other way round the piece."""
    mm = (1.0 - share) * before.path.length_mm
    # counted from its start, the slashes that were opened before this one lie beyond it
    return (
        min(mm, now.path.length_mm)
        if far == "same" or k == 0
        else mm * now.path.length_mm / before.path.length_mm
    )


def span_of(state: Pattern, params: read.Params) -> tuple[Piece, Edge, float, float, float]:
    """Return the piece and edge, from where to where along it, and how long that stretch is flat, all mm.

    Raises
    ------
    BadInput
        When the places do not lie on the edge, or the length is no fullness.
    """
    piece, edge = read.edge_of(state, params)
    length = edge.path.length_mm
    ends = [read.number(params, key, at) for key, at in (("from_mm", 0.0), ("to_mm", length))]
    low, high = min(ends), max(ends)
    if low < -1e-6 or high > length + 0.01:
        raise BadInput(
            f"There is no place {high if high > length else low:.0f} mm along “{called(piece, edge)}”: it is {length:.1f} mm long."
        )
    # as gathers are said: a place so near the end is the end
    low = 0.0 if low <= AT_END_MM else low
    high = length if high >= length - AT_END_MM else high
    if params.get("ratio") is None:
        flat = read.number(params, "flat_mm")
        if not high - low < flat <= MOST_RATIO * (high - low):
            raise BadInput(
                f"The stretch was traced {high - low:.0f} mm long, gathered; pulled flat it is longer than that, and up to "
                f"{MOST_RATIO * (high - low):.0f} mm.",
                least_mm=high - low,
            )
    else:
        ratio = read.number(params, "ratio")
        require_ratio(ratio)
        flat = ratio * (high - low)
    return piece, edge, low, high, flat


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    piece, edge, low, high, flat = span_of(state, params)
    other, opposite = read.edge_of(state, read.part(params, "to"))
    if other.id != piece.id or opposite.id == edge.id:
        raise BadInput(f"The slashes end at another edge of “{piece.name}”.")
    slashes = read.number(params, "slashes", 5.0)
    if slashes != int(slashes) or not 1 <= slashes <= MOST_SLASHES:
        raise BadInput(f"There can be 1 to {MOST_SLASHES} slashes.")
    far = cast(Literal["nothing", "same"], read.word(params, "far", ("nothing", "same"), "nothing"))
    how = cast(GatherHow, read.word(params, "how", ("gathered", "eased"), "gathered"))
    return open_gathers(
        state, piece, edge, (low, high), opposite, flat, far, how, int(slashes), context.record_id
    )


def _say(params: read.Params) -> str:
    how = "ease" if params.get("how") == "eased" else "gathers"
    where = read.called(params, "an edge")
    if params.get("ratio") is None:
        return f"Opened the traced {how} of {where} to {read.mm(params, 'flat_mm')}"
    return f"Opened the traced {how} of {where} to {float(params.get('ratio', 1.0)):g} times as long"


KIND = read.named("fit.open_gathers", _apply, _say, "edge", "to")
