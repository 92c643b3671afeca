"""What was typed wrongly is said as one plain sentence, like every other error."""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Sequence
from typing import Any

import click

EXIT_BAD_INPUT = 2
EXIT_STOPPED = 130
LEAST_SECONDS = 0.01


class Seconds(click.FloatRange):
    """A time to look for, more than nothing; not-a-number is none."""

    def __init__(self) -> None:
        super().__init__(min=LEAST_SECONDS)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the number of seconds."""
        number = super().convert(value, param, ctx)
        if math.isnan(number):
            self.fail(f"'{value}' is not a number", param, ctx)
        return number


class PlainGroup(click.Group):
    """A group of commands that says a mistake in the typing in one sentence, with exit code 2.

    Click would print three lines: the usage, a hint and the mistake. One sentence with the command to ask is
    what all other errors look like, and what a program that reads standard error can rely on.
    """

    def main(  # type: ignore[override]
        self, args: Sequence[str] | None = None, prog_name: str | None = None, **extra: Any
    ) -> Any:
        """Run the command line; see :meth:`click.Command.main`."""
        if not extra.pop("standalone_mode", True):
            return super().main(args, prog_name, standalone_mode=False, **extra)
        try:
            result = super().main(args, prog_name, standalone_mode=False, **extra)
        except click.ClickException as mistake:
            # by its name, since Click before 8.2 has none and prints the help itself
            if type(mistake).__name__ == "NoArgsIsHelpError":
                click.echo(mistake.format_message())
                sys.exit(0)
            click.echo(plain_sentence(mistake), err=True)
            sys.exit(EXIT_BAD_INPUT)
        except click.Abort:
            click.echo("Stopped. Nothing was changed.", err=True)
            sys.exit(EXIT_STOPPED)
        sys.exit(result if isinstance(result, int) else 0)


def plain_sentence(mistake: click.ClickException) -> str:
    """Return what was mistyped, what there is instead, and where to read more."""
    context = getattr(mistake, "ctx", None)
    path = context.command_path if context is not None else "eke"
    return f"{' '.join(_said(mistake, path).split())} See {path} --help."


def _said(mistake: click.ClickException, path: str) -> str:
    if isinstance(mistake, click.NoSuchOption):
        return f"{path} has no option {mistake.option_name}.{_near(mistake)}"
    unknown = getattr(mistake, "command_name", None)
    if unknown is not None:
        return f"{path} has no command “{unknown}”.{_near(mistake)}"
    if isinstance(mistake, click.MissingParameter):
        return f"{path} needs {_name(mistake)}."
    if isinstance(mistake, click.BadParameter):
        found = re.match(r"'(.*?)' is not|(-?[\d.eE+]+) is not", mistake.message)
        given = f", not “{found[1] or found[2]}”" if found else ""
        wanted = _wanted(mistake.param.type if mistake.param is not None else None)
        if wanted:
            return f"{_name(mistake)} is {wanted}{given}."
        return f"{_name(mistake)} cannot be used as it was given: {mistake.message.strip().rstrip('.')}."
    text = mistake.format_message().strip()
    if text == "Missing command.":
        return f"{path} needs a command."
    if isinstance(mistake, click.BadOptionUsage):
        return f"{mistake.option_name} needs something behind it." if "requires" in text else text
    surplus = re.search(r"unexpected extra arguments? \((.*)\)", text)
    if surplus:
        return f"{path} has no use for “{surplus[1]}”."
    return text if text.endswith(".") else f"{text}."


def _wanted(kind: click.ParamType[Any] | None) -> str:
    """What a parameter takes, in words."""
    if isinstance(kind, click.Choice):
        return f"one of {', '.join(map(str, kind.choices))}"
    number = {"integer": "a whole number", "float": "a number"}.get(str(getattr(kind, "name", "")).split()[0])
    if number is None:
        return ""
    if isinstance(kind, click.IntRange | click.FloatRange):
        if kind.min is not None and kind.max is not None:
            return f"{number} from {kind.min} to {kind.max}"
        if kind.min is not None:
            return f"{number} of at least {kind.min}"
    return number


def _near(mistake: click.ClickException) -> str:
    near = getattr(mistake, "possibilities", None)
    return f" Did you mean {' or '.join(sorted(near))}?" if near else ""


def _name(mistake: click.BadParameter) -> str:
    parameter = mistake.param
    if parameter is None:
        return str(mistake.param_hint or "Something")
    if isinstance(parameter, click.Option):
        return max(parameter.opts, key=len)
    return parameter.human_readable_name
