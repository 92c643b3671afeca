"""The first screen, projects, and the safe copy of everything."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from fastapi import APIRouter, Response
from fastapi.responses import FileResponse
from starlette.background import BackgroundTask

from eke.actions import projects, workroom
from eke.actions.cards import tables
from eke.actions.history import ways_back
from eke.actions.room import now
from eke.web.house import HouseDep
from eke.web.models.common import ChangeSaid, DoneView
from eke.web.models.workroom import GarmentSaid, ProjectSaid, WorkroomView
from eke.web.routes.garments import sent
from eke.web.views.done import done_view
from eke.web.views.workroom import workroom_view

router = APIRouter(prefix="/api", tags=["workroom"])


@router.get("/workroom", response_model=WorkroomView)
def first_screen(house: HouseDep) -> Response:
    """Return the workroom: projects, garments, how many cloths."""
    room = house.room
    revision = room.stored(None).revision
    return sent(workroom_view(room, tables(room), ways_back(room), revision))


@router.post("/projects")
def start_project(said: ProjectSaid, house: HouseDep) -> DoneView:
    """Begin a project."""
    done = projects.start_project(house.room, said.name, budget=said.budget, currency=said.currency)
    return done_view(done)


@router.post("/projects/{project}/garments")
def enter_garment(project: str, said: GarmentSaid, house: HouseDep) -> DoneView:
    """Enter a garment into a project."""
    return done_view(projects.enter_garment(house.room, project, said.name, said.facts))


@router.post("/workroom/changes")
def change(said: ChangeSaid, house: HouseDep) -> DoneView:
    """Make a change of the workroom."""
    done = workroom.change(house.room, said.kind, said.params, said.note, expected=said.expected)
    return done_view(done)


@router.get("/backup", response_class=FileResponse)
def backup(house: HouseDep) -> FileResponse:
    """Return the whole workroom in one file."""
    folder = Path(tempfile.mkdtemp(prefix="eke-backup-"))
    name = f"{house.room.folder.name} {now()[:10]}.zip"
    try:
        projects.backup(house.room, folder / "workroom.zip", remembered=False)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return FileResponse(
        folder / "workroom.zip",
        media_type="application/zip",
        filename=name,
        background=BackgroundTask(shutil.rmtree, folder, ignore_errors=True),
    )
