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
_LENGTHS_S = 14.0  # body lengths per second of the fastest (own choice)
_MEMORY_S, _FEW = 0.34, 3
_FAR = 1e6


@dataclass
class Track:
    """One body over time.

    Attributes
    ----------
    frames : list of int
        Frames in which it was seen, increasing.
    rows : list of ndarray
        For each, x and y in µm on the glass, then area (µm²), length, width (µm), angle (radians), peak.
    """

    frames: list[int] = field(default_factory=list)
    rows: list[Values] = field(default_factory=list)


def link(tables: Sequence[Values], times_s: Values) -> list[Track]:
    """Join bodies to tracks.

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
    tracks: list[Track] = []
    live: list[int] = []
    place, speed, seen, sizes, known = (
        np.empty((0, 2)),
        np.empty((0, 2)),
        np.empty(0),
        np.empty((0, 2)),
        np.empty(0),
    )
    for k, table in enumerate(tables):
        now = times_s[k]
        dt = now - times_s[k - 1] if k else 0.0
        keep = now - seen <= max(_MEMORY_S, (_FEW + 0.5) * dt)
        live = [one for one, kept in zip(live, keep, strict=True) if kept]
        place, speed, seen, sizes, known = place[keep], speed[keep], seen[keep], sizes[keep], known[keep]
        size = np.log(np.maximum(table[:, [2, 6]], 1e-6)) if len(table) else np.empty((0, 2))
        taken = np.zeros(len(table), bool)
        free = np.ones(len(live), bool)
        if len(live) and len(table):
            gap = (now - seen)[:, None]
            foreseen = place + speed * gap
            offset = table[None, :, :2] - foreseen[:, None]
            far = np.hypot(offset[..., 0], offset[..., 1])
            unlike = ((sizes[:, None] - size[None]) ** 2 * np.array([1.0, 0.6])).sum(axis=2)
            pace = np.hypot(speed[:, 0], speed[:, 1])[:, None]
            long = np.exp(
                0.5 * sizes[:, :1]
            )  # about the length: the middle of a large body is told less finely
            tight = 1.2 + 0.08 * long + (0.45 * pace + 12.0) * gap
            fastest = np.maximum(FASTEST_UM_S, _LENGTHS_S * long)
            wide = 1.5 + np.where(known[:, None] < 3, fastest, np.minimum(60.0 + 1.3 * pace, fastest)) * gap
            for reach, who in ((tight, known >= 3), (wide, np.ones(len(live), bool))):
                who = who & free
                open_to = ~taken
                if not who.any() or not open_to.any():
                    continue
                cut = np.ix_(who, open_to)
                scale = reach[who]
                cost = np.minimum((far[cut] / scale) ** 2 + 0.15 * unlike[cut], _FAR)
                allowed = far[cut] <= scale
                rows, columns = linear_sum_assignment(np.where(allowed, cost, 50.0))
                good = allowed[rows, columns]
                ours, theirs = np.flatnonzero(who)[rows[good]], np.flatnonzero(open_to)[columns[good]]
                step = (table[theirs, :2] - place[ours]) / gap[ours]
                young = known[ours] < 2
                gain = np.where(young, 1.0, np.clip(gap[ours, 0] / 0.1, 0.25, 0.6))[:, None]
                speed[ours] = (1 - gain) * speed[ours] + gain * step * np.where(young, 0.9, 1.0)[:, None]
                place[ours], seen[ours] = table[theirs, :2], now
                sizes[ours] = 0.7 * sizes[ours] + 0.3 * size[theirs]
                known[ours] += 1
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
    return tracks
