"""A page from a scanner that comes as PDF: drawn once, at a resolution that is known because the page has a size."""

from __future__ import annotations

from io import BytesIO
from typing import Final

import numpy as np
import pikepdf
import pypdfium2

from eke.capture.photo import Photo
from eke.errors import BadPicture
from eke.units import MM_PER_INCH, MM_PER_POINT

__all__ = ["scanned_page"]

DPI: Final = 300.0
"""Dots per inch at which a page is drawn: a pencil line is then six dots wide."""


def scanned_page(data: bytes, *, name: str, most_pixels: int) -> Photo:
    """Return the one page of a PDF as a scan.

    Raises
    ------
    BadPicture
        When it is damaged, locked, or has not exactly one page; the sentence says which.
    """
    try:
        with pikepdf.open(BytesIO(data)) as whole:
            count = len(whole.pages)
            unit = float(whole.pages[0].obj.get("/UserUnit", 1)) if count == 1 else 1.0
        page = _drawn(data, unit, name, most_pixels) if count == 1 else None
    except pikepdf.PasswordError:
        raise BadPicture(
            f"{name} is locked with a password. Save it without one, or scan it as a picture.", name=name
        ) from None
    except (pikepdf.PdfError, pypdfium2.PdfiumError, ValueError, OverflowError, MemoryError):
        raise BadPicture(
            f"{name} is damaged or was cut short on its way. Copy it from the scanner again.", name=name
        ) from None
    if page is None:
        raise BadPicture(
            f"{name} has {count} pages. Save the page that you want by itself, or scan it as a picture.",
            name=name,
        )
    return page


def _drawn(data: bytes, unit: float, name: str, most_pixels: int) -> Photo:
    document = pypdfium2.PdfDocument(data)
    try:
        page = document[0]
        width_in, height_in = (side * unit * MM_PER_POINT / MM_PER_INCH for side in page.get_size())
        dpi = min(DPI, (most_pixels / (width_in * height_in)) ** 0.5)
        picture = page.render(scale=dpi / MM_PER_INCH * MM_PER_POINT * unit).to_pil().convert("RGB")
        page.close()
    finally:
        document.close()
    # whole pixels: what the page really has of them to the inch
    exact = (picture.width / width_in, picture.height / height_in)
    pixels = np.ascontiguousarray(np.asarray(picture, dtype=np.uint8))
    return Photo(pixels_rgb=pixels, name=name, dpi=exact, scanned=True)
