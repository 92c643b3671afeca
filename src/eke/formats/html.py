"""The journal as one HTML file that needs nothing else: pictures, drawings and fonts are inside.

It reads well on a phone and on a table-top laptop, by day and by night, and prints.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping, Sequence
from importlib import resources

import numpy as np
from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from eke.formats.faces import FACES
from eke.formats.svg import font_style, page_to_svg, picture_type
from eke.paper.drawn import DrawnPiece, grain_items
from eke.paper.hatching import role_hatch
from eke.paper.journal import Journal
from eke.paper.page import Area, Item, Page, Stroke, moved
from eke.paper.placing import shape
from eke.paper.styles import ROLE_TINT, WHITE, LineStyle

__all__ = ["journal_html"]

TALLEST_MM = 58.0
"""Height of the largest piece on the page."""
EDGE_MM = 1.0
LINE = LineStyle("cut", 0.35)
ARROW = LineStyle("grain", 0.25)


def journal_html(
    journal: Journal,
    *,
    pictures: Mapping[str, bytes] | None = None,
    drawings: Sequence[tuple[str, Page]] = (),
) -> str:
    """Return the journal as a complete HTML document.

    Parameters
    ----------
    journal
        What it tells.
    pictures
        Bytes of its pictures by key (JPEG or PNG); one that is missing leaves its caption.
    drawings
        Further pages to show between pieces and texts, such as lay plans, each with a heading.
    """
    bytes_of = pictures or {}
    template = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True).from_string(
        (resources.files("eke.formats") / "templates" / "journal.html").read_text(encoding="utf-8")
    )
    shown = [
        {"caption": p.caption, "link": _link(bytes_of[p.key]) if p.key in bytes_of else ""}
        for p in journal.pictures
    ]
    highest = max((b[3] - b[1] for b in (piece.bounds() for piece in journal.pieces)), default=1.0)
    scale = TALLEST_MM / highest
    return template.render(
        journal=journal,
        fonts=Markup(font_style(FACES)),
        pictures=shown,
        pieces=[
            {"number": p.number, "name": p.name, "svg": _inline(_piece_page(p, scale))}
            for p in journal.pieces
        ],
        drawings=[
            {"caption": caption, "svg": _inline(page, bytes_of, number=n)}
            for n, (caption, page) in enumerate(drawings, 1)
        ],
    )


def _link(data: bytes) -> str:
    return f"data:{picture_type(data)};base64,{b64encode(data).decode('ascii')}"


def _inline(page: Page, pictures: Mapping[str, bytes] | None = None, *, number: int = 0) -> Markup:
    # the clips of one drawing must not take the names of another's: nothing else has an id
    return Markup(page_to_svg(page, pictures=pictures, carry_fonts=False, clip_prefix=f"drawing{number}-"))


def _piece_page(piece: DrawnPiece, scale: float) -> Page:
    """Return a piece at ``scale`` on a page of its own size, with tint, hatch and grain."""
    x0, y0, x1, y1 = piece.bounds()

    def small(xy: np.ndarray) -> np.ndarray:
        return moved((xy - np.array([x0, y0])) * scale, EDGE_MM, EDGE_MM)

    rings = tuple(small(ring) for ring in piece.cut)
    items: list[Item] = [
        Area(rings, ROLE_TINT.get(piece.role, WHITE)),
        *role_hatch(shape(rings), piece.role),
        Stroke(rings, LINE, closed=True),
    ]
    if piece.grain is not None:
        g = piece.grain
        (a, b), (c, d) = small(np.array([[g.x0_mm, g.y0_mm], [g.x1_mm, g.y1_mm]])).tolist()
        items += grain_items(type(g)(a, b, c, d, g.one_way), head_mm=2.4, style=ARROW)
    width, height = (x1 - x0) * scale + 2 * EDGE_MM, (y1 - y0) * scale + 2 * EDGE_MM
    return Page(width, height, tuple(items), f"{piece.number} {piece.name}")
