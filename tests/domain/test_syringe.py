"""Marks, tolerance and choice of a syringe."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.syringe import draw_error_share, round_to_mark, smallest_holding, with_size
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
    assert {item.standard for item in syringes() if item.mixes} == {"ISO 7886-1"}


def test_an_oral_syringe_takes_no_needle_and_is_taken_to_be_as_exact_as_a_plain_one() -> None:
    """The tolerance of oral syringes is common practice without a source, and says so."""
    oral = [item for item in syringes() if item.oral]
    assert {Decimal(text) for text in ("1", "2.5", "3", "5", "10")} <= {item.nominal_ml for item in oral}
    for item in oral:
        plain = with_size(item.nominal_ml, [other for other in syringes() if not other.oral])
        assert plain is not None
        assert item.tolerance_ml(item.nominal_ml) == plain.tolerance_ml(item.nominal_ml)
        assert (item.units_per_ml, item.mixes) == (None, False)
        assert (item.standard, item.tolerance_source_kind) == ("as ISO 7886-1", "common practice")


def test_a_size_that_both_kinds_have_is_chosen_by_where_it_goes() -> None:
    by_mouth, otherwise = with_size(Decimal(1), syringes(), oral=True), with_size(Decimal(1), syringes())
    assert by_mouth is not None and otherwise is not None
    assert (by_mouth.oral, otherwise.oral) == (True, False)
    small = smallest_holding(Decimal("0.2"), syringes(), oral=True)
    assert small is not None
    assert small.key == "oral-one"


@settings(deadline=None)
@given(volume=st.decimals("0.05", "1", places=3))
def test_one_draw_is_off_by_its_tolerance_and_half_a_mark_and_never_by_their_sum(volume: Decimal) -> None:
    syringe = with_size(Decimal(1), syringes())
    assert syringe is not None
    share = draw_error_share(volume, syringe, syringe.graduation_ml) * volume
    tolerance, reading = syringe.tolerance_ml(volume), syringe.graduation_ml / 2
    assert max(tolerance, reading) < share < tolerance + reading


def test_no_syringe_is_more_exact_than_its_share_of_the_volume() -> None:
    syringe = syringes()[0]
    with pytest.raises(ValueError, match="never more exact"):
        syringe.smallest_ml(syringe.tolerance_of_volume_below_half)
