"""Pages as PDF, true to scale: one page plan, one page; fonts inside; the same plan gives the same bytes.

A PDF page may be at most 14 400 units of its own wide or high (ISO 32000-1, annex C.2: 200 inches, 5.08 m, at
the usual unit of 1/72 inch). Larger sheets are written with a larger unit (``UserUnit``), which viewers and
printers multiply back.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from io import BytesIO
from typing import Any, Final

import pikepdf
from reportlab.lib.colors import HexColor
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from eke.errors import BadInput
from eke.formats.faces import FACES, FontMetrics, face_bytes, runs
from eke.paper.page import Area, Group, Item, Page, Picture, PointsMm, Stroke, Words
from eke.units import MM_PER_POINT

__all__ = ["pages_to_pdf"]

POINTS_PER_MM: Final = 1.0 / MM_PER_POINT
LARGEST_UNITS: Final = 14_400.0
"""The largest side of a page in its own units (ISO 32000-1, annex C.2)."""


def pages_to_pdf(
    pages: Sequence[Page], *, title: str, subject: str = "", pictures: Mapping[str, bytes] | None = None
) -> bytes:
    """Return the pages as one PDF file.

    Parameters
    ----------
    pages
        Plans in order. Pages may differ in size.
    title, subject
        What a viewer shows as the document's title and subject.
    pictures
        Bytes of the pictures on the pages, by key (JPEG or PNG); a missing one is drawn as an empty frame.

    Raises
    ------
    BadInput
        When there is no page.
    """
    if not pages:
        raise BadInput("There is no page to print: nothing was chosen.")
    _register_faces()
    buffer = BytesIO()
    # One unit for the file: reportlab writes a page at a time, and mixing units would hide a slip.
    unit = max(1.0, max(max(p.width_mm, p.height_mm) for p in pages) * POINTS_PER_MM / LARGEST_UNITS)
    scale = POINTS_PER_MM / unit
    canvas: Any = Canvas(buffer, invariant=1, pageCompression=1, lang="en-GB")
    canvas.setTitle(title)
    canvas.setAuthor("Eke")
    canvas.setCreator("Eke")
    canvas.setProducer("Eke")
    if subject:
        canvas.setSubject(subject)
    canvas.setViewerPreference("PrintScaling", "None")
    canvas.setViewerPreference("DisplayDocTitle", "true")
    writer = _Writer(canvas, pictures or {})
    for number, page in enumerate(pages):
        canvas.setPageSize((page.width_mm * scale, page.height_mm * scale))
        if page.name:
            canvas.bookmarkPage(f"page{number}")
            canvas.addOutlineEntry(page.name, f"page{number}", 0)
        canvas.scale(scale, scale)
        writer.items(page.items)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue() if unit == 1.0 else _with_unit(buffer.getvalue(), unit)


@cache
def _register_faces() -> None:
    """Tell reportlab our faces, once: its table of fonts is its own, shared by all documents."""
    for role, face in FACES.items():
        pdfmetrics.registerFont(TTFont(face.file, BytesIO(face_bytes(role))))


def _with_unit(data: bytes, unit: float) -> bytes:
    """Return the file with ``UserUnit`` set on all pages."""
    out = BytesIO()
    with pikepdf.open(BytesIO(data)) as pdf:
        for page in pdf.pages:
            page.obj["/UserUnit"] = pikepdf.Object.parse(f"{unit:.6f}".encode("ascii"))
        pdf.save(out, min_version="1.6", deterministic_id=True)
    return out.getvalue()


@cache
def _colour(hex_text: str) -> Any:
    return HexColor(hex_text)


class _Writer:
    """Draws items on a canvas that has been scaled to mm."""

    def __init__(self, canvas: Any, pictures: Mapping[str, bytes]) -> None:
        self.canvas = canvas
        self.pictures = pictures
        self.metrics = FontMetrics()
        self.readers: dict[str, ImageReader] = {}

    def items(self, items: Iterable[Item]) -> None:
        for item in items:
            match item:
                case Group():
                    self.group(item)
                case Stroke():
                    self.stroke(item)
                case Area():
                    self.canvas.setFillColor(_colour(item.colour))
                    self.path(item.rings, True, "f*")
                case Words():
                    self.words(item)
                case Picture():
                    self.picture(item)

    def path(self, rings: Iterable[PointsMm], closed: bool, paint: str) -> None:
        """Write a path and the operator that paints or clips it (ISO 32000-1, 8.5.2 and 8.5.3).

        Written out here since reportlab formats every point by itself, which takes most of the time of a page.
        """
        parts: list[str] = []
        for ring in rings:
            if len(ring) == 0:
                continue
            pairs = [f"{x:.4f} {y:.4f}" for x, y in ring.tolist()]
            parts.append(f"{pairs[0]} m")
            if len(pairs) > 1:
                parts.append(" l ".join(pairs[1:]) + " l")
            if closed:
                parts.append("h")
        if parts:
            self.canvas.addLiteral(" ".join([*parts, paint]))

    def stroke(self, item: Stroke) -> None:
        canvas, style = self.canvas, item.style
        canvas.setStrokeColor(_colour(style.colour))
        canvas.setLineWidth(style.width_mm)
        canvas.setLineJoin(1)
        canvas.setLineCap(1 if style.round_ends else 0)
        canvas.setDash(list(style.dash_mm))
        self.path(item.lines, item.closed, "S")

    def group(self, item: Group) -> None:
        canvas = self.canvas
        canvas.saveState()
        if item.clip is not None:
            self.path([item.clip], True, "W n")
        if item.dx_mm or item.dy_mm:
            canvas.translate(item.dx_mm, item.dy_mm)
        if item.turn_deg:
            canvas.rotate(item.turn_deg)
        self.items(item.items)
        canvas.restoreState()

    def words(self, item: Words) -> None:
        canvas = self.canvas
        stretches = runs(item.text, item.role)
        if not stretches:
            return
        width = self.metrics.width_mm(item.text, item.role, item.size_mm)
        left = {"start": 0.0, "middle": -width / 2, "end": -width}[item.anchor]
        canvas.saveState()
        canvas.translate(item.x_mm, item.y_mm)
        if item.turn_deg:
            canvas.rotate(item.turn_deg)
        text = canvas.beginText(left, 0)
        text.setFillColor(_colour(item.colour))
        for role, stretch in stretches:
            text.setFont(FACES[role].file, item.size_mm)
            text.textOut(stretch)
        canvas.drawText(text)
        canvas.restoreState()

    def picture(self, item: Picture) -> None:
        canvas = self.canvas
        data = self.pictures.get(item.key)
        if data is None:
            canvas.setStrokeColor(_colour("#B9BCC4"))
            canvas.setLineWidth(0.25)
            canvas.setDash([])
            canvas.rect(item.x_mm, item.y_mm, item.width_mm, item.height_mm, stroke=1, fill=0)
            return
        reader = self.readers.setdefault(item.key, ImageReader(BytesIO(data)))
        wide, high = reader.getSize()
        ratios = (item.width_mm / wide, item.height_mm / high)
        ratio = min(ratios) if item.fit == "whole" else max(ratios)
        w, h = wide * ratio, high * ratio
        x = item.x_mm + (item.width_mm - w) / 2
        y = item.y_mm + (item.height_mm - h) / 2
        canvas.saveState()
        if item.fit == "fill":
            box = canvas.beginPath()
            box.rect(item.x_mm, item.y_mm, item.width_mm, item.height_mm)
            canvas.clipPath(box, stroke=0, fill=0)
        canvas.drawImage(reader, x, y, w, h, mask="auto")
        canvas.restoreState()
