"""Chance of infection after negatives against published stool data and arithmetic; kinds in the ids."""

import pytest
from scipy import stats

from fecallab.domain import residual


def close(row):
    return pytest.approx(row["expected"], abs=row["tolerance"], rel=1e-12)


def found_of_three(sensitivity, correlation):
    """Share found by one and by two exams, of the hosts that three exams find."""
    shares = [residual.chance_found(sensitivity, exams, correlation=correlation) for exams in (1, 2, 3)]
    return [share / shares[2] for share in shares[:2]]


@pytest.mark.check_rows("st1")
def test_the_human_fit_gives_back_the_published_shares(row):
    published = [found / row["inputs"]["of"] for found in row["inputs"]["found"]]
    assert published == close(row)
    fitted = found_of_three(0.5, residual.HUMAN_CORRELATION)
    assert [*fitted, 1.0] == close(row)


@pytest.mark.check_rows("st3")
def test_independent_exams_predict_too_much(row, check_row):
    data = check_row(row["inputs"]["data"])["inputs"]
    first, second = (found / data["of"] for found in data["found"][:2])
    alone = residual.sensitivity_from_first_of_three(first)
    predicted = found_of_three(alone, 0.0)
    assert [alone, predicted[1]] == close(row)
    assert predicted[0] == pytest.approx(first)
    assert predicted[1] > second  # what refutes independence


@pytest.mark.check_rows("st5")
def test_correlated_exams_by_the_beta_binomial(row):
    mean, rho = row["inputs"]["mu"], row["inputs"]["rho"]
    assert found_of_three(mean, rho) == close(row)
    a, b = mean * (1 - rho) / rho, (1 - mean) * (1 - rho) / rho
    for exams in (1, 2, 3, 5, 20):
        second_opinion = stats.betabinom.pmf(0, exams, a, b)
        found = residual.chance_all_negative(mean, exams, correlation=rho)
        assert found == pytest.approx(second_opinion, rel=1e-9)
    noted = [residual.chance_found(mean, exams, correlation=rho) for exams in (3, 5)]
    assert noted == pytest.approx([0.659, 0.716], abs=5e-4)  # the row's note


@pytest.mark.check_rows("ps1")
def test_chance_left_after_independent_negatives(row):
    given = row["inputs"]
    found = [residual.residual_chance(given["prior"], given["se"], k).independent for k in given["k"]]
    assert found == close(row)


@pytest.mark.check_rows("ps2")
def test_least_negatives_for_a_target(row):
    given = row["inputs"]
    found = [residual.negatives_needed(given["prior"], se, given["target"]) for se in given["se"]]
    assert found == row["expected"]


@pytest.mark.check_rows("ps4")
def test_shedding_in_bouts_on_days_far_apart(row):
    given = row["inputs"]
    found = [residual.found_on_separate_days(given["shed"], given["se_when_shedding"], k) for k in given["k"]]
    assert found == close(row)


@pytest.mark.check_rows("ps5")
def test_slides_of_one_day_cannot_pass_the_shedding_share(row):
    given = row["inputs"]
    assert residual.found_on_one_day(given["shed"], given["se_when_shedding"], 3) == close(row)
    assert residual.found_on_one_day(given["shed"], given["se_when_shedding"], 50) <= given["shed"]


@pytest.mark.check_rows("se_par")
def test_tests_side_by_side_and_one_after_the_other(row):
    values = row["inputs"]["values"]
    assert [residual.found_by_any(values), residual.found_by_all(values)] == close(row)


@pytest.mark.check_rows("se_exact")
def test_testing_every_infected_animal_once(row):
    assert [residual.found_by_any([0.8] * infected) for infected in row["inputs"]["d"]] == close(row)


@pytest.mark.parametrize(
    ("sensitivity", "chances"),
    [
        (0.50, [0.3000, 0.1765, 0.0968, 0.0508, 0.0261, 0.0132]),
        (0.59, [0.3000, 0.1495, 0.0672, 0.0287, 0.0120, 0.0049]),
        (0.72, [0.3000, 0.1071, 0.0325, 0.0093, 0.0026, 0.0007]),
        (0.759, [0.3000, 0.0936, 0.0243, 0.0060, 0.0014, 0.0003]),
    ],
    ids=lambda value: f"{value}-derived" if isinstance(value, float) else "",
)
def test_chances_after_up_to_five_negatives_at_prior_030(sensitivity, chances):
    found = [residual.residual_chance(0.30, sensitivity, k).independent for k in range(6)]
    assert found == pytest.approx(chances, abs=5e-5)


@pytest.mark.parametrize(
    ("prevalence", "npv"), [(0.05, 0.98), (0.10, 0.97), (0.15, 0.95), (0.20, 0.93)], ids=lambda v: f"{v}-read"
)
def test_published_negative_predictive_values(prevalence, npv):
    """Branda 2006 (read): first stool finds 0.72; negative predictive values as printed, whole percents."""
    found = 1 - residual.residual_chance(prevalence, 0.72, 1).independent
    assert found == pytest.approx(npv, abs=0.0055)


def test_published_strongyloides_pair_fits_independence():
    """Two Baermann days find 0.60 and 0.64 alone and print 0.86 together (people, read)."""
    assert residual.found_by_any([0.60, 0.64]) == pytest.approx(0.86, abs=0.005)
