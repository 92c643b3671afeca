"""``eke lay``: does it all fit?"""

from __future__ import annotations

from pathlib import Path

import click

from eke.cli.frame import (
    careful,
    end_progress,
    progress_line,
    read_json,
    refuse_taken,
    stopping,
    write_json,
    write_out,
)
from eke.cli.usage import Seconds
from eke.errors import BadInput

DEFAULT_SECONDS = 10.0


@click.command()
@click.argument("problem", metavar="PROBLEM.json", type=click.Path(path_type=Path))
@click.option(
    "--fill", type=float, help="Which version of the case: piece area as a share of cloth area, 0 to 1."
)
@click.option(
    "--seconds",
    type=Seconds(),
    help=f"How long to look for a lay, seconds. Default {DEFAULT_SECONDS:g}.",
)
@click.option(
    "--passes", type=click.IntRange(min=1), help="Stop after so many passes instead: same seed, same lay."
)
@click.option("--seed", type=int, default=0, show_default=True, help="Start of the random numbers.")
@click.option("--json", "out", type=click.Path(path_type=Path), help="Write the answer (nesting-answer-1).")
@click.option(
    "--plan", type=click.Path(path_type=Path), help="Draw the lay: a name ending in .svg, .pdf or .png."
)
@click.option(
    "--force", is_flag=True, help="Replace files that are there; an older answer is replaced anyway."
)
@careful
def lay(
    problem: Path,
    fill: float | None,
    seconds: float | None,
    passes: int | None,
    seed: int,
    out: Path | None,
    plan: Path | None,
    force: bool,
) -> None:
    """Lay the pieces of a packing problem on its cloths.

    Reads nesting-case-1 and Eke's own fuller eke-lay-1. When not everything fits, the exit code is 3 and the
    answer holds the best partial lay. Ctrl-C stops with the best lay so far.

    Example: eke lay remnants.json --fill 0.7 --seconds 10 --json answer.json --plan lay.svg
    """
    if seconds is not None and passes is not None:
        raise BadInput("Give --seconds or --passes, not both.")
    from eke.actions.drawing import draw_answer
    from eke.actions.laying import lay_problem
    from eke.formats.registry import format_for

    document = read_json(problem)
    if out is not None:
        refuse_taken(out, force=force, answer="nesting-answer-1")
    if plan is not None:
        refuse_taken(plan, force=force)
        format_for(plan.name)
    with stopping() as stop:
        result = lay_problem(
            document,
            fill=fill,
            seconds=seconds if seconds is not None or passes is not None else DEFAULT_SECONDS,
            passes=passes,
            seed=seed,
            listener=progress_line,
            stop=stop,
        )
    end_progress()
    if out is not None:
        write_json(out, result.document, force=force)
    if plan is not None:
        write_out(plan, draw_answer(result, plan.suffix), force=force)
    if out is None or str(out) != "-":
        click.echo(result.report)
    if not result.complete:
        raise SystemExit(3)


COMMANDS = (lay,)
