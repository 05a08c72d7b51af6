"""Can the picture be read at all? How sharp it is, and whether there is more in it than noise."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from fecallab.imaging.detect.absorption import Ground, absorbed_in, halved
from fecallab.imaging.quality import check_picture
from fecallab.imaging.samples import PictureArray

_WINDOW_PX, _WINDOWS = 256, 3
_FLAT, _WHITE_NOISE = 0.012, 0.36
_DARK = 0.02

EMPTY = "Nothing stands out in it: the field is empty, or the picture cannot be read. Check focus and light."
DARK = "It is black: no light reached the camera."
NOISE = "It shows noise alone: the field is empty, or the picture cannot be read. Check focus and light."


def sharpness(picture: PictureArray, ground: Ground) -> float | None:
    """Return how sharp the edges are, 0 to 1, from a few windows in the lit part; None without edges."""
    height, width = picture.shape[:2]
    side = min(_WINDOW_PX, height, width)
    if side < 16:
        return None
    places = [(0.5, 0.5), (0.3, 0.3), (0.7, 0.7)][:_WINDOWS]
    found = []
    for fx, fy in places:
        x, y = fx * width, fy * height
        if not ground.is_lit(np.array([x]), np.array([y]))[0]:
            continue
        left, top = (int(np.clip(at - side / 2, 0, most - side)) for at, most in ((x, width), (y, height)))
        value = check_picture(picture[top : top + side, left : left + side]).sharpness
        if value is not None:
            found.append(value)
        if height <= side and width <= side:
            break
    return float(np.median(found)) if found else None


def remark_of(picture: PictureArray, ground: Ground) -> str:
    """Return a line when the picture is black, flat, or noise alone; else an empty text."""
    if not ground.lit.any():
        return DARK
    height, width = picture.shape[:2]
    side = min(1024, height, width)
    if side < 16:
        return EMPTY
    top, left = (height - side) // 2, (width - side) // 2
    cut = picture[top : top + side, left : left + side]
    fine = absorbed_in(cut, ground, side, side)
    levels = [fine]
    while len(levels) < 4 and min(levels[-1].shape) >= 16:
        levels.append(halved(levels[-1]))
    spread = [float((level - ndimage.uniform_filter(level, 9)).std()) for level in levels]
    if max(spread) < _FLAT:
        return EMPTY
    # white noise halves from level to level; anything real is still there when averaged
    return NOISE if len(spread) == 4 and spread[3] < (_WHITE_NOISE**3) * 4 * spread[0] else ""
