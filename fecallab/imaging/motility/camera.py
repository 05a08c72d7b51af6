"""How the camera moved against the glass: nudges, shake and creep, by what stays where it is."""

from __future__ import annotations

from collections.abc import Sequence

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
