"""One grey value per pixel, as a copy of bounded size: what every measurement here begins with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.samples import PictureArray

Grey: TypeAlias = NDArray[np.float32]

MOST_MEGAPIXELS = 13.0
"""Larger pictures are averaged down to this before they are measured (own choice: time and memory)."""
_STRIP_ROWS = 512


@dataclass(frozen=True)
class WorkingCopy:
    """A grey copy of a picture.

    Attributes
    ----------
    grey : ndarray of float32, shape (rows, columns)
        Brightness, 0 black to 1 full white of the picture's sample type.
    shrink : int
        Side of the square of pixels that was averaged into one; 1 for a picture of its own size.
    """

    grey: Grey
    shrink: int

    def to_picture(self, at: float) -> float:
        """Return the picture's column or row for a column or row of the copy.

        Examples
        --------
        >>> WorkingCopy(np.zeros((2, 2), np.float32), 2).to_picture(0.0)
        0.5
        """
        return (at + 0.5) * self.shrink - 0.5


def full_white(pixels: PictureArray) -> float:
    """Return the sample value that is full white: scope cameras store 10, 12 or 14 bits in 16.

    Examples
    --------
    >>> full_white(np.array([[0, 4000]], np.uint16))
    4095.0
    """
    if pixels.dtype == np.uint8:
        return 255.0
    brightest = int(pixels.max())
    return float(next(2**bits - 1 for bits in (8, 10, 12, 14, 16) if brightest < 2**bits))


def working_copy(pixels: PictureArray, most_megapixels: float = MOST_MEGAPIXELS) -> WorkingCopy:
    """Make the grey copy, strip by strip, so that a picture of 200 megapixels needs little more memory.

    Parameters
    ----------
    pixels : ndarray, shape (height, width) or (height, width, 3)
        ``uint8`` or ``uint16``, as :func:`fecallab.imaging.read.open_picture` returns it.
    most_megapixels : float, optional
        The picture is averaged over squares of 2, 3 … pixels until it is no larger.

    Returns
    -------
    WorkingCopy
    """
    height, width = pixels.shape[:2]
    shrink = 1
    while width * height / shrink**2 > most_megapixels * 1e6:
        shrink += 1
    shrink = max(1, min(shrink, width, height))
    rows, columns = height // shrink, width // shrink
    grey = np.empty((rows, columns), np.float32)
    white = np.float32(full_white(pixels))
    step = max(1, _STRIP_ROWS // shrink)
    for first in range(0, rows, step):
        last = min(rows, first + step)
        strip: NDArray[Any] = pixels[first * shrink : last * shrink, : columns * shrink]
        value = strip.mean(axis=2, dtype=np.float32) if strip.ndim == 3 else strip.astype(np.float32)
        if shrink > 1:
            value = value.reshape(last - first, shrink, columns, shrink).mean(axis=(1, 3))
        grey[first:last] = value / white
    return WorkingCopy(grey, shrink)
