"""Paper, making up, ledger and journal."""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal
from urllib.parse import quote

from fastapi import APIRouter, Path, Query, Request, Response

from eke.actions import money, printing, ticks
from eke.actions.cutting_rows import cutting_rows, given_up
from eke.actions.money import DEFAULT_CURRENCY, ledger_report
from eke.actions.papers import reference_page
from eke.actions.printing import Printed, file_name
from eke.actions.room import find_project
from eke.actions.sheets import journal_of, making_up
from eke.units import Money
from eke.web.house import House, HouseDep
from eke.web.models.common import DoneView
from eke.web.models.lay import RoleWord
from eke.web.models.sheets import (
    BudgetSaid,
    JournalView,
    LedgerView,
    MakingView,
    NotionSaid,
    NotionUsed,
    PagesView,
    PaperKind,
    PurchaseSaid,
    TickSaid,
)
from eke.web.views.done import done_view
from eke.web.views.sheets import journal_view, ledger_view, making_view, pages_view, paper_kind

router = APIRouter(prefix="/api", tags=["sheets"])

Paper = Annotated[str, Query(max_length=20)]
Unit = Annotated[Literal["mm", "cm", "inch"], Query()]
Pieces = Annotated[list[str] | None, Query(max_length=500)]
Roles = Annotated[list[RoleWord] | None, Query()]
Number = Annotated[int, Query(ge=0, le=10_000)]
Word = Annotated[str, Path(max_length=40)]
PDF: Final[dict[int | str, dict[str, Any]]] = {200: {"content": {"application/pdf": {}}}}


# ---- paper


@router.get("/garments/{garment}/paper")
def kinds(garment: str, house: HouseDep) -> list[PaperKind]:
    """Return what can be printed of a garment now, or why not yet."""
    return [paper_kind(one) for one in printing.printable(house.room, garment)]


@router.get("/garments/{garment}/paper/ruler/{change}.pdf", response_class=Response, responses=PDF)
def ruler_file(
    garment: str, change: str, house: HouseDep, paper: Paper = "a4", unit: Unit = "cm"
) -> Response:
    """Return the ruler steps of a fit change as a file."""
    return _file(printing.ruler(house.room, garment, change, paper=paper, unit=unit))


@router.get("/garments/{garment}/paper/ruler/{change}")
def ruler(
    garment: str, change: str, request: Request, house: HouseDep, paper: Paper = "a4", unit: Unit = "cm"
) -> PagesView:
    """Return the ruler steps of a fit change as they will print."""
    printed = printing.ruler(house.room, garment, change, paper=paper, unit=unit)
    return pages_view(printed, _pdf_of(request), "ruler")


@router.get("/garments/{garment}/paper/{what}.pdf", response_class=Response, responses=PDF)
def file(
    garment: str,
    what: Word,
    house: HouseDep,
    paper: Paper = "a4",
    pieces: Pieces = None,
    unit: Unit = "cm",
    roles: Roles = None,
    number: Number = 0,
) -> Response:
    """Return something of a garment as a file, true to scale."""
    return _file(_printed(house, garment, what, paper, pieces, unit, roles, number))


@router.get("/garments/{garment}/paper/{what}")
def pages(
    garment: str,
    what: Word,
    request: Request,
    house: HouseDep,
    paper: Paper = "a4",
    pieces: Pieces = None,
    unit: Unit = "cm",
    roles: Roles = None,
    number: Number = 0,
) -> PagesView:
    """Return something of a garment as it will print."""
    return pages_view(
        _printed(house, garment, what, paper, pieces, unit, roles, number), _pdf_of(request), what
    )


@router.get("/projects/{project}/paper/{what}.pdf", response_class=Response, responses=PDF)
def project_file(project: str, what: Word, house: HouseDep, paper: Paper = "a4") -> Response:
    """Return a project's ledger or journal as a file."""
    return _file(printing.of_project(house.room, project, what, paper=paper))


@router.get("/projects/{project}/paper/{what}")
def project_pages(
    project: str, what: Word, request: Request, house: HouseDep, paper: Paper = "a4"
) -> PagesView:
    """Return a project's ledger or journal as it will print."""
    return pages_view(printing.of_project(house.room, project, what, paper=paper), _pdf_of(request), what)


@router.get("/reference-sheet.pdf", response_class=Response, responses=PDF)
def reference_sheet(paper: Paper = "a4", number: Number = 0) -> Response:
    """Return Eke's own reference sheet, which gives a photograph its scale."""
    return _file(Printed(f"Eke reference sheet {number}", (reference_page(paper, number),)))


def _printed(
    house: House,
    garment: str,
    what: str,
    paper: str,
    pieces: list[str] | None,
    unit: str,
    roles: list[RoleWord] | None,
    number: int,
) -> Printed:
    return printing.printed(
        house.room, garment, what, paper=paper, only=pieces, unit=unit, roles=roles, number=number
    )


def _pdf_of(request: Request) -> str:
    """The address of the same pages as a file."""
    query = request.url.query
    return f"{request.url.path}.pdf{f'?{query}' if query else ''}"


def _file(printed: Printed) -> Response:
    """A PDF to look at or to keep; its name in letters that every header takes, and in its own."""
    name = file_name(printed.title)
    plain = name.encode("ascii", "replace").decode().replace("?", "_")
    headers = {
        "Content-Disposition": f"inline; filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}",
        "Cache-Control": "private, no-cache",
    }
    return Response(printed.pdf(), media_type="application/pdf", headers=headers)


# ---- making up


@router.get("/garments/{garment}/making")
def making(garment: str, house: HouseDep) -> MakingView:
    """Return how a garment is made up: cutting list, notions, cautions, order of work with its ticks."""
    made = making_up(house.room, garment)
    return making_view(
        made,
        cutting_rows(house.room, garment),
        ticks.steps_of(house.room, garment, made),
        given_up(house.room, garment),
    )


@router.put("/garments/{garment}/ticks/{task}")
def tick(garment: str, task: str, said: TickSaid, house: HouseDep) -> MakingView:
    """Tick a step of the order of work, or take its tick away."""
    ticks.tick(house.room, garment, task, said.done)
    return making(garment, house)


# ---- money


@router.get("/projects/{project}/ledger")
def ledger(project: str, house: HouseDep) -> LedgerView:
    """Return a project's money."""
    shelf = house.room.shelf()
    found = find_project(shelf, project)
    report = ledger_report(house.room, found.id, shelf.ledger.currency_of(found.id) or DEFAULT_CURRENCY)
    return ledger_view(report, found.id, shelf)


@router.post("/projects/{project}/purchases")
def buy(project: str, said: PurchaseSaid, house: HouseDep) -> DoneView:
    """Note something bought, for this project alone or shared."""
    shelf = house.room.shelf()
    found = find_project(shelf, project)
    rate = None
    if said.rate is not None:
        rate = (shelf.ledger.currency_of(found.id) or DEFAULT_CURRENCY, said.rate)
    return done_view(
        money.buy(
            house.room,
            said.what,
            Money.parse(said.amount, said.currency),
            projects=said.projects or {found.id: "1"},
            cloths=said.cloths,
            rate=rate,
            on=said.on,
        )
    )


@router.post("/projects/{project}/budget")
def budget(project: str, said: BudgetSaid, house: HouseDep) -> DoneView:
    """Say what a project may cost in all."""
    return done_view(money.set_budget(house.room, project, Money.parse(said.amount, said.currency)))


@router.post("/notions")
def add_notion(said: NotionSaid, house: HouseDep) -> DoneView:
    """Put a notion on the shelf."""
    price = None if said.price is None else Money.parse(said.price, said.currency)
    return done_view(money.add_notion(house.room, said.name, said.amount, said.unit, price))


@router.post("/notions/{notion}/use")
def use_notion(notion: str, said: NotionUsed, house: HouseDep) -> DoneView:
    """Note that a garment used some of a notion."""
    return done_view(money.use_notion(house.room, notion, said.amount, said.garment))


# ---- journal


@router.get("/projects/{project}/journal")
def journal(project: str, house: HouseDep) -> JournalView:
    """Return the story of a project."""
    return journal_view(journal_of(house.room, project, pictured=False)[0])
