"""A process that starts a job and then waits to be killed. Arguments: where the job writes its process id, how."""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from eke.jobs import Runner


def main() -> None:
    runner = Runner(1)
    runner.start(f"jobs.work:{sys.argv[2]}", {"flag": sys.argv[1]})
    runner.warm_up()
    print("started", flush=True)
    time.sleep(120)


if __name__ == "__main__":
    main()
