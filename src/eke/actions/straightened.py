"""The picture as seen from straight above, made anew from the photograph and the camera that was kept."""

from __future__ import annotations

import math
from typing import Final

import cv2
import numpy as np

from eke.actions.found import camera_from
from eke.actions.photographs import photograph
from eke.actions.room import Room
from eke.errors import BadInput, NotFound
from eke.formats.images import encode_jpeg, photo_from_bytes, thumbnail

LEAST_PX: Final = 64
MOST_PX: Final = 4096
"""Larger than any screen shows; a whole photograph is at most this long."""
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
    with room.store.read() as reader:
        picture = photograph(room, photograph_id, reader)
        if picture.found is None:
            raise NotFound(
                f"“{picture.name}” has not been traced yet, so it cannot be straightened. Trace it first."
            )
        data = reader.photo_bytes(picture.photo)
    camera = camera_from(picture.found["camera"])
    left, bottom, width_mm, height_mm = picture.found["box_mm"]
    step = max(picture.found["mm_per_px"], max(width_mm, height_mm) / longest_side(longest_px))
    columns, rows = max(1, round(width_mm / step)), max(1, round(height_mm / step))
    pixels = photo_from_bytes(data, name=f"“{picture.name}”").pixels_rgb
    # shrunk first by whole steps, so that every pixel of the photograph has its share in the smaller picture
    shrink = max(1, math.floor(step / picture.found["mm_per_px"]))
    source = thumbnail(pixels, longest_px=math.ceil(max(pixels.shape[:2]) / shrink))
    fx, fy = source.shape[1] / pixels.shape[1], source.shape[0] / pixels.shape[0]
    out = np.zeros((rows, columns, 3), np.uint8)
    x_mm = left + (np.arange(columns) + 0.5) * width_mm / columns
    for top in range(0, rows, ROWS):
        count = min(ROWS, rows - top)
        y_mm = bottom + height_mm - (np.arange(top, top + count) + 0.5) * height_mm / rows
        gx, gy = np.meshgrid(x_mm, y_mm)
        px = np.nan_to_num(camera.project(np.column_stack([gx.ravel(), gy.ravel()])), nan=-1e6)
        map_x = ((px[:, 0] + 0.5) * fx - 0.5).reshape(count, columns).astype(np.float32)
        map_y = ((px[:, 1] + 0.5) * fy - 0.5).reshape(count, columns).astype(np.float32)
        out[top : top + count] = cv2.remap(
            source, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT
        )
    return encode_jpeg(out)
