"""Long computations: looking, stopping, having seen what came of them."""

from __future__ import annotations

from fastapi import APIRouter, Response

from eke.web.house import HouseDep
from eke.web.models.workroom import JobView

router = APIRouter(prefix="/api", tags=["jobs"])


@router.get("/jobs")
def jobs(house: HouseDep) -> list[JobView]:
    """Return what runs, and what has ended and was not seen."""
    return house.board.jobs()


@router.post("/jobs/{job}/stop")
def stop(job: str, house: HouseDep) -> JobView:
    """Ask a job to stop; what it has found is kept."""
    return house.board.stop(job)


@router.post("/jobs/{job}/seen", status_code=204, response_class=Response)
def seen(job: str, house: HouseDep) -> None:
    """Forget an ended job."""
    house.board.seen(job)
