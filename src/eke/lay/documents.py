"""Problems and answers as plain dictionaries: ``nesting-case-1``, ``eke-lay-1``, ``nesting-answer-1``.

``nesting-case-1`` is an open benchmark format (strips, and containers with versions of fill).
``eke-lay-1`` is the project's own and says everything that :mod:`eke.lay.problem` can say::

    {"format": "eke-lay-1", "name": "…", "unit": "mm",
     "gap_parts_mm": 2, "gap_edge_mm": 0, "gap_hole_mm": 5,
     "parts": [{"id": "front", "outline": [[x, y], …], "count": 2, "turns_deg": [0, 180] or "free",
                "tilt_deg": 0, "mirror_allowed": false, "priority": 1, "min_quality": null | number | "full",
                "same_turn": null | "name", "gap_mm": null, "gap_edge_mm": null, "gap_hole_mm": null,
                "on_fold": null | index of the outline point where the edge on the fold begins}],
     "sheets": [{"id": "…", "outline": […], "holes": [[…]], "zones": [{"quality": 1, "polygon": […]}],
                 "cost": 1, "fold": null | [[x, y], [x, y]]}]   or   "strip": {"height_mm": 900},
     "locked": [{"part": "front", "sheet": "…", "turn_deg": 0, "x_mm": 0, "y_mm": 0, "mirrored": false}]}

Points are x to the right, y up; rings may or may not repeat their first point. A door that reads and
writes files stands outside; nothing here touches a disk.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from eke.errors import BadInput
from eke.lay.problem import FULL_QUALITY, Answer, Part, Placement, PointsMm, Problem, Sheet, Strip, Zone


def _points(raw: Any, what: str, scale: float = 1.0) -> PointsMm:
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


def _quality(raw: Any) -> float | None:
    if raw is None:
        return None
    return FULL_QUALITY if raw == "full" else float(raw)


def _turns(raw: Any, what: str) -> tuple[float, ...] | None:
    if raw in ("any", "free"):
        return None
    try:
        return tuple(float(a) for a in raw)
    except (TypeError, ValueError):
        raise BadInput(f"The turns of {what} are neither a list of degrees nor “free”.") from None


def _need(raw: Mapping[str, Any], key: str, where: str) -> Any:
    if key not in raw:
        raise BadInput(f"{where} has no “{key}”.")
    return raw[key]


def problem_from_dict(raw: Mapping[str, Any], *, fill: float | None = None) -> Problem:
    """Return the problem that a dictionary describes.

    Parameters
    ----------
    raw
        ``nesting-case-1`` or ``eke-lay-1``, as read from JSON.
    fill
        Which of a case's ``versions`` is meant: the share of the sheets that the parts cover.

    Raises
    ------
    BadInput
        When the format is not known or something needed is missing.
    """
    if not isinstance(raw, Mapping):
        raise BadInput("The file holds no problem to lay: it should be a JSON object with a “format”.")
    kind = raw.get("format")
    try:
        if kind == "nesting-case-1":
            return _from_case(raw, fill)
        if kind == "eke-lay-1":
            return _from_own(raw)
    except (TypeError, AttributeError, KeyError, ValueError) as trouble:
        if isinstance(trouble, BadInput):
            raise
        raise BadInput(
            f"The problem cannot be read: {trouble}. Compare it with the description of “{kind}”."
        ) from trouble
    raise BadInput(f"The format “{kind}” is not known here; “nesting-case-1” and “eke-lay-1” are.")


def _from_case(raw: Mapping[str, Any], fill: float | None) -> Problem:
    parts = []
    for p in _need(raw, "pieces", "The case"):
        name = str(_need(p, "id", "A piece"))
        parts.append(
            Part(
                id=name,
                outline=_points(_need(p, "polygon", f"“{name}”"), f"The outline of “{name}”"),
                count=int(p.get("demand", 1)),
                turns=_turns(p.get("rotations", [0.0]), f"“{name}”"),
                priority=int(p.get("priority", 1)),
                min_quality=_quality(p.get("min_quality")),
            )
        )
    title = str(raw.get("name", ""))
    if raw.get("kind") == "strip":
        return Problem(parts, strip=Strip(float(_need(raw, "strip_height", "The case"))), name=title)
    scale = 1.0
    versions = raw.get("versions") or []
    if versions:
        fills = [v["fill"] for v in versions]
        if fill is None:
            raise BadInput(f"The case comes in several fills. Name one of {', '.join(map(str, fills))}.")
        match = [v for v in versions if abs(v["fill"] - fill) < 1e-9]
        if not match:
            raise BadInput(f"The case has no fill {fill}. It has {', '.join(map(str, fills))}.")
        scale = float(match[0]["cloth_scale"])
    elif fill is not None:
        raise BadInput("This case comes in one size only; leave the fill out.")
    sheets = [
        Sheet(
            id=str(c["id"]),
            outline=_points(c["outline"], f"The outline of “{c['id']}”", scale),
            holes=tuple(_points(h, f"A hole of “{c['id']}”", scale) for h in c.get("holes", [])),
            zones=tuple(
                Zone(_points(z["polygon"], f"A zone of “{c['id']}”"), float(z["quality"]))
                for z in c.get("zones", [])
            ),
        )
        for c in _need(raw, "cloths", "The case")
    ]
    return Problem(
        parts,
        tuple(sheets),
        gap_parts_mm=float(raw.get("min_gap_pieces", 0.0)),
        gap_edge_mm=float(raw.get("min_gap_edge", 0.0)),
        gap_hole_mm=float(raw.get("min_gap_hole", 0.0)),
        name=title,
        fill=fill,
    )


def _maybe(raw: Any) -> float | None:
    return None if raw is None else float(raw)


def _placement(raw: Mapping[str, Any]) -> Placement:
    return Placement(
        str(raw["part"]),
        None if raw.get("sheet") is None else str(raw["sheet"]),
        float(raw["turn_deg"]),
        float(raw["x_mm"]),
        float(raw["y_mm"]),
        bool(raw.get("mirrored", False)),
    )


def _from_own(raw: Mapping[str, Any]) -> Problem:
    if raw.get("unit", "mm") != "mm":
        raise BadInput(f"The unit is “{raw['unit']}”; a lay is described in mm.")
    parts = []
    for p in _need(raw, "parts", "The problem"):
        name = str(_need(p, "id", "A part"))
        parts.append(
            Part(
                id=name,
                outline=_points(_need(p, "outline", f"“{name}”"), f"The outline of “{name}”"),
                count=int(p.get("count", 1)),
                turns=_turns(p.get("turns_deg", [0.0]), f"“{name}”"),
                tilt_deg=float(p.get("tilt_deg", 0.0)),
                mirror_allowed=bool(p.get("mirror_allowed", False)),
                priority=int(p.get("priority", 1)),
                min_quality=_quality(p.get("min_quality")),
                same_turn=p.get("same_turn"),
                gap_mm=_maybe(p.get("gap_mm")),
                gap_edge_mm=_maybe(p.get("gap_edge_mm")),
                gap_hole_mm=_maybe(p.get("gap_hole_mm")),
                on_fold=None if p.get("on_fold") is None else int(p["on_fold"]),
            )
        )
    sheets = []
    for c in raw.get("sheets", []):
        fold = c.get("fold")
        sheets.append(
            Sheet(
                id=str(c["id"]),
                outline=_points(c["outline"], f"The outline of “{c['id']}”"),
                holes=tuple(_points(h, f"A hole of “{c['id']}”") for h in c.get("holes", [])),
                zones=tuple(
                    Zone(_points(z["polygon"], f"A zone of “{c['id']}”"), float(z["quality"]))
                    for z in c.get("zones", [])
                ),
                cost=float(c.get("cost", 1.0)),
                fold=None
                if fold is None
                else ((float(fold[0][0]), float(fold[0][1])), (float(fold[1][0]), float(fold[1][1]))),
            )
        )
    strip = raw.get("strip")
    return Problem(
        parts,
        tuple(sheets),
        None if strip is None else Strip(float(strip["height_mm"])),
        float(raw.get("gap_parts_mm", 0.0)),
        float(raw.get("gap_edge_mm", 0.0)),
        float(raw.get("gap_hole_mm", 0.0)),
        tuple(_placement(p) for p in raw.get("locked", [])),
        str(raw.get("name", "")),
    )


def _ring(points: PointsMm) -> list[list[float]]:
    return [[float(x), float(y)] for x, y in np.asarray(points, float)]


def problem_to_dict(problem: Problem) -> dict[str, Any]:
    """Return a problem as ``eke-lay-1``; :func:`problem_from_dict` reads it back unchanged."""
    out: dict[str, Any] = {
        "format": "eke-lay-1",
        "name": problem.name,
        "unit": "mm",
        "gap_parts_mm": problem.gap_parts_mm,
        "gap_edge_mm": problem.gap_edge_mm,
        "gap_hole_mm": problem.gap_hole_mm,
        "parts": [
            {
                "id": p.id,
                "outline": _ring(p.outline),
                "count": p.count,
                "turns_deg": "free" if p.turns is None else [float(t) for t in p.turns],
                "tilt_deg": p.tilt_deg,
                "mirror_allowed": p.mirror_allowed,
                "priority": p.priority,
                "min_quality": "full" if p.min_quality == FULL_QUALITY else p.min_quality,
                "same_turn": p.same_turn,
                "gap_mm": p.gap_mm,
                "gap_edge_mm": p.gap_edge_mm,
                "gap_hole_mm": p.gap_hole_mm,
                "on_fold": p.on_fold,
            }
            for p in problem.parts
        ],
        "locked": [placement_to_dict(p) for p in problem.locked],
    }
    if problem.strip is not None:
        out["strip"] = {"height_mm": problem.strip.height_mm}
    else:
        out["sheets"] = [
            {
                "id": s.id,
                "outline": _ring(s.outline),
                "holes": [_ring(h) for h in s.holes],
                "zones": [{"quality": z.quality, "polygon": _ring(z.polygon)} for z in s.zones],
                "cost": s.cost,
                "fold": None if s.fold is None else [list(s.fold[0]), list(s.fold[1])],
            }
            for s in problem.sheets
        ]
    return out


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


def answer_to_dict(answer: Answer) -> dict[str, Any]:
    """Return an answer as ``nesting-answer-1``.

    A placement that is mirrored says ``"mirrored": true`` besides (mirrored about the y axis first);
    ``verdict`` is an addition that readers of the format may leave aside.
    """
    problem = answer.problem
    out: dict[str, Any] = {"format": "nesting-answer-1", "case": problem.name if problem else ""}
    if problem is not None and problem.fill is not None:
        out["fill"] = problem.fill
    placements: list[dict[str, Any]] = []
    for p in answer.placements:
        row: dict[str, Any] = {"piece": p.part}
        if p.sheet is not None:
            row["cloth"] = p.sheet
        row["rotation_deg"] = p.turn_deg
        row["translation"] = [p.x_mm, p.y_mm]
        if p.mirrored:
            row["mirrored"] = True
        placements.append(row)
    out["placements"] = placements
    out["unplaced"] = [{"piece": k, "count": n} for k, n in answer.unplaced.items()]
    out["seed"] = answer.seed
    out["seconds"] = round(answer.seconds, 3)
    verdict = answer.verdict
    out["verdict"] = {
        "complete": verdict.complete,
        "sentence": verdict.sentence,
        "proof": verdict.proof,
        "area_short_mm2": verdict.area_short_mm2,
        "clashes": [{"part": c.part, "other": c.other, "depth_mm": c.depth_mm} for c in verdict.clashes],
    }
    if answer.length_mm is not None:
        out["length"] = answer.length_mm
    return out


def placements_from_dict(raw: Mapping[str, Any]) -> tuple[Placement, ...]:
    """Return the placements of a ``nesting-answer-1``, to start a search from or to lock.

    Raises
    ------
    BadInput
        When it is no such answer.
    """
    if raw.get("format") != "nesting-answer-1":
        raise BadInput(f"The format “{raw.get('format')}” is no answer; “nesting-answer-1” is.")
    rows: Sequence[Mapping[str, Any]] = raw.get("placements", [])
    return tuple(
        Placement(
            str(r["piece"]),
            None if r.get("cloth") is None else str(r["cloth"]),
            float(r["rotation_deg"]),
            float(r["translation"][0]),
            float(r["translation"][1]),
            bool(r.get("mirrored", False)),
        )
        for r in rows
    )
