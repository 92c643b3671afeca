"""All evidence in a picture as one vector of residuals, with its derivatives and weights.

The unknowns in their order, and how a measured point, a distance and a prior become numbers that the least squares
of :mod:`eke.capture.solve` brings down.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from eke.capture.beyond_lens import BEYOND, beyond_px
from eke.capture.camera import CAMERA_UNKNOWNS, Camera, rotation_matrix
from eke.capture.edge_noise import edge_scatters
from eke.capture.evidence import (
    Body,
    BodyPose,
    DistanceEvidence,
    EdgeEvidence,
    LensPrior,
    PointEvidence,
)
from eke.capture.unknowns import ABOUT, drawn, drawn_slopes, pairs, to_plane

__all__ = ["FOCAL_UNKNOWN_SIGMA", "Index", "Problem"]

Array = NDArray[np.float64]
Index = NDArray[np.int_]

FOCAL_UNKNOWN_SIGMA = 0.35  # no EXIF: phones have 13 to 30 mm equivalents, mostly about 26
FOCAL_UNKNOWN_DIAGONALS = 0.6  # 26 mm over 43.27 mm
# 25 px of 5040: from memory, calibrated phones, stabilised ones above all, are off by so much
CENTRE_SIGMA_DIAGONALS = 0.005
K1_SIGMA, K2_SIGMA = 0.05, 0.05  # phones correct their lenses; what is left is a few per cent at the corner
TANGENTIAL_SIGMA = 0.0005  # from memory: calibrated phones have some 1e-4, seldom 1e-3
NOISE_FLOOR_PX = 0.04  # no edge is measured better than this, whatever the scatter says,
FLOOR_SPACING_PX = 10.0  # by points so far apart
EDGE_SYSTEMATIC_PX = 0.08  # what all points of one edge share: shadow, sharpening halo, grain of the paper
# by so much more an edge's turn and bow are off than the scatter of its points tells (chosen on rendered scenes: what is
# stated held with less, but some edges were off by far more)
EDGE_DOUBT = 1.75
WEAK_STEP = 0.13  # of linear light: an edge fainter than this is seen the worse the fainter it is
OUTLIER_SIGMAS = 4.0
BRIGHT_SPREAD_PX, BRIGHT_SPREAD_SIGMA_PX = 0.25, 0.25  # for a step of the whole of linear light; see Problem
# by how much an edge's own spread differs from that: a sheet is one colour all round, a card has its print
SHEET_SPREAD_SIGMA_PX, CARD_SPREAD_SIGMA_PX = 0.12, 0.5


def _dots(a: Array, b: Array) -> Array:
    """Scalar products (n,) of pairs (n, 2)."""
    return np.asarray(a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1])


@dataclass(frozen=True, slots=True, eq=False)
class _AtEdges:
    """Edge points at one vector of unknowns ``x``: residuals (n,), places from the body's middle (n, 2), outward normals (n, 2)
    of their edges, how far these lie from the middle (n,) and how far along them they lie (n,), and their feet (n, 2) there."""

    x: Array
    residuals_px: Array
    rel_mm: Array
    out: Array
    offset_mm: Array
    along_mm: Array
    foot_mm: Array


class Problem:
    """Evidence compiled to arrays; evaluates residuals for a vector of unknowns.

    One unknown belongs to the picture as a whole: by how much bright things look larger than they are. A camera's tone
    curve flattens towards white, so that the level half-way between both sides lies outside the brighter one: by
    c s sqrt(2 pi) / 8 times the step of light, to second order, for a shoulder 1 - exp(-c light) and a blur of s pixels
    (own derivation; c of 0 to 2 and s of 0.7 px give 0 to 0.45). A card with a dark and a pale end shows half of
    it by itself; of a white sheet it is known as well as the prior says.

    Two more belong to every edge of a plain rectangle (a sheet of A4 or Letter, a card): by how much it was seen too
    far out or in as a whole, because of a shadow or a halo along it, and how much more than elsewhere bright things
    spread there, where it runs past several colours. That is several times what the scatter of its points leaves open,
    while its turn and its bow are seen nearly as well as the scatter says; so the two are told apart. Of markers, whose
    sides are too short for that, and of the paper, whose edges need not be quite straight, every point takes its
    share of what they have in common instead.
    """

    def __init__(
        self,
        size_px: tuple[int, int],
        lens: LensPrior,
        bodies: Sequence[Body],
        edges: Sequence[EdgeEvidence],
        points: Sequence[PointEvidence],
        distances: Sequence[DistanceEvidence],
    ) -> None:
        self.size_px = size_px
        self.bodies = bodies
        diagonal = math.hypot(*size_px)
        self.focal_prior = lens.focal_px or FOCAL_UNKNOWN_DIAGONALS * diagonal
        self.focal_sigma = lens.focal_sigma if lens.focal_px else FOCAL_UNKNOWN_SIGMA
        self.centre = np.array([(size_px[0] - 1) / 2.0, (size_px[1] - 1) / 2.0])
        self.centre_sigma = CENTRE_SIGMA_DIAGONALS * diagonal

        # layout of the unknowns: camera, then for each body pose (3), log scale (1), extras
        self.pose_at: list[int] = []
        self.scale_at: list[int] = []
        self.extra_at: list[int] = []
        at = CAMERA_UNKNOWNS
        for body in bodies:
            self.pose_at.append(at)
            self.scale_at.append(at + 3)
            self.extra_at.append(at + 4)
            at += 4 + len(body.extras)
        # place, turn and log scale of each body
        self.poses_at = np.array(self.pose_at)[:, None] + np.arange(4)
        self.spread_at = at
        at += 1
        # by how many pixels each edge of a plain rectangle was seen too far out, and how that grows with the step
        self.shift_of = np.full(len(edges), -1)
        for k, e in enumerate(edges):
            if bodies[e.body].kind not in ("sheet", "paper"):
                self.shift_of[k] = at
                at += 2
        self.count = at
        self.step = np.array([1e-6, *[1e-2] * 2, *[1e-5] * 2, *[1e-6] * 3, *[1e-3] * 3, *[1e-6] * 2])
        prior = np.full(at, math.inf)
        prior[:5] = [self.focal_sigma, self.centre_sigma, self.centre_sigma, K1_SIGMA, K2_SIGMA]
        prior[11:13] = TANGENTIAL_SIGMA
        mean = np.zeros(at)
        mean[0] = math.log(self.focal_prior)
        mean[1:3] = self.centre
        free = np.ones(at, bool)
        consider = np.zeros(at, bool)
        for i, body in enumerate(bodies):
            p = self.pose_at[i]
            if i == 0:
                free[p : p + 3] = False
            mean[p + 3] = math.log(body.scale)
            if body.scale_sigma > 0.0:
                prior[p + 3] = body.scale_sigma
            else:
                free[p + 3] = False
            for j, extra in enumerate(body.extras):
                q = p + 4 + j
                mean[q] = extra.guess
                prior[q] = extra.sigma
                free[q] = extra.estimated
                consider[q] = not extra.estimated
        prior[self.spread_at], mean[self.spread_at] = BRIGHT_SPREAD_SIGMA_PX, BRIGHT_SPREAD_PX
        free[self.spread_at] = bool(edges)
        prior[self.spread_at + 1 :: 2] = EDGE_SYSTEMATIC_PX
        for k, own in enumerate(self.shift_of):
            if own >= 0:
                card = bodies[edges[k].body].kind == "card"
                prior[own + 1] = CARD_SPREAD_SIGMA_PX if card else SHEET_SPREAD_SIGMA_PX
        self.prior, self.mean, self.free, self.consider = prior, mean, free, consider
        self.lifts: dict[int, tuple[int, float]] = {}  # which body's height an unknown changes, and how fast
        for i, body in enumerate(bodies):
            for j, by in enumerate(body.height_by):
                if by != 0.0:
                    self.lifts[self.extra_at[i] + j] = i, by
        self.has_prior = np.isfinite(prior) & free

        # all pixels that are carried back to the plane, in one array
        px: list[Array] = []
        owner: list[Array] = []
        self.edges = edges
        self.points = points
        self.distances = distances
        normals, edge_of = [], []
        for k, e in enumerate(edges):
            px.append(e.points_px)
            normals.append(e.normals_px)
            owner.append(np.full(len(e.points_px), e.body))
            edge_of.append(np.full(len(e.points_px), k))
        self.edge_px = np.asfortranarray(np.concatenate(px) if px else np.zeros((0, 2)))
        self.edge_normal_px = np.asfortranarray(np.concatenate(normals) if normals else np.zeros((0, 2)))
        self.edge_step = np.concatenate([e.step for e in edges]) if edges else np.zeros(0)
        self.blurred = np.ones(len(self.edge_step))  # how much worse than a clear step each is seen
        seen = np.concatenate([e.seen for e in edges]) if edges else np.zeros(0)
        there = seen != 0.0
        self.blurred[there] = np.hypot(1.0, WEAK_STEP / seen[there])
        self.edge_body = np.concatenate(owner).astype(int) if owner else np.zeros(0, int)
        self.edge_of = np.concatenate(edge_of).astype(int) if edge_of else np.zeros(0, int)
        ends = np.cumsum([len(e.points_px) for e in edges], dtype=int).tolist()
        self.rows_of = [slice(*each) for each in pairwise([0, *ends])]
        models = [bodies[e.body].edges[e.edge] for e in edges]
        self.line_normal = np.asfortranarray(
            np.array([m.normal for m in models]).reshape(-1, 2)[self.edge_of]
        )
        self.line_direction = np.asfortranarray(
            np.array([m.direction for m in models]).reshape(-1, 2)[self.edge_of]
        )
        middle = np.array([np.add(m.start_mm, m.end_mm) / 2.0 for m in models]).reshape(-1, 2)[self.edge_of]
        self.line_offset = np.sum(self.line_normal * middle, axis=1)
        self.line_middle = np.sum(self.line_direction * middle, axis=1)
        self.offset_by = np.zeros((len(self.edge_px), at))
        self.tilt_by = np.zeros((len(self.edge_px), at))
        for rows, e, m in zip(self.rows_of, edges, models, strict=True):
            q = self.extra_at[e.body]
            self.offset_by[rows, q : q + len(m.offset_by)] = m.offset_by
            self.tilt_by[rows, q : q + len(m.tilt_by)] = m.tilt_by
        self.moved = np.any(self.offset_by != 0.0, axis=0) | np.any(self.tilt_by != 0.0, axis=0)
        self.offset_by, self.tilt_by = self.offset_by[:, self.moved], self.tilt_by[:, self.moved]
        self.shifted = self.shift_of[self.edge_of]  # of each point; -1: its edge has none
        # derivatives by the spread of bright things and by the edges' shifts, always the same
        self.by_shift = np.zeros((len(self.edge_px), at - self.spread_at))
        self.by_shift[:, 0] = -self.edge_step
        has = np.flatnonzero(self.shifted >= 0)
        own = self.shifted[has] - self.spread_at
        self.by_shift[has, own], self.by_shift[has, own + 1] = -1.0, -self.edge_step[has]
        self.height = np.array([b.height_mm for b in bodies])
        self.sigma = np.full(len(self.edge_px), 0.3)
        self.whole_sigma = self.sigma.copy()  # of a point before its edge's shift is taken off
        self.active = np.ones(len(self.edge_px), bool)
        self.last: _AtEdges | None = None

    # ---- the model -------------------------------------------------------------------------------------

    def _body_values(self, x: Array) -> tuple[Array, Array, Array, Array]:
        pose = x[self.poses_at]
        height = self.height
        if self.lifts:
            height = height.copy()
            for column, (i, by) in self.lifts.items():
                height[i] += by * x[column]
        return pose[:, :2], pose[:, 2], np.exp(pose[:, 3]), height

    def edge_state(self, x: Array) -> _AtEdges:
        """Where every edge point lies beside its edge; the last one is kept, for derivatives are asked where residuals were."""
        if self.last is not None and np.array_equal(self.last.x, x):
            return self.last
        rot = rotation_matrix(x[5:8])
        middle, turn, scale, height = self._body_values(x)
        b = self.edge_body
        # only to tell which point of its edge it is compared with
        plane = to_plane(x, self.edge_px, height[b], rot, ABOUT)
        rel = plane - pairs(middle[b, 0], middle[b, 1])
        c, s = np.cos(turn)[b], np.sin(turn)[b]
        n, d, size = self.line_normal, self.line_direction, scale[b]
        out = pairs(c * n[:, 0] - s * n[:, 1], s * n[:, 0] + c * n[:, 1])
        way = pairs(c * d[:, 0] - s * d[:, 1], s * d[:, 0] + c * d[:, 1])
        along = _dots(rel, way) / size - self.line_middle
        extras = x[self.moved]
        offset = (self.line_offset + self.offset_by @ extras + (self.tilt_by @ extras) * along) * size
        foot = plane - out * (_dots(rel, out) - offset)[:, None]
        seen = drawn(x, foot, height[b], rot)
        r = _dots(self.edge_px - seen, self.edge_normal_px) - x[self.spread_at] * self.edge_step
        self.last = _AtEdges(x.copy(), r - self.shifts_px(x), rel, out, offset, along, foot)
        return self.last

    def edge_residuals_px(self, x: Array) -> Array:
        """Signed distance in pixels of every edge point from the drawn edge, what its edge is shifted by taken off."""
        if not len(self.edge_px):
            return np.zeros(0)
        return self.edge_state(x).residuals_px

    def shifts_px(self, x: Array) -> Array:
        """By how many pixels the edge of every edge point was seen too far out there; 0 where that is not asked."""
        # the first column is that of what bright things spread everywhere
        return np.asarray(-self.by_shift[:, 1:] @ x[self.spread_at + 1 :])

    def edge_slopes(self, x: Array, columns: Index) -> Array:
        """Derivatives (n, columns) of :meth:`edge_residuals_px`.

        For the camera: how the foot of a point on its edge moves in the picture, across the edge as it is drawn there (along
        it, it slides). Where a body lies enters only through its distance from a point, so one derivative - pixels per
        millimetre across the edge - and the chain rule give the rest.
        """
        if not len(self.edge_px):
            return np.zeros((0, len(columns)))
        at = self.edge_state(x)
        rel, out, offset = at.rel_mm, at.out, at.offset_mm
        _, _, scale, height = self._body_values(x)
        b = self.edge_body
        slopes_of = drawn_slopes(x, at.foot_mm, height[b], rotation_matrix(x[5:8]))
        inward = -out[:, 0] * slopes_of.by_place[0] - out[:, 1] * slopes_of.by_place[1]
        ahead = -out[:, 1] * slopes_of.by_place[0] + out[:, 0] * slopes_of.by_place[1]
        # of the edge as it is drawn; the normal is that of the path that was looked along
        across = np.array([-ahead[1], ahead[0]])
        by_px = np.sum(inward * self.edge_normal_px.T, axis=0)
        per_mm, per_px = -by_px, by_px / np.sum(inward * across, axis=0)
        gap = np.zeros((len(b), self.count))
        rows = np.arange(len(b))
        pose, size_at = np.array(self.pose_at)[b], np.array(self.scale_at)[b]
        gap[rows, pose], gap[rows, pose + 1] = -out[:, 0], -out[:, 1]
        gap[rows, pose + 2] = out[:, 0] * rel[:, 1] - out[:, 1] * rel[:, 0]
        gap[rows, size_at] = -offset
        gap[:, self.moved] -= scale[b, None] * (self.offset_by + self.tilt_by * at.along_mm[:, None])
        slopes: Array = gap * per_mm[:, None]
        aside = -across * per_px  # how the residual changes with where a foot is drawn
        slopes[:, :CAMERA_UNKNOWNS] = np.sum(slopes_of.by_camera * aside, axis=1).T
        slopes[:, self.spread_at :] = self.by_shift
        for column, (lifted, by) in self.lifts.items():
            slopes[:, column] = np.sum(slopes_of.by_height * aside, axis=0) * np.where(b == lifted, by, 0.0)
        return slopes[:, columns]

    def measured_residuals(self, x: Array) -> Array:
        """Points and distances, in standard deviations."""
        out: list[Array] = []
        if self.points:
            rot = rotation_matrix(x[5:8])
            middle, turn, scale, height = self._body_values(x)
        for p in self.points:
            pose = BodyPose((middle[p.body][0], middle[p.body][1]), turn[p.body], scale[p.body])
            plane = pose.place(p.points_mm)
            seen = drawn(x, plane, np.full(len(plane), height[p.body]), rot)
            out.append(((p.points_px - seen) / p.sigma_px).ravel())
        return np.concatenate([*out, self.distance_residuals(x)])

    def distance_residuals(self, x: Array) -> Array:
        """Distances, in standard deviations."""
        out = []
        for d in self.distances:
            ends = to_plane(
                x, np.array([d.from_px, d.to_px]), np.full(2, d.height_mm), rotation_matrix(x[5:8])
            )
            out.append((math.dist(ends[0], ends[1]) - d.distance_mm) / d.sigma_mm)
        return np.array(out)

    def other_residuals(self, x: Array) -> Array:
        """Points, distances and priors, in standard deviations."""
        prior = (x - self.mean)[self.has_prior] / self.prior[self.has_prior]
        return np.concatenate([self.measured_residuals(x), prior])

    def residuals(self, x: Array) -> Array:
        """All residuals in standard deviations: edge points that still count, then everything else."""
        edge = (self.edge_residuals_px(x) / self.sigma)[self.active]
        return np.concatenate([edge, self.other_residuals(x)])

    def jacobian(self, x: Array, columns: Index) -> Array:
        """Derivatives of :meth:`residuals` with respect to some unknowns."""
        edge = (self.edge_slopes(x, columns) / self.sigma[:, None])[self.active]
        points = [self._point_slopes(x, p)[:, columns] for p in self.points]
        known = np.flatnonzero(self.has_prior)
        prior = (known[:, None] == columns) / self.prior[known, None]
        return np.concatenate([edge, *points, self._distance_slopes(x, columns), prior])

    def _point_slopes(self, x: Array, p: PointEvidence) -> Array:
        """Derivatives of a body's points in standard deviations, x and y in turn, by all unknowns."""
        middle, turn, scale, height = self._body_values(x)
        at = self.pose_at[p.body]
        pose = BodyPose((middle[p.body][0], middle[p.body][1]), turn[p.body], scale[p.body])
        plane = pose.place(p.points_mm)
        rel = plane - middle[p.body]
        drawn_by = drawn_slopes(x, plane, np.full(len(plane), height[p.body]), rotation_matrix(x[5:8]))
        by = np.zeros((self.count, 2, len(plane)))
        by[:CAMERA_UNKNOWNS] = drawn_by.by_camera
        by[at : at + 2] = drawn_by.by_place
        by[at + 2] = drawn_by.by_place[1] * rel[:, 0] - drawn_by.by_place[0] * rel[:, 1]
        by[at + 3] = drawn_by.by_place[0] * rel[:, 0] + drawn_by.by_place[1] * rel[:, 1]
        for column, (lifted, speed) in self.lifts.items():
            if lifted == p.body:
                by[column] = drawn_by.by_height * speed
        return -by.transpose(2, 1, 0).reshape(-1, self.count) / p.sigma_px

    def _distance_slopes(self, x: Array, columns: Index) -> Array:
        """Derivatives of the distances in standard deviations, by steps of the camera's unknowns: nothing else enters."""
        out = np.zeros((len(self.distances), len(columns)))
        if self.distances:
            base = self.distance_residuals(x)
            for k, column in enumerate(columns):
                if column < CAMERA_UNKNOWNS:
                    other = x.copy()
                    other[column] += self.step[column]
                    out[:, k] = (self.distance_residuals(other) - base) / self.step[column]
        return out

    def beyond(self, x: Array) -> Array:
        """By how much each term beyond the lens, at one standard deviation, changes :meth:`residuals`: (n, 2)."""

        def drawn(px: Array) -> Array:
            return beyond_px(self.size_px, px)

        edge = np.einsum("nik,ni->nk", drawn(self.edge_px), self.edge_normal_px) / self.sigma[:, None]
        rows = [edge[self.active]]
        rows += [(drawn(p.points_px) / p.sigma_px).reshape(-1, BEYOND) for p in self.points]
        rot = rotation_matrix(x[5:8])
        for d in self.distances:
            ends = np.array([d.from_px, d.to_px])
            height = np.full(2, d.height_mm)
            moves = drawn(ends)
            before = math.dist(*to_plane(x, ends, height, rot))
            after = [math.dist(*to_plane(x, ends + moves[:, :, k], height, rot)) for k in range(BEYOND)]
            rows.append((np.array([after]) - before) / d.sigma_mm)
        rows.append(np.zeros((int(np.sum(self.has_prior)), BEYOND)))
        return np.concatenate(rows)

    def edges_chi2(self, x: Array) -> tuple[float, float]:
        """(all, unexplained) squares of an edge in standard deviations, in the mean over the edges, about 1 where the model
        explains the picture: ``all`` of what lies between an edge as seen and as drawn, by which a reference is judged;
        ``unexplained``, by which the covariance has to grow, leaves open how far the edge was shifted as a whole.
        """
        r, shift = self.edge_residuals_px(x), self.shifts_px(x)
        whole, left = [], []
        for rows, at in zip(self.rows_of, self.shift_of, strict=True):
            own = rows.start + np.flatnonzero(self.active[rows])
            if not len(own):
                continue
            whole.append(float(np.sum(((r + shift)[own] / self.whole_sigma[own]) ** 2)))
            rest = (r[own] / self.sigma[own]) ** 2
            if at < 0:
                left.append(float(np.sum(rest)))
            else:
                known = (x[at : at + 2] / self.prior[at : at + 2]) ** 2
                left.append(float(np.mean(rest) + np.sum(known)))
        return (float(np.mean(whole)), float(np.mean(left))) if whole else (1.0, 1.0)

    # ---- weights ---------------------------------------------------------------------------------------

    def reweigh(self, x: Array) -> None:
        """Noise of each body from the scatter inside its edges; points far outside it are dropped."""
        r = self.edge_residuals_px(x)
        noise, own_noise = self.noise(r), self.own_noise(r)
        shift = self.shifts_px(x)
        for k, (rows, e, own) in enumerate(zip(self.rows_of, self.edges, self.shift_of, strict=True)):
            count = rows.stop - rows.start
            if not count:
                continue
            sigma = noise[e.body] * self.blurred[rows]
            shared = EDGE_SYSTEMATIC_PX
            body = self.bodies[e.body]
            if body.straight_sigma_mm:
                shared = math.hypot(
                    shared, body.straight_sigma_mm * self._px_per_mm(x, rows.start + count // 2)
                )
            # n points that share an error are worth one measurement of that error, not n
            self.whole_sigma[rows] = np.sqrt(sigma**2 + count * shared**2)
            if own < 0:
                self.sigma[rows] = self.whole_sigma[rows]
            else:
                # more points on the same length do not measure it better than the floor
                long_px = math.dist(self.edge_px[rows.start], self.edge_px[rows.stop - 1])
                least = NOISE_FLOOR_PX * math.sqrt(max(1.0, count * FLOOR_SPACING_PX / max(long_px, 1.0)))
                self.sigma[rows] = (
                    EDGE_DOUBT * max(own_noise.get(k, noise[e.body]), least) * self.blurred[rows]
                )
            whole = r[rows] + shift[rows]
            limit = OUTLIER_SIGMAS * np.maximum(sigma, 0.15) + abs(float(np.median(whole)))
            self.active[rows] = np.abs(whole) <= limit

    def noise(self, r: Array) -> Array:
        """Scatter in px of a point on a clear step about its own edge, for each body, from second differences along
        the edges."""
        out = np.full(len(self.bodies), NOISE_FLOOR_PX)
        for i in range(len(self.bodies)):
            parts = []
            for rows, e in zip(self.rows_of, self.edges, strict=True):
                if e.body == i:
                    own = r[rows] / self.blurred[rows]
                    if len(own) > 4:
                        parts.append(own[2:] - 2.0 * own[1:-1] + own[:-2])
            if parts:
                scatter = np.concatenate(parts) / math.sqrt(6.0)
                out[i] = max(NOISE_FLOOR_PX, 1.4826 * float(np.median(np.abs(scatter))))
        return out

    def own_noise(self, r: Array) -> dict[int, float]:
        """The same of single edges of plain rectangles, by number, neighbours' likeness included."""
        out: dict[int, float] = {}
        for i in range(len(self.bodies)):
            mine = [k for k, e in enumerate(self.edges) if e.body == i and self.shift_of[k] >= 0]
            rows = [self.rows_of[k] for k in mine]
            got = edge_scatters([r[own] / self.blurred[own] for own in rows])
            out |= {k: scatter for k, scatter in zip(mine, got, strict=True) if scatter is not None}
        return out

    def _px_per_mm(self, x: Array, row: int) -> float:
        rot = rotation_matrix(x[5:8])
        height = np.full(1, self.height[self.edge_body[row]])
        px = self.edge_px[row : row + 1]
        a = to_plane(x, px, height, rot)
        b = to_plane(x, px + self.edge_normal_px[row], height, rot)
        return 1.0 / max(float(np.hypot(*(b - a)[0])), 1e-9)

    def start(self, camera: Camera, poses: Sequence[BodyPose]) -> Array:
        """The vector of unknowns to begin with."""
        x = self.mean.copy()
        x[0] = math.log(camera.focal_px)
        x[1:3] = camera.centre_px
        x[3], x[4] = camera.k1, camera.k2
        x[5:8] = camera.rotation_rad
        x[8:11] = camera.translation_mm
        x[11:13] = camera.p1, camera.p2
        for i, pose in enumerate(poses):
            p = self.pose_at[i]
            x[p : p + 2] = pose.middle_mm
            x[p + 2] = pose.turn_rad
            if self.free[p + 3]:
                x[p + 3] = math.log(pose.scale)
        return x
