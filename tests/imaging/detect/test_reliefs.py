"""Relief fields: the truth that comes with them is where things lie."""

from __future__ import annotations

import numpy as np
import pytest

from fecallab.imaging.detect.reliefs import _heaps, _Slide, relief
from fecallab.imaging.detect.sketched_parts import thick_bubble
from fecallab.imaging.detect.sketches import sketch


@pytest.mark.parametrize("seed", range(4))
def test_things_lie_where_the_truth_says(seed: int) -> None:
    """Inside the outlines the picture differs from the empty ground around, or has edges where that has none."""
    pixels, truth = relief(seed, 0.0, width_px=480, height_px=360, things=3, look_alikes=0)
    grey = pixels.mean(axis=2)
    y, x = np.mgrid[: grey.shape[0], : grey.shape[1]]
    assert [one.counts for one in truth] == [True] * len(truth)
    assert truth
    for one in truth:
        turn = np.radians(one.angle_deg)
        u = (np.cos(turn) * (x - one.x_px) + np.sin(turn) * (y - one.y_px)) * 0.5 * 2 / one.length_um
        v = (np.cos(turn) * (y - one.y_px) - np.sin(turn) * (x - one.x_px)) * 0.5 * 2 / one.width_um
        share = np.hypot(u, v)
        on, beside = grey[(share < 1.02)], grey[(share > 1.15) & (share < 1.4)]
        rough_on, rough_beside = np.percentile(on, [2, 98]), np.percentile(beside, [10, 90])
        assert np.ptp(rough_on) > 1.3 * np.ptp(rough_beside)


def test_the_same_seed_draws_the_same_field() -> None:
    first, again = (relief(3, 0.35, width_px=200, height_px=150, things=2) for _ in range(2))
    np.testing.assert_array_equal(first[0], again[0])
    assert first[1] == again[1]


def test_left_out_a_thing_is_gone_and_all_else_stays() -> None:
    draw = {"width_px": 300, "height_px": 220, "things": 3, "look_alikes": 1}
    whole, truth = relief(3, 0.15, **draw)
    y, x = np.mgrid[:220, :300]
    for k, one in enumerate(truth):
        less, same = relief(3, 0.15, without=k, **draw)
        assert same == truth
        away = np.hypot(x - one.x_px, y - one.y_px) * 0.5 / (0.5 * one.length_um)
        change = np.abs(whole.astype(int) - less).max(axis=2)
        assert np.percentile(change[away < 1], 95) > 8
        assert np.median(change[away > 2]) == 0


@pytest.mark.parametrize("share", [0.15, 0.35, 0.6])
def test_debris_is_strewn_over_the_share_that_is_asked_for(share: float) -> None:
    """It lies loosely: from a quarter to a half of that share is covered."""
    empty = np.zeros((290, 380), np.float32)
    slide = _Slide(np.random.default_rng(0), 0.5, np.zeros((*empty.shape, 3), np.float32), empty)
    _heaps(slide, share)
    assert 0.2 * share < (slide.dye.max(axis=2) > 0.02).mean() < 0.5 * share


def test_no_grain_of_debris_is_as_long_as_the_smallest_organism(monkeypatch: pytest.MonkeyPatch) -> None:
    """A grain is a smooth oval, as a small solid body is: only its length tells it. Under 6 µm, 8 are looked for."""
    halves: list[float] = []
    whole = _Slide.box

    def box(slide: _Slide, x: float, y: float, reach_um: float):
        halves.append(reach_um / 1.1)
        return whole(slide, x, y, reach_um)

    monkeypatch.setattr(_Slide, "box", box)
    for seed in range(6):
        empty = np.zeros((290, 380), np.float32)
        slide = _Slide(np.random.default_rng(seed), 0.5, np.zeros((*empty.shape, 3), np.float32), empty)
        _heaps(slide, 0.35)
    assert len(halves) > 1000
    assert 4 < 2 * max(halves) < 6


def test_look_alikes_are_told_from_organisms() -> None:
    _, truth = relief(1, 0.0, width_px=480, height_px=360, things=0, look_alikes=3)
    assert truth and not any(one.counts for one in truth)
    assert {one.kind for one in truth} <= {"bubble", "drop", "starch"}


@pytest.mark.parametrize("what", ["flakes", "bubbles"])
@pytest.mark.parametrize("draw", [sketch, relief])
def test_flakes_and_thick_bubbles_come_on_top_of_the_same_field_and_are_not_to_be_proposed(
    draw, what: str
) -> None:
    plain, more = (draw(5, 0.0, width_px=240, height_px=180, things=2, **{what: many}) for many in (0, 5))
    assert plain[1] == more[1]
    changed = (np.abs(plain[0].astype(int) - more[0]).max(axis=2) > 60).mean()
    assert 0.01 < changed < 0.8


def test_a_thick_bubble_is_black_in_its_rim_and_clear_in_its_middle() -> None:
    at = np.arange(-60.0, 61.0)[None, :] * np.ones((121, 1))
    tone = thick_bubble(np.random.default_rng(1), at, at.T, 100.0)
    assert tone[60, 60] == 0 and tone[60, 0] == 0
    assert tone[60, 15] == tone.max() > 0.8
