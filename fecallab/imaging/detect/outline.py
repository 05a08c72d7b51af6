"""The outer outline and axes of what was traced, with their uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fecallab.imaging.detect.search import Found
from fecallab.imaging.detect.trace import Ellipses, Floats, around, normals

_WAVES = (2, 3, 4)
_EDGE_SE_UM_PX = 1.0


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
    """Return the outer outlines: the ellipse with a few slow waves of the traced edge."""
    ellipses, offset = found.ellipses, found.offset
    n, lines = offset.shape
    t = around(lines)
    waves = np.column_stack([wave(k * t) for k in _WAVES for wave in (np.cos, np.sin)])
    # strays count little: waves are fitted to offsets cut at two and a half times the scatter
    limit = 2.5 * found.scatter[:, None]
    cut = np.clip(offset, -limit, limit)
    strength = cut @ waves @ np.linalg.inv(waves.T @ waves + 0.1 * lines * np.eye(waves.shape[1]))
    smooth = strength @ waves.T
    own = Ellipses(np.zeros(n), np.zeros(n), ellipses.half_long, ellipses.half_short, np.zeros(n))
    u, v, nu, nv = normals(own, t)
    u, v = u + smooth * nu, v + smooth * nv
    length, width = np.ptp(u, axis=1) if n else np.zeros(0), np.ptp(v, axis=1) if n else np.zeros(0)
    c, s = np.cos(ellipses.angle)[:, None], np.sin(ellipses.angle)[:, None]
    x, y = ellipses.x[:, None] + c * u - s * v, ellipses.y[:, None] + s * u + c * v
    error = 1.96 * np.sqrt(2.0) * np.hypot(found.scatter / np.sqrt(lines / 8), _EDGE_SE_UM_PX)
    longer = np.maximum(length, width)
    return Outlines(longer, np.minimum(length, width), error, error, np.stack([x, y], axis=-1)[:, ::2])
