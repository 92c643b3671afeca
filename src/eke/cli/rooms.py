"""Workrooms, projects, garments and their histories on the command line."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from eke.cli.frame import careful, write_json
from eke.cli.opening import default_folder
from eke.errors import BadInput

if TYPE_CHECKING:
    from eke.actions.room import Done, Room

garment_option = click.option("--garment", help="The garment's name or id; without it the workroom is meant.")
json_option = click.option("--json", "as_json", is_flag=True, help="Answer as JSON for machines.")


def folder_of(context: click.Context) -> Path:
    """Return the workroom's folder: the option, EKE_WORKROOM, or the one that is meant without either."""
    found = context.find_root().obj
    return Path(found) if found else default_folder()


@contextmanager
def room_of(context: click.Context) -> Iterator[Room]:
    """Open the workroom for the length of a command."""
    from eke.actions.room import open_room

    with open_room(folder_of(context)) as room:
        yield room


def say_done(done: Done, as_json: bool) -> None:
    """Print what an action did."""
    if as_json:
        write_json(Path("-"), {"format": "eke-done-1", **asdict(done)})
        return
    click.echo(f"{done.sentence}  [{done.id}]")
    for left in done.unsettled:
        click.echo(f"  no longer applies: {left}")


def facts_from(words: tuple[str, ...]) -> dict[str, Any]:
    """Read ``name=value`` words: numbers, yes and no, ``x,y`` and JSON are read as such.

    A point in a name makes a table: ``buttons.count=2 buttons.diameter_mm=20``.
    """
    found: dict[str, Any] = {}
    for word in words:
        name, sign, value = word.partition("=")
        *tables, last = name.split(".")
        if not sign or not all((*tables, last)):
            raise BadInput(f"“{word}” says nothing. Write it as name=value, such as wearer_age_years=9.")
        into = found
        for table in tables:
            into = into.setdefault(table, {})
            if not isinstance(into, dict):
                raise BadInput(f"“{word}” says of “{table}” both a value and a table.")
        into[last] = _value(value)
    return found


def _value(text: str) -> Any:
    if text.casefold() in ("yes", "true", "no", "false"):
        return text.casefold() in ("yes", "true")
    try:
        return int(text)
    except ValueError:
        pass
    if text[:1] in ("[", "{"):
        try:
            return json.loads(text, parse_constant=_no_number)
        except json.JSONDecodeError:
            raise BadInput(f"“{text}” begins like a list or a table and is none.") from None
    try:
        numbers = [float(part) for part in text.split(",")]
    except ValueError:
        return text
    if not all(map(math.isfinite, numbers)):
        _no_number(text)
    return numbers[0] if len(numbers) == 1 else numbers


def _no_number(text: str) -> None:
    raise BadInput(f"“{text}” is no number.")


@click.group()
def workroom() -> None:
    """The folder that holds all projects, cloths and patterns."""


@workroom.command("make")
@click.pass_context
@json_option
@careful
def make(context: click.Context, as_json: bool) -> None:
    """Make a new workroom in the folder of --workroom.

    Example: eke --workroom ~/Eke workroom make
    """
    from eke.actions.room import make_room

    folder = folder_of(context)
    make_room(folder).close()
    if as_json:
        write_json(Path("-"), {"format": "eke-workroom-1", "folder": str(folder)})
    else:
        click.echo(f"The workroom {folder} is ready.")


@workroom.command("show")
@click.pass_context
@json_option
@careful
def show(context: click.Context, as_json: bool) -> None:
    """List projects, garments and cloths.

    Example: eke workroom show
    """
    with room_of(context) as room:
        shelf = room.shelf()
    if as_json:
        document = {
            "format": "eke-workroom-1",
            "projects": [
                {"id": p.id, "name": p.name, "garments": [{"id": g.id, "name": g.name} for g in p.garments]}
                for p in shelf.projects.values()
            ],
            "cloths": [{"id": c.id, "name": c.name, "area_mm2": c.area_mm2} for c in shelf.cloths.values()],
        }
        write_json(Path("-"), document)
        return
    for project in shelf.projects.values():
        click.echo(
            f"project “{project.name}”: {', '.join(g.name for g in project.garments) or 'no garment yet'}"
        )
    for cloth in shelf.cloths.values():
        kept = [shelf.project_name(r.project) for r in shelf.reserved_by(cloth.id)]
        click.echo(
            f"cloth “{cloth.name}”: {cloth.area_mm2 / 1e6:.2f} m²{f', kept for {kept[0]}' if kept else ''}"
        )
    if not shelf.projects and not shelf.cloths:
        click.echo(
            "The workroom is empty. Begin with: eke project start NAME, or eke cloth add NAME --size 1400,900"
        )


@click.group()
def project() -> None:
    """Projects: one or more garments made together, with one budget."""


@project.command("start")
@click.argument("name")
@click.option("--budget", help="What it may cost in all, as in 12 or 12.50.")
@click.option("--currency", default="EUR", show_default=True, help="ISO 4217 code of the budget.")
@click.pass_context
@json_option
@careful
def start(context: click.Context, name: str, budget: str | None, currency: str, as_json: bool) -> None:
    """Begin a project.

    Example: eke project start Pinafore --budget 12
    """
    from eke.actions.projects import start_project

    with room_of(context) as room:
        say_done(start_project(room, name, budget=budget, currency=currency), as_json)


@project.command("budget")
@click.argument("name")
@click.argument("amount", metavar="“AMOUNT CURRENCY”")
@click.pass_context
@json_option
@careful
def budget_(context: click.Context, name: str, amount: str, as_json: bool) -> None:
    """Say what a project may cost in all.

    Example: eke project budget Summer “15 EUR”
    """
    from eke.actions.money import set_budget
    from eke.cli.cloths import money_from

    with room_of(context) as room:
        say_done(set_budget(room, name, money_from(amount)), as_json)


@click.group()
def garment() -> None:
    """Garments of a project; each has a pattern with a history of its own."""


@garment.command("enter")
@click.argument("name")
@click.option("--project", "into", required=True, help="The project's name or id.")
@click.option("--fact", "facts", multiple=True, metavar="NAME=VALUE", help="Such as wearer_age_years=9.")
@click.pass_context
@json_option
@careful
def enter(context: click.Context, name: str, into: str, facts: tuple[str, ...], as_json: bool) -> None:
    """Enter a garment into a project.

    Example: eke garment enter Pinafore --project Summer --fact wearer_age_years=9
    """
    from eke.actions.projects import enter_garment

    with room_of(context) as room:
        say_done(enter_garment(room, into, name, facts_from(facts)), as_json)


@garment.command("say")
@click.argument("name")
@click.argument("facts", nargs=-1, required=True, metavar="NAME=VALUE…")
@click.pass_context
@json_option
@careful
def say(context: click.Context, name: str, facts: tuple[str, ...], as_json: bool) -> None:
    """Say something of a garment.

    Example: eke garment say Pinafore wearer_age_years=9 closure=buttons
    """
    from eke.actions.projects import say_of_garment

    with room_of(context) as room:
        say_done(say_of_garment(room, name, facts_from(facts)), as_json)


@click.command()
@garment_option
@click.pass_context
@json_option
@careful
def undo(context: click.Context, garment: str | None, as_json: bool) -> None:
    """Take back the last step. Nothing is lost: eke redo does it again.

    Example: eke undo --garment Pinafore
    """
    from eke.actions.history import take_back

    with room_of(context) as room:
        say_done(take_back(room, garment), as_json)


@click.command()
@garment_option
@click.pass_context
@json_option
@careful
def redo(context: click.Context, garment: str | None, as_json: bool) -> None:
    """Do again what was taken back last.

    Example: eke redo --garment Pinafore
    """
    from eke.actions.history import do_again

    with room_of(context) as room:
        say_done(do_again(room, garment), as_json)


@click.command()
@garment_option
@click.pass_context
@json_option
@careful
def history(context: click.Context, garment: str | None, as_json: bool) -> None:
    """List the steps, oldest first, with the id that switch and amend take.

    Example: eke history --garment Pinafore
    """
    from eke.actions.history import history as steps

    with room_of(context) as room:
        lines = steps(room, garment)
    if as_json:
        write_json(Path("-"), {"format": "eke-history-1", "steps": [asdict(line) for line in lines]})
        return
    for line in lines:
        state = "  taken back" if line.undone else "" if line.on else "  switched off"
        click.echo(f"{line.id}  {line.sentence}{state}")
        if line.set_aside:
            click.echo(f"{'':18}set aside: {line.set_aside}")


@click.command()
@click.argument("step")
@click.argument("state", type=click.Choice(["on", "off"]))
@garment_option
@click.pass_context
@json_option
@careful
def switch(context: click.Context, step: str, state: str, garment: str | None, as_json: bool) -> None:
    """Switch one step off, or on again.

    Example: eke switch 3f9a… off --garment Pinafore
    """
    from eke.actions.history import switch_change

    with room_of(context) as room:
        say_done(switch_change(room, step, state == "on", garment), as_json)


@click.command()
@click.argument("step")
@click.argument("values", nargs=-1, required=True, metavar="NAME=VALUE…")
@garment_option
@click.pass_context
@json_option
@careful
def amend(
    context: click.Context, step: str, values: tuple[str, ...], garment: str | None, as_json: bool
) -> None:
    """Give one step other numbers; those not named stay.

    Example: eke amend 3f9a… intake_mm=14 --garment Pinafore
    """
    from eke.actions.history import amend_change

    with room_of(context) as room:
        say_done(amend_change(room, step, facts_from(values), garment), as_json)


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.pass_context
@json_option
@careful
def backup(context: click.Context, file: Path, as_json: bool) -> None:
    """Write the whole workroom, photographs and all, into one file.

    Example: eke backup workroom.zip
    """
    from eke.actions.projects import backup as make_backup

    with room_of(context) as room:
        made = make_backup(room, file)
    if as_json:
        write_json(Path("-"), {"format": "eke-done-1", "file": str(file)})
    else:
        click.echo(
            f"{file} holds the whole workroom ({made.photos} photographs). eke restore makes it anew from it."
        )


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.pass_context
@json_option
@careful
def restore(context: click.Context, file: Path, as_json: bool) -> None:
    """Make an equal workroom from a backup, in the folder of --workroom.

    Example: eke --workroom ~/Eke-again restore workroom.zip
    """
    from eke.actions.projects import restore as restore_from

    folder = folder_of(context)
    restore_from(file, folder)
    if as_json:
        write_json(Path("-"), {"format": "eke-workroom-1", "folder": str(folder)})
    else:
        click.echo(f"{folder} is a workroom equal to the one in {file}.")


@click.command()
@click.argument("file", type=click.Path(path_type=Path), default=Path("eke-report.zip"))
@click.pass_context
@json_option
@careful
def report(context: click.Context, file: Path, as_json: bool) -> None:
    """Bundle the local log for a bug report; no photographs, no patterns. Nothing is sent anywhere.

    Example: eke report eke-report.zip
    """
    from eke.actions.projects import report as bundle
    from eke.cli.frame import log_file

    bundle(folder_of(context), file, log_file())
    if as_json:
        write_json(Path("-"), {"format": "eke-done-1", "file": str(file)})
    else:
        click.echo(f"{file} is written. Look into it before you pass it on.")


COMMANDS = (workroom, project, garment, undo, redo, history, switch, amend, backup, restore, report)
