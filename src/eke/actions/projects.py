"""Workrooms, projects and garments: making them, keeping them safe."""

from __future__ import annotations

import json
import platform
import sys
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from eke import __version__
from eke.actions.room import Done, Room, find_project, new_id, now
from eke.errors import BadInput, StoreTrouble
from eke.ledger import money_to_json
from eke.store import Backup
from eke.store import backup as store_backup
from eke.store import restore as store_restore
from eke.store.database import DATABASE
from eke.units import Money


def start_project(room: Room, name: str, *, budget: str | None = None, currency: str = "EUR") -> Done:
    """Begin a project, with a budget where one is given ("12", "EUR")."""
    said: dict[str, Any] = {"id": new_id(), "name": _name(name)}
    if budget is not None:
        said["budget"] = money_to_json(Money.parse(budget, currency))
    done = room.change_workroom("project.start", said)
    return Done(said["id"], done.sentence, done.revision)


def enter_garment(room: Room, project: str, name: str, facts: Mapping[str, Any] | None = None) -> Done:
    """Enter a garment into a project; its pattern gets a history of its own.

    ``facts`` are what is known of it, such as ``wearer_age_years``.
    """
    garment = new_id()
    with room.store.write() as tx:
        found = find_project(room.shelf(tx), project)
        names = {found.id: found.name}
        params = {"id": garment, "name": _name(name), "project": found.id, "names": names}
        done = room.change_workroom_in(tx, "garment.enter", params)
        tx.create_log(garment, "garment")
        for fact, value in (facts or {}).items():
            room.change_garment_in(tx, garment, "fact.set", {"name": fact, "value": value})
    return Done(garment, done.sentence, done.revision)


def say_of_garment(room: Room, garment: str, facts: Mapping[str, Any]) -> Done:
    """Say something of a garment, each fact a step of its own: the wearer's age, its closure, what it is for."""
    if not facts:
        raise BadInput("Say at least one thing, such as wearer_age_years=9.")
    with room.store.write() as tx:
        done = [
            room.change_garment_in(tx, garment, "fact.set", {"name": n, "value": v}) for n, v in facts.items()
        ]
    return done[-1]


def backup(room: Room, file: Path, *, remembered: bool = True) -> Backup:
    """Write the whole workroom into one file.

    ``remembered``: should the database be damaged one day, the message about it says where this copy is. Not
    for a file that is only on its way to somewhere else.
    """
    made = store_backup(room.store, file, at=now(), app_version=__version__)
    if remembered:
        room.store.note_backup(file, now())
    return made


def restore(file: Path, folder: Path) -> Backup:
    """Make an equal workroom in ``folder`` from a backup. Never writes over one that is there."""
    return store_restore(file, folder)


def report(room_folder: Path, file: Path, log_file: Path | None) -> Path:
    """Bundle the program's log and facts about this machine for a bug report; no photographs, no names of files."""
    if file.exists():
        raise BadInput(f"{file} is there already. Give another name.")
    facts = {
        "format": "eke-report-1",
        "version": __version__,
        "python": sys.version.split()[0],
        "system": platform.platform(),
        "workroom_there": (room_folder / DATABASE).exists(),
    }
    try:
        with zipfile.ZipFile(file, "x", zipfile.ZIP_DEFLATED) as bundle:
            bundle.writestr("report.json", json.dumps(facts, indent=1))
            if log_file is not None and log_file.is_file():
                bundle.writestr("eke.log", log_file.read_bytes()[-1_000_000:])
    except OSError as trouble:
        raise StoreTrouble(f"{file} could not be written: {trouble.strerror}.") from trouble
    return file


def _name(name: str) -> str:
    clean = " ".join(name.split())
    if not clean:
        raise BadInput("Give it a name.")
    if len(clean) > 120:
        raise BadInput(f"A name of {len(clean)} letters is too long to write on a piece. Use up to 120.")
    return clean
