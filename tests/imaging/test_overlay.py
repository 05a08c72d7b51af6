"""Marks and scale bars: lengths, places, shapes, and that nobody depends on colour."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.organism import EYE_GROUPS
from fecallab.imaging.mark_style import MARK_STYLE, OKABE_ITO, SHAPES
from fecallab.imaging.overlay import (
    PictureMark,
    default_unit_px,
    draw_overlay,
    mark_geometry,
    mark_svg,
    overlay_svg,
    scale_bar,
    scale_bar_svg,
)


def mark(**changes: object) -> PictureMark:
    values: dict[str, object] = {
        "x_px": 200.0,
        "y_px": 150.0,
        "length_um": 100.0,
        "width_um": 40.0,
        "angle_deg": 30.0,
        "group": "oxyurid",
        "sure": True,
        "number": 7,
    }
    return PictureMark(**(values | changes))  # type: ignore[arg-type]


@given(
    um_per_px=st.floats(1e-3, 1e3),
    width=st.floats(10, 20000),
    share=st.floats(0.05, 0.5),
)
def test_scale_bar_is_the_longest_nice_length_that_fits(um_per_px: float, width: float, share: float) -> None:
    bar = scale_bar(um_per_px, width, share)
    lead = bar.length_um / 10 ** math.floor(math.log10(bar.length_um) + 1e-9)
    assert min(abs(lead - step) for step in (1, 2, 5)) < 1e-6
    assert bar.length_px == pytest.approx(bar.length_um / um_per_px)
    assert bar.length_px <= width * share * (1 + 1e-6)
    assert bar.length_px * 2.5 * (1 + 1e-6) >= width * share


@pytest.mark.parametrize(
    ("um_per_px", "width", "label"), [(0.65, 1024, "100 µm"), (0.1625, 1024, "20 µm"), (5.0, 1000, "1 mm")]
)
def test_scale_bar_says_its_unit(um_per_px: float, width: int, label: str) -> None:
    assert scale_bar(um_per_px, width).label == label


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_scale_bar_refuses_what_is_no_scale(bad: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        scale_bar(bad, 1000)


def test_every_group_has_a_shape_of_its_own_and_a_colour_of_the_palette() -> None:
    assert set(MARK_STYLE) == set(EYE_GROUPS)
    shapes = [style.shape for style in MARK_STYLE.values()]
    assert len(set(shapes)) == len(shapes) and set(shapes) <= set(SHAPES)
    assert {style.colour for style in MARK_STYLE.values()} <= set(OKABE_ITO.values())


def test_no_two_shapes_look_alike() -> None:
    """Filled shapes differ by at least a sixth of their area from every other one."""
    from PIL import Image, ImageDraw

    masks = {}
    for name, points in SHAPES.items():
        sheet = Image.new("1", (200, 200))
        ImageDraw.Draw(sheet).polygon([(100 + 95 * x, 100 + 95 * y) for x, y in points], fill=1)
        masks[name] = np.array(sheet)
    for name, mask in masks.items():
        for other, second in masks.items():
            if other > name:
                differing = (mask ^ second).sum() / max(mask.sum(), second.sum())
                assert differing > 1 / 6, (name, other, differing)


@given(angle=st.floats(0, 179.9), x=st.floats(0, 500), y=st.floats(0, 500))
def test_outline_surrounds_the_object_at_its_angle(angle: float, x: float, y: float) -> None:
    shape = mark_geometry(mark(angle_deg=angle, x_px=x, y_px=y), 0.5, 6.0)
    points = np.array(shape.outline) - [x, y]
    along = np.array([math.cos(math.radians(angle)), math.sin(math.radians(angle))])
    across = np.array([-along[1], along[0]])
    assert 200 <= np.ptp(points @ along) <= 200 * 1.15
    assert 80 <= np.ptp(points @ across) <= 80 * 1.15
    assert np.abs(points.mean(axis=0)).max() < 1e-6


def test_without_a_scale_or_a_size_a_ring_stands_at_the_place() -> None:
    for shape in (mark_geometry(mark(), None, 6.0), mark_geometry(mark(length_um=None), 0.5, 6.0)):
        radii = np.hypot(*(np.array(shape.outline) - [200, 150]).T)
        assert np.ptp(radii) < 1e-6


@given(x=st.floats(0, 399), y=st.floats(0, 299), angle=st.floats(0, 179), number=st.integers(1, 99))
def test_shape_and_number_stay_inside_the_picture(x: float, y: float, angle: float, number: int) -> None:
    small = mark(x_px=x, y_px=y, angle_deg=angle, number=number, length_um=30.0, width_um=20.0)
    shape = mark_geometry(small, 0.5, 6.0, (400, 300))
    badge = np.array(shape.badge)
    assert badge[:, 0].min() >= -1 and badge[:, 0].max() <= 400
    assert badge[:, 1].min() >= -1 and badge[:, 1].max() <= 300


def test_svg_is_well_formed_names_the_group_and_escapes() -> None:
    text = overlay_svg([mark(), mark(sure=False, group='<oxy & "urid">', number=8)], 0.5, 800, 600)
    root = ET.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg">{text}</svg>')
    titles = [node.text for node in root.iter("{http://www.w3.org/2000/svg}title")]
    assert titles == ["7: oxyurid, sure", '8: <oxy & "urid">, unsure']


def test_unsure_is_dashed_and_says_so_without_colour() -> None:
    sure, unsure = mark_svg(mark(), 0.5, 6.0), mark_svg(mark(sure=False), 0.5, 6.0)
    assert "stroke-dasharray" not in sure and ">7<" in sure
    assert "stroke-dasharray" in unsure and ">7?<" in unsure


def test_svg_scale_bar_has_the_length_of_the_scale() -> None:
    root = ET.fromstring(scale_bar_svg(0.65, 1024, 768))
    assert float(root.find("rect").get("width")) == pytest.approx(100 / 0.65, abs=0.01)  # type: ignore[union-attr,arg-type]
    assert "µm" in ET.tostring(root, encoding="unicode")


def test_without_a_scale_no_bar_is_drawn() -> None:
    assert "scale-bar" not in overlay_svg([mark()], None, 800, 600)
    plain = np.full((300, 400, 3), 200, np.uint8)
    assert np.array_equal(draw_overlay(plain, [], None), plain)


@pytest.mark.parametrize("group", sorted(MARK_STYLE))
@pytest.mark.parametrize("background", [20, 128, 235])
def test_marks_are_readable_in_grey_on_any_background(group: str, background: int) -> None:
    plain = np.full((400, 500), background, np.uint8)
    drawn = draw_overlay(plain, [mark(group=group, x_px=200.0, y_px=200.0)], 0.5)
    grey = drawn @ np.array([0.299, 0.587, 0.114])
    points = np.array(mark_geometry(mark(group=group, x_px=200.0, y_px=200.0), 0.5, 5.0).outline)
    for x, y in points.round().astype(int):
        around = grey[y - 3 : y + 4, x - 3 : x + 4]
        assert np.ptp(around) > 90


def test_drawing_changes_only_the_marks_surroundings_and_not_the_input() -> None:
    plain = np.full((600, 800, 3), 180, np.uint8)
    kept = plain.copy()
    drawn = draw_overlay(plain, [mark()], 0.5)
    assert np.array_equal(plain, kept)
    changed = np.argwhere((drawn != plain).any(axis=2))
    bar = changed[:, 0] > 500  # the scale bar, lower right
    assert bar.any() and (changed[bar, 1] > 500).all()
    assert (
        np.hypot(*(changed[~bar] - [150, 200]).T) < 100 / 0.5 * 0.5 * 1.2 + 12 * default_unit_px(800, 600)
    ).all()


def test_drawn_scale_bar_has_the_length_of_the_scale() -> None:
    drawn = draw_overlay(np.full((768, 1024), 128, np.uint8), [], 0.65)
    unit = default_unit_px(1024, 768)
    row = drawn[round(768 - 0.5 - 2.85 * unit), :, 0]
    assert (row < 40).sum() == pytest.approx(100 / 0.65, abs=2)


def test_sixteen_bit_and_grey_pictures_can_be_drawn_on() -> None:
    drawn = draw_overlay(np.full((300, 400), 30000, np.uint16), [mark()], None)
    assert drawn.shape == (300, 400, 3) and drawn.dtype == np.uint8
