"""Is it swimming, or does the water move? Those who swim go their own ways; those who are carried agree."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.paths import Path, local_velocity

Values = NDArray[np.float64]
_NEAR_UM, _WINDOW_S = 60.0, 0.3
_LEAST_NEIGHBOURS = 1.0
ALIKE = 0.6
"""Share of neighbours with the same motion from which a track may be carried (own choice, tuned)."""


def alike_with_neighbours(paths: Sequence[Path], times_s: Values, which: Sequence[int]) -> Values:
    """Return, for some tracks, the share of the others near them that move as they do at the same time.

    Parameters
    ----------
    paths : sequence of Path
        All moving bodies of a field, with their motion in the fluid.
    times_s : ndarray
        Of every frame.
    which : sequence of int
        The tracks asked about.

    Returns
    -------
    ndarray, shape (len(which),)
        Not a number where too few others were near.
    """
    frames = len(times_s)
    place = np.full((len(paths), frames, 2), np.nan)
    speed = np.full((len(paths), frames, 2), np.nan)
    for k, one in enumerate(paths):
        if len(one) >= 4:
            place[k, one.frames] = one.xy_um
            speed[k, one.frames] = local_velocity(one.own_um, one.times_s, _WINDOW_S)
    every = slice(None, None, max(1, frames // 60))
    place, speed = place[:, every], speed[:, every]
    shares = np.full(len(which), np.nan)
    for row, k in enumerate(which):
        gap = np.hypot(*(place - place[k]).transpose(2, 0, 1))
        apart = np.hypot(*(speed - speed[k]).transpose(2, 0, 1))
        pace = np.hypot(*speed[k].T)
        near = (gap < _NEAR_UM) & (gap > 0)
        if near.sum() >= _LEAST_NEIGHBOURS * np.isfinite(pace).sum() and near.any():
            shares[row] = float(((apart < 0.5 * pace[None]) & near).sum() / near.sum())
    return shares
