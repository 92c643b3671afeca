"""Two stages of a garment as the app shows them."""

from __future__ import annotations

from eke.actions.outlines import Outlines
from eke.actions.revisions import MEASURED_MM, Stage, StepBetween, TwoStages
from eke.pattern.between import MeasureBetween, PieceBetween
from eke.web.models.revisions import (
    MeasureBetweenView,
    PieceBetweenView,
    StageView,
    StepBetweenView,
    TwoStagesView,
)
from eke.web.views.piece import one_piece_view
from eke.web.views.rounding import mm, mm_or_none, point


def stage_view(stage: Stage) -> StageView:
    """Return one stage."""
    return StageView(
        id=stage.id,
        sentence=stage.sentence,
        at=stage.at,
        mock_ups=list(stage.mock_ups),
        now=stage.now,
        undone=stage.undone,
    )


def two_stages_view(found: TwoStages, outlines: Outlines) -> TwoStagesView:
    """Return what differs between two stages."""
    return TwoStagesView(
        earlier=stage_view(found.earlier),
        later=stage_view(found.later),
        pieces=[_piece(one, found, outlines) for one in found.pieces],
        measures=[_measure(one) for one in found.measures],
        steps=[_step(one) for one in found.steps],
    )


def _piece(one: PieceBetween, found: TwoStages, outlines: Outlines) -> PieceBetweenView:
    drawn = found.before.pattern.pieces if one.after is None else found.after.pattern.pieces
    before = None if one.how == "same" else one.before
    return PieceBetweenView(
        id=one.id,
        name=one.name,
        how=one.how,
        derived=one.id not in drawn,
        before=one_piece_view(before, found.before, outlines),
        after=one_piece_view(one.after, found.after, outlines),
        shift_mm=point(one.shift_mm),
        apart_mm=mm(one.apart_mm),
        where=one.where,
        at=None if one.at is None else point(one.at),
    )


def _measure(one: MeasureBetween) -> MeasureBetweenView:
    by = one.difference_mm
    known = one.after or one.before
    return MeasureBetweenView(
        name=one.name,
        kind=one.kind,
        before_mm=None if one.before is None else mm(one.before.mm),
        after_mm=None if one.after is None else mm(one.after.mm),
        difference_mm=0.0 if by is not None and abs(by) < MEASURED_MM else mm_or_none(by),
        body=None if known is None else known.body,
        ease_before_mm=None if one.before is None else mm_or_none(one.before.ease_mm),
        ease_after_mm=None if one.after is None else mm_or_none(one.after.ease_mm),
    )


def _step(one: StepBetween) -> StepBetweenView:
    return StepBetweenView(
        id=one.id,
        kind=one.kind,
        sentence=one.sentence,
        fate=one.fate,
        at=one.at,
        note=one.note,
        was=one.was,
        why=one.why,
    )
