"""Rulers and grids drawn with truth: the scale is found within the stated error, and nothing else is a ruler."""

from __future__ import annotations

import numpy as np
import pytest

from fecallab.domain.errors import BadInput
from fecallab.domain.field_diameter import field_from_numbers, field_from_ruler
from fecallab.imaging.calibrate import by_grid, by_known_object, by_lit_circle, by_ruler
from fecallab.imaging.draw.rulers import GridSpec, RulerSpec, Shot, draw_grid, draw_ruler
from fecallab.imaging.grey import full_white, working_copy

from .slides import slide_pixels

TEXT = ("40x objective", "0.01 mm")


def error_of(spec: RulerSpec, seed: int = 1) -> float:
    found = by_ruler(draw_ruler(spec, seed), 10.0)
    return found.um_per_px * spec.px_per_division / 10.0 - 1


@pytest.mark.parametrize("angle_deg", [0.0, 0.4, 3.0, 17.0, 30.0, 45.0])
@pytest.mark.parametrize(("px", "blur_px"), [(8.0, 0.0), (8.0, 3.0), (13.7, 1.5), (29.0, 3.0), (60.0, 1.0)])
def test_scale_is_within_a_fifth_of_a_percent(px: float, blur_px: float, angle_deg: float) -> None:
    spec = RulerSpec(px_per_division=px, angle_deg=angle_deg, shot=Shot(blur_px=blur_px, uneven=0.4))
    assert abs(error_of(spec)) < 0.002


@pytest.mark.parametrize(
    "changes",
    [
        {"line_px": 6.0},
        {"one_sided": True, "base_line": True},
        {"longer_every": (0, 0)},
        {"longer_every": (2, 10), "thicker_tenth": 1.5},
        {"wobble_px": 0.2},
        {"lines": 21},
        {"shot": Shot(inverted=True, noise=6.0)},
        {"shot": Shot(contrast=0.15, noise=3.0, uneven=0.5)},
        {"shot": Shot(text=TEXT, blur_px=3.0)},
        {"offset_px": (40.0, -150.0)},
    ],
    ids=str,
)
def test_rulers_made_by_other_rules_are_read_too(changes: dict[str, object]) -> None:
    spec = RulerSpec(**({"px_per_division": 17.3, "angle_deg": 21.0} | changes))  # type: ignore[arg-type]
    assert abs(error_of(spec, seed=4)) < 0.002


@pytest.mark.parametrize("angle_deg", [0.0, 12.0, 89.0, 90.0, 133.0, 178.5])
def test_angle_is_that_of_the_ruler(angle_deg: float) -> None:
    found = by_ruler(draw_ruler(RulerSpec(px_per_division=20, angle_deg=angle_deg), 2), 10)
    assert found.angle_deg is not None and 0 <= found.angle_deg < 180
    assert abs((found.angle_deg - angle_deg + 90) % 180 - 90) < 0.2


def test_the_finest_lines_count_and_not_the_longer_ones() -> None:
    """Blurred by 3 pixels, lines 8 pixels apart keep 6 % of their contrast; tenth lines stay plain."""
    spec = RulerSpec(px_per_division=8, angle_deg=3, thicker_tenth=1.5, shot=Shot(blur_px=3.0))
    assert abs(error_of(spec)) < 0.002


def test_interval_covers_the_truth_about_as_often_as_it_says() -> None:
    rng = np.random.default_rng(8)
    hits = []
    for seed in range(40):
        spec = RulerSpec(
            px_per_division=rng.uniform(8, 50),
            angle_deg=rng.uniform(0, 45),
            wobble_px=0.1,
            shot=Shot(width_px=480, height_px=360, blur_px=rng.uniform(0, 2), noise=3.0),
        )
        low, high = by_ruler(draw_ruler(spec, seed), 10).ci95
        hits.append(low <= 10 / spec.px_per_division <= high)
    assert np.mean(hits) >= 0.85


@pytest.mark.parametrize("name", ["dragon_before_1.jpg", "dragon_before_3.jpg", "tortoise_crowded.jpg"])
def test_a_field_without_a_ruler_gives_no_scale(name: str) -> None:
    pixels = slide_pixels(name)
    with pytest.raises(BadInput) as refused:
        by_ruler(pixels, 10)
    assert refused.value.reason.code == "no-ruler"
    assert "--known-um" in refused.value.reason.next


@pytest.mark.parametrize(
    "pixels",
    [
        np.zeros((1, 1), np.uint8),
        np.zeros((300, 400, 3), np.uint8),
        np.full((300, 400), 255, np.uint8),
        np.random.default_rng(1).integers(0, 255, (300, 400), dtype=np.uint8),
        np.zeros((5000, 3), np.uint8),
    ],
    ids=["one pixel", "black", "white", "noise", "thread"],
)
def test_pictures_of_nothing_give_one_line(pixels: np.ndarray) -> None:
    with pytest.raises(BadInput, match="No ruler"):
        by_ruler(pixels, 10)
    with pytest.raises(BadInput, match="No grid"):
        by_grid(pixels, 250)
    with pytest.raises(BadInput, match="No round field"):
        by_lit_circle(pixels, field_from_numbers(20, 10))


@pytest.mark.parametrize("division_um", [0.0, -10.0, float("nan"), float("inf")])
def test_an_impossible_division_is_refused(division_um: float) -> None:
    with pytest.raises(BadInput):
        by_ruler(draw_ruler(RulerSpec(px_per_division=20), 1), division_um)


@pytest.mark.parametrize(("px", "angle_deg", "triple"), [(33.0, 40.0, 0), (60.0, 12.0, 4), (25.0, 80.0, 5)])
def test_grid_is_read_in_both_directions(px: float, angle_deg: float, triple: int) -> None:
    shot = Shot(width_px=900, height_px=700)
    pixels = draw_grid(GridSpec(px_per_square=px, angle_deg=angle_deg, triple_every=triple, shot=shot), 3)
    assert by_grid(pixels, 250).um_per_px == pytest.approx(250 / px, rel=0.002)
    assert by_grid(pixels, 250, near_px=1.1 * px).um_per_px == pytest.approx(250 / px, rel=0.002)


def test_a_ruler_is_no_grid() -> None:
    with pytest.raises(BadInput, match="No grid"):
        by_grid(draw_ruler(RulerSpec(px_per_division=20), 1), 10)


def test_sixteen_bit_and_eight_bit_pictures_agree() -> None:
    eight = draw_ruler(RulerSpec(px_per_division=21.5, angle_deg=8), 6)
    deep = eight.astype(np.uint16) * 16  # 12 bits in 16
    assert full_white(deep) == 4095
    assert by_ruler(deep, 10).um_per_px == pytest.approx(by_ruler(eight, 10).um_per_px, rel=1e-4)


def test_a_large_picture_is_averaged_down_and_the_scale_is_that_of_its_own_pixels() -> None:
    small = draw_ruler(RulerSpec(px_per_division=21.5, angle_deg=8), 6)
    large = np.repeat(np.repeat(small, 8, axis=0), 8, axis=1)
    copy = working_copy(large)
    assert copy.shrink == 2 and copy.grey.nbytes <= 4 * 13e6
    assert by_ruler(large, 10).um_per_px == pytest.approx(10 / 21.5 / 8, rel=0.002)


def test_a_known_object_is_as_certain_as_it_is_long() -> None:
    near, far = (by_known_object(100, (10, 10), (10 + long, 10)) for long in (100, 1000))
    share = [(found.ci95[1] / found.um_per_px - 1) for found in (near, far)]
    assert share[0] == pytest.approx(10 * share[1])
    with pytest.raises(BadInput, match="pixels apart"):
        by_known_object(100, (10, 10), (12, 10))


def test_numbers_on_the_microscope_are_less_certain_than_a_ruler_under_the_same_objective() -> None:
    numbers, ruler = field_from_numbers(20, 4).diameter, field_from_ruler(5, 4).diameter
    assert numbers.value == ruler.value == 5000
    assert numbers.half_width / numbers.value > 0.05
    elsewhere = field_from_ruler(5, 4, 40).diameter
    assert elsewhere.value == 500
    assert elsewhere.half_width / elsewhere.value > ruler.half_width / ruler.value
