"""Samples of a group and pools: what they find, how many are needed, what they never say."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.errors import BadInput
from fecallab.domain.pooling import pool_answer, pools_needed, sensitivity_in_pool
from fecallab.domain.sampling import (
    EXACT_UP_TO,
    chance_detected,
    expected_found,
    group_size,
    large_group_size,
    sizes_by_infected,
)
from fecallab.domain.screening import chance_free, chance_positives, group_sensitivity_needed
from fecallab.domain.screening import highest_chance_free as plateau

shares = st.floats(0, 1).map(lambda value: round(value, 4))


@st.composite
def groups(draw: st.DrawFn, most: int = 400) -> tuple[int, int, int, float]:
    animals = draw(st.integers(1, most))
    return animals, draw(st.integers(0, animals)), draw(st.integers(0, animals)), draw(shares)


@given(groups())
@settings(max_examples=200, deadline=None)
def test_a_larger_sample_never_lowers_the_chance_to_detect(one: tuple[int, int, int, float]) -> None:
    animals, tested, infected, sensitivity = one
    less = chance_detected(animals, max(0, tested - 1), infected, sensitivity)
    assert chance_detected(animals, tested, infected, sensitivity) >= less - 1e-12


@given(groups())
@settings(max_examples=200, deadline=None)
def test_more_infected_or_better_exams_never_lower_it(one: tuple[int, int, int, float]) -> None:
    animals, tested, infected, sensitivity = one
    found = chance_detected(animals, tested, infected, sensitivity)
    assert 0 <= found <= 1
    assert chance_detected(animals, tested, max(0, infected - 1), sensitivity) <= found + 1e-12
    assert chance_detected(animals, tested, infected, sensitivity / 2) <= found + 1e-12


@given(groups(most=EXACT_UP_TO))
@settings(max_examples=100, deadline=None)
def test_whole_fractions_and_floating_point_agree(one: tuple[int, int, int, float]) -> None:
    from fecallab.domain import sampling

    animals, tested, infected, sensitivity = one
    exact = float(sampling._missed_exactly(animals, tested, infected, sensitivity))
    assert sampling._missed(animals, tested, infected, sensitivity) == pytest.approx(
        exact, abs=1e-13, rel=1e-10
    )


@given(groups(most=150), st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99]))
@settings(max_examples=100, deadline=None)
def test_the_sample_size_is_the_least_that_reaches_the_goal(
    one: tuple[int, int, int, float], wanted: float
) -> None:
    animals, _, infected, sensitivity = one
    infected = max(1, infected)
    found = group_size(animals, infected, wanted, sensitivity)
    if found.sample_size is None:
        assert chance_detected(animals, animals, infected, sensitivity) < wanted
        assert found.exams_each is None or found.exams_each > 1
    else:
        assert chance_detected(animals, found.sample_size, infected, sensitivity) >= wanted - 1e-12
        assert chance_detected(animals, found.sample_size - 1, infected, sensitivity) < wanted


def test_out_of_reach_says_repeat_exams_and_how_many() -> None:
    one = group_size(1, 1, 0.95, 0.75)
    assert one.sample_size is None
    assert one.if_all_examined == one.probability_detected == 0.75
    assert one.exams_each == 3  # 1 - 0.25^3 = 0.984, 1 - 0.25^2 = 0.9375
    assert one.exams_each_cautious is not None
    assert one.exams_each_cautious > 3
    assert "repeat exams" in one.reason.lower()
    assert group_size(60, 5, 0.95, 0.0).exams_each is None


def test_what_is_expected_is_what_chance_gives_on_average() -> None:
    assert expected_found(60, 60, 3, 0.5) == 1.5
    assert expected_found(60, 0, 3) == 0


@given(st.integers(1, 30), st.integers(1, 10), st.floats(0.01, 0.99))
@settings(max_examples=100, deadline=None)
def test_a_pool_never_finds_more_than_the_same_animals_one_by_one(
    size: int, number: int, sensitivity: float
) -> None:
    found = pool_answer(size * number, size, number, 1, sensitivity)
    assert found.probability_detected <= found.probability_detected_alone + 1e-12
    assert sensitivity_in_pool(sensitivity, size, size) == pytest.approx(sensitivity)
    assert "never confirms one animal" in found.note


def test_a_counted_pool_of_five_sees_each_animal_with_five_times_the_factor() -> None:
    found = pool_answer(60, 5, 12, 3, 0.75, factor=50)
    assert found.factor_per_animal == 250  # the published remark on a factor of 50
    assert found.upper95_animal_per_g == pytest.approx(5 * 149.8, abs=0.1)


@given(st.integers(1, 40), st.integers(1, 40), shares, shares)
@settings(max_examples=60, deadline=None)
def test_without_false_alarms_both_sums_agree(
    group: int, tested: int, sensitivity: float, part: float
) -> None:
    tested, infected = min(tested, group), int(part * group)
    found = chance_positives(group, tested, infected, sensitivity=sensitivity)
    assert found == pytest.approx(chance_detected(group, tested, infected, sensitivity), abs=1e-9)


@pytest.mark.parametrize(
    ("call", "code"),
    [
        (lambda: chance_detected(60, 61, 1), "more-examined-than-animals"),
        (lambda: chance_detected(60, 6, 61), "more-infected-than-animals"),
        (lambda: chance_detected(0, 0, 0), "group-empty"),
        (lambda: chance_detected(60, 6, 1, 1.5), "not-a-fraction"),
        (lambda: group_size(60, 0, 0.95), "none-infected"),
        (lambda: group_size(60, 1, 1.0), "not-a-confidence"),
        (lambda: large_group_size(0.0, 0.95), "none-infected"),
        (lambda: pool_answer(60, 7, 9, 1, 0.5), "more-examined-than-animals"),
        (lambda: sensitivity_in_pool(0.5, 0, 0), "pool-empty"),
        (lambda: pools_needed(0.0, 5, 0.95), "none-infected"),
        (lambda: plateau(0.01, 0.01), "rounds-do-not-help"),
        (lambda: group_sensitivity_needed(0.0, 0.5), "contradiction"),
        (lambda: chance_positives(10, 11, 1), "more-examined-than-animals"),
    ],
)
def test_numbers_that_do_not_fit_together_are_sent_back(call: object, code: str) -> None:
    with pytest.raises(BadInput) as caught:
        call()  # type: ignore[operator]
    assert caught.value.reason.code == code
    assert caught.value.reason.next


def test_the_table_for_other_numbers_falls() -> None:
    sizes = [size for size in sizes_by_infected(60, 0.95).values() if size is not None]
    assert len(sizes) == 8
    assert sizes == sorted(sizes, reverse=True)


def test_clean_rounds_raise_the_chance_of_being_free_and_newcomers_lower_it() -> None:
    assert chance_free(0.5, 0.6) > chance_free(0.5, 0.6, brought_in=0.05) > 0.5
