"""Compile the kernels once and keep them.

numba looks at the file of a kernel only, not at those of the kernels it calls, so a changed callee would
leave stale machine code behind, and it looks for them by the path of their file, so a second copy of the program
would not find them. The cache directory is therefore named by a hash over the sources of all kernels, where they
lie, the versions that matter, and the processor.
"""

from __future__ import annotations

import hashlib
import os
import platform
import sys
from pathlib import Path

_HOME_VARIABLE = "EKE_KERNEL_CACHE"
_BUSY_VARIABLE = "EKE_KERNELS_IN_THE_MAKING"
"""Process that is compiling: its own small lay must not start to compile again."""


def _sources() -> list[Path]:
    here = Path(__file__).parent
    return sorted([*(here / "collide").glob("*.py"), *(here / "search").glob("*.py")])


def kernel_key() -> str:
    """Return the name of the cache: a hash over all kernel sources, their place, versions and processor."""
    from importlib.metadata import version

    digest = hashlib.sha256()
    for path in _sources():
        digest.update(path.name.encode())
        digest.update(path.read_bytes().replace(b"\r\n", b"\n"))
    for word in (
        str(Path(__file__).resolve().parent),
        version("numba"),
        version("numpy"),
        sys.version.split()[0],
        platform.machine(),
        platform.system(),
    ):
        digest.update(word.encode())
    return digest.hexdigest()[:16]


def cache_dir() -> Path:
    """Return where compiled kernels are kept: ``EKE_KERNEL_CACHE`` or the user's cache folder."""
    home = os.environ.get(_HOME_VARIABLE)
    if home:
        return Path(home) / kernel_key()
    import platformdirs

    return Path(platformdirs.user_cache_path("eke", appauthor=False)) / "kernels" / kernel_key()


def use_cache() -> Path | None:
    """Point numba at the cache; return where it is, or ``None`` when the folder cannot be written.

    Must run before a kernel is first called; importing numba earlier does no harm.
    """
    folder = cache_dir()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    os.environ["NUMBA_CACHE_DIR"] = str(folder)
    if "numba" in sys.modules:
        from numba.core import config

        config.CACHE_DIR = str(folder)
    return folder


def is_warm() -> bool:
    """Return whether the kernels of these very sources are compiled already."""
    return (cache_dir() / "ready").exists()


def ensure() -> None:
    """Compile the kernels now if they are not ready, so that the time does not go off a search's allowance."""
    if os.environ.get(_BUSY_VARIABLE) != str(os.getpid()):
        prepare()


def prepare(*, force: bool = False) -> bool:
    """Compile all kernels into the cache by laying small problems; return whether there was work to do."""
    folder = use_cache()
    if folder is not None and not force and (folder / "ready").exists():
        return False
    import numpy as np

    from eke.lay.prepare import prepare as ground_of
    from eke.lay.problem import Part, Problem, Sheet, Strip
    from eke.lay.search.compact import Compactor
    from eke.lay.search.hand import Hand, Pace
    from eke.lay.solve import solve

    square = np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 40.0], [0.0, 40.0]])
    parts = [Part("a", square, 3, (0.0, 90.0)), Part("b", square * 0.7, 2, None)]
    cloth = np.array([[0.0, 0.0], [210.0, 0.0], [200.0, 120.0], [0.0, 110.0]])
    hole = np.array([[100.0, 50.0], [104.0, 50.0], [102.0, 54.0]])
    os.environ[_BUSY_VARIABLE] = str(os.getpid())
    try:
        solve(Problem(parts, (Sheet("s", cloth, (hole,)),), gap_parts_mm=1.0), passes=3, workers=1)
        strip = Problem(parts, strip=Strip(100.0))
        solve(strip, passes=3, workers=1)
        # what comes last in a search is reached by no small one
        Compactor(Hand(ground_of(strip), 0, 0, Pace(None, 1, lambda: False, 1), lambda _: None)).shorten()
    finally:
        del os.environ[_BUSY_VARIABLE]
    if folder is not None:
        (folder / "ready").write_text("all kernels are compiled\n", encoding="utf-8")
    return True
