"""The scatter along an edge, with neighbours that share their errors."""

import numpy as np
import pytest
from scipy.signal import lfilter

from eke.capture.edge_noise import LEAST_POINTS, edge_scatters, long_run_scatter


def alike(rng, count, rho, sigma=1.0):
    """A first-order autoregressive series with a standard deviation of ``sigma``."""
    start = rng.normal(0.0, 1.0, 200 + count)
    return sigma * np.sqrt(1.0 - rho**2) * lfilter([1.0], [1.0, -rho], start)[200:]


def test_independent_points_have_their_standard_deviation():
    rng = np.random.default_rng(1)
    got = [long_run_scatter(rng.normal(0.0, 0.3, 120)) for _ in range(200)]
    assert np.mean(got) == pytest.approx(0.3, rel=0.06)


@pytest.mark.parametrize("rho", [0.3, 0.5])
def test_a_mean_is_as_sure_as_is_said(rho):
    """The standard deviation of a mean is the long-run scatter over the root of the number: in an autoregressive series by
    (1 + rho) / (1 - rho) more in variance (any book on time series). Far lags are left out, so a little less is found."""
    rng = np.random.default_rng(2)
    series = [alike(rng, 200, rho) for _ in range(400)]
    true = np.std([s.mean() for s in series]) * np.sqrt(200.0)
    assert true == pytest.approx(np.sqrt((1.0 + rho) / (1.0 - rho)), rel=0.1)
    got = np.mean([long_run_scatter(s) for s in series])
    assert 0.75 * true < got < 1.05 * true
    assert got > 1.15 * np.mean([s.std() for s in series])


def test_points_of_something_else_count_little():
    rng = np.random.default_rng(3)
    clean = rng.normal(0.0, 0.1, 80)
    stained = clean.copy()
    stained[[10, 40, 41, 70]] += 5.0
    assert long_run_scatter(stained) < 1.8 * long_run_scatter(clean)


def test_every_edge_has_its_own_and_a_short_one_leans_on_the_others():
    rng = np.random.default_rng(4)
    calm, rough = rng.normal(0.0, 0.05, 80), rng.normal(0.0, 0.4, 80)
    short = rng.normal(0.0, 0.05, LEAST_POINTS)
    few = rng.normal(0.0, 0.05, LEAST_POINTS - 1)
    own = edge_scatters([calm, rough, short, few])
    assert own[3] is None
    assert own[0] < own[2] < own[1]
    assert own[1] > 0.3
    assert edge_scatters([few]) == [None]
    assert edge_scatters([]) == []


def test_a_slope_and_a_bow_are_no_scatter():
    rng = np.random.default_rng(5)
    noise = rng.normal(0.0, 0.1, 60)
    t = np.linspace(-1.0, 1.0, 60)
    plain, shaped = edge_scatters([noise])[0], edge_scatters([noise + 3.0 * t - 2.0 * t**2])[0]
    assert shaped == pytest.approx(plain, rel=1e-6)
