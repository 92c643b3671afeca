"""A flatbed scan: no lens and no tilt; the scanner's own grid is the scale.

It enters as a camera from so far above that its rays are parallel, so that everything after it (the rectified picture,
the outlines, what they are worth) is the same as for a photograph.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from eke.capture.camera import CAMERA_UNKNOWNS, Camera
from eke.capture.certainty import Certainty
from eke.capture.photo import Photo
from eke.capture.references import LEAST_DPI, MOST_DPI, Reference
from eke.errors import BadInput

__all__ = ["scan_camera"]

FAR_PX: Final = 1e6
"""Focal length of the camera that stands for a scanner: over ten thousand pixels its rays lean by half a degree, and
nothing that is scanned stands up."""
SCALE_SIGMA: Final = 0.002
"""Relative standard deviation of a scanner's scale: the carriage is driven by a belt (from memory: a tenth to
half a per cent)."""
SAME_SHARE: Final = 0.002
"""Dots along and across that differ by less are the same."""
MM_PER_INCH: Final = 25.4


def scan_camera(photo: Photo, reference: Reference) -> tuple[Camera, Certainty]:
    """Return the camera that stands for a scanner of known resolution, and how sure its lengths are.

    The resolution is what the maker says, else what the file says.

    Raises
    ------
    BadInput
        When neither says it, or it is none of a scanner.
    """
    dpi = _resolution(photo, reference)
    size = (photo.width_px, photo.height_px)
    centre = ((size[0] - 1) / 2.0, (size[1] - 1) / 2.0)
    above = np.array([0.0, 0.0, FAR_PX * MM_PER_INCH / dpi])
    camera = Camera(size, FAR_PX, centre, 0.0, 0.0, np.zeros(3), above)
    covariance = np.zeros((CAMERA_UNKNOWNS, CAMERA_UNKNOWNS))
    covariance[0, 0] = SCALE_SIGMA**2
    return camera, Certainty(camera, covariance)


def _resolution(photo: Photo, reference: Reference) -> float:
    if reference.dpi is not None:
        return reference.dpi
    if photo.dpi is None:
        raise BadInput(
            f"{photo.name[:1].upper()}{photo.name[1:]} does not say with how many dots per inch it was scanned. Look at the "
            "scanner's settings, and say it: 300, for instance.",
            kind="scan",
        )
    across, down = photo.dpi
    if abs(across / down - 1.0) > SAME_SHARE:
        raise BadInput(
            f"This was scanned with {across:.0f} dots per inch across and {down:.0f} down. Scan it with the same in both "
            "directions.",
            kind="scan",
        )
    dpi = (across + down) / 2.0
    if not LEAST_DPI <= dpi <= MOST_DPI:
        raise BadInput(
            f"The file says {dpi:g} dots per inch, which is hardly what it was scanned with. Look at the scanner's settings, "
            "and say it: 300, for instance.",
            kind="scan",
        )
    return dpi
