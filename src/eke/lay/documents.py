"""Problems and answers as plain dictionaries: ``nesting-case-1``, ``eke-lay-1``, ``nesting-answer-1``.

``nesting-case-1`` is an open benchmark format (strips, and containers with versions of fill); ``eke-lay-1``
is the project's own (:mod:`eke.lay.own_format`). Points are x to the right, y up; rings may or may not repeat
their first point. A door that reads and writes files stands outside; nothing here touches a disk.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from eke.errors import BadInput
from eke.lay import own_format
from eke.lay.own_format import need, number, points, quality, rows, turns, whole
from eke.lay.own_format import problem_to_dict as problem_to_dict
from eke.lay.problem import Answer, Part, Placement, Problem, Sheet, Strip, Zone


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
            return own_format.read(raw)
    except (TypeError, AttributeError, KeyError, ValueError) as trouble:
        if isinstance(trouble, BadInput):
            raise
        raise BadInput(
            f"The problem cannot be read: {trouble}. Compare it with the description of “{kind}”."
        ) from trouble
    raise BadInput(f"The format “{kind}” is not known here; “nesting-case-1” and “eke-lay-1” are.")


def _from_case(raw: Mapping[str, Any], fill: float | None) -> Problem:
    parts = []
    for p in need(raw, "pieces", "The case"):
        name = str(need(p, "id", "A piece"))
        parts.append(
            Part(
                id=name,
                outline=points(need(p, "polygon", f"“{name}”"), f"The outline of “{name}”"),
                count=whole(p.get("demand", 1), f"The demand of “{name}”"),
                turns=turns(p.get("rotations", [0.0]), f"“{name}”"),
                priority=whole(p.get("priority", 1), f"The priority of “{name}”"),
                min_quality=quality(p.get("min_quality"), f"The quality that “{name}” needs"),
            )
        )
    title = str(raw.get("name", ""))
    if raw.get("kind") == "strip":
        return Problem(parts, strip=Strip(float(need(raw, "strip_height", "The case"))), name=title)
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
            outline=points(c["outline"], f"The outline of “{c['id']}”", scale),
            holes=tuple(points(h, f"A hole of “{c['id']}”", scale) for h in c.get("holes", [])),
            zones=tuple(
                Zone(points(z["polygon"], f"A zone of “{c['id']}”"), float(z["quality"]))
                for z in c.get("zones", [])
            ),
        )
        for c in need(raw, "cloths", "The case")
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
    if not isinstance(raw, Mapping) or raw.get("format") != "nesting-answer-1":
        said = raw.get("format") if isinstance(raw, Mapping) else None
        raise BadInput(f"The format “{said}” is no answer; “nesting-answer-1” is.")
    found = []
    for row in rows(raw.get("placements"), "“placements”"):
        name = str(need(row, "piece", "A placement"))
        its = f"the placement of “{name}”"
        move = need(row, "translation", its)
        if isinstance(move, str) or not isinstance(move, Sequence) or len(move) != 2:
            raise BadInput(f"The translation of {its} is not [x, y].")
        found.append(
            Placement(
                name,
                None if row.get("cloth") is None else str(row["cloth"]),
                number(need(row, "rotation_deg", its), f"The turn of {its}"),
                number(move[0], f"The translation of {its}"),
                number(move[1], f"The translation of {its}"),
                bool(row.get("mirrored", False)),
            )
        )
    return tuple(found)
