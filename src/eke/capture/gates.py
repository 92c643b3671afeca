"""What a solution has to pass before a scale is promised."""

from __future__ import annotations

import math
from collections.abc import Sequence

from eke.capture.evidence import LensPrior
from eke.capture.rounds import WARN_CHI2, State
from eke.capture.seeds import LEAST_HEIGHT_MM, MAX_TILT_DEG, MOST_HEIGHT_MM
from eke.errors import NotTrustworthy

MAX_FOCAL_PULL = 4.5  # standard deviations of the EXIF value
MAX_CHI2 = 40.0


def pass_gates(lens: LensPrior, state: State, notes: list[str]) -> None:
    """Refuse a solution that cannot be trusted; add to ``notes`` what makes it less certain."""
    solution = state.solution
    camera = solution.camera
    if camera.tilt_deg > MAX_TILT_DEG:
        raise NotTrustworthy(
            f"The camera was tilted by {camera.tilt_deg:.0f} degrees; up to {MAX_TILT_DEG:.0f} can be measured. Hold it "
            "level above the paper and take the picture again.",
            reason="tilt",
        )
    height = float(camera.position_mm()[2])
    if not LEAST_HEIGHT_MM <= height <= MOST_HEIGHT_MM:
        raise NotTrustworthy(
            f"By the reference that was named the camera would have been {height / 1000.0:.2f} m above the paper, where "
            "nobody holds it. Is the right thing named, and in millimetres?",
            reason="height",
        )
    if lens.focal_px:
        pull = abs(math.log(solution.focal_ratio)) / lens.focal_sigma
        if pull > MAX_FOCAL_PULL:
            raise NotTrustworthy(
                f"The reference and the lens do not fit each other: the picture asks for a focal length "
                f"{100.0 * (solution.focal_ratio - 1.0):+.0f} % off what the camera wrote. Is the right reference named, "
                "and does it lie flat? Use the picture as the camera took it, not cropped.",
                reason="focal length",
            )
        if pull > 3.0:
            notes.append(
                "The lens looks unlike what the camera wrote in the picture: the scale is less certain."
            )
    if solution.chi2 > MAX_CHI2:
        raise NotTrustworthy(
            "The edges of the reference do not fit one flat plane: it is bent, lifted, or not what was named. "
            "Lay it flat and take the picture again.",
            reason="not flat",
        )
    if solution.chi2 > WARN_CHI2:
        notes.append("The reference does not lie quite flat, or it is not exactly what was named.")
    for d, off in zip(_none_or(solution.distance_residuals_mm), solution.distance_residuals_mm, strict=True):
        if abs(off) > 4.0:
            notes.append(f"Two marked points are {off:+.1f} mm from the distance that was given{d}.")


def _none_or(values: Sequence[float]) -> list[str]:
    return [f" (pair {i + 1})" if len(values) > 1 else "" for i in range(len(values))]
