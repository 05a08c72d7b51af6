"""Long thin bodies: larvae are found with their length, straight fibres and bent bands are not."""

from __future__ import annotations

import numpy as np
import pytest

from fecallab.imaging.detect.absorption import absorbed_in, ground_of
from fecallab.imaging.detect.long_score import LONG_NAMES, drawn_long_score, long_score
from fecallab.imaging.detect.long_thin import LONG_THRESHOLD, LongFound, find_long
from fecallab.imaging.detect.search import pyramid
from fecallab.imaging.draw import draw_field
from fecallab.imaging.draw.scene import FieldSpec, Truth, Wanted

PITCH = 0.5
TAPER = [0, 0.03, 0.12, 0.6, 0.85, 1], [0.45, 0.8, 1, 1, 0.68, 0.03]
"""Half width of a larva along its body."""


def found_in(pixels: np.ndarray, um_per_px: float = 1.0) -> LongFound:
    """Long objects that would be proposed, in µm, the best first."""
    rows, columns = (round(side * um_per_px / PITCH) for side in pixels.shape[:2])
    absorbed = absorbed_in(pixels, ground_of(pixels), rows, columns)
    found = find_long(pyramid(absorbed, PITCH), PITCH)
    score = long_score(found.features)
    strong = [k for k in np.argsort(-score) if score[k] >= LONG_THRESHOLD]
    return LongFound(
        *(column[strong] * PITCH for column in (found.x, found.y, found.length, found.width)),
        found.angle[strong],
        found.error[strong] * PITCH,
        [found.outline[k] * PITCH for k in strong],
        found.features[strong],
    )


def banded(middle: np.ndarray, half_um: np.ndarray, seed: int = 0) -> np.ndarray:
    """A walled band along points (columns, rows) at 1 µm per pixel, of a half width at each."""
    y, x = np.mgrid[0:300, 0:460].astype(float)
    depth = np.full(x.shape, -99.0)
    for (px, py), half in zip(middle, half_um, strict=True):
        np.maximum(depth, half - np.hypot(x - px, y - py), out=depth)
    dark = 0.3 * np.exp(-(((depth - 0.5) / 1.0) ** 2)) + 0.12 * np.clip(depth, 0, 1)
    noise = np.random.default_rng(seed).normal(0, 1.5, x.shape)
    return (200 * np.exp(-dark) + noise).clip(0, 255).astype(np.uint8)


def larva_field(seed: int, length_um: float, **options: float) -> tuple[np.ndarray, Truth]:
    wanted = Wanted(key="rhabdias_larva", length_um=length_um, defocus_um=0.2)
    spec = FieldSpec(width_px=480, height_px=480, um_per_px=1.0, things=(wanted,), **options)  # type: ignore[arg-type]
    pixels, truth = draw_field(spec, seed)
    return pixels, truth[0]


@pytest.mark.parametrize(("seed", "length_um"), [(720_901, 330.0), (720_902, 380.0), (720_903, 420.0)])
def test_a_drawn_larva_is_found_once_and_its_length_is_a_rough_one(seed: int, length_um: float) -> None:
    pixels, truth = larva_field(seed, length_um)
    found = found_in(pixels)
    assert len(found.x) == 1
    assert np.hypot(found.x[0] - truth.x_px, found.y[0] - truth.y_px) < 0.15 * length_um
    assert found.length[0] == pytest.approx(length_um, rel=0.35), "clear tips are cut short"
    assert found.width[0] == pytest.approx(truth.width_um, rel=0.35)


def test_an_s_shaped_larva_is_one_object() -> None:
    t = np.linspace(0, 1, 160)
    middle = np.column_stack([70 + 320 * t, 150 + 55 * np.sin(2 * np.pi * t)])
    half = 8.5 * np.interp(t, *TAPER)
    found = found_in(banded(middle, half))
    length = np.hypot(*np.diff(middle, axis=0).T).sum()
    assert len(found.x) == 1
    assert found.length[0] == pytest.approx(length, rel=0.15)
    assert np.hypot(found.x[0] - 230, found.y[0] - 150) < 30


@pytest.mark.parametrize("bow", [0.0, 60.0])
def test_a_band_that_keeps_its_width_is_no_larva(bow: float) -> None:
    t = np.linspace(0, 1, 160)
    middle = np.column_stack([60 + 330 * t, 150 + bow * np.sin(np.pi * t) - bow / 2])
    assert len(found_in(banded(middle, np.full(160, 8.5))).x) == 0


def test_a_band_that_leaves_the_picture_is_no_larva() -> None:
    t = np.linspace(-0.2, 1.2, 200)
    middle = np.column_stack([460 * t, 120 + 60 * t])
    assert len(found_in(banded(middle, np.full(200, 9.0))).x) == 0


def test_noise_alone_has_no_larva() -> None:
    noise = np.random.default_rng(4).normal(180, 6, (300, 400)).clip(0, 255).astype(np.uint8)
    assert len(found_in(noise).x) == 0


def test_walls_beyond_the_tail_and_ends_at_the_border_lower_the_score() -> None:
    t = np.linspace(0, 1, 160)
    middle = np.column_stack([70 + 320 * t, 150 + 55 * np.sin(2 * np.pi * t)])
    good = found_in(banded(middle, 8.5 * np.interp(t, *TAPER))).features[:1]
    for name, worse in (("beyond_tail", 0.7), ("at_border", 2.0)):
        bad = good.copy()
        bad[0, LONG_NAMES.index(name)] = worse
        assert long_score(bad)[0] < long_score(good)[0], name


def test_the_coefficients_belong_to_the_features() -> None:
    score = drawn_long_score()
    assert score.mean.shape == score.spread.shape == (len(LONG_NAMES),)
    assert score.weights.shape == (2 * len(LONG_NAMES),)
    at_mean = score.of(score.mean[None, :])[0]
    assert 0 < at_mean < LONG_THRESHOLD, "what is usual among all bodies is no larva"
