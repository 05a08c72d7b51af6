"""Tiles: a picture of any size is searched in parts that overlap by the largest object."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.detect.absorption import Ground, Map, absorbed_in, without_surround
from fecallab.imaging.detect.search import pitch_for, pyramid
from fecallab.imaging.samples import PictureArray

LARGEST_PART_PX = 6_000_000
"""Pixels of the first level that are searched at once (own choice: under 1 GB of memory)."""
OVERLAP_UM = 220.0
"""By how much a tile reaches beyond what it answers for: half the longest object."""


@dataclass(frozen=True)
class Tile:
    """A part of a picture, and the core in which its findings count.

    Attributes
    ----------
    top, bottom, left, right : int
        Rows and columns that are searched.
    core : (float, float, float, float)
        Top, bottom, left and right of the part that it answers for.
    """

    top: int
    bottom: int
    left: int
    right: int
    core: tuple[float, float, float, float]

    def holds(self, x: NDArray[Any], y: NDArray[Any]) -> NDArray[np.bool_]:
        """Say which centres lie in the core."""
        top, bottom, left, right = self.core
        return np.asarray((y >= top) & (y < bottom) & (x >= left) & (x < right))


def tiles_of(height: int, width: int, um_per_px: float) -> list[Tile]:
    """Cut a picture.

    Examples
    --------
    >>> len(tiles_of(1000, 1000, 0.5)), len(tiles_of(10_000, 20_000, 0.5))
    (1, 50)
    """
    shrink = pitch_for(height, width, um_per_px) / um_per_px
    overlap = int(np.ceil(OVERLAP_UM / um_per_px))
    if height * width / shrink**2 <= LARGEST_PART_PX:
        return [Tile(0, height, 0, width, (-1e9, 1e9, -1e9, 1e9))]
    side = max(int(LARGEST_PART_PX**0.5 * shrink) - 2 * overlap, overlap)
    rows, columns = int(np.ceil(height / side)), int(np.ceil(width / side))
    cuts_y = np.linspace(0, height, rows + 1).astype(int).tolist()
    cuts_x = np.linspace(0, width, columns + 1).astype(int).tolist()
    return [
        Tile(
            max(top - overlap, 0),
            min(bottom + overlap, height),
            max(left - overlap, 0),
            min(right + overlap, width),
            (
                -1e9 if top == 0 else float(top),
                1e9 if bottom == height else float(bottom),
                -1e9 if left == 0 else float(left),
                1e9 if right == width else float(right),
            ),
        )
        for top, bottom in itertools.pairwise(cuts_y)
        for left, right in itertools.pairwise(cuts_x)
    ]


def levels_of(
    picture: PictureArray, um_per_px: float, ground: Ground, tile: Tile
) -> tuple[list[Map], float, float]:
    """Return the levels of a tile of a picture, the pitch of the first in µm, and how many pixels of the picture it is."""
    part = picture[tile.top : tile.bottom, tile.left : tile.right]
    pitch = pitch_for(picture.shape[0], picture.shape[1], um_per_px)
    rows, columns = (max(1, round(side * um_per_px / pitch)) for side in part.shape[:2])
    scale = part.shape[1] / columns
    absorbed = without_surround(absorbed_in(part, ground, rows, columns), ground, tile.left, tile.top, scale)
    return pyramid(absorbed, pitch), pitch, scale
