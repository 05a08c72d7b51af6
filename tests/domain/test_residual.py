import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain import residual
from fecallab.domain.errors import BadInput

share = st.floats(0, 1)
inner = st.floats(0.001, 0.999)


def test_both_chances_stand_side_by_side_with_the_source_of_the_correlation():
    found = residual.residual_chance(0.5, 0.5, 3)
    assert found.independent == pytest.approx(1 / 9)
    assert found.cautious == pytest.approx(0.25, abs=0.005)  # the fit's own figure, computed
    assert found.correlation == 0.576
    assert "people" in found.note
    assert "reptiles" in found.note


def test_eight_negatives_still_leave_nineteen_percent_by_the_human_fit():
    """Computed with the fit: prior 0.5, mean 0.5, correlation 0.576."""
    assert residual.residual_chance(0.5, 0.5, 8).cautious == pytest.approx(0.19, abs=0.005)


def test_a_given_correlation_is_named_as_given():
    assert residual.residual_chance(0.5, 0.5, 3, 0.2).note == "The correlation 0.2 was given."


def test_without_exams_the_prior_stands():
    found = residual.residual_chance(0.3, 0.75, 0)
    assert found.independent == pytest.approx(0.3)
    assert found.cautious == pytest.approx(0.3)


def test_exams_that_are_all_alike_count_once():
    once, often = (residual.residual_chance(0.3, 0.75, k, 1.0).cautious for k in (1, 50))
    assert once == pytest.approx(often)


def test_a_perfect_exam_leaves_nothing_and_a_blind_one_everything():
    assert residual.residual_chance(0.3, 1, 1).independent == 0
    assert residual.residual_chance(0.3, 0, 9).independent == pytest.approx(0.3)
    assert residual.residual_chance(1, 0.5, 3).independent == 1


@pytest.mark.parametrize(
    ("prior", "sensitivity", "negatives", "correlation"),
    [
        (75, 0.5, 3, 0.1),
        (-0.1, 0.5, 3, 0.1),
        (0.5, 1.5, 3, 0.1),
        (0.5, math.nan, 3, 0.1),
        (0.5, 0.5, -1, 0.1),
        (0.5, 0.5, 2.5, 0.1),
        (0.5, 0.5, 10**6, 0.1),
        (0.5, 0.5, 3, 1.1),
        ("0.5", 0.5, 3, 0.1),
        (1, 1, 1, 0.1),
    ],
)
def test_chances_above_one_and_other_nonsense_are_refused(prior, sensitivity, negatives, correlation):
    with pytest.raises(BadInput) as told:
        residual.residual_chance(prior, sensitivity, negatives, correlation)
    assert told.value.reason.next


def test_a_target_out_of_reach_is_none():
    assert residual.negatives_needed(0.5, 0.75, 0.05, correlation=1) is None
    assert residual.negatives_needed(0.5, 0, 0.05) is None
    assert residual.negatives_needed(1, 1, 0.05) is None


def test_a_share_found_below_a_third_is_no_first_of_three():
    with pytest.raises(BadInput, match="a third"):
        residual.sensitivity_from_first_of_three(0.3)
    assert residual.sensitivity_from_first_of_three(1) == pytest.approx(1)


@given(share, st.floats(0, 0.999), st.integers(0, 60), share)
def test_one_more_negative_never_raises_the_chance(prior, sensitivity, negatives, correlation):
    one = residual.residual_chance(prior, sensitivity, negatives, correlation)
    more = residual.residual_chance(prior, sensitivity, negatives + 1, correlation)
    assert more.independent <= one.independent
    assert more.cautious <= one.cautious


@given(share, st.floats(0, 0.999), st.integers(0, 60), share)
def test_cautious_is_never_below_independent_and_both_are_chances(prior, sensitivity, negatives, correlation):
    found = residual.residual_chance(prior, sensitivity, negatives, correlation)
    assert 0 <= found.independent <= found.cautious <= 1


@given(inner, inner, st.integers(0, 30), share, share)
def test_a_higher_prior_or_correlation_never_lowers_the_cautious_chance(prior, sensitivity, k, one, other):
    low, high = sorted((one, other))
    slack = 1e-12
    by_correlation = [residual.residual_chance(prior, sensitivity, k, rho).cautious for rho in (low, high)]
    assert by_correlation[0] <= by_correlation[1] + slack
    by_prior = [residual.residual_chance(p, sensitivity, k, 0.3).cautious for p in (low, high)]
    assert by_prior[0] <= by_prior[1] + slack


@given(inner, inner, st.integers(1, 30), share)
def test_negatives_never_raise_the_chance_above_the_prior(prior, sensitivity, negatives, correlation):
    found = residual.residual_chance(prior, sensitivity, negatives, correlation)
    assert found.cautious <= prior * (1 + 1e-12)


@given(inner, st.floats(0.05, 0.999), st.floats(0.001, 0.5), st.floats(0, 0.5))
def test_the_negatives_named_reach_the_target_and_one_less_does_not(prior, sensitivity, target, correlation):
    needed = residual.negatives_needed(prior, sensitivity, target, correlation=correlation)
    if needed is not None:
        missed = residual.chance_all_negative(sensitivity, needed, correlation=correlation)
        assert prior * missed / (prior * missed + 1 - prior) <= target * (1 + 1e-9)
        if needed:
            missed = residual.chance_all_negative(sensitivity, needed - 1, correlation=correlation)
            assert prior * missed / (prior * missed + 1 - prior) > target * (1 - 1e-9)


@given(share, share, st.integers(1, 40))
def test_days_apart_never_find_less_than_slides_of_one_day(shedding, sensitivity, exams):
    one_day = residual.found_on_one_day(shedding, sensitivity, exams)
    assert one_day <= residual.found_on_separate_days(shedding, sensitivity, exams) + 1e-12
    assert one_day <= shedding + 1e-12
