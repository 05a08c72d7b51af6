"""Two bodies met: did their tracks keep to them? By looks and way before and after, tracks are exchanged where they did not.

In a crowd a track may go on with the other of two bodies that crossed: a swimmer's with a grain, or with a swimmer
that another track had lost before. Bodies keep their size, their brightness and, for a short time, their course.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.link import Track

Values = NDArray[np.float64]
_AHEAD_S, _APART_S = 0.25, 0.2  # for how long a lost one is foreseen; meetings closer in time are one
_WINDOW_S, _LOOKS_S, _FEW = 0.25, 0.8, 4
_TOUCH, _TOUCH_UM = 0.5, 1.5  # of both lengths, and µm
_LEAST_GAIN, _ONE_BODY = (
    1.0,
    4.4,
)  # from 4.4 on two sides are of two bodies rather than of one, by the same fit
_SAY = np.array([0.8, 0.35, 0.6, 2.0, 0.95])
"""Weights of area, peak, length, course and place: a logistic fit to 1,800 pairs of sides in tuning clips."""


@dataclass(frozen=True)
class Side:
    """What is known of a body on one side of a meeting."""

    time_s: float
    place: Values  # (2,) at `time_s`
    velocity: Values  # (2,), µm/s
    looks: Values  # (3,) log of area, peak and length
    spread: Values  # (3,) how much these vary by themselves


def untangled(tracks: Sequence[Track], times_s: Values) -> list[Track]:
    """Return the tracks with those exchanged that took up each other's bodies where these met.

    Parameters
    ----------
    tracks : sequence of Track
        From :func:`fecallab.imaging.motility.link.link`.
    times_s : ndarray, shape (frames,)
    """
    known = [k for k, one in enumerate(tracks) if len(one.frames) >= _FEW]
    rest = [one for one in tracks if len(one.frames) < _FEW]
    frames = [np.array(tracks[k].frames) for k in known]
    rows = [np.array(tracks[k].rows) for k in known]
    pieces: list[list[tuple[int, int, int]]] = [[(k, 0, len(times_s))] for k in range(len(known))]
    owner = list(range(len(known)))  # which of `pieces` a track's rows go to from here on
    for start, end, one, other in _meetings(frames, rows, times_s):
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


def _meetings(
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
        few = min(_FEW, len(at)) - 1
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


def side_of(held: tuple[NDArray[np.intp], Values], times_s: Values, way: int) -> Side | None:
    """Return what the rows before (`way` -1) or after (1) a meeting tell; None for too few."""
    at, rows = held
    if len(at) < _FEW:
        return None
    order = slice(None, None, -1) if way < 0 else slice(None)
    at, rows = at[order], rows[order]
    since = np.abs(times_s[at] - times_s[at[0]])
    near = since <= _WINDOW_S
    near[:_FEW] = True
    t = times_s[at[near]] - times_s[at[0]]
    xy = rows[near, :2]
    middle = t.mean()
    velocity = ((t - middle)[:, None] * xy).sum(axis=0) / max(float(((t - middle) ** 2).sum()), 1e-9)
    whole = (since <= _LOOKS_S) & (rows[:, 7] < 0.5)
    if whole.sum() < _FEW:
        whole = since <= _LOOKS_S
    seen = np.log(np.maximum(rows[whole][:, [2, 6, 3]], 1e-6))
    return Side(
        time_s=float(times_s[at[0]]),
        place=xy.mean(axis=0) - velocity * middle,
        velocity=velocity,
        looks=np.median(seen, axis=0),
        spread=seen.std(axis=0) + 0.05,
    )


def unlikeness(before: Side, after: Side) -> Values:
    """Return how much two sides differ: looks (3), then course and place, each in its own usual differences."""
    looks = (before.looks - after.looks) ** 2 / (0.15**2 + before.spread**2 + after.spread**2)
    wait = max(after.time_s - before.time_s, 0.0)
    pace = max(float(np.hypot(*before.velocity)), float(np.hypot(*after.velocity)))
    turned = float(((after.velocity - before.velocity) ** 2).sum()) / (4.0 + 0.4 * pace) ** 2
    miss = after.place - before.place - 0.5 * (before.velocity + after.velocity) * wait
    size = float(np.exp(0.5 * (before.looks[2] + after.looks[2])))
    off = float((miss**2).sum()) / (1.0 + 0.1 * size + 0.25 * pace * wait) ** 2
    return np.array([*looks, turned, off])


def _exchanged(before: Sequence[Side | None], after: Sequence[Side | None]) -> bool:
    """Return whether two tracks go on with each other's bodies."""

    def cost(i: int, j: int) -> float | None:
        a, b = before[i], after[j]
        return None if a is None or b is None else float(_SAY @ np.log1p(unlikeness(a, b)))

    kept = [cost(0, 0), cost(1, 1)]
    swapped = [cost(0, 1), cost(1, 0)]
    told_kept = [one for one in kept if one is not None]
    told_swapped = [one for one in swapped if one is not None]
    if not told_kept or len(told_kept) != len(told_swapped):
        return False
    return max(told_swapped) < _ONE_BODY and sum(told_kept) - sum(told_swapped) > _LEAST_GAIN
