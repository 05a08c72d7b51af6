"""Things too faint to be judged guide the stream; flaws and what trembles on the spot do not."""

from __future__ import annotations

import numpy as np
import pytest

from fecallab.imaging.motility.detect import COLUMNS, Limits, specks
from fecallab.imaging.motility.guides import faint_guides
from fecallab.imaging.motility.judge import judge_scene
from fecallab.imaging.motility.paths import carried_velocity
from fecallab.imaging.motility.pipeline import Scene

_TIMES = np.arange(60) / 20
_MIDDLE = np.array([120.0, 90.0])


def _tables(ways: list[np.ndarray], peak: float = 0.01) -> list[np.ndarray]:
    """Return a table for each frame with a row for each way, µm on the glass."""
    row = np.zeros(len(COLUMNS))
    row[2:5], row[6] = (6.0, 2.0, 2.0), peak
    tables = []
    for k in range(len(_TIMES)):
        table = np.tile(row, (len(ways), 1))
        table[:, :2] = [way[k] for way in ways]
        tables.append(table)
    return tables


def _carried(velocity: tuple[float, float], count: int, seed: int = 3) -> list[np.ndarray]:
    """Return ways of grains that tremble (0.2 µm²/s) in an even stream."""
    rng = np.random.default_rng(seed)
    starts = np.column_stack([rng.uniform(20, 200, count), rng.uniform(20, 150, count)])
    shakes = np.cumsum(rng.normal(0, np.sqrt(2 * 0.2 / 20), (count, len(_TIMES), 2)), axis=1)
    return [
        start + _TIMES[:, None] * np.array(velocity) + shake
        for start, shake in zip(starts, shakes, strict=True)
    ]


def _wandering(count: int) -> list[np.ndarray]:
    """Return ways of flaws: each stays about its place on the glass."""
    rng = np.random.default_rng(5)
    starts = np.column_stack([rng.uniform(20, 200, count), rng.uniform(20, 150, count)])
    return [start + rng.normal(0, 0.8, (len(_TIMES), 2)) for start in starts]


def test_a_faint_spot_is_told_from_noise_and_from_a_strong_body() -> None:
    y, x = np.mgrid[0:60, 0:80]

    def spot(right: float, down: float, height: float, width: float) -> np.ndarray:
        return height * np.exp(-((x - right) ** 2 + (y - down) ** 2) / (2 * width**2))

    one = (1.0 + spot(20.3, 30.6, 0.6, 1.3) + spot(55, 25, 8.0, 3.0) + spot(62, 31, 0.7, 1.3)).astype(
        np.float32
    )
    found = specks(one, Limits(floor=1.0, low=2.0, high=2.5, noise=0.1))
    assert len(found) == 1  # not the one in the strong body's halo
    assert found[0, :2] == pytest.approx([20.3, 30.6], abs=0.3)
    assert found[0, 6] == pytest.approx(0.6, abs=0.06)
    assert not len(specks(np.full((60, 80), 1.3, np.float32), Limits(1.0, 2.0, 2.5, 0.1)))


def test_what_is_carried_off_guides_and_what_stays_does_not() -> None:
    guides = faint_guides(_tables([*_carried((9.0, -5.0), 8), *_wandering(12)]), _TIMES)
    assert len(guides) == 8
    mean = np.mean([carried_velocity(one) for one in guides], axis=0)
    assert mean == pytest.approx([9.0, -5.0], abs=0.5)  # 8 grains: 0.13 µm/s standard error each way
    assert faint_guides(_tables(_wandering(12)), _TIMES) == []
    assert faint_guides(_tables(_carried((0.0, 0.0), 8)), _TIMES) == []
    assert faint_guides([], _TIMES) == []


def test_a_stream_that_only_faint_things_tell_is_taken_from_a_body_that_it_carries() -> None:
    body = _tables([np.array([40.0, 60.0]) + _TIMES[:, None] * np.array([9.0, -5.0])], peak=0.5)
    for table in body:
        table[:, 2:5] = 60.0, 10.0, 8.0
    told = {}
    for name, faint in (("with", _tables(_carried((9.0, -5.0), 8))), ("without", [np.zeros((0, 8))] * 60)):
        scene = Scene(
            times_s=list(_TIMES),
            camera_px=[np.zeros(2)] * 60,
            tables=[one.copy() for one in body],
            specks=faint,
            limits=[0.1],
        )
        told[name] = judge_scene(scene, _MIDDLE)
    assert told["with"].stream.velocity_um_s == pytest.approx([9.0, -5.0], abs=0.5)
    assert not told["without"].stream.velocity_um_s.any()
    assert [one.kind for one in told["with"].judged] == ["drifting"]
    assert [one.kind for one in told["without"].judged] != ["drifting"]
