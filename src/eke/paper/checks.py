"""What proves a print's scale: the test square, and a short scale on every page."""

from __future__ import annotations

from typing import Final

from eke.paper.page import LEAST_SIZE_MM, Item, Stroke, TextMetrics, Words, rectangle, segment
from eke.paper.styles import CHECK, QUIET, LineStyle

TEST_SQUARE_MM: Final = 100.0
CHECK_SCALE_MM: Final = 50.0
TOLERANCE_MM: Final = 0.5
"""What a maker can read off a ruler. At 100 mm it bounds the scale to half a percent: 3 mm in 600."""

FINE: Final = LineStyle("check", 0.18)


def test_square(x_mm: float, y_mm: float, metrics: TextMetrics) -> tuple[Item, ...]:
    """Return a square of exactly 100 mm with its lower left corner at (x, y), ticked every 10 mm inside.

    The measure is from the middle of one line to the middle of the opposite one.
    """
    side = TEST_SQUARE_MM
    ticks = []
    for k in range(1, 10):
        reach = 4.0 if k == 5 else 2.5
        ticks += [
            segment(x_mm + 10 * k, y_mm, x_mm + 10 * k, y_mm + reach),
            segment(x_mm, y_mm + 10 * k, x_mm + reach, y_mm + 10 * k),
        ]
    middle = x_mm + side / 2
    size = LEAST_SIZE_MM
    del metrics
    return (
        Stroke((rectangle(x_mm, y_mm, side, side),), CHECK, closed=True),
        Stroke(tuple(ticks), FINE),
        Words("100 mm", middle, y_mm + 7.0, size, "strong", "middle"),
        Words("100 mm", x_mm + 11.0, y_mm + side / 2, size, "strong", "middle", 90.0),
        Words("Measure me first.", middle, y_mm + 62.0, size * 1.3, "title", "middle"),
        Words("Each side is 100 mm", middle, y_mm + 53.0, size, "sentence", "middle"),
        Words("(3 15⁄16 in) from line to line.", middle, y_mm + 47.2, size, "sentence", "middle"),
        Words("Half a millimetre off is good.", middle, y_mm + 38.0, size, "sentence", "middle"),
        Words("More: print again at 100 %,", middle, y_mm + 32.2, size, "sentence", "middle"),
        Words("with “fit to page” off.", middle, y_mm + 26.4, size, "sentence", "middle"),
    )


def check_scale(x_mm: float, y_mm: float) -> tuple[Item, ...]:
    """Return a scale of 50 mm standing on (x, y), ticked every 10 mm, and its measure to the left of it."""
    length = CHECK_SCALE_MM
    ticks = [segment(x_mm, y_mm, x_mm + length, y_mm)]
    for k in range(6):
        reach = 3.2 if k in (0, 5) else 1.8
        ticks.append(segment(x_mm + 10 * k, y_mm, x_mm + 10 * k, y_mm + reach))
    return (
        Stroke(tuple(ticks), FINE),
        Words("50 mm", x_mm - 2.0, y_mm, LEAST_SIZE_MM, "measure", "end", colour=QUIET),
    )
