"""What hangs together among the few set pixels of a large mask: the cost follows their number, not the picture's size."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

__all__ = ["connected", "places_of"]

Mask = NDArray[np.uint8]
Numbers = NDArray[np.intp]


def places_of(mask: Mask | NDArray[np.bool_]) -> Numbers:
    """Flat places of the pixels that are not zero (numpy looks through truth values many times as fast as numbers)."""
    flat = np.ascontiguousarray(mask).ravel()
    return np.flatnonzero(flat if flat.dtype == np.bool_ else flat.view(np.bool_))


def connected(mask: Mask | NDArray[np.bool_]) -> tuple[Numbers, NDArray[np.int32], int]:
    """Groups of set pixels that touch by a side or a corner.

    Parameters
    ----------
    mask
        (height, width), not zero where set.

    Returns
    -------
    places, group, count
        Flat places of the set pixels in rising order, the group of each, and how many groups there are; they are
        numbered by their first pixels.
    """
    width = mask.shape[1]
    places = places_of(mask)
    column = places % width
    # the neighbours to the right and below; those to the left and above have looked themselves
    right = np.flatnonzero((np.diff(places) == 1) & (column[:-1] < width - 1))
    one, other = [right], [right + 1]
    at = np.searchsorted(places, places + (width - 1))
    for step, inside in ((width - 1, column > 0), (width, True), (width + 1, column < width - 1)):
        there = places[np.minimum(at, len(places) - 1)] == places + step
        own = np.flatnonzero(there & inside)
        one.append(own)
        other.append(at[own])
        at = at + there
    a, b = np.concatenate(one), np.concatenate(other)
    touching = coo_matrix((np.ones(len(a), np.uint8), (a, b)), shape=(len(places), len(places)))
    count, group = connected_components(touching, directed=False)
    return places, np.asarray(group, dtype=np.int32), int(count)
