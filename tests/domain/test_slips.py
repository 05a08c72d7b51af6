"""Slips of the decimal point and of units are named by their factor."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.slips import GRAMS_PER_OUNCE, POUNDS_PER_KG, find_slips

CLOSE = Decimal("0.02")


@pytest.mark.parametrize(
    ("typed", "low", "high", "factor", "too_large"),
    [
        ("200", "20", "50", Decimal(10), True),
        ("2", "20", "50", Decimal(10), False),
        ("2000", "20", "20", Decimal(100), True),
        ("200", "0.2", "0.4", Decimal(1000), True),
        ("0.05", "50", "50", Decimal(1000), False),
        ("44", "20", "20", POUNDS_PER_KG, True),
        ("567", "20", "20", GRAMS_PER_OUNCE, True),
    ],
)
def test_names_the_factor_that_explains_a_figure(
    typed: str, low: str, high: str, factor: Decimal, too_large: bool
) -> None:
    slips = find_slips(Decimal(typed), Decimal(low), Decimal(high), CLOSE)
    assert (factor, too_large) in [(slip.factor, slip.too_large) for slip in slips]
    assert all("would fit" in slip.words for slip in slips)


def test_names_nothing_inside_the_range_or_without_an_explanation() -> None:
    assert find_slips(Decimal(30), Decimal(20), Decimal(50), CLOSE) == ()
    assert find_slips(Decimal(80), Decimal(20), Decimal(20), CLOSE) == ()


def test_unit_factors_are_the_exact_definitions() -> None:
    assert pytest.approx(Decimal("0.45359237"), abs=Decimal("1e-20")) == 1 / POUNDS_PER_KG
    assert Decimal("28.349523125") == GRAMS_PER_OUNCE


def test_moved_points_are_told_from_mixed_units() -> None:
    slips = find_slips(Decimal(450000), Decimal(1), Decimal(120000), CLOSE)
    of_units = [slip.factor for slip in slips if slip.of_units]
    assert Decimal(1000) in of_units
    assert Decimal(10) not in of_units


@settings(deadline=None)
@given(
    low=st.decimals("0.01", "100", places=2),
    width=st.decimals("1", "4", places=2),
    factor=st.sampled_from([Decimal(10), Decimal(100), Decimal(1000)]),
)
def test_a_slip_of_a_dose_in_the_range_is_always_found_when_it_leaves_the_range(
    low: Decimal, width: Decimal, factor: Decimal
) -> None:
    high = low * width
    slips = find_slips(high * factor, low, high, CLOSE)
    assert any(slip.factor == factor and slip.too_large for slip in slips)
    assert all(low * (1 - CLOSE) <= slip.corrected <= high * (1 + CLOSE) for slip in slips)
