"""`eke` without a command: the workroom in the browser; and which workroom is meant when none is named."""

from __future__ import annotations

from pathlib import Path

import click

from eke.cli.frame import careful


def default_folder() -> Path:
    """Return the workroom that is meant when none is named.

    The folder Eke among the maker's documents; or the one in the home folder, where a workroom is there already.
    """
    import platformdirs

    home = Path.home() / "Eke"
    if (home / "workroom.db").is_file():
        return home
    return platformdirs.user_documents_path() / "Eke"


@careful
def open_in_browser(folder: Path | None, port: int | None, *, open_browser: bool) -> None:
    """Open a workroom in the browser, and serve it until Ctrl-C."""
    from eke.web.serve import open_workroom

    open_workroom(folder or default_folder(), open_browser=open_browser, port=port, say=click.echo)
