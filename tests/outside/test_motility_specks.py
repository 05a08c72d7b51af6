"""Faint spots of a clip's frames, against scikit-image and scipy."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import center_of_mass, gaussian_filter
from skimage.feature import peak_local_max

from fecallab.imaging.motility.detect import Limits, specks


def test_faint_spots_are_the_local_peaks_and_lie_at_their_centres_of_mass() -> None:
    """Reference libraries: skimage.feature.peak_local_max for which, scipy.ndimage.center_of_mass for where."""
    light = gaussian_filter(np.random.default_rng(2).normal(size=(120, 160)), 2.0)
    one = (1.0 + light / light.std()).astype(np.float32)
    found = specks(one, Limits(floor=1.0, low=8.0, high=9.0, noise=0.4))
    least = 1.0 + 4.5 * 0.4
    tops = [
        (row, column)
        for row, column in peak_local_max(one, min_distance=1, threshold_abs=least, exclude_border=4)
        if row < 116 and column < 156
    ]
    centres = []
    for row, column in tops:
        near = np.maximum(one[row - 2 : row + 3, column - 2 : column + 3].astype(float) - 1.0, 0)
        down, right = center_of_mass(near)
        centres.append((column - 2 + right, row - 2 + down))
    assert 10 < len(found) < 60
    np.testing.assert_allclose(sorted(map(tuple, found[:, :2])), sorted(centres), atol=1e-3)
