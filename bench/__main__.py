"""Run the benchmarks one after the other: ``python -m bench [NAME …]`` (lay, capture, pattern, fit; all by default).

Each is a program of its own with further options; this one calls them as a newcomer would.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
PROGRAMS: dict[str, list[list[str]]] = {
    "lay": [[str(HERE / "lay" / "run.py"), "--peers"]],
    "capture": [
        [str(HERE / "capture" / "photographs.py")],
        [str(HERE / "capture" / "scenes.py")],
        [str(HERE / "capture" / "cloths.py")],
    ],
    "pattern": [["-m", "bench.pattern"]],
    "fit": [[str(HERE / "fit" / "replay.py")]],
}


def main(names: list[str]) -> int:
    """Run what is named; return how many ended badly."""
    strange = [name for name in names if name not in PROGRAMS]
    if strange:
        print(f"There is no benchmark “{strange[0]}”; there are {', '.join(PROGRAMS)}.")
        return 2
    bad = 0
    for name in names or PROGRAMS:
        for words in PROGRAMS[name]:
            print(f"\n== {' '.join([name, *words[1:]])}", flush=True)
            bad += subprocess.run([sys.executable, *words], cwd=HERE.parent, check=False).returncode != 0
    return bad


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
