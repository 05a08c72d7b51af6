"""Hold proposals against what a picture is known to show."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.detect.examples import Field
from fecallab.imaging.detect.trace import Floats

LEAST_PX, SHARE_OF_LENGTH = 6.0, 0.35
"""A proposal meets a thing when its centre lies within the larger of these."""


def matched(x: Floats, y: Floats, field: Field) -> tuple[int, int, int, NDArray[np.intp]]:
    """Match proposals, best first, each thing once.

    Returns
    -------
    met, wrong, missed : int
        Proposals that meet something, those that do not, things that nobody met.
    which : ndarray of int
        For each proposal the number of the thing in ``field.known``, or -1.
    """
    real = [k for k, one in enumerate(field.known) if one.counts]
    free = set(real)
    which = np.full(len(x), -1, np.intp)
    for k in range(len(x)):
        best, nearest = -1, np.inf
        for j in free:
            one = field.known[j]
            away = float(np.hypot(x[k] - one.x_px, y[k] - one.y_px))
            limit = max(LEAST_PX, SHARE_OF_LENGTH * one.length_um / field.um_per_px)
            if away <= limit and away < nearest:
                best, nearest = j, away
        if best >= 0:
            which[k] = best
            free.discard(best)
    met = int((which >= 0).sum())
    return met, len(x) - met, len(free), which


def f1_of(counts: Iterable[tuple[int, int, int]]) -> float:
    """Return F1 from met, wrong and missed, added up.

    Examples
    --------
    >>> f1_of([(8, 1, 1), (1, 0, 0)])
    0.9
    """
    met, wrong, missed = (sum(column) for column in zip(*counts, strict=True))
    return float(2 * met / max(2 * met + wrong + missed, 1))
