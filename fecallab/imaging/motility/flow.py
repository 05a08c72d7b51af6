"""Is it swimming, or does the water move? Those who swim go their own ways; those who are carried agree.

What other bodies did at the same place, at any time, foretells how a body is carried through a jet or an eddy; what
the others do at the same time foretells a shaking picture. A swimmer is foretold by neither.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.paths import Path, local_velocity

Values = NDArray[np.float64]
_NEAR_UM, _AROUND_UM, _AT_ONCE_S = 14.0, 70.0, 0.05
_WINDOW_S, _EVERY_S, _MOST_PLACES = 0.25, 0.12, 4000
_LEAST_WEIGHT, _LEAST_KNOWN, _LEAST_OTHERS = 0.8, 0.4, 3
CARRIED = 0.5
"""Share of a body's motion that the others foretell, from which it may be carried (tuned on drawn clips)."""


def foretold(paths: Sequence[Path], which: Sequence[int]) -> Values:
    """Return, for some bodies, the share of their motion in the fluid that the other bodies foretell.

    Parameters
    ----------
    paths : sequence of Path
        All moving bodies of a field.
    which : sequence of int
        The ones asked about.

    Returns
    -------
    ndarray, shape (len(which),)
        1 for a body that is carried, 0 or less for one that swims; not a number where too few others were near.
    """
    place, speed, time, owner = _samples(paths)
    shares = np.full(len(which), np.nan)
    count = np.maximum(np.bincount(owner, minlength=len(paths)), 1)
    usual = np.column_stack([np.bincount(owner, speed[:, axis], len(paths)) / count for axis in (0, 1)])
    change = speed - usual[owner]
    for row, k in enumerate(which):
        mine = owner == k
        if mine.sum() < 3:
            continue
        others = ~mine
        far2 = ((place[mine, None] - place[None, others]) ** 2).sum(axis=2)
        at_once = np.abs(time[mine, None] - time[None, others]) < _AT_ONCE_S
        there = np.exp(-far2 / (2 * _NEAR_UM**2))
        then = np.exp(-far2 / (2 * _AROUND_UM**2)) * at_once
        # a shaking picture shows in how speeds change; that some go the same way at once may be chance
        told = []
        for weight, moved in ((there, speed), (then, change)):
            if np.sum(np.bincount(owner[others], weight.sum(axis=0)) > 0.4) >= _LEAST_OTHERS:
                part = float((moved[mine] ** 2).sum() / max(float((speed[mine] ** 2).sum()), 1e-12))
                told.append(_explained(moved[mine], moved[others], weight) * min(part, 1.0))
        known = [one for one in told if np.isfinite(one)]
        if known:
            shares[row] = max(known)
    return shares


def _samples(paths: Sequence[Path]) -> tuple[Values, Values, Values, NDArray[np.intp]]:
    places, speeds, times, owners = [], [], [], []
    for k, one in enumerate(paths):
        if len(one) < 5 or one.seconds <= 0:
            continue
        every = max(1, round(_EVERY_S * (len(one) - 1) / one.seconds))
        places.append(one.xy_um[::every])
        speeds.append(local_velocity(one.own_um, one.times_s, _WINDOW_S)[::every])
        times.append(one.times_s[::every])
        owners.append(np.full(len(times[-1]), k))
    if not places:
        return np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0), np.zeros(0, np.intp)
    thin = max(1, sum(map(len, times)) // _MOST_PLACES)
    return (
        np.concatenate(places)[::thin],
        np.concatenate(speeds)[::thin],
        np.concatenate(times)[::thin],
        np.concatenate(owners)[::thin],
    )


def _explained(mine: Values, others: Values, weight: Values) -> float:
    total = weight.sum(axis=1)
    known = total >= _LEAST_WEIGHT
    if known.mean() < _LEAST_KNOWN:
        return float("nan")
    expected = (weight[known] @ others) / total[known, None]
    rest = float(((mine[known] - expected) ** 2).sum())
    return 1 - rest / max(float((mine[known] ** 2).sum()), 1e-12)
