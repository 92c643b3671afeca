"""The faces that pages are set in: which file serves which role, how wide the words are, what replaces what.

The files are static TrueType subsets in ``fonts/`` (made by ``tools/make_fonts.py``). A sign that a face lacks
is taken from the plain serif, which has the widest set; one that no face has is shown as a question mark in a
box would be useless to a sewist, so it is replaced by “?”.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from functools import cache
from importlib import resources
from io import BytesIO
from typing import Any, Final

from fontTools.ttLib import TTFont

from eke.paper.page import Role

__all__ = ["FACES", "FONT_STACK", "FontMetrics", "face_bytes", "metrics", "runs", "web_face_bytes"]


@dataclass(frozen=True, slots=True)
class Face:
    """A font file and how a style sheet names it."""

    file: str
    family: str
    weight: int


FACES: Final[dict[Role, Face]] = {
    "title": Face("eke-serif-semibold", "Eke Serif", 600),
    "sentence": Face("eke-serif-regular", "Eke Serif", 400),
    "measure": Face("eke-sans-regular", "Eke Sans", 400),
    "strong": Face("eke-sans-bold", "Eke Sans", 700),
}
FALL_BACK: Final[Role] = "sentence"

FONT_STACK: Final = {
    "Eke Serif": "'Eke Serif', Literata, Georgia, serif",
    "Eke Sans": "'Eke Sans', 'Atkinson Hyperlegible Next', Verdana, sans-serif",
}


@cache
def face_bytes(role: Role) -> bytes:
    """Return the TrueType file of a role."""
    return (resources.files("eke.formats") / "fonts" / f"{FACES[role].file}.ttf").read_bytes()


@cache
def web_face_bytes(role: Role) -> bytes:
    """Return the WOFF2 file of a role."""
    return (resources.files("eke.formats") / "fonts" / f"{FACES[role].file}.woff2").read_bytes()


@dataclass(frozen=True, slots=True)
class _Widths:
    """Advance widths in ems by character, and the height of capitals in ems."""

    advance: dict[int, float]
    cap_height: float


@cache
def _widths(role: Role) -> _Widths:
    font: Any = TTFont(BytesIO(face_bytes(role)), lazy=True)
    upem = font["head"].unitsPerEm
    advances = font["hmtx"].metrics
    return _Widths(
        {code: advances[name][0] / upem for code, name in font.getBestCmap().items()},
        font["OS/2"].sCapHeight / upem,
    )


def readable(text: str) -> str:
    """Return ``text`` with what no face can show replaced by the nearest that can.

    Letters are composed first; one that is not there loses its accent; anything else becomes “?”. Control
    characters and line breaks become spaces.
    """
    out: list[str] = []
    serif = _widths(FALL_BACK).advance
    for char in unicodedata.normalize("NFC", text):
        if ord(char) in serif:
            out.append(char)
        elif unicodedata.category(char) in ("Cc", "Zs", "Zl", "Zp"):
            out.append(" ")
        elif unicodedata.category(char) in ("Cf", "Mn", "Me"):
            continue
        else:
            plain = [c for c in unicodedata.normalize("NFKD", char) if ord(c) in serif]
            out.append("".join(plain) or "?")
    return "".join(out)


def runs(text: str, role: Role) -> list[tuple[Role, str]]:
    """Return ``text`` in stretches that one face can set: (role of the face, the stretch)."""
    own = _widths(role).advance
    out: list[tuple[Role, str]] = []
    for char in readable(text):
        face = role if ord(char) in own else FALL_BACK
        if out and out[-1][0] == face:
            out[-1] = (face, out[-1][1] + char)
        else:
            out.append((face, char))
    return out


class FontMetrics:
    """Widths of words in the faces above; fulfils :class:`eke.paper.page.TextMetrics`."""

    def width_mm(self, text: str, role: Role, size_mm: float) -> float:
        """Return the advance width of ``text`` in mm at an em of ``size_mm``."""
        total = 0.0
        for face, stretch in runs(text, role):
            advance = _widths(face).advance
            total += sum(advance[ord(char)] for char in stretch)
        return total * size_mm

    def cap_height_mm(self, role: Role, size_mm: float) -> float:
        """Return the height of a capital letter in mm at an em of ``size_mm``."""
        return _widths(role).cap_height * size_mm


def metrics() -> FontMetrics:
    """Return the widths of words in the faces that the doors use."""
    return FontMetrics()
