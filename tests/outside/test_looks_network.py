"""The layers and the training of the network that looks at outlines, against scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import correlate1d
from scipy.special import expit, log_expit
from scipy.stats import laplace

from fecallab.imaging.detect.looks import SECTORS, side_by_side
from fecallab.imaging.detect.looks_training import _EDGE_SHARE, _loss_of_edge, _slopes, _start
from fecallab.imaging.detect.trace import NORMALS
from fecallab.imaging.detect.unrolled import RINGS


@pytest.mark.parametrize("span", [1, 3, 5])
def test_a_layer_is_a_correlation_around(span: int) -> None:
    """Reference library: scipy.ndimage.correlate1d, wrapped, summed over the numbers that go in."""
    rng = np.random.default_rng(span)
    x, weights = rng.normal(size=(2, 16, 3)), rng.normal(size=(span, 3, 4))
    found = side_by_side(x, span) @ weights.reshape(span * 3, 4)
    outside = np.stack(
        [
            sum(correlate1d(x[:, :, i], weights[:, i, o], axis=1, mode="wrap") for i in range(3))
            for o in range(4)
        ],
        axis=2,
    )
    np.testing.assert_allclose(found, outside, atol=1e-9)


def test_the_loss_is_the_cross_entropy_and_its_slope_by_the_last_level_the_mean_error() -> None:
    """Reference library: scipy.special; of the last level alone the slope is the mean of chance less truth."""
    values = [np.asarray(value, float) for value in _start(np.random.default_rng(0))]
    values[8][:] = 0  # the last layer adds its level alone
    values[9][:] = 0.7
    right = np.array([0.0, 1.0, 1.0, 1.0])
    told = right * 0.98 + 0.01
    x, nowhere = np.random.default_rng(1).normal(size=(4, NORMALS, RINGS)), np.full((4, SECTORS), np.nan)
    slopes, loss = _slopes(values, x, right, nowhere, np.random.default_rng(2))
    assert loss == pytest.approx(-np.mean(told * log_expit(0.7) + (1 - told) * log_expit(-0.7)), abs=1e-6)
    assert slopes[9][0] == pytest.approx(expit(0.7) - told.mean(), abs=1e-6)


def test_the_loss_of_offsets_is_the_unlikelihood_by_a_laplace_distribution() -> None:
    """Reference library: scipy.stats.laplace; up to the logarithm of 2, which changes nothing, and its share of the loss."""
    rng = np.random.default_rng(3)
    runs, offset = rng.normal(size=(3, SECTORS, 2)), rng.normal(size=(3, SECTORS))
    outside = -laplace.logpdf(offset, runs[..., 0], np.exp(runs[..., 1].clip(-4, 1))).mean() - np.log(2)
    assert _loss_of_edge(runs, offset)[0] == pytest.approx(_EDGE_SHARE * outside, abs=1e-9)
