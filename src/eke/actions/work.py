"""Long computations as jobs: plain values in, plain values out, no workroom.

Worker processes cannot open the workroom, which has one owner: whoever starts a job reads what it needs, and
keeps what comes of it, by :mod:`eke.actions.found` and :mod:`eke.actions.laying`.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final, Literal

from eke.jobs import Report

if TYPE_CHECKING:  # a worker that traces needs no packing, and the other way round
    from eke.cloth import Cloth
    from eke.cutting import CutPiece, Laid

TRACE_JOB: Final = "eke.actions.work:trace_job"
LAY_JOB: Final = "eke.actions.work:lay_job"
TELL_EVERY_S: Final = 0.25
"""How often a lay says how far it is."""


def trace_job(
    report: Report,
    *,
    data: bytes,
    name: str,
    references: Sequence[Mapping[str, Any]],
    square_paper: bool,
    cloth: bool,
    touches: Sequence[Mapping[str, Any]],
    strokes: Sequence[Mapping[str, Any]] = (),
) -> dict[str, Any]:
    """Trace one photograph and return the document ``eke-found-1``.

    Raises
    ------
    BadPicture, NotTrustworthy, BadInput
        When the picture gives no true scale or nothing to trace; the message says how to take it again.
    """
    from eke.actions.found import found_document
    from eke.actions.photographs import reference_list
    from eke.capture.by_hand import stroke_of
    from eke.capture.trace import Touch, trace
    from eke.formats.images import photo_from_bytes

    def tell(sentence: str, share: float) -> None:
        report.progress(share, sentence[:1].upper() + sentence[1:])

    tell("reading the photograph", 0.0)
    picked: list[Touch] = []
    for one in touches:
        side: Literal["+", "-"] = "-" if one.get("side") == "-" else "+"
        picked.append((float(one["x_px"]), float(one["y_px"]), side))
    found = trace(
        photo_from_bytes(data, name=f"“{name}”"),
        references=reference_list(references),
        square_paper=square_paper,
        cloth=cloth,
        touches=picked,
        strokes=[stroke_of(s["how"], s["points_px"]) for s in strokes],
        listener=tell,
        stop=report.stopped,
    )
    return found_document(found)


def lay_job(
    report: Report,
    *,
    garment: str,
    name: str,
    revision: str,
    roles: Sequence[str],
    stints: Sequence[str],
    pieces: Sequence[CutPiece],
    cloths: Sequence[Cloth],
    locked: Sequence[Laid],
    start: Sequence[Laid],
    seconds: float | None,
    seed: int,
    passes: int | None = None,
    match_stripes: bool = False,
    tidy: bool = False,
) -> dict[str, Any]:
    """Lay pieces on cloths and return the plan as JSON; every better one is handed out as it is found.

    Made by :func:`eke.actions.lays.prepare_lay`. A lay that was stopped returns its best so far. ``locked``
    pieces stay where they lie, ``start`` is where the others lie at first. ``tidy``: all of them lie well there, and
    what is looked for is more useful leftover cloth.

    Raises
    ------
    BadInput
        When there is nothing to lay or nothing to lay it on.
    """
    from eke.actions.lays import numbered
    from eke.cutting import Gaps, from_answer, plan_to_json, to_placements, to_problem
    from eke.lay import Answer, Progress, solve

    gaps = Gaps()
    problem = to_problem(pieces, cloths, gaps=gaps, name=name, match_stripes=match_stripes)
    fixed = to_placements(locked, pieces, cloths, problem)
    problem = replace(problem, locked=fixed)
    first = (*fixed, *to_placements(start, pieces, cloths, problem)) if start else None
    began, told = (
        time.monotonic(),
        [0.0, 0.0],
    )  # when the last word was said, and the share of area that was on

    def plan_json(answer: Answer) -> dict[str, Any]:
        plan = from_answer(
            answer, pieces, cloths, garment=garment, revision=revision, gaps=gaps, match_stripes=match_stripes
        )
        laid = numbered(plan.laid, locked, start)
        return plan_to_json(replace(plan, laid=laid, roles=tuple(roles), stints=tuple(stints)))

    def better(progress: Progress) -> None:
        told[1] = progress.answer.area_share
        report.improved(plan_json(progress.answer))

    def stop() -> bool:
        now = time.monotonic()
        if now - told[0] >= TELL_EVERY_S:
            told[0] = now
            share = None if seconds is None else min(1.0, (now - began) / seconds)
            on = (
                f"{100 * told[1]:.0f} % of the pieces' area lies on cloth" if told[1] else "Laying the pieces"
            )
            report.progress(share, on)
        return report.stopped()

    answer = solve(
        problem, seconds=seconds, passes=passes, seed=seed, listener=better, stop=stop, start=first,
        leftover=(passes or seconds) if tidy else None,
    )  # fmt: skip
    return plan_json(answer)
