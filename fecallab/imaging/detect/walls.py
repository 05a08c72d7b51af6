"""Wall maps: for each of sixteen directions, how much a place looks like the outer edge of a wall or body there.

Where a body ends, absorption falls outwards (first derivative); a thin wall besides stands out as a dark line
(second derivative across it). Both are measured in the same blurred picture and told in units of what is usual
around, so that a pale wall on clean ground counts as much as a dark one in debris.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.imaging.detect.absorption import Map

DIRECTIONS = 16
"""Directions of the outward normal, evenly around; number k points to k × 22.5° from +x towards +y."""
TOP = 12
"""Largest value of a wall map: twenty of them fit into 8 bits."""
_SIGMA_PX, _AROUND_PX, _FLOOR = 1.25, 25, 0.006
_GAIN, _LINE_SHARE = 8.0, 1.0
_STRIP_ROWS = 32
Small = NDArray[np.uint8]


@dataclass(frozen=True)
class WallMaps:
    """Wall maps of one level, pooled over squares of two pixels.

    Attributes
    ----------
    maps : ndarray of uint8, shape (16, rows, columns)
        0 to `TOP`.
    """

    maps: Small


def wall_maps(absorbed: Map, finer: WallMaps | None) -> WallMaps:
    """Make the wall maps of a level.

    Parameters
    ----------
    absorbed : ndarray of float32, shape (rows, columns)
        What the picture absorbs at this level.
    finer : WallMaps or None
        Those of the level with half this pitch: thin walls are still seen there.

    Returns
    -------
    WallMaps
    """
    soft = ndimage.gaussian_filter(absorbed, _SIGMA_PX, truncate=3.0)
    gy, gyy = _differences(soft, 0)
    gx, gxx = _differences(soft, 1)
    gxy, _ = _differences(gx, 0)
    around = min(_AROUND_PX, *absorbed.shape)
    usual = gx * gx
    usual += gy * gy
    usual = ndimage.uniform_filter(usual, around, mode="nearest")
    np.maximum(usual, 0, out=usual)
    scale = np.float32(_GAIN) / (np.sqrt(usual) + np.float32(_FLOOR))
    rows, columns = (side // 2 for side in absorbed.shape)
    out = np.empty((DIRECTIONS, rows, columns), np.uint8)
    step = _STRIP_ROWS
    for top in range(0, 2 * rows, step):
        cut = (slice(top, min(top + step, 2 * rows)), slice(0, 2 * columns))
        _strip(
            gx[cut], gy[cut], gxx[cut], gxy[cut], gyy[cut], scale[cut], out[:, top // 2 : (top + step) // 2]
        )
    if finer is not None:
        for k in range(DIRECTIONS):
            fine = _pooled_lines(finer.maps[k])[:rows, :columns]
            part = out[k, : fine.shape[0], : fine.shape[1]]
            np.maximum(part, fine, out=part)
    return WallMaps(out)


def _differences(values: Map, axis: int) -> tuple[Map, Map]:
    """First and second differences along an axis; 0 at both ends."""
    first, second = np.zeros_like(values), np.zeros_like(values)
    a, here, b = (
        np.moveaxis(values, axis, 0)[start:stop] for start, stop in ((None, -2), (1, -1), (2, None))
    )
    np.subtract(b, a, out=np.moveaxis(first, axis, 0)[1:-1])
    first *= np.float32(0.5)
    middle = np.moveaxis(second, axis, 0)[1:-1]
    np.add(a, b, out=middle)
    middle -= here
    middle -= here
    return first, second


def _strip(gx: Map, gy: Map, gxx: Map, gxy: Map, gyy: Map, scale: Map, out: Small) -> None:
    middle = (gxx + gyy) * (np.float32(-0.5 * _LINE_SHARE) * scale)
    across = (gxx - gyy) * (np.float32(-0.5 * _LINE_SHARE) * scale)
    slant = gxy * (np.float32(-_LINE_SHARE) * scale)
    ex, ey = -gx * scale, -gy * scale
    half = DIRECTIONS // 2
    for k in range(half):
        turn = 2 * np.pi * k / DIRECTIONS
        line = middle + across * np.float32(np.cos(2 * turn)) + slant * np.float32(np.sin(2 * turn))
        edge = ex * np.float32(np.cos(turn)) + ey * np.float32(np.sin(turn))
        out[k] = _pooled(np.maximum(line, edge))
        out[k + half] = _pooled(np.maximum(line, -edge))


def _pooled(values: Map) -> Small:
    tall = np.maximum(values[0::2], values[1::2])
    wide = np.maximum(tall[:, 0::2], tall[:, 1::2])
    return np.asarray(np.clip(wide, 0, TOP), np.uint8)


def _pooled_lines(values: Small) -> Small:
    """Pool squares of four: between their mean and their largest value."""
    rows, columns = (side // 2 * 2 for side in values.shape)
    a, b = values[0:rows:2, :columns], values[1:rows:2, :columns]
    total = a + b
    total = total[:, 0::2] + total[:, 1::2]
    tall = np.maximum(a, b)
    most = np.maximum(tall[:, 0::2], tall[:, 1::2])
    return np.asarray((most + total // 4 + 1) // 2, np.uint8)
