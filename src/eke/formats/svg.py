"""Pages as SVG, true to scale: width and height in mm, a viewBox in mm, y turned over.

The same plan gives the same text, byte for byte. Fonts are named by family with a fallback, and are carried in
the file unless the caller says otherwise.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Mapping
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from eke.formats.faces import FACES, FONT_STACK, readable, web_face_bytes
from eke.paper.page import Area, Group, Item, Page, Picture, PointsMm, Role, Stroke, Words

__all__ = ["font_style", "page_to_svg", "picture_type"]

DECIMALS = 3
"""A thousandth of a millimetre: finer than any printer."""


def page_to_svg(
    page: Page,
    *,
    pictures: Mapping[str, bytes] | None = None,
    carry_fonts: bool = True,
    decimals: int = DECIMALS,
    clip_prefix: str = "",
) -> str:
    """Return one page as a complete SVG document.

    Parameters
    ----------
    page
        The plan of the page.
    pictures
        Bytes of the pictures on it, by key; a missing one is drawn as an empty frame.
    carry_fonts
        Whether the file carries its fonts, so that it looks the same everywhere.
    decimals
        Decimals of coordinates, in mm.
    clip_prefix
        What the names of clips begin with, so that several drawings can share one web page.
    """
    writer = _Writer(page.height_mm, pictures or {}, decimals, clip_prefix)
    writer.items(page.items, 1)
    w, h = writer.number(page.width_mm), writer.number(page.height_mm)
    head = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}">',
        f"  <title>{escape(page.name)}</title>" if page.name else "",
        f"  <style>{font_style(writer.roles)}</style>" if carry_fonts and writer.roles else "",
    ]
    defs = ["  <defs>", *writer.defs, "  </defs>"] if writer.defs else []
    return "\n".join([line for line in head if line] + defs + writer.out + ["</svg>", ""])


def font_style(roles: Iterable[Role]) -> str:
    """Return the @font-face rules of ``roles``, with the fonts in them."""
    rules = []
    for role in sorted(set(roles)):
        face = FACES[role]
        data = b64encode(web_face_bytes(role)).decode("ascii")
        rules.append(
            f"@font-face{{font-family:'{face.family}';font-weight:{face.weight};"
            f"src:url(data:font/woff2;base64,{data}) format('woff2')}}"
        )
    return "".join(rules)


def picture_type(data: bytes) -> str:
    """Return the media type of a picture from its first bytes (JPEG, PNG, SVG)."""
    if data.startswith(b"\x89PNG"):
        return "image/png"
    if data.startswith(b"\xff\xd8"):
        return "image/jpeg"
    if data.lstrip()[:4] in (b"<svg", b"<?xm"):
        return "image/svg+xml"
    return "application/octet-stream"


class _Writer:
    """Collects lines of SVG. Groups are taken apart by moving points here, so y turns over only once."""

    def __init__(
        self, height_mm: float, pictures: Mapping[str, bytes], decimals: int, clip_prefix: str = ""
    ) -> None:
        self.clip_prefix = clip_prefix
        self.height_mm = height_mm
        self.pictures = pictures
        self.decimals = decimals
        self.out: list[str] = []
        self.defs: list[str] = []
        self.roles: set[Role] = set()

    def number(self, value: float) -> str:
        """Return a number without a needless tail, never “-0”."""
        text = f"{value:.{self.decimals}f}"
        if "." in text:
            text = text.rstrip("0").rstrip(".")
        return "0" if text == "-0" else text

    def path(self, rings: Iterable[PointsMm], closed: bool) -> str:
        """Return path data; lengths in mm, y down."""
        parts = []
        for ring in rings:
            if len(ring) == 0:
                continue
            pairs = [f"{self.number(x)} {self.number(self.height_mm - y)}" for x, y in ring.tolist()]
            parts.append(f"M{pairs[0]}" + "".join(f"L{pair}" for pair in pairs[1:]) + ("Z" if closed else ""))
        return "".join(parts)

    def items(self, items: Iterable[Item], depth: int, frame: np.ndarray | None = None) -> None:
        """Write things in order; ``frame`` is the 3 × 3 move of the groups around them."""
        frame = np.eye(3) if frame is None else frame
        pad = "  " * depth
        for item in items:
            match item:
                case Group():
                    self.group(item, depth, frame)
                case Stroke():
                    data = self.path([_carried(line, frame) for line in item.lines], item.closed)
                    self.out.append(
                        f'{pad}<path class={quoteattr(item.style.meaning.replace(" ", "-"))} d="{data}"{self.pen(item)}/>'
                    )
                case Area():
                    data = self.path([_carried(ring, frame) for ring in item.rings], True)
                    self.out.append(f'{pad}<path d="{data}" fill="{item.colour}" fill-rule="evenodd"/>')
                case Words():
                    self.words(item, pad, frame)
                case Picture():
                    self.picture(item, pad, frame)

    def pen(self, item: Stroke) -> str:
        style = item.style
        dash = (
            f' stroke-dasharray="{" ".join(self.number(d) for d in style.dash_mm)}"' if style.dash_mm else ""
        )
        ends = ' stroke-linecap="round"' if style.round_ends else ""
        return (
            f' fill="none" stroke="{style.colour}" stroke-width="{self.number(style.width_mm)}"'
            f' stroke-linejoin="round"{dash}{ends}'
        )

    def group(self, item: Group, depth: int, frame: np.ndarray) -> None:
        inner = frame @ _frame(item.dx_mm, item.dy_mm, item.turn_deg)
        if item.clip is None:
            self.items(item.items, depth, inner)
            return
        name = f"{self.clip_prefix}clip{len(self.defs) + 1}"
        data = self.path([_carried(item.clip, frame)], True)
        self.defs.append(f'    <clipPath id="{name}"><path d="{data}"/></clipPath>')
        pad = "  " * depth
        self.out.append(f'{pad}<g clip-path="url(#{name})">')
        self.items(item.items, depth + 1, inner)
        self.out.append(f"{pad}</g>")

    def words(self, item: Words, pad: str, frame: np.ndarray) -> None:
        self.roles.add(item.role)
        face = FACES[item.role]
        x, y = _carried(np.array([[item.x_mm, item.y_mm]]), frame)[0]
        turn_deg = item.turn_deg + float(np.degrees(np.arctan2(frame[1, 0], frame[0, 0])))
        at = f'x="{self.number(x)}" y="{self.number(self.height_mm - y)}"'
        if abs(turn_deg) > 1e-9:
            centre = f"{self.number(x)} {self.number(self.height_mm - y)}"
            at += f' transform="rotate({self.number(-turn_deg)} {centre})"'
        anchor = "" if item.anchor == "start" else f' text-anchor="{item.anchor}"'
        family = quoteattr(FONT_STACK[face.family])
        self.out.append(
            f'{pad}<text {at}{anchor} font-family={family} font-weight="{face.weight}"'
            f' font-size="{self.number(item.size_mm)}" font-kerning="none" fill="{item.colour}"'
            f' xml:space="preserve">{escape(readable(item.text))}</text>'
        )

    def picture(self, item: Picture, pad: str, frame: np.ndarray) -> None:
        x, y = _carried(np.array([[item.x_mm, item.y_mm]]), frame)[0]
        box = (
            f'x="{self.number(x)}" y="{self.number(self.height_mm - y - item.height_mm)}"'
            f' width="{self.number(item.width_mm)}" height="{self.number(item.height_mm)}"'
        )
        data = self.pictures.get(item.key)
        if data is None:
            self.out.append(f'{pad}<rect {box} fill="none" stroke="#B9BCC4" stroke-width="0.25"/>')
            return
        keep = "xMidYMid meet" if item.fit == "whole" else "xMidYMid slice"
        link = f"data:{picture_type(data)};base64,{b64encode(data).decode('ascii')}"
        says = f"<title>{escape(item.says)}</title>" if item.says else ""
        self.out.append(f'{pad}<image {box} preserveAspectRatio="{keep}" href="{link}">{says}</image>')


def _frame(dx_mm: float, dy_mm: float, turn_deg: float) -> np.ndarray:
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    return np.array([[c, -s, dx_mm], [s, c, dy_mm], [0.0, 0.0, 1.0]])


def _carried(xy: PointsMm, frame: np.ndarray) -> PointsMm:
    moved: PointsMm = xy @ frame[:2, :2].T + frame[:2, 2]
    return moved
