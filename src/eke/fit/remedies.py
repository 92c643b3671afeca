"""What a mock-up may show, in the words of the trade, and the remedies that there are for it.

Sources are named by remedy; "common practice" where none is. A *factor* says what share of the whole amount on the
body one change takes on the piece that it is made on (two halves, four quarters: angles and widths are never doubled
by cutting a piece twice). Of a seam it is what the seam takes up in all: each of two side or princess seams half of
the whole amount; of a centre seam it is what each of its two halves gives.
"""

from __future__ import annotations

from typing import Final

from eke.fit.remedies_above import ABOVE
from eke.fit.remedies_below import BELOW
from eke.fit.showing import Showing

SHOWINGS: Final[tuple[Showing, ...]] = (*ABOVE, *BELOW)
"""All of them, from the neck down."""
