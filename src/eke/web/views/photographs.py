"""Photographs and what was found on them, as the app shows them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from eke.actions.found import corners_of
from eke.actions.glances import Glanced
from eke.actions.photographs import Photograph
from eke.actions.questions import answers_of, missing_of
from eke.web.models.common import Segment
from eke.web.models.photographs import (
    FoundCloth,
    FoundMark,
    FoundPiece,
    FoundView,
    GlanceView,
    PhotographSaid,
    PhotographView,
    ReferenceSaid,
    Stroke,
    Touch,
)
from eke.web.models.workroom import JobView


def photograph_view(
    picture: Photograph, there: Collection[str], job: JobView | None, glanced: Glanced | None
) -> PhotographView:
    """Return a photograph. ``there``: ids of pieces and cloths that exist now; ``job``: what traces it now;
    ``glanced``: what a quick look told."""
    return PhotographView(
        id=picture.id,
        subject=picture.subject,
        name=picture.name,
        photo=picture.photo,
        width_px=picture.width_px,
        height_px=picture.height_px,
        cloth=picture.cloth,
        references=[ReferenceSaid.model_validate(r) for r in picture.references],
        square_paper=picture.square_paper,
        touches=[Touch.model_validate(t) for t in picture.touches],
        strokes=[Stroke.model_validate(s) for s in picture.strokes],
        state="tracing" if job is not None else picture.state,
        refused=picture.refused,
        refused_px=list(picture.refused_px),
        missing=missing_of(picture),
        answers=[PhotographSaid.model_validate(answer) for answer in answers_of(picture)],
        job=None if job is None else job.id,
        glance=None
        if glanced is None
        else GlanceView.model_validate({name: glanced[name] for name in GlanceView.model_fields}),
        found=None if picture.found is None else found_view(picture, picture.found, there),
        parts=list(picture.parts),
    )


def found_view(picture: Photograph, found: Mapping[str, Any], there: Collection[str]) -> FoundView:
    """Return what was found; what was made of it is named as long as it exists."""

    def of(kind: str, which: str) -> str | None:
        id_ = picture.made.get(kind, {}).get(which)
        return id_ if id_ in there else None

    return FoundView(
        reference=found["scale"]["reference"],
        uncertainty_percent=found["scale"]["uncertainty_percent"],
        references_px=found["references_px"],
        pieces=[
            FoundPiece(
                which=row["name"],
                outline=row["outline"],
                outline_px=row["outline_px"],
                segments=[Segment(points=s["points"]) for s in row["segments"]],
                corners=corners_of(picture, row)[0],
                corners_px=corners_of(picture, row)[1],
                marks=[FoundMark.model_validate(m) for m in row["marks"]],
                uncertainty_mm=row["uncertainty_mm"],
                piece=of("pieces", row["name"]),
            )
            for row in found["pieces"]
        ],
        cloths=[
            FoundCloth(
                which=row["name"],
                outline=row["outline"],
                outline_px=row["outline_px"],
                holes=row["holes"],
                holes_px=row["holes_px"],
                flaws=row["flaws"],
                flaws_px=row["flaws_px"],
                grain_deg=row["grain_deg"],
                repeat_mm=tuple(row["repeat_mm"]),
                uncertainty_mm=row["uncertainty_mm"],
                cloth=of("cloths", row["name"]),
            )
            for row in found["cloths"]
        ],
        warnings=found["warnings"],
        mm_per_px=found["mm_per_px"],
        straightened=True,
        straightened_box=tuple(found["box_mm"]),
    )
