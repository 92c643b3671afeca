"""Mixtures of a few normal distributions: learned from samples, asked at half a million places at once.

The logarithm of a normal density is a polynomial of second degree in what was measured. Places are lifted once to all
products of two of their values; each mixture then costs one product of matrices, whatever was learned anew in between.

References
----------
A. P. Dempster, N. M. Laird and D. B. Rubin, "Maximum likelihood from incomplete data via the EM algorithm", J. Royal
Statistical Society B 39 (1977).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["Lifted", "Mixture", "learn", "lift"]

Floats = NDArray[np.float64]
Lifted = NDArray[np.float32]
"""(m, n): for each of n places all products of two of its d values, the values, and 1; see :func:`lift`."""

PARTS = 5  # normal distributions in each mixture
LEARN_FROM = 4000  # samples
LEARN_ROUNDS = 6
MIDDLE = -2.0  # logarithms of colour and texture lie about this: near 0 the products stay exact


@dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """A mixture of normal distributions.

    Parameters
    ----------
    weight, mean
        (k,), (k, d): share and middle of each.
    terms
        (k, m): what each weighs the rows of :func:`lift` with to give the logarithm of its share of the density.
    """

    weight: Floats
    mean: Floats
    terms: Floats

    def log_density(self, x: NDArray[np.floating]) -> NDArray[np.float32]:
        """Logarithm of the density at (n, d) places."""
        return self.log_density_at(lift(x))

    def log_density_at(self, lifted: Lifted) -> NDArray[np.float32]:
        """Logarithm of the density at lifted places; off by less than 0.02."""
        logs = self.terms.astype(np.float32) @ lifted
        most = logs.max(axis=0)
        logs -= most
        np.exp(logs, out=logs)
        return np.asarray(np.log(logs.sum(axis=0)) + most, dtype=np.float32)


def lift(x: NDArray[np.floating]) -> Lifted:
    """Lift (n, d) places."""
    return np.asarray(_lifted(np.asarray(x), np.float32), dtype=np.float32)


def _lifted(x: NDArray[np.floating], kind: type) -> NDArray[np.floating]:
    n, d = x.shape
    v = np.ascontiguousarray(x.T, dtype=kind) - kind(MIDDLE)
    out = np.empty((d * (d + 1) // 2 + d + 1, n), dtype=kind)
    row = 0
    for i in range(d):
        np.multiply(v[i:], v[i], out=out[row : row + d - i])
        row += d - i
    out[row : row + d] = v
    out[-1] = 1.0
    return out


def learn(samples: NDArray[np.floating], floor: Floats, seed: int = 1) -> Mixture:
    """Fit a mixture by expectation-maximisation from a fixed start; ``floor`` is the least covariance."""
    rng = np.random.default_rng(seed)
    x = np.asarray(samples)
    if len(x) > LEARN_FROM:
        x = x[rng.integers(0, len(x), LEARN_FROM)]
    x = x.astype(np.float64)
    k = min(PARTS, max(1, len(x) // 40))
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 1e-3)
    cv2.setRNGSeed(seed)
    _, label, _ = cv2.kmeans(x.astype(np.float32), k, None, criteria, 2, cv2.KMEANS_PP_CENTERS)
    share = (np.asarray(label).ravel() == np.arange(k)[:, None]).astype(np.float64)
    lifted = _lifted(x, np.float64)
    mixture = _from_shares(lifted, share, floor)
    for _ in range(LEARN_ROUNDS):
        logs = mixture.terms @ lifted
        logs -= logs.max(axis=0)
        share = np.exp(logs)
        share /= share.sum(axis=0)
        mixture = _from_shares(lifted, share, floor)
    return mixture


def _from_shares(lifted: NDArray[np.floating], share: Floats, floor: Floats) -> Mixture:
    """The mixture whose parts own the given (k, n) shares of lifted samples."""
    d, n = len(floor), lifted.shape[1]
    total = np.maximum(share.sum(axis=1), 1e-9)
    moments = (share @ lifted.T) / total[:, None]
    upper = np.triu_indices(d)
    second = np.zeros((len(total), d, d))
    second[:, upper[0], upper[1]] = moments[:, : len(upper[0])]
    second[:, upper[1], upper[0]] = moments[:, : len(upper[0])]
    mean = moments[:, len(upper[0]) : -1]
    inverse = np.linalg.inv(second - mean[:, :, None] * mean[:, None, :] + floor)
    weight = total / n
    norm = 0.5 * (np.linalg.slogdet(inverse)[1] - d * np.log(2.0 * np.pi))
    turned = np.einsum("kij,kj->ki", inverse, mean)
    terms = np.concatenate(
        [
            -0.5 * inverse[:, upper[0], upper[1]] * np.where(upper[0] == upper[1], 1.0, 2.0),
            turned,
            (np.log(np.maximum(weight, 1e-12)) + norm - 0.5 * (turned * mean).sum(axis=1))[:, None],
        ],
        axis=1,
    )
    return Mixture(weight, mean + MIDDLE, terms)
