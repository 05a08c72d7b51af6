"""Egg count reduction against published intervals and closed forms; the kind of source stands in each id."""

import math

import pytest
from scipy import stats

from fecallab.domain import reduction_intervals as intervals
from fecallab.domain.reduction import reduction


def close(row):
    return pytest.approx(row["expected"], abs=row["tolerance"], rel=1e-12)


def trial(row):
    """Turn a printed summary (means, k, correlation) into moments; variance is m + m^2/k."""
    given = row["inputs"]

    def variance(mean, k):
        return mean + mean**2 / k

    return intervals.PairedSummary(
        mean_before=given["pre_mean"],
        variance_before=variance(given["pre_mean"], given["k_pre"]),
        mean_after=given["post_mean"],
        variance_after=variance(given["post_mean"], given["k_post"]),
        correlation=given["correlation"],
        animals=given["n"],
    )


@pytest.mark.check_rows("fe1")
def test_reduction_of_the_published_means(row):
    assert 1 - trial(row).ratio == close(row)


@pytest.mark.check_rows("fe2", "fe6")
def test_published_paired_log_ratio_interval(row):
    moments = trial(row)
    assert [1 - moments.ratio, *intervals.paired_interval(moments)] == close(row)


@pytest.mark.check_rows("fe3", "fe7")
def test_published_gamma_interval(row):
    moments = trial(row)
    found = intervals.gamma_interval(moments)
    assert [1 - moments.ratio, *found] == close(row)
    variance = moments.ratio**2 * intervals.log_variance_paired(moments)
    law = stats.gamma(a=moments.ratio**2 / variance, scale=variance / moments.ratio)
    assert found == pytest.approx((1 - law.ppf(0.975), 1 - law.ppf(0.025)), rel=1e-9)


@pytest.mark.check_rows("fe4")
def test_published_asymptotic_interval(row):
    moments = trial(row)
    assert [1 - moments.ratio, *intervals.asymptotic_interval(moments)] == close(row)


@pytest.mark.check_rows("fe5", "fe9")
def test_published_beta_interval(row):
    before, after = row["inputs"]["sum_pre"], row["inputs"]["sum_post"]
    found = intervals.beta_interval(before, after)
    assert [1 - after / before, *found] == close(row)
    law = stats.beta(1 + after, 1 + before - after)
    assert found == pytest.approx((1 - law.ppf(0.975), 1 - law.ppf(0.025)), rel=1e-9)


@pytest.mark.check_rows("fe10")
def test_published_beta_interval_with_nothing_left(row):
    found = intervals.beta_interval(row["inputs"]["sum_pre"], row["inputs"]["sum_post"])
    assert list(found) == close(row)
    assert found[0] == pytest.approx(0.99994, abs=5e-6)  # the exact limit, in the row's note


@pytest.mark.check_rows("fe11")
def test_lower_limit_when_nothing_is_left(row):
    before = row["inputs"]["sum_pre"]
    found = [intervals.beta_interval(before, 0, level=level)[0] for level in (0.95, 0.99)]
    assert found == close(row)
    closed_form = [(alpha / 2) ** (1 / (before + 1)) for alpha in (0.05, 0.01)]
    assert found == pytest.approx(closed_form, rel=1e-12)
    told = reduction([60, 40], [0, 0])
    assert [told.ci95[0] / 100, told.lower99_percent / 100] == close(row)


@pytest.mark.check_rows("fe12")
def test_eggs_that_must_be_counted_before(row):
    assert [intervals.eggs_to_prove(share) for share in (0.90, 0.95)] == row["expected"]


@pytest.mark.check_rows("fe13")
def test_four_formulas(row):
    given = row["inputs"]
    assert list(intervals.mckenna(given["T1"], given["T2"], given["C1"], given["C2"])) == close(row)


@pytest.mark.check_rows("fe14")
def test_reduction_of_group_means(row):
    for before, after, expected in zip(
        row["inputs"]["pre"], row["inputs"]["post"], row["expected"], strict=True
    ):
        # the printed means times ten are whole counts of ten slides' eggs: an average first, one number each
        found = reduction([round(10 * before)], [round(10 * after)])
        assert found.reduction_percent / 100 == pytest.approx(expected, abs=row["tolerance"])


@pytest.mark.check_rows("fe16")
def test_two_groups_on_raw_eggs_and_per_gram(row):
    control, treated = ([int(eggs) for eggs in row["inputs"][group]] for group in ("control", "treated"))
    raw = reduction(control, treated)
    per_gram = reduction(control, treated, factor_before=50, factor_after=50)
    for found in (raw, per_gram):
        assert found.method == "arithmetic-means-unpaired"
        assert [found.reduction_percent / 100, *(limit / 100 for limit in found.ci95)] == close(row)


@pytest.mark.check_rows("fe18")
def test_one_animal_exact_interval(row):
    given = row["inputs"]
    found = reduction(
        [given["pre_eggs"]],
        [given["post_eggs"]],
        factor_before=given["pre_factor"],
        factor_after=given["post_factor"],
    )
    assert [found.reduction_percent / 100, *(limit / 100 for limit in found.ci95)] == close(row)
    share = stats.binomtest(given["post_eggs"], given["pre_eggs"] + given["post_eggs"]).proportion_ci(
        0.95, method="exact"
    )
    second_opinion = [1 - share.high / (1 - share.high), 1 - share.low / (1 - share.low)]
    assert [limit / 100 for limit in found.ci95] == pytest.approx(second_opinion, rel=1e-9)


@pytest.mark.check_rows("fe19")
def test_one_animal_none_left_with_a_finer_method(row):
    given = row["inputs"]
    finer = reduction(
        [given["pre_eggs"]],
        [given["post_eggs"]],
        factor_before=given["pre_factor"],
        factor_after=given["post_factor"],
    )
    assert finer.ci95[0] / 100 == close(row)
    assert finer.ci95[1] is None
    same = reduction([given["pre_eggs"]], [given["post_eggs"]])
    assert same.ci95[0] / 100 == pytest.approx(0.640, abs=5e-4)  # the row's note


@pytest.mark.check_rows("cl1", "cl2", "cl3", "cl4")
def test_where_an_interval_lies_against_two_limits(row):
    given = row["inputs"]
    word = intervals.efficacy_class(
        given["lower"],
        given["upper"],
        target=given["target"],
        lowest_acceptable=given["lowest_acceptable"],
    )
    assert word == row["expected"]


def test_the_paired_interval_is_the_t_interval_of_the_delta_method():
    before, after = [40, 22, 31, 18, 50], [4, 1, 6, 0, 5]
    moments = intervals.paired_summary(before, after)
    lower, upper = intervals.paired_interval(moments)
    half = stats.t.ppf(0.975, 4) * math.sqrt(intervals.log_variance_paired(moments))
    assert 1 - lower == pytest.approx(moments.ratio * math.exp(half))
    assert 1 - upper == pytest.approx(moments.ratio * math.exp(-half))
    # the delta method's variance is that of the mean of y/mean(y) - x/mean(x)
    gaps = [y / moments.mean_after - x / moments.mean_before for x, y in zip(before, after, strict=True)]
    assert intervals.log_variance_paired(moments) == pytest.approx(stats.sem(gaps) ** 2)
