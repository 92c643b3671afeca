"""The picture as seen from straight above, made anew from the photograph and the camera that was kept."""

from __future__ import annotations

import math
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.actions.found_camera import camera_from
from eke.actions.photographs import Photograph, photograph
from eke.actions.room import Room
from eke.changes import digest
from eke.errors import BadInput, NotFound
from eke.formats.images import encode_jpeg, photo_from_bytes, thumbnail

LEAST_PX: Final = 64
MOST_PX: Final = 4096
"""Larger than any screen shows; a whole photograph is at most this long."""
CELL: Final = 16
"""The camera is asked at every 16th pixel; straight between them is off by less than a hundredth of a pixel."""
ROWS: Final = 256
"""Rows drawn at a time, so that the maps stay small."""


def longest_side(longest_px: int) -> int:
    """Return a sensible longest side in pixels. Raises :class:`BadInput` for what is none."""
    if longest_px < 1:
        raise BadInput("A picture is at least one pixel long.")
    return min(MOST_PX, max(LEAST_PX, longest_px))


def shown_photo(room: Room, sha256: str, longest_px: int) -> bytes:
    """Return a photograph of the workroom as an upright JPEG of at most that size. Raises :class:`NotFound`."""
    longest = longest_side(longest_px)

    def make() -> bytes:
        with room.store.read() as reader:
            name, data = reader.photo(sha256).name, reader.photo_bytes(sha256)
        picture = photo_from_bytes(data, name=f"“{name}”")
        return encode_jpeg(thumbnail(picture.pixels_rgb, longest_px=longest))

    return room.pictures.of((sha256, longest), make)


def straightened(room: Room, photograph_id: str, longest_px: int) -> bytes:
    """Return a traced photograph from straight above as JPEG; it covers ``box_mm`` of what was found.

    Raises
    ------
    NotFound
        When it has not been traced.
    """
    longest = longest_side(longest_px)
    picture = photograph(room, photograph_id)
    return room.pictures.of(
        (straightened_word(picture), longest), lambda: _from_above(room, picture, longest)
    )


def straightened_word(picture: Photograph) -> str:
    """Return a word for what a straightened picture is made of. Raises :class:`NotFound` before it was traced."""
    if picture.found is None:
        raise NotFound(
            f"“{picture.name}” has not been traced yet, so it cannot be straightened. Trace it first."
        )
    return digest([picture.photo, picture.found["camera"], picture.found["box_mm"]])


def _from_above(room: Room, picture: Photograph, longest: int) -> bytes:
    found: Any = picture.found
    with room.store.read() as reader:
        data = reader.photo_bytes(picture.photo)
    camera = camera_from(found["camera"])
    left, bottom, width_mm, height_mm = found["box_mm"]
    step = max(found["mm_per_px"], max(width_mm, height_mm) / longest)
    columns, rows = max(1, round(width_mm / step)), max(1, round(height_mm / step))
    pixels = photo_from_bytes(data, name=f"“{picture.name}”").pixels_rgb
    # shrunk first by whole steps, so that every pixel of the photograph has its share in the smaller picture
    shrink = max(1, math.floor(step / found["mm_per_px"]))
    source = thumbnail(pixels, longest_px=math.ceil(max(pixels.shape[:2]) / shrink))
    fx, fy = source.shape[1] / pixels.shape[1], source.shape[0] / pixels.shape[0]
    x_mm, y_mm = width_mm / columns, height_mm / rows
    node_x, node_y = np.arange(0, columns + CELL, CELL), np.arange(0, rows + CELL, CELL)
    gx, gy = np.meshgrid(left + (node_x + 0.5) * x_mm, bottom + height_mm - (node_y + 0.5) * y_mm)
    px = np.nan_to_num(camera.project(np.column_stack([gx.ravel(), gy.ravel()])), nan=-1e6)
    nodes = ((px + 0.5) * (fx, fy) - 0.5).reshape(len(node_y), len(node_x), 2)
    out = np.zeros((rows, columns, 3), np.uint8)
    for top in range(0, rows, ROWS):
        at = _between(nodes, columns, top, min(ROWS, rows - top))
        out[top : top + len(at)] = cv2.remap(
            source, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT
        )
    return encode_jpeg(out)


def _between(nodes: NDArray[np.float64], columns: int, top: int, rows: int) -> NDArray[np.float32]:
    """Places for every pixel of some rows, straight between the nodes of the grid."""
    y, x = np.arange(top, top + rows) / CELL, np.arange(columns) / CELL
    iy, ix = y.astype(int), x.astype(int)
    wy, wx = (y - iy)[:, None, None], (x - ix)[None, :, None]
    lines = nodes[iy] * (1.0 - wy) + nodes[iy + 1] * wy
    return np.asarray(lines[:, ix] * (1.0 - wx) + lines[:, ix + 1] * wx, dtype=np.float32)
