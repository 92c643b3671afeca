"""A wearer's usual changes on the command line."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import click

from eke.cli.frame import careful, write_json
from eke.cli.rooms import json_option, room_of, say_done
from eke.errors import BadInput


@click.command("usual")
@click.argument("garment")
@click.option("--do", "chosen", type=click.IntRange(1), metavar="N", help="Make the change of that number.")
@click.option("--by", "amount_mm", type=float, metavar="MM", help="With --do: another amount than last time.")
@click.option("--not-here", type=click.IntRange(1), metavar="N", help="It is not for this garment.")
@click.pass_context
@json_option
@careful
def usual(
    context: click.Context,
    garment: str,
    chosen: int | None,
    amount_mm: float | None,
    not_here: int | None,
    as_json: bool,
) -> None:
    """List what was changed on earlier garments of the same wearer, and make what is usual.

    Example: eke fit usual Blouse --do 1
    """
    from eke.actions import usual as usuals

    if (chosen is not None and not_here is not None) or (amount_mm is not None and chosen is None):
        raise BadInput("Say one thing: --do N, with --by MM where it is another amount; or --not-here N.")
    with room_of(context) as room:
        told = usuals.usual(room, garment)
        number = chosen or not_here
        if number is not None:
            if number > len(told.offers):
                raise BadInput(
                    f"There is no usual change {number} here: {len(told.offers)} are listed. Nothing was changed."
                )
            key = told.offers[number - 1].key
            if chosen is not None:
                say_done(usuals.do_usual(room, garment, key, amount_mm=amount_mm), as_json)
            else:
                say_done(usuals.not_here(room, garment, key), as_json)
            return
    if as_json:
        write_json(Path("-"), {"format": "eke-usual-1", **asdict(told)})
        return
    if told.wearer is None:
        click.echo(f"Nobody is named. Say whom it is made for: eke garment say {garment} wearer=NAME")
        return
    if not told.offers:
        click.echo(f"Nothing more is usual for {told.wearer}, by {len(told.others)} other garment(s).")
    for count, offer in enumerate(told.offers, start=1):
        click.echo(f"{count:3} {offer.sentence}")
        if offer.why:
            click.echo(f"    {offer.why}")
    for gone in told.declined:
        click.echo(f"    Not for this garment: {gone.words}.")
