"""The velocity of a carried thing at its two limits, held against numpy's fit of a line (outside; computed)."""

from __future__ import annotations

import numpy as np
import pytest

from fecallab.imaging.motility.paths import Path, carried_velocity


def path(xy: np.ndarray) -> Path:
    n = len(xy)
    size = np.tile([8.0, 3.0, 3.0, 0.0, 0.1, 0.0], (n, 1))
    return Path(first=0, times_s=np.arange(n) / 20, xy_um=xy, own_um=xy, seen=np.ones(n, bool), size=size)


def test_without_trembling_it_is_the_least_squares_line() -> None:
    xy = np.random.default_rng(0).normal(0, 3, (22, 2)).cumsum(axis=0)
    line = np.polyfit(np.arange(22) / 20, xy, 1)[0]
    assert carried_velocity(path(xy), 1e-9, 0.3) == pytest.approx(line, rel=1e-4)


def test_without_errors_of_place_it_is_the_way_from_end_to_end() -> None:
    xy = np.random.default_rng(1).normal(0, 3, (22, 2)).cumsum(axis=0)
    ends = (xy[-1] - xy[0]) / (21 / 20)
    assert carried_velocity(path(xy), 0.25, 1e-4) == pytest.approx(ends, rel=1e-3)
