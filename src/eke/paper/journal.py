"""The journal: a garment's story on one page, with pictures, pieces, changes, cloth and cost.

The same :class:`Journal` feeds the page for printing (here) and the page for a browser
(:mod:`eke.formats.html`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from eke.paper.drawn import DrawnPiece
from eke.paper.flow import BODY_MM, HEADING_MM, INNER_MM, LEADING, TITLE_MM, shortened, stitches, wrap
from eke.paper.hatching import role_hatch
from eke.paper.page import Area, Group, Item, Page, Picture, Stroke, TextMetrics, Words, moved, rectangle
from eke.paper.placing import shape
from eke.paper.sizes import MARGIN_MM, Paper
from eke.paper.styles import FRAME, INK, QUIET, ROLE_TINT, WHITE, LineStyle

GUTTER_MM: Final = 8.0
PIECE_LINE: Final = LineStyle("cut", 0.25)


@dataclass(frozen=True, slots=True)
class JournalPicture:
    """A picture by its key, with what is seen in it."""

    key: str
    caption: str


@dataclass(frozen=True, slots=True)
class JournalCloth:
    """A cloth used: name, where it came from, how much of it, what it cost."""

    name: str
    origin: str = ""
    used: str = ""
    cost: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Journal:
    """Everything the journal tells. Texts are ready to read; amounts carry their currency."""

    title: str
    under: str = ""
    pictures: tuple[JournalPicture, ...] = ()
    pieces: tuple[DrawnPiece, ...] = ()
    changes: tuple[str, ...] = ()
    cloths: tuple[JournalCloth, ...] = ()
    costs: tuple[tuple[str, str], ...] = ()
    left_over: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def journal_page(journal: Journal, paper: Paper, metrics: TextMetrics) -> Page:
    """Return the journal as one page; what does not fit is counted, not squeezed."""
    left, width = INNER_MM, paper.width_mm - 2 * INNER_MM
    items: list[Item] = []
    y = paper.height_mm - INNER_MM - TITLE_MM
    items.append(
        Words(shortened(journal.title, "title", TITLE_MM, width, metrics), left, y, TITLE_MM, "title")
    )
    if journal.under:
        y -= BODY_MM * LEADING + 1.0
        under = shortened(journal.under, "sentence", BODY_MM, width, metrics)
        items.append(Words(under, left, y, BODY_MM, "sentence", colour=QUIET))
    y -= 3.4
    items.append(stitches(left, left + width, y))
    y -= 5.0
    if journal.pictures:
        y = _pictures(journal.pictures, items, left, y, width, metrics)
    floor = MARGIN_MM + 8.0
    columns_w = (width - GUTTER_MM) / 2
    if journal.pieces:
        high = min(62.0, (y - floor) * 0.4)
        row, high = _piece_row(journal.pieces, width, high, metrics)
        items.append(Group(row, left, y - high))
        y -= high + 4.0
    first = _Column(items, left, y, columns_w, floor, metrics)
    first.list("What was changed", journal.changes, numbered=True)
    second = _Column(items, left + columns_w + GUTTER_MM, y, columns_w, floor, metrics)
    second.pairs(
        "Cloth",
        [(c.name, c.cost, ", ".join(t for t in (c.origin, c.used) if t)) for c in journal.cloths],
    )
    second.pairs("Cost", [(what, amount, "") for what, amount in journal.costs], total=True)
    rest = first if first.y_mm > second.y_mm else second
    rest.list("Left over", journal.left_over)
    rest = first if first.y_mm > second.y_mm else second
    rest.list("Notes", journal.notes)
    return Page(paper.width_mm, paper.height_mm, tuple(items), f"Journal: {journal.title}")


def _pictures(
    pictures: Sequence[JournalPicture],
    items: list[Item],
    left: float,
    y: float,
    width: float,
    metrics: TextMetrics,
) -> float:
    """Put up to four pictures side by side with their captions; return where the next thing starts."""
    shown = pictures[:4]
    gap = 4.0
    each = (width - gap * (len(shown) - 1)) / len(shown)
    high = min(60.0, each * 0.75)
    deepest = 0.0
    for n, picture in enumerate(shown):
        x = left + n * (each + gap)
        items.append(Picture(picture.key, x, y - high, each, high, "fill", picture.caption))
        items.append(Stroke((rectangle(x, y - high, each, high),), FRAME, closed=True))
        lines = wrap(picture.caption, "sentence", BODY_MM, each, metrics)[:3]
        for k, line in enumerate(lines):
            base = y - high - BODY_MM * (1.2 + LEADING * k)
            items.append(Words(line, x, base, BODY_MM, "sentence", colour=QUIET))
        deepest = max(deepest, len(lines) * BODY_MM * LEADING)
    return y - high - deepest - 5.0


def _piece_row(
    pieces: Sequence[DrawnPiece], width: float, height: float, metrics: TextMetrics
) -> tuple[tuple[Item, ...], float]:
    """Return the pieces in a row, all at one scale, on a common line, numbers below; and the height they take.

    The lower left of the row is the origin; it is at most ``width`` wide and ``height`` high.
    """
    gap = 4.0
    pieces = pieces[: max(1, int(width / (gap + metrics.width_mm("00", "strong", BODY_MM))))]
    label = BODY_MM * LEADING + 1.0
    boxes = [piece.bounds() for piece in pieces]
    wide, high = sum(b[2] - b[0] for b in boxes), max(b[3] - b[1] for b in boxes)
    numbers = [metrics.width_mm(piece.number, "strong", BODY_MM) for piece in pieces]
    scale = min((width - gap * (len(pieces) - 1)) / max(wide, 1e-9), (height - label) / max(high, 1e-9))
    # small pieces still need room for their number
    room = [max((b[2] - b[0]) * scale, n) for b, n in zip(boxes, numbers, strict=True)]
    over = sum(room) + gap * (len(pieces) - 1)
    if over > width:
        scale *= max(0.2, (width - gap * (len(pieces) - 1)) / over * 0.95)
        room = [max((b[2] - b[0]) * scale, n) for b, n in zip(boxes, numbers, strict=True)]
    x, low = 0.0, 0.0
    items: list[Item] = []
    for piece, box, wide_mm in zip(pieces, boxes, room, strict=True):
        shift = np.array([x + (wide_mm - (box[2] - box[0]) * scale) / 2, low + label])
        rings = tuple(
            moved((ring - np.array(box[:2])) * scale, float(shift[0]), float(shift[1])) for ring in piece.cut
        )
        items.append(Area(rings, ROLE_TINT.get(piece.role, WHITE)))
        items += role_hatch(shape(rings), piece.role)
        items.append(Stroke(rings, PIECE_LINE, closed=True))
        items.append(Words(piece.number, x + wide_mm / 2, low, BODY_MM, "strong", "middle"))
        x += wide_mm + gap
    return tuple(items), label + high * scale


class _Column:
    """A pen for one column; what has no room is replaced by how many are left out."""

    def __init__(
        self,
        items: list[Item],
        x_mm: float,
        y_mm: float,
        width_mm: float,
        floor_mm: float,
        metrics: TextMetrics,
    ) -> None:
        self.items, self.x_mm, self.y_mm = items, x_mm, y_mm
        self.width_mm, self.floor_mm, self.metrics = width_mm, floor_mm, metrics

    def _heading(self, text: str) -> bool:
        if self.y_mm - HEADING_MM - 3 * BODY_MM < self.floor_mm:
            return False
        self.y_mm -= HEADING_MM
        self.items.append(Words(text, self.x_mm, self.y_mm, HEADING_MM, "title"))
        self.y_mm -= 2.4
        return True

    def _more(self, count: int) -> None:
        self.y_mm -= BODY_MM
        self.items.append(Words(f"and {count} more", self.x_mm, self.y_mm, BODY_MM, "measure", colour=QUIET))
        self.y_mm -= 4.0

    def list(self, heading: str, texts: Sequence[str], *, numbered: bool = False) -> None:
        """Write sentences under a heading."""
        if not texts or not self._heading(heading):
            return
        for number, text in enumerate(texts, 1):
            indent = 8.0 if numbered else 0.0
            lines = wrap(text, "sentence", BODY_MM, self.width_mm - indent, self.metrics)
            spare = BODY_MM * LEADING if number < len(texts) else 0.0
            if self.y_mm - len(lines) * BODY_MM * LEADING - spare < self.floor_mm:
                self._more(len(texts) - number + 1)
                return
            if numbered:
                self.items.append(
                    Words(str(number), self.x_mm + 5.0, self.y_mm - BODY_MM, BODY_MM, "strong", "end")
                )
            for line in lines:
                self.y_mm -= BODY_MM
                self.items.append(Words(line, self.x_mm + indent, self.y_mm, BODY_MM, "sentence"))
                self.y_mm -= BODY_MM * (LEADING - 1)
            self.y_mm -= 1.2
        self.y_mm -= 4.0

    def pairs(self, heading: str, rows: Sequence[tuple[str, str, str]], *, total: bool = False) -> None:
        """Write names with amounts at the right and a quiet line below; the last may be a sum."""
        if not rows or not self._heading(heading):
            return
        for number, (name, amount, below) in enumerate(rows, 1):
            role = "strong" if total and number == len(rows) and len(rows) > 1 else "measure"
            room = self.width_mm - self.metrics.width_mm(amount, role, BODY_MM) - 3.0  # type: ignore[arg-type]
            lines = wrap(name, role, BODY_MM, room, self.metrics)  # type: ignore[arg-type]
            quiet = wrap(below, "sentence", BODY_MM, self.width_mm, self.metrics) if below else []
            spare = BODY_MM * LEADING if number < len(rows) else 0.0
            if self.y_mm - (len(lines) + len(quiet)) * BODY_MM * LEADING - spare < self.floor_mm:
                self._more(len(rows) - number + 1)
                return
            right = self.x_mm + self.width_mm
            self.items.append(Words(amount, right, self.y_mm - BODY_MM, BODY_MM, role, "end"))  # type: ignore[arg-type]
            for line, which, colour in [(t, role, INK) for t in lines] + [
                (t, "sentence", QUIET) for t in quiet
            ]:
                self.y_mm -= BODY_MM
                self.items.append(Words(line, self.x_mm, self.y_mm, BODY_MM, which, colour=colour))  # type: ignore[arg-type]
                self.y_mm -= BODY_MM * (LEADING - 1)
            self.y_mm -= 1.0
        self.y_mm -= 4.0
