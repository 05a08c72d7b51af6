"""The round field of a phone at the eyepiece: drawn with truth, whole or cut by the picture's border."""

from __future__ import annotations

import numpy as np
import pytest

from fecallab.imaging.draw import SLIDES, Camera, FieldSpec, Light, RoundView, draw_field
from fecallab.imaging.field import LitCircle, find_lit_circle
from fecallab.imaging.grey import working_copy

from .slides import slide_pixels


def found_in(view: RoundView | None, seed: int = 1, **changes: object) -> LitCircle | None:
    spec = FieldSpec(width_px=640, height_px=480, view=view, crowding=0.2, **changes)  # type: ignore[arg-type]
    return find_lit_circle(working_copy(draw_field(spec, seed)[0]))


@pytest.mark.parametrize(
    ("x", "y", "radius", "edge"),
    [(320, 240, 200, 5), (300, 250, 150, 2), (320, 240, 330, 8), (250, 300, 300, 5), (420, 200, 90, 4)],
)
def test_diameter_is_within_a_percent(x: float, y: float, radius: float, edge: float) -> None:
    circle = found_in(RoundView(x_px=x, y_px=y, radius_px=radius, edge_px=edge))
    assert circle is not None
    assert circle.diameter_px == pytest.approx(2 * radius, rel=0.01)
    assert (circle.x_px, circle.y_px) == pytest.approx((x, y), abs=0.01 * radius + 1)


@pytest.mark.parametrize(
    "changes",
    [
        {"light": Light(uneven=0.5, dust=12)},
        {"camera": Camera(noise=8.0, blur_px=2.5)},
        {"camera": Camera(gamma=1.6, contrast=1.4)},
        {"light": Light(white=(80.0, 80.0, 90.0))},
    ],
    ids=["uneven", "noisy and blurred", "hard", "dim"],
)
def test_it_is_found_in_bad_light_too(changes: dict[str, object]) -> None:
    circle = found_in(RoundView(x_px=330, y_px=230, radius_px=210), seed=3, **changes)
    assert circle is not None
    assert circle.diameter_px == pytest.approx(420, rel=0.01)


@pytest.mark.parametrize("name", ["dragon_phone_flotation.jpg", "tortoise_phone_wet_mount.jpg"])
def test_sample_slides_of_a_phone(name: str) -> None:
    slide = SLIDES[name]
    circle = find_lit_circle(working_copy(slide_pixels(name)))
    assert circle is not None and slide.spec.view is not None
    assert circle.diameter_px == pytest.approx(2 * slide.spec.view.radius_px, rel=0.002)
    assert circle.arc == pytest.approx(1.0, abs=0.02)


def test_lit_area_is_the_part_of_the_circle_inside_the_picture() -> None:
    circle = found_in(RoundView(x_px=0, y_px=240, radius_px=200))
    assert circle is not None
    assert circle.lit_area_px == pytest.approx(np.pi * 200**2 / 2, rel=0.02)
    assert circle.lit_fraction == pytest.approx(circle.lit_area_px / (640 * 480), rel=0.001)
    assert circle.arc == pytest.approx(0.5, abs=0.03)
    assert circle.area_mm2(0.5) == pytest.approx(circle.lit_area_px * 0.25e-6)


def test_a_picture_that_is_lit_all_over_has_no_circle() -> None:
    assert found_in(None) is None


@pytest.mark.parametrize("value", [0, 128, 255])
def test_an_even_picture_has_no_circle(value: int) -> None:
    assert find_lit_circle(working_copy(np.full((200, 300), value, np.uint8))) is None


def test_a_lit_square_is_no_circle() -> None:
    pixels = np.full((400, 400), 5, np.uint8)
    pixels[60:340, 60:340] = 200
    assert find_lit_circle(working_copy(pixels)) is None


def test_dark_debris_in_a_lit_picture_is_no_surround() -> None:
    pixels = np.full((300, 400), 200, np.uint8)
    pixels[:, :90] = 20
    assert find_lit_circle(working_copy(pixels)) is None
