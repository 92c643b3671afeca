"""Make the virtual environment that every command of the Makefile uses.

Run by ``make setup`` with any Python from 3.11 on: ``python3 tools/setup_env.py .venv``. Uses only the
standard library, so that a fresh machine needs nothing else.
"""

from __future__ import annotations

import os
import subprocess
import sys
import venv
from pathlib import Path


def main() -> int:
    """Create the environment named on the command line and install the project with its tools."""
    if sys.version_info < (3, 11):  # noqa: UP036 - make may be called with any Python
        print(
            f"Eke needs Python 3.11 or newer; this is {sys.version.split()[0]}. Call make with PYTHON=python3.12."
        )
        return 2
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else ".venv")
    scripts = folder / ("Scripts" if os.name == "nt" else "bin")
    python = scripts / ("python.exe" if os.name == "nt" else "python")
    if not python.exists():
        print(f"making the virtual environment {folder}")
        venv.EnvBuilder(with_pip=True).create(folder)
    pip = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    print("installing what Eke needs (a few minutes the first time)")
    subprocess.run([*pip, "--editable", ".[dev]"], check=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
