"""A path made fit for measuring: smoothed no more than its errors ask for, without pauses, and of whole bodies only."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.paths import LONG_UM, Path, local_velocity, persistence

Values = NDArray[np.float64]
_BEAT_S = 0.5


def smoothed(path: Path, most_s: float = 0.3) -> Values:
    """Return the own path smoothed as little as its errors of place ask for, µm.

    The window is the shortest for which errors of place add less than 2 % to the squared speed.
    """
    n = len(path)
    if n < 5:
        return path.own_um
    steps = np.diff(path.own_um, axis=0)
    products = np.sum(steps[1:] * steps[:-1], axis=1)
    later = np.sum(steps[2:] * steps[:-2], axis=1)
    error2 = max(float(np.mean(later) - np.mean(products)) / 2, 0.0)  # of place, per axis, µm²
    speed2 = max(persistence(path.own_um, path.times_s).speed_um_s, 1.0) ** 2
    usual = path.seconds / (n - 1)
    half = 0
    while half < 1 or 2 * error2 * 2 / ((2 * half + 1) ** 2 * usual**2) > 0.02 * speed2:
        if error2 < 1e-4 or (2 * half + 3) * usual > most_s:
            break
        half += 1
    if half == 0:
        return path.own_um
    return np.column_stack([_line_mean(path.own_um[:, axis], half) for axis in (0, 1)])


def _line_mean(values: Values, half: int) -> Values:
    """Centred mean whose window shrinks evenly towards the ends."""
    at = np.arange(len(values))
    near = np.minimum(half, np.minimum(at, len(values) - 1 - at))
    total = np.concatenate([[0.0], np.cumsum(values)])
    return np.asarray((total[at + near + 1] - total[at - near]) / (2 * near + 1))


def to_measure(path: Path) -> tuple[Values, slice]:
    """Return the own path as it is measured, µm, and the part that is.

    The middle of a long body swings as it bends, and goes about half as fast as the body while the border cuts it: its
    places are averaged over half a second, and measured where all of it is seen, if that is so for half a second.
    """
    clear, start, end = smoothed(path), 0, len(path)
    if float(np.median(path.size[:, 1])) > LONG_UM and len(path) > 4:
        half = round(_BEAT_S * (len(path) - 1) / path.seconds / 2)
        clear = np.column_stack([_line_mean(clear[:, axis], half) for axis in (0, 1)])
        edges = _edges(path.size[:, 5] < 0.5)
        a, b = max(edges, key=lambda one: one[1] - one[0]) if len(edges) else (0, 0)
        if b - a >= 3 and path.times_s[b - 1] - path.times_s[a] >= _BEAT_S:
            start, end = int(a), int(b)
    a, b = longest_run(clear[start:end], path.times_s[start:end])
    return clear, slice(start + a, start + b)


def _edges(marked: NDArray[np.bool_]) -> NDArray[np.intp]:
    return np.flatnonzero(np.diff(np.concatenate([[False], marked, [False]]).astype(int))).reshape(-1, 2)


def longest_run(own_um: Values, times_s: Values, least_s: float = 0.5) -> tuple[int, int]:
    """Return start and end of the longest part of a track without a pause; all of it when that is too short.

    A pause is slower than a third of the track's usual speed over 0.2 s.
    """
    n = len(times_s)
    speed = np.hypot(*local_velocity(own_um, times_s, 0.2).T)
    moving = speed > np.percentile(speed, 60) / 3
    edges = _edges(moving)
    if not len(edges):
        return 0, n
    a, b = edges[int(np.argmax(edges[:, 1] - edges[:, 0]))]
    return (int(a), int(b)) if b - a >= 3 and times_s[b - 1] - times_s[a] >= least_s else (0, n)
