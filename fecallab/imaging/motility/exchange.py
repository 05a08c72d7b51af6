"""Two bodies met: did their tracks keep to them? By looks and way before and after, tracks are exchanged where they did not.

In a crowd a track may go on with the other of two bodies that crossed: a swimmer's with a grain, or with a swimmer
that another track had lost before. Bodies keep their size, their brightness and, for a short time, their course.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.link import Track
from fecallab.imaging.motility.sides import FEW, Side, drawn_odds, side_of

Values = NDArray[np.float64]
_AHEAD_S, _APART_S = 0.25, 0.2  # for how long a lost one is foreseen; meetings closer in time are one
_TOUCH, _TOUCH_UM = 0.5, 1.5  # of both lengths, and µm
_LEAST_GAIN = 1.0  # by how much likelier the other reading must be, as a logarithm


def untangled(tracks: Sequence[Track], times_s: Values) -> list[Track]:
    """Return the tracks with those exchanged that took up each other's bodies where these met.

    Parameters
    ----------
    tracks : sequence of Track
        From :func:`fecallab.imaging.motility.link.link`.
    times_s : ndarray, shape (frames,)
    """
    known = [k for k, one in enumerate(tracks) if len(one.frames) >= FEW]
    rest = [one for one in tracks if len(one.frames) < FEW]
    frames = [np.array(tracks[k].frames) for k in known]
    rows = [np.array(tracks[k].rows) for k in known]
    pieces: list[list[tuple[int, int, int]]] = [[(k, 0, len(times_s))] for k in range(len(known))]
    owner = list(range(len(known)))  # which of `pieces` a track's rows go to from here on
    for start, end, one, other in meetings(frames, rows, times_s):
        before = [side_of(_held(pieces[owner[k]], frames, rows, 0, start), times_s, -1) for k in (one, other)]
        after = [side_of(_cut(frames[k], rows[k], end + 1, len(times_s)), times_s, 1) for k in (one, other)]
        if _exchanged(before, after):
            middle = (start + end + 1) // 2
            for k in (one, other):
                label, since, _ = pieces[owner[k]].pop()
                pieces[owner[k]].append((label, since, middle))
            owner[one], owner[other] = owner[other], owner[one]
            for k in (one, other):
                pieces[owner[k]].append((k, middle, len(times_s)))
    whole = []
    for held in pieces:
        at, values = _held(held, frames, rows, 0, len(times_s))
        if len(at):
            whole.append(Track(at.tolist(), list(values)))
    return whole + rest


def _cut(frames: NDArray[np.intp], rows: Values, start: int, end: int) -> tuple[NDArray[np.intp], Values]:
    a, b = np.searchsorted(frames, (start, end))
    return frames[a:b], rows[a:b]


def _held(
    pieces: Sequence[tuple[int, int, int]],
    frames: Sequence[NDArray[np.intp]],
    rows: Sequence[Values],
    start: int,
    end: int,
) -> tuple[NDArray[np.intp], Values]:
    """Return what a track holds of frames `start` to `end` (not included), from all of its pieces."""
    cuts = [_cut(frames[k], rows[k], max(a, start), min(b, end)) for k, a, b in pieces]
    return np.concatenate([one[0] for one in cuts]), np.concatenate([one[1] for one in cuts])


def meetings(
    frames: Sequence[NDArray[np.intp]], rows: Sequence[Values], times_s: Values
) -> list[tuple[int, int, int, int]]:
    """Return first and last frame of each meeting and the two tracks, in the order of their middles."""
    count = len(times_s)
    usual = float(np.median(np.diff(times_s))) if count > 1 else 1.0
    ahead = max(2, round(_AHEAD_S / usual))
    place = np.full((count, len(frames), 2), np.nan)
    length = np.array([np.median(one[:, 3]) for one in rows])
    for k, (at, row) in enumerate(zip(frames, rows, strict=True)):
        first, last = max(0, at[0] - ahead), min(count, at[-1] + 1 + ahead)
        span = np.arange(first, last)
        few = min(FEW, len(at)) - 1
        for axis in (0, 1):
            along = np.interp(span, at, row[:, axis])
            early, late = span < at[0], span > at[-1]
            along[early] += (row[few, axis] - row[0, axis]) / (at[few] - at[0]) * (span[early] - at[0])
            along[late] += (
                (row[-1, axis] - row[-1 - few, axis]) / (at[-1] - at[-1 - few]) * (span[late] - at[-1])
            )
            place[first:last, k, axis] = along
    touch = _TOUCH * (length[:, None] + length[None]) + _TOUCH_UM
    found: dict[tuple[int, int], list[list[int]]] = {}
    apart = max(1, round(_APART_S / usual))
    for k in range(count):
        here = np.flatnonzero(np.isfinite(place[k, :, 0]))
        spots = place[k, here]
        near = ((spots[:, None] - spots[None]) ** 2).sum(axis=2) < touch[np.ix_(here, here)] ** 2
        for a, b in zip(*np.nonzero(np.triu(near, 1)), strict=True):
            spans = found.setdefault((int(here[a]), int(here[b])), [])
            if spans and k - spans[-1][1] <= apart:
                spans[-1][1] = k
            else:
                spans.append([k, k])
    met = [(a, b, *pair) for pair, spans in found.items() for a, b in spans]
    return sorted(met, key=lambda one: (one[0] + one[1], one))  # by their middles, at which tracks are cut


def _exchanged(before: Sequence[Side | None], after: Sequence[Side | None]) -> bool:
    """Return whether two tracks go on with each other's bodies."""
    two = drawn_odds("meetings")

    def cost(i: int, j: int) -> float | None:
        a, b = before[i], after[j]
        return None if a is None or b is None else two.odds(a, b)

    kept = [cost(0, 0), cost(1, 1)]
    swapped = [cost(0, 1), cost(1, 0)]
    told_kept = [one for one in kept if one is not None]
    told_swapped = [one for one in swapped if one is not None]
    if not told_kept or len(told_kept) != len(told_swapped):
        return False
    return max(told_swapped) < 0.0 and sum(told_kept) - sum(told_swapped) > _LEAST_GAIN
