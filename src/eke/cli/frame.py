"""What all commands share: where output goes, how errors are said, and exit codes.

Exit codes: 0 done; 2 something given cannot be used; 3 an honest no; 130 stopped by the maker; 1 a fault of
ours, which is logged and never shown as a traceback.
"""

from __future__ import annotations

import json
import logging
import os
import signal
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import Any, Final, TypeVar

import click

from eke.errors import BadInput, EkeError, Stopped, StoreTrouble

EXIT_OURS: Final = 1
EXIT_STOPPED: Final = 130


def log_file() -> Path:
    """Return where the local log is kept; it never leaves the machine by itself."""
    from platformdirs import user_log_path

    return user_log_path("eke", appauthor=False) / "eke.log"


def begin_log() -> None:
    """Write warnings and faults to the local log; a machine where that cannot be done goes without."""
    from logging.handlers import RotatingFileHandler

    logger = logging.getLogger("eke")
    if logger.handlers:
        return
    logger.propagate = False
    try:
        log_file().parent.mkdir(parents=True, exist_ok=True)
        handler: logging.Handler = RotatingFileHandler(
            log_file(), maxBytes=500_000, backupCount=1, encoding="utf-8", delay=True
        )
    except OSError:
        handler = logging.NullHandler()
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s %(message)s"))
    logger.addHandler(handler)


F = TypeVar("F", bound=Callable[..., Any])


def careful(command: F) -> F:
    """Say every error as one sentence on stderr and leave with its exit code."""

    @wraps(command)
    def wrapped(*args: Any, **kwargs: Any) -> Any:
        begin_log()
        try:
            return command(*args, **kwargs)
        except Stopped as stopped:
            click.echo(str(stopped) or "Stopped. Nothing was changed.", err=True)
            sys.exit(EXIT_STOPPED)
        except KeyboardInterrupt:
            click.echo("Stopped. Nothing was changed.", err=True)
            sys.exit(EXIT_STOPPED)
        except EkeError as error:
            click.echo(" ".join(error.message.split()), err=True)
            sys.exit(error.exit_code)
        except MemoryError:
            click.echo("This needs more memory than the machine has free. Nothing was changed.", err=True)
            sys.exit(2)
        except (click.exceptions.Exit, click.ClickException, click.Abort):
            raise
        except BrokenPipeError:
            sys.exit(0)
        except Exception as fault:
            logging.getLogger("eke").exception("a fault of ours")
            click.echo(
                f"Something inside Eke went wrong ({type(fault).__name__}: {fault}). Nothing was saved by this step, "
                "and what was saved before is safe. `eke report` bundles the log for a bug report.",
                err=True,
            )
            sys.exit(EXIT_OURS)

    return wrapped  # type: ignore[return-value]


def refuse_taken(path: Path, *, force: bool, answer: str | None = None) -> None:
    """Refuse a place that cannot be written or is taken; to be asked before anything is worked out.

    Only ``force`` replaces a file. The one exception: a machine answer gives way to a newer answer of the same
    format, ``answer``, since the program that asks can ask again.

    Raises
    ------
    BadInput
        When the file is there already, or its folder is not.
    """
    if str(path) == "-":
        return
    if not path.parent.is_dir():
        raise BadInput(f"There is no folder {path.parent}. Make it first, or give another place.")
    if path.is_dir():
        raise BadInput(f"{path} is a folder. Give the name of a file in it.")
    if force or not path.exists() or (answer is not None and _holds(path, answer)):
        return
    raise BadInput(
        f"{path} is there already, and was left as it is. Give another name, or --force to replace it."
    )


def _holds(path: Path, answer: str) -> bool:
    """Whether a file is a JSON document of that format."""
    try:
        document = read_json(path)
    except BadInput:
        return False
    return isinstance(document, dict) and document.get("format") == answer


def write_out(path: Path, data: bytes, *, force: bool = False, answer: str | None = None) -> Path:
    """Write ``data`` to ``path`` at once or not at all; see :func:`refuse_taken` for what is replaced.

    Raises
    ------
    BadInput
        When the place is taken and ``force`` is not given, or its folder is not there.
    StoreTrouble
        When the disk does not take it.
    """
    refuse_taken(path, force=force, answer=answer)
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            Path(name).chmod(0o644)
            os.replace(name, path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as trouble:
        raise StoreTrouble(
            f"{path} could not be written: {trouble.strerror}. Nothing there was changed."
        ) from trouble
    return path


def write_json(path: Path, document: dict[str, Any], *, force: bool = False) -> Path:
    """Write a JSON document that carries its ``format``; ``-`` writes to standard output."""
    if "format" not in document:
        raise ValueError("a JSON document that leaves the program carries its format")
    text = json.dumps(document, ensure_ascii=False, allow_nan=False) + "\n"
    if str(path) == "-":
        click.echo(text, nl=False)
        return path
    return write_out(path, text.encode(), force=force, answer=document["format"])


def read_json(path: Path) -> Any:
    """Read a JSON file that the maker named.

    Raises
    ------
    BadInput
        When it cannot be read or is no JSON.
    """
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except OSError as trouble:
        raise BadInput(f"{path} cannot be read: {trouble.strerror}.") from trouble
    except UnicodeDecodeError as trouble:
        raise BadInput(f"{path} is not a text file.") from trouble
    except (json.JSONDecodeError, RecursionError) as trouble:
        where = f" (line {trouble.lineno})" if isinstance(trouble, json.JSONDecodeError) else ""
        raise BadInput(f"{path} is not JSON{where}.") from trouble


def progress_line(sentence: str) -> None:
    """Show a line of progress where somebody looks; be silent in a pipe."""
    if sys.stderr.isatty():
        click.echo(f"\r\x1b[2K{sentence}", nl=False, err=True)


def end_progress() -> None:
    """Clear the line of progress."""
    if sys.stderr.isatty():
        click.echo("\r\x1b[2K", nl=False, err=True)


@contextmanager
def stopping() -> Iterator[Callable[[], bool]]:
    """Let Ctrl-C end a search early with the best lay so far, instead of losing it; a second one ends all."""
    asked = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield asked.is_set
        return
    before = signal.getsignal(signal.SIGINT)

    def stop(*_: object) -> None:
        asked.set()
        signal.signal(signal.SIGINT, before)

    signal.signal(signal.SIGINT, stop)
    try:
        yield asked.is_set
    finally:
        signal.signal(signal.SIGINT, before)
