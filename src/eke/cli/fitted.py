"""A traced mock-up piece carried to its pattern piece, on the command line."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from eke.cli.frame import careful, write_json
from eke.cli.rooms import json_option, room_of, say_done
from eke.errors import BadInput

if TYPE_CHECKING:
    from eke.actions.fitted import Offered, Sides


@click.command("traced")
@click.argument("garment")
@click.argument("piece")
@click.argument("traced")
@click.option(
    "--carry", "this", multiple=True, metavar="EDGE", help="Carry this edge over, on this piece only; repeat."
)
@click.option(
    "--carry-both",
    "both",
    multiple=True,
    metavar="EDGE",
    help="The same, and the piece sewn there by as much.",
)
@click.option("--mock-up", type=click.IntRange(1), help="Number of the mock-up; the newest without it.")
@click.pass_context
@json_option
@careful
def traced(
    context: click.Context, garment: str, piece: str, traced: str, this: tuple[str, ...], both: tuple[str, ...],
    mock_up: int | None, as_json: bool,
) -> None:  # fmt: skip
    """Lay a fitted mock-up piece on the pattern PIECE that it was cut from, and carry over what was moved.

    Mark the new seam lines on the mock-up, unpick it, photograph the piece and take it in with eke piece take: that is
    TRACED. It is laid on the piece without scaling; each edge is told with how far it lies off, and with the change
    that would carry it over. Nothing is changed without --carry. Then the traced piece is taken out again, and the
    mock-up keeps its photograph and the changes. An edge is named as it is listed.

    Example: eke fit traced Pinafore “side front” “fitted side front” --carry side
    """
    from eke.actions.fitted import carry_fitted, offer_fitted

    with room_of(context) as room:
        found = offer_fitted(room, garment, piece, traced)
        if not this and not both:
            _say(found, as_json)
            return
        twice = set(this) & set(both)
        if twice:
            raise BadInput(f"“{min(twice)}” is given with --carry and with --carry-both. Say one of them.")
        chosen: dict[str, Sides] = {_edge(found, name): "this" for name in this}
        chosen |= {_edge(found, name): "both" for name in both}
        made = carry_fitted(room, garment, found.piece.id, found.traced.id, chosen, mock_up=mock_up)
    if as_json:
        steps = [asdict(one) for one in (*made.changes, made.last)]
        write_json(Path("-"), {"format": "eke-carried-1", "steps": steps})
        return
    for one in (*made.changes, made.last):
        say_done(one, as_json)


def _edge(found: Offered, name: str) -> str:
    ids = [e.edge for e in found.fitted.edges if name.casefold() in (e.edge.casefold(), e.name.casefold())]
    if len(ids) == 1:
        return ids[0]
    names = ", ".join(f"“{e.name}”" for e in found.fitted.edges)
    raise BadInput(f"There is no single edge “{name[:80]}” on “{found.piece.name}”. There are: {names}.")


def _say(found: Offered, as_json: bool) -> None:
    fitted = found.fitted
    if as_json:
        edges = [
            {**asdict(e), "mean_mm": e.mean_mm, "most_mm": e.most_mm, "most_at_mm": e.most_at_mm}
            for e in fitted.edges
        ]
        write_json(
            Path("-"),
            {"format": "eke-fitted-1", "piece": found.piece.id, "traced": found.traced.id,
             "turned_over": fitted.turned_over, "uncertainty_mm": fitted.uncertainty_mm, "agreeing": fitted.agreeing,
             "warnings": list(found.warnings), "edges": edges, "changes": [asdict(c) for c in found.carries]},
        )  # fmt: skip
        return
    for warning in found.warnings:
        click.echo(f"  note: {warning}", err=True)
    click.echo(
        f"“{found.traced.name}” laid on “{found.piece.name}”; its outline is worth {fitted.uncertainty_mm:.1f} mm."
    )
    carries = {c.edge: c for c in found.carries}
    for edge in fitted.edges:
        if not edge.beyond:
            click.echo(f"  {edge.name}: as it was, within what the tracing is worth")
            continue
        way = "outside" if edge.most_mm > 0.0 else "inside"
        click.echo(
            f"  {edge.name}: up to {abs(edge.most_mm):.1f} mm {way}, {edge.most_at_mm:.0f} mm along; "
            f"{abs(edge.mean_mm):.1f} mm {'outside' if edge.mean_mm > 0.0 else 'inside'} on the whole"
        )
        carry = carries.get(edge.edge)
        if carry is None:
            continue
        if carry.kind is None:
            click.echo(f"      {carry.why}")
        else:
            click.echo(f"      --carry “{edge.name}” leaves {carry.left_mm:.1f} mm of it")
