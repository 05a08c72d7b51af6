"""Pieces of one swimmer joined, and what follows one swimmer twice left out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from fecallab.imaging.motility.decide import SLOWEST_UM_S
from fecallab.imaging.motility.paths import LONG_UM, Path, joined, local_velocity, way_between

Values = NDArray[np.float64]
_WINDOW_S, _JOIN_S, _OVERLAP_S = 0.2, 1.2, 0.8
_FARTHEST_UM, _PIECE = 25.0, 0.4


def join_swimmers(parts: Sequence[Path]) -> list[Path]:
    """Join ends to beginnings that one body may have left and taken up."""
    parts = list(parts)
    for _ in range(3):
        pairs = _pairs(parts)
        if not pairs:
            break
        follow = dict(pairs)
        starts = set(range(len(parts))) - set(follow.values())
        chains = []
        for start in sorted(starts):
            chain = [start]
            while chain[-1] in follow:
                chain.append(follow[chain[-1]])
            chains.append(joined([parts[k] for k in chain]))
        parts = chains
    return parts


def _pairs(parts: list[Path]) -> list[tuple[int, int]]:
    n = len(parts)
    if n < 2:
        return []
    cost = np.full((n, n), 1e6)
    heads = [_ends(one) for one in parts]
    for a, one in enumerate(parts):
        for b, other in enumerate(parts):
            gap = other.times_s[0] - one.times_s[-1]
            usual = one.seconds / max(len(one) - 1, 1)
            if a == b or not -_OVERLAP_S <= gap <= _JOIN_S or other.times_s[-1] <= one.times_s[-1]:
                continue
            if gap < -3.5 * usual and not _side_by_side(one, other):
                continue
            (_, end_v), (start_v, _) = heads[a], heads[b]
            between = way_between(one, other)
            wait = max(gap, 0.0)
            pace = max(np.hypot(*end_v), np.hypot(*start_v), SLOWEST_UM_S)
            miss = np.hypot(*(between - 0.5 * (end_v + start_v) * wait))
            stay = np.hypot(*between)  # it may have stopped meanwhile
            off = min(miss, stay + 1.0)
            width = float(np.median(one.size[:, 1]))
            allowed = 2.0 + 0.6 * width + min(0.6 * pace * wait, _FARTHEST_UM)
            unlike = abs(np.log(np.median(one.size[:, 0]) / np.median(other.size[:, 0])))
            if off < allowed and unlike < 1.6:
                cost[a, b] = off / allowed + 0.3 * unlike + 0.3 * wait
    rows, columns = linear_sum_assignment(cost)
    return [(int(a), int(b)) for a, b in zip(rows, columns, strict=True) if cost[a, b] < 1e5]


def _ends(path: Path) -> tuple[Values, Values]:
    velocity = local_velocity(path.own_um, path.times_s, _WINDOW_S)
    few = min(3, len(path))
    return velocity[:few].mean(axis=0), velocity[-few:].mean(axis=0)


def without_doubles(paths: Sequence[Path]) -> list[Path]:
    """Drop parts of bodies: tracks that keep a short distance to a larger or longer one all the time."""
    order = sorted(paths, key=lambda one: -float(one.seen.sum() * np.sqrt(np.median(one.size[:, 0]))))
    kept: list[Path] = []
    for one in order:
        if not any(_same_body(one, other) for other in kept):
            kept.append(one)
    return kept


def _side_by_side(one: Path, other: Path) -> bool:
    """Return whether the end of a path and the start of another keep so close as two parts of one body do."""
    first, end = other.first, one.first + len(one)
    if other.first <= one.first or end - first > 0.5 * min(len(one), len(other)):
        return False
    apart = np.hypot(*(one.xy_um[first - one.first :] - other.xy_um[: end - first]).T)
    length = max(float(np.median(one.size[:, 1])), float(np.median(other.size[:, 1])))
    return bool(apart.max() < length)


def _same_body(one: Path, other: Path) -> bool:
    first, end = max(one.first, other.first), min(one.first + len(one), other.first + len(other))
    if end - first < max(3, 0.6 * len(one)):
        return False
    a = one.xy_um[first - one.first : end - one.first]
    b = other.xy_um[first - other.first : end - other.first]
    apart = np.hypot(*(a - b).T)
    length = max(float(np.median(one.size[:, 1])), float(np.median(other.size[:, 1])))
    if np.median(apart) < 0.5 * length:
        return True
    areas = float(np.median(one.size[:, 0])), float(np.median(other.size[:, 0]))
    if length < LONG_UM and min(areas) > _PIECE * max(areas):
        return False  # two of a size side by side
    steady = apart.std() < 0.2 * length and np.percentile(apart, 90) < 1.4 * length
    far = float(np.hypot(*(a - a[0]).T).max())
    return bool(steady and np.median(apart) < 1.1 * length and far > 1.5 * length)
