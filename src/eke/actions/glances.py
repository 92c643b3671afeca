"""A quick look at a photograph when it has been taken in, kept with it: what is better done again while the paper lies.

It is made once for each photograph and kept as a document of its own (kind ``glance``), which no history knows of: it
can always be made anew. What the maker says of the photograph may answer what it asks, so it is told accordingly.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, Final

from eke.actions.photographs import Photograph, photograph
from eke.actions.room import Room, now
from eke.capture.glance import QUESTIONS, glance
from eke.formats.images import photo_from_bytes
from eke.store import Reader

__all__ = ["Glanced", "glance_at", "kept_glance"]

Glanced = Mapping[str, Any]
"""The measures of :class:`eke.capture.glance.Glance`, ``findings`` as they are to be told, ``good``, and ``sentence``:
what is said where there is nothing to do again."""

GLANCE: Final = "glance"
GLANCE_FORMAT: Final = "eke-glance-1"
_BY_REFERENCE: Final = frozenset({"no-reference", "reference-cut", "ruler"})
_ONE_AT_A_TIME: Final = threading.Lock()
"""A picture of 26 million pixels takes some 200 MB while it is looked at."""
_SEEN: Final = {
    "sheet": "the printed sheet is seen whole",
    "marks": "a sheet of printed marks is seen whole",
    "a4": "a sheet of A4 is seen whole",
    "letter": "a Letter sheet is seen whole",
    "card": "something of the shape of a bank card is seen whole",
}


def glance_at(room: Room, photograph_id: str) -> Glanced:
    """Look at a photograph, unless that has been done. Takes about a second for twelve million pixels.

    Raises
    ------
    NotFound
        When there is no such photograph.
    """
    with _ONE_AT_A_TIME:
        with room.store.read() as reader:
            picture = photograph(room, photograph_id, reader)
            there = kept_glance(reader, picture)
            if there is not None:
                return there
            data = reader.photo_bytes(picture.photo)
        seen = glance(photo_from_bytes(data, name=f"“{picture.name}”"), cloth=picture.cloth)
    content = {"format": GLANCE_FORMAT, "cloth": picture.cloth, **asdict(seen)}
    with room.store.write() as tx:
        tx.put_document(GLANCE, picture.id, content, at=now())
    return _told(content, picture)


def kept_glance(reader: Reader, picture: Photograph) -> Glanced | None:
    """Return what was seen at a glance, as it is to be told now; None: nobody has looked, or not for this."""
    document = reader.document(GLANCE, picture.id)
    if document is None:
        return None
    content: Any = document.content
    if content["format"] != GLANCE_FORMAT or content["cloth"] != picture.cloth:
        return None
    return _told(content, picture)


def _told(content: Mapping[str, Any], picture: Photograph) -> Glanced:
    """Without what the maker has answered: a scan has no camera, and what was named need not be noticed."""
    kinds = {said["kind"] for said in picture.references}
    findings = [
        one
        for one in content["findings"]
        if "scan" not in kinds and not (one["code"] in _BY_REFERENCE and kinds != {"auto"})
    ]
    good = all(one["code"] in QUESTIONS for one in findings)
    return {**content, "findings": findings, "good": good, "sentence": _calm(content, kinds)}


def _calm(content: Mapping[str, Any], kinds: set[str]) -> str:
    if "scan" in kinds:
        return "A scan has its scale from the scanner; there is nothing to put right."
    seen = _SEEN.get(content["reference"]) if not content["reference_cut"] else None
    good = "It is sharp and light enough"
    return f"{good}, and {seen}." if seen else f"{good}."
