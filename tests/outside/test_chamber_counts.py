"""Chamber counts against printed factors and worked examples; the kind of source stands in each test's id."""

import math

import pytest
from scipy import stats

from fecallab.domain import chamber


def close(row):
    return pytest.approx(row["expected"], abs=row["tolerance"], rel=1e-12)


@pytest.mark.check_rows("ch01")
def test_eggs_times_the_factor(row):
    found = chamber.chamber_count(sum(row["inputs"]["counts"]), 4, 60, 0.3)  # a method with that factor
    assert found.factor == pytest.approx(row["inputs"]["factor"])
    assert found.epg == close(row)


@pytest.mark.check_rows("ch02", "ch03", "ch04", "ch05", "ch08")
def test_factor_of_a_recipe(row):
    amounts = row["inputs"]
    assert chamber.factor(amounts["mass_g"], amounts["total_ml"], amounts["counted_ml"]) == close(row)


@pytest.mark.check_rows("ch07")
def test_mean_of_one_grid_times_the_factor_of_one_grid(row):
    amounts = row["inputs"]
    found = chamber.chamber_count(
        amounts["mean_per_grid"], amounts["mass_g"], amounts["total_ml"], amounts["counted_ml"]
    )
    assert found.epg == close(row)


@pytest.mark.check_rows("ch09a", "ch09c")
def test_printed_table_of_factors_by_volume_read(row):
    amounts = row["inputs"]
    found = [chamber.factor(amounts["mass_g"], amounts["total_ml"], ml) for ml in amounts["counted_ml"]]
    assert found == close(row)


@pytest.mark.check_rows("ch10")
def test_a_gram_counts_as_a_millilitre(row):
    amounts = row["inputs"]
    whole = chamber.suspension_from_diluent(amounts["mass_g"], amounts["water_ml"], amounts["float_ml"])
    assert chamber.factor(amounts["mass_g"], whole, amounts["counted_ml"]) == close(row)


@pytest.mark.check_rows("ch14")
def test_forgetting_the_faeces_own_volume_is_seven_percent_low(row):
    amounts = row["inputs"]
    naive = chamber.factor(amounts["mass_g"], amounts["diluent_ml"], amounts["counted_ml"])
    assert naive == close(row)
    whole = chamber.suspension_from_diluent(amounts["mass_g"], amounts["diluent_ml"])
    right = chamber.factor(amounts["mass_g"], whole, amounts["counted_ml"])
    assert naive / right == pytest.approx(28 / 30)


@pytest.mark.check_rows("ch15")
def test_one_egg_and_the_upper_limit_of_none(row):
    amounts = row["inputs"]
    found = chamber.chamber_count(0, amounts["mass_g"], amounts["total_ml"], amounts["counted_ml"])
    assert [found.one_egg_epg, found.ci95[1]] == close(row)


@pytest.mark.check_rows("ch16", "ch17")
def test_chance_that_no_egg_is_seen(row):
    k = row["inputs"].get("k")
    multiples = row["inputs"]["multiple"]
    assert [chamber.chance_of_no_egg(50 * times, 50, k=k) for times in multiples] == close(row)
    if k is None:
        second_opinion = [stats.poisson.pmf(0, times) for times in multiples]
    else:
        second_opinion = [stats.nbinom.pmf(0, k, k / (k + times)) for times in multiples]
    assert second_opinion == close(row)


def test_the_reliable_level_is_the_root_of_the_rule_of_three():
    found = chamber.chamber_count(1, 4, 60, 0.3)
    assert found.reliable_epg == pytest.approx(50 * -math.log(0.05))
    assert stats.poisson.sf(0, found.reliable_epg / found.factor) == pytest.approx(0.95)
