"""The check of a picture: each fault is named, with what to do; a good picture passes."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.imaging.draw import SLIDES, draw_field
from fecallab.imaging.quality import check_picture

from .slides import slide_pixels

SLIDE = SLIDES["dragon_before_1.jpg"]


@pytest.fixture(scope="module")
def good() -> NDArray[np.uint8]:
    return draw_field(SLIDE.spec, SLIDE.seed)[0]


def codes(pixels: NDArray[np.uint8]) -> set[str]:
    return {one.code for one in check_picture(pixels).findings}


@pytest.mark.parametrize("name", SLIDES)
def test_every_sample_slide_is_good_or_usable(name: str) -> None:
    assert check_picture(slide_pixels(name)).verdict in ("good", "usable")


def test_blur_lowers_the_sharpness_step_by_step(good: NDArray[np.uint8]) -> None:
    found = [check_picture(ndimage.gaussian_filter(good, (s, s, 0))).sharpness for s in (0.01, 2, 3, 5)]
    assert all(value is not None and 0 <= value <= 1 for value in found)
    assert found == sorted(found, reverse=True) and found[0] > 0.9 and found[-1] < 0.4


@pytest.mark.parametrize("sigma", [2.5, 3.5])
def test_blurred_alike_all_around_is_out_of_focus(good: NDArray[np.uint8], sigma: float) -> None:
    assert codes(ndimage.gaussian_filter(good, (sigma, sigma, 0))) == {"out-of-focus"}


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("length", [9, 15])
def test_blurred_one_way_is_shaken(good: NDArray[np.uint8], axis: int, length: int) -> None:
    assert "shaken" in codes(ndimage.uniform_filter1d(good, length, axis=axis))


def test_light_is_judged(good: NDArray[np.uint8]) -> None:
    bright = np.clip(good * 1.5, 0, 255).astype(np.uint8)
    assert codes((good * 0.15).astype(np.uint8)) == {"too-dark"}
    assert "too-bright" in codes(bright)
    assert check_picture(bright).white_share > 0.5
    slope = np.linspace(1, 0.3, good.shape[1])[None, :, None]
    assert "uneven-light" in codes((good * slope).astype(np.uint8))


def test_every_finding_says_what_to_do(good: NDArray[np.uint8]) -> None:
    for pixels in (good // 8, ndimage.gaussian_filter(good, (3, 3, 0)), good * 0):
        found = check_picture(pixels)
        assert found.verdict != "good" and found.findings
        assert all(one.text and one.next for one in found.findings)


@pytest.mark.parametrize(
    ("pixels", "code"),
    [
        (np.zeros((200, 300), np.uint8), "all-black"),
        (np.zeros((1, 1, 3), np.uint8), "all-black"),
        (np.full((200, 300, 3), 150, np.uint8), "nothing-to-focus-on"),
    ],
)
def test_nothing_to_see_is_said(pixels: NDArray[np.uint8], code: str) -> None:
    found = check_picture(pixels)
    assert found.sharpness is None
    assert code in {one.code for one in found.findings}


def test_the_dark_surround_of_a_phone_is_not_held_against_it() -> None:
    found = check_picture(slide_pixels("tortoise_phone_wet_mount.jpg"))
    assert found.circle is not None and 0.4 < found.lit_fraction < 0.6
    assert not {"too-dark", "blocked-shadows", "uneven-light"} & {one.code for one in found.findings}
