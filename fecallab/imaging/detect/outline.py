"""The outer outline and axes of what was traced, with their uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fecallab.imaging.detect.search import Found
from fecallab.imaging.detect.trace import Ellipses, Floats, around, normals

_WAVES = (2, 3, 4)
_ERRORS = 5.0
"""Half of the 95 % interval of an axis in mean errors of the outline (94 in 100 axes of tuning drawings lie within)."""


@dataclass(frozen=True)
class Outlines:
    """Outlines in pixels of the picture.

    Attributes
    ----------
    length, width : ndarray, shape (n,)
        Outer axes, whole.
    length_half_width, width_half_width : ndarray, shape (n,)
        Half of their 95 % intervals.
    points : ndarray, shape (n, 32, 2)
        Columns and rows around.
    """

    length: Floats
    width: Floats
    length_half_width: Floats
    width_half_width: Floats
    points: Floats


def outlines_of(found: Found) -> Outlines:
    """Return the outer outlines: the expected ellipse with a few slow waves."""
    ellipses, offset = found.expected, found.offset
    n, lines = offset.shape
    t = around(lines)
    waves = np.column_stack([wave(k * t) for k in _WAVES for wave in (np.cos, np.sin)])
    strength = offset @ waves @ np.linalg.inv(waves.T @ waves + 0.1 * lines * np.eye(waves.shape[1]))
    smooth = strength @ waves.T
    own = Ellipses(np.zeros(n), np.zeros(n), ellipses.half_long, ellipses.half_short, np.zeros(n))
    u, v, nu, nv = normals(own, t)
    u, v = u + smooth * nu, v + smooth * nv
    c, s = np.cos(ellipses.angle)[:, None], np.sin(ellipses.angle)[:, None]
    x, y = ellipses.x[:, None] + c * u - s * v, ellipses.y[:, None] + s * u + c * v
    error = _ERRORS * found.error
    return Outlines(
        2 * ellipses.half_long, 2 * ellipses.half_short, error, error, np.stack([x, y], axis=-1)[:, ::2]
    )
