"""Proposals on small drawn pictures: where they lie, how large they are, and what bad pictures give."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from fecallab.domain.errors import BadInput
from fecallab.imaging.detect import propose
from fecallab.imaging.detect.absorption import ground_of
from fecallab.imaging.detect.propose import LEAST_LENGTH_UM, candidates
from fecallab.imaging.detect.sketches import sketch
from fecallab.reference.organisms import organisms


def ring(
    length_um: float, width_um: float, angle_deg: float, um_per_px: float, side_px: int = 300
) -> np.ndarray:
    """One thin-walled ellipse on light ground, its wall just inside its outline."""
    at = (np.arange(side_px) - side_px / 2 + 0.5) * um_per_px
    x, y = np.meshgrid(at, at)
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    u, v = c * x + s * y, c * y - s * x
    a, b = length_um / 2, width_um / 2
    level = np.hypot(u / a, v / b)
    depth = (1 - level) * level / np.maximum(np.hypot(u / a**2, v / b**2), 1e-9)
    rng = np.random.default_rng(3)
    grey = 205 * np.exp(-0.45 * np.exp(-(((depth - 0.8) / 0.8) ** 2))) + rng.normal(0, 1.5, x.shape)
    return np.clip(grey, 0, 255).astype(np.uint8)


@pytest.mark.parametrize(
    ("length_um", "width_um", "um_per_px"),
    [(12, 10, 0.2), (26, 20, 0.3), (30, 29, 0.5), (80, 45, 0.5), (120, 50, 1.0), (320, 210, 2.0)],
)
def test_a_thin_walled_ellipse_is_proposed_first_with_its_axes(
    length_um: float, width_um: float, um_per_px: float
) -> None:
    best = propose(ring(length_um, width_um, 30, um_per_px), um_per_px, threshold=0.0).proposals[0]
    assert np.hypot(best.x_px - 149.5, best.y_px - 149.5) * um_per_px < 0.05 * length_um
    off = 0.12 if length_um < 15 else 0.06
    assert best.length_um == pytest.approx(length_um, rel=off)
    assert best.width_um == pytest.approx(width_um, rel=off)
    if length_um > 1.25 * width_um:
        assert abs((best.angle_deg - 30 + 90) % 180 - 90) < 6


@pytest.mark.parametrize(("um_per_px", "proposed"), [(0.14, True), (0.1, False)])
def test_a_body_of_eight_micrometres_is_proposed_and_one_of_six_is_not(
    um_per_px: float, proposed: bool
) -> None:
    """The same picture, 60 pixels long, told to be of another scale: size alone decides."""
    same = ring(12, 10, 30, 0.2)
    sure = propose(same, um_per_px).proposals
    assert any(np.hypot(one.x_px - 149.5, one.y_px - 149.5) < 6 for one in sure) == proposed
    assert all(one.length_um >= 7.2 for one in propose(same, um_per_px, threshold=0.0).proposals)


def test_the_docs_name_the_groups_that_are_too_small_to_be_proposed() -> None:
    largest: dict[str, float] = {}
    for one in organisms():
        if one.length_um is not None:
            largest[one.group] = max(largest.get(one.group, 0.0), one.length_um[1])
    never = {group for group, length in largest.items() if length < LEAST_LENGTH_UM}
    assert never == {"cryptosporidium", "microsporidian"}
    page = (Path(__file__).parents[3] / "docs" / "proposals.md").read_text(encoding="utf-8")
    told = page.split("**Never proposed:**")[1].split("\n\n")[0].lower()
    assert all(group in told for group in never)
    assert f"{LEAST_LENGTH_UM:g} µm" in told


def test_of_a_pale_body_with_a_dark_core_the_whole_is_proposed_and_only_once() -> None:
    y, x = np.mgrid[:300.0, :300.0]
    away = np.hypot(x - 150, y - 140)
    light = 0.3 / (1 + np.exp((away - 11) / 1.2)) + 0.04 * (away < 21)
    light += 0.06 * np.exp(-(((away - 20) / 1.3) ** 2))
    grey = 200 * np.exp(-light) + np.random.default_rng(5).normal(0, 1.2, light.shape)
    found = propose(np.clip(grey, 0, 255).astype(np.uint8), 0.5).proposals
    assert len(found) == 1
    assert np.hypot(found[0].x_px - 150, found[0].y_px - 140) < 2
    assert found[0].length_um == pytest.approx(21, rel=0.08)
    assert found[0].width_um == pytest.approx(21, rel=0.08)


def test_grey_and_sixteen_bit_pictures_give_the_same_places() -> None:
    grey = ring(60, 35, 20, 0.5)
    eight = propose(grey, 0.5).proposals
    sixteen = propose(grey.astype(np.uint16) * 257, 0.5).proposals
    colour = propose(np.dstack([grey] * 3), 0.5).proposals
    assert len(eight) >= 1
    for others in (sixteen, colour):
        assert [(round(p.x_px), round(p.y_px)) for p in others] == [
            (round(p.x_px), round(p.y_px)) for p in eight
        ]


def test_the_same_picture_gives_the_same_answer() -> None:
    pixels, _ = sketch(5, 0.35, width_px=300, height_px=240, things=3)
    first, second = propose(pixels, 0.5, threshold=0.1), propose(pixels, 0.5, threshold=0.1)
    assert first.proposals == second.proposals


@pytest.mark.parametrize("value", [0, 255])
@pytest.mark.parametrize("shape", [(1, 1), (3, 200), (200, 260), (120, 160, 3)])
def test_plain_pictures_give_no_proposal_and_say_why(value: int, shape: tuple[int, ...]) -> None:
    found = propose(np.full(shape, value, np.uint8), 0.5)
    assert found.proposals == ()
    assert found.remark


def test_noise_alone_gives_few_proposals_and_is_said() -> None:
    noise = np.random.default_rng(1).normal(150, 12, (480, 640)).clip(0, 255).astype(np.uint8)
    found = propose(noise, 0.5)
    assert len(found.proposals) <= 2
    assert "noise" in found.remark


def test_nothing_is_proposed_outside_the_lit_circle() -> None:
    pixels = ring(60, 40, 0, 0.5, 400)
    x, y = np.meshgrid(np.arange(400), np.arange(400))
    pixels[np.hypot(x - 199.5, y - 199.5) > 150] = 4
    found = propose(pixels, 0.5)
    assert 0.35 < found.lit_fraction < 0.55
    assert len(found.proposals) >= 1
    assert all(np.hypot(p.x_px - 199.5, p.y_px - 199.5) < 152 for p in found.proposals)


@pytest.mark.parametrize("scale", [0.0, -1.0, 1e-3, 50.0, float("nan")])
def test_an_impossible_scale_is_refused(scale: float) -> None:
    with pytest.raises(BadInput, match="scale"):
        propose(np.full((50, 50), 200, np.uint8), scale)


def test_a_large_picture_is_searched_for_as_many_as_its_room_allows() -> None:
    many = np.block([[ring(16, 13, 37.0 * (k + 5 * j), 0.5, 70) for k in range(28)] for j in range(20)])
    traced = candidates(many, 0.5, ground_of(many))[0].expected
    across, down = ((centre - 34.5) / 70 for centre in (traced.x, traced.y))
    close = np.hypot(across - across.round(), down - down.round()) * 70 < 5
    met = set(zip(across[close].round().tolist(), down[close].round().tolist(), strict=True))
    assert len(met) > 250  # of 560, all of one size and so of one level
