"""How well rulers and round fields are read over many drawn pictures; ``pytest tests/bench --benchmark-enable``.

The figures stand in ``extra_info`` and in the last lines; docs/performance.md quotes them.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from fecallab.domain.errors import BadInput
from fecallab.imaging.calibrate import by_ruler
from fecallab.imaging.draw import Camera, FieldSpec, Light, RoundView, draw_field
from fecallab.imaging.draw.rulers import RulerSpec, Shot, draw_ruler
from fecallab.imaging.field import find_lit_circle
from fecallab.imaging.grey import working_copy

RULERS, CIRCLES = 120, 60


def ruler_by_lot(rng: np.random.Generator) -> RulerSpec:
    """Line thickness, lengths, contrast, light, noise and text by lot; 8 to 60 px, 0 to 45°, blur to 3 px."""
    px = rng.uniform(8, 60)
    base = rng.uniform(0.8 * px + 20, 110)
    width, height = [(640, 480), (1024, 768), (1280, 960)][rng.integers(3)]
    shot = Shot(
        width_px=width,
        height_px=height,
        blur_px=rng.uniform(0, 3),
        contrast=rng.uniform(0.3, 0.9),
        uneven=rng.uniform(0, 0.5),
        noise=rng.uniform(0.5, 5),
        text=("10x", "0.01 mm") if rng.random() < 0.4 else (),
        inverted=bool(rng.random() < 0.2),
    )
    return RulerSpec(
        px_per_division=px,
        angle_deg=rng.uniform(0, 45),
        line_px=min(rng.uniform(1.5, 6), 0.4 * px),
        lengths_px=(base, 1.4 * base, 1.9 * base),
        longer_every=[(5, 10), (0, 10), (2, 10), (0, 0), (5, 0)][rng.integers(5)],
        thicker_tenth=float(rng.choice([1.0, 1.5])),
        one_sided=bool(rng.random() < 0.5),
        base_line=bool(rng.random() < 0.4),
        shot=shot,
    )


def test_scale_of_rulers_drawn_by_lot(benchmark: Any) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    rng = np.random.default_rng(2024)
    pictures = [
        (spec, draw_ruler(spec, seed)) for seed, spec in ((k, ruler_by_lot(rng)) for k in range(RULERS))
    ]
    errors: list[float] = []
    covered: list[bool] = []
    missed = 0

    def read_all() -> None:
        nonlocal missed
        for spec, pixels in pictures:
            truth = 10 / spec.px_per_division
            try:
                found = by_ruler(pixels, 10)
            except BadInput:
                missed += 1
                continue
            errors.append(100 * abs(found.um_per_px / truth - 1))
            covered.append(found.ci95[0] <= truth <= found.ci95[1])

    benchmark.pedantic(read_all, rounds=1, iterations=1)
    low, high, worst = np.median(errors), np.quantile(errors, 0.95), np.max(errors)
    benchmark.extra_info.update(
        median=low, p95=high, worst=worst, missed=missed, covered=float(np.mean(covered))
    )
    print(
        f"\n{RULERS} rulers: error median {low:.4f} %, 95th percentile {high:.4f} %, worst {worst:.4f} %;"
        f" not found {missed}; intervals cover {100 * np.mean(covered):.0f} %"
    )
    assert missed <= 2 and worst < 0.2


def test_diameter_of_round_fields_drawn_by_lot(benchmark: Any) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    rng = np.random.default_rng(77)
    pictures = []
    for seed in range(CIRCLES):
        radius = rng.uniform(110, 330)
        view = RoundView(
            x_px=320 + rng.uniform(-120, 120),
            y_px=240 + rng.uniform(-90, 90),
            radius_px=radius,
            edge_px=rng.uniform(1, 0.03 * radius),
            darkening=rng.uniform(0.05, 0.45),
        )
        spec = FieldSpec(
            width_px=640,
            height_px=480,
            view=view,
            crowding=rng.uniform(0, 0.3),
            light=Light(uneven=rng.uniform(0, 0.4)),
            camera=Camera(noise=rng.uniform(1, 6), blur_px=rng.uniform(0.3, 2)),
        )
        pictures.append((radius, draw_field(spec, seed)[0]))
    found: list[float | None] = []

    def read_all() -> None:
        for radius, pixels in pictures:
            circle = find_lit_circle(working_copy(pixels))
            found.append(None if circle is None else 100 * abs(circle.diameter_px / (2 * radius) - 1))

    benchmark.pedantic(read_all, rounds=1, iterations=1)
    errors = [one for one in found if one is not None]
    benchmark.extra_info.update(median=float(np.median(errors)), worst=max(errors), missed=found.count(None))
    print(
        f"\n{CIRCLES} round fields: error of the diameter median {np.median(errors):.3f} %, worst"
        f" {max(errors):.3f} %; not found {found.count(None)}"
    )
    assert found.count(None) == 0 and max(errors) < 1.0
