"""What stays where it is: the still background of a stretch of a clip, in the coordinates of the glass."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.imaging.motility.steady import Grey, Mask

SAMPLES = 24
_ONE_SIDED = 0.65  # share of the change that must be of one sign for the layer to lean to the other side
_LEAN = 0.12


@dataclass(frozen=True)
class Layer:
    """A still background.

    Attributes
    ----------
    canvas : ndarray of float32
        In the coordinates of the glass, `origin` pixels larger to the left and above.
    origin : (int, int)
        Columns and rows of the canvas before the first pixel of an unmoved frame.
    sign : int
        -1 when moving bodies are darker than it, 1 when brighter, 0 when both.
    unrest : ndarray of float32
        How much each place flickers by itself (edges of things, compression), times the usual.
    """

    canvas: Grey
    origin: tuple[int, int]
    sign: int
    unrest: Grey

    def seen(self, shape: tuple[int, int], camera: NDArray[np.float64]) -> Grey:
        """Return the background as a frame with its content moved by `camera` shows it."""
        return self._cut(self.canvas, shape, camera)

    def trust(self, shape: tuple[int, int], camera: NDArray[np.float64]) -> Grey:
        """Return 1 where the background is as quiet as elsewhere, less where it flickers by itself."""
        return np.asarray(1 / np.clip(self._cut(self.unrest, shape, camera), 1.0, 3.0), np.float32)

    def _cut(self, canvas: Grey, shape: tuple[int, int], camera: NDArray[np.float64]) -> Grey:
        start = np.array(self.origin) - camera
        whole = np.floor(start + 1e-6).astype(int)
        part = start - whole
        rows, columns = shape
        y = min(max(int(whole[1]), 0), canvas.shape[0] - rows - 1)
        x = min(max(int(whole[0]), 0), canvas.shape[1] - columns - 1)
        return _between(canvas[y : y + rows + 1, x : x + columns + 1], part[0], part[1])


def _between(cut: Grey, right: float, down: float) -> Grey:
    """Bilinear value between pixels; one row and column less than `cut`."""
    if abs(right) < 0.02 and abs(down) < 0.02:
        return cut[:-1, :-1]
    across = cut[:, :-1] * np.float32(1 - right) + cut[:, 1:] * np.float32(right)
    return np.asarray(across[:-1] * np.float32(1 - down) + across[1:] * np.float32(down), np.float32)


def still_layer(frames: NDArray[np.float32], camera: NDArray[np.float64], mask: Mask) -> Layer:
    """Make the still background from frames spread over a stretch.

    Parameters
    ----------
    frames : ndarray, shape (time, rows, columns)
        Brought to even light.
    camera : ndarray, shape (time, 2)
        How far the content lies right and below of where it lay at first.
    mask : ndarray of bool
        The lit part.
    """
    picks = np.unique(np.linspace(0, len(frames) - 1, min(SAMPLES, len(frames))).round().astype(int))
    stack, counts, origin = _stacked(frames[picks], camera[picks], mask)
    order = np.sort(stack, axis=0)
    middle = _quantile(order, counts, 0.5)
    # a body that passes pulls to one side only; what flickers by itself goes to both
    up, down = _quantile(order, counts, 0.8) - middle, middle - _quantile(order, counts, 0.2)
    unrest = ndimage.gaussian_filter(np.minimum(up, down), 1.2)
    unrest /= max(float(np.median(unrest[counts > 1])) if (counts > 1).any() else 0.0, 1e-6)
    unrest[counts < 4] = 2.5  # hardly seen, so hardly known
    neutral = Layer(middle, origin, 0, unrest)
    dark = bright = 0.0
    for k in picks[:: max(1, len(picks) // 8)]:
        change = ndimage.gaussian_filter(frames[k] - neutral.seen(mask.shape, camera[k]), 1.0)
        change = change[mask]
        change = change - float(np.median(change))
        limit = 5 * 1.4826 * float(np.median(np.abs(change)))
        dark += float(np.sum(change[change < -limit] ** 2))
        bright += float(np.sum(change[change > limit] ** 2))
    if max(dark, bright) <= _ONE_SIDED * (dark + bright):
        return neutral
    sign = -1 if dark > bright else 1
    return Layer(_quantile(order, counts, 1 - _LEAN if sign < 0 else _LEAN), origin, sign, unrest)


def _stacked(
    frames: NDArray[np.float32], camera: NDArray[np.float64], mask: Mask
) -> tuple[NDArray[np.float32], NDArray[np.intp], tuple[int, int]]:
    """Lay frames on one canvas; places that a frame does not show are infinite."""
    rows, columns = frames.shape[1:]
    left, top = (int(np.ceil(max(camera[:, axis].max(), 0))) + 1 for axis in (0, 1))
    right, bottom = (int(np.ceil(max(-camera[:, axis].min(), 0))) + 2 for axis in (0, 1))
    dark = ~mask
    some_dark = bool(dark.any())
    stack = np.full((len(frames), rows + top + bottom, columns + left + right), np.inf, np.float32)
    for one, frame, at in zip(stack, frames, camera, strict=True):
        start = np.array([left, top]) - at
        whole = np.ceil(start - 1e-6).astype(int)
        part = whole - start
        still = np.abs(part) < 0.02
        cut = frame if still.all() else _between(np.pad(frame, ((0, 1), (0, 1)), mode="edge"), *part)
        if some_dark:
            cut = np.where(dark, np.float32(np.inf), cut)
        one[whole[1] : whole[1] + rows, whole[0] : whole[0] + columns] = cut
    return stack, np.isfinite(stack).sum(axis=0), (left, top)


def _quantile(order: NDArray[np.float32], counts: NDArray[np.intp], share: float) -> Grey:
    at = np.clip(np.round(share * (counts - 1)).astype(int), 0, None)
    picked = np.take_along_axis(order, at[None], axis=0)[0]
    missing = counts == 0
    if missing.any():
        near = ndimage.distance_transform_edt(missing, return_distances=False, return_indices=True)
        picked = picked[tuple(near)]
    return np.asarray(picked, np.float32)
