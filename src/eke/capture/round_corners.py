"""How round the corners of a rectangle are in the picture: a bank card's are, those of cut paper and of print are not."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera
from eke.capture.evidence import Body, BodyPose
from eke.capture.light import Light

__all__ = ["CARD_RADIUS_MM", "corner_radius_mm"]

Array = NDArray[np.float64]

RADII_MM = np.arange(0.0, 16.01, 0.25)
CARD_RADIUS_MM = (1.9, 4.6)  # 2.88 to 3.48 by ISO/IEC 7810, and what a blurred picture adds to it
LEAST_PX_PER_MM = 1.2  # a card's corner is then a pixel and a half off a sharp one
LEAST_CORNERS = 3
CORNER_STEP_SHARE = 0.35  # of the step along the edges beside it: less is no corner


def corner_radius_mm(light: Light, camera: Camera, body: Body, pose: BodyPose) -> float | None:
    """Radius of the corners of a solved rectangle, or None where the picture does not show it.

    For each radius, how much the light steps across the arc that it would draw; the best of the sum over the
    corners, each measured by the steps along the edges beside it.
    """
    ring = body.outline_mm
    px = camera.project(pose.place(ring), body.height_mm)
    per_mm = math.sqrt(abs(cv2.contourArea(px.astype(np.float32)) / cv2.contourArea(ring.astype(np.float32))))
    if per_mm < LEAST_PX_PER_MM:
        return None
    reach = max(0.35, 1.2 / per_mm)
    scores, used = np.zeros(len(RADII_MM)), 0
    best_of = []
    for i in range(4):
        to_next, to_last = ring[(i + 1) % 4] - ring[i], ring[i - 1] - ring[i]
        u, v = to_next / np.hypot(*to_next), to_last / np.hypot(*to_last)
        angle = np.radians(np.linspace(25.0, 65.0, 9))
        way = -(np.cos(angle)[:, None] * u + np.sin(angle)[:, None] * v)  # outwards over the corner
        centre = ring[i] + RADII_MM[:, None] * (u + v)
        arc = centre[:, None] + RADII_MM[:, None, None] * way[None]
        across = np.broadcast_to(way, arc.shape)
        step = _steps(light, camera, pose, body, arc, across, reach)
        along = np.linspace(8.0, 14.0, 9)[:, None]
        sides = np.stack([ring[i] + along * u, ring[i] + along * v])
        beside = _steps(
            light, camera, pose, body, sides, np.stack([np.tile(-v, (9, 1)), np.tile(-u, (9, 1))]), reach
        )
        level = float(np.abs(beside).mean())
        score = np.abs(step) / max(level, 1e-6)
        if level < 0.004 or not np.isfinite(score).all() or score.max() < CORNER_STEP_SHARE:
            continue
        used += 1
        scores += np.minimum(score, 1.2)
        best_of.append(float(RADII_MM[int(np.argmax(score))]))
    if used < LEAST_CORNERS:
        return None
    whole = float(RADII_MM[int(np.argmax(scores))])
    agree = sum(abs(r - whole) < 1.0 + 0.2 * whole for r in best_of)
    return whole if agree >= LEAST_CORNERS - 1 else None


def _steps(
    light: Light, camera: Camera, pose: BodyPose, body: Body, at: Array, way: Array, reach_mm: float
) -> Array:
    """Light outside less light inside across (k, n, 2) body points along unit ways, mean over n: (k,)."""
    values = []
    for shift in (-reach_mm, reach_mm):
        p = camera.project(pose.place((at + shift * way).reshape(-1, 2)), body.height_mm).astype(np.float32)
        values.append(
            cv2.remap(light.luma, p[None], None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[0]
        )
    return np.asarray((values[1] - values[0]).reshape(at.shape[:2]).mean(axis=1), dtype=np.float64)
