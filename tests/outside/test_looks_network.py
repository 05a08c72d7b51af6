"""The layers and the training of the network that looks at outlines, against scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import correlate1d
from scipy.special import expit, log_expit

from fecallab.imaging.detect.looks import side_by_side
from fecallab.imaging.detect.looks_training import _slopes, _start
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
    told = np.array([0.0, 1.0, 1.0, 1.0])
    x = np.random.default_rng(1).normal(size=(4, NORMALS, RINGS))
    slopes, loss = _slopes(values, x, told, np.random.default_rng(2))
    assert loss == pytest.approx(-np.mean(told * log_expit(0.7) + (1 - told) * log_expit(-0.7)), abs=1e-6)
    assert slopes[9][0] == pytest.approx(expit(0.7) - told.mean(), abs=1e-6)
