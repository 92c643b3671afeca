"""What goes on paper: the pattern in true scale, lay plans, sheets for the table, the ledger, the journal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from eke.actions.drawn import drawn_pieces, laid_cloth, laid_pieces, piece_numbers
from eke.actions.laying import cut_by, cutting_for, kept_plan, why_stale
from eke.actions.room import Room
from eke.capture.sheet import own_sheet, sheet_json
from eke.derive import preset_named
from eke.errors import BadInput, NotFound
from eke.formats.faces import metrics
from eke.formats.pdf import pages_to_pdf
from eke.paper.lay_plan import lay_plan
from eke.paper.page import Page
from eke.paper.reference_sheet import reference_sheet
from eke.paper.sizes import paper_named
from eke.paper.tiling import tiled_pages, whole_page
from eke.pattern.model import Role


def reference_page(paper: str = "a4", number: int = 0) -> Page:
    """Return Eke's own reference sheet as a page, on A4 or Letter."""
    return reference_sheet(own_sheet(paper.strip().lower(), number), metrics())  # type: ignore[arg-type]


def reference_sheet_pdf(paper: str, number: int) -> tuple[bytes, dict[str, Any]]:
    """Return Eke's own reference sheet as a PDF, and its geometry in mm."""
    geometry = own_sheet(paper, number)  # type: ignore[arg-type]
    page = reference_sheet(geometry, metrics())
    return pages_to_pdf([page], title=f"Eke reference sheet {number}"), sheet_json(geometry)


def pattern_pages(
    room: Room,
    garment: str,
    paper: str = "a4",
    *,
    allowances: str = "home",
    only: Sequence[str] | None = None,
) -> tuple[Page, ...]:
    """Return a garment's pattern in true scale over joined pages."""
    state = room.garment(garment)
    wanted = None if only is None else [_piece_id(state, name) for name in only]
    pieces = drawn_pieces(state, preset=preset_named(allowances), only=wanted)
    return tiled_pages(pieces, paper_named(paper), metrics(), title=state.name)


def whole_pattern_page(
    room: Room,
    garment: str,
    *,
    allowances: str = "home",
    width_mm: float = 900.0,
    only: Sequence[str] | None = None,
) -> Page:
    """Return a garment's pattern in true scale on one large sheet."""
    state = room.garment(garment)
    wanted = None if only is None else [_piece_id(state, name) for name in only]
    pieces = drawn_pieces(state, preset=preset_named(allowances), only=wanted)
    return whole_page(pieces, metrics(), title=state.name, width_mm=width_mm)


def lay_pages(
    room: Room, garment: str, paper: str = "a4", *, roles: Sequence[Role] | None = None, unit: str = "cm"
) -> tuple[Page, ...]:
    """Return the plan of each cloth that a garment was laid on, with measures for chalking."""
    plan = kept_plan(room, garment, roles)
    state, listed = cutting_for(room, garment, roles, plan.stints)
    shelf = room.shelf()
    cut = cut_by(shelf, plan)
    cloths = shelf.cloths if cut is None else {c.id: c for c in cut.cloths}
    old = () if cut is not None else why_stale(room, plan, roles)
    if old and not {one.piece for one in plan.laid} <= {piece.id for piece in listed.pieces}:
        raise BadInput(f"This lay no longer holds: {old[0]}")
    notes = [plan.sentence, *(one.sentence for one in listed.stints), *old]
    pages: list[Page] = []
    for cloth_id in dict.fromkeys(one.cloth for one in plan.laid):
        cloth = cloths.get(cloth_id)
        if cloth is None:
            raise NotFound("A cloth of this plan is not on the shelf any more. Lay it again.")
        laid = laid_pieces(plan.on(cloth_id), listed.pieces, piece_numbers(state))
        pages += lay_plan(
            laid_cloth(cloth), laid, paper_named(paper), metrics(), unit=unit,
            title=f"{state.name} on {cloth.name}", notes=notes,
        )  # fmt: skip
    if not pages:
        raise NotFound(f"Nothing of “{state.name}” lies on a cloth yet.")
    return tuple(pages)


def _piece_id(state: Any, name: str) -> str:
    every = {**state.pattern.pieces, **{k: d.piece for k, d in state.derivation.pieces.items()}}
    matches = [key for key, piece in every.items() if name in (key, piece.name)]
    if len(matches) != 1:
        names = ", ".join(f"“{p.name}”" for p in every.values())
        raise NotFound(
            f"There is no single piece “{name}” in “{state.name}”. There are: {names or 'none yet'}."
        )
    return str(matches[0])
