"""Sizes and their intervals, on points set by hand and on edges in drawn pictures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.domain.errors import BadInput
from fecallab.domain.measuring import (
    EDGE_SE_UM,
    Measured,
    Scale,
    measure_ellipse,
    measure_line,
    measure_outline,
    placing_se_px,
)
from fecallab.imaging.draw import FieldSpec, Wanted, draw_field
from fecallab.imaging.grey import working_copy
from fecallab.imaging.measure import measure_on_edge

SIZE = 110


def ellipse_points(a: float, b: float, angle_deg: float, turns: NDArray[np.float64]) -> NDArray[np.float64]:
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    u, v = a * np.cos(turns), b * np.sin(turns)
    return np.column_stack([100 + c * u - s * v, 100 + s * u + c * v])


def disc_picture(
    a: float, b: float, angle_deg: float, blur_px: float, noise: float, rng: np.random.Generator
) -> tuple[NDArray[np.float32], float, float]:
    fine = 4
    y, x = (np.mgrid[: SIZE * fine, : SIZE * fine] + 0.5) / fine - 0.5
    cx, cy = SIZE / 2 + rng.uniform(-1, 1, 2)
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    inside = ((c * (x - cx) + s * (y - cy)) / a) ** 2 + ((c * (y - cy) - s * (x - cx)) / b) ** 2 <= 1
    light = np.where(inside, 0.45, 0.85).reshape(SIZE, fine, SIZE, fine).mean(axis=(1, 3))
    light = ndimage.gaussian_filter(light, blur_px) + rng.normal(0, noise, (SIZE, SIZE))
    return (np.round(np.clip(light, 0, 1) * 255) / 255).astype(np.float32), cx, cy


def covered(found: Measured, long: float, short: float) -> list[bool]:
    assert found.width is not None
    return [
        amount.interval[0] <= truth <= amount.interval[1]
        for amount, truth in ((found.length, long), (found.width, short))
    ]


@pytest.mark.parametrize("points", [6, 8, 12, 20, 40])
def test_intervals_of_points_set_by_hand_cover_the_truth(points: int) -> None:
    rng = np.random.default_rng(points)
    hits: list[bool] = []
    for _ in range(300):
        b = rng.uniform(9, 40)
        a, angle, blur = b * rng.uniform(1.05, 2.5), rng.uniform(0, 180), rng.uniform(0, 2)
        turns = np.linspace(0, 2 * np.pi, points, endpoint=False) + rng.uniform(0, 6)
        at = ellipse_points(a, b, angle, turns) + rng.normal(0, placing_se_px(blur), (points, 2))
        scale = Scale(0.5 * (1 + rng.normal(0, 0.01 / 1.96)), 0.005)
        aside = rng.normal(0, EDGE_SE_UM) / 0.5  # the whole edge, in pixels
        found = measure_outline([(float(x), float(y)) for x, y in at], scale, blur_px=blur)
        hits += covered(found, a + 2 * aside * 0.5, b + 2 * aside * 0.5)
    assert 0.92 <= np.mean(hits) <= 0.98


def test_edges_of_plain_discs_are_found_closely() -> None:
    rng = np.random.default_rng(9)
    hits: list[bool] = []
    errors = []
    for _ in range(300):
        b = rng.uniform(9, 25)
        a, angle = b * rng.uniform(1, 2), rng.uniform(0, 180)
        grey, cx, cy = disc_picture(a, b, angle, rng.uniform(0.6, 2.5), rng.uniform(0.005, 0.04), rng)
        rough = (2 * a * rng.uniform(0.9, 1.1), 2 * b * rng.uniform(0.9, 1.1), angle + rng.uniform(-8, 8))
        centre = (cx + rng.uniform(-1.5, 1.5), cy + rng.uniform(-1.5, 1.5))
        found = measure_on_edge(grey, centre, *rough, Scale(1.0))
        assert found is not None
        hits += covered(found, 2 * a, 2 * b)
        errors.append(abs(found.length.value / (2 * a) - 1))
    assert np.mean(hits) >= 0.92
    assert np.median(errors) < 0.005 and np.quantile(errors, 0.95) < 0.03


WANTED = {
    "10x": ("oxyurid_pharyngodon_egg", "oxyurid_tortoise_egg", "rhabdias_egg", "kalicephalus_egg"),
    "40x": ("isospora_amphiboluri_sporulated", "isospora_amphiboluri_unsporulated", "choleoeimeria_pogonae"),
}


def test_intervals_of_eggs_and_oocysts_in_drawn_micrographs_cover_the_truth() -> None:
    """Halo, wall and focus move an edge as a whole; the interval counts that in."""
    rng = np.random.default_rng(2)
    hits: list[bool] = []
    for seed in range(28):
        objective = ("10x", "40x")[seed % 2]
        um = {"10x": 0.65, "40x": 0.2}[objective]
        spec = FieldSpec(
            width_px=560,
            height_px=420,
            um_per_px=um,
            objective=objective,
            depth_um={"10x": 0.8, "40x": 0.4}[objective],
            crowding=0.1,
            as_many_as_fit=True,
            things=tuple(Wanted(key=key) for key in WANTED[objective]),
        )
        pixels, truth = draw_field(spec, 500 + seed)
        grey = working_copy(pixels).grey
        for one in truth:
            centre = (one.x_px + rng.uniform(-2, 2), one.y_px + rng.uniform(-2, 2))
            long, short = (side / um * rng.uniform(0.95, 1.05) for side in (one.length_um, one.width_um))
            found = measure_on_edge(grey, centre, long, short, one.angle_deg + rng.uniform(-4, 4), Scale(um))
            assert found is not None
            hits += covered(found, one.length_um, one.width_um)
    assert len(hits) > 150
    assert 0.92 <= np.mean(hits) <= 0.98


def test_where_there_is_no_edge_nothing_is_measured() -> None:
    grey = np.full((100, 100), 0.8, np.float32)
    assert measure_on_edge(grey, (50, 50), 40, 30, 0, Scale(1.0)) is None
    assert measure_on_edge(grey, (-50, 50), 40, 30, 0, Scale(1.0)) is None


@given(
    angle=st.floats(0, 179.99),
    long=st.floats(20, 500),
    aspect=st.floats(1.1, 4),
    um=st.floats(0.05, 5),
)
def test_an_outline_without_noise_gives_back_its_ellipse(
    angle: float, long: float, aspect: float, um: float
) -> None:
    a, b = long / 2, long / 2 / aspect
    at = ellipse_points(a, b, angle, np.linspace(0, 2 * np.pi, 30, endpoint=False))
    found = measure_outline([(float(x), float(y)) for x, y in at], Scale(um))
    assert found.width is not None and found.area is not None
    assert found.length.value == pytest.approx(long * um, rel=1e-3)
    assert found.width.value == pytest.approx(long / aspect * um, rel=1e-3)
    assert found.area.value == pytest.approx(math.pi * a * b * um**2, rel=0.02)
    assert abs((found.angle_deg - angle + 90) % 180 - 90) < 0.5
    assert 0 <= found.angle_deg < 180


@given(factor=st.floats(0.1, 10), long=st.floats(10, 300), share=st.floats(0, 0.2))
def test_sizes_go_with_the_scale_and_areas_with_its_square(factor: float, long: float, share: float) -> None:
    one = measure_ellipse((50, 50), long, 0.6 * long, 20, Scale(0.5, 0.5 * share), edge_se_um=0)
    other = measure_ellipse(
        (50, 50), long, 0.6 * long, 20, Scale(0.5 * factor, 0.5 * factor * share), edge_se_um=0
    )
    assert one.area is not None and other.area is not None
    assert other.length.value == pytest.approx(factor * one.length.value)
    assert other.length.half_width == pytest.approx(factor * one.length.half_width)
    assert other.area.value == pytest.approx(factor**2 * one.area.value)


def test_blur_and_an_uncertain_scale_make_sizes_less_certain() -> None:
    plain = measure_line((0, 0), (100, 0), Scale(0.5))
    blurred = measure_line((0, 0), (100, 0), Scale(0.5), blur_px=4)
    unsure = measure_line((0, 0), (100, 0), Scale(0.5, 0.02))
    assert plain.length.half_width < min(blurred.length.half_width, unsure.length.half_width)


def test_a_circle_has_no_direction() -> None:
    assert measure_ellipse((50, 50), 40, 40, 77, Scale(0.5)).angle_half_width_deg == 90


def test_axes_given_the_wrong_way_round_are_turned() -> None:
    found = measure_ellipse((50, 50), 20, 40, 10, Scale(1.0))
    assert found.width is not None
    assert (found.length.value, found.width.value, found.angle_deg) == (40, 20, 100)


@pytest.mark.parametrize(
    "points",
    [
        [(0, 0), (1, 1)],
        [(float(k), 0.0) for k in range(8)],
        [(float("nan"), 0.0)] * 6,
        [(3.0, 3.0)] * 9,
        [(math.cos(k / 8) * 30, math.sin(k / 8) * 30) for k in range(8)],
    ],
    ids=["two", "a line", "not numbers", "one place", "a short arc"],
)
def test_points_that_go_around_nothing_are_refused(points: list[tuple[float, float]]) -> None:
    with pytest.raises(BadInput):
        measure_outline(points, Scale(0.5))


@pytest.mark.parametrize("scale", [(0.0, 0.0), (-1.0, 0.0), (0.5, 0.5), (0.5, -0.1), (float("nan"), 0.0)])
def test_an_impossible_scale_is_refused(scale: tuple[float, float]) -> None:
    with pytest.raises(BadInput):
        Scale(*scale)
