"""Agreement of two readers against printed output, textbook pairs and statsmodels; kinds in the ids."""

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.inter_rater import cohens_kappa

from fecallab.domain.agreement import agreement, count_agreement


def close(row):
    return pytest.approx(row["expected"], abs=row["tolerance"], rel=0)


@pytest.mark.check_rows("ag1")
def test_kappa_with_its_standard_error(row):
    found = agreement(row["inputs"]["table"])
    assert [found.kappa, found.kappa_se] == close(row)


@pytest.mark.check_rows("ag2")
def test_ac1(row):
    assert agreement(row["inputs"]["table"]).ac1 == close(row)


@pytest.mark.check_rows("ag3")
def test_scott_and_chance_free_and_plain_agreement(row):
    found = agreement(row["inputs"]["table"])
    assert [found.scott_pi, found.chance_free, found.agreement] == close(row)


@pytest.mark.check_rows("ag6")
def test_two_laboratories(row):
    found = agreement(row["inputs"]["table"])
    assert [found.kappa, found.kappa / found.kappa_se_if_none, found.chance_free] == close(row)
    assert found.ci95 == pytest.approx(
        (0.524, 0.823), abs=1e-3
    )  # the proper interval; .56-.79 uses the null SE


@pytest.mark.check_rows("ag8a")
def test_paradox_pair(row):
    found = agreement(row["inputs"]["table"])
    assert [found.agreement, found.kappa] == close(row)
    assert found.ac1 == pytest.approx(0.7007, abs=5e-5)  # the row's note


@pytest.mark.parametrize("name", ["ag1", "ag6", "ag8a"])
def test_kappa_agrees_with_statsmodels(name, check_row):
    table = check_row(name)["inputs"]["table"]
    found, second_opinion = agreement(table), cohens_kappa(np.array(table))
    assert found.kappa == pytest.approx(second_opinion.kappa)
    assert found.kappa_se == pytest.approx(second_opinion.std_kappa)
    assert found.kappa_se_if_none == pytest.approx(second_opinion.std_kappa0)
    assert found.ci95 == pytest.approx((second_opinion.kappa_low, second_opinion.kappa_upp))


@pytest.mark.check_rows("ba1")
def test_differences_of_paired_readings(row):
    found = count_agreement(row["inputs"]["x"], row["inputs"]["y"])
    by_two_sd = [found.mean_difference + sign * 2 * found.sd_difference for sign in (-1, 1)]
    assert [found.mean_difference, found.sd_difference, *by_two_sd] == close(row)
    assert found.limits == pytest.approx((-78.10, 73.86), abs=0.01)  # the row's note


@pytest.mark.check_rows("ba2")
def test_concordance_and_correlation(row):
    x, y = row["inputs"]["x"], row["inputs"]["y"]
    found = count_agreement(x, y)
    assert [found.concordance, found.correlation] == close(row)
    assert found.correlation == pytest.approx(stats.pearsonr(x, y).statistic)
    assert math.isclose(found.sd_difference, np.std(np.subtract(x, y), ddof=1))
