"""Frames made comparable: small, one grey value, even light, the lit circle only; and how far the camera moved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage

from fecallab.imaging.field import disc, find_lit_circle
from fecallab.imaging.grey import WorkingCopy
from fecallab.imaging.motility.clips import Pixels

Grey = NDArray[np.float32]
Mask = NDArray[np.bool_]
Spectrum = NDArray[np.complex64]

FINEST_UM = 1.0
"""A working pixel is about this wide (own choice: the smallest flagellates are 4 µm long)."""
_MOST_PIXELS = 0.75e6
_SMOOTHINGS = (2.0, 5.0)


def shrink_for(width_px: int, height_px: int, um_per_px: float) -> int:
    """Return the side of the square of pixels that becomes one working pixel.

    Examples
    --------
    >>> shrink_for(720, 540, 0.4), shrink_for(640, 480, 1.3), shrink_for(1920, 1080, 0.65)
    (2, 1, 2)
    """
    shrink = max(1, round(FINEST_UM / um_per_px))
    while width_px * height_px / shrink**2 > _MOST_PIXELS:
        shrink += 1
    return min(shrink, max(1, min(width_px, height_px) // 16))


def averaged(pixels: Pixels, shrink: int) -> Grey:
    """Average over squares of pixels.

    Examples
    --------
    >>> averaged(np.array([[1, 3], [5, 7]], np.uint8), 2).tolist()
    [[4.0]]
    """
    rows, columns = pixels.shape[0] // shrink, pixels.shape[1] // shrink
    if shrink == 1:
        return pixels.astype(np.float32)
    cut = pixels[: rows * shrink, : columns * shrink]
    total = np.zeros((rows, columns), np.uint32)
    for down in range(shrink):
        for right in range(shrink):
            total += cut[down::shrink, right::shrink]
    return np.asarray(total * np.float32(1 / shrink**2), np.float32)


def lit_mask(grey: Grey) -> Mask:
    """Return where the field is lit, a little inside the rim of a round field."""
    top = max(float(np.percentile(grey, 99.5)), 1e-6)
    circle = find_lit_circle(WorkingCopy(np.asarray(grey / top, np.float32), 1))
    if circle is None:
        return np.ones(grey.shape, bool)
    return disc(grey.shape, circle.x_px, circle.y_px, max(0.96 * circle.diameter_px / 2 - 2, 4))


def lamp_of(frames: NDArray[np.float32], mask: Mask) -> Grey:
    """Return how the light lies over the field, 1 on average: what changes slowly from place to place."""
    few = np.asarray(np.median(frames[:: max(1, len(frames) // 5)], axis=0), np.float32)
    shrink = max(1, min(mask.shape) // 60)
    rows, columns = (side // shrink * shrink for side in mask.shape)
    small = few[:rows:shrink, :columns:shrink]
    inside = mask[:rows:shrink, :columns:shrink].astype(np.float32)
    width = 0.14 * max(small.shape)
    below = ndimage.gaussian_filter(inside, width)
    smooth = ndimage.gaussian_filter(small * inside, width) / np.maximum(below, 1e-3)
    level = float(np.average(smooth, weights=inside)) if inside.any() else 1.0
    smooth = np.where(below > 1e-3, smooth / max(level, 1e-6), 1.0)
    at = np.meshgrid(*(np.arange(side) / shrink for side in mask.shape), indexing="ij")
    large = ndimage.map_coordinates(smooth, at, order=1, mode="nearest")
    return np.asarray(np.maximum(large, 0.1), np.float32)


@dataclass
class Aligner:
    """Finds how far one frame lies beside another, by phase correlation of their fine structure."""

    mask: Mask

    def __post_init__(self) -> None:
        rows, columns = self.mask.shape
        soft = ndimage.uniform_filter(self.mask.astype(np.float32), 9)
        self.window = np.asarray(
            np.where(self.mask, soft, 0)
            * np.hanning(rows)[:, None] ** 0.5
            * np.hanning(columns)[None] ** 0.5,
            np.float32,
        )
        fy, fx = np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(columns)[None]
        f2 = fx**2 + fy**2
        self.band = np.asarray(np.exp(-f2 / (2 * 0.12**2)) * (1 - np.exp(-f2 / (2 * 0.02**2))), np.float32)

    def spectrum(self, grey: Grey) -> Spectrum:
        """Return the windowed spectrum of a frame."""
        flat = (grey - float(grey[self.mask].mean())) * self.window
        return np.asarray(fft.rfft2(flat), np.complex64)

    def shift(self, one: Spectrum, other: Spectrum, reach: int | None = None) -> Shift:
        """Return how far `other` lies beside `one`, looked for everywhere or within `reach` pixels."""
        cross = other * np.conj(one)
        size = np.abs(cross)
        weight = self.band * np.sqrt(size)  # between plain and phase correlation: robust, yet weighed
        surface = fft.irfft2(
            np.where(size > 0, cross / np.maximum(size, 1e-20), 0) * weight, s=self.mask.shape
        )
        rows, columns = surface.shape
        if reach is None:
            y, x = divmod(int(np.argmax(surface)), columns)
        else:
            up, left = min(reach, rows // 2 - 1), min(reach, columns // 2 - 1)
            near = np.roll(surface, (up, left), (0, 1))[: 2 * up + 1, : 2 * left + 1]
            y, x = divmod(int(np.argmax(near)), near.shape[1])
            y, x = (y - up) % rows, (x - left) % columns
        peak = float(surface[y, x])
        dy = y + _top(surface[(y - 1) % rows, x], peak, surface[(y + 1) % rows, x])
        dx = x + _top(surface[y, (x - 1) % columns], peak, surface[y, (x + 1) % columns])
        dy, dx = (dy + rows / 2) % rows - rows / 2, (dx + columns / 2) % columns - columns / 2
        total = float(weight[:, 1:].sum() * 2 + weight[:, 0].sum()) / surface.size
        return Shift(
            xy=np.array([dx, dy]),
            agreement=min(1.0, peak / max(total, 1e-20)),
            unmoved=float(surface[0, 0]) / max(peak, 1e-20),
            clear=peak / max(float(surface.std()), 1e-20),
        )


@dataclass(frozen=True)
class Shift:
    """How one frame lies beside another.

    Attributes
    ----------
    xy : ndarray, shape (2,)
        Columns and rows.
    agreement : float
        Share of the structure that moved so, 0 to 1.
    unmoved : float
        How well no shift at all would do, beside it.
    clear : float
        Height of the peak over the scatter around it.
    """

    xy: NDArray[np.float64]
    agreement: float
    unmoved: float
    clear: float


def _top(before: float, peak: float, after: float) -> float:
    bend = before - 2 * peak + after
    return float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5)) if bend < 0 else 0.0


def blur_of(grey: Grey, mask: Mask) -> float | None:
    """Return the blur of the sharpest edges, standard deviation in pixels; None where nothing has an edge.

    A step blurred by b has a slope of 1/sqrt(b² + s²) after smoothing by s; two smoothings give b.
    """
    inside = ndimage.binary_erosion(mask, iterations=6, border_value=0)
    if inside.sum() < 400 or not np.ptp(grey[inside]) > 0:
        return None
    steep = []
    for s in _SMOOTHINGS:
        slope = ndimage.gaussian_gradient_magnitude(grey, s)[inside]
        usual, top = float(np.median(slope)), float(np.percentile(slope, 99.7))
        if top < 3.0 * usual:
            return None
        steep.append(np.sqrt(top**2 - usual**2))
    fine, wide = _SMOOTHINGS
    ratio2 = float((steep[0] / steep[1]) ** 2)
    if ratio2 <= 1.0:
        return float(max(mask.shape))
    return float(np.sqrt(max((wide**2 - fine**2 * ratio2) / (ratio2 - 1), 0.0)))
