"""How the camera moved against the glass: nudges, shake and creep, by what stays where it is."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.layers import Layer, still_layer
from fecallab.imaging.motility.steady import Aligner, Grey, Shift, Spectrum

Values = NDArray[np.float64]
_REACH_PX, _CLEAR, _STEADY_PX = 8, 9.0, 0.12
_JUMP_PX, _JUMP_UNMOVED = 1.5, 0.6


def is_jump(step: Shift) -> bool:
    """Return whether the whole picture moved at once between two frames."""
    far = float(np.hypot(*step.xy))
    return far > _JUMP_PX and step.unmoved < _JUMP_UNMOVED and step.clear > _CLEAR


def camera_path(
    frames: Sequence[Grey], spectra: Sequence[Spectrum], jumps: Values, aligner: Aligner
) -> tuple[Values, Layer]:
    """Place every frame on the still background that they share.

    Parameters
    ----------
    frames, spectra : sequence
        Coarse frames and their spectra.
    jumps : ndarray, shape (time, 2)
        Where each frame would lie by the nudges alone.
    aligner : Aligner

    Returns
    -------
    path : ndarray, shape (time, 2)
        How far the content lies right and below of where it lies on the layer; `jumps` where nothing stays.
    layer : Layer
        The coarse background.
    """
    stack = np.array(frames, np.float32)
    path = jumps.copy()
    layer = still_layer(stack, path, aligner.mask)
    for _ in range(3):
        placed = path.copy()
        for k, spectrum in enumerate(spectra):
            ground = aligner.spectrum(layer.seen(aligner.mask.shape, path[k]))
            found = aligner.shift(ground, spectrum, _REACH_PX)
            if found.clear > _CLEAR:
                placed[k] = path[k] + found.xy
        placed -= np.median(placed - path, axis=0)
        moved = np.hypot(*(placed - path).T)
        if np.percentile(moved, 90) < _STEADY_PX:
            break
        path = placed
        layer = still_layer(stack, path, aligner.mask)
    return path, layer


def refined(frames: NDArray[np.float32], path: Values, aligner: Aligner) -> Values:
    """Place every frame more finely on the background; between nudges a camera at rest gets one place.

    Parameters
    ----------
    frames : ndarray, shape (time, rows, columns)
    path : ndarray, shape (time, 2)
        From :func:`camera_path`, in these pixels.
    aligner : Aligner
        For frames of this size.
    """
    fine = _at_rest(path)
    for _ in range(2):
        layer = still_layer(frames, fine, aligner.mask)
        placed = fine.copy()
        for k, frame in enumerate(frames):
            ground = aligner.spectrum(layer.seen(aligner.mask.shape, fine[k]))
            found = aligner.shift(ground, aligner.spectrum(frame), 3)
            if found.clear > _CLEAR:
                placed[k] = fine[k] + found.xy
        placed = _at_rest(placed)
        moved = np.hypot(*(placed - fine).T)
        fine = placed
        if np.percentile(moved, 90) < 0.05:
            break
    return fine


def _at_rest(path: Values, still_px: float = 0.25) -> Values:
    """Give every stretch in which the camera did not move its middle place."""
    steps = np.hypot(*np.diff(path, axis=0).T) > 4 * still_px
    edges = [0, *(np.flatnonzero(steps) + 1), len(path)]
    calm = path.copy()
    for start, end in pairwise(edges):
        middle = np.median(path[start:end], axis=0)
        if np.percentile(np.abs(path[start:end] - middle), 90) < still_px:
            calm[start:end] = middle
    return calm
