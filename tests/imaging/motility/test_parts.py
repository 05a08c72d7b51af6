"""The steps from a frame to a track, each against a drawn truth."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import ndimage

from fecallab.domain.errors import BadInput
from fecallab.domain.motility import kinematics
from fecallab.imaging.motility.decide import bends_itself
from fecallab.imaging.motility.detect import Limits, bodies
from fecallab.imaging.motility.layers import still_layer
from fecallab.imaging.motility.link import link
from fecallab.imaging.motility.manner import moves_like
from fecallab.imaging.motility.paths import path_of
from fecallab.imaging.motility.steady import Aligner, averaged
from fecallab.imaging.motility.stream import Stream, common_stream

points = st.lists(st.tuples(st.floats(-500, 500), st.floats(-500, 500)), min_size=2, max_size=40)


@given(points, st.sampled_from([1, 3, 5, 9]))
def test_velocities_keep_their_order_and_linearity_is_a_product(xy, window):
    found = kinematics(xy, [k / 25 for k in range(len(xy))], window)
    assert found.vsl_um_s <= found.vap_um_s * (1 + 1e-9) + 1e-9
    assert found.vap_um_s <= found.vcl_um_s * (1 + 1e-9) + 1e-9
    assert 0 <= found.linearity <= 1
    if found.vsl_um_s > 1e-3 * found.vcl_um_s > 0:
        assert found.linearity == pytest.approx(found.straightness * found.wobble, rel=1e-6)


@pytest.mark.parametrize(
    ("xy", "times", "window"),
    [([(0, 0)], [0], 1), ([(0, 0), (1, 1)], [0, 0], 1), ([(0, 0), (1, 1)], [0, 1], 2)],
)
def test_what_is_no_path_is_refused(xy, times, window):
    with pytest.raises(BadInput):
        kinematics(xy, times, window)


def ellipse(shape, x, y, long, short, angle=0.0):
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    c, s = np.cos(angle), np.sin(angle)
    u, v = c * (columns - x) + s * (rows - y), c * (rows - y) - s * (columns - x)
    return ((u / long * 2) ** 2 + (v / short * 2) ** 2 <= 1).astype(np.float32)


@pytest.mark.parametrize("aspect", [1.0, 2.0, 4.0, 9.0])
def test_a_body_is_one_however_long(aspect):
    drawn = ndimage.gaussian_filter(ellipse((90, 160), 80, 45, 12 * aspect, 12, 0.4), 1.4)
    found = bodies(drawn, Limits(0, 0.1, 0.3))
    assert len(found) == 1
    x, y, _, length, width, angle, *_ = found[0]
    assert (x, y) == pytest.approx((80, 45), abs=0.2)
    assert (length, width) == pytest.approx((12 * aspect, 12), rel=0.15, abs=1)
    if aspect > 1:
        assert angle == pytest.approx(0.4, abs=0.03)


def test_two_that_touch_are_two():
    drawn = np.maximum(ellipse((60, 80), 30, 30, 18, 12, 1.2), ellipse((60, 80), 44, 31, 18, 12, 1.9))
    assert len(bodies(ndimage.gaussian_filter(drawn, 1.0), Limits(0, 0.15, 0.3))) == 2


def test_the_background_forgets_what_passes_and_follows_the_stage():
    rng = np.random.default_rng(0)
    ground = ndimage.gaussian_filter(rng.normal(size=(120, 160)), 2).astype(np.float32) * 0.5 + 1
    camera = np.zeros((40, 2))
    camera[20:] = (5, -3)
    frames = np.array(
        [ground[30 - int(dy) : 90 - int(dy), 30 - int(dx) : 110 - int(dx)] for dx, dy in camera]
    )
    for k in range(40):
        frames[k, 20:28, 2 * k : 2 * k + 8] -= 0.5
    layer = still_layer(frames, camera, np.ones((60, 80), bool))
    assert layer.sign == -1
    clean = ground[33:93, 25:105]
    assert np.abs(layer.seen((60, 80), camera[-1]) - clean)[5:-5, 8:-8].max() < 0.05


def test_a_body_that_lingers_leaves_no_ghost():
    rng = np.random.default_rng(3)
    ground = 1 + 0.002 * rng.normal(size=(60, 90)).astype(np.float32)
    frames = np.repeat(ground[None], 30, axis=0)
    at = [min(10 + max(0, k - 19) * 6, 70) for k in range(30)]  # two thirds of the time at one place
    for frame, x in zip(frames, at, strict=True):
        frame += 0.3 * ellipse((60, 90), x, 30, 14, 9) - 0.2 * ellipse((60, 90), x, 30, 9, 5)
    layer = still_layer(frames, np.zeros((30, 2)), np.ones((60, 90), bool), careful=True)
    assert np.abs(layer.seen((60, 90), np.zeros(2)) - ground).max() < 0.03


@given(st.floats(-6, 6), st.floats(-6, 6))
def test_a_shift_is_measured_to_a_tenth_of_a_pixel(dx, dy):
    big = ndimage.gaussian_filter(np.random.default_rng(1).normal(size=(100, 130)), 2)
    one, other = big[10:90, 10:120], ndimage.shift(big, (dy, dx), order=3, mode="nearest")[10:90, 10:120]
    aligner = Aligner(np.ones((80, 110), bool))
    found = aligner.shift(
        aligner.spectrum(one.astype(np.float32)), aligner.spectrum(other.astype(np.float32))
    )
    assert found.xy == pytest.approx([dx, dy], abs=0.15)


def test_averaging_keeps_the_mean():
    pixels = np.arange(48, dtype=np.uint8).reshape(6, 8)
    assert averaged(pixels, 2).mean() == pytest.approx(pixels.mean())


def rows_of(*places):
    return np.array([[x, y, 40.0, 8.0, 6.0, 0.0, 0.2, 0.0] for x, y in places])


def test_tracks_keep_their_bodies_when_they_cross():
    times = np.arange(40) / 30
    tables = [rows_of((40 * t, 10 + 30 * t), (40 * t, 50 - 30 * t)) for t in times]
    found = link(tables, times)
    assert len(found) == 2
    for one in found:
        slopes = np.diff([row[1] for row in one.rows])
        assert np.sign(slopes).min() == np.sign(slopes).max()


def test_two_that_touch_for_a_while_keep_their_tracks():
    times = np.arange(60) / 30
    tables = []
    for t in times:
        one, other = (10 + 30 * t, 20 + 4 * t), (70 - 30 * t, 24 + 4 * t)
        apart = abs(one[0] - other[0])
        if apart < 14:  # seen as one, as long as both together
            body = rows_of(((one[0] + other[0]) / 2, (one[1] + other[1]) / 2))
            body[0, 2:5] = 40 + 3 * apart, 8 + apart, 8
            tables.append(body)
        else:
            tables.append(rows_of(one, other))
    found = [one for one in link(tables, times) if len(one.frames) > 3]
    assert len(found) == 2
    assert {len(one.frames) for one in found} == {60}
    assert sorted(np.sign(one.rows[-1][0] - one.rows[0][0]) for one in found) == [-1, 1]


def test_a_body_that_is_hidden_for_a_moment_is_taken_up_again():
    times = np.arange(40) / 30
    tables = [rows_of((60 * t, 5)) if not 15 <= k < 21 else np.empty((0, 8)) for k, t in enumerate(times)]
    assert len(link(tables, times)) == 1


def test_a_sheared_stream_is_found_among_swimmers():
    rng = np.random.default_rng(4)
    times = np.arange(60) / 30
    places = rng.uniform(0, 200, (25, 2))
    flow = np.column_stack([12 + 0.05 * (places[:, 1] - 100), np.full(25, -4.0)])
    flow[:6] += rng.normal(0, 60, (6, 2))
    paths = []
    for place, velocity in zip(places, flow, strict=True):
        walk = place + velocity * times[:, None] + np.cumsum(rng.normal(0, 0.1, (60, 2)), axis=0)
        [track] = link([rows_of(one) for one in walk], times)
        paths.append(path_of(track, times))
    found = common_stream(paths, np.array([100.0, 100.0]))
    assert found.velocity_um_s == pytest.approx([12, -4], abs=0.3)
    assert found.gradient_per_s[0, 1] == pytest.approx(0.05, abs=0.01)


def test_a_stream_is_found_by_few_and_not_made_of_swimmers():
    rng = np.random.default_rng(5)
    times = np.arange(60) / 30

    def path(place, velocity):
        walk = place + velocity * times[:, None] + np.cumsum(rng.normal(0, 0.1, (60, 2)), axis=0)
        return path_of(link([rows_of(one) for one in walk], times)[0], times)

    middle = np.array([100.0, 100.0])
    swim = [path(rng.uniform(0, 200, 2), rng.normal(0, 30, 2)) for _ in range(7)]
    assert not common_stream(swim, middle).velocity_um_s.any()
    carried = [path(rng.uniform(0, 200, 2), np.array([11.0, 6.0])) for _ in range(3)]
    assert common_stream([*swim, *carried], middle).velocity_um_s == pytest.approx([11, 6], abs=0.6)


def body_path(xy, lengths, angles):
    """A path of one body with given outlines, all of the same area."""
    times = np.arange(len(xy)) / 30
    rows = [
        np.array([[x, y, 500.0, length, 12.0, angle, 0.2, 0.0]])
        for (x, y), length, angle in zip(xy, lengths, angles, strict=True)
    ]
    [track] = link(rows, times)
    return path_of(track, times)


def test_what_bends_on_the_spot_is_told_from_what_lies_there():
    rng = np.random.default_rng(2)
    times = np.arange(60) / 30
    there = rng.normal(0, 0.3, (60, 2))
    swing = np.sin(2 * np.pi * 1.3 * times)
    assert bends_itself(body_path(there, 60 + 9 * swing, 0.05 * swing))
    assert bends_itself(body_path(there, np.full(60, 60.0), 0.6 * swing))
    assert not bends_itself(body_path(there, 60 + rng.normal(0, 1.5, 60), rng.normal(0, 0.05, 60)))
    assert not bends_itself(body_path(there, 12 + 3 * swing, 0.6 * swing))  # small ones tremble and turn


def test_what_holds_its_place_in_a_stream_does_not_swim_against_it():
    flow = Stream(np.zeros(2), np.array([15.0, 0.0]), np.zeros((2, 2)), 1.0)
    rng = np.random.default_rng(2)
    times = np.arange(60) / 30
    lies = body_path(rng.normal(0, 0.8, (60, 2)), np.full(60, 10.0), np.zeros(60))
    swims = body_path(np.column_stack([-8 * times, 6 * times]), np.full(60, 10.0), np.zeros(60))
    assert flow.holds_place(lies) and not flow.holds_place(swims)


def test_manner_and_size_hint_at_groups():
    assert "flagellate" in moves_like(10, ("jerky",))
    assert "ciliate" in moves_like(90, ("glides",))
    assert "rhabditid" in moves_like(300, ("thrashes",))
    assert moves_like(10, ()) == ()
