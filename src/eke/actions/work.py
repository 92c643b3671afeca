"""Long computations as jobs: plain values in, plain values out, no workroom.

Worker processes cannot open the workroom, which has one owner: whoever starts a job reads what it needs, and
keeps what comes of it, by :mod:`eke.actions.found` and :mod:`eke.actions.laying`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal

from eke.jobs import Report

TRACE_JOB = "eke.actions.work:trace_job"


def trace_job(
    report: Report,
    *,
    data: bytes,
    name: str,
    references: Sequence[Mapping[str, Any]],
    square_paper: bool,
    cloth: bool,
    touches: Sequence[Mapping[str, Any]],
) -> dict[str, Any]:
    """Trace one photograph and return the document ``eke-found-1``.

    Raises
    ------
    BadPicture, NotTrustworthy, BadInput
        When the picture gives no true scale or nothing to trace; the message says how to take it again.
    """
    from eke.actions.found import found_document
    from eke.actions.photographs import reference_list
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
        listener=tell,
        stop=report.stopped,
    )
    return found_document(found)
