import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain import field
from fecallab.domain.errors import BadInput


@pytest.mark.parametrize(
    ("number", "objective", "diameter", "area", "on_22x22", "on_18x18"),
    [
        (18, 4, 4.500, 15.904, 30.4, 20.4),
        (18, 10, 1.800, 2.545, 190.2, 127.3),
        (18, 40, 0.450, 0.1590, 3043, 2037),
        (18, 100, 0.180, 0.02545, 19020, 12732),
        (20, 10, 2.000, 3.142, 154.1, 103.1),
        (20, 40, 0.500, 0.1963, 2465, 1650),
        (22, 10, 2.200, 3.801, 127.3, 85.2),
        (22, 40, 0.550, 0.2376, 2037, 1364),
    ],
)
def test_field_size_and_fields_on_a_cover_glass(number, objective, diameter, area, on_22x22, on_18x18):
    """Formula read, numbers computed: field number / objective, pi/4 d^2, glass / field."""
    found = field.field_diameter_mm(number, objective)
    assert found == pytest.approx(diameter)
    assert field.field_area_mm2(found) == pytest.approx(area, rel=3e-4)
    assert 1 / field.covered_share(found) == pytest.approx(on_22x22, rel=2e-3)
    assert 1 / field.covered_share(found, cover_glass="18x18") == pytest.approx(on_18x18, rel=3e-3)


@pytest.mark.parametrize(
    ("number", "exact", "fields"), [(18, 1014.4, 1015), (20, 821.7, 822), (22, 679.05, 680)]
)
def test_a_third_of_the_glass_at_40x(number, exact, fields):
    """Rounded up: the last part of a third needs one more field (the rounded numbers are 1014, 822, 679)."""
    diameter = field.field_diameter_mm(number, 40)
    assert 1 / 3 / field.covered_share(diameter) == pytest.approx(exact, abs=0.05)
    assert field.fields_to_cover(1 / 3, diameter) == fields
    assert field.covered_share(diameter, fields=fields) >= 1 / 3
    assert field.covered_share(diameter, fields=fields - 1) < 1 / 3


def test_ten_fields_at_40x_are_a_third_of_a_percent():
    assert field.covered_share(0.45, fields=10) == pytest.approx(0.0033, abs=5e-5)
    assert field.covered_share(0.55, fields=10) == pytest.approx(0.0049, abs=5e-5)


def test_cover_glasses_from_their_sides():
    assert {name: field.cover_glass_area_mm2(name) for name in field.COVER_GLASS_SIDES_MM} == {
        "18x18": 324,
        "20x20": 400,
        "22x22": 484,
        "22x50": 1100,
    }
    with pytest.raises(BadInput, match="24x24"):
        field.cover_glass_area_mm2("24x24")


def test_a_field_wider_than_the_glass_is_cut_at_its_edges():
    assert field.covered_share(22) == pytest.approx(math.pi / 4)
    assert field.covered_share(40) == 1
    # computed by counting points of a 1000 x 1000 grid that lie in the circle
    assert field.covered_share(25) == pytest.approx(_share_by_grid(25, 22, 22), abs=1e-3)
    assert field.covered_share(30, cover_glass="22x50") == pytest.approx(_share_by_grid(30, 22, 50), abs=1e-3)
    assert field.covered_share(52, cover_glass="22x50") == pytest.approx(_share_by_grid(52, 22, 50), abs=1e-3)


def _share_by_grid(diameter, wide, long):
    import numpy as np

    x = (np.arange(1000) + 0.5) / 1000 - 0.5
    inside = (x[:, None] * wide) ** 2 + (x[None, :] * long) ** 2 <= (diameter / 2) ** 2
    return float(inside.mean())


def test_a_camera_sees_less():
    """Example computed: 6.4 x 4.8 mm sensor, 40x, adapter 0.5x."""
    width, height = field.camera_field_mm(6.4, 4.8, 40, adapter_factor=0.5)
    assert (width, height) == pytest.approx((0.320, 0.240))
    assert width * height / field.field_area_mm2(0.45) == pytest.approx(0.48, abs=0.005)


def test_ten_per_wide_field_are_six_point_seven_per_narrow_field():
    per_square = field.per_mm2(10, field.field_area_mm2(2.2))
    assert field.per_field(per_square, field.field_area_mm2(1.8)) == pytest.approx(6.69, abs=0.005)


def test_a_gram_from_fields_is_an_order_of_magnitude():
    found = field.per_gram_from_fields(0.4, field.field_area_mm2(1.8), 0.002)
    assert found.per_g == pytest.approx(38_040, rel=1e-3)
    assert str(found) == "order of magnitude only: between 10,000 and 100,000 per gram"
    assert str(field.per_gram_from_fields(0, 2.545, 0.002)) == "none seen"


@pytest.mark.parametrize(
    ("number", "objective"),
    [(0, 40), (-18, 40), (math.nan, 40), (18, 0), (18, math.inf), (180, 40), (18, 4000), (18, "40")],
)
def test_numbers_no_microscope_has_are_refused(number, objective):
    with pytest.raises(BadInput) as told:
        field.field_diameter_mm(number, objective)
    assert told.value.reason.next


@given(st.floats(0, 1), st.floats(0.05, 20), st.sampled_from(sorted(field.COVER_GLASS_SIDES_MM)))
def test_the_fields_named_do_cover_the_share(share, diameter, glass):
    fields = field.fields_to_cover(share, diameter, cover_glass=glass)
    if fields <= 10_000_000:
        assert field.covered_share(diameter, fields=fields, cover_glass=glass) >= share * (1 - 1e-9)


@given(st.floats(0, 1e4), st.floats(0.01, 20))
def test_per_field_and_per_area_go_back_and_forth(per_field, diameter):
    if 0 < per_field < 1e-6:
        per_field = 0.0
    area = field.field_area_mm2(diameter)
    assert field.per_field(field.per_mm2(per_field, area), area) == pytest.approx(per_field)


@given(st.floats(0.1, 60), st.floats(0.1, 60))
def test_a_wider_field_never_shows_less(one, other):
    narrow, wide = sorted((one, other))
    assert field.covered_share(narrow) <= field.covered_share(wide) + 1e-12
