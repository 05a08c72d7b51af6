"""The chances beside the rule: by formula, in numbers, for animals and for tubs."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.quarantine_chances import GroupChance, chance_any, group_chance
from fecallab.domain.quarantine_run import MemberRun


def member(code: str, negatives: int, number: int = 1, held: int = 1) -> MemberRun:
    first = date(2026, 3, 2)
    counted = tuple((first + timedelta(days=14 * place), f"S{place}") for place in range(negatives))
    return MemberRun(
        code, code, number, None, None, negatives, 3, 0, 0, counted, None, None, None, (), held=held
    )


def chance(*members: MemberRun, prior: float = 0.3, sensitivity: float = 0.5) -> GroupChance:
    return group_chance(
        "coccidian",
        members,
        prior=prior,
        prior_says="read",
        sensitivity=sensitivity,
        sensitivity_says="fit to human data",
    )


def test_three_negatives_of_each_in_numbers() -> None:
    """Prior 0.30, sensitivity 0.50, three negatives: 0.0508 per animal (the published table, derived)."""
    found = chance(*(member(f"A{n}", 3) for n in range(60)))
    assert found.expected_before == pytest.approx(18)
    assert found.expected_left == pytest.approx(60 * 0.0508, abs=0.01)
    assert found.any_left == pytest.approx(1 - (1 - 0.05085) ** 60, abs=1e-3)
    assert found.expected_left_cautious > 2 * found.expected_left
    assert found.negatives_for_goal == 4
    assert "out of reach" not in found.lowers
    assert found.correlation_says.startswith("The correlation 0.576 is a fit to repeat stools of people")


def test_without_exams_nothing_has_changed() -> None:
    found = chance(member("A1", 0), member("A2", 0))
    assert found.expected_left == found.expected_before == 0.6
    assert found.any_left == pytest.approx(found.any_before)


def test_a_tub_whose_exams_see_one_of_ten_says_little() -> None:
    tub = chance(member("A1", 3, number=10, held=1))
    one = chance(member("A1", 3))
    assert tub.members[0].sensitivity == pytest.approx(0.05)
    assert tub.members[0].independent == pytest.approx(0.3 * 0.95**3 / (0.3 * 0.95**3 + 0.7))
    assert tub.members[0].independent > one.members[0].independent
    whole = chance(member("A1", 3, number=10, held=10))
    assert whole.members[0].sensitivity == pytest.approx(1 - 0.5**0.1)
    assert "by itself" in tub.lowers


@given(st.lists(st.tuples(st.floats(0, 1), st.integers(0, 60)), max_size=8))
@settings(max_examples=100, deadline=None)
def test_the_chance_of_any_is_a_chance_and_at_least_that_of_the_likeliest(
    rows: list[tuple[float, int]],
) -> None:
    found = chance_any(rows)
    assert 0 <= found <= 1
    assert found >= max((chance for chance, number in rows if number), default=0.0) - 1e-12
    assert found <= sum(chance * number for chance, number in rows) + 1e-9


@given(st.integers(0, 8), st.floats(0.01, 0.9), st.floats(0.05, 0.95))
@settings(max_examples=100, deadline=None)
def test_one_more_negative_never_raises_it_and_cautious_is_never_lower(
    k: int, prior: float, sensitivity: float
) -> None:
    less = chance(member("A1", k), prior=prior, sensitivity=sensitivity)
    more = chance(member("A1", k + 1), prior=prior, sensitivity=sensitivity)
    assert more.expected_left <= less.expected_left
    assert more.expected_left_cautious <= less.expected_left_cautious
    assert more.expected_left <= more.expected_left_cautious
