"""The network that looks at unrolled outlines: what it cannot know, how it learns, and that its slopes are right."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from fecallab.imaging.detect.lessons import Lessons
from fecallab.imaging.detect.looks import (
    AGAIN,
    CLOSER,
    DEEPER_LARGE,
    DEEPER_SMALL,
    LIKELY,
    LOOKS,
    REFINER,
    SECTORS,
    drawn_looks,
    from_dict,
    look_closer,
    side_by_side,
    write_looks,
)
from fecallab.imaging.detect.looks_training import _evened, _slopes, _start, fit_looks
from fecallab.imaging.detect.trace import NORMALS, Ellipses
from fecallab.imaging.detect.train import data_folder
from fecallab.imaging.detect.unrolled import RINGS, unrolled


def drawn(
    a: float, b: float, turn: float, dark: float = 1.0, ground: float = 0.0, side: int = 241
) -> np.ndarray:
    """A walled oval with a dark end, in the middle."""
    y, x = np.mgrid[:side, :side] - side // 2
    u, v = np.cos(turn) * x + np.sin(turn) * y, np.cos(turn) * y - np.sin(turn) * x
    share = np.hypot(u / a, v / b)
    wall = np.exp(-(((share - 0.93) / 0.06) ** 2))
    return np.asarray(ground + dark * (wall + 0.3 * (share < 0.9) * (u > 0)), np.float32)


def one(a: float, b: float, turn: float, at: float = 120.0) -> Ellipses:
    return Ellipses(*(np.array([value], float) for value in (at, at, a, b, turn)))


def test_size_direction_and_strength_do_not_show_in_an_unrolled_outline() -> None:
    plain = unrolled(drawn(60, 40, 0.0), one(60, 40, 0.0)).astype(float)
    assert plain.shape == (1, NORMALS, RINGS)
    for other in (
        unrolled(drawn(90, 60, 0.7), one(90, 60, 0.7)),
        unrolled(drawn(60, 40, 1.9, dark=2.5, ground=0.4), one(60, 40, 1.9)),
    ):
        assert np.abs(other.astype(float) - plain).mean() < 0.06


def test_the_network_reads_either_way_around_alike() -> None:
    patches = np.random.default_rng(0).normal(size=(5, NORMALS, RINGS)).astype(np.float16)
    looks = drawn_looks()
    found, back, rolled = (
        looks.of(each) for each in (patches, patches[:, ::-1], np.roll(patches, 8, axis=1))
    )
    np.testing.assert_allclose(back.looks, found.looks, atol=1e-4)
    np.testing.assert_allclose(rolled.looks, found.looks, atol=1e-4)
    np.testing.assert_allclose(back.offset[:, ::-1], found.offset, atol=1e-4)
    np.testing.assert_allclose(np.roll(rolled.offset, -2, axis=1), found.offset, atol=1e-4)


def test_nothing_gives_nothing() -> None:
    assert drawn_looks().of(np.zeros((0, NORMALS, RINGS), np.float16)).offset.shape == (0, SECTORS)
    nowhere = np.zeros(0)
    assert unrolled(np.zeros((9, 9), np.float32), Ellipses(*(nowhere,) * 5)).shape == (0, NORMALS, RINGS)


@pytest.mark.parametrize("which", range(22))
def test_each_slope_is_the_change_of_the_loss(which: int) -> None:
    """Against differences: the slopes that the training follows are those of the loss that it says."""
    rng = np.random.default_rng(which)
    values = [value.astype(float) for value in _start(rng, DEEPER_LARGE)]
    x, right = rng.normal(size=(4, NORMALS, RINGS)), np.array([0.0, 1.0, np.nan, 0.0])
    offset = rng.normal(size=(4, SECTORS)) * 0.3
    offset[0], offset[1, :5] = np.nan, np.nan

    def loss() -> float:
        return _slopes(values, x, right, offset, np.random.default_rng(5))[1]

    slope = _slopes(values, x, right, offset, np.random.default_rng(5))[0][which]
    place = np.unravel_index(np.abs(slope).argmax(), slope.shape)
    kept = values[which][place]
    values[which][place] = kept + 1e-4
    more = loss()
    values[which][place] = kept - 1e-4
    assert slope[place] == pytest.approx((more - loss()) / 2e-4, rel=0.05)


def test_it_learns_what_tells_two_outlines_apart_where_the_true_one_runs_and_the_same_each_time() -> None:
    def some(n: int, seed: int) -> Lessons:
        rng = np.random.default_rng(seed)
        patches = rng.normal(size=(n, NORMALS, RINGS)).astype(np.float16)
        right = (rng.random(n) < 0.4).astype(np.float32)
        ring = rng.integers(9, 16, n)
        for k in np.flatnonzero(right):
            patches[k, :, ring[k]] += np.float16(3)  # a wall
        offset = np.where(right > 0, 0.05 * (ring - 12), np.nan)[:, None].repeat(SECTORS, axis=1)
        return Lessons(patches, right, offset.astype(np.float32))

    first, again = (fit_looks(some(512, 2), edition="t", laps=2) for _ in range(2))
    for a, b in zip(first.weights, again.weights, strict=True):
        np.testing.assert_array_equal(a, b)
    fresh = some(200, 3)
    found, on = fit_looks(some(384, 2), edition="t", laps=40).of(fresh.patches), fresh.right > 0
    assert (found.looks[on][:, None] > found.looks[~on]).mean() > 0.95
    assert np.corrcoef(found.offset[on].mean(axis=1), fresh.offset[on, 0])[0, 1] > 0.7


def test_going_on_begins_with_what_was_learnt_and_further_layers_add_nothing_at_first() -> None:
    rng = np.random.default_rng(0)
    patches = rng.normal(size=(260, NORMALS, RINGS)).astype(np.float16)
    lessons = Lessons(patches, np.zeros(260, np.float32), rng.normal(size=(260, SECTORS)).astype(np.float32))
    plain = fit_looks(lessons, edition="t", laps=1)
    deeper = fit_looks(lessons, edition="t", laps=1, widths=DEEPER_SMALL, begin=plain, fastest=0.0)
    assert len(deeper.weights) == len(plain.weights) + 4
    for found, before in zip(deeper.weights, plain.weights, strict=False):
        np.testing.assert_array_equal(found, before)
    np.testing.assert_allclose(deeper.of(patches).looks, plain.of(patches).looks, atol=1e-5)
    moved = fit_looks(lessons, edition="t", laps=1, widths=DEEPER_SMALL, begin=plain)
    assert np.abs(moved.weights[-1]).max() > 0


def test_only_what_fits_all_around_is_made_more_even() -> None:
    rng = np.random.default_rng(4)
    x = rng.normal(size=(300, NORMALS, RINGS)).astype(np.float32)
    offset = np.full((300, SECTORS), 0.1, np.float32)
    offset[100:200] += 0.1 * np.sin(np.arange(SECTORS) / SECTORS * 2 * np.pi).astype(np.float32)
    offset[200:, 0] = np.nan
    found = _evened(x, offset, rng, 0.5)
    np.testing.assert_array_equal(found[100:], x[100:])
    evened = np.abs(found[:100] - x[:100]).max(axis=(1, 2)) > 0
    assert 35 <= evened.sum() <= 65
    np.testing.assert_allclose(found.mean(axis=1), x.mean(axis=1), atol=1e-5)
    assert (found[:100][evened].std(axis=1) <= x[:100][evened].std(axis=1)).all()


@pytest.mark.parametrize("name", [REFINER, LOOKS, CLOSER, AGAIN])
def test_the_file_gives_back_what_was_written(name: str, tmp_path: Path) -> None:
    kept = data_folder() / name
    write_looks(tmp_path / name, from_dict(json.loads(kept.read_text(encoding="ascii"))))
    assert (tmp_path / name).read_bytes() == kept.read_bytes()


def test_only_what_is_likely_is_looked_at_closer() -> None:
    patches = np.random.default_rng(1).normal(size=(40, NORMALS, RINGS)).astype(np.float16)
    every, closer = drawn_looks(LOOKS).of(patches, both_ways=False), drawn_looks(CLOSER).of(patches)
    first, seen = look_closer(patches)
    likely = every.looks > LIKELY
    np.testing.assert_array_equal(first, every.looks)
    np.testing.assert_allclose(seen.looks[likely], closer.looks[likely], atol=1e-4)
    assert (seen.looks[~likely] < every.looks[~likely]).all()
    np.testing.assert_array_equal(seen.offset[~likely], every.offset[~likely])


def test_a_file_of_other_layers_is_refused(tmp_path: Path) -> None:
    told = json.loads((data_folder() / LOOKS).read_text(encoding="ascii"))
    short = json.loads(json.dumps(told))
    short["layers"][0]["weights"].pop()
    with pytest.raises(ValueError, match="other layers"):
        from_dict(short)
    told["layers"].pop()  # one of a pair
    with pytest.raises(ValueError, match="other layers"):
        from_dict(told)


def test_the_last_line_lies_beside_the_first() -> None:
    x = np.arange(12, dtype=np.float32).reshape(1, 6, 2)
    wide = side_by_side(x, 5)
    np.testing.assert_array_equal(wide[0, 0], np.concatenate([x[0, 4], x[0, 5], x[0, 0], x[0, 1], x[0, 2]]))
