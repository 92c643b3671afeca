"""Print how often proposed seams are right: ``python -m bench.pattern [--seeds N] [--each]``.

Two halves are told apart: the garments by which the proposer was improved, and those that were held out. Of each, and of
both together, a table sets how sure proposals were beside how often they were right.
"""

from __future__ import annotations

import argparse
import time

from eke.pattern.proposals import propose_seams

from .garments import HELD_OUT, IMPROVED_BY, Draft
from .scoring import Score
from .tracing import told, traced


def measured(drafts: tuple[Draft, ...], seeds: range, *, each: bool = False) -> Score:
    """Return the score of some garments over some seeds."""
    score = Score()
    for draft in drafts:
        garment, own = draft(), Score()
        for seed in seeds:
            rough = traced(garment, seed)
            proposals = propose_seams(rough.pattern)
            score.add(proposals, rough)
            own.add(proposals, rough)
        if each:
            print(f"  {garment.name:<20} {_said(own)}")
    return score


def _said(score: Score) -> str:
    return (
        f"right {score.right} of {score.right + score.missing} seams ({score.share_right:.1%}), wrong {score.wrong} "
        f"({1 - score.share_of_proposals:.1%} of proposals), missing {score.missing}; whole map right "
        f"{score.whole} of {score.garments}; right way {score.right_way} of {score.asked_way}"
    )


def main() -> None:
    """Print both halves, each by what the maker told, and how good the confidence is."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=18)
    parser.add_argument("--each", action="store_true", help="garment by garment")
    parser.add_argument("--half", choices=("improved by", "held out"))
    options = parser.parse_args()
    every = Score()
    for name, drafts in (("improved by", IMPROVED_BY), ("held out", HELD_OUT)):
        if options.half not in (None, name):
            continue
        start = time.perf_counter()
        score = measured(drafts, range(options.seeds), each=options.each)
        took = (time.perf_counter() - start) / max(score.garments, 1)
        print(f"{name}: {len(drafts)} garments, {options.seeds} seeds each, {took * 1000:.0f} ms a garment")
        print(f"  {_said(score)}")
        for what in ("none", "some", "all"):
            some = [s for s in range(options.seeds) if told(s).names == what]
            part = Score()
            for seed in some:
                for draft in drafts:
                    rough = traced(draft(), seed)
                    part.add(propose_seams(rough.pattern), rough)
            print(
                f"  names {what:<5} right {part.share_right:.1%}, wrong {1 - part.share_of_proposals:.1%} of proposals"
            )
        _print_reliability(score)
        every.join(score)
    if options.half is None:
        print(f"all {every.garments} garments and seeds")
        _print_reliability(every)


def _print_reliability(score: Score) -> None:
    """Print what was said of proposals beside how often they were right; a good rule has the two alike in every row."""
    print(
        f"  confidence: off by {score.off:.3f} in the mean, Brier {score.brier:.3f}, log loss {score.log_loss:.3f}"
    )
    print("    said           proposals  said   right")
    for low, high, count, said, right in score.calibration():
        print(f"    {low:.2f} to {high:.2f}   {count:7d}    {said:.2f}   {right:.2f}")


if __name__ == "__main__":
    main()
