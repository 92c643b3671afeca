"""Mixtures of normal distributions, against SciPy's own densities."""

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from eke.capture.cloth_mixture import learn, lift


@pytest.mark.parametrize("dimensions", [1, 3, 5])
def test_one_normal_distribution_is_that_of_scipy(dimensions):
    rng = np.random.default_rng(dimensions)
    turn = rng.normal(size=(dimensions, dimensions))
    x = rng.normal(size=(70, dimensions)) @ turn * 0.3 - 1.5  # too few for more than one
    floor = np.eye(dimensions) * 0.02**2
    got = learn(x, floor)
    want = multivariate_normal(x.mean(axis=0), np.cov(x.T, bias=True) + floor)
    places = np.concatenate([x, x + rng.normal(0, 0.5, x.shape)])
    np.testing.assert_allclose(
        got.log_density(places), np.atleast_1d(want.logpdf(places)), atol=0.05, rtol=1e-4
    )


def test_density_of_a_mixture_sums_to_one():
    rng = np.random.default_rng(2)
    x = np.concatenate([rng.normal(-3.0, 0.2, 300), rng.normal(-0.8, 0.1, 200), rng.normal(-1.6, 0.05, 100)])
    mixture = learn(x[:, None], np.eye(1) * 1e-4)
    grid = np.linspace(-6, 2, 20001)
    assert np.exp(mixture.log_density(grid[:, None])).sum() * (grid[1] - grid[0]) == pytest.approx(
        1.0, abs=2e-3
    )
    assert mixture.weight.sum() == pytest.approx(1.0)


def test_lifted_once_or_each_time_is_the_same_and_the_seed_fixes_what_is_learned():
    rng = np.random.default_rng(3)
    x = rng.normal(-2.0, 0.4, (9000, 5)).astype(np.float32)
    a, b = learn(x, np.eye(5) * 1e-3), learn(x, np.eye(5) * 1e-3)
    np.testing.assert_array_equal(a.log_density(x), b.log_density_at(lift(x)))
