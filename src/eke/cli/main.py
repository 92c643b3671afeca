"""The command ``eke``: one command a thing that a maker does. Thin over :mod:`eke.actions`.

Heavy libraries are imported inside the commands that need them, so that ``eke --help`` answers at once.
"""

from __future__ import annotations

from pathlib import Path

import click

from eke import __version__
from eke.cli.usage import PlainGroup


@click.group(
    cls=PlainGroup,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, "-V", "--version", message="eke %(version)s")
@click.option(
    "--workroom",
    type=click.Path(path_type=Path),
    envvar="EKE_WORKROOM",
    help="The workroom's folder. Default: EKE_WORKROOM, or the folder Eke in your home.",
)
@click.pass_context
def main(context: click.Context, workroom: Path | None) -> None:
    """Remake a garment you own from cloth you have.

    From photographs of a tracing to a true pattern, a lay on odd-shaped cloth, pages to print, an order of
    work and the ledger. Each command says what it does with --help.
    """
    context.obj = workroom


def _register() -> None:
    from eke.cli import cloths, cutting, laying, papers, patterns, rooms, tracing

    for module in (tracing, laying, rooms, cloths, patterns, cutting, papers):
        for command in module.COMMANDS:
            main.add_command(command)


_register()

if __name__ == "__main__":
    main(prog_name="eke")
