"""Every place of the app, by its address."""

from __future__ import annotations

from app.sewist import Sewist

ROOMS = ("tracing", "pattern", "mock-ups", "cloth", "lay", "paper", "making", "ledger", "journal")


def places_of(s: Sewist) -> list[str]:
    """Return the first screen, the shelf, every room of every garment, and what belongs to the project alone."""
    places = ["/", "/shelf"]
    for project in s.told_by("workroom")["projects"]:
        places += [f"/p/{project['id']}/ledger", f"/p/{project['id']}/journal"]
        for garment in project["garments"]:
            places += [f"/g/{garment['id']}/{room}" for room in ROOMS]
    return places


def go(s: Sewist, place: str) -> None:
    """Go to a place by its address, and wait until it is drawn."""
    s.page.goto(f"{s.served.base}#{place}")
    s.settled()
