"""One track, two things: a track that took up something else on its way is cut there.

A flaw of the film lies still where a body just left it or comes in; a lost body's track may go on with what lies near.
Both sides of such a hop differ in brightness, course and place by more than one body does.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.exchange import side_of, unlikeness
from fecallab.imaging.motility.link import Track

Values = NDArray[np.float64]
_SAY, _TWO_THINGS = np.array([0.0, 0.75, 0.0, 1.1, 1.05]), 4.9
"""Weights of area, peak, length, course and place, and from where on two things are likelier than one: a logistic fit
to 2,300 places in tracks of tuning clips."""
_NEAR, _LEAST, _STEP, _GAP_FRAMES = 5, 4, 0.5, 3


def without_hops(tracks: Sequence[Track], times_s: Values) -> list[Track]:
    """Return the tracks, each cut where it went on with something else.

    Parameters
    ----------
    tracks : sequence of Track
    times_s : ndarray, shape (frames,)
    """
    return [piece for one in tracks for piece in _pieces(one, times_s)]


def _pieces(track: Track, times_s: Values) -> list[Track]:
    at, rows = np.array(track.frames), np.array(track.rows)
    if len(at) < 2 * _LEAST:
        return [track]
    told = [(_two_things(at, rows, k, times_s), k) for k in _suspects(at, rows)]
    cuts: list[int] = []
    for score, k in sorted(told, reverse=True):
        if score > _TWO_THINGS and all(abs(k - other) >= _LEAST for other in cuts):
            cuts.append(k)
    edges = [0, *sorted(cuts), len(at)]
    return [Track(track.frames[a:b], track.rows[a:b]) for a, b in pairwise(edges)]


def _suspects(at: NDArray[np.intp], rows: Values) -> NDArray[np.intp]:
    """Return the rows at which a new thing may begin: after a gap, or where area or brightness change."""
    looks = np.log(np.maximum(rows[:, [2, 6]], 1e-6))
    padded = np.pad(looks, ((_NEAR, _NEAR), (0, 0)), mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, _NEAR, axis=0)
    usual = np.median(windows[: len(looks) + _NEAR + 1], axis=2)
    step = np.abs(usual[_NEAR : _NEAR + len(looks)] - usual[: len(looks)]).max(axis=1)
    gap = np.diff(at, prepend=at[0] - 1)
    odd = (step > _STEP) | (gap >= _GAP_FRAMES)
    odd[:_LEAST] = odd[len(at) - _LEAST + 1 :] = False
    return np.flatnonzero(odd)


def _two_things(at: NDArray[np.intp], rows: Values, k: int, times_s: Values) -> float:
    before, after = side_of((at[:k], rows[:k]), times_s, -1), side_of((at[k:], rows[k:]), times_s, 1)
    return 0.0 if before is None or after is None else float(_SAY @ np.log1p(unlikeness(before, after)))
