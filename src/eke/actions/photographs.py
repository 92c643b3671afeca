"""Photographs on the maker's table: taken in, described, put aside; kept as documents beside the histories.

A photograph lies with a garment, or on the shelf (a picture of cloth). Two documents tell of it: what the maker
says of it (kind ``photograph``), and what was found on it (kind ``trace``, see :mod:`eke.actions.found`). They
are kept one by one, so that a computation that ends late never overwrites what was said meanwhile.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import Any, Final, Literal

from eke.actions.room import WORKROOM_LOG, Done, Room, find_garment, new_id, now
from eke.capture.references import Reference
from eke.capture.sheet import parse_sheet_geometry, sheet_json
from eke.changes import digest
from eke.errors import BadInput, NotFound
from eke.formats.images import PDF_BEGINS, photo_from_bytes
from eke.store import Document, Reader, Transaction

SHELF: Final = "shelf"
"""The subject of photographs of cloth that belong to no garment."""
PHOTOGRAPH: Final = "photograph"
TRACE: Final = "trace"
"""Kinds of the two documents."""
PHOTOGRAPH_FORMAT: Final = "eke-photograph-1"
MOST_TOUCHES: Final = 200
"""More touches than this are a slip of a program, not of a finger."""
MOST_STROKE_POINTS: Final = 400
MOST_REFERENCES: Final = 8
LONGEST_NAME: Final = 120

State = Literal["new", "found", "refused", "changed"]


@dataclass(frozen=True, slots=True)
class Photograph:
    """A photograph as the maker described it, with what was found on it.

    ``found`` is the document of :mod:`eke.actions.found`, ``refused`` why there is none, ``reason`` the same as a
    word and ``answers`` the references that would settle it (:mod:`eke.actions.questions`); ``made`` says which
    outline became which piece, and which cloth became which cloth on the shelf; ``corners`` are those that the
    maker put elsewhere, by outline, in mm. ``said_then`` is the word for what was said of it when it was traced;
    ``earlier`` are the outlines of an earlier tracing that something was made of. ``strokes`` were drawn on the picture or
    rubbed out of it. ``parts`` are the photographs that it
    is joined of (:mod:`eke.actions.joined`); of a photograph as a camera took it there are none.
    """

    id: str
    subject: str
    name: str
    photo: str
    width_px: int
    height_px: int
    cloth: bool
    references: tuple[Mapping[str, Any], ...]
    square_paper: bool
    touches: tuple[Mapping[str, Any], ...]
    at: str
    number: int = 0
    aside: bool = False
    said_then: str | None = None
    found: Mapping[str, Any] | None = field(default=None, hash=False)
    refused: str | None = None
    refused_px: tuple[tuple[float, float], ...] = ()
    reason: str | None = None
    answers: tuple[Mapping[str, Any], ...] = field(default=(), hash=False)
    made: Mapping[str, Mapping[str, str]] = field(default_factory=dict, hash=False)
    corners: Mapping[str, Any] = field(default_factory=dict, hash=False)
    earlier: Mapping[str, Any] = field(default_factory=dict, hash=False)
    parts: tuple[str, ...] = ()
    strokes: tuple[Mapping[str, Any], ...] = field(default=(), hash=False)

    @property
    def said(self) -> str:
        """A short word for all that a tracing depends on."""
        said = [list(self.references), self.square_paper, list(self.touches), self.cloth]
        return digest([*said, list(self.strokes)] if self.strokes else said)

    @property
    def state(self) -> State:
        """How it stands; ``changed``: what was said of it has changed since it was traced."""
        if self.said_then is None:
            return "new"
        if self.said_then != self.said:
            return "changed"
        return "refused" if self.refused is not None else "found"


# ---- taking in


def take_in_photograph(
    room: Room, subject: str, data: bytes, name: str, *, cloth: bool = False
) -> Photograph:
    """Keep a photograph for a garment (its id or name) or for the shelf (``"shelf"``).

    It is decoded within limits first; its bytes, its row and its document are kept together or not at all. The
    same picture taken in again is the one that is there already, back on the table.

    Raises
    ------
    BadPicture
        When it is no picture that can be measured; the message says why.
    NotFound
        When there is no such garment.
    """
    clean = clean_name(name)
    picture = photo_from_bytes(data, name=f"“{clean}”")
    with room.store.write() as tx:
        about = _subject(room, tx, subject)
        sha256 = tx.add_photo(
            data, name=clean, media_type=media_type(data), width_px=picture.width_px, height_px=picture.height_px,
            at=now(),
        )  # fmt: skip
        there = [_read(tx, d) for d in tx.documents(PHOTOGRAPH, about)]
        for old in there:
            if old.photo == sha256 and old.cloth == cloth:
                return _keep(tx, old, aside=False) if old.aside else old
        made = Photograph(
            id=new_id(), subject=about, name=clean, photo=sha256, width_px=picture.width_px,
            height_px=picture.height_px, cloth=cloth, references=({"kind": "auto"},), square_paper=False, touches=(),
            at=now(), number=1 + max((p.number for p in there), default=0),
        )  # fmt: skip
        return _keep(tx, made)


def joined_of(tx: Transaction, parts: Sequence[Photograph]) -> Photograph:
    """Return the photograph that joins others, on the table; until it is joined it shows the first of them."""
    first, ids = parts[0], tuple(p.id for p in parts)
    there = [_read(tx, d, tx.document(TRACE, d.key)) for d in tx.documents(PHOTOGRAPH, first.subject)]
    for old in there:
        if set(old.parts) == set(ids):
            return _keep(tx, old, aside=False) if old.aside else old
    name = clean_name(" + ".join(re.sub(r"\.\w{1,5}$", "", p.name) for p in parts))
    made = Photograph(
        id=new_id(), subject=first.subject, name=name, photo=first.photo, width_px=first.width_px,
        height_px=first.height_px, cloth=first.cloth, references=({"kind": "auto"},), square_paper=False, touches=(),
        at=now(), number=1 + max(p.number for p in there), parts=ids,
    )  # fmt: skip
    return _keep(tx, made)


def clean_name(name: str) -> str:
    """Return the last part of a file's name without anything that is no letter of a name; only ever shown."""
    last = re.split(r"[/\\]", name.replace("\0", ""))[-1]
    shown = " ".join("".join(c for c in last if c.isprintable()).split())
    return shown[:LONGEST_NAME].strip(" .") or "photograph"


def media_type(data: bytes) -> str:
    """Return the media type of a picture from its first bytes."""
    if data.startswith(PDF_BEGINS):
        return "application/pdf"
    if data.startswith(b"\x89PNG"):
        return "image/png"
    if data[4:8] == b"ftyp":
        return "image/avif" if data[8:12] == b"avif" else "image/heic"
    if data.startswith(b"RIFF") and data[8:12] == b"WEBP":
        return "image/webp"
    if data[:4] in (b"II*\0", b"MM\0*"):
        return "image/tiff"
    return "image/jpeg"


# ---- looking


def photographs_of(room: Room, subject: str, *, aside: bool = False) -> tuple[Photograph, ...]:
    """Return the photographs of a garment or of the shelf in the order in which they came.

    ``aside``: those that were taken off the table too.
    """
    with room.store.read() as reader:
        about = _subject(room, reader, subject)
        traces = {d.key: d for d in reader.documents(TRACE, about)}
        found = [_read(reader, d, traces.get(d.key)) for d in reader.documents(PHOTOGRAPH, about)]
    return tuple(sorted((p for p in found if aside or not p.aside), key=lambda p: (p.number, p.at, p.id)))


def photograph(room: Room, photograph_id: str, reader: Reader | None = None) -> Photograph:
    """Return one photograph. Raises :class:`NotFound`."""
    if reader is None:
        with room.store.read() as own:
            return photograph(room, photograph_id, own)
    document = reader.document(PHOTOGRAPH, photograph_id)
    if document is None:
        raise NotFound("This photograph is not in the workroom. Take it in again.", id=photograph_id)
    return _read(reader, document, reader.document(TRACE, photograph_id))


# ---- saying


def say_of_photograph(
    room: Room,
    photograph_id: str,
    *,
    references: Sequence[Mapping[str, Any]] | None = None,
    square_paper: bool | None = None,
    touches: Sequence[Mapping[str, Any]] | None = None,
    strokes: Sequence[Mapping[str, Any]] | None = None,
    cloth: bool | None = None,
    name: str | None = None,
) -> Photograph:
    """Say how a photograph is to be read; what is left out stays.

    Raises
    ------
    BadInput
        When a reference makes no sense, or a touch lies outside the picture. Nothing is changed then.
    """
    with room.store.write() as tx:
        old = photograph(room, photograph_id, tx)
        said: dict[str, Any] = {}
        if references is not None:
            reference_list(references)
            said["references"] = tuple(_plain(r) for r in references) or ({"kind": "auto"},)
        if touches is not None:
            said["touches"] = tuple(_touch(t, old) for t in touches)
            if len(touches) > MOST_TOUCHES:
                raise BadInput(
                    f"{len(touches)} touches are too many; a few are enough to tell what is wanted."
                )
        if strokes is not None:
            if len(strokes) > MOST_TOUCHES:
                raise BadInput(f"{len(strokes)} strokes are too many; draw the line again on the paper.")
            said["strokes"] = tuple(_stroke(s, old) for s in strokes)
        if square_paper is not None:
            said["square_paper"] = bool(square_paper)
        if cloth is not None:
            said["cloth"] = bool(cloth)
        if name is not None:
            said["name"] = clean_name(name)
        return _keep(tx, old, **said)


def reference_list(references: Sequence[Mapping[str, Any]]) -> tuple[Reference, ...]:
    """Return references from plain values (``kind``, ``corners_px``, ``check_line_mm`` …).

    Raises
    ------
    BadInput
        When one of them makes no sense; the message says which.
    """
    if len(references) > MOST_REFERENCES:
        raise BadInput(f"{len(references)} references are too many. One or two in a picture are enough.")
    made = []
    for said in references:
        try:
            corners = said.get("corners_px")
            made.append(
                Reference(
                    kind=said["kind"],
                    geometry=None if said.get("geometry") is None else parse_sheet_geometry(said["geometry"]),
                    check_line_mm=_number(said.get("check_line_mm")),
                    corners_px=None if corners is None else tuple(_pixel(c) for c in corners),
                    from_px=None if said.get("from_px") is None else _pixel(said["from_px"]),
                    to_px=None if said.get("to_px") is None else _pixel(said["to_px"]),
                    distance_mm=_number(said.get("distance_mm")),
                    height_mm=_number(said.get("height_mm")) or 0.0,
                    dpi=_number(said.get("dpi")),
                )
            )
        except (KeyError, TypeError, ValueError) as wrong:
            if isinstance(wrong, BadInput):
                raise
            raise BadInput(
                "A reference has a number or a place that cannot be read. Say it again."
            ) from wrong
    return tuple(made)


def said_of(reference: Reference) -> dict[str, Any]:
    """Return a reference as the plain values that :func:`reference_list` reads."""
    said = {f.name: getattr(reference, f.name) for f in fields(reference)}
    if reference.geometry is not None:
        said["geometry"] = sheet_json(reference.geometry)
    return _plain(said)


def put_aside(room: Room, photograph_id: str) -> Done:
    """Take a photograph off the table. It stays in the workroom, and can be brought back."""
    return _aside(room, photograph_id, True, "Took “{}” off the table.")


def bring_back(room: Room, photograph_id: str) -> Done:
    """Put a photograph back on the table."""
    return _aside(room, photograph_id, False, "Put “{}” back on the table.")


def revision_of(reader: Reader, subject: str) -> int:
    """Return the revision of the history that a subject's photographs lie beside."""
    return reader.head(WORKROOM_LOG if subject == SHELF else subject).revision


# ---- inside


def kept_anew(tx: Transaction, old: Photograph, **said: Any) -> Photograph:
    """Keep a photograph with some of its own fields changed, as they are (nothing is checked)."""
    return _keep(tx, old, **said)


def _aside(room: Room, photograph_id: str, aside: bool, words: str) -> Done:
    with room.store.write() as tx:
        kept = _keep(tx, photograph(room, photograph_id, tx), aside=aside)
        return Done(kept.id, words.format(kept.name), revision_of(tx, kept.subject))


def _subject(room: Room, reader: Reader, subject: str) -> str:
    return SHELF if subject == SHELF else find_garment(room.shelf(reader), subject)[1].id


_KEPT: Final = (
    "subject",
    "name",
    "photo",
    "width_px",
    "height_px",
    "cloth",
    "square_paper",
    "at",
    "number",
    "aside",
)


def _keep(tx: Transaction, old: Photograph, **said: Any) -> Photograph:
    content = {"format": PHOTOGRAPH_FORMAT, **{name: said.get(name, getattr(old, name)) for name in _KEPT}}
    for name in ("references", "touches", "strokes"):
        content[name] = [dict(one) for one in said.get(name, getattr(old, name))]
    if old.parts:
        content["parts"] = list(old.parts)
    tx.put_document(PHOTOGRAPH, old.id, content, subject=old.subject, at=now())
    kept = tx.document(PHOTOGRAPH, old.id)
    assert kept is not None  # it has just been written
    return _read(tx, kept, tx.document(TRACE, old.id))


def _read(reader: Reader, document: Document, trace: Document | None = None) -> Photograph:
    said: Any = document.content
    if said.get("format") != PHOTOGRAPH_FORMAT:
        raise BadInput("This photograph was described by a newer Eke than this one. Use the newer program.")
    kept: dict[str, Any] = {name: said[name] for name in _KEPT}
    kept["references"] = tuple(said["references"])
    kept["touches"] = tuple(said["touches"])
    kept["strokes"] = tuple(said.get("strokes", ()))
    kept["parts"] = tuple(said.get("parts", ()))
    if trace is not None:
        seen: Any = trace.content
        kept |= {
            "said_then": seen["said"], "found": seen["found"], "refused": seen["refused"],
            "refused_px": tuple((x, y) for x, y in seen["refused_px"]), "made": seen["made"],
            "corners": seen.get("corners", {}), "earlier": seen.get("earlier", {}), "reason": seen.get("reason"),
            "answers": tuple(seen.get("answers", ())),
        }  # fmt: skip
    return Photograph(document.key, **kept)


def _plain(said: Mapping[str, Any]) -> dict[str, Any]:
    """A reference as it is kept: what was not said is left out."""
    return {k: v for k, v in said.items() if v is not None and not (k == "height_mm" and v == 0.0)}


def _touch(said: Mapping[str, Any], picture: Photograph) -> dict[str, Any]:
    x, y, side = _number(said["x_px"]), _number(said["y_px"]), said.get("side", "+")
    assert x is not None
    assert y is not None
    if side not in ("+", "-"):
        raise BadInput("A touch is inside (+) or outside (-) of what is wanted.")
    if not (-0.5 <= x <= picture.width_px and -0.5 <= y <= picture.height_px):
        raise BadInput(
            f"The touch at {x:g}:{y:g} lies outside the picture, which is {picture.width_px} x {picture.height_px} pixels."
        )
    return {"x_px": x, "y_px": y, "side": side}


def _stroke(said: Mapping[str, Any], picture: Photograph) -> dict[str, Any]:
    if said["how"] not in ("draw", "rub"):
        raise BadInput("A stroke is drawn or rubbed out.")
    points = [_pixel(p) for p in said["points_px"]]
    if not 1 <= len(points) <= MOST_STROKE_POINTS:
        raise BadInput(f"A stroke has 1 to {MOST_STROKE_POINTS} points, not {len(points)}.")
    for x, y in points:
        if not (-0.5 <= x <= picture.width_px and -0.5 <= y <= picture.height_px):
            raise BadInput(
                f"The stroke at {x:g}:{y:g} leaves the picture, which is {picture.width_px} x {picture.height_px} pixels."
            )
    return {"how": said["how"], "points_px": [list(p) for p in points]}


def _pixel(place: Sequence[float]) -> tuple[float, float]:
    x, y = (float(v) for v in place)
    if not (math.isfinite(x) and math.isfinite(y)):
        raise BadInput("A place in the picture needs two numbers, in pixels.")
    return x, y


def _number(value: Any) -> float | None:
    if value is None:
        return None
    number = float(value)
    if not math.isfinite(number):
        raise BadInput("A measure of a reference is no number. Say it again.")
    return number
