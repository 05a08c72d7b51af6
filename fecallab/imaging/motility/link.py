"""Bodies of one frame joined to those of the next: by place, foreseen motion and size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

Values = NDArray[np.float64]

FASTEST_UM_S = 300.0
"""Faster bodies are not followed (own choice: flagellates and ciliates in stool stay well below)."""
SHARED = 2.0
"""In the last column: a half of a body in which two tracks lie; 1 says that the rim cuts it."""
_FASTEST_STREAM_UM_S = 45.0
_LENGTHS_S = 14.0  # body lengths per second of the fastest (own choice)
_MEMORY_S, _FEW = 0.34, 3
_YOUNG_S, _KNOWN, _SURE, _TOGETHER_S, _COVERED_S = 0.1, 3, 6, 1.2, 0.5
_LARGER, _SMALL, _WITHIN, _SLENDER, _STIFF_UM, _UNLIKE = 1.2, 0.2, 0.5, 3.0, 25.0, 2.5
_FAR = 1e6


@dataclass
class Track:
    """One body over time.

    Attributes
    ----------
    frames : list of int
        Frames in which it was seen, increasing.
    rows : list of ndarray
        For each, x and y in µm on the glass, then area (µm²), length, width (µm), angle (radians), peak, and whether
        only a part is seen.
    """

    frames: list[int] = field(default_factory=list)
    rows: list[Values] = field(default_factory=list)


def link(tables: Sequence[Values], times_s: Values) -> list[Track]:
    """Join bodies to tracks.

    The clip is gone through backwards first, to part bodies that lay together at the beginning.

    Parameters
    ----------
    tables : sequence of ndarray
        For each frame, rows as in :class:`Track`.
    times_s : ndarray, shape (frames,)

    Returns
    -------
    list of Track
        All of them, also those seen once.
    """
    backwards = _followed(list(tables)[::-1], times_s[-1] - times_s[::-1])[1] if len(tables) else []
    return _followed(backwards[::-1], times_s)[0]


def link_specks(tables: Sequence[Values], times_s: Values) -> list[Track]:
    """Join small things that the fluid carries to tracks, up to the speed of a fast stream.

    Parameters
    ----------
    tables : sequence of ndarray
        For each frame, rows as in :class:`Track`.
    times_s : ndarray, shape (frames,)
    """
    return _followed(tables, times_s, _FASTEST_STREAM_UM_S)[0]


def _followed(
    tables: Sequence[Values], times_s: Values, fastest_um_s: float = FASTEST_UM_S
) -> tuple[list[Track], list[Values]]:
    """Return tracks, and the bodies of each frame with those parted in which two tracks met."""
    tracks: list[Track] = []
    parted: list[Values] = []
    live: list[int] = []
    place, speed, sizes = np.empty((0, 2)), np.empty((0, 2)), np.empty((0, 2))
    seen, known, alone, proof, forms = np.empty(0), np.empty(0), np.empty(0), np.empty(0), np.empty((0, 3))
    for k, table in enumerate(tables):
        now = times_s[k]
        dt = now - times_s[k - 1] if k else 0.0
        long_known = known >= _KNOWN
        keep = now - seen <= np.where(long_known, max(_MEMORY_S, (_FEW + 0.5) * dt), max(_YOUNG_S, 1.5 * dt))
        live = [one for one, kept in zip(live, keep, strict=True) if kept]
        place, speed, sizes = place[keep], speed[keep], sizes[keep]
        seen, known, alone, proof, forms = seen[keep], known[keep], alone[keep], proof[keep], forms[keep]
        shared = proven = np.zeros(len(table), bool)
        if len(live) and len(table):
            sure = (known >= _SURE) & (now - alone < _TOGETHER_S) & (now - proof < _COVERED_S)
            table, shared, proven = _told_apart(table, place + speed * (now - seen)[:, None], forms, sure)
        parted.append(table)
        size = np.log(np.maximum(table[:, [2, 6]], 1e-6)) if len(table) else np.empty((0, 2))
        taken = np.zeros(len(table), bool)
        free = np.ones(len(live), bool)
        if len(live) and len(table):
            gap = (now - seen)[:, None]
            foreseen = place + speed * gap
            offset = table[None, :, :2] - foreseen[:, None]
            far = np.hypot(offset[..., 0], offset[..., 1])
            unlike = ((sizes[:, None] - size[None]) ** 2 * np.array([1.0, 0.6])).sum(axis=2)
            like = np.abs(sizes[:, None, 0] - size[None, :, 0]) < _UNLIKE
            pace = np.hypot(speed[:, 0], speed[:, 1])[:, None]
            long = np.exp(
                0.5 * sizes[:, :1]
            )  # about the length: the middle of a large body is told less finely
            bends = 0.1 * np.maximum(
                forms[:, 1:2] - _STIFF_UM, 0
            )  # the middle of a long body swings as it bends
            tight = 1.2 + 0.08 * long + bends + (0.45 * pace + 12.0) * gap
            fastest = np.maximum(fastest_um_s, _LENGTHS_S * long)
            wide = (
                1.5 + np.where(known[:, None] < _KNOWN, fastest, np.minimum(60.0 + 1.3 * pace, fastest)) * gap
            )
            for reach, who in ((tight, known >= _KNOWN), (wide, np.ones(len(live), bool))):
                who = who & free
                open_to = ~taken
                if not who.any() or not open_to.any():
                    continue
                cut = np.ix_(who, open_to)
                scale = reach[who]
                cost = np.minimum((far[cut] / scale) ** 2 + 0.15 * unlike[cut], _FAR)
                allowed = (far[cut] <= scale) & like[cut]
                rows, columns = linear_sum_assignment(np.where(allowed, cost, 50.0))
                good = allowed[rows, columns]
                ours, theirs = np.flatnonzero(who)[rows[good]], np.flatnonzero(open_to)[columns[good]]
                step = (table[theirs, :2] - place[ours]) / gap[ours]
                young = known[ours] < 2
                gain = np.where(young, 1.0, np.clip(gap[ours, 0] / 0.1, 0.25, 0.6))[:, None]
                gain = np.where(shared[theirs, None], 0.4 * gain, gain)
                speed[ours] = (1 - gain) * speed[ours] + gain * step * np.where(young, 0.9, 1.0)[:, None]
                place[ours], seen[ours] = table[theirs, :2], now
                sizes[ours] = 0.7 * sizes[ours] + 0.3 * size[theirs]
                known[ours] += 1
                apart = ~shared[theirs]
                alone[ours[apart]] = now
                proof[ours[apart | proven[theirs]]] = now
                forms[ours[apart]] = 0.7 * forms[ours[apart]] + 0.3 * table[theirs[apart]][:, [2, 3, 4]]
                free[ours], taken[theirs] = False, True
                for mine, row in zip(ours, theirs, strict=True):
                    tracks[live[mine]].frames.append(k)
                    tracks[live[mine]].rows.append(table[row])
        fresh = np.flatnonzero(~taken)
        for row in fresh:
            live.append(len(tracks))
            tracks.append(Track([k], [table[row]]))
        place = np.vstack([place, table[fresh, :2]])
        speed = np.vstack([speed, np.zeros((len(fresh), 2))])
        seen = np.concatenate([seen, np.full(len(fresh), now)])
        sizes = np.vstack([sizes, size[fresh]])
        known = np.concatenate([known, np.ones(len(fresh))])
        alone, proof = (np.concatenate([one, np.full(len(fresh), now)]) for one in (alone, proof))
        forms = np.vstack([forms, table[fresh][:, [2, 3, 4]]])
    return tracks, parted


def _told_apart(
    table: Values, foreseen: Values, forms: Values, sure: NDArray[np.bool_]
) -> tuple[Values, NDArray[np.bool_], NDArray[np.bool_]]:
    """Part a body in which two tracks must lie: bodies that cross or touch are seen as one, longer or larger.

    Parameters
    ----------
    table : ndarray, shape (bodies, 8)
    foreseen : ndarray, shape (tracks, 2)
        Where each track should be by now.
    forms : ndarray, shape (tracks, 3)
        Usual area, length and width of each.
    sure : ndarray of bool, shape (tracks,)
        Whether a track was followed alone long enough and not too long ago.

    Returns
    -------
    table : ndarray
        With such bodies replaced by two, the centres along the long axis.
    shared : ndarray of bool
        Which rows are such halves.
    proven : ndarray of bool
        Which of them come from a body that is larger than either alone.
    """
    offset = foreseen[:, None] - table[None, :, :2]
    c, s = np.cos(table[:, 5]), np.sin(table[:, 5])
    along, across = offset[..., 0] * c + offset[..., 1] * s, offset[..., 1] * c - offset[..., 0] * s
    half_long, half_wide = _WITHIN * table[:, 3] + 1.0, _WITHIN * table[:, 4] + 1.0
    depth = (along / half_long) ** 2 + (across / half_wide) ** 2
    inside = (depth < 1) & sure[:, None] & (table[None, :, 2] > 0.7 * forms[:, :1])
    home = np.where(inside.any(axis=1), np.argmin(np.where(inside, depth, np.inf), axis=1), -1)
    rows, gone, larger = [], [], []
    for body in np.unique(home[home >= 0]):
        mine = np.flatnonzero(home == body)
        if len(mine) < 2:
            continue
        mine = mine[np.argsort(depth[mine, body])[:2]]
        areas = forms[mine, 0]
        more = table[body, 2] > _LARGER * areas.max()
        # hardly two of which one hides the other
        slender = table[body, 3] > min(_SLENDER * table[body, 4], 1.5 * _STIFF_UM)
        if (
            (slender and not more)
            or areas.min() < _SMALL * areas.max()
            or (inside[mine].sum(axis=1) > 1).any()
        ):
            continue
        axis = np.array([c[body], s[body]])
        order = np.sign((foreseen[mine[1]] - foreseen[mine[0]]) @ axis) or 1.0
        span = max(float(table[body, 3] - forms[mine, 1].mean()), 0.0)
        way = order * span * axis
        if span < 2.0:
            way = foreseen[mine[1]] - foreseen[mine[0]]
        share = areas / areas.sum()
        for k, sign in ((0, -share[1]), (1, share[0])):
            row = table[body].copy()
            row[:2] += sign * way
            row[2:5], row[7] = forms[mine[k]], SHARED
            rows.append(row)
            larger.append(more)
        gone.append(body)
    if not gone:
        return table, np.zeros(len(table), bool), np.zeros(len(table), bool)
    rest = np.delete(table, gone, axis=0)
    no = np.zeros(len(rest), bool)
    return np.vstack([rest, rows]), np.append(no, np.ones(len(rows), bool)), np.append(no, larger)
