"""How much things tremble, and whether the small things of a clip tremble more than small things do."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fecallab.domain.motility import diffusion_um2_s
from fecallab.imaging.motility.paths import Path, stays_on_glass

_STEP_S = 0.25
_LONG_S, _FLOATS_UM, _GROWS, _LEAST_WAY_UM2 = 1.0, 8.0, 1.8, 0.1
_PLACE_UM_S, _WANDERS = 0.25, 4.0  # own choice
_SMALL_UM, _USUAL, _MOST_UNREST, _FEW, _MOST_AT_LEAST = 5.5, 3.0, 8.0, 4, 40  # the last in percent


def tremble_um2_s(path: Path) -> float:
    """Return the diffusion coefficient by steps of a quarter of a second, in which errors of place hardly count."""
    usual = path.seconds / (len(path) - 1)
    lag = int(np.clip(round(_STEP_S / usual), 1, max(1, len(path) // 3)))
    steps = path.xy_um[lag:] - path.xy_um[:-lag]
    return float(np.mean(np.var(steps, axis=0))) / (2 * lag * usual)


def wander_um2_s2(tremble: NDArray[np.float64], seconds: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the variance each way of the mean velocity of a flaw, which wanders about its place as far as it trembles.

    Examples
    --------
    >>> float(wander_um2_s2(np.array(0.25), np.array(2.0)))
    0.5625
    """
    return np.asarray(_PLACE_UM_S**2 + _WANDERS * tremble / seconds)


def unrest_of(paths: Sequence[Path]) -> float:
    """Return by how much more than usual the small things of a clip tremble; 1 or more.

    Small things look wider than they are, so that three times the trembling of their seen width is usual. Four that
    tremble as usual are counted in, so that one or two that jump say nothing of a whole clip.
    """
    ratios = [
        tremble_um2_s(one) / diffusion_um2_s(max(float(np.median(one.size[:, 2])), 1.0) / 2)
        for one in paths
        if one.seconds > 0.5
        and one.seen.mean() > 0.7
        and float(np.median(one.size[:, 1])) < _SMALL_UM
        and not stays_on_glass(one)
    ]
    with_usual = [*(one / _USUAL for one in ratios), *[1.0] * _FEW]
    return float(np.clip(np.percentile(with_usual, _MOST_AT_LEAST), 1.0, _MOST_UNREST))


def trembles_freely(path: Path) -> bool:
    """Return whether a small thing gets farther the longer one looks, as what floats does, and does not only flicker."""
    if path.seconds < _LONG_S or path.seen.mean() < 0.7 or float(np.median(path.size[:, 1])) > _FLOATS_UM:
        return False
    usual = path.seconds / (len(path) - 1)
    ways = []
    for lag_s in (0.15, 0.6):
        lag = max(1, round(lag_s / usual))
        ways.append(float(np.mean(np.sum((path.xy_um[lag:] - path.xy_um[:-lag]) ** 2, axis=1))))
    return ways[1] > _GROWS * ways[0] and ways[1] > _LEAST_WAY_UM2
