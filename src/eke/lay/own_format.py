"""``eke-lay-1``, the project's own description of a lay: it says everything that a problem can say.

Reference, with examples: ``docs/reference/lay-format.md``. A word that the format does not know is refused,
so that no wish is passed over in silence.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np

from eke.errors import BadInput
from eke.lay.problem import (
    FULL_QUALITY,
    PHASE_TOLERANCE_MM,
    Edge,
    EdgeRule,
    Part,
    PhaseRule,
    Placement,
    PointsMm,
    Problem,
    Repeat,
    Sheet,
    Strip,
    TiltPair,
    Zone,
)

FORMAT: Final = "eke-lay-1"
_TOP: Final = frozenset(
    "format name unit fill gap_parts_mm gap_edge_mm gap_hole_mm parts sheets strip locked start".split()
)
_PART: Final = frozenset(
    (
        "id outline count turns_deg tilt_deg mirror_allowed priority min_quality same_turn gap_mm gap_edge_mm "
        "gap_hole_mm on_fold on_edge tilt_pair phases"
    ).split()
)
_SHEET: Final = frozenset("id outline holes zones cost fold edges repeats".split())
_ON_EDGE: Final = frozenset("stretch kind must".split())
_TILT_PAIR: Final = frozenset("name mirrored".split())
_PHASE: Final = frozenset("at repeat phase match tolerance_mm".split())
_EDGE: Final = frozenset("kind line from to".split())
_REPEAT: Final = frozenset("name period_mm direction_deg origin".split())
_ZONE: Final = frozenset("quality polygon".split())
_STRIP: Final = frozenset({"height_mm"})
_PLACEMENT: Final = frozenset("part sheet turn_deg x_mm y_mm mirrored".split())
WORDS: Final = (
    _TOP | _PART | _SHEET | _ON_EDGE | _TILT_PAIR | _PHASE | _EDGE | _REPEAT | _ZONE | _STRIP | _PLACEMENT
)
"""Every word of the format."""


# ---- the small things both formats read


def points(raw: Any, what: str, scale: float = 1.0) -> PointsMm:
    """Return a list of points, without a last one that repeats the first."""
    try:
        pts = np.asarray(raw, dtype=np.float64)
    except (TypeError, ValueError):
        pts = np.empty((0, 0))
    if pts.ndim != 2 or pts.shape[-1] != 2:
        raise BadInput(f"{what} is not a list of points [x, y]. Each point needs two numbers.")
    if len(pts) > 1 and bool((pts[0] == pts[-1]).all()):
        pts = pts[:-1]
    out: PointsMm = pts * scale
    return out


def number(raw: Any, what: str) -> float:
    """Return a number; whether it makes sense is looked at later."""
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        raise BadInput(f"{what} is “{raw}”; a number is needed.")
    try:
        return float(raw)
    except OverflowError:
        raise BadInput(f"{what} is too large a number.") from None


def whole(raw: Any, what: str) -> int:
    """Return a whole number."""
    value = number(raw, what)
    if value != value or value in (float("inf"), float("-inf")) or value != int(value):
        raise BadInput(f"{what} is {raw}; a whole number is needed.")
    return int(value)


def quality(raw: Any, what: str) -> float | None:
    """Return a quality: a number, ``None`` or “full”."""
    if raw is None:
        return None
    return FULL_QUALITY if raw == "full" else number(raw, what)


def turns(raw: Any, what: str) -> tuple[float, ...] | None:
    """Return a list of turns in degrees; ``None`` for free turning."""
    if isinstance(raw, str) and raw in ("any", "free"):
        return None
    if isinstance(raw, str) or not isinstance(raw, Sequence):
        raise BadInput(f"The turns of {what} are neither a list of degrees nor “free”.")
    return tuple(number(a, f"A turn of {what}") for a in raw)


def need(raw: Mapping[str, Any], key: str, where: str) -> Any:
    """Return ``raw[key]``, or say what has no such word."""
    if not isinstance(raw, Mapping):
        raise BadInput(f"{where} is not a JSON object.")
    if key not in raw:
        raise BadInput(f"{where} has no “{key}”.")
    return raw[key]


def rows(raw: Any, what: str) -> Sequence[Any]:
    """Return a list; nothing for ``None``."""
    if raw is None:
        return ()
    if isinstance(raw, str) or not isinstance(raw, Sequence):
        raise BadInput(f"{what} should be a list.")
    return raw


def _known(raw: Any, words: frozenset[str], where: str) -> Mapping[str, Any]:
    if not isinstance(raw, Mapping):
        raise BadInput(f"{where} is not a JSON object.")
    for key in raw:
        if key not in words:
            raise BadInput(
                f"{where} says “{key}”, which is no word of {FORMAT}. It knows {', '.join(sorted(words))}."
            )
    return raw


def _flag(raw: Any, what: str) -> bool:
    if not isinstance(raw, bool):
        raise BadInput(f"{what} is “{raw}”; true or false is needed.")
    return raw


def _maybe(raw: Any, what: str) -> float | None:
    return None if raw is None else number(raw, what)


def _pair(raw: Any, what: str) -> tuple[float, float]:
    if isinstance(raw, str) or not isinstance(raw, Sequence) or len(raw) != 2:
        raise BadInput(f"{what} is not a point [x, y].")
    return number(raw[0], what), number(raw[1], what)


# ---- reading


def read(raw: Mapping[str, Any]) -> Problem:
    """Return the problem that an ``eke-lay-1`` dictionary describes.

    Raises
    ------
    BadInput
        When a word is missing, unknown, or not of its kind.
    """
    _known(raw, _TOP, "The problem")
    if raw.get("unit", "mm") != "mm":
        raise BadInput(f"The unit is “{raw['unit']}”; a lay is described in mm.")
    strip = raw.get("strip")
    if strip is not None:
        strip = Strip(
            number(need(_known(strip, _STRIP, "The strip"), "height_mm", "The strip"), "Its height")
        )
    return Problem(
        [_part(p) for p in rows(need(raw, "parts", "The problem"), "“parts”")],
        tuple(_sheet(s) for s in rows(raw.get("sheets"), "“sheets”")),
        strip,
        number(raw.get("gap_parts_mm", 0.0), "The gap between pieces"),
        number(raw.get("gap_edge_mm", 0.0), "The gap to the edge"),
        number(raw.get("gap_hole_mm", 0.0), "The gap to holes"),
        tuple(_placement(p, "A locked piece") for p in rows(raw.get("locked"), "“locked”")),
        str(raw.get("name", "")),
        _maybe(raw.get("fill"), "The fill"),
        tuple(_placement(p, "A piece of the start") for p in rows(raw.get("start"), "“start”")),
    )


def _part(raw: Any) -> Part:
    name = str(need(raw, "id", "A part"))
    its = f"“{name}”"
    _known(raw, _PART, its)
    tilt_pair = raw.get("tilt_pair")
    if tilt_pair is not None:
        _known(tilt_pair, _TILT_PAIR, f"The tilt pair of {its}")
        tilt_pair = TiltPair(
            str(need(tilt_pair, "name", f"The tilt pair of {its}")),
            _flag(tilt_pair.get("mirrored", False), f"“mirrored” of the tilt pair of {its}"),
        )
    same_turn = raw.get("same_turn")
    return Part(
        id=name,
        outline=points(need(raw, "outline", its), f"The outline of {its}"),
        count=whole(raw.get("count", 1), f"The count of {its}"),
        turns=turns(raw.get("turns_deg", [0.0]), its),
        tilt_deg=number(raw.get("tilt_deg", 0.0), f"The tilt of {its}"),
        mirror_allowed=_flag(raw.get("mirror_allowed", False), f"“mirror_allowed” of {its}"),
        priority=whole(raw.get("priority", 1), f"The priority of {its}"),
        min_quality=quality(raw.get("min_quality"), f"The quality that {its} needs"),
        same_turn=None if same_turn is None else str(same_turn),
        gap_mm=_maybe(raw.get("gap_mm"), f"The gap of {its}"),
        gap_edge_mm=_maybe(raw.get("gap_edge_mm"), f"The gap of {its} to the edge"),
        gap_hole_mm=_maybe(raw.get("gap_hole_mm"), f"The gap of {its} to holes"),
        on_fold=None if raw.get("on_fold") is None else whole(raw["on_fold"], f"“on_fold” of {its}"),
        on_edge=tuple(_edge_rule(r, its) for r in rows(raw.get("on_edge"), f"“on_edge” of {its}")),
        tilt_pair=tilt_pair,
        phases=tuple(_phase(r, its) for r in rows(raw.get("phases"), f"“phases” of {its}")),
    )


def _edge_rule(raw: Any, its: str) -> EdgeRule:
    where = f"An edge rule of {its}"
    _known(raw, _ON_EDGE, where)
    return EdgeRule(
        whole(need(raw, "stretch", where), f"“stretch” of {its}"),
        str(raw.get("kind", "")),
        _flag(raw.get("must", True), f"“must” of {its}"),
    )


def _phase(raw: Any, its: str) -> PhaseRule:
    where = f"A phase of {its}"
    _known(raw, _PHASE, where)
    match = raw.get("match")
    return PhaseRule(
        _pair(need(raw, "at", where), f"The matching point of {its}"),
        str(need(raw, "repeat", where)),
        _maybe(raw.get("phase"), where),
        None if match is None else str(match),
        number(raw.get("tolerance_mm", PHASE_TOLERANCE_MM), f"The tolerance of {its}"),
    )


def _sheet(raw: Any) -> Sheet:
    name = str(need(raw, "id", "A sheet"))
    its = f"“{name}”"
    _known(raw, _SHEET, its)
    outline = points(need(raw, "outline", its), f"The outline of {its}")
    fold = raw.get("fold")
    if fold is not None:
        if isinstance(fold, str) or not isinstance(fold, Sequence) or len(fold) != 2:
            raise BadInput(f"The fold of {its} is not two points.")
        fold = (_pair(fold[0], f"The fold of {its}"), _pair(fold[1], f"The fold of {its}"))
    zones = []
    for zone in rows(raw.get("zones"), f"“zones” of {its}"):
        where = f"A zone of {its}"
        _known(zone, _ZONE, where)
        zones.append(
            Zone(
                points(need(zone, "polygon", where), where),
                number(need(zone, "quality", where), f"The quality of a zone of {its}"),
            )
        )
    return Sheet(
        id=name,
        outline=outline,
        holes=tuple(points(h, f"A hole of {its}") for h in rows(raw.get("holes"), f"“holes” of {its}")),
        zones=tuple(zones),
        cost=number(raw.get("cost", 1.0), f"The cost of {its}"),
        fold=fold,
        edges=tuple(_edge(e, outline, its) for e in rows(raw.get("edges"), f"“edges” of {its}")),
        repeats=tuple(_repeat(r, its) for r in rows(raw.get("repeats"), f"“repeats” of {its}")),
    )


def _edge(raw: Any, outline: PointsMm, its: str) -> Edge:
    where = f"A named edge of {its}"
    _known(raw, _EDGE, where)
    kind = str(need(raw, "kind", where))
    if "line" in raw:
        line = np.asarray([_pair(p, where) for p in rows(raw["line"], where)], dtype=np.float64)
        return Edge(kind, line.reshape(-1, 2))
    first, last = (whole(need(raw, key, where), f"“{key}” of {where}") for key in ("from", "to"))
    n = len(outline)
    if not (0 <= first < n and 0 <= last < n):
        raise BadInput(f"{where} runs from point {first} to {last}; the outline has points 0 to {n - 1}.")
    steps = (last - first) % n or n
    return Edge(kind, outline[[(first + k) % n for k in range(steps + 1)]])


def _repeat(raw: Any, its: str) -> Repeat:
    where = f"A repeat of {its}"
    _known(raw, _REPEAT, where)
    return Repeat(
        str(need(raw, "name", where)),
        number(need(raw, "period_mm", where), f"The period of a repeat of {its}"),
        number(raw.get("direction_deg", 0.0), f"The direction of a repeat of {its}"),
        _pair(raw.get("origin", (0.0, 0.0)), f"The origin of a repeat of {its}"),
    )


def _placement(raw: Any, where: str) -> Placement:
    part = str(need(raw, "part", where))
    _known(raw, _PLACEMENT, where)
    sheet = raw.get("sheet")
    return Placement(
        part,
        None if sheet is None else str(sheet),
        number(need(raw, "turn_deg", where), f"The turn of “{part}”"),
        number(need(raw, "x_mm", where), f"The place of “{part}”"),
        number(need(raw, "y_mm", where), f"The place of “{part}”"),
        _flag(raw.get("mirrored", False), f"“mirrored” of “{part}”"),
    )


# ---- writing


def _ring(ring: PointsMm) -> list[list[float]]:
    return [[float(x), float(y)] for x, y in np.asarray(ring, float)]


def placement_to_dict(place: Placement) -> dict[str, Any]:
    """Return a placement in the words of ``eke-lay-1``."""
    return {
        "part": place.part,
        "sheet": place.sheet,
        "turn_deg": place.turn_deg,
        "x_mm": place.x_mm,
        "y_mm": place.y_mm,
        "mirrored": place.mirrored,
    }


def problem_to_dict(problem: Problem) -> dict[str, Any]:
    """Return a problem as ``eke-lay-1``; reading it gives the same problem again."""
    out: dict[str, Any] = {
        "format": FORMAT,
        "name": problem.name,
        "unit": "mm",
        "gap_parts_mm": problem.gap_parts_mm,
        "gap_edge_mm": problem.gap_edge_mm,
        "gap_hole_mm": problem.gap_hole_mm,
        "parts": [_part_to_dict(p) for p in problem.parts],
        "locked": [placement_to_dict(p) for p in problem.locked],
    }
    if problem.start:
        out["start"] = [placement_to_dict(p) for p in problem.start]
    if problem.fill is not None:
        out["fill"] = problem.fill
    if problem.strip is not None:
        out["strip"] = {"height_mm": problem.strip.height_mm}
    else:
        out["sheets"] = [_sheet_to_dict(s) for s in problem.sheets]
    return out


def _part_to_dict(part: Part) -> dict[str, Any]:
    return {
        "id": part.id,
        "outline": _ring(part.outline),
        "count": part.count,
        "turns_deg": "free" if part.turns is None else [float(t) for t in part.turns],
        "tilt_deg": part.tilt_deg,
        "mirror_allowed": part.mirror_allowed,
        "priority": part.priority,
        "min_quality": "full" if part.min_quality == FULL_QUALITY else part.min_quality,
        "same_turn": part.same_turn,
        "gap_mm": part.gap_mm,
        "gap_edge_mm": part.gap_edge_mm,
        "gap_hole_mm": part.gap_hole_mm,
        "on_fold": part.on_fold,
        "on_edge": [{"stretch": r.stretch, "kind": r.kind, "must": r.must} for r in part.on_edge],
        "tilt_pair": None
        if part.tilt_pair is None
        else {"name": part.tilt_pair.name, "mirrored": part.tilt_pair.mirrored},
        "phases": [
            {
                "at": [float(v) for v in r.at],
                "repeat": r.repeat,
                "phase": r.phase,
                "match": r.match,
                "tolerance_mm": r.tolerance_mm,
            }
            for r in part.phases
        ],
    }


def _sheet_to_dict(sheet: Sheet) -> dict[str, Any]:
    return {
        "id": sheet.id,
        "outline": _ring(sheet.outline),
        "holes": [_ring(h) for h in sheet.holes],
        "zones": [{"quality": z.quality, "polygon": _ring(z.polygon)} for z in sheet.zones],
        "cost": sheet.cost,
        "fold": None if sheet.fold is None else [[float(v) for v in p] for p in sheet.fold],
        "edges": [{"kind": e.kind, "line": _ring(e.line)} for e in sheet.edges],
        "repeats": [
            {
                "name": r.name,
                "period_mm": r.period_mm,
                "direction_deg": r.direction_deg,
                "origin": [float(v) for v in r.origin],
            }
            for r in sheet.repeats
        ],
    }
