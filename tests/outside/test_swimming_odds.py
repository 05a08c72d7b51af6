"""The likelihoods that weigh a path, and the way of a swimmer that forgets its direction, against scipy and theory."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from fecallab.imaging.motility.odds import _LASTS_S, _SPEEDS_UM_S, _going_on, _likelihood


def test_likelihoods_differ_as_those_of_scipy_do() -> None:
    """Reference library: scipy.stats.multivariate_normal; a constant that all paths share is left out here."""
    rng = np.random.default_rng(0)
    roots = rng.normal(size=(3, 6, 6))
    covariances = roots @ roots.transpose(0, 2, 1) + np.eye(6)
    values = rng.normal(size=6)
    outside = [multivariate_normal(np.zeros(6), one).logpdf(values) for one in covariances]
    found = _likelihood(covariances, values)
    assert np.diff(found) == pytest.approx(np.diff(outside), abs=1e-9)


@pytest.mark.parametrize("speed", range(len(_SPEEDS_UM_S)))
@pytest.mark.parametrize("last", range(len(_LASTS_S)))
def test_a_way_grows_as_that_of_a_persistent_walk(speed: int, last: int) -> None:
    """Memory (believed source: Fürth 1920): msd = 2 v² T (t - T (1 - exp(-t / T))) over both axes, from any moment on."""
    v, last_s = _SPEEDS_UM_S[speed], _LASTS_S[last]
    times = np.linspace(0, 3, 7)
    until, apart = np.minimum(times[:, None], times[None]), np.abs(times[:, None] - times[None])
    one_axis = _going_on(times, until, apart)[speed * len(_LASTS_S) + last]
    for start in (0, 3):
        gone = times[start:] - times[start]
        here = np.diag(one_axis)
        msd = 2 * (here[start:] + here[start] - 2 * one_axis[start, start:])
        assert msd == pytest.approx(
            2 * v**2 * last_s * (gone - last_s * (1 - np.exp(-gone / last_s))), abs=1e-6
        )
