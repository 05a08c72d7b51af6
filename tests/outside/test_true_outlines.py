"""Where a known outline runs beside a rough one, and the score of long objects, against scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import expit

from fecallab.imaging.detect.lessons import true_offsets
from fecallab.imaging.detect.long_score import LONG_NAMES, drawn_long_score
from fecallab.imaging.detect.looks import SECTORS
from fecallab.imaging.detect.trace import NORMALS, Ellipses, around, normals


def one(x: float, y: float, long: float, short: float, angle: float) -> Ellipses:
    return Ellipses(*(np.array([value], float) for value in (x, y, long, short, angle)))


TRUE = one(100, 90, 44, 30, 0.5)
OFF = (one(103, 88, 40, 28, 0.6), one(97, 93, 50, 33, 0.4), one(101, 91, 38, 34, 0.1))


@pytest.mark.parametrize("rough", OFF)
def test_the_true_outline_lies_where_a_root_finder_finds_it(rough: Ellipses) -> None:
    """Reference library: scipy.optimize.brentq along each line."""
    found = true_offsets(rough, TRUE)[0]
    x, y, nx, ny = (part[0] for part in normals(rough, around()))

    def outside(out: float, k: int) -> float:
        dx, dy = x[k] + out * nx[k] - TRUE.x[0], y[k] + out * ny[k] - TRUE.y[0]
        c, s = np.cos(TRUE.angle[0]), np.sin(TRUE.angle[0])
        u, v = (c * dx + s * dy) / TRUE.half_long[0], (c * dy - s * dx) / TRUE.half_short[0]
        return float(u * u + v * v - 1)

    each = [brentq(outside, -20, 40, args=(k,)) / rough.half_short[0] for k in range(NORMALS)]
    np.testing.assert_allclose(found, np.reshape(each, (SECTORS, -1)).mean(axis=1), atol=1e-4)


def test_the_score_of_long_objects_is_a_logistic_of_features_and_squares() -> None:
    """Reference library: scipy.special.expit, summed feature by feature."""
    score = drawn_long_score()
    features = score.mean + score.spread * np.random.default_rng(4).normal(size=(6, len(LONG_NAMES)))
    n = len(LONG_NAMES)
    for row, found in zip(features, score.of(features), strict=True):
        total = score.intercept
        for k in range(n):
            standard = min(max((row[k] - score.mean[k]) / score.spread[k], -4.0), 4.0)
            total += score.weights[k] * standard + score.weights[n + k] * standard**2 / 4.0
        assert found == pytest.approx(expit(total), abs=1e-9)
