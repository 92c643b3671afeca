"""Photographs of one paper or one cloth, joined: a photograph of its own, whose picture is made of the others.

It lies beside its parts, which stay as they are, and is read, traced and put aside like any other. What gives the scale
is said of the parts. Until it has been joined for the first time it shows its first part.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, Literal

import numpy as np

from eke.actions.found import found_document, keep_found_in
from eke.actions.found_camera import camera_from
from eke.actions.photographs import Photograph, joined_of, kept_anew, photograph, reference_list
from eke.actions.room import Room, now
from eke.capture.by_hand import stroke_of
from eke.capture.join import MOST_PHOTOS, trace_joined
from eke.capture.trace import Touch
from eke.errors import BadInput
from eke.formats.images import encode_jpeg, photo_from_bytes
from eke.jobs import Report
from eke.store import Reader

JOIN_JOB: Final = "eke.actions.joined:join_job"
QUALITY: Final = 92
"""Of the joined picture as JPEG; it is only looked at, what is measured was measured before."""


def lay_together(room: Room, photographs: Sequence[str]) -> Photograph:
    """Say that photographs show parts of one paper (or cloth): return the one that joins them, not joined yet.

    The same photographs laid together again are the one that is there already, back on the table.

    Raises
    ------
    BadInput
        When they cannot be parts of one picture.
    """
    ids = tuple(dict.fromkeys(photographs))
    if not 2 <= len(ids) <= MOST_PHOTOS:
        raise BadInput(f"Choose from 2 to {MOST_PHOTOS} photographs of one paper, not {len(ids)}.")
    with room.store.write() as tx:
        parts = [photograph(room, one, tx) for one in ids]
        first = parts[0]
        for part in parts:
            if part.parts:
                raise BadInput(
                    f"“{part.name}” is joined of several photographs itself. Choose those instead."
                )
            if part.subject != first.subject or part.cloth != first.cloth:
                raise BadInput(
                    f"“{part.name}” and “{first.name}” do not lie together: choose photographs of one garment, or of one cloth."
                )
        return joined_of(tx, parts)


def join_words(room: Room, picture: Photograph) -> dict[str, Any]:
    """Return what the parts are and what was said of them as the arguments of :func:`join_job`."""
    with room.store.read() as reader:
        return {
            "pictures": [_part(room, one, reader) for one in picture.parts],
            "cloth": picture.cloth,
            "touches_mm": _touches_mm(picture),
            "strokes_mm": _strokes_mm(picture),
        }


def _part(room: Room, one: str, reader: Reader) -> dict[str, Any]:
    part = photograph(room, one, reader)
    return {
        "data": reader.photo_bytes(part.photo),
        "name": part.name,
        "references": [dict(r) for r in part.references],
        "square_paper": part.square_paper,
        "touches": [dict(t) for t in part.touches],
        "strokes": [dict(s) for s in part.strokes],
    }


def _touches_mm(picture: Photograph) -> list[tuple[float, float, str]]:
    """Touches on the joined picture, in mm of its plane; before it was joined there are none."""
    if picture.found is None or not picture.touches:
        return []
    px = np.array([[t["x_px"], t["y_px"]] for t in picture.touches], dtype=np.float64)
    at = camera_from(picture.found["camera"]).to_plane(px)
    return [(float(x), float(y), str(t["side"])) for (x, y), t in zip(at, picture.touches, strict=True)]


def _strokes_mm(picture: Photograph) -> list[dict[str, Any]]:
    """Strokes on the joined picture, their points in mm of its plane."""
    if picture.found is None:
        return []
    camera = camera_from(picture.found["camera"])
    return [
        {"how": s["how"], "points": camera.to_plane(np.array(s["points_px"], dtype=np.float64)).tolist()}
        for s in picture.strokes
    ]


def join_job(
    report: Report,
    *,
    pictures: Sequence[Mapping[str, Any]],
    cloth: bool,
    touches_mm: Sequence[tuple[float, float, str]],
    strokes_mm: Sequence[Mapping[str, Any]] = (),
) -> dict[str, Any]:
    """Join photographs and trace what they show.

    Returns
    -------
    dict
        ``found``, the document ``eke-found-1``, whose pixels are those of the joined picture, and that picture as
        ``jpeg`` with ``width_px`` and ``height_px``.

    Raises
    ------
    BadPicture, NotTrustworthy, BadInput
        When one gives no true scale, or they cannot be joined; the message says which and what to do.
    """

    def tell(sentence: str, share: float) -> None:
        report.progress(share, sentence[:1].upper() + sentence[1:])

    tell("reading the photographs", 0.0)
    found = trace_joined(
        [photo_from_bytes(p["data"], name=f"“{p['name']}”") for p in pictures],
        references=[reference_list(p["references"]) for p in pictures],
        square_paper=[bool(p["square_paper"]) for p in pictures],
        cloth=cloth,
        touches=[[_touch(t["x_px"], t["y_px"], t.get("side")) for t in p["touches"]] for p in pictures],
        touches_mm=[_touch(*t) for t in touches_mm],
        strokes=[[stroke_of(s["how"], s["points_px"]) for s in p.get("strokes", ())] for p in pictures],
        strokes_mm=[stroke_of(s["how"], s["points"]) for s in strokes_mm],
        listener=tell,
        stop=report.stopped,
    )
    image = found.rectified.image_rgb
    return {
        "found": found_document(found),
        "jpeg": encode_jpeg(image, quality=QUALITY),
        "width_px": image.shape[1],
        "height_px": image.shape[0],
    }


def _touch(x: float, y: float, side: str | None) -> Touch:
    which: Literal["+", "-"] = "-" if side == "-" else "+"
    return float(x), float(y), which


def keep_joined(room: Room, photograph_id: str, made: Mapping[str, Any], said: str) -> Photograph:
    """Keep the joined picture and what was found in it, together; ``said`` as for :func:`eke.actions.found.keep_found`."""
    with room.store.write() as tx:
        old = photograph(room, photograph_id, tx)
        sha256 = tx.add_photo(
            made["jpeg"], name=old.name, media_type="image/jpeg", width_px=made["width_px"],
            height_px=made["height_px"], at=now(),
        )  # fmt: skip
        camera = camera_from(made["found"]["camera"])
        touches = []
        for x, y, side in _touches_mm(old):
            px = camera.project(np.array([[x, y]]))[0]
            touches.append({"x_px": float(px[0]), "y_px": float(px[1]), "side": side})
        new = kept_anew(
            tx,
            old,
            photo=sha256,
            width_px=made["width_px"],
            height_px=made["height_px"],
            touches=tuple(touches),
            strokes=tuple(
                {"how": s["how"], "points_px": camera.project(np.array(s["points"])).tolist()}
                for s in _strokes_mm(old)
            ),
        )
        # what was said while it was joined is still to be read
        return keep_found_in(room, tx, new, made["found"], new.said if said == old.said else said)
