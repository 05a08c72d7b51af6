"""How much light each place takes away, in any colour, and where the lamp lights the picture at all.

Walls and pale bodies take a little from every colour, stained and brown bodies much from one of them; so the
channels are balanced to the empty ground and the darkest one counts. The logarithm makes the same wall as strong on
dim ground as on bright ground.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from fecallab.imaging.field import lit_part
from fecallab.imaging.grey import full_white
from fecallab.imaging.samples import PictureArray

Map: TypeAlias = NDArray[np.float32]
Mask: TypeAlias = NDArray[np.bool_]

GROUND_PERCENTILE = 80
"""The empty ground is about this bright within the lit part (tuned)."""
_LONGEST_MASK_PX = 400
_THIN_TO_PX = 400_000
_DARKEST = 1.2 / 255
_RIM_SHARE = 0.008
"""The rim of the lit circle is this wide, as a share of the picture's longer side (tuned)."""


@dataclass(frozen=True)
class Ground:
    """The empty field of a picture.

    Attributes
    ----------
    tables : tuple of ndarray of float32, shape (256,)
        For each channel what a sample of 8 bits absorbs.
    white : float
        Sample value that is full white.
    lit : ndarray of bool
        A coarse mask of the lit part.
    step : int
        Pixels of the picture per pixel of `lit`.
    """

    tables: tuple[Map, ...]
    white: float
    lit: Mask
    step: int

    @property
    def lit_fraction(self) -> float:
        """Share of the picture that is lit."""
        return float(self.lit.mean())

    def is_lit(self, x_px: NDArray[Any], y_px: NDArray[Any]) -> Mask:
        """Say which places (columns, rows of the picture) lie in the lit part."""
        column = np.clip(((x_px + 0.5) / self.step).astype(int), 0, self.lit.shape[1] - 1)
        row = np.clip(((y_px + 0.5) / self.step).astype(int), 0, self.lit.shape[0] - 1)
        return np.asarray(self.lit[row, column])


def ground_of(pixels: PictureArray) -> Ground:
    """Look at the whole picture: which part is lit, and how bright the empty ground is there.

    Parameters
    ----------
    pixels : ndarray, shape (height, width) or (height, width, 3)
        ``uint8`` or ``uint16``.
    """
    white = 255.0 if pixels.dtype == np.uint8 else full_white(pixels)
    thin = max(1, int(np.sqrt(pixels.shape[0] * pixels.shape[1] / _THIN_TO_PX)))
    some = _bytes(pixels[::thin, ::thin], white)
    some = some[..., None] if some.ndim == 2 else some
    step = max(1, int(np.ceil(max(some.shape[:2]) / _LONGEST_MASK_PX)))
    brightest = np.ascontiguousarray(some.max(axis=2))
    coarse = np.asarray(Image.fromarray(brightest).reduce(step), np.float32) / np.float32(255)
    lit = lit_part(np.asarray(coarse, np.float32))
    rows, columns = (
        np.minimum(np.arange(n) // step, m - 1) for n, m in zip(some.shape[:2], lit.shape, strict=True)
    )
    inside = some[lit[rows][:, columns]]
    tables = tuple(_table(_level(inside[:, channel])) for channel in range(some.shape[2]))
    return Ground(tables, white, lit, step * thin)


def _level(values: NDArray[np.uint8]) -> float:
    """Brightness of the empty ground."""
    count = np.cumsum(np.bincount(values, minlength=256))
    return float(np.searchsorted(count, GROUND_PERCENTILE / 100 * count[-1])) if values.size else 255.0


def _table(level: float) -> Map:
    light = np.arange(256) / max(level, 1.0)
    return np.asarray(-np.log(np.maximum(light, _DARKEST)), np.float32)


def _bytes(pixels: PictureArray, white: float) -> NDArray[np.uint8]:
    if pixels.dtype == np.uint8:
        return np.asarray(pixels)
    return (pixels.astype(np.float32) * np.float32(255 / white) + np.float32(0.5)).astype(np.uint8)


def absorbed_in(pixels: PictureArray, ground: Ground, rows: int, columns: int) -> Map:
    """Return what a picture, or a part of it, absorbs, resampled to a number of rows and columns.

    Parameters
    ----------
    pixels : ndarray, shape (height, width) or (height, width, 3)
    ground : Ground
        Of the whole picture.
    rows, columns : int
        Size of the result; smaller ones are means over areas.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        Natural logarithm of ground over light, of the channel that loses most.
    """
    image = Image.fromarray(np.ascontiguousarray(_bytes(pixels, ground.white)))
    if image.size != (columns, rows):
        shrink = min(image.width / columns, image.height / rows)
        if shrink >= 2:
            whole = int(shrink)
            box = (0, 0, image.width / whole, image.height / whole)
            image = image.reduce(whole)
            if image.size != (columns, rows):
                box = (0, 0, min(box[2], image.width), min(box[3], image.height))
                image = image.resize((columns, rows), Image.Resampling.BILINEAR, box=box)
        else:
            way = Image.Resampling.BILINEAR if shrink > 1 else Image.Resampling.BICUBIC
            image = image.resize((columns, rows), way)
    bands = [np.asarray(band) for band in image.split()]
    absorbed = ground.tables[0][bands[0]]
    for band, table in zip(bands[1:], ground.tables[1:], strict=True):
        np.maximum(absorbed, table[band], out=absorbed)
    return np.asarray(absorbed, np.float32)


def without_surround(
    absorbed: Map, ground: Ground, left: float = 0.0, top: float = 0.0, scale: float = 1.0
) -> Map:
    """Go on beyond the lit circle with what lies inside of its rim, so that its black edge outshines nothing.

    Parameters
    ----------
    absorbed : ndarray of float32, shape (rows, columns)
        Changed in place where the surround is.
    ground : Ground
        Of the whole picture.
    left, top : float, optional
        Column and row of the picture at which this part begins.
    scale : float, optional
        Pixels of the picture per pixel of `absorbed`.
    """
    if ground.lit.all() or not ground.lit.any():
        return absorbed
    rim = max(1, round(_RIM_SHARE * max(ground.lit.shape)))
    lit = np.asarray(ndimage.binary_erosion(ground.lit, iterations=rim, border_value=1))
    row, column = (
        np.clip(((np.arange(count) + 0.5) * scale + start) / ground.step, 0, most - 1).astype(int)
        for count, start, most in zip(absorbed.shape, (top, left), lit.shape, strict=True)
    )
    here = lit[row][:, column]
    if here.all() or not here.any():
        return absorbed
    # means of the lit part, cell by cell, then the nearest of them for every cell of the surround
    cell = (row[:, None] * lit.shape[1] + column[None, :])[here]
    total = np.bincount(cell, absorbed[here], minlength=lit.size)
    count = np.bincount(cell, minlength=lit.size)
    known = (count > 0).reshape(lit.shape)
    mean = (total / np.maximum(count, 1)).reshape(lit.shape)
    nearest = ndimage.distance_transform_edt(~known, return_distances=False, return_indices=True)
    filled = ndimage.gaussian_filter(mean[tuple(nearest)], 2.0)[row][:, column]
    absorbed[~here] = filled[~here]
    return absorbed


def halved(absorbed: Map) -> Map:
    """Average squares of two pixels; an odd last row or column is left out.

    Examples
    --------
    >>> halved(np.array([[0, 2, 9], [2, 4, 9]], np.float32)).tolist()
    [[2.0]]
    """
    rows, columns = (side // 2 * 2 for side in absorbed.shape)
    tall = absorbed[0:rows:2, :columns] + absorbed[1:rows:2, :columns]
    return np.asarray((tall[:, 0::2] + tall[:, 1::2]) * np.float32(0.25), np.float32)
