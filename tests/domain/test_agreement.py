import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.agreement import agreement, count_agreement
from fecallab.domain.errors import BadInput

cell = st.integers(0, 200)
tables = (
    st.integers(2, 5)
    .flatmap(
        lambda size: st.lists(st.lists(cell, min_size=size, max_size=size), min_size=size, max_size=size)
    )
    .filter(lambda table: sum(map(sum, table)) > 0)
)


def test_two_readers_of_positive_and_negative_exams():
    found = agreement([[40, 9], [6, 45]])
    assert found.n == 100
    assert found.agreement == pytest.approx(0.85)
    assert found.positive_agreement == pytest.approx(80 / 95)
    assert found.negative_agreement == pytest.approx(90 / 105)
    assert found.ci95[0] < found.kappa < found.ci95[1]


def test_mostly_negative_exams_mislead_kappa_but_not_ac1():
    """Two readers alike in 94 of 100, each with three positives of their own (own numbers)."""
    found = agreement([[0, 3], [3, 94]])
    assert found.agreement == pytest.approx(0.94)
    assert found.kappa < 0
    assert found.ac1 > 0.9
    assert found.positive_agreement == 0


def test_more_than_two_names_have_no_positive_agreement():
    found = agreement([[13, 0, 0], [0, 20, 7], [0, 4, 56]])
    assert found.positive_agreement is None
    assert found.negative_agreement is None


def test_one_name_throughout_leaves_kappa_open():
    found = agreement([[0, 0], [0, 30]])
    assert (found.kappa, found.kappa_se, found.ci95) == (None, None, None)
    assert found.agreement == 1
    assert found.ac1 == 1
    assert found.positive_agreement is None
    assert found.scott_pi is None


def test_each_reader_with_one_name_of_their_own_agrees_on_nothing():
    found = agreement([[0, 30], [0, 0]])
    assert found.kappa == 0
    assert found.ci95 is None
    assert found.agreement == 0


@pytest.mark.parametrize(
    "table",
    [
        [],
        [[5]],
        [[1, 2], [3]],
        [[1, 2, 3], [4, 5, 6]],
        [[0, 0], [0, 0]],
        [[1, -2], [3, 4]],
        [[1, 2.5], [3, 4]],
        [[1, math.nan], [3, 4]],
        [[1, "2"], [3, 4]],
    ],
    ids=repr,
)
def test_what_is_no_table_of_counts_is_refused(table):
    with pytest.raises(BadInput) as told:
        agreement(table)
    assert told.value.reason.next


def test_counts_that_differ_by_a_fixed_number_agree_in_step_but_not_in_size():
    found = count_agreement([1, 5, 9], [3, 7, 11])
    assert found.mean_difference == -2
    assert found.limits == (-2, -2)
    assert found.correlation == pytest.approx(1)
    assert found.concordance < 1


def test_counts_without_spread_have_no_coefficient():
    found = count_agreement([2, 2, 2], [2, 2, 2])
    assert (found.concordance, found.correlation) == (None, None)
    with pytest.raises(BadInput):
        count_agreement([1, 2], [1, 2])
    with pytest.raises(BadInput):
        count_agreement([1, 2, 3], [1, 2])
    with pytest.raises(BadInput):
        count_agreement([1, 2, math.nan], [1, 2, 3])


@given(tables)
def test_coefficients_never_pass_one(table):
    found = agreement(table)
    assert 0 <= found.agreement <= 1
    assert found.ac1 <= 1 + 1e-12
    if found.kappa is not None:
        assert found.kappa <= found.agreement + 1e-12
    if found.ci95 is not None:
        assert -1 <= found.ci95[0] <= found.kappa + 1e-9
        assert found.kappa - 1e-9 <= found.ci95[1] <= 1


@given(tables)
def test_exchanging_the_readers_changes_nothing(table):
    one, turned = agreement(table), agreement([list(column) for column in zip(*table, strict=True)])
    assert turned.agreement == one.agreement
    assert turned.ac1 == pytest.approx(one.ac1)
    assert (turned.kappa is None) == (one.kappa is None)
    if one.kappa is not None:
        assert turned.kappa == pytest.approx(one.kappa, abs=1e-9)


@given(tables, st.integers(2, 6))
def test_more_of_the_same_narrows_the_interval(table, times):
    one, more = agreement(table), agreement([[cell * times for cell in row] for row in table])
    if one.kappa_se:
        assert more.kappa == pytest.approx(one.kappa, abs=1e-9)
        assert more.kappa_se == pytest.approx(one.kappa_se / math.sqrt(times), rel=1e-6, abs=1e-9)


def test_agreement_on_one_name_counts_both_readers():
    """2a / (2a + b + c) with a = 1 and b + c = 2 (own arithmetic)."""
    assert agreement([[1, 1], [1, 5]]).positive_agreement == pytest.approx(0.5)
    assert agreement([[1, 1], [1, 5]]).negative_agreement == pytest.approx(10 / 12)
