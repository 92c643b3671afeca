"""Find the Chromium that browser tests use; on a Debian machine, as root, install it where it is missing.

Run by ``make test``. Without a browser the browser tests are skipped, and counted.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from typing import Final

NAMES: Final = ("chromium", "chromium-browser", "google-chrome")


def browser() -> str | None:
    """Return the path of a Chromium on this machine, or none. ``EKE_CHROMIUM`` overrules."""
    named = os.environ.get("EKE_CHROMIUM")
    if named:
        return named
    return next((found for name in NAMES if (found := shutil.which(name))), None)


def main() -> int:
    """Install Chromium where that is possible; always exit code 0."""
    if browser() is not None:
        return 0
    if not hasattr(os, "geteuid") or os.geteuid() != 0 or shutil.which("apt-get") is None:
        print("No Chromium here: browser tests will be skipped. Install it, or set EKE_CHROMIUM to its path.")
        return 0
    print("installing Debian's Chromium for the browser tests")
    quiet = {"env": {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}, "stdout": subprocess.DEVNULL}
    for words in (["update", "-q"], ["install", "-q", "-y", "--no-install-recommends", "chromium"]):
        if subprocess.run(["apt-get", *words], check=False, **quiet).returncode != 0:  # type: ignore[call-overload]
            print(f"apt-get {words[0]} did not work: browser tests will be skipped.")
            return 0
    return 0


if __name__ == "__main__":
    sys.exit(main())
