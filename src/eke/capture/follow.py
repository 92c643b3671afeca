"""An edge near a path, measured on the light of a picture to a fraction of a pixel."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture import across
from eke.capture.across import Across
from eke.capture.groundless import groundless
from eke.capture.light import MIN_STEP, STEP_PX, Light, colour_profiles, profiles

__all__ = ["EdgeSamples", "follow_edge"]

Array = NDArray[np.float64]
Numbers = NDArray[np.intp]

TRIALS = 300  # of three random steps each; a true triple is among them even in clutter
MOST_STEPS = 6  # of each profile
FAINT = 0.12  # step of light below which a shadow's rim may be taken for the edge,
APART_PX = 1.2  # if it lies so far from where colours see it
CLEAR_SPAN = 0.4  # of an edge's length: so much of it must be clear to tell where the rest runs
COLOUR_WORTH = 0.03  # an edge measured by colours counts as if its step of light were this


@dataclass(frozen=True, slots=True, eq=False)
class EdgeSamples:
    """Where an edge really runs, at some of the places where it was looked for.

    ``points_px`` (n, 2) and ``normals_px`` (n, 2) of the samples that were kept, ``kept`` (m,) which of the
    asked places they are, ``step`` (n,) how much the light changes from inside to outside (positive: inside is
    brighter), ``seen`` (n,) how much that changes by which the edge was found: the same, or a mix of colours.
    """

    points_px: Array
    normals_px: Array
    kept: NDArray[np.bool_]
    step: Array
    seen: Array

    @property
    def support(self) -> float:
        """Share of the asked places where the edge was seen."""
        return float(self.kept.mean()) if len(self.kept) else 0.0


def _peaks(offsets: Array, values: Array, polarity: int) -> tuple[Numbers, Array, Array]:
    """Steps of profiles (n, s), the strongest six of each: which profile, its offset, and how strong."""
    smooth = cv2.GaussianBlur(values.astype(np.float32), (0, 0), sigmaX=1.2 / STEP_PX, sigmaY=0.01)
    # falling light outward is a positive strength: the inside is brighter
    slope = np.asarray(-np.gradient(smooth, STEP_PX, axis=1), dtype=np.float64)
    rate = slope if polarity > 0 else -slope if polarity < 0 else np.abs(slope)
    inner = rate[:, 1:-1]
    top = (inner >= rate[:, :-2]) & (inner > rate[:, 2:]) & (inner > MIN_STEP / 4.0)
    owner, place = np.nonzero(top)
    strength = inner[owner, place]
    order = np.lexsort((-strength, owner))
    owner, place, strength = owner[order], place[order], strength[order]
    first = np.searchsorted(owner, np.arange(len(values)))
    strongest = np.arange(len(owner)) - first[owner] < MOST_STEPS
    return owner[strongest], offsets[1:-1][place[strongest]], strength[strongest]


def _best_curve(
    along: Array, peaks: tuple[Numbers, Array, Array], degree: int, tolerance_px: float
) -> Array | None:
    """Polynomial offset(along) that most steps agree with (RANSAC, fixed seed); None without agreement."""
    owner, offset, strength = peaks
    if len(owner) < degree + 3:
        return None
    strength, where = np.sqrt(strength), along[owner]
    rng = np.random.default_rng(7)
    span = np.ptp(along)
    design = np.vander(where, degree + 1)
    weight = strength / strength.max()
    pick = rng.choice(len(where), (TRIALS, degree + 1), p=weight / weight.sum())
    at = np.sort(where[pick], axis=1)
    apart = (np.ptp(at, axis=1) > 0.35 * span) & (np.diff(at, axis=1).min(axis=1) > 0.05 * span)
    pick = pick[apart]
    if not len(pick):
        return None
    trial = np.linalg.solve(design[pick], offset[pick][..., None])[..., 0]
    near_all = np.abs(trial @ design.T - offset) < tolerance_px
    score = near_all @ weight
    coefficients_best = trial[int(np.argmax(score))]
    for _ in range(3):
        near = np.abs(design @ coefficients_best - offset) < tolerance_px
        if near.sum() < degree + 3:
            return None
        coefficients_best = np.linalg.lstsq(design[near] * weight[near, None], offset[near] * weight[near])[0]
    return np.asarray(coefficients_best)


def follow_edge(
    light: Light,
    path_px: Array,
    normals_px: Array,
    *,
    reach_px: float,
    polarity: int = 0,
    plateau_px: float = 5.0,
    degree: int = 2,
    in_colour: bool = False,
) -> EdgeSamples:
    """The edge near a path, measured to a fraction of a pixel.

    Parameters
    ----------
    light
        The picture as light.
    path_px, normals_px
        (m, 2) places along the expected edge and unit vectors pointing out of the thing it bounds.
    reach_px
        How far on both sides it may lie.
    polarity
        1 when the inside is brighter, -1 when it is darker, 0 when either may be.
    plateau_px
        How far the light on both sides is taken into account for the half-way level.
    degree
        Of the smooth curve by which the edge may differ from the path: 2 for a straight edge through a lens
        not yet known, 1 afterwards.
    in_colour
        Find it by colours of which the ground has none, where these show it, and measure it in luma
        (:mod:`eke.capture.across`).
    """
    count = len(path_px)
    nothing = EdgeSamples(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(count, bool), np.zeros(0), np.zeros(0))
    if count < degree + 3:
        return nothing
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(path_px, axis=0).T))]
    along = along / max(along[-1], 1e-9) - 0.5
    path = _Path(light, path_px, normals_px, along, degree, polarity, plateau_px)
    centre: Array | None = np.zeros(count)
    if reach_px > plateau_px:
        centre = path.sought(reach_px, coloured=in_colour)
    if centre is None:
        return nothing
    if not in_colour:
        got = path.measured(centre, across.in_luma)
    else:
        by_colour = path.measured(centre, across.in_colour)
        if by_colour is None:
            got = path.measured(centre, across.in_luma)
            about = None if got is None else path.by_clear(got)
            got = got if about is None else path.measured(about, across.in_luma, about=about)
        else:
            located = path.smooth(by_colour)
            got = _filled(path.measured(located, across.in_luma, about=located), by_colour)
    if got is None:
        return nothing
    keep = got.kept
    return EdgeSamples(
        points_px=(path_px + normals_px * got.offset[:, None])[keep],
        normals_px=normals_px[keep],
        kept=keep,
        step=got.step[keep],
        seen=got.seen[keep],
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """Offsets (m,) of an edge from its path, at the places ``kept`` as they were seen and between them as the smooth curve runs."""

    offset: Array
    kept: NDArray[np.bool_]
    step: Array
    seen: Array


def _filled(by_luma: _Measured | None, by_colour: _Measured) -> _Measured:
    """What was measured in luma, and where that is too faint the edge as colours show it, which counts little."""
    count = len(by_colour.kept)
    there = np.zeros(count, bool) if by_luma is None else by_luma.kept
    luma = by_colour if by_luma is None else by_luma
    return _Measured(
        offset=np.where(there, luma.offset, by_colour.offset),
        kept=there | by_colour.kept,
        step=np.where(there, luma.step, 0.0),
        seen=np.where(there, luma.seen, COLOUR_WORTH),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Path:
    """A path along which an edge is looked for; see :func:`follow_edge`."""

    light: Light
    path_px: Array
    normals_px: Array
    along: Array
    degree: int
    polarity: int
    plateau_px: float

    def sought(self, reach_px: float, *, coloured: bool) -> Array | None:
        """Offsets (m,) of the smooth curve that most steps of light within reach agree with."""
        offsets, values = self._wide(reach_px, coloured=coloured)
        usable = np.atleast_1d(np.isfinite(values).all(axis=1))
        owner, offset, strength = _peaks(offsets, np.nan_to_num(values), self.polarity)
        use = usable[owner]
        curve = _best_curve(
            self.along, (owner[use], offset[use], strength[use]), self.degree, tolerance_px=1.5
        )
        if curve is None:
            return None
        centre = np.asarray(np.polyval(curve, self.along), dtype=np.float64)
        return None if np.max(np.abs(centre)) > 1.5 * reach_px else centre

    def _wide(self, reach_px: float, *, coloured: bool) -> tuple[Array, Array]:
        """Profiles as far as the reach, in luma or in colours of which the ground beyond it has none."""
        if coloured:
            offsets, rgb = colour_profiles(
                self.light, self.path_px, self.normals_px, reach_px + self.plateau_px
            )
            mix = groundless(rgb[:, offsets <= -reach_px], rgb[:, offsets >= reach_px])
            if mix is not None:
                near = np.abs(offsets) <= reach_px
                return offsets[near], rgb[:, near] @ mix
        return profiles(self.light, self.path_px, self.normals_px, reach_px)

    def measured(
        self,
        centre: Array,
        look: Callable[[Light, Array, Array, float], Across | None],
        about: Array | None = None,
    ) -> _Measured | None:
        """The edge near a curve; a faint place far from what is known ``about`` it is the rim of something else."""
        keep, got = np.ones(len(centre), bool), None
        for _ in range(2):
            there = self.path_px + self.normals_px * centre[:, None]
            got = look(self.light, there, self.normals_px, self.plateau_px)
            if got is None:
                return None
            delta = got.crossing(STEP_PX, self.polarity)
            good = np.isfinite(delta) & (np.abs(delta) < 2.5)
            measured = centre + np.where(good, delta, 0.0)
            if about is not None:
                good &= (np.abs(measured - about) < APART_PX) | (np.abs(got.seen) > FAINT)
            if good.sum() < self.degree + 3:
                return None
            # samples apart from a smooth curve through the others sit on a stain, a leg of a table, a shadow
            model = np.polyfit(self.along[good], measured[good], self.degree)
            rest = np.abs(np.polyval(model, self.along) - measured)
            spread = 1.4826 * float(np.median(rest[good])) + 0.05
            keep = good & (rest < 4.0 * spread)
            if keep.sum() < self.degree + 3:
                return None
            model = np.polyfit(self.along[keep], measured[keep], self.degree)
            centre = np.where(keep, measured, np.polyval(model, self.along))
        return None if got is None else _Measured(centre, keep, got.step, got.seen)

    def smooth(self, got: _Measured) -> Array:
        """Offsets (m,) of the smooth curve through what was measured."""
        model = np.polyfit(self.along[got.kept], got.offset[got.kept], self.degree)
        return np.asarray(np.polyval(model, self.along), dtype=np.float64)

    def by_clear(self, got: _Measured) -> Array | None:
        """The same through the places alone where the edge is clear; None where these are few, or all are."""
        clear = got.kept & (np.abs(got.seen) > FAINT)
        span = np.ptp(self.along[clear]) if clear.any() else 0.0
        if clear.sum() < self.degree + 3 or span < CLEAR_SPAN or np.all(clear == got.kept):
            return None
        model = np.polyfit(self.along[clear], got.offset[clear], 1)
        return np.asarray(np.polyval(model, self.along), dtype=np.float64)
