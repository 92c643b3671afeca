"""``eke print`` and ``eke make-up``: what goes on paper."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from eke.cli.cutting import roles_option
from eke.cli.frame import careful, refuse_taken, write_json, write_out
from eke.cli.rooms import json_option, room_of

if TYPE_CHECKING:
    from eke.actions.room import Room

paper_option = click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper size."
)
out_option = click.option(
    "--out",
    type=click.Path(path_type=Path),
    required=True,
    help="The file to write: .pdf; also .svg or .png for one page.",
)
force_option = click.option("--force", is_flag=True, help="Replace the file that is there.")
unit_option = click.option(
    "--unit",
    type=click.Choice(["mm", "cm", "inch"]),
    default="cm",
    show_default=True,
    help="Unit of measures.",
)


@click.group("print")
def print_() -> None:
    """Pages as PDF, SVG or PNG, true to scale."""


def _write(
    context: click.Context, out: Path, force: bool, as_json: bool, title: str, make: Callable[[Room], Any]
) -> None:
    from eke.actions.drawing import written
    from eke.formats.registry import format_for

    refuse_taken(out, force=force)
    format_for(out.name)
    with room_of(context) as room:
        made = make(room)
    pages, pictures = (
        made if isinstance(made, tuple) and made and isinstance(made[-1], dict) else (made, None)
    )
    write_out(out, written(pages, out.suffix.lower(), title=title, pictures=pictures), force=force)
    if as_json:
        write_json(Path("-"), {"format": "eke-done-1", "file": str(out), "pages": len(pages)})
    else:
        click.echo(f"{out} is written: {len(pages)} page{'s' if len(pages) != 1 else ''}.")


@print_.command("pattern")
@click.argument("garment")
@paper_option
@click.option("--whole", is_flag=True, help="On one large sheet instead of joined pages.")
@click.option(
    "--allowances",
    default="home",
    show_default=True,
    help="home, trade, mock-up or none, where an edge has none of its own.",
)
@click.option("--piece", "only", multiple=True, help="Only these pieces; may be repeated.")
@out_option
@force_option
@click.pass_context
@json_option
@careful
def pattern(
    context: click.Context, garment: str, paper: str, whole: bool, allowances: str, only: tuple[str, ...], out: Path,
    force: bool, as_json: bool,
) -> None:  # fmt: skip
    """The pattern in true scale, with a page map, join marks and a 100 mm test square.

    Example: eke print pattern Pinafore --out pinafore.pdf
    """
    from eke.actions.papers import pattern_pages, whole_pattern_page

    def make(room: Room) -> Any:
        if whole:
            return (whole_pattern_page(room, garment, allowances=allowances),)
        return pattern_pages(room, garment, paper, allowances=allowances, only=list(only) or None)

    _write(context, out, force, as_json, garment, make)


@print_.command("lay")
@click.argument("garment")
@roles_option
@paper_option
@unit_option
@out_option
@force_option
@click.pass_context
@json_option
@careful
def lay_(
    context: click.Context,
    garment: str,
    roles: tuple[str, ...],
    paper: str,
    unit: str,
    out: Path,
    force: bool,
    as_json: bool,
) -> None:
    """The plan of each cloth, with measures for chalking.

    Example: eke print lay Pinafore --role outer --out lay.pdf
    """
    from eke.actions.papers import lay_pages

    wanted: Any = list(roles) or None
    _write(
        context,
        out,
        force,
        as_json,
        garment,
        lambda room: lay_pages(room, garment, paper, roles=wanted, unit=unit),
    )


def _sheet(name: str, action: str, about: str, doc: str) -> click.Command:
    @click.command(name, help=doc)
    @click.argument("name", metavar=about)
    @paper_option
    @out_option
    @force_option
    @click.pass_context
    @json_option
    @careful
    def command(context: click.Context, name: str, paper: str, out: Path, force: bool, as_json: bool) -> None:
        from eke.actions import sheets

        _write(context, out, force, as_json, name, lambda room: getattr(sheets, action)(room, name, paper))

    return command


print_.add_command(
    _sheet(
        "cutting-list",
        "cutting_pages",
        "GARMENT",
        "The cutting list and notions, with boxes to tick.\n\nExample: eke print cutting-list Pinafore --out list.pdf",
    )
)
print_.add_command(
    _sheet(
        "order",
        "order_pages",
        "GARMENT",
        "The order of work with cautions, with boxes to tick.\n\nExample: eke print order Pinafore --out order.pdf",
    )
)
print_.add_command(
    _sheet(
        "ledger",
        "ledger_pages",
        "PROJECT",
        "What was bought, used and left.\n\nExample: eke print ledger Summer --out ledger.pdf",
    )
)


@print_.command("journal")
@click.argument("project")
@paper_option
@click.option(
    "--out", type=click.Path(path_type=Path), required=True, help="The file to write: .html or .pdf."
)
@force_option
@click.pass_context
@json_option
@careful
def journal(context: click.Context, project: str, paper: str, out: Path, force: bool, as_json: bool) -> None:
    """One page for the project: pictures, pieces, changes, cloth, cost.

    Example: eke print journal Summer --out journal.html
    """
    from eke.actions.sheets import journal_of, journal_pages

    if out.suffix.lower() in (".html", ".htm"):
        from eke.formats.html import journal_html

        refuse_taken(out, force=force)
        with room_of(context) as room:
            found, pictures = journal_of(room, project)
        write_out(out, journal_html(found, pictures=pictures).encode(), force=force)
        if as_json:
            write_json(Path("-"), {"format": "eke-done-1", "file": str(out), "pages": 1})
        else:
            click.echo(f"{out} is written.")
        return
    _write(context, out, force, as_json, project, lambda room: journal_pages(room, project, paper))


@print_.command("ruler-steps")
@click.argument("garment")
@click.argument("step")
@paper_option
@unit_option
@out_option
@force_option
@click.pass_context
@json_option
@careful
def ruler_steps(
    context: click.Context,
    garment: str,
    step: str,
    paper: str,
    unit: str,
    out: Path,
    force: bool,
    as_json: bool,
) -> None:
    """A fit change as steps with a ruler on the paper pattern. STEP is its id in eke history.

    Example: eke print ruler-steps Pinafore 3f9a… --out steps.pdf
    """
    from eke.actions.sheets import ruler_step_pages

    _write(
        context, out, force, as_json, garment, lambda room: ruler_step_pages(room, garment, step, paper, unit)
    )


@click.command("make-up")
@click.argument("garment")
@click.pass_context
@json_option
@careful
def make_up(context: click.Context, garment: str, as_json: bool) -> None:
    """Say the order of work, the notions and the cautions of a garment.

    Example: eke make-up Pinafore
    """
    from eke.actions.sheets import making_up

    with room_of(context) as room:
        made = making_up(room, garment)
    if as_json:
        document = {
            "format": "eke-making-up-1",
            "tasks": [{"id": t.id, "kind": t.kind, "sentence": t.sentence} for t in made.order.tasks],
            "notions": [asdict(n) for n in made.needs],
            "cautions": [asdict(c) for c in made.cautions],
        }
        write_json(Path("-"), document)
        return
    for caution in made.cautions:
        click.echo(f"! {caution.sentence} ({caution.source})")
    for need in made.needs:
        click.echo(f"- {need.sentence}")
    for number, task in enumerate(made.order.tasks, start=1):
        click.echo(f"{number:3}. {task.sentence}")


COMMANDS = (print_, make_up)
