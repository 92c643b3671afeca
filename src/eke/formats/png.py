"""Pages as PNG pictures, by way of PDF, so that they show what would be printed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from io import BytesIO

import pikepdf
import pypdfium2

from eke.errors import BadInput
from eke.formats.pdf import pages_to_pdf
from eke.paper.page import Page
from eke.units import MM_PER_INCH, MM_PER_POINT

__all__ = ["page_to_png", "pdf_to_png"]

MOST_PIXELS = 200_000_000
"""More than this would not open on an old laptop; the resolution is lowered instead."""


def page_to_png(page: Page, *, dpi: float = 150.0, pictures: Mapping[str, bytes] | None = None) -> bytes:
    """Return one page as a PNG of ``dpi`` pixels to the inch (lower for sheets of several metres)."""
    return next(pages_to_png([page], dpi=dpi, pictures=pictures))


def pages_to_png(
    pages: Sequence[Page], *, dpi: float = 150.0, pictures: Mapping[str, bytes] | None = None
) -> Iterator[bytes]:
    """Yield each page as a PNG."""
    yield from pdf_to_png(pages_to_pdf(pages, title="", pictures=pictures), dpi=dpi)


def pdf_to_png(data: bytes, *, dpi: float = 150.0) -> Iterator[bytes]:
    """Yield each page of a PDF as a PNG of ``dpi`` pixels to the inch.

    Raises
    ------
    BadInput
        When ``dpi`` is not positive.
    """
    if not dpi > 0:
        raise BadInput(f"A picture of {dpi:g} dots to the inch shows nothing. 150 is usual.")
    document = pypdfium2.PdfDocument(data)
    try:
        for page, unit in zip(document, _units(data), strict=True):
            width_pt, height_pt = page.get_size()
            scale = dpi / MM_PER_INCH * MM_PER_POINT * unit
            pixels = width_pt * height_pt * scale * scale
            if pixels > MOST_PIXELS:
                scale *= (MOST_PIXELS / pixels) ** 0.5
            picture = page.render(scale=scale).to_pil()
            out = BytesIO()
            picture.convert("RGB").save(out, format="PNG", dpi=(dpi, dpi), optimize=False)
            yield out.getvalue()
            page.close()
    finally:
        document.close()


def _units(data: bytes) -> list[float]:
    """Return each page's own unit in points; the renderer reports sizes in such units and ignores it."""
    with pikepdf.open(BytesIO(data)) as pdf:
        return [float(page.obj.get("/UserUnit", 1)) for page in pdf.pages]
