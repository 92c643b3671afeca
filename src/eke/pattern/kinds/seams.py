"""Kinds of change: what is sewn to what."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, cast

from eke.changes import ChangeKind, Context, child_id
from eke.pattern import editing
from eke.pattern.kinds.reading import Params, Row, called, kinds_of, one_of, run_of
from eke.pattern.model import Pattern, Seam, SeamId, SeamKind


def seams_kinds() -> tuple[ChangeKind[Pattern], ...]:
    """Return the kinds of this file."""
    rows: tuple[Row, ...] = (
        ("seam.say", _seam_say, lambda p: f"Said how {called(p, 'a seam')} is sewn", ("id",)),
        ("seam.ease", _seam_ease, _say_ease, ("seam",)),
        ("seam.drop", _seam_drop, lambda p: f"Dropped {called(p, 'a seam')}", ("seam",)),
        ("seam.first", _seam_first, lambda p: "Said which of two seams is sewn first", ("first", "second")),
    )
    return kinds_of(rows)


def _seam_say(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    between = p.get("ease_between")
    seam = Seam(
        SeamId(str(p.get("id") or child_id("seam", c.record_id))),
        run_of(p["a"], state),
        run_of(p["b"], state),
        str(p.get("name", "")),
        float(p.get("ease_mm", 0.0)),
        None if not between else (str(between[0]), str(between[1])),
        bool(p.get("b_mirrored", False)),
        cast(SeamKind, one_of(p.get("kind", "plain"), SeamKind, "kind of seam")),
    )
    return editing.say_seam(state, seam)


def _seam_ease(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    seam = state.seam(str(p["seam"]))
    between = p.get("ease_between", seam.ease_between)
    changed = replace(
        seam,
        ease_mm=float(p["ease_mm"]),
        ease_between=None if not between else (str(between[0]), str(between[1])),
    )
    return editing.say_seam(state, changed)


def _say_ease(p: Params) -> str:
    amount, seam = float(p["ease_mm"]), called(p, "a seam")
    return (
        f"Said that one side of {seam} is {abs(amount):g} mm longer on purpose"
        if amount
        else f"Said that {seam} has no ease"
    )


def _seam_drop(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return editing.drop_seam(state, str(p["seam"]))


def _seam_first(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return editing.say_sewn_first(state, str(p["first"]), str(p["second"]))
