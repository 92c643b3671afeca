"""What was found on a photograph, kept as a document, and what is made of it: pieces, and cloths on the shelf.

The document ``eke-found-1`` holds what ``eke-trace-1`` does, and what is needed to draw it over the photograph
and to straighten the picture again: the same places in pixels of the upright picture, and the camera as solved.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from eke.actions.cloths import add_cloth_in
from eke.actions.found_camera import camera_from, camera_json
from eke.actions.photographs import SHELF, TRACE, Photograph, photograph
from eke.actions.questions import reason_of
from eke.actions.room import Done, Room, new_id, now
from eke.actions.shelf import keep_new_in
from eke.actions.work import trace_job
from eke.capture.camera import Camera
from eke.capture.trace import Trace, trace_json
from eke.cloth import polygons
from eke.errors import BadInput, ChangeConflict, EkeError, HonestNo, NotFound
from eke.geometry import Path
from eke.jobs import Report
from eke.pattern.corners import called
from eke.pattern.hand import with_hand
from eke.pattern.tracing import closed_outline, cut_at_corners
from eke.store import Transaction
from eke.units import Money

Points = NDArray[np.float64]

FOUND_FORMAT: Final = "eke-found-1"
TRACE_FORMAT: Final = "eke-photograph-trace-1"
STEP_MM: Final = 6.0
"""Outlines are projected at least this often: over 6 mm the bend of a lens stays far below a pixel."""
STRAY_PX: Final = 0.3
"""Points of an outline over the photograph are left out while it strays less than this: finer than any screen."""
SAME_SHARE: Final = 0.5
"""Outlines of two tracings of one picture that share this much of their area are the same thing."""
KINDS: Final = ("pieces", "cloths")
_QUARTERS: Final[Mapping[int, tuple[float, float]]] = {
    0: (1.0, 0.0),
    90: (0.0, 1.0),
    180: (-1.0, 0.0),
    270: (0.0, -1.0),
}
"""Cosine and sine of the quarter turns, by degrees."""
NOT_SAID_HERE: Final = ("id", "name", "outline", "parent", "photos", "price")
"""Words of a cloth that its photograph, or a field of its own, answers for."""


# ---- the document


def found_document(trace: Trace) -> dict[str, Any]:
    """Return all that a trace yielded as plain JSON, in mm and in pixels of the upright picture."""
    flat, camera = trace.rectified, trace.rectified.camera
    height, width = flat.image_rgb.shape[:2]
    step = flat.mm_per_px
    document = trace_json(trace)
    for row in document["pieces"]:
        row["outline_px"] = over_photograph(camera, np.array(row["outline"]))
        row["corners_px"] = _pixels(camera, row["corners"])
        for mark in row["marks"]:
            mark["points_px"] = _pixels(camera, mark["points"])
    for row, cloth in zip(document["cloths"], trace.cloths, strict=True):
        row["name"] = cloth.name
        row["outline_px"] = over_photograph(camera, np.array(row["outline"]))
        row["holes_px"] = [over_photograph(camera, np.array(h)) for h in row["holes"]]
        row["flaws_px"] = [over_photograph(camera, np.array(f)) for f in row["flaws"]]
    return {
        **document,
        "format": FOUND_FORMAT,
        "references_px": [over_photograph(camera, p) for p in flat.reference_polygons_mm],
        "mm_per_px": step,
        # pixel centres lie half a pixel inside
        "box_mm": [
            flat.origin_mm[0] - step / 2,
            flat.origin_mm[1] + step / 2 - height * step,
            width * step,
            height * step,
        ],
        "camera": camera_json(camera),
    }


def over_photograph(camera: Camera, ring_mm: Points) -> list[list[float]]:
    """Return a closed outline as the lens drew it, in pixels: enough points that its bend shows."""
    if len(ring_mm) < 3:
        return []
    ends = np.roll(ring_mm, -1, axis=0)
    counts = np.maximum(1, np.ceil(np.hypot(*(ends - ring_mm).T) / STEP_MM).astype(int))
    dense = np.concatenate(
        [a + (b - a) * np.arange(n)[:, None] / n for a, b, n in zip(ring_mm, ends, counts, strict=True)]
    )
    px = camera.project(dense)
    px = px[np.isfinite(px).all(axis=1)]
    if len(px) < 3:
        return []
    line = LineString(np.vstack([px, px[:1]])).simplify(STRAY_PX)
    return [[round(float(x), 2), round(float(y), 2)] for x, y in line.coords[:-1]]


def _pixels(camera: Camera, points_mm: Sequence[Sequence[float]]) -> list[list[float]]:
    if not len(points_mm):
        return []
    px = camera.project(np.array(points_mm, dtype=np.float64))
    return [[round(float(x), 2), round(float(y), 2)] for x, y in np.nan_to_num(px, nan=-1.0)]


def found_sentence(found: Mapping[str, Any]) -> str:
    """Return what was found in one sentence."""
    pieces, cloths = len(found["pieces"]), len(found["cloths"])
    return f"Found {_count(cloths, 'cloth')}." if cloths else f"Found {_count(pieces, 'outline')}."


def _count(number: int, word: str) -> str:
    return f"one {word}" if number == 1 else f"{number} {word}s"


# ---- keeping it


def trace_now(room: Room, photograph_id: str, report: Report | None = None) -> Photograph:
    """Trace a photograph here and now, and keep what was found; the app does the same by a job.

    Raises
    ------
    BadPicture, NotTrustworthy, BadInput
        When the picture gives no true scale or nothing to trace; that is kept with it, too.
    """
    with room.store.read() as reader:
        picture = photograph(room, photograph_id, reader)
        data = reader.photo_bytes(picture.photo)
    try:
        found = trace_job(report or Report(), data=data, **trace_words(picture))
    except (HonestNo, BadInput) as error:
        keep_refused(room, picture.id, error, picture.said)
        raise
    return keep_found(room, picture.id, found, picture.said)


def trace_words(picture: Photograph) -> dict[str, Any]:
    """Return what was said of a photograph as the arguments of :func:`eke.actions.work.trace_job`."""
    return {
        "name": picture.name,
        "references": [dict(r) for r in picture.references],
        "square_paper": picture.square_paper,
        "cloth": picture.cloth,
        "touches": [dict(t) for t in picture.touches],
        "strokes": [dict(s) for s in picture.strokes],
    }


def keep_found(room: Room, photograph_id: str, found: Mapping[str, Any], said: str) -> Photograph:
    """Keep what a tracing found; ``said`` is :attr:`Photograph.said` as it was when the tracing began.

    What was made of the outlines of an earlier tracing of this picture is still known to be made of them.
    """
    with room.store.write() as tx:
        return keep_found_in(room, tx, photograph(room, photograph_id, tx), found, said)


def keep_found_in(
    room: Room, tx: Transaction, old: Photograph, found: Mapping[str, Any], said: str
) -> Photograph:
    """:func:`keep_found` within a transaction that keeps something else, too."""
    before = old.found or old.earlier
    made = {kind: _carried_over(before.get(kind, ()), found[kind], old.made.get(kind, {})) for kind in KINDS}
    return _put(
        room, tx, old, said=said, found=dict(found), refused=None, refused_px=[], reason=None, answers=[],
        made=made, corners={},
    )  # fmt: skip


def keep_refused(room: Room, photograph_id: str, error: EkeError, said: str) -> Photograph:
    """Keep why a photograph gives no true scale. What it yielded before, read otherwise, is no longer shown."""
    with room.store.write() as tx:
        old = photograph(room, photograph_id, tx)
        # should a later tracing find the same things, it is still known what was made of them
        earlier = old.earlier
        if old.found is not None:
            earlier = {
                kind: [
                    {"name": row["name"], "outline_px": row["outline_px"]}
                    for row in old.found[kind]
                    if row["name"] in old.made.get(kind, {})
                ]
                for kind in KINDS
            }
        return _put(
            room, tx, old, said=said, found=None, refused=error.message, refused_px=_trouble_px(error, old),
            reason=reason_of(error), answers=list(error.data.get("answers", ())), earlier=earlier, corners={},
        )  # fmt: skip


def move_corners(
    room: Room, photograph_id: str, which: str, corners: Sequence[Sequence[float]] | None
) -> Photograph:
    """Keep where the maker put the corners of a found outline, until it is traced again; ``None``: as found.

    Raises
    ------
    NotFound
        When nothing of that name was found.
    BadInput
        When a corner lies off the outline, or two lie at one place.
    """
    with room.store.write() as tx:
        picture, row = _outline(room, tx, photograph_id, "pieces", which)
        moved = {k: v for k, v in picture.corners.items() if k != which}
        if corners is not None:
            moved[which] = corners_in_order(row["segments"], corners)
            cut_at_corners(closed_outline(row["segments"]), [(x, y) for x, y in moved[which]])
        return _put(room, tx, picture, corners=moved)


def corners_of(picture: Photograph, row: Mapping[str, Any]) -> tuple[list[Any], list[Any]]:
    """Return the corners of a found outline as they stand: in mm, and in pixels of the upright picture."""
    moved = picture.corners.get(row["name"])
    if moved is None or picture.found is None:
        return row["corners"], row["corners_px"]
    return moved, _pixels(camera_from(picture.found["camera"]), moved)


def _put(room: Room, tx: Transaction, old: Photograph, **changes: Any) -> Photograph:
    content = {
        "format": TRACE_FORMAT, "said": old.said_then, "found": old.found, "refused": old.refused,
        "refused_px": [list(p) for p in old.refused_px], "reason": old.reason, "answers": list(old.answers),
        "made": old.made, "corners": old.corners, "earlier": {}, **changes,
    }  # fmt: skip
    tx.put_document(TRACE, old.id, content, subject=old.subject, at=now())
    return photograph(room, old.id, tx)


def _trouble_px(error: EkeError, picture: Photograph) -> list[list[float]]:
    """Where on the picture the trouble lies, as far as anybody knows: the corners or ticks that were said."""
    places = [list(map(float, p)) for p in error.data.get("places_px", ())]
    if places or error.data.get("reason") not in ("corners", "reference unclear"):
        return places
    for said in picture.references:
        places += [list(map(float, p)) for p in said.get("corners_px", ())]
        places += [list(map(float, said[k])) for k in ("from_px", "to_px") if k in said]
    return places


def _carried_over(
    before: Sequence[Mapping[str, Any]], after: Sequence[Mapping[str, Any]], made: Mapping[str, str]
) -> dict[str, str]:
    """What became of outlines, by their names in a new tracing: the same thing in the picture keeps it."""
    shapes = [(row["name"], _polygon(row["outline_px"])) for row in after]
    found: dict[str, str] = {}
    for row in before:
        if row["name"] not in made:
            continue
        old = _polygon(row["outline_px"])
        for name, shape in shapes:
            share = old.intersection(shape).area / max(old.union(shape).area, 1e-9)
            if share > SAME_SHARE and name not in found:
                found[name] = made[row["name"]]
    return found


def _polygon(ring: Sequence[Sequence[float]]) -> Polygon:
    return Polygon(ring).buffer(0) if len(ring) >= 3 else Polygon()


# ---- making something of it


def take_piece(
    room: Room,
    photograph_id: str,
    which: str,
    name: str,
    *,
    traced_as: str = "net",
    traced_allowance_mm: float = 0.0,
    traced_by: str | None = None,
    worn: bool = False,
    role: str = "outer",
    count: int = 1,
    pairs: bool = False,
    again: str | None = None,
    answers: Mapping[str, int | None] | None = None,
    corners: Sequence[Sequence[float]] | None = None,
    turn_deg: int = 0,
) -> Done:
    """Make a piece of an outline that was found, or trace a piece again with it.

    Parameters
    ----------
    which
        The outline's name in the tracing.
    traced_by, worn
        With what the garment was traced (pen, pins, cloth), and whether it is much worn: both make the outline less
        certain than its photograph (:mod:`eke.pattern.hand`).
    again
        Id of the piece that this outline traces anew: its edges, seams and notches stay.
    answers
        With ``again``, where that is unsure: old edge id to the number of the new edge, or ``None``: gone.
    corners
        Corners as the maker put them, mm; ``None``: as they stand.
    turn_deg
        How it is turned on its way into the pattern, counter-clockwise: 0, 90, 180 or 270. A sheet that was
        photographed upside down needs no other picture.

    Raises
    ------
    NotFound
        When nothing of that name was found.
    BadInput
        When it is to be turned by another angle, or was traced by something unknown.
    ChangeConflict
        When it is unsure which old edge a new one is.
    """
    with room.store.write() as tx:
        picture, row = _outline(room, tx, photograph_id, "pieces", which)
        if picture.subject == SHELF:
            raise BadInput(
                f"“{picture.name}” lies on the shelf, with no garment. Take the photograph in at the garment that the piece belongs to."
            )
        found: Any = picture.found
        put = corners_of(picture, row)[0] if corners is None else corners_in_order(row["segments"], corners)
        outline: dict[str, Any] = {
            "segments": [{**s, "points": turned(s["points"], turn_deg)} for s in row["segments"]],
            "corners": turned(put, turn_deg),
        }
        if again is not None:
            piece, kind = again, "trace.again"
            params = {"piece": again, "name": name, **outline, "answers": dict(answers or {})}
        else:
            piece, kind = new_id(), "trace.add"
            params = {
                "piece": piece,
                "name": name,
                **outline,
                "marks": [{"kind": m["kind"], "points": turned(m["points"], turn_deg)} for m in row["marks"]],
                "traced_as": traced_as,
                "traced_allowance_mm": traced_allowance_mm,
                "cuts": [{"role": role, "count": count, "pairs": pairs}],
                "tracing": {
                    "photo": picture.photo,
                    "reference": found["scale"]["reference"],
                    "scale_percent": found["scale"]["uncertainty_percent"],
                    "uncertainty_mm": with_hand(row["uncertainty_mm"], traced_by, worn),
                },
            }
        try:
            done = room.change_garment_in(tx, picture.subject, kind, params)
        except ChangeConflict as unsure:
            if "unsure" not in unsure.data:
                raise
            raise _which_edge(room, tx, picture, piece, unsure) from unsure
        _note_made(room, tx, picture, "pieces", which, piece)
    return Done(piece, done.sentence, done.revision, done.unsettled)


def _which_edge(
    room: Room, tx: Transaction, picture: Photograph, piece_id: str, unsure: ChangeConflict
) -> ChangeConflict:
    """The question which edge is which, with names that a maker knows; ``data["edges"]`` has them by id."""
    piece = room.garment(picture.subject, tx).pattern.piece(piece_id)
    names = {id_: called(piece, piece.edge(id_)) for id_ in unsure.data["unsure"]}
    listed = ", ".join(f"“{name}”" for name in names.values())
    return ChangeConflict(
        f"It is not sure where {listed} of “{piece.name}” lies on the new tracing. Say which edge it is, or that it is "
        "gone. Nothing was changed.",
        **{**unsure.data, "edges": names},
    )


def corners_in_order(
    segments: Sequence[Mapping[str, Any]], corners: Sequence[Sequence[float]]
) -> list[list[float]]:
    """Return corners as the maker put them in the order of the outline, beginning with the first one."""
    outline: Path = closed_outline(segments)
    if not corners:
        return []
    points = [(float(x), float(y)) for x, y in corners]
    places = [outline.nearest(p).at_mm % outline.length_mm for p in points]
    order = sorted(range(len(points)), key=lambda i: (places[i] - places[0]) % outline.length_mm)
    return [list(points[i]) for i in order]


def turned(points: Sequence[Sequence[float]], turn_deg: int) -> list[list[float]]:
    """Return points turned about the origin by a quarter turn or several, counter-clockwise, without rounding.

    Raises
    ------
    BadInput
        When the angle is none of 0, 90, 180, 270.
    """
    if turn_deg not in _QUARTERS:
        raise BadInput(f"An outline is turned by quarter turns: 0, 90, 180 or 270 degrees, not {turn_deg}.")
    c, s = _QUARTERS[turn_deg]
    # + 0.0: a zero has no sign
    return [[c * x - s * y + 0.0, s * x + c * y + 0.0] for x, y in points]


def take_cloth(
    room: Room,
    photograph_id: str,
    which: str,
    name: str,
    *,
    said: Mapping[str, Any] | None = None,
    price: Money | None = None,
    project: str | None = None,
) -> Done:
    """Put a cloth that was found on the shelf, with its holes, proposed flaws, threads and photograph.

    It is kept for ``project`` where one is named.

    ``said`` are further words of a cloth and overrule what was seen: a weave shows its two thread directions, but
    not which of them is the warp.
    """
    for word in NOT_SAID_HERE:
        if word in (said or {}):
            raise BadInput(f"The {word} of a cloth is not said among its words here.")
    with room.store.write() as tx:
        picture, row = _outline(room, tx, photograph_id, "cloths", which)
        words: dict[str, Any] = {
            "holes": [_sound(hole) for hole in row["holes"]],
            "flaws": [
                {"id": f"stain {i}", "polygon": _sound(f), "kind": "stain", "quality": 1}
                for i, f in enumerate(row["flaws"], start=1)
            ],
            "grain_deg": row["grain_deg"],
            "repeat_mm": row["repeat_mm"],
            "uncertainty_mm": row["uncertainty_mm"],
            "photos": [picture.photo],
            **(said or {}),
        }
        if price is not None:
            words["price"] = price
        done = add_cloth_in(room, tx, name, _sound(row["outline"]), words)
        if project is not None:
            done = keep_new_in(room, tx, done, name, project)
        _note_made(room, tx, picture, "cloths", which, done.id)
    return done


def _sound(ring: Sequence[Sequence[float]]) -> list[list[float]]:
    """A ring that was followed point by point, without the loops of a thread's width where it met itself."""
    shape = Polygon(ring)
    if shape.is_valid:
        return [list(p) for p in ring]
    parts = polygons(shape)
    return [list(p) for p in parts[0].exterior.coords[:-1]] if parts else [list(p) for p in ring]


def _outline(
    room: Room, tx: Transaction, photograph_id: str, kind: str, which: str
) -> tuple[Photograph, Mapping[str, Any]]:
    picture = photograph(room, photograph_id, tx)
    rows = (picture.found or {}).get(kind, ())
    for row in rows:
        if row["name"] == which:
            return picture, row
    what = "outline" if kind == "pieces" else "cloth"
    if picture.found is None:
        raise NotFound(
            f"“{picture.name}” has not been traced yet, so there is no {what} on it. Trace it first."
        )
    names = ", ".join(row["name"] for row in rows)
    raise NotFound(f"“{picture.name}” has no {what} “{which}”. It has: {names or 'none'}.")


def _note_made(room: Room, tx: Transaction, picture: Photograph, kind: str, which: str, id_: str) -> None:
    made = {k: dict(v) for k, v in picture.made.items()}
    made.setdefault(kind, {})[which] = id_
    _put(room, tx, picture, made=made)
