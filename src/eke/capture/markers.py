"""Marker sheets in a picture: which markers are seen, and roughly where their corners are."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.sheet import OWN_DICTIONARY, SheetGeometry, own_sheet, own_sheet_number

__all__ = [
    "SeenSheet",
    "find_markers",
    "find_own_sheets",
    "find_sheet",
    "foreign_marks",
    "looks_mirrored",
    "number_of",
]

Array = NDArray[np.float64]

DETECT_PIXELS = 3_200_000  # markers of 20 pixels a side are read; so a 12-megapixel picture is halved
MAP_TOLERANCE = 0.02  # of the sheet's size in pixels: a marker further from the others' map is a false one
FOREIGN_DICTIONARIES = (
    "DICT_4X4_1000",
    "DICT_5X5_1000",
    "DICT_6X6_1000",
    "DICT_7X7_1000",
    "DICT_APRILTAG_36h11",
    "DICT_ARUCO_ORIGINAL",
)  # the smaller ones of each size are the beginnings of these
FOREIGN_PIXELS = 1_500_000
FOREIGN_CORRECTION = 0.3  # of the bits that a dictionary can mend
CELL_PX = 6
FRAME_SHARE = 0.9  # of a marker's black frame
MIN_OWN_MARKERS = 3  # a thousand codes are in the book, so one or two alone may be chance


@dataclass(frozen=True, slots=True, eq=False)
class SeenSheet:
    """A marker sheet that was recognised.

    ``index`` (k,) tells which markers of the geometry were seen, ``corners_px`` (k, 4, 2) where, in the
    order of their corners in the geometry; ``homography`` (3, 3) maps the sheet (mm, y down) to pixels.
    """

    geometry: SheetGeometry
    index: NDArray[np.int_]
    corners_px: Array
    homography: Array


def _dictionary(name: str) -> cv2.aruco.Dictionary:
    constant = next(n for n in dir(cv2.aruco) if n.lower() == name.lower() and n.startswith("DICT_"))
    return cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, constant))


def find_markers(
    grey: NDArray[np.uint8], dictionary: str, *, thorough: bool = False
) -> dict[int, list[Array]]:
    """Corners (4, 2) in pixels of every marker seen, by number; a number may be seen more than once.

    A large picture is searched at a smaller size first; ``thorough`` searches it whole.
    """
    height, width = grey.shape
    halvings = 0
    small = grey
    while not thorough and small.shape[0] * small.shape[1] > DETECT_PIXELS:
        small = cv2.resize(small, (small.shape[1] // 2, small.shape[0] // 2), interpolation=cv2.INTER_AREA)
        halvings += 1
    options = cv2.aruco.DetectorParameters()
    options.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    options.cornerRefinementWinSize = 3
    options.minMarkerPerimeterRate = 0.015
    longest = max(small.shape)
    options.adaptiveThreshWinSizeMin = 9
    options.adaptiveThreshWinSizeMax = max(41, int(longest / 30) | 1)
    options.adaptiveThreshWinSizeStep = max(10, (options.adaptiveThreshWinSizeMax - 9) // 3)
    corners, numbers, _ = cv2.aruco.ArucoDetector(_dictionary(dictionary), options).detectMarkers(small)
    found: dict[int, list[Array]] = {}
    if numbers is None:
        return found
    scale = np.array([width / small.shape[1], height / small.shape[0]])
    for quad, number in zip(corners, np.asarray(numbers).ravel(), strict=True):
        # pixel centres: a halved picture's pixel 0 covers 0 and 1, so its centre lies at 0.5
        full = (np.asarray(quad, dtype=np.float64).reshape(4, 2) + 0.5) * scale - 0.5
        found.setdefault(int(number), []).append(full)
    return found


def _map_sheet(geometry: SheetGeometry, seen: dict[int, list[Array]], need: int) -> SeenSheet | None:
    index, model, image = [], [], []
    for k, marker in enumerate(geometry.markers):
        for quad in seen.get(marker.number, ()):
            index.append(k)
            model.append(np.asarray(marker.corners_mm))
            image.append(quad)
    if len(index) < need:
        return None
    m, p = np.concatenate(model), np.concatenate(image)
    reach = float(max(np.ptp(p[:, 0]), np.ptp(p[:, 1])))
    limit = max(3.0, MAP_TOLERANCE * reach)
    h, mask = cv2.findHomography(m, p, cv2.RANSAC, limit, maxIters=2000, confidence=0.999)
    if h is None:
        return None
    whole = mask.reshape(-1, 4).all(axis=1)
    keep = np.flatnonzero(whole)
    if len(keep) < need or np.linalg.det(h[:2, :2]) <= 0.0:
        return None
    # a number seen twice keeps the copy that lies closest to the map
    best: dict[int, tuple[float, int]] = {}
    for row in keep:
        mapped = cv2.perspectiveTransform(model[row][None].astype(np.float64), h)[0]
        error = float(np.max(np.hypot(*(mapped - image[row]).T)))
        if index[row] not in best or error < best[index[row]][0]:
            best[index[row]] = (error, int(row))
    rows = [best[k][1] for k in sorted(best)]
    return SeenSheet(
        geometry,
        np.array([index[r] for r in rows]),
        np.array([image[r] for r in rows]),
        np.asarray(h, dtype=np.float64),
    )


def find_sheet(
    grey: NDArray[np.uint8],
    geometry: SheetGeometry,
    found: dict[tuple[str, bool], dict[int, list[Array]]] | None = None,
) -> SeenSheet | None:
    """The sheet of the given geometry, or None when too few of its markers are seen.

    ``found`` keeps what :func:`find_markers` saw, by dictionary and thoroughness, for another sheet in the same picture.
    """
    found = {} if found is None else found
    need = min(len(geometry.markers), 1 if len(geometry.markers) == 1 else 2)
    best: SeenSheet | None = None
    for thorough in (False, True):
        key = geometry.dictionary, thorough
        if key not in found:
            found[key] = find_markers(grey, geometry.dictionary, thorough=thorough)
        best = _map_sheet(geometry, found[key], need) or best
        if best is not None and len(best.index) >= min(
            len(geometry.markers), max(4, len(geometry.markers) // 3)
        ):
            break
    return best


def find_own_sheets(grey: NDArray[np.uint8], *, thorough: bool = True) -> tuple[SeenSheet, ...]:
    """All of Eke's own sheets that are seen, by number."""
    for whole in (False, True) if thorough else (False,):
        seen = find_markers(grey, OWN_DICTIONARY, thorough=whole)
        numbers = sorted({n for m in seen if (n := own_sheet_number(m)) is not None})
        found = [_map_sheet(own_sheet("a4", n), seen, MIN_OWN_MARKERS) for n in numbers]
        sheets = tuple(s for s in found if s is not None)
        if sheets:
            return sheets
    return ()


def looks_mirrored(grey: NDArray[np.uint8], geometry: SheetGeometry | None) -> bool:
    """True when the sheet is seen in the mirrored picture: somebody flipped it."""
    flipped = np.ascontiguousarray(grey[:, ::-1])
    if geometry is not None:
        return _map_sheet(geometry, find_markers(flipped, geometry.dictionary), 2) is not None
    return bool(find_own_sheets(flipped, thorough=False))


def number_of(book: cv2.aruco.Dictionary, bits: NDArray[np.uint8], correction: float) -> int | None:
    """Which marker of a dictionary a square of bits (1: white) is, any way round; None when it is none.

    The same as the dictionary's own search, which through its door takes some hundred times as long.
    """
    codes = np.asarray(book.bytesList)
    count, size = codes.shape[:2]
    # the four ways round lie one after another, whatever the array's own shape says
    told = cv2.aruco.Dictionary.getByteListFromBits(bits).reshape(4, size)[0]
    off = np.bitwise_count(codes.reshape(count, 4, size) ^ told).sum(axis=2).min(axis=1)
    number = int(np.argmin(off))
    return number if off[number] <= int(book.maxCorrectionBits * correction) else None


def foreign_marks(grey: NDArray[np.uint8]) -> Array:
    """Middles (k, 2) in pixels of all markers of the usual dictionaries, whoever printed them.

    Black-framed squares are found once and read with every dictionary, which is much quicker than six searches. Of
    a dictionary of which only one marker is seen none is told: a single one of thousands of codes may be chance.
    """
    shrink = min(1.0, math.sqrt(FOREIGN_PIXELS / max(1, grey.size)))
    small = (
        cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA) if shrink < 1.0 else grey
    )
    options = cv2.aruco.DetectorParameters()
    options.minMarkerPerimeterRate = 0.02
    book = _dictionary(OWN_DICTIONARY)
    read, _, unread = cv2.aruco.ArucoDetector(book, options).detectMarkers(small)
    squares = [np.asarray(q, dtype=np.float32).reshape(4, 2) for q in (*read, *unread)]
    seen: dict[str, list[Array]] = {}
    for name in FOREIGN_DICTIONARIES:
        book = _dictionary(name)
        cells = book.markerSize + 2
        side = CELL_PX * cells
        target = np.array([[0, 0], [side, 0], [side, side], [0, side]], np.float32)
        for square in squares:
            face = cv2.warpPerspective(small, cv2.getPerspectiveTransform(square, target), (side, side))
            _, dark = cv2.threshold(face, 0, 1, cv2.THRESH_BINARY_INV | cv2.THRESH_OTSU)
            bits = dark.reshape(cells, CELL_PX, cells, CELL_PX).mean(axis=(1, 3)) > 0.5
            frame = np.concatenate([bits[0], bits[-1], bits[1:-1, 0], bits[1:-1, -1]])
            if frame.mean() < FRAME_SHARE or np.ptp(face.astype(float)) < 30.0:
                continue
            inner = np.ascontiguousarray(1 - bits[1:-1, 1:-1].astype(np.uint8))
            if number_of(book, inner, FOREIGN_CORRECTION) is not None:
                seen.setdefault(name, []).append(square.mean(axis=0).astype(np.float64))
    told = [m for found in seen.values() if len(found) > 1 for m in found]
    return (np.array(told).reshape(-1, 2) + 0.5) / shrink - 0.5
