"""A garment as it stands: pieces, seams, findings, proposals, walks, previews."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from eke.actions.history import Back
from eke.actions.naming import run_words
from eke.actions.outlines import Outlines
from eke.actions.placed import Placed, placed_findings
from eke.actions.previews import Changed, Preview, Standing, standing_of
from eke.actions.room import GarmentState
from eke.errors import EkeError
from eke.findings import CODES
from eke.pattern.corners import called
from eke.pattern.measure import Run, run_length_mm
from eke.pattern.model import Pattern, RunPart, Seam
from eke.pattern.proposals import Proposal
from eke.pattern.walking import Walk
from eke.web.models.common import StepBack
from eke.web.models.garment import (
    FindingView,
    FixView,
    GarmentView,
    MockUpView,
    PieceChange,
    PreviewView,
    ProposalView,
    RecipeView,
    RunPartView,
    SeamView,
    TracingView,
    WalkJoin,
    WalkNotch,
    WalkSide,
    WalkStretch,
    WalkView,
)
from eke.web.views.piece import one_piece_view, piece_views
from eke.web.views.rounding import mm, mm_or_none, point, points

STEPS_ALONG = 40
"""Places at which the running difference of a seam is given."""


def back_view(back: Back) -> StepBack:
    """Return what taking back and doing again would do."""
    return StepBack(undo=back.undo, redo=back.redo)


def garment_view(state: GarmentState, back: Back, outlines: Outlines) -> GarmentView:
    """Return all of a garment that its rooms show."""
    pattern = state.pattern
    drawn, derived = piece_views(standing_of(state), outlines)
    return GarmentView(
        id=state.id,
        name=state.name,
        project=state.project.id,
        project_name=state.project.name,
        revision=state.stored.revision,
        head=state.revision,
        pieces=drawn,
        derived=derived,
        seams=[seam_view(pattern, seam) for seam in pattern.seams.values()],
        recipes=[
            RecipeView(
                id=recipe.id,
                kind=recipe.kind,
                name=recipe.name,
                sources=list(recipe.sources),
                params=dict(recipe.params),
                pieces=[str(k) for k, d in state.derivation.pieces.items() if d.recipe == recipe.id],
            )
            for recipe in pattern.recipes.values()
        ],
        tracings=[
            TracingView(
                id=one.id,
                photo=one.photo,
                reference=one.reference,
                scale_percent=one.scale_percent,
                uncertainty_mm=mm(one.uncertainty_mm),
            )
            for one in pattern.tracings.values()
        ],
        mock_ups=[
            MockUpView(
                id=m.id, number=m.number, noticed=m.noticed, revision=m.revision, photos=list(m.photos)
            )
            for m in sorted(pattern.mock_ups.values(), key=lambda m: m.number)
        ],
        facts=dict(pattern.facts),
        measures=dict(pattern.measures),
        taped=dict(pattern.taped),
        findings=finding_views(placed_findings(state)),
        steps=back_view(back),
    )


def part_views(parts: Iterable[RunPart]) -> list[RunPartView]:
    """Return one side of a seam."""
    return [RunPartView(piece=p.piece, edge=p.edge, reverse=p.reverse) for p in parts]


def seam_view(pattern: Pattern, seam: Seam) -> SeamView:
    """Return a seam in ids and in words; no length where one of its edges is gone."""
    return SeamView(
        id=seam.id,
        name=seam.name,
        a=part_views(seam.a),
        b=part_views(seam.b),
        ease_mm=mm(seam.ease_mm),
        ease_between=seam.ease_between,
        b_mirrored=seam.b_mirrored,
        kind=seam.kind,
        length_a_mm=_length(pattern, seam.a),
        length_b_mm=_length(pattern, seam.b),
        words_a=run_words(pattern, seam.a),
        words_b=run_words(pattern, seam.b),
    )


def _length(pattern: Pattern, run: Sequence[RunPart]) -> float | None:
    try:
        return mm(run_length_mm(pattern, run))
    except EkeError:
        return None


def finding_views(found: Iterable[Placed]) -> list[FindingView]:
    """Return findings with the piece and the place to point at."""
    return [
        FindingView(
            code=f.code,
            severity=f.severity,
            sentence=f.sentence,
            where=list(f.where),
            piece=one.piece,
            at=None if one.at is None else point(one.at),
            amount=mm_or_none(f.amount),
            unit=CODES[f.code].unit,
            tolerance=mm_or_none(f.tolerance),
            fixes=[FixView(kind=x.kind, params=dict(x.params), sentence=x.sentence) for x in f.fixes],
            can_settle=one.can_settle,
        )
        for one in found
        for f in (one.finding,)
    ]


def proposal_view(pattern: Pattern, proposal: Proposal) -> ProposalView:
    """Return two runs that seem to belong together."""
    return ProposalView(
        a=part_views(proposal.a),
        b=part_views(proposal.b),
        words_a=run_words(pattern, proposal.a),
        words_b=run_words(pattern, proposal.b),
        length_a_mm=mm(run_length_mm(pattern, proposal.a)),
        length_b_mm=mm(run_length_mm(pattern, proposal.b)),
        confidence=proposal.confidence,
        ease_mm=mm(proposal.ease_mm),
        b_mirrored=proposal.b_mirrored,
        why=_why(proposal.reasons),
    )


def _why(reasons: Sequence[str]) -> str:
    text = "; ".join(reasons)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def walk_view(walk: Walk, found: Iterable[Placed]) -> WalkView:
    """Return both sides of a seam laid straight, with what walking it found."""
    meets = {p.a.notch.id: (p.b.notch.id, p.apart_mm) for p in walk.pairs}
    met = {p.b.notch.id: (p.a.notch.id, p.apart_mm) for p in walk.pairs}
    return WalkView(
        seam=walk.seam.id,
        name=walk.seam.name,
        a=_side(walk.a, meets),
        b=_side(walk.b, met),
        difference_mm=mm(walk.difference_mm),
        ease_mm=mm(walk.seam.ease_mm),
        running=points(walk.running(STEPS_ALONG)),
        joins=[
            WalkJoin(
                at=join.at,
                angle_a_deg=mm(join.angle_a_deg),
                angle_b_deg=mm(join.angle_b_deg),
                off_deg=mm(join.off_deg),
            )
            for join in walk.joins
        ],
        findings=finding_views(found),
    )


def _side(run: Run, pairs: dict[str, tuple[str, float]]) -> WalkSide:
    return WalkSide(
        length_mm=mm(run.length_mm),
        stretches=[
            WalkStretch(
                piece=s.piece.id,
                piece_name=s.piece.name,
                edge=s.edge.id,
                edge_name=called(s.piece, s.edge),
                from_mm=mm(s.from_mm),
                to_mm=mm(s.to_mm),
            )
            for s in run.stretches
        ],
        notches=[
            WalkNotch(id=n.notch.id, at_mm=mm(n.at_mm), count=n.notch.count, pair=pair, apart_mm=mm_or_none(apart))
            for n in run.notches()
            for pair, apart in (pairs.get(n.notch.id, (None, None)),)
        ],
    )  # fmt: skip


def change_views(
    changes: Iterable[Changed], before: Standing, after: Standing, outlines: Outlines
) -> list[PieceChange]:
    """Return pieces before and after."""
    return [
        PieceChange(
            id=one.id,
            name=one.name,
            before=one_piece_view(one.before, before, outlines),
            after=one_piece_view(one.after, after, outlines),
        )
        for one in changes
    ]


def preview_view(preview: Preview, outlines: Outlines) -> PreviewView:
    """Return what a change would do."""
    return PreviewView(
        sentence=preview.sentence,
        changes=change_views(preview.changes, preview.before, preview.after, outlines),
        unsettled=list(preview.unsettled),
        findings=finding_views(preview.findings),
        solved=len(preview.solved),
        caused=len(preview.caused),
    )
