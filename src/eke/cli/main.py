"""The command ``eke``: one command a thing that a maker does. Thin over :mod:`eke.actions`.

Heavy libraries are imported inside the commands that need them, so that ``eke --help`` answers at once.
"""

from __future__ import annotations

from pathlib import Path

import click

from eke import __version__
from eke.cli.opening import open_in_browser
from eke.cli.usage import PlainGroup


@click.group(
    cls=PlainGroup,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, "-V", "--version", message="eke %(version)s")
@click.option(
    "--workroom",
    type=click.Path(path_type=Path),
    envvar="EKE_WORKROOM",
    help="The workroom's folder. Default: EKE_WORKROOM, or the folder Eke in your documents or your home.",
)
@click.option(
    "--port",
    type=click.IntRange(1, 65535),
    help="Port of the app on this machine. Default: the usual one, or any that is free.",
)
@click.option("--no-open", is_flag=True, help="Print the app's address without opening the browser.")
@click.pass_context
def main(context: click.Context, workroom: Path | None, port: int | None, no_open: bool) -> None:
    """Remake a garment you own from cloth you have.

    From photographs of a tracing to a true pattern, a lay on odd-shaped cloth, pages to print, an order of
    work and the ledger. Without a command the workroom opens in the browser, and is made if it is not there.
    Each command says what it does with --help.
    """
    context.obj = workroom
    if context.invoked_subcommand is None:
        open_in_browser(workroom, port, open_browser=not no_open)
    elif port is not None or no_open:
        raise click.UsageError("--port and --no-open belong to opening the app, without a command.")


def _register() -> None:
    from eke.cli import cloths, comparing, cutting, laying, papers, patterns, rooms, tracing

    for module in (tracing, laying, rooms, cloths, patterns, comparing, cutting, papers):
        for command in module.COMMANDS:
            main.add_command(command)


_register()

if __name__ == "__main__":
    main(prog_name="eke")
