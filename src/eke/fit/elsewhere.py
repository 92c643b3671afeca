"""A fit change of one garment, described so that another garment of the same wearer can have it too.

Only changes that follow from the body are taken over; those that are a matter of style or of one pattern (a hem, flare, a
yoke, what becomes of a dart) are not. Places go over by the words of the trade (:mod:`eke.fit.elsewhere_places`), amounts
as they are; where a place along an edge matters it keeps its share of the edge. What a dart points at goes over by its
way from the mouth of the dart, and the bust point by the mark on the piece.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from eke.fit import reading as read
from eke.fit.advice_place import bust_point, seam_words
from eke.fit.elsewhere_places import (
    NEAR_SHARE,
    EdgeSpot,
    Found,
    NotClear,
    SeamSpot,
    Spot,
    find_seam_like,
    find_spot,
    spot_along,
    spot_on,
)
from eke.geometry import Pt
from eke.pattern.corners import called, folds_away, neighbour
from eke.pattern.darts import dart_of
from eke.pattern.model import Pattern, Piece

AMOUNTS: Final[Mapping[str, tuple[str, ...]]] = {
    "fit.wedge": ("width_mm",),
    "fit.take_in": (),
    "fit.move_seam": (),
    "fit.shoulder_slope": ("drop_mm",),
    "fit.add_dart": ("intake_mm",),
    "fit.lengthen": ("by_mm",),
    "fit.widen": ("by_mm",),
    "fit.broaden": ("by_mm",),
    "fit.bust": ("by_mm",),
    "fit.opening": ("start_mm", "end_mm"),
}
"""Kinds of change that follow from the body, and the params that say how much; none: the amounts along its seam."""
_SEAMS: Final = frozenset({"fit.take_in", "fit.move_seam", "fit.shoulder_slope"})
_FURTHER: Final[Mapping[str, tuple[str, ...]]] = {
    "fit.wedge": ("to",),
    "fit.broaden": ("to",),
    "fit.bust": ("armhole", "side"),
}
"""Places besides the first one, by the name of their params."""
_WHOLE: Final = frozenset({"fit.opening"})
"""Kinds that change an edge as a whole, each end by its own amount."""
_NAMES: Final = frozenset({"name", "called"})
_PLACE: Final = frozenset({"edge", "mm", "fraction", "from_end", "notch", "point"})


@dataclass(frozen=True, slots=True)
class Taken:
    """A fit change as it was made: its kind and params, and the pattern before it."""

    kind: str
    params: Mapping[str, Any]
    before: Pattern

    @property
    def spot(self) -> Spot:
        """Where it was made, in words of the trade. Raises what a damaged change raises."""
        if self.kind in _SEAMS:
            return self._seam_spot().spot
        return self._edge_spot(self.params).spot

    @property
    def amount_mm(self) -> float:
        """How much it changes at the most, with its sign, mm."""
        keys = AMOUNTS[self.kind]
        if keys:
            return max((float(self.params.get(key, 0.0)) for key in keys), key=abs)
        return max((float(mm) for _, mm in self.params["knots"]), key=abs)

    @property
    def words(self) -> str:
        """What it was made on, as its sentence calls it: "the neck of back"."""
        if self.kind in _SEAMS:
            return f"the {seam_words(self.before, self.before.seam(str(self.params['seam'])))}"
        piece, edge = read.edge_of(self.before, self.params)
        return (
            f"the {piece.name}"
            if self.kind == "fit.broaden"
            else f"the {called(piece, edge)} of {piece.name}"
        )

    @property
    def nearby(self) -> str:
        """What lies near the place, where it is near an end of its edge: "near the shoulder"; else nothing."""
        if self.kind in _SEAMS | _WHOLE:
            return ""
        piece, edge, at = read.place_on(self.before, self.params)
        share = at.mm / max(edge.path.length_mm, 1e-9)
        if NEAR_SHARE < share < 1.0 - NEAR_SHARE:
            return ""
        return f"near the {called(piece, neighbour(piece, edge.id, 'start' if share < 0.5 else 'end'))}"

    def with_amount(self, mm: float) -> Taken:
        """Return the same change doing so much at the most; everything else in proportion."""
        by, keys = mm / self.amount_mm, AMOUNTS[self.kind]
        changed: dict[str, Any] = {key: self.params[key] * by for key in keys if key in self.params}
        if not keys:
            changed["knots"] = [[at, amount * by] for at, amount in self.params["knots"]]
        return Taken(self.kind, {**self.params, **changed}, self.before)

    def on(self, pattern: Pattern) -> dict[str, Any]:
        """Return the params of the same change on another pattern.

        Raises
        ------
        NotClear
            When a place of it is not there, or more than one may be meant.
        """
        kept = {k: v for k, v in self.params.items() if k not in _NAMES}
        return self._on_seam(pattern, kept) if self.kind in _SEAMS else self._on_edges(pattern, kept)

    # ---- seams

    def _seam_spot(self) -> SeamSpot:
        seam = self.before.seam(str(self.params["seam"]))
        knots = self.params.get("knots")
        return spot_along(self.before, seam, max(knots, key=lambda k: abs(k[1]))[0] if knots else 0.0)

    def _on_seam(self, pattern: Pattern, kept: dict[str, Any]) -> dict[str, Any]:
        wanted = self._seam_spot()
        found = find_seam_like(pattern, wanted)
        kept["seam"] = found.seam.id
        if "knots" in kept:
            whole = wanted.length_mm * found.scale
            sign = -1.0 if found.swapped and self.kind == "fit.move_seam" else 1.0
            knots = [(float(at) * found.scale, sign * float(mm)) for at, mm in kept["knots"]]
            # a thousandth short of the end: lengths are told rounded
            knots = [(min(whole - at if found.turned else at, whole - 1e-3), mm) for at, mm in knots]
            kept["knots"] = [[round(max(at, 0.0), 3), mm] for at, mm in sorted(knots)]
        if "share_a" in kept and found.swapped:
            kept["share_a"] = 1.0 - float(kept["share_a"])
        if "tip" in kept and found.turned:
            kept["tip"] = "start" if kept["tip"] == "end" else "end"
        return kept

    # ---- edges

    def _edge_spot(self, params: read.Params) -> EdgeSpot:
        if self.kind in _WHOLE:
            piece, edge = read.edge_of(self.before, params)
            return spot_on(self.before, piece, edge, edge.path.length_mm / 2.0)
        piece, edge, at = read.place_on(self.before, params)
        return spot_on(self.before, piece, edge, at.mm)

    def _on_edges(self, pattern: Pattern, kept: dict[str, Any]) -> dict[str, Any]:
        wanted = self._edge_spot(self.params)
        found = find_spot(pattern, wanted, ends=self.kind in _WHOLE or "apex" in kept)
        for key in _PLACE & kept.keys():
            del kept[key]
        kept["edge"] = found.edge.id
        if self.kind in _WHOLE:
            start, end = (kept.get(key, 0.0) for key in ("start_mm", "end_mm"))
            kept |= {"start_mm": end, "end_mm": start} if found.turned else {}
            return kept
        kept["mm"] = _within(found)
        for key in _FURTHER.get(self.kind, ()):
            if isinstance(kept.get(key), Mapping):
                kept[key] = self._place(pattern, found.piece, kept[key])
        if kept.get("dart"):
            kept["dart"] = self._dart(pattern, found.piece, str(kept["dart"]))
        if "apex" in kept:
            kept["apex"] = list(self._apex(found))
        if kept.get("only"):
            kept["only"] = [_piece_like(pattern, self.before.piece(str(one))).id for one in kept["only"]]
        if kept.get("not_over"):
            seams = (self.before.seam(str(one)) for one in kept["not_over"])
            kept["not_over"] = [
                find_seam_like(pattern, spot_along(self.before, seam, 0.0)).seam.id for seam in seams
            ]
        return kept

    def _place(self, pattern: Pattern, piece: Piece, said: Mapping[str, Any]) -> dict[str, Any]:
        """A further place, on the same piece as the first."""
        if said.get("dart"):
            return {"dart": self._dart(pattern, piece, str(said["dart"]))}
        if not said.get("edge"):
            own, _ = read.edge_of(self.before, self.params)
            spot = read.point(said, "point")
            edge = min(own.edges, key=lambda e: e.path.nearest(spot).distance_mm)
            said = {"edge": edge.id, "mm": edge.path.nearest(spot).at_mm}
        found = find_spot(pattern, self._edge_spot(said))
        if found.piece.id != piece.id:
            raise NotClear(f"It would begin on “{piece.name}” and end on “{found.piece.name}” here.")
        return {"edge": found.edge.id, "mm": _within(found)}

    def _dart(self, pattern: Pattern, piece: Piece, dart_id: str) -> str:
        """The one dart of a piece that opens at an edge of the same name."""
        own, dart = dart_of(self.before, dart_id)
        name = _opens_at(own, dart.first_leg)
        found = [one for one in piece.darts if _opens_at(piece, one.first_leg) == name]
        alike = [one for one in own.darts if _opens_at(own, one.first_leg) == name]
        if len(found) != 1 or len(alike) != 1:
            raise NotClear(
                f"It needs the dart at the {name}, and “{piece.name}” has {len(found)} of that kind."
            )
        return found[0].id

    def _apex(self, found: Found) -> Pt:
        """Where a dart points: the bust point where it did so, else as far and as aslant from its mouth."""
        apex = read.point(self.params, "apex")
        own, edge, at = read.place_on(self.before, self.params)
        marked = bust_point(own)
        if self.kind == "fit.bust" or (marked is not None and math.dist(marked, apex) < 1.0):
            here = bust_point(found.piece)
            if here is None:
                raise NotClear(f"It points to the bust point, and none is marked on “{found.piece.name}”.")
            return here
        (mx, my), (tx, ty) = edge.path.point_at(at.mm), edge.path.tangent_at(at.mm)
        dx, dy = apex[0] - mx, apex[1] - my
        along, inwards = dx * tx + dy * ty, dy * tx - dx * ty
        along = -along if found.turned else along
        (nx, ny), (ux, uy) = found.edge.path.point_at(found.mm), found.edge.path.tangent_at(found.mm)
        return (nx + along * ux - inwards * uy, ny + along * uy + inwards * ux)


def _within(found: Found) -> float:
    """A place a thousandth short of the end of its edge at the most: lengths are told rounded."""
    return round(min(found.mm, max(found.edge.path.length_mm - 1e-3, 0.0)), 3)


def _opens_at(piece: Piece, leg: str) -> str:
    """What the edge is called that a dart opens at."""
    edge = neighbour(piece, leg, "start")
    return DART_BESIDE if folds_away(piece, edge.id) else called(piece, edge).casefold()


DART_BESIDE: Final = "edge beside another dart"


def _piece_like(pattern: Pattern, wanted: Piece) -> Piece:
    found = [p for p in pattern.pieces.values() if p.name.casefold() == wanted.name.casefold()]
    if len(found) != 1:
        raise NotClear(
            f"There only “{wanted.name}” was changed, and {len(found)} pieces here have that name."
        )
    return found[0]
