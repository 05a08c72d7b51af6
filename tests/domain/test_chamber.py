import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain import chamber
from fecallab.domain.errors import BadInput

recipes = st.tuples(st.floats(0.05, 10), st.floats(20, 100), st.floats(0.05, 2))


def test_a_count_becomes_eggs_per_gram_with_its_interval():
    found = chamber.chamber_count(27, 4, 60, 0.3)
    assert found.factor == pytest.approx(50)
    assert found.epg == pytest.approx(1350)
    assert found.ci95 == pytest.approx((889.7, 1964.2), abs=0.1)
    assert found.one_egg_epg == pytest.approx(50)
    assert found.reliable_epg == pytest.approx(149.79, abs=0.01)
    assert found.examined_g == pytest.approx(0.02)
    assert found.upper95_if_zero is None


def test_none_counted_is_under_a_limit_not_none():
    found = chamber.chamber_count(0, 4, 60, 0.3)
    assert found.epg == 0
    assert found.ci95 == pytest.approx((0, 184.444), abs=0.001)
    assert found.upper95_if_zero == pytest.approx(149.79, abs=0.01)


def test_the_factor_is_never_rounded():
    assert chamber.factor(2, 60, 0.9) == pytest.approx(100 / 3, rel=1e-12)


@pytest.mark.parametrize(
    ("amounts", "code"),
    [
        ((4, 60, 61), "read-more-than-made"),
        ((4, 3, 0.3), "suspension-too-small"),
        ((0, 60, 0.3), "number-out-of-range"),
        ((-4, 60, 0.3), "number-out-of-range"),
        ((4, math.nan, 0.3), "number-out-of-range"),
        ((4, math.inf, 0.3), "number-out-of-range"),
        ((1e9, 1e10, 0.3), "number-out-of-range"),
        ((4, 60, "0.3"), "number-out-of-range"),
    ],
)
def test_a_recipe_that_cannot_be_is_refused(amounts, code):
    with pytest.raises(BadInput) as told:
        chamber.factor(*amounts)
    assert told.value.reason.code == code
    assert told.value.reason.next


@pytest.mark.parametrize("count", [-1, 1.5, math.nan, "3", True])
def test_a_count_of_eggs_is_whole(count):
    with pytest.raises(BadInput):
        chamber.chamber_count(count, 4, 60, 0.3)


@given(st.integers(0, 10_000), recipes)
def test_the_interval_holds_the_estimate(count, recipe):
    found = chamber.chamber_count(count, *recipe)
    assert found.ci95[0] <= found.epg <= found.ci95[1]


@given(st.integers(1, 1000), recipes, st.integers(2, 9))
def test_eggs_per_gram_grow_with_the_count_and_with_the_dilution(count, recipe, times):
    one = chamber.chamber_count(count, *recipe)
    assert chamber.chamber_count(count * times, *recipe).epg == pytest.approx(one.epg * times)
    grams, suspension, counted = recipe
    thinner = chamber.chamber_count(count, grams, suspension * times, counted)
    assert thinner.epg == pytest.approx(one.epg * times)
    assert thinner.ci95 == pytest.approx([limit * times for limit in one.ci95])


@given(st.integers(1, 500), recipes, st.integers(2, 5))
def test_reading_more_of_the_same_suspension_narrows_the_interval(count, recipe, times):
    grams, suspension, counted = recipe
    one = chamber.chamber_count(count, grams, suspension, counted)
    more = chamber.chamber_count(count * times, grams, suspension, counted * times)
    assert more.epg == pytest.approx(one.epg)
    assert more.ci95[0] > one.ci95[0]
    assert more.ci95[1] < one.ci95[1]


@given(st.floats(0.1, 1e6), st.floats(1, 1000), st.floats(0.05, 1000))
def test_clumped_eggs_are_missed_more_often(epg, factor, k):
    by_chance = chamber.chance_of_no_egg(epg, factor)
    assert chamber.chance_of_no_egg(epg, factor, k=k) >= by_chance * (1 - 1e-9)


@given(st.floats(1, 1000), st.one_of(st.none(), st.floats(0.5, 100)), st.floats(0.5, 0.99))
def test_the_level_found_with_a_chance_shows_nothing_with_the_rest(factor, k, chance):
    level = chamber.found_with(factor, chance=chance, k=k)
    assert chamber.chance_of_no_egg(level, factor, k=k) == pytest.approx(1 - chance, rel=1e-6)


def test_without_eggs_nothing_is_seen_for_sure():
    assert chamber.chance_of_no_egg(0, 50) == 1
    assert chamber.chance_of_no_egg(100, 50, k=math.inf) == pytest.approx(math.exp(-2))
