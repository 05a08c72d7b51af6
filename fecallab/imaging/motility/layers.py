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
_STANDS_OUT, _LEAST_CHANGE, _GHOST, _LEAST_LEFT = 5.0, 0.008, 1.3, 3


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


def still_layer(
    frames: NDArray[np.float32], camera: NDArray[np.float64], mask: Mask, careful: bool = False
) -> Layer:
    """Make the still background from frames spread over a stretch.

    Parameters
    ----------
    frames : ndarray, shape (time, rows, columns)
        Brought to even light.
    camera : ndarray, shape (time, 2)
        How far the content lies right and below of where it lay at first.
    mask : ndarray of bool
        The lit part.
    careful : bool, optional
        Leave out bodies, frame by frame, so that no ghost stays where they lingered; takes twice as long.
    """
    picks = np.unique(np.linspace(0, len(frames) - 1, min(SAMPLES, len(frames))).round().astype(int))
    stack, counts, origin = _stacked(frames[picks], camera[picks], mask)
    order = np.sort(stack, axis=0)
    middle = _quantile(order, counts, 0.5)
    dark, bright = _sides(stack[:: max(1, len(picks) // 8)], middle)
    sign = 0
    if max(dark, bright) > _ONE_SIDED * (dark + bright):
        sign = -1 if dark > bright else 1
    ground = middle if sign == 0 else _quantile(order, counts, 1 - _LEAN if sign < 0 else _LEAN)
    if careful:
        _without_bodies(stack, middle, counts)
        order = np.sort(stack, axis=0)
        left = np.isfinite(stack).sum(axis=0)
        clean = _quantile(order, left, 0.5, fill=False)
        ground = np.where(left >= np.minimum(_LEAST_LEFT, counts), clean, ground)
        ground = np.asarray(np.where(counts > 0, ground, middle), np.float32)
        middle, counts = ground, left
    # a body that passes pulls to one side only; what flickers by itself goes to both
    up, down = _quantile(order, counts, 0.8) - middle, middle - _quantile(order, counts, 0.2)
    unrest = ndimage.gaussian_filter(np.minimum(up, down), 1.2)
    unrest /= max(float(np.median(unrest[counts > 1])) if (counts > 1).any() else 0.0, 1e-6)
    unrest[counts < 4] = 2.5  # hardly seen, so hardly known
    return Layer(ground, origin, sign, unrest)


def _sides(stack: NDArray[np.float32], middle: Grey) -> tuple[float, float]:
    """Return how much stands out darker and brighter than the background."""
    dark = bright = 0.0
    for one in stack:
        change = ndimage.gaussian_filter(_change(one, middle), 1.0)[np.isfinite(one)]
        change = change - float(np.median(change))
        limit = 5 * 1.4826 * float(np.median(np.abs(change)))
        dark += float(np.sum(change[change < -limit] ** 2))
        bright += float(np.sum(change[change > limit] ** 2))
    return dark, bright


def _change(one: Grey, middle: Grey) -> Grey:
    return np.asarray(np.where(np.isfinite(one), one, middle) - middle, np.float32)


def _without_bodies(stack: NDArray[np.float32], middle: Grey, counts: NDArray[np.intp]) -> None:
    """Make bodies infinite; where one lingered so long that it became the background, leave only what was there else.

    Where frame and background differ, the one with more structure of its own holds the body.
    """
    ghosts = np.zeros(stack.shape, bool)
    own = _structure(middle)
    for one, ghost in zip(stack, ghosts, strict=True):
        seen = np.isfinite(one)
        change = ndimage.gaussian_filter(_change(one, middle), 1.0)
        change -= np.float32(np.median(change[seen]))
        noise = 1.4826 * float(np.median(np.abs(change[seen])))
        labels, count = ndimage.label(np.abs(change) > max(_STANDS_OUT * noise, _LEAST_CHANGE))
        if not count:
            continue
        flat = labels.ravel()
        at = np.flatnonzero(flat)
        there = _structure(np.where(seen, one, middle)).ravel()
        frame_has = np.bincount(flat[at], there[at], count + 1)
        ground_has = np.bincount(flat[at], own.ravel()[at], count + 1)
        is_ghost = ground_has > _GHOST * frame_has
        is_ghost[0] = False
        is_body = ~is_ghost & (np.bincount(flat, minlength=count + 1) >= 4)
        is_body[0] = False
        ghost |= ndimage.binary_dilation(is_ghost[labels], iterations=2)
        one[ndimage.binary_dilation(is_body[labels], _ROUND, iterations=2)] = np.inf
    haunted = ghosts.sum(axis=0) >= 2
    stack[:, haunted] = np.where(ghosts[:, haunted], stack[:, haunted], np.inf)


_ROUND = np.ones((3, 3), bool)


def _structure(picture: Grey) -> Grey:
    fine = ndimage.uniform_filter(picture, 3, mode="nearest")
    return np.asarray(np.abs(fine - ndimage.uniform_filter(picture, 25, mode="nearest")), np.float32)


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


def _quantile(order: NDArray[np.float32], counts: NDArray[np.intp], share: float, fill: bool = True) -> Grey:
    at = np.clip(np.round(share * (counts - 1)).astype(int), 0, None)
    picked = np.take_along_axis(order, at[None], axis=0)[0]
    missing = counts == 0
    if missing.any() and fill:
        near = ndimage.distance_transform_edt(missing, return_distances=False, return_indices=True)
        picked = picked[tuple(near)]
    return np.asarray(picked, np.float32)
