"""One track, two things: a track that took up something else on its way is cut there.

A flaw of the film lies still where a body just left it or comes in; a lost body's track may go on with what lies near.
Both sides of such a hop differ in brightness, course and place by more than one body does.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.link import Track
from fecallab.imaging.motility.sides import Side, drawn_odds, side_of

Values = NDArray[np.float64]
_NEAR, LEAST, _STEP, _GAP_FRAMES = 5, 4, 0.5, 3


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
    if len(at) < 2 * LEAST:
        return [track]
    told = [(_two_things(at, rows, k, times_s), k) for k in suspects(at, rows)]
    cuts: list[int] = []
    for score, k in sorted(told, reverse=True):
        if score > 0 and all(abs(k - other) >= LEAST for other in cuts):
            cuts.append(k)
    edges = [0, *sorted(cuts), len(at)]
    return [Track(track.frames[a:b], track.rows[a:b]) for a, b in pairwise(edges)]


def suspects(at: NDArray[np.intp], rows: Values) -> NDArray[np.intp]:
    """Return the rows at which a new thing may begin: after a gap, or where area or brightness change."""
    looks = np.log(np.maximum(rows[:, [2, 6]], 1e-6))
    padded = np.pad(looks, ((_NEAR, _NEAR), (0, 0)), mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, _NEAR, axis=0)
    usual = np.median(windows[: len(looks) + _NEAR + 1], axis=2)
    step = np.abs(usual[_NEAR : _NEAR + len(looks)] - usual[: len(looks)]).max(axis=1)
    gap = np.diff(at, prepend=at[0] - 1)
    odd = (step > _STEP) | (gap >= _GAP_FRAMES)
    odd[:LEAST] = odd[len(at) - LEAST + 1 :] = False
    return np.flatnonzero(odd)


def sides_at(at: NDArray[np.intp], rows: Values, k: int, times_s: Values) -> tuple[Side, Side] | None:
    """Return what is known before and from row `k` on; None for too little."""
    before, after = side_of((at[:k], rows[:k]), times_s, -1), side_of((at[k:], rows[k:]), times_s, 1)
    return None if before is None or after is None else (before, after)


def _two_things(at: NDArray[np.intp], rows: Values, k: int, times_s: Values) -> float:
    sides = sides_at(at, rows, k, times_s)
    return -np.inf if sides is None else drawn_odds("hops").odds(*sides)
