"""Lay the shared cases, judge every answer with the shared ``check.py``, print a table, draw every lay.

usage: python bench/lay/run.py [--seconds S] [--seeds N,N] [--peers]
           [--odd | --first | --strips | --hides | --leftover | --many | --growth]

The shared folder is ``../shared`` beside the checkout or ``EKE_SHARED``. Pictures and answers go to
``bench/out/lay`` (ignored by git). Nothing here is asserted: numbers are for reading side by side.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import statistics
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))

import cases
import frame
import peers
import pictures

from eke.lay import Answer, Problem, Progress, answer_to_dict, faults, solve, warm

OUT = Path(__file__).resolve().parents[1] / "out" / "lay"
GROWING = (10, 20, 40, 80, 160, 320)
NEXT_STEP = {"shirt_remnant_L": (0.8, 0.85), "curtain_burn": (0.8, 0.85), "tablecloth_round": (0.7, 0.75),
             "remnants_three": (0.7, 0.75)}  # fmt: skip


def judge(case: Path, answer: dict[str, Any], name: str) -> dict[str, Any]:
    """Return what the shared checker says of an answer."""
    OUT.mkdir(parents=True, exist_ok=True)
    path = OUT / f"{name}.json"
    path.write_text(json.dumps(answer), encoding="utf-8")
    checker = cases.shared() / "check.py"
    run = subprocess.run(
        [sys.executable, checker, case, path, "--json"], capture_output=True, text=True, check=False
    )
    if not run.stdout:
        raise SystemExit(run.stderr)
    result: dict[str, Any] = json.loads(run.stdout)
    return result


def timed(problem: Problem, seconds: float, seed: int) -> tuple[Answer, float | None]:
    """Return the answer, and the seconds to the first complete lay."""
    first: list[float] = []

    def hear(news: Progress) -> None:
        if news.answer.complete and not first:
            first.append(news.seconds)

    answer = solve(problem, seconds=seconds, seed=seed, listener=hear)
    return answer, first[0] if first else (answer.seconds if answer.complete else None)


def draw(answer: Answer, name: str) -> None:
    """Write the picture of a lay."""
    OUT.mkdir(parents=True, exist_ok=True)
    (OUT / f"{name}.svg").write_text(pictures.picture(answer), encoding="utf-8")


def _said(result: dict[str, Any], first: float | None) -> str:
    if result["faults"]:
        return f"FAULTS {result['faults'][:2]}"
    if result["complete"]:
        return f"{first:.2f} s" if first is not None else "at the end"
    return f"{result['placed']}/{result['pieces']} {100 * result['area_share']:.1f} %"


def odd(seconds: float, seeds: list[int], with_peers: bool) -> None:
    print(f"\nOdd cloths, {seconds:g} s: seconds to the first complete lay, or pieces on and share of area")
    for name in cases.ODD:
        for fill in (0.6, *NEXT_STEP[name]):
            row, other_row = [], []
            for seed in seeds:
                _, problem = cases.load(name, fill)
                answer, first = timed(problem, seconds, seed)
                result = judge(cases.case_path(name), answer_to_dict(answer), f"{name}_{fill}_{seed}")
                draw(answer, f"{name}_{fill}_{seed}")
                row.append(_said(result, first))
                other = frame.spyrrow_sheets(problem, seconds, seed, 2) if with_peers else None
                if other is not None:
                    seen = judge(cases.case_path(name), other[0], f"{name}_{fill}_{seed}_spyrrow")
                    other_row.append(_said(seen, other[1]))
            print(f"  {name:18} {fill:.2f}  {'   '.join(row)}", flush=True)
            if other_row:
                print(f"  {'':14} spyrrow    {'   '.join(other_row)}", flush=True)


def first_lay(seconds: float, seeds: list[int]) -> None:
    print(
        "\nFirst complete lay at 60 %: in a warm process; then the whole command, from its start to its first lay"
    )
    for name in cases.ODD:
        row = []
        for seed in seeds:
            _, problem = cases.load(name, 0.6)
            _, warm_s = timed(problem, seconds, seed)
            row.append(f"{warm_s:.2f} s / {_by_command(name, problem, seconds, seed):.2f} s")
        print(f"  {name:18} {'   '.join(row)}", flush=True)


def _by_command(name: str, problem: Problem, seconds: float, seed: int) -> float:
    """Return the seconds from starting ``eke lay`` to its word that all pieces are on; the word goes to terminals."""
    import pty

    words = ["-m", "eke.cli.main", "lay", str(cases.case_path(name)), "--fill", f"{problem.fill}"]
    wanted = f": {sum(p.count for p in problem.parts)} on,"
    seen = ""
    shown, terminal = pty.openpty()
    began = time.perf_counter()
    with subprocess.Popen(
        [sys.executable, *words, "--seconds", f"{seconds:g}", "--seed", str(seed)],
        stdout=subprocess.DEVNULL, stderr=terminal,
    ) as run:  # fmt: skip
        os.close(terminal)
        while wanted not in seen and run.poll() is None:
            seen += os.read(shown, 4096).decode("utf-8", "replace")
        took = time.perf_counter() - began
        run.send_signal(signal.SIGINT)
    os.close(shown)
    return took if wanted in seen else float("nan")


def strips(seconds: float, seeds: list[int], with_peers: bool) -> None:
    print(f"\nStrips, {seconds:g} s: density in %, median of seeds {seeds}; difference in points")
    gaps = []
    for name in cases.STRIPS:
        mine, theirs = [], []
        raw, problem = cases.load(name)
        for seed in seeds:
            answer = solve(problem, seconds=seconds, seed=seed)
            result = judge(cases.case_path(name), answer_to_dict(answer), f"{name}_{seed}")
            draw(answer, f"{name}_{seed}")
            mine.append(100 * result["density"] if result["complete"] else 0.0)
            if with_peers:
                other = peers.spyrrow_strip(raw, seconds, seed, 2)
                if other is not None:
                    seen = judge(cases.case_path(name), other, f"{name}_{seed}_spyrrow")
                    theirs.append(100 * seen["density"] if seen["complete"] else 0.0)
        best = 100 * raw["best_known"]["density"]
        line = f"  {name:10} {statistics.median(mine):6.2f}  ratio to record {statistics.median(mine) / best:.4f}"
        if theirs:
            gap = statistics.median(mine) - statistics.median(theirs)
            gaps.append(gap)
            line += f"  spyrrow {statistics.median(theirs):6.2f}  {gap:+.2f}"
        print(line, flush=True)
    if gaps:
        print(f"  median difference {statistics.median(gaps):+.2f}, worst {min(gaps):+.2f}")


def hides(seconds: float, seeds: list[int]) -> None:
    print(f"\nTwelve hides with zones and holes, {seconds:g} s")
    _, problem = cases.load("baldacci1")
    for seed in seeds:
        answer, first = timed(problem, seconds, seed)
        result = judge(cases.case_path("baldacci1"), answer_to_dict(answer), f"baldacci1_{seed}")
        draw(answer, f"baldacci1_{seed}")
        said = f"first complete {first:.2f} s" if first is not None else "not complete"
        print(
            f"  {result['placed']}/{result['pieces']} on {result['cloths_used']} hides, {said}, faults {result['faults']}"
        )


def leftover(seconds: float, seeds: list[int]) -> None:
    print(
        "\nMost useful rectangle left at 60 %, in cm² and as a share of all that is left: without, and with the search"
    )
    for name in cases.ODD:
        row = []
        for seed in seeds:
            _, problem = cases.load(name, 0.6)
            for wish in (0.0, seconds):
                answer = solve(problem, seconds=2 * seconds, seed=seed, leftover=wish)
                assert not faults(problem, answer.placements)
                left = [one for one in answer.leftovers if one.sheet in answer.sheets_used]
                best = max((one.worth_mm2 for one in left), default=0.0)
                row.append(
                    f"{best / 100:5.0f} ({100 * best / max(1.0, sum(o.rest_mm2 for o in left)):2.0f} %)"
                )
            draw(answer, f"{name}_leftover_{seed}")
        print(f"  {name:18} {'   '.join(row)}", flush=True)


def many(seconds: float, seeds: list[int]) -> None:
    print(f"\n60 pieces on 4 cloths at 65 %, {seconds:g} s")
    for seed in seeds:
        problem = cases.many(60, 4, 0.65, seed)
        answer, first = timed(problem, seconds, seed)
        assert not faults(problem, answer.placements)
        draw(answer, f"many_{seed}")
        print(
            f"  seed {seed}: "
            + (f"complete at {first:.2f} s" if first else f"{100 * answer.area_share:.1f} % of the area")
        )


def growth(seconds: float, seeds: list[int]) -> None:
    print("\nGrowth: one lay at 65 % on two cloths; seconds to complete and positions tried")
    points: list[tuple[int, list[float]]] = []
    for n in GROWING:
        row = []
        points.append((n, []))
        for seed in seeds:
            began = time.perf_counter()
            problem = cases.many(n, 2, 0.65, seed)
            answer, first = timed(problem, seconds, seed)
            points[-1][1].extend([] if first is None else [first])
            row.append(
                f"{first:.2f} s ({answer.tried})" if first else f"— after {time.perf_counter() - began:.0f} s"
            )
        print(f"  {n:4} pieces  {'   '.join(row)}", flush=True)
    path = OUT / "growth.svg"
    path.write_text(pictures.growth(points), encoding="utf-8")
    print(f"  drawn in {path.name}")


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    ask.add_argument("--seconds", type=float, default=10.0)
    ask.add_argument("--seeds", default="1,2,3")
    ask.add_argument("--peers", action="store_true", help="measure spyrrow in the same run")
    for what in ("odd", "first", "strips", "hides", "leftover", "many", "growth"):
        ask.add_argument(f"--{what}", action="store_true")
    a = ask.parse_args()
    seeds = [int(s) for s in a.seeds.split(",")]
    everything = not any((a.odd, a.first, a.strips, a.hides, a.leftover, a.many, a.growth))
    warm.prepare()
    if a.odd or everything:
        odd(a.seconds, seeds, a.peers)
    if a.first or everything:
        first_lay(a.seconds, seeds)
    if a.strips or everything:
        strips(a.seconds, seeds, a.peers)
    if a.hides or everything:
        hides(a.seconds, seeds)
    if a.leftover or everything:
        leftover(a.seconds, seeds)
    if a.many or everything:
        many(a.seconds, seeds)
    if a.growth or everything:
        growth(a.seconds, seeds)


if __name__ == "__main__":
    main()
