"""Outlines that are moved to where the true one runs: the geometry, and what the network that comes along does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fecallab.imaging.detect.examples import Field, Known, label, training_field
from fecallab.imaging.detect.lessons import (
    _told,
    lessons_for_judging,
    lessons_for_looking_again,
    lessons_for_refining,
    true_offsets,
)
from fecallab.imaging.detect.looks import AGAIN, SECTORS, Seen, drawn_looks
from fecallab.imaging.detect.refine import looked_at_again, measure, refine, refined
from fecallab.imaging.detect.trace import NORMALS, Ellipses, ellipses_joined
from fecallab.imaging.detect.unrolled import RINGS, unrolled


def one(x: float, y: float, long: float, short: float, angle: float) -> Ellipses:
    return Ellipses(*(np.array([value], float) for value in (x, y, long, short, angle)))


TRUE = one(100, 90, 44, 30, 0.5)
OFF = (one(103, 88, 40, 28, 0.6), one(97, 93, 50, 33, 0.4), one(101, 91, 38, 34, 0.1))


@pytest.mark.parametrize("rough", OFF)
def test_told_where_the_true_outline_runs_an_ellipse_moves_onto_it(rough: Ellipses) -> None:
    for _ in range(4):
        seen = Seen(np.zeros(1), true_offsets(rough, TRUE).astype(float), np.full((1, SECTORS), -3.0))
        rough = refined(rough, seen)[0]
    for found, true in zip(rough.columns(), TRUE.columns(), strict=True):
        assert found[0] == pytest.approx(true[0], rel=0.02, abs=0.02)


def test_what_is_doubtful_moves_an_ellipse_less() -> None:
    offset = np.zeros((1, SECTORS))
    offset[0, :4] = 0.3
    sure, doubt = np.full((1, SECTORS), -3.0), np.full((1, SECTORS), -3.0)
    doubt[0, :4] = 0.5
    x = [refined(TRUE, Seen(np.zeros(1), offset, each))[0].x[0] for each in (sure, doubt)]
    assert abs(x[1] - TRUE.x[0]) < 0.5 * abs(x[0] - TRUE.x[0])


def walled_oval_beside_a_clump() -> np.ndarray:
    y, x = np.mgrid[:180.0, :200.0]
    c, s = np.cos(0.5), np.sin(0.5)
    share = np.hypot((c * (x - 100) + s * (y - 90)) / 44, (c * (y - 90) - s * (x - 100)) / 30)
    light = 0.25 * np.exp(-(((share - 0.94) / 0.06) ** 2)) + 0.1 * (share < 1)
    rng = np.random.default_rng(0)
    light[:, 130:] += 0.1 * rng.random((180, 70))  # a clump over one end
    light += 0.01 * rng.normal(size=light.shape)
    return light.astype(np.float32)


def test_the_network_moves_rough_outlines_onto_a_walled_oval_beside_a_clump() -> None:
    rough = ellipses_joined(list(OFF))
    better, hope = refine(walled_oval_beside_a_clump(), rough)
    assert len(hope) == len(OFF)
    for k in range(len(OFF)):
        assert better.half_long[k] == pytest.approx(44, rel=0.08)
        assert better.half_short[k] == pytest.approx(30, rel=0.08)
        assert np.hypot(better.x[k] - 100, better.y[k] - 90) < 3


def body_with_a_dark_core() -> np.ndarray:
    """A dark core of 16 pixels in a pale body of 36 with a faint wall."""
    y, x = np.mgrid[:120.0, :140.0]
    away = np.hypot(x - 70, y - 60)
    light = (
        0.3 / (1 + np.exp((away - 8) / 0.8))
        + 0.05 * np.exp(-(((away - 17.2) / 1.0) ** 2))
        + 0.03 * (away < 18)
    )
    return (light + 0.006 * np.random.default_rng(1).normal(size=light.shape)).astype(np.float32)


def test_from_a_dark_core_the_network_moves_out_to_the_pale_wall_around_it() -> None:
    better, _ = refine(body_with_a_dark_core(), one(70, 60, 9, 8.5, 0))
    assert better.half_long[0] == pytest.approx(18, rel=0.1)
    assert better.half_short[0] == pytest.approx(18, rel=0.1)


def test_the_core_of_a_thing_is_told_the_outline_of_the_whole_and_what_is_outside_is_not() -> None:
    whole = Field(np.zeros((120, 140, 3), np.uint8), 0.5, (Known(True, 70, 60, 18, 18),), "", 0)
    near, offset = _told(ellipses_joined([one(70, 60, 9, 9, 0), one(70, 60, 36, 36, 0)]), whole)
    assert near.tolist() == [1, 0]
    np.testing.assert_allclose(offset[0], 1.0, atol=1e-3)
    assert np.isnan(offset[1]).all()


def test_where_nothing_fits_a_thing_what_is_near_it_counts_as_right() -> None:
    things = (Known(True, 70, 60, 40, 30), Known(False, 200, 60, 40, 30))
    field = Field(np.zeros((120, 280, 3), np.uint8), 0.5, things, "", 0)
    fits, near, far = one(70, 60, 40, 30, 0), one(74, 62, 31, 26, 0), one(70, 60, 12, 9, 0)
    look_alike = one(200, 60, 40, 30, 0)
    assert label(ellipses_joined([fits, near, far, look_alike]), field).tolist() == [1, -1, 0, 0]
    assert label(ellipses_joined([near, far, look_alike]), field).tolist() == [1, 0, 0]


def test_what_is_too_small_to_be_proposed_teaches_neither_right_nor_wrong() -> None:
    """At 0.2 µm per pixel a grain of 6 µm is built and as large in the picture as a body of 15 µm at 0.5."""
    field = Field(np.zeros((200, 200, 3), np.uint8), 0.2, (), "sketch", 0.0)
    grain, larger = one(60, 60, 15, 12, 0), one(60, 60, 18, 12, 0)
    assert label(ellipses_joined([grain, larger]), field).tolist() == [-1, 0]
    small = Known(True, 60.0, 60.0, 6.2, 5.0)
    assert label(grain, replace(field, known=(small,))).tolist() == [1]


def test_lessons_name_what_outlines_lie_on_and_are_the_same_each_time() -> None:
    field = training_field(7, "sketch", 0.15)
    first, again = lessons_for_refining(field, 1), lessons_for_refining(field, 1)
    np.testing.assert_array_equal(first.patches, again.patches)
    for lessons in (first, lessons_for_judging(field)):
        n = len(lessons.right)
        assert lessons.patches.shape == (n, NORMALS, RINGS)
        assert lessons.offset.shape == (n, SECTORS)
        on = lessons.right == 1
        assert on.any()
        assert (lessons.right == 0).any()
        assert np.isfinite(lessons.offset[on]).mean() > 0.9


def test_what_is_likely_is_looked_at_again_where_it_is_expected_and_nothing_else() -> None:
    light = walled_oval_beside_a_clump()
    rough = ellipses_joined(list(OFF))
    offset = np.concatenate([true_offsets(one, TRUE) for one in OFF]).astype(float)
    seen = Seen(np.array([2.0, -9.0, 0.0]), offset, np.full((3, SECTORS), -2.0))
    told = measure(light, rough, seen)
    which, once = looked_at_again(rough, seen)
    assert which.tolist() == [0, 2]
    again = drawn_looks(AGAIN).of(unrolled(light, once))
    np.testing.assert_allclose(told.looks[which], again.looks, atol=1e-4)
    assert told.looks[1] == -9
    expected = refined(rough, seen)[0]
    assert told.ellipses.half_long[1] == expected.half_long[1]
    np.testing.assert_allclose(told.ellipses.half_long[which], refined(once, again)[0].half_long)


def test_lessons_for_looking_again_lie_nearer_to_the_truth_than_those_for_judging() -> None:
    field = training_field(7, "sketch", 0.15)
    first, again = lessons_for_judging(field), lessons_for_looking_again(field)
    assert again.patches.shape == (len(again.right), NORMALS, RINGS)
    assert 0 < len(again.right) < len(first.right)
    near = [np.nanmean(np.abs(lessons.offset)) for lessons in (first, again)]
    assert near[1] < 0.7 * near[0]
