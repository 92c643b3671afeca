"""Flatbed scans: the scanner's own grid is the scale. Pages are drawn by ReportLab and rendered by PDFium, not by us."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pikepdf
import pytest
from PIL import Image
from reportlab.pdfgen.canvas import Canvas
from shapely.geometry import Polygon

from eke.capture.references import Reference, parse_reference
from eke.capture.trace import trace
from eke.errors import BadInput, BadPicture
from eke.formats import images
from eke.formats.images import photo_from_bytes
from eke.formats.png import pdf_to_png

MM = 72.0 / 25.4
A4_MM = (210.0, 297.0)  # ISO 216
POCKET = [(30.0, 60.0), (160.0, 60.0), (160.0, 200.0), (95.0, 235.0), (30.0, 200.0)]
"""The outline on the page, mm from its lower left corner."""


def page(pages: int = 1) -> bytes:
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(A4_MM[0] * MM, A4_MM[1] * MM))
    for _ in range(pages):
        canvas.setLineWidth(0.7 * MM)
        path = canvas.beginPath()
        path.moveTo(POCKET[0][0] * MM, POCKET[0][1] * MM)
        for x, y in POCKET[1:]:
            path.lineTo(x * MM, y * MM)
        path.close()
        canvas.drawPath(path)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def picture(dpi: float, said: float | None) -> bytes:
    png = next(pdf_to_png(page(), dpi=dpi))
    out = io.BytesIO()
    shown = Image.open(io.BytesIO(png)).convert("RGB")
    shown.save(out, "PNG", **({} if said is None else {"dpi": (said, said)}))
    return out.getvalue()


def off_mm(outline: np.ndarray) -> float:
    """How far the found outline lies from the drawn one, both moved to their middles; nothing is turned or scaled."""
    found, drawn = Polygon(outline), Polygon(POCKET)
    shift = np.array(drawn.centroid.coords[0]) - np.array(found.centroid.coords[0])
    return Polygon(outline + shift).exterior.hausdorff_distance(drawn.exterior)


def test_a_page_from_a_scanner_is_at_true_scale_without_a_reference() -> None:
    photo = photo_from_bytes(page(), name="the page")
    assert photo.scanned
    assert photo.dpi == pytest.approx((300.0, 300.0), abs=0.2)
    found = trace(photo)
    assert found.reference == "scan"
    (piece,) = found.pieces
    assert off_mm(piece.found.outline_mm) < 0.25
    assert len(piece.found.corners_mm) == len(POCKET)
    assert 0.2 < found.uncertainty_percent < 0.8
    assert off_mm(piece.found.outline_mm) < piece.uncertainty_mm


@pytest.mark.parametrize("dpi", [150.0, 200.0])
def test_a_scanned_picture_has_the_scale_that_its_file_says(dpi: float) -> None:
    photo = photo_from_bytes(picture(dpi, dpi))
    assert not photo.scanned
    (piece,) = trace(photo, references=[Reference("scan")]).pieces
    assert off_mm(piece.found.outline_mm) < 0.3


def test_what_the_maker_says_counts_more_than_the_file() -> None:
    photo = photo_from_bytes(picture(150.0, 72.0))
    with pytest.raises(BadInput, match="hardly what it was scanned with"):
        trace(photo, references=[Reference("scan")])
    (piece,) = trace(photo, references=[Reference("scan", dpi=150.0)]).pieces
    assert off_mm(piece.found.outline_mm) < 0.3
    (smaller,) = trace(photo, references=[Reference("scan", dpi=180.0)]).pieces
    shrunk = (150.0 / 180.0) ** 2
    assert Polygon(smaller.found.outline_mm).area == pytest.approx(Polygon(POCKET).area * shrunk, rel=0.01)


def test_a_large_scan_that_is_made_smaller_keeps_its_scale(monkeypatch: pytest.MonkeyPatch) -> None:
    data = picture(200.0, 200.0)
    monkeypatch.setattr(images, "WORK_PIXELS", 2_000_000)
    photo = photo_from_bytes(data)
    assert photo.dpi == pytest.approx((100.0, 100.0), rel=1e-3)
    (piece,) = trace(photo, references=[Reference("scan")]).pieces
    assert off_mm(piece.found.outline_mm) < 0.4


def test_a_scan_without_a_resolution_is_asked_about() -> None:
    photo = photo_from_bytes(picture(150.0, None), name="the scan")
    with pytest.raises(BadInput, match="does not say with how many dots"):
        trace(photo, references=[Reference("scan")])
    uneven = replace(photo, dpi=(150.0, 300.0))
    with pytest.raises(BadInput, match="same in both"):
        trace(uneven, references=[Reference("scan")])
    with pytest.raises(BadInput, match="scale from the scanner"):
        trace(uneven, references=[Reference("scan"), Reference("a4")])


def test_pages_that_are_none() -> None:
    with pytest.raises(BadPicture, match="3 pages"):
        photo_from_bytes(page(3), name="the page")
    whole = page()
    for cut in (9, len(whole) // 3):
        with pytest.raises(BadPicture, match="damaged"):
            photo_from_bytes(whole[:cut], name="the page")
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(whole)) as pdf:
        pdf.save(out, encryption=pikepdf.Encryption(owner="o", user="u"))
    with pytest.raises(BadPicture, match="password"):
        photo_from_bytes(out.getvalue(), name="the page")


def test_a_scan_as_it_is_said() -> None:
    assert parse_reference("scan") == Reference("scan")
    assert parse_reference("scan,dpi=300") == Reference("scan", dpi=300.0)
    for wrong in ("scan,dpi=many", "scan,dpi=-3", "scan,corners=1:1", "scan,dpi=nan"):
        with pytest.raises(BadInput):
            parse_reference(wrong)
