"""Numbers as they leave: a thousandth of a millimetre is finer than any pencil, and half the bytes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final, cast

import numpy as np

DIGITS: Final = 3


def mm(value: float) -> float:
    """Return a length or an angle, rounded. Never -0."""
    return round(float(value), DIGITS) + 0.0


def mm_or_none(value: float | None) -> float | None:
    """The same for something that may be missing."""
    return None if value is None else mm(value)


def point(pt: Iterable[float]) -> tuple[float, float]:
    """Return a point, rounded."""
    x, y = pt
    return (mm(x), mm(y))


def points(rows: Any, digits: int = DIGITS) -> list[tuple[float, float]]:
    """Return points ``(n, 2)``, rounded."""
    array = np.round(np.asarray(rows, dtype=np.float64).reshape(-1, 2), digits) + 0.0
    return cast(list[tuple[float, float]], [tuple(row) for row in array.tolist()])
