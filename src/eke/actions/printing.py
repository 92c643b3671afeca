"""All that can be printed, by one word each: whether it is ready, its pages, as drawings for a screen or as a PDF."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from eke.actions.cutting_rows import plans_of
from eke.actions.laying import cut_by, cutting_of, why_stale
from eke.actions.papers import lay_pages, pattern_pages, reference_page, whole_pattern_page
from eke.actions.room import GarmentState, Room, find_garment, find_project
from eke.actions.sheets import (
    cutting_pages,
    journal_pages,
    ledger_pages,
    making_up,
    order_pages,
    ruler_step_pages,
)
from eke.cutting import LayPlan
from eke.errors import BadInput, EkeError, NotFound
from eke.formats.pdf import pages_to_pdf
from eke.formats.svg import page_to_svg
from eke.paper.page import Page
from eke.pattern.model import Role

SCREEN_DECIMALS: Final = 2
"""A hundredth of a millimetre: what prints is the PDF, this is looked at."""
UNITS: Final = ("mm", "cm", "inch")
LONGEST_NAME: Final = 80


@dataclass(frozen=True, slots=True)
class Printed:
    """Pages of one document, with the pictures on them by key, and what is to be known of them."""

    title: str
    pages: tuple[Page, ...]
    pictures: Mapping[str, bytes] = field(default_factory=dict, hash=False)
    notes: tuple[str, ...] = ()

    def drawings(self, prefix: str) -> tuple[str, ...]:
        """Return every page as an SVG element that fetches nothing; ``prefix`` keeps its names its own."""
        return tuple(
            page_to_svg(
                page, pictures=self.pictures, carry_fonts=False, decimals=SCREEN_DECIMALS, clip_prefix=f"{prefix}-{n}-"
            )
            for n, page in enumerate(self.pages, start=1)
        )  # fmt: skip

    def pdf(self) -> bytes:
        """Return all pages as one PDF, true to scale."""
        return pages_to_pdf(self.pages, title=self.title, pictures=self.pictures)


@dataclass(frozen=True, slots=True)
class Printable:
    """Something that can be printed of a garment: its word, its name, and why not yet where it is not ready."""

    word: str
    name: str
    ready: bool
    sentence: str = ""


NAMES: Final[Mapping[str, str]] = {
    "pattern": "Pattern in true scale, over joined pages",
    "whole": "Pattern in true scale, on one large sheet",
    "lay": "Lay plan with measures for chalking",
    "cutting": "Cutting list and notions",
    "order": "Order of work with cautions",
    "sheet": "Reference sheet for photographs",
}


def printable(room: Room, garment: str) -> tuple[Printable, ...]:
    """Return everything that can be printed of a garment, with a plain sentence where it cannot be yet."""
    state = room.garment(garment)
    why: dict[str, str] = {
        "pattern": _pattern_not_yet(room, state),
        "lay": _lay_not_yet(room, state),
        "cutting": _not_yet(state, lambda: cutting_of(room, state.id)),
        "order": _not_yet(state, lambda: making_up(room, state.id)),
        "sheet": "",
    }
    why["whole"] = why["pattern"]
    return tuple(Printable(word, name, not why[word], why[word]) for word, name in NAMES.items())


def _pattern_not_yet(room: Room, state: GarmentState) -> str:
    if not state.pattern.pieces:
        return _no_piece(state)
    every = [*state.pattern.pieces.values(), *(d.piece for d in state.derivation.pieces.values())]
    crossed = [p.name for p in every if len(room.outlines.cut(state.pattern, p)) == 0]
    if crossed:
        return (
            f"The outline of “{crossed[0]}” crosses itself, so there is no cut line to print. True it first."
        )
    return ""


def _no_piece(state: GarmentState) -> str:
    return f"“{state.name}” has no piece yet. Trace one first."


def _not_yet(state: GarmentState, make: Callable[[], object]) -> str:
    if not state.pattern.pieces:
        return _no_piece(state)
    try:
        make()
    except EkeError as trouble:
        return trouble.message
    return ""


def _lay_not_yet(room: Room, state: GarmentState) -> str:
    plans = [plan for plan in plans_of(room, state.id) if plan.laid]
    if not plans:
        return "Nothing has been laid on cloth yet. Lay the pieces first."
    old = [_why_old(room, plan) for plan in plans]
    return "" if "" in old else old[0]


def _why_old(room: Room, plan: LayPlan) -> str:
    if cut_by(room.shelf(), plan) is not None:
        return ""
    return next(iter(why_stale(room, plan, _roles(plan))), "")


def _roles(plan: LayPlan) -> tuple[Role, ...] | None:
    return plan.roles or None  # type: ignore[return-value]


# ---- making pages


def printed(
    room: Room,
    garment: str,
    what: str,
    *,
    paper: str = "a4",
    only: Sequence[str] | None = None,
    unit: str = "cm",
    roles: Sequence[Role] | None = None,
    number: int = 0,
) -> Printed:
    """Return something of a garment ready to print.

    Parameters
    ----------
    what
        ``pattern``, ``whole``, ``lay``, ``cutting``, ``order`` or ``sheet``.
    only
        Ids or names of pieces, for the pattern.
    roles
        For the lay plan; without any, every plan that holds.
    number
        Of the reference sheet.

    Raises
    ------
    NotFound
        When there is no such thing, paper, piece or plan.
    BadInput
        When it cannot be printed yet.
    """
    check_unit(unit)
    state = room.garment(garment)
    if what not in NAMES:
        raise NotFound(f"There is no “{what}” to print. There are: {', '.join(NAMES)}.")
    if what in ("pattern", "whole") and not state.pattern.pieces:
        raise BadInput(_no_piece(state))
    # the same revision of the same garment draws the same pages; what is looked at is printed next
    key = (what, state.id, state.revision, state.name, paper, None if only is None else tuple(only))
    if what == "pattern":
        pages = room.cuttings.of(key, lambda: pattern_pages(room, state.id, paper, only=only))
        return Printed(f"{state.name} pattern", pages)
    if what == "whole":
        pages = room.cuttings.of(key, lambda: (whole_pattern_page(room, state.id, only=only),))
        return Printed(f"{state.name} pattern whole", pages)
    if what == "lay":
        return _lay(room, state, paper, roles, unit)
    if what == "cutting":
        return Printed(f"{state.name} cutting list", cutting_pages(room, state.id, paper))
    if what == "order":
        return Printed(f"{state.name} order of work", order_pages(room, state.id, paper))
    return Printed("Eke reference sheet", (reference_page(paper, number),))


def _lay(room: Room, state: GarmentState, paper: str, roles: Sequence[Role] | None, unit: str) -> Printed:
    title = f"{state.name} lay plan"
    if roles is not None:
        return Printed(title, lay_pages(room, state.id, paper, roles=roles, unit=unit))
    plans = [plan for plan in plans_of(room, state.id) if plan.laid]
    if not plans:
        raise BadInput("Nothing has been laid on cloth yet. Lay the pieces first.")
    holding = [plan for plan in plans if not _why_old(room, plan)]
    pages: list[Page] = []
    for plan in holding or plans:
        pages += lay_pages(room, state.id, paper, roles=_roles(plan), unit=unit)
    left = len(plans) - len(holding)
    notes: tuple[str, ...] = ()
    if holding and left:
        notes = (
            "One plan that no longer holds is left out."
            if left == 1
            else f"{left} plans that no longer hold are left out.",
        )
    return Printed(title, tuple(pages), notes=notes)


def ruler(room: Room, garment: str, change_id: str, *, paper: str = "a4", unit: str = "cm") -> Printed:
    """Return one fit change as steps with a ruler."""
    check_unit(unit)
    name = find_garment(room.shelf(), garment)[1].name
    return Printed(f"{name} ruler steps", ruler_step_pages(room, garment, change_id, paper, unit))


def of_project(room: Room, project: str, what: str, *, paper: str = "a4") -> Printed:
    """Return a project's ``ledger`` or ``journal`` ready to print."""
    name = find_project(room.shelf(), project).name
    if what == "ledger":
        return Printed(f"{name} ledger", ledger_pages(room, project, paper))
    if what == "journal":
        pages, pictures = journal_pages(room, project, paper)
        return Printed(f"{name} journal", pages, pictures)
    raise NotFound(f"There is no “{what}” of a project to print. There are: ledger, journal.")


def check_unit(unit: str) -> str:
    """Return a unit of length that can be printed. Raises :class:`BadInput`."""
    if unit not in UNITS:
        raise BadInput(f"Lengths are printed in {', '.join(UNITS)}, not in “{unit}”.")
    return unit


def file_name(title: str, ending: str = ".pdf") -> str:
    """Return a name for a file that every system takes: letters, digits and hyphens, never a path."""
    plain = unicodedata.normalize("NFC", title)
    name = re.sub(r"[^\w]+", "-", plain, flags=re.UNICODE).strip("-_")[:LONGEST_NAME].strip("-_")
    return f"{name or 'eke'}{ending}"
