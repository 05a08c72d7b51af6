"""Whole paths weighed, pieces of one swimmer joined, and long bodies measured where all of them is seen."""

import numpy as np
import pytest

from fecallab.domain.motility import diffusion_um2_s, kinematics
from fecallab.imaging.motility.detect import Limits, bodies, rim_of
from fecallab.imaging.motility.doubts import comes_from_nowhere, may_be_carried
from fecallab.imaging.motility.join import join_swimmers
from fecallab.imaging.motility.link import SHARED
from fecallab.imaging.motility.measure import to_measure
from fecallab.imaging.motility.odds import swimming_odds
from fecallab.imaging.motility.paths import Path, without_shared_ends
from fecallab.imaging.motility.stream import Stream
from fecallab.imaging.motility.tremble import trembles_freely

FPS = 30.0
MIDDLE = np.array([100.0, 100.0])


def stream(x=0.0, y=0.0):
    return Stream(MIDDLE, np.array([x, y]), np.zeros((2, 2)), 1.0)


def path(xy, first=0, length=10.0, width=6.0, partly=None):
    xy = np.asarray(xy, float)
    n = len(xy)
    size = np.tile([0.8 * length * width, length, width, 0.0, 0.5, 0.0], (n, 1))
    if partly is not None:
        size[:, 5] = partly
    times = (first + np.arange(n)) / FPS
    return Path(first=first, times_s=times, xy_um=xy, own_um=xy, seen=np.ones(n, bool), size=size)


def walk(rng, n=90, diffusion=0.15, error=0.1):
    steps = rng.normal(0, np.sqrt(2 * diffusion / FPS), (n, 2))
    return np.cumsum(steps, axis=0) + rng.normal(0, error, (n, 2))


def test_slow_swimming_with_a_pause_is_told_from_trembling_and_drifting():
    rng = np.random.default_rng(1)
    flow = stream(12, -5)
    t = np.arange(90)[:, None] / FPS
    carried = 40 + t * flow.velocity_um_s
    d = diffusion_um2_s(3.0)
    trembling = [flow.taken_from(path(carried + walk(rng, diffusion=d))) for _ in range(10)]
    assert max(swimming_odds(one, flow) for one in trembling) < 4
    own = 6.0 * np.clip(
        np.column_stack([t[:, 0] - 1.0, 0 * t[:, 0]]), 0, None
    )  # a second at rest, then 6 µm/s
    turned = own @ np.array([[0.3, 0.95], [-0.95, 0.3]])
    swims = [flow.taken_from(path(carried + turned + walk(rng, diffusion=d))) for _ in range(10)]
    assert min(swimming_odds(one, flow) for one in swims) > 10


def test_what_lags_along_the_streammay_be_carried_but_not_across_it():
    rng = np.random.default_rng(2)
    flow = stream(20, 0)
    t = np.arange(90)[:, None] / FPS
    along, across = (
        flow.taken_from(path(t * [x, y] + walk(rng, diffusion=0.05))) for x, y in ((17, 0), (20, 3))
    )
    assert swimming_odds(along, flow) < 0 < 5 < swimming_odds(across, flow)


def test_what_is_held_on_the_glass_does_not_swim_against_the_stream():
    rng = np.random.default_rng(3)
    flow = stream(15, 0)
    held = flow.taken_from(path(50 + rng.normal(0, 0.3, (90, 2))))
    assert swimming_odds(held, flow) < 4


def test_pieces_are_joined_though_the_fluid_streams():
    flow = stream(20, 0)
    t = np.arange(90)[:, None] / FPS
    whole = 20 + t * [28, 14]
    pieces = [flow.taken_from(path(whole[a:b], a)) for a, b in ((0, 40), (48, 90))]
    [one] = join_swimmers(pieces)
    assert len(one) == 90
    found = kinematics(one.own_um, one.times_s, 1)
    assert found.vcl_um_s == pytest.approx(
        np.hypot(8, 14), rel=0.01
    )  # no leap by what the stream did meanwhile
    assert found.linearity == pytest.approx(1, abs=0.01)


def test_two_pieces_of_one_body_that_overlap_are_one_and_two_swimmers_stay_two():
    t = np.arange(60)[:, None] / FPS
    front, back = path(t[:40] * [9, 0] + [6, 0]), path(t[32:] * [9, 0], 32)
    assert len(join_swimmers([front, back])) == 1
    apart = path(t[32:] * [9, 0] + [0, 25], 32)
    assert len(join_swimmers([front, apart])) == 2


def test_the_end_of_a_meeting_that_was_never_left_is_no_path():
    partly = np.zeros(50)
    partly[35:] = SHARED
    one = path(np.arange(50)[:, None] * [1.0, 0.5], 10, partly=partly)
    assert len(without_shared_ends(one, 200)) == 35
    assert len(without_shared_ends(one, 59)) == 50  # the clip ends there


def test_a_long_body_is_measured_where_all_of_it_is_seen():
    t = np.arange(90) / FPS
    x = np.where(t < 1.5, 10 * t, 15 + 20 * (t - 1.5))  # cut by the border it seems half as fast
    swing = 1.5 * np.sin(2 * np.pi * 2 * t)
    one = path(np.column_stack([x, swing]), length=80, width=10, partly=(t < 1.5).astype(float))
    clear, part = to_measure(one)
    assert kinematics(clear[part], one.times_s[part], 1).vcl_um_s == pytest.approx(20, rel=0.06)


def test_what_reaches_the_rim_is_marked():
    shown = np.zeros((60, 80))
    shown[20:30, 0:9] = shown[40:50, 40:50] = 1.0
    lit = np.ones(shown.shape, bool)
    found = bodies(shown, Limits(0, 0.1, 0.3), rim_of(lit))
    assert sorted(found[:, 7].tolist()) == [0, 1]


def test_trembling_is_told_from_flicker():
    rng = np.random.default_rng(4)
    assert trembles_freely(path(walk(rng, diffusion=0.2), length=4, width=3))
    assert not trembles_freely(path(rng.normal(0, 0.4, (90, 2)), length=4, width=3))


def test_those_that_go_different_ways_are_not_all_carried():
    t = np.arange(90)[:, None] / FPS
    ways = [path(t * way) for way in ([10, 0], [-4, 9], [0, -12])]
    each = [np.array(way, float) for way in ([10, 0], [-4, 9], [0, -12])]
    assert not any(may_be_carried(one, each, each) for one in ways)
    assert may_be_carried(ways[0], [each[0], np.array([10.5, 0.5]), each[1]], each)
    assert may_be_carried(ways[0], [each[0]], each)


def test_a_brief_path_amid_the_field_is_doubted_and_one_from_the_border_is_not():
    t = np.arange(15)[:, None] / FPS
    assert comes_from_nowhere(path(80 + t * [30, 0], 20), MIDDLE, 90)
    assert not comes_from_nowhere(path([2, 100] + t * [30, 0], 20), MIDDLE, 90)
    assert not comes_from_nowhere(path(80 + t * [30, 0], 0), MIDDLE, 90)
