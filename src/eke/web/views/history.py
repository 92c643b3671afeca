"""A history, and one step of it before and after."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from eke.actions.history import Line, Told
from eke.actions.outlines import Outlines
from eke.actions.sketches import Sketch
from eke.actions.steps import ShownStep
from eke.web.models.common import HistoryLine, Picture
from eke.web.models.garment import HistoryView, StepView
from eke.web.views.garment import back_view, change_views
from eke.web.views.pictures import picture_view

NOT_SENT: Final = frozenset({"segments", "corners", "marks", "outline", "holes", "placements"})
"""Params that are drawings: nobody types them anew, and a list of steps would be megabytes with them."""


def history_view(told: Told, pictures: Mapping[str, Sketch] | None = None) -> HistoryView:
    """Return a history, oldest first; steps taken back come last."""
    drawn = pictures or {}
    return HistoryView(
        revision=told.revision,
        lines=[line_view(line, drawn.get(line.id)) for line in told.lines],
        steps=back_view(told.back),
    )


def line_view(line: Line, sketch: Sketch | None = None) -> HistoryLine:
    """Return one step of a history."""
    return HistoryLine(
        id=line.id,
        kind=line.kind,
        sentence=line.sentence,
        at=line.at,
        note=line.note,
        on=line.on,
        undone=line.undone,
        set_aside=line.set_aside,
        params=_short(line.params),
        picture=_picture(sketch),
    )


def _picture(sketch: Sketch | None) -> Picture | None:
    return None if sketch is None else picture_view(sketch)


def _short(params: Mapping[str, Any]) -> dict[str, Any]:
    return {
        key: _short(value) if isinstance(value, Mapping) else value
        for key, value in params.items()
        if key not in NOT_SENT
    }


def step_view(step: ShownStep, outlines: Outlines) -> StepView:
    """Return one step before and after."""
    return StepView(
        line=line_view(step.line),
        changes=change_views(step.changes, step.before, step.after, outlines),
        ruler=step.ruler,
    )
