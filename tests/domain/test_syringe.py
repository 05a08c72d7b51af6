"""Marks, tolerance and choice of a syringe."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.syringe import round_to_mark, smallest_holding, with_size
from fecallab.reference.drugs import syringes

VOLUMES = st.decimals("0.001", "60", places=5)
MARKS = st.sampled_from([Decimal("0.005"), Decimal("0.01"), Decimal("0.1"), Decimal("0.2"), Decimal(1)])


@settings(deadline=None)
@given(volume=VOLUMES, mark=MARKS)
def test_rounding_to_the_nearest_mark_misses_by_half_a_mark_at_most(volume: Decimal, mark: Decimal) -> None:
    drawn = round_to_mark(volume, mark)
    assert drawn % mark == 0
    assert abs(drawn - volume) <= mark / 2


@settings(deadline=None)
@given(volume=VOLUMES, mark=MARKS)
def test_rounding_down_never_gives_more(volume: Decimal, mark: Decimal) -> None:
    drawn = round_to_mark(volume, mark, down=True)
    assert drawn % mark == 0
    assert volume - mark < drawn <= volume


@pytest.mark.parametrize(
    ("volume", "nominal", "mark"),
    [
        ("0.21", "0.3", "0.01"),
        ("0.3", "0.3", "0.01"),
        ("0.425", "0.5", "0.01"),
        ("0.6", "1", "0.01"),
        ("1.2", "2", "0.1"),
        ("2.67", "3", "0.1"),
        ("4", "5", "0.2"),
        ("9", "10", "0.2"),
    ],
)
def test_proposes_the_smallest_syringe_that_holds_the_dose_in_one_draw(
    volume: str, nominal: str, mark: str
) -> None:
    syringe = smallest_holding(Decimal(volume), syringes())
    assert syringe is not None
    assert (syringe.nominal_ml, syringe.graduation_ml) == (Decimal(nominal), Decimal(mark))


def test_no_syringe_holds_more_than_the_largest_and_none_is_made_up() -> None:
    assert smallest_holding(Decimal(61), syringes()) is None
    assert with_size(Decimal("0.7"), syringes()) is None


def test_a_size_gives_its_usual_marks_before_the_finer_ones() -> None:
    syringe = with_size(Decimal("0.3"), syringes())
    assert syringe is not None
    assert syringe.graduation_ml == Decimal("0.01")


def test_insulin_syringes_follow_their_own_standard() -> None:
    assert {item.standard for item in syringes() if item.units_per_ml} == {"ISO 8537"}
    assert {item.standard for item in syringes() if not item.units_per_ml} == {"ISO 7886-1"}


def test_no_syringe_is_more_exact_than_its_share_of_the_volume() -> None:
    syringe = syringes()[0]
    with pytest.raises(ValueError, match="never more exact"):
        syringe.smallest_ml(syringe.tolerance_of_volume_below_half)
