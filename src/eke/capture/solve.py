"""One robust least squares over all evidence in a picture: lens, pose, and where every reference lies.

Unknown are the focal length (with the EXIF value as a prior, if there is one), the principal point, two radial
and two tangential terms, the pose of the camera over the plane, the place and size of every body in the plane, their
extras (see :mod:`eke.capture.evidence`), and by how much bright things look larger than they are. The first body fixes
the frame of the plane.

Residuals of edges are signed distances, in pixels along the measured normal, between a measured point and
the drawn image of the nearest point of the body's edge: so curved images of straight edges count as evidence
for the lens.

References
----------
B. Triggs et al., "Bundle adjustment - a modern synthesis" (2000), for priors as observations and gauge.
M. K. Transtrum, J. P. Sethna, "Improvements to the Levenberg-Marquardt algorithm for nonlinear least-squares minimization"
(2012), for steps bent by the second derivative along them ("geodesic acceleration").
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eke.capture.beyond_lens import BEYOND
from eke.capture.camera import CAMERA_UNKNOWNS, Camera, rotation_matrix
from eke.capture.certainty import Certainty
from eke.capture.evidence import Body, BodyPose, DistanceEvidence, EdgeEvidence, LensPrior, PointEvidence
from eke.capture.problem import FOCAL_UNKNOWN_SIGMA, Index, Problem
from eke.capture.unknowns import to_plane

__all__ = ["Solution", "solve"]

Array = NDArray[np.float64]

ROBUST_PX = 2.5  # in standard deviations: beyond, the pull of a point grows only linearly
MAX_STEPS, STEPS_BEFORE_WEIGHING = 60, 20
MAX_DAMPING, MORE_DAMPING, LESS_DAMPING = 1e8, 5.0, 10.0
PART = 0.1  # of a step: how far along it is looked how the residuals bend
MOST_BENT = 0.375  # of its length: beyond, what bends it is not known well enough
GAIN_THAT_MATTERS = 1e-3  # of chi-square
GAIN_BEFORE_WEIGHING = 0.1  # the same where the weights will change anyway


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """The answer of the least squares.

    Attributes
    ----------
    camera, poses, extras, extra_sigmas
        Camera over the plane; pose of each body; value of each body's extras by name and its standard deviation
        (0 for those that are only considered).
    covariance
        (15, 15): of the camera's 13 unknowns (log focal, cx, cy, k1, k2, rotation, translation, p1, p2), consider tolerances
        included, in the frame of the first body, and of the terms beyond the lens, see :class:`Certainty`.
    edge_rms_px
        Root mean square residual of each edge evidence, in the order given.
    noise_px
        Noise of a single edge point for each body.
    misfit
        Sum of squares of everything in standard deviations, priors included: for comparing hypotheses.
    chi2
        Reduced chi-square of the edges: about 1 when the model explains the picture.
    unexplained
        The same of what is left once an edge may be shifted as a whole; where above 1, the covariance is that much larger.
    focal_ratio
        Focal length over its prior (1 when there is none).
    bright_spread_px
        By how many pixels an edge lies outside the brighter side, for a step of the whole of linear light.
    """

    camera: Camera
    poses: tuple[BodyPose, ...]
    extras: tuple[dict[str, float], ...]
    extra_sigmas: tuple[dict[str, float], ...]
    covariance: Array
    edge_rms_px: tuple[float, ...]
    noise_px: tuple[float, ...]
    chi2: float
    unexplained: float
    focal_ratio: float
    misfit: float
    bright_spread_px: float
    distance_residuals_mm: tuple[float, ...] = ()

    @property
    def certainty(self) -> Certainty:
        """How sure points and lengths of the plane are."""
        return Certainty(self.camera, self.covariance)


def solve(
    size_px: tuple[int, int],
    lens: LensPrior,
    bodies: Sequence[Body],
    edges: Sequence[EdgeEvidence],
    *,
    camera: Camera,
    poses: Sequence[BodyPose],
    points: Sequence[PointEvidence] = (),
    distances: Sequence[DistanceEvidence] = (),
    passes: int = 3,
    rough: bool = False,
) -> Solution:
    """The camera and the bodies that explain all evidence best, with covariance.

    Parameters
    ----------
    camera, poses
        Where to start; the first pose must be the origin of the plane without a turn.
    passes
        Rounds of solving and weighing anew.
    rough
        The answer need not be the best to the last: it only tells where to look again.
    """
    problem = Problem(size_px, lens, bodies, edges, points, distances)
    x = problem.start(camera, poses)
    free: Index = np.flatnonzero(problem.free).astype(np.int_)

    # a trial step may leave all that a lens can be: its cost is then no number, and it is not taken
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        for _ in range(passes):
            x = _descend(problem, x, free, GAIN_BEFORE_WEIGHING, STEPS_BEFORE_WEIGHING)
            problem.reweigh(x)
        gain, steps = (
            (GAIN_BEFORE_WEIGHING, STEPS_BEFORE_WEIGHING) if rough else (GAIN_THAT_MATTERS, MAX_STEPS)
        )
        x = _descend(problem, x, free, gain, steps)
        return _answer(problem, x, free)


def _robust(r: Array) -> tuple[float, Array]:
    """Cost and square roots of weights of the soft L1 loss: quadratic near 0, linear far away."""
    z = np.sqrt(1.0 + (r / ROBUST_PX) ** 2)
    return float(2.0 * ROBUST_PX**2 * np.sum(z - 1.0)), 1.0 / np.sqrt(z)


def _descend(problem: Problem, x: Array, free: Index, least_gain: float, most_steps: int) -> Array:
    """Levenberg-Marquardt with iterated weights until a further step would gain less than ``least_gain``.

    The gain of a step is known in units of chi-square; one thousandth of it is far below the noise. Tilt, focal length and
    distance of something small hang together along a narrow bent valley: each step is bent as the residuals are along it.
    """
    damping = 1e-4
    residuals = problem.residuals(x)
    cost, weight = _robust(residuals)
    for _ in range(most_steps):
        j = problem.jacobian(x, free) * weight[:, None]
        scale = 1.0 / np.maximum(np.linalg.norm(j, axis=0), 1e-30)
        j *= scale
        normal, gradient = j.T @ j, j.T @ (residuals * weight)
        while damping < MAX_DAMPING:
            damped = normal + damping * np.eye(len(free))
            step = np.linalg.solve(damped, -gradient)
            part = x.copy()
            part[free] += PART * step * scale
            bent = (2.0 / PART) * ((problem.residuals(part) - residuals) * weight / PART - j @ step)
            if np.isfinite(bent).all():
                more = -0.5 * np.linalg.solve(damped, j.T @ bent)
                if np.linalg.norm(more) < MOST_BENT * np.linalg.norm(step):
                    step = step + more
                trial = x.copy()
                trial[free] += step * scale
                trial_residuals = problem.residuals(trial)
                trial_cost, trial_weight = _robust(trial_residuals)
                if math.isfinite(trial_cost) and trial_cost <= cost:
                    break
            damping *= MORE_DAMPING
        else:
            return x
        gain = cost - trial_cost
        x, residuals, cost, weight = trial, trial_residuals, trial_cost, trial_weight
        damping = max(damping / LESS_DAMPING, 1e-9)
        if gain < least_gain and damping < 1e-3:
            break
    return x


def _answer(problem: Problem, x: Array, free: Index) -> Solution:
    r = problem.edge_residuals_px(x)
    whole = r + problem.shifts_px(x)
    j = problem.jacobian(x, free)
    scale = 1.0 / np.maximum(np.linalg.norm(j, axis=0), 1e-30)
    normal = (j * scale).T @ (j * scale)
    inverse = np.linalg.pinv(normal, rcond=1e-14, hermitian=True) * np.outer(scale, scale)
    # an edge's points share most of their error, so the effective number of measurements is that of edges
    chi2, unexplained = problem.edges_chi2(x)
    covariance = inverse * max(1.0, unexplained)
    consider: Index = np.flatnonzero(problem.consider).astype(np.int_)
    if len(consider):
        jc = problem.jacobian(x, consider)
        effect = -(inverse @ j.T) @ jc
        covariance = covariance + (effect * problem.prior[consider] ** 2) @ effect.T
    # a term beyond the lens pulls the unknowns, and moves the very pixels whose places they are asked for
    pulled = -(inverse @ j.T) @ problem.beyond(x)
    covariance = covariance + pulled @ pulled.T
    camera = Camera(
        size_px=problem.size_px,
        focal_px=math.exp(x[0]),
        centre_px=(float(x[1]), float(x[2])),
        k1=float(x[3]),
        k2=float(x[4]),
        rotation_rad=x[5:8].copy(),
        translation_mm=x[8:11].copy(),
        p1=float(x[11]),
        p2=float(x[12]),
    )
    spread = np.zeros(problem.count)
    spread[free] = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    poses = tuple(
        BodyPose((float(x[p]), float(x[p + 1])), float(x[p + 2]), math.exp(x[p + 3])) for p in problem.pose_at
    )
    extras = tuple(
        {e.name: float(x[problem.extra_at[i] + k]) for k, e in enumerate(body.extras)}
        for i, body in enumerate(problem.bodies)
    )
    sigmas = tuple(
        {e.name: float(spread[problem.extra_at[i] + k]) for k, e in enumerate(body.extras)}
        for i, body in enumerate(problem.bodies)
    )
    rms = []
    for rows in problem.rows_of:
        own = whole[rows][problem.active[rows]]
        rms.append(float(np.sqrt(np.mean(own**2))) if len(own) else math.inf)
    rot = rotation_matrix(x[5:8])
    apart = []
    for d in problem.distances:
        ends = to_plane(x, np.array([d.from_px, d.to_px]), np.full(2, d.height_mm), rot)
        apart.append(math.dist(ends[0], ends[1]) - d.distance_mm)
    return Solution(
        camera=camera,
        poses=poses,
        extras=extras,
        extra_sigmas=sigmas,
        covariance=np.block(
            [
                [covariance[:CAMERA_UNKNOWNS, :CAMERA_UNKNOWNS], pulled[:CAMERA_UNKNOWNS]],
                [pulled[:CAMERA_UNKNOWNS].T, np.eye(BEYOND)],
            ]
        ),
        edge_rms_px=tuple(rms),
        noise_px=tuple(float(n) for n in problem.noise(r)),
        chi2=chi2,
        focal_ratio=math.exp(x[0]) / problem.focal_prior
        if problem.focal_sigma < FOCAL_UNKNOWN_SIGMA
        else 1.0,
        bright_spread_px=float(x[problem.spread_at]),
        misfit=float(np.sum(problem.residuals(x) ** 2)),
        unexplained=unexplained,
        distance_residuals_mm=tuple(apart),
    )
