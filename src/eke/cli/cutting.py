"""``eke cut``: cutting list, lay on the project's cloths, what to give up when it is short, the cut itself."""

from __future__ import annotations

from pathlib import Path

import click

from eke.cli.frame import careful, end_progress, progress_line, stopping, write_json
from eke.cli.rooms import json_option, room_of, say_done
from eke.cli.usage import Seconds

ROLES = ["outer", "lining", "interlining", "interfacing", "mock-up"]
roles_option = click.option(
    "--role",
    "roles",
    multiple=True,
    type=click.Choice(ROLES),
    help="Only these roles; may be repeated. All but the mock-up by default.",
)


@click.group()
def cut() -> None:
    """From the cutting list to the cut cloth."""


@cut.command("list")
@click.argument("garment")
@roles_option
@click.pass_context
@json_option
@careful
def cut_list(context: click.Context, garment: str, roles: tuple[str, ...], as_json: bool) -> None:
    """List what is cut, how often, and from which role of cloth.

    Example: eke cut list Pinafore
    """
    from eke.actions.laying import cutting_of

    with room_of(context) as room:
        state, pieces = cutting_of(room, garment, list(roles) or None)  # type: ignore[arg-type]
    if as_json:
        rows = [
            {"id": p.id, "name": p.name, "role": p.role, "copies": p.copies, "mirrored": p.mirrored,
             "area_mm2": p.area_mm2, "outline": [list(q) for q in p.outline]}
            for p in pieces
        ]  # fmt: skip
        write_json(Path("-"), {"format": "eke-cutting-list-1", "garment": state.name, "pieces": rows})
        return
    for piece in pieces:
        click.echo(f"{piece.copies} × {piece.name}  ({piece.role}, {piece.area_mm2 / 100:.0f} cm²)")
    total = sum(p.area_mm2 * p.copies for p in pieces)
    click.echo(f"{total / 1e6:.2f} m² in all")


@cut.command("lay")
@click.argument("garment")
@roles_option
@click.option("--cloth", "cloths", multiple=True, help="Only these of the project's cloths; may be repeated.")
@click.option(
    "--seconds",
    type=Seconds(),
    default=10.0,
    show_default=True,
    help="How long to look, seconds.",
)
@click.option("--seed", type=int, default=0, show_default=True, help="Start of the random numbers.")
@click.option("--match-stripes", is_flag=True, help="Let stripes across the cloth meet at the balance lines.")
@click.pass_context
@json_option
@careful
def cut_lay(
    context: click.Context, garment: str, roles: tuple[str, ...], cloths: tuple[str, ...], seconds: float, seed: int,
    match_stripes: bool, as_json: bool,
) -> None:  # fmt: skip
    """Lay the cutting list on the cloths kept for the project; Ctrl-C stops with the best lay so far.

    Exit code 3 when not everything fits; the best lay is kept all the same.

    Example: eke cut lay Pinafore --role outer --cloth “Blue curtain” --seconds 20
    """
    from eke.actions.laying import lay_garment, ways_to_save
    from eke.cutting import plan_to_json

    wanted = list(roles) or None
    with room_of(context) as room:
        with stopping() as stop:
            plan = lay_garment(
                room, garment, roles=wanted, cloths=list(cloths) or None, seconds=seconds, seed=seed,  # type: ignore[arg-type]
                match_stripes=match_stripes, listener=progress_line, stop=stop,
            )  # fmt: skip
        end_progress()
        if as_json:
            write_json(Path("-"), plan_to_json(plan))
        else:
            click.echo(plan.sentence)
            if plan.proof:
                click.echo(plan.proof)
            if not plan.complete:
                click.echo("What could be given up, least harm first:")
                for way in ways_to_save(room, garment, wanted)[:6]:  # type: ignore[arg-type]
                    click.echo(f"  {way.sentence}")
    if not plan.complete:
        raise SystemExit(3)


@cut.command("confirm")
@click.argument("garment")
@roles_option
@click.pass_context
@json_option
@careful
def cut_confirm(context: click.Context, garment: str, roles: tuple[str, ...], as_json: bool) -> None:
    """Note that the kept lay has been cut: the cloths become offcuts and the ledger knows what was used.

    Example: eke cut confirm Pinafore --role outer
    """
    from eke.actions.laying import confirm_cut

    with room_of(context) as room:
        say_done(confirm_cut(room, garment, list(roles) or None), as_json)  # type: ignore[arg-type]


COMMANDS = (cut,)
