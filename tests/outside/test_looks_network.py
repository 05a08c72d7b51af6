"""The layers and the training of the network that looks at outlines, against scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import correlate1d
from scipy.special import expit, log_expit
from scipy.stats import laplace

from fecallab.imaging.detect.looks import DEEPER_SMALL, SECTORS, Looks, side_by_side
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


def test_a_whole_network_with_further_layers_is_the_same_by_correlation_around() -> None:
    """Reference library: scipy.ndimage.correlate1d for every layer; each pair of further layers is added to what it took."""
    values = _start(np.random.default_rng(6), DEEPER_SMALL)
    network = Looks("t", tuple(values[0::2]), tuple(values[1::2]))
    patches = np.random.default_rng(7).normal(size=(2, NORMALS, RINGS)).astype(np.float16)

    def around(x: np.ndarray, k: int, span: int) -> np.ndarray:
        weights = values[2 * k].astype(float).reshape(span, x.shape[2], -1)
        given = [
            sum(correlate1d(x[:, :, i], weights[:, i, o], axis=1, mode="wrap") for i in range(x.shape[2]))
            for o in range(weights.shape[2])
        ]
        return np.stack(given, axis=2) + values[2 * k + 1]

    x = patches.astype(float)
    for k, span in enumerate((5, 5, 3)):
        x = np.maximum(around(x, k, span), 0)
        x = x.reshape(2, -1, 2, x.shape[2]).mean(axis=2) if k < 2 else x
    for k in (7, 9):
        x = np.maximum(x + around(np.maximum(around(x, k, 3), 0), k + 1, 3), 0)
    whole = np.maximum(np.concatenate([x.mean(axis=1), x.max(axis=1)], axis=1) @ values[6] + values[7], 0)
    spread = np.repeat(whole[:, None], x.shape[1], axis=1)
    runs = around(np.maximum(around(np.concatenate([x, spread], axis=2), 5, 3), 0), 6, 1)
    found = network.of(patches, both_ways=False)
    np.testing.assert_allclose(found.looks, (whole @ values[8] + values[9])[:, 0], atol=1e-4)
    np.testing.assert_allclose(found.offset, runs[..., 0], atol=1e-4)
