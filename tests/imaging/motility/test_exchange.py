"""Tracks that took up each other's bodies where these met are exchanged, and others are left alone."""

import numpy as np
import pytest

from fecallab.imaging.motility.decide import judge_rest, swimming_stretches
from fecallab.imaging.motility.doubts import may_be_carried, near_stream
from fecallab.imaging.motility.evidence import Surroundings, comes_with_a_nudge
from fecallab.imaging.motility.exchange import untangled
from fecallab.imaging.motility.link import Track
from fecallab.imaging.motility.paths import path_of, seen_whole
from fecallab.imaging.motility.stream import Stream, common_stream
from fecallab.imaging.motility.tremble import unrest_of

FPS = 30.0
TIMES = np.arange(90) / FPS
BIG, SMALL = (50.0, 10.0, 6.0), (9.0, 4.0, 3.0)  # area, length, width


def rows(xy, size, rng, partly=0.0):
    n = len(xy)
    area, length, width = (value * np.exp(rng.normal(0, 0.05, n)) for value in size)
    return np.column_stack([xy, area, length, width, np.zeros(n), 0.01 * area**0.5, np.full(n, partly)])


def crossing(rng):
    """A swimmer that goes over a grain at frame 45."""
    swims = np.column_stack([40 * (TIMES - 1.5), 1.0 + 0 * TIMES])
    rests = np.cumsum(rng.normal(0, 0.05, (90, 2)), axis=0)
    return rows(swims, BIG, rng), rows(rests - rests[45], SMALL, rng)


def track(parts):
    """A track of rows, each part with the frame at which it starts."""
    frames = [first + k for first, part in parts for k in range(len(part))]
    return Track(frames, [row for _, part in parts for row in part])


def ends_of(tracks):
    return sorted(
        (round(float(one.rows[0][0])), round(float(one.rows[-1][0]))) for one in tracks if len(one.frames) > 3
    )


def test_a_swimmer_that_left_its_track_to_a_grain_gets_it_back():
    swims, rests = crossing(np.random.default_rng(1))
    mixed = [track([(0, swims[:45]), (45, rests[45:])]), track([(0, rests[:45]), (45, swims[45:])])]
    found = untangled(mixed, TIMES)
    assert {len(one.frames) for one in found} == {90}
    [swimmer] = [one for one in found if one.rows[0][0] < -20]
    assert swimmer.rows[-1][0] > 50
    lengths = np.array([row[3] for row in swimmer.rows])
    assert lengths.min() > 7


def test_tracks_that_keep_to_their_bodies_stay_as_they_are():
    swims, rests = crossing(np.random.default_rng(2))
    right = [track([(0, swims)]), track([(0, rests)])]
    found = untangled(right, TIMES)
    assert ends_of(found) == ends_of(right)


def test_a_swimmer_that_was_lost_where_it_met_a_grain_takes_over_what_follows_it():
    swims, rests = crossing(np.random.default_rng(3))
    lost = [track([(0, swims[:44])]), track([(0, rests[:45]), (45, swims[45:])])]
    found = untangled(lost, TIMES)
    assert sorted(len(one.frames) for one in found) == [45, 89]
    [swimmer] = [one for one in found if len(one.frames) == 89]
    assert swimmer.rows[0][0] < -50 and swimmer.rows[-1][0] > 50


def test_no_row_is_lost_or_made_whatever_crosses():
    rng = np.random.default_rng(4)
    tracks = []
    for _ in range(12):
        way = rng.uniform(0, 60, 2) + TIMES[:, None] * rng.normal(0, 30, 2)
        tracks.append(track([(0, rows(way, BIG, rng))]))
    found = untangled(tracks, TIMES)
    before, after = (sorted(tuple(row[:2]) for one in some for row in one.rows) for some in (tracks, found))
    assert before == after
    assert all(np.all(np.diff(one.frames) > 0) for one in found)


def over_the_border(start, flow, rng):
    """A carried grain of which the middle of what is seen goes half as fast until all of it is in the picture."""
    way = start + TIMES[:, None] * np.array(flow) + np.cumsum(rng.normal(0, 0.03, (90, 2)), axis=0)
    hidden = np.clip(4.0 - (way[:, 0] - start[0]), 0, 4)
    one = rows(way + np.column_stack([0.5 * hidden, 0 * hidden]), SMALL, rng)
    one[:, 7] = hidden > 0
    return path_of(track([(0, one)]), TIMES)


def test_a_stream_is_told_by_bodies_seen_whole():
    rng = np.random.default_rng(5)
    paths = [over_the_border(rng.uniform(0, 200, 2), (8.0, 3.0), rng) for _ in range(12)]
    whole = seen_whole(paths[0])
    assert whole is not None and len(whole) < 80
    found = common_stream(paths, np.array([100.0, 100.0]))
    assert found.velocity_um_s == pytest.approx([8, 3], abs=0.3)


def test_a_fast_one_hidden_for_nearly_half_of_its_time_swims_and_a_slow_one_is_not_told():
    rng = np.random.default_rng(6)
    kinds = {}
    for speed in (40.0, 7.0):
        way = rows(np.column_stack([speed * TIMES, 3 * np.sin(TIMES)]), BIG, rng)
        picks = np.flatnonzero(np.arange(90) % 9 < 5)
        path = path_of(Track(picks.tolist(), list(way[picks])), TIMES)
        assert 0.5 < path.seen.mean() < 0.6
        kinds[speed] = bool(swimming_stretches(path)), judge_rest(path, carried=False)
    assert kinds[40.0][0] and not kinds[7.0][0]
    assert kinds[7.0][1].kind == "cannot-tell" and "too slow" in kinds[7.0][1].why


def nudges_of(camera_px):
    rest = Stream(np.zeros(2), np.zeros(2), np.zeros((2, 2)), 0.0)
    return Surroundings(
        stream=rest, lag=0.1, unrest=1.0, limit=0.1, middle_um=np.zeros(2), camera_px=np.array(camera_px)
    ).nudges


def test_what_comes_into_view_as_the_stage_is_nudged_is_told():
    rng = np.random.default_rng(11)
    nudges = nudges_of([np.array([0.0, 0.0 if k < 40 else 25.0]) for k in range(90)])
    assert nudges.tolist() == [40]
    way = rows(np.column_stack([20 * TIMES, 0 * TIMES]), BIG, rng)
    assert comes_with_a_nudge(path_of(track([(40, way[40:])]), TIMES), nudges)
    assert not comes_with_a_nudge(path_of(track([(0, way)]), TIMES), nudges)
    assert not comes_with_a_nudge(path_of(track([(40, way[40:])]), TIMES), nudges_of([np.zeros(2)] * 90))


def trembler(rng, um2_s):
    steps = rng.normal(0, np.sqrt(2 * um2_s / FPS), (90, 2))
    return path_of(track([(0, rows(np.cumsum(steps, axis=0), SMALL, rng))]), TIMES)


def test_one_thing_that_jumps_makes_no_clip_restless_and_many_do():
    rng = np.random.default_rng(12)
    calm, wild = ([trembler(rng, d) for _ in range(12)] for d in (0.3, 5.0))
    assert unrest_of([]) == 1.0
    assert unrest_of(wild[:1]) == 1.0
    assert unrest_of([*calm, *wild[:2]]) < 1.2
    assert unrest_of(wild) > 2.0


def test_a_slow_way_of_its_own_may_come_from_a_strong_stream_that_changes():
    rng = np.random.default_rng(9)
    flow = Stream(np.zeros(2), np.array([25.0, 0.0]), np.zeros((2, 2)), 1.0)
    for own, near in ((5.0, True), (15.0, False)):
        way = rows(np.column_stack([25 * TIMES, own * TIMES]), SMALL, rng)
        assert near_stream(flow.taken_from(path_of(track([(0, way)]), TIMES)), flow) is near


def test_one_that_goes_straight_is_not_carried_where_many_others_do_not_go_along_on_average():
    rng = np.random.default_rng(13)
    straight = path_of(track([(0, rows(np.column_stack([15 * TIMES, 0 * TIMES]), BIG, rng))]), TIMES)
    angles = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    own = 12 * np.column_stack([np.cos(angles), np.sin(angles)])
    assert may_be_carried(straight, [], [])
    assert may_be_carried(straight, [], list(own[:4]))  # few tell nothing
    assert not may_be_carried(straight, [], list(own))
    assert may_be_carried(straight, [], list(own + np.array([15.0, 0.0])))  # a stream would take them along
