"""From photographs to outlines in millimetres, without a workroom: what ``eke trace`` does."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from eke.errors import BadInput
from eke.formats.images import read_photo

if TYPE_CHECKING:
    from eke.capture.by_hand import Stroke
    from eke.capture.references import Reference
    from eke.capture.trace import Trace

Listener = Callable[[str, float], None]
Touch = tuple[float, float, Literal["+", "-"]]


def trace_photographs(
    photos: Sequence[Path],
    *,
    references: Sequence[Reference],
    square_paper: bool = False,
    cloth: bool = False,
    touches: Sequence[Touch] = (),
    strokes: Sequence[Stroke] = (),
    listener: Listener | None = None,
    stop: Callable[[], bool] | None = None,
) -> tuple[dict[str, Any], str]:
    """Trace one or more photographs; return the document ``eke-trace-1`` and a report in words.

    Pieces of several photographs are listed one after the other; :func:`trace_one_paper` joins what they show.

    Raises
    ------
    BadPicture
        When a file is no picture that can be read.
    NotTrustworthy
        When a picture's scale cannot be promised; the message says how to take it again.
    """
    traces = [
        trace_photo(
            path,
            references=references,
            square_paper=square_paper,
            cloth=cloth,
            touches=touches,
            strokes=strokes,
            listener=listener,
            stop=stop,
        )
        for path in photos
    ]
    from eke.capture.trace import trace_json

    documents = [trace_json(found) for found in traces]
    return _together(documents), "\n\n".join(
        _report(path.name, document) for path, document in zip(photos, documents, strict=True)
    )


def trace_photo(
    path: Path,
    *,
    references: Sequence[Reference],
    square_paper: bool = False,
    cloth: bool = False,
    touches: Sequence[Touch] = (),
    strokes: Sequence[Stroke] = (),
    listener: Listener | None = None,
    stop: Callable[[], bool] | None = None,
) -> Trace:
    """Trace one photograph; see :func:`trace_photographs`."""
    if listener:
        listener(f"reading {path.name}", 0.0)
    with ThreadPoolExecutor(1) as crew:
        reading = crew.submit(read_photo, path)
        # libraries of half a second, loaded while the file is read
        from eke.capture.trace import trace

        import_module("eke.capture.cloth_edge" if cloth else "eke.capture.outline")
        photo = reading.result()
    return trace(
        photo,
        references=tuple(references),
        square_paper=square_paper,
        cloth=cloth,
        touches=tuple(touches),
        strokes=tuple(strokes),
        listener=listener,
        stop=stop,
    )


def trace_one_paper(
    photos: Sequence[Path],
    *,
    references: Sequence[Reference],
    square_paper: bool = False,
    cloth: bool = False,
    touches: Sequence[tuple[int, Touch]] = (),
    listener: Listener | None = None,
    stop: Callable[[], bool] | None = None,
) -> tuple[dict[str, Any], str]:
    """Trace what several photographs of one paper (or cloth) show together; as :func:`trace_photographs`.

    Parameters
    ----------
    references
        What lies beside the part that each photograph shows; the same is said of all.
    touches
        Each with the number of its photograph, counted from 1.

    Raises
    ------
    BadInput
        Too few or too many photographs, or places said of all pictures that can only be those of one.
    BadPicture, NotTrustworthy
        As for one photograph, and when they cannot be joined.
    """
    from eke.capture.join import MOST_PHOTOS, trace_joined
    from eke.capture.trace import trace_json

    if not 2 <= len(photos) <= MOST_PHOTOS:
        raise BadInput(f"One paper is joined of 2 to {MOST_PHOTOS} photographs, not of {len(photos)}.")
    for one in references:
        if one.corners_px is not None or one.from_px is not None:
            raise BadInput(
                "Corners and points are places in one picture, and several are to be joined. Name what lies there without "
                "them, or trace each picture by itself."
            )
    for number, _ in touches:
        if not 1 <= number <= len(photos):
            raise BadInput(f"There is no picture {number} to touch; the last is picture {len(photos)}.")
    pictures = []
    for path in photos:
        if listener:
            listener(f"reading {path.name}", 0.0)
        pictures.append(read_photo(path))
    found = trace_joined(
        pictures,
        references=[tuple(references)] * len(pictures),
        square_paper=square_paper,
        cloth=cloth,
        touches=[[touch for number, touch in touches if number == k + 1] for k in range(len(pictures))],
        listener=listener,
        stop=stop,
    )
    document = trace_json(found)
    return document, _report(f"{len(photos)} photographs joined", document)


def _together(documents: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """One document for all photographs: the scale is that of the least certain one."""
    if len(documents) == 1:
        return documents[0]
    worst = max(documents, key=lambda d: d["scale"]["uncertainty_percent"])
    pieces = [piece for document in documents for piece in document["pieces"]]
    for number, piece in enumerate(pieces, start=1):
        piece["name"] = str(number)
    return {
        **worst,
        "pieces": pieces,
        "cloths": [c for document in documents for c in document["cloths"]],
        "warnings": [w for document in documents for w in document["warnings"]],
    }


def _report(name: str, document: dict[str, Any]) -> str:
    scale = document["scale"]
    lines = [f"{name}: scale from {scale['reference']}, certain to {scale['uncertainty_percent']:.2f} %."]
    for piece in document["pieces"]:
        xs, ys = [p[0] for p in piece["outline"]], [p[1] for p in piece["outline"]]
        kinds = [m["kind"] for m in piece["marks"]]
        marks = ", ".join(f"{kinds.count(k)} {k}" for k in dict.fromkeys(kinds))
        lines.append(
            f"  piece {piece['name']}: {max(xs) - min(xs):.0f} × {max(ys) - min(ys):.0f} mm, {len(piece['corners'])} corners, "
            f"{len(piece['segments'])} curves and lines{f', {marks}' if marks else ''}; within {piece['uncertainty_mm']:.1f} mm"
        )
    for cloth in document["cloths"]:
        xs, ys = [p[0] for p in cloth["outline"]], [p[1] for p in cloth["outline"]]
        grain = "grain not seen" if cloth["grain_deg"] is None else f"threads at {cloth['grain_deg']:.1f}°"
        lines.append(
            f"  cloth: {max(xs) - min(xs):.0f} × {max(ys) - min(ys):.0f} mm, {len(cloth['holes'])} holes, "
            f"{len(cloth['flaws'])} flaws, {grain}; within {cloth['uncertainty_mm']:.1f} mm"
        )
    lines += [f"  note: {warning}" for warning in document["warnings"]]
    return "\n".join(lines)
