"""The camera of a tracing as plain values, in the document ``eke-found-1``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from eke.capture.camera import Camera

__all__ = ["camera_from", "camera_json"]


def camera_json(camera: Camera) -> dict[str, Any]:
    """Return a camera as plain values."""
    return {
        "size_px": list(camera.size_px),
        "focal_px": float(camera.focal_px),
        "centre_px": [float(v) for v in camera.centre_px],
        "k1": float(camera.k1),
        "k2": float(camera.k2),
        "rotation_rad": [float(v) for v in camera.rotation_rad],
        "translation_mm": [float(v) for v in camera.translation_mm],
        "p1": float(camera.p1),
        "p2": float(camera.p2),
    }


def camera_from(value: Mapping[str, Any]) -> Camera:
    """Read a camera that :func:`camera_json` wrote; one of an older tracing has no tangential terms."""
    width, height = value["size_px"]
    x, y = value["centre_px"]
    return Camera(
        (int(width), int(height)), float(value["focal_px"]), (float(x), float(y)), float(value["k1"]),
        float(value["k2"]), np.array(value["rotation_rad"]), np.array(value["translation_mm"]),
        float(value.get("p1", 0.0)), float(value.get("p2", 0.0)),
    )  # fmt: skip
