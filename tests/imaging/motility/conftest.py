"""Small drawn clips, made once."""

import pytest

from fecallab.imaging.motility.drawn import ClipSpec, draw_clip

SMALL = {
    "width_px": 260,
    "height_px": 200,
    "um_per_px": 0.8,
    "fps": 25,
    "seconds": 2.0,
    "trembling": 12,
    "stuck": 8,
}


def small_clip(seed=4, **more):
    return draw_clip(
        ClipSpec(**(SMALL | {"swimmers": 6, "speed_um_s": (25, 60), "turning": 0.3} | more)), seed
    )


@pytest.fixture(scope="session")
def swimming():
    return small_clip()


@pytest.fixture
def draw():
    return small_clip
