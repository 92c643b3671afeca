"""Kinds of change: what the maker said of findings, facts, measures and mock-ups."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from eke.changes import ChangeKind, Context, child_id
from eke.errors import BadInput
from eke.findings import CODES
from eke.pattern.kinds.reading import Params, Row, kinds_of, text_or_none
from eke.pattern.model import MockUp, Pattern


def said_kinds() -> tuple[ChangeKind[Pattern], ...]:
    """Return the kinds of this file."""
    rows: tuple[Row, ...] = (
        ("finding.settle", _settle, lambda p: "Said that a finding is meant", ()),
        ("finding.reopen", _reopen, lambda p: "Said that a finding is not meant after all", ()),
        ("fact.set", _fact_set, _say_fact, ()),
        ("measure.set", _measure_set, lambda p: f"Measured {p['name']}: {float(p['mm']):g} mm", ()),
        ("mockup.note", _mock_up_note, lambda p: f"Noted what mock-up {p['number']} showed", ("id",)),
    )
    return kinds_of(rows)


def _finding_key(p: dict[str, Any]) -> tuple[str, tuple[str, ...]]:
    if p["code"] not in CODES:
        raise BadInput(f"There is no finding “{p['code']}”.")
    return str(p["code"]), tuple(sorted(str(w) for w in p["where"]))


def _settle(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return replace(state, settled=state.settled | {_finding_key(p)})


def _reopen(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return replace(state, settled=state.settled - {_finding_key(p)})


def _fact_set(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    return replace(state, facts={**state.facts, str(p["name"]): p["value"]})


def _say_fact(p: Params) -> str:
    if p.get("called"):
        return f"Noted {p['called']}"
    name, value = str(p["name"]).replace("_", " "), p["value"]
    return f"Noted {name}" if isinstance(value, Mapping | list | tuple) else f"Noted {name}: {value}"


def _measure_set(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    mm = float(p["mm"])
    if not mm > 0.0:
        raise BadInput(f"A measure is longer than 0 mm; “{p['name']}” was given as {mm:g}.")
    if p.get("of", "body") == "garment":
        return replace(state, taped={**state.taped, str(p["name"]): mm})
    return replace(state, measures={**state.measures, str(p["name"]): mm})


def _mock_up_note(state: Pattern, p: dict[str, Any], c: Context) -> Pattern:
    mock_up_id = str(p.get("id") or child_id("mock-up", c.record_id))
    photos = tuple(str(x) for x in p.get("photos", ()))
    revision = text_or_none(p.get("revision"))
    before = state.mock_ups.get(mock_up_id)
    kept = before.changes if before is not None else ()
    changes = tuple(str(x) for x in p.get("changes", kept))
    made = MockUp(mock_up_id, int(p["number"]), revision, str(p.get("noticed", "")), photos, changes)
    return replace(state, mock_ups={**state.mock_ups, made.id: made})
