"""The steps from a frame to a track, each against a drawn truth."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import ndimage

from fecallab.domain.errors import BadInput
from fecallab.domain.motility import kinematics
from fecallab.imaging.motility.detect import Limits, bodies
from fecallab.imaging.motility.layers import still_layer
from fecallab.imaging.motility.link import link
from fecallab.imaging.motility.manner import moves_like
from fecallab.imaging.motility.paths import path_of
from fecallab.imaging.motility.steady import Aligner, averaged
from fecallab.imaging.motility.stream import common_stream

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
    x, y, _, length, width, angle, _ = found[0]
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
    return np.array([[x, y, 40.0, 8.0, 6.0, 0.0, 0.2] for x, y in places])


def test_tracks_keep_their_bodies_when_they_cross():
    times = np.arange(40) / 30
    tables = [rows_of((40 * t, 10 + 30 * t), (40 * t, 50 - 30 * t)) for t in times]
    found = link(tables, times)
    assert len(found) == 2
    for one in found:
        slopes = np.diff([row[1] for row in one.rows])
        assert np.sign(slopes).min() == np.sign(slopes).max()


def test_a_body_that_is_hidden_for_a_moment_is_taken_up_again():
    times = np.arange(40) / 30
    tables = [rows_of((60 * t, 5)) if not 15 <= k < 21 else np.empty((0, 7)) for k, t in enumerate(times)]
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


def test_manner_and_size_hint_at_groups():
    assert "flagellate" in moves_like(10, ("jerky",))
    assert "ciliate" in moves_like(90, ("glides",))
    assert "rhabditid" in moves_like(300, ("thrashes",))
    assert moves_like(10, ()) == ()
