"""Outlines unrolled: light on rings from the heart of an ellipse to well outside of it, line by line around.

Unrolled, every ellipse has the same shape, whatever its size and direction, so one small network can look at all.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.detect.absorption import Map
from fecallab.imaging.detect.trace import NORMALS, Ellipses, around, normals, read_at

_INNER = np.array([0.1, 0.22, 0.34, 0.46, 0.58, 0.7], np.float32)
"""Rings in the heart, as shares of the way from the centre to the outline."""
_OFFSETS = np.array(
    [
        -0.24,
        -0.19,
        -0.14,
        -0.1,
        -0.06,
        -0.03,
        0,
        0.03,
        0.06,
        0.1,
        0.14,
        0.19,
        0.25,
        0.35,
        0.5,
        0.7,
        0.95,
        1.3,
    ],
    np.float32,
)
"""Rings along the outline, as distances outwards in short half axes."""
RINGS = len(_INNER) + len(_OFFSETS)
_GROUND = slice(18, 22)
_FLOOR, _LIMIT = 0.012, 4.0
Unrolled = NDArray[np.float16]


def unrolled(absorbed: Map, ellipses: Ellipses) -> Unrolled:
    """Unroll what surrounds and fills ellipses.

    Parameters
    ----------
    absorbed : ndarray of float32
        The level on which they were traced.
    ellipses : Ellipses

    Returns
    -------
    ndarray of float16, shape (n, NORMALS, RINGS)
        Levels less that of the ground beside, in units of their own spread, cut at ± 4: a pale object and a dark one
        of the same build look alike.
    """
    if not len(ellipses):
        return np.zeros((0, NORMALS, RINGS), np.float16)
    x, y, nx, ny = (part.astype(np.float32)[..., None] for part in normals(ellipses, around()))
    cx, cy = (centre.astype(np.float32)[:, None, None] for centre in (ellipses.x, ellipses.y))
    out = ellipses.half_short.astype(np.float32)[:, None, None] * _OFFSETS
    light = np.concatenate(
        [
            read_at(absorbed, cx + _INNER * (x - cx), cy + _INNER * (y - cy)),
            read_at(absorbed, x + out * nx, y + out * ny),
        ],
        axis=2,
    )
    light -= np.median(light[:, :, _GROUND], axis=(1, 2), keepdims=True)
    light /= light.std(axis=(1, 2), keepdims=True) + np.float32(_FLOOR)
    return np.asarray(np.clip(light, -_LIMIT, _LIMIT), np.float16)
