import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain import reduction_intervals as intervals
from fecallab.domain.errors import BadInput
from fecallab.domain.reduction import reduction

eggs = st.integers(0, 2000)
group = st.lists(eggs, min_size=2, max_size=15)


def test_one_animal_gets_the_exact_interval_of_two_counts():
    found = reduction([40], [2])
    assert found.method == "exact-two-count"
    assert found.reduction_percent == pytest.approx(95)
    assert found.ci95 == pytest.approx((80.7192, 99.4146), abs=1e-4)
    assert found.lower99_percent is None


def test_nothing_left_in_one_animal_leaves_a_lower_limit_only():
    found = reduction([12], [0], factor_before=50, factor_after=10)
    assert found.reduction_percent == 100
    assert found.ci95 == (pytest.approx(92.8021, abs=1e-4), None)


def test_nothing_left_in_a_group_is_beta_with_both_limits_below():
    found = reduction([60, 25, 15], [0, 0, 0])
    assert found.method == "beta"
    assert found.ci95 == (pytest.approx(96.4136, abs=1e-4), None)
    assert found.lower99_percent == pytest.approx(94.8894, abs=1e-4)
    assert found.warnings


def test_nothing_left_with_another_amount_looked_at_takes_the_exact_interval():
    """Beta on raw eggs would forget that the methods, or the groups, differ in what was looked at."""
    coarser = reduction([60, 40], [0, 0], factor_before=10, factor_after=50)
    assert coarser.method == "exact-two-count"
    assert coarser.ci95[0] < reduction([60, 40], [0, 0]).ci95[0]
    finer = reduction([60, 40], [0, 0], factor_before=50, factor_after=10)
    assert finer.ci95[0] > reduction([60, 40], [0, 0]).ci95[0]


def test_groups_take_arithmetic_means():
    found = reduction([100, 0, 20], [0, 12, 0])
    assert found.method == "arithmetic-means-unpaired"
    assert found.reduction_percent == pytest.approx(90)
    assert (found.mean_before, found.mean_after) == (40, 4)
    assert (found.eggs_before, found.eggs_after) == (120, 12)


def test_pairs_that_fall_alike_are_surer_than_two_groups():
    before, after = [10, 40, 100, 300], [1, 5, 9, 33]
    paired, apart = reduction(before, after, paired=True), reduction(before, after)
    assert paired.method == "arithmetic-means-paired"
    assert paired.reduction_percent == apart.reduction_percent
    assert paired.ci95[0] > apart.ci95[0]
    assert paired.ci95[1] < apart.ci95[1]


def test_animals_that_are_exactly_alike_do_not_make_a_sure_answer():
    found = reduction([10, 10], [1, 1], paired=True)
    assert found.ci95[0] < 60
    assert found.ci95[1] > 98
    assert "alike" in found.warnings[0]


def test_animals_that_differ_less_than_counting_are_named():
    found = reduction([10, 11, 10], [2, 2, 3], paired=True)
    assert "too narrow" in found.warnings[0]


def test_a_rise_is_a_negative_reduction():
    found = reduction([4], [10])
    assert found.reduction_percent == pytest.approx(-150)
    assert found.ci95[0] < -150 < found.ci95[1]


@pytest.mark.parametrize(
    ("before", "after", "options", "code"),
    [
        ([0], [3], {}, "nothing-before"),
        ([0, 0], [0, 0], {}, "nothing-before"),
        ([4, 5], [1], {}, "group-too-small"),
        ([4], [1, 0], {}, "group-too-small"),
        ([4, 5, 6], [1, 0], {"paired": True}, "pairs-do-not-match"),
        ([], [1], {}, "no-counts"),
        ([4], [], {}, "no-counts"),
        ([4.5], [1], {}, "not-a-count"),
        ([4], [-1], {}, "not-a-count"),
        ([4], [math.nan], {}, "not-a-count"),
        ([4], [1], {"factor_after": 0}, "number-out-of-range"),
        ([4], [1], {"factor_before": math.inf}, "number-out-of-range"),
    ],
)
def test_what_cannot_be_worked_out_is_said(before, after, options, code):
    with pytest.raises(BadInput) as told:
        reduction(before, after, **options)
    assert told.value.reason.code == code
    assert told.value.reason.next


def test_formulas_that_need_eggs_left_say_so():
    moments = intervals.paired_summary([4, 6], [0, 0])
    for formula in (intervals.paired_interval, intervals.gamma_interval):
        with pytest.raises(BadInput, match="Nothing was left"):
            formula(moments)
    with pytest.raises(BadInput, match="9 eggs after"):
        intervals.beta_interval(4, 9)
    assert intervals.gamma_interval(intervals.paired_summary([4, 4], [1, 1])) == (0.75, 0.75)


@pytest.mark.parametrize(("share", "level"), [(0.9, 0.95), (0.95, 0.95), (0.9, 0.99), (0.01, 0.95)])
def test_the_eggs_to_prove_a_reduction_are_the_least(share, level):
    enough = intervals.eggs_to_prove(share, level=level)
    assert intervals.beta_interval(enough, 0, level=level)[0] > share
    if enough:
        assert intervals.beta_interval(enough - 1, 0, level=level)[0] <= share


def test_the_exact_interval_covers_at_least_as_often_as_it_says():
    """True falls of 60, 90 and 97 %, counts of 30 before on average; chances summed, not drawn."""
    from scipy.stats import poisson

    for fall in (0.6, 0.9, 0.97):
        held = whole = 0.0
        for x in range(1, 75):
            for y in range(40):
                chance = poisson.pmf(x, 30) * poisson.pmf(y, 30 * (1 - fall))
                low, high = intervals.two_count_interval(x, y)
                held += chance * (low <= fall <= (1 if high is None else high))
                whole += chance
        assert whole == pytest.approx(1, abs=1e-6)
        assert held >= 0.95


def test_the_paired_interval_covers_near_what_it_says():
    """600 drawn trials of 20 animals, gamma burdens behind both counts, fall 85 %: 95 % within 5 points."""
    import numpy as np

    rng = np.random.default_rng(11)
    held = 0
    for _ in range(600):
        burden = rng.gamma(1.0, 30.0, size=20)
        before, after = rng.poisson(burden), rng.poisson(burden * 0.15)
        low, high = reduction(before.tolist(), after.tolist(), paired=True).ci95
        held += low <= 85 <= (100 if high is None else high)
    assert held / 600 == pytest.approx(0.95, abs=0.05)


@given(group, group, st.floats(0.1, 100))
def test_only_the_ratio_of_the_factors_matters(before, after, factor):
    if sum(before):
        raw = reduction(before, after)
        scaled = reduction(before, after, factor_before=factor, factor_after=factor)
        assert scaled.method == raw.method
        assert scaled.reduction_percent == pytest.approx(raw.reduction_percent)
        assert scaled.ci95[0] == pytest.approx(raw.ci95[0], rel=1e-6, abs=1e-6)


@given(st.lists(st.tuples(eggs, eggs), min_size=1, max_size=12), st.booleans())
def test_the_interval_holds_the_estimate(pairs, paired):
    before, after = [list(side) for side in zip(*pairs, strict=True)]
    if sum(before):
        found = reduction(before, after, paired=paired)
        slack = 1e-9 * (1 + abs(found.reduction_percent))
        assert found.ci95[0] <= found.reduction_percent + slack
        if found.ci95[1] is None:
            assert sum(after) == 0
            assert found.ci95[0] < 100
        else:
            assert found.reduction_percent <= found.ci95[1] + slack
            assert found.ci95[1] <= 100


@given(st.integers(1, 5000))
def test_more_eggs_before_prove_more_when_none_is_left(count):
    assert reduction([count], [0]).ci95[0] < reduction([count + 1], [0]).ci95[0]
    assert reduction([count, 0], [0, 0]).ci95[0] < reduction([count + 1, 0], [0, 0]).ci95[0]


@given(st.integers(1, 500), st.integers(0, 500))
def test_more_eggs_left_never_raise_the_reduction(before, after):
    one, more = reduction([before], [after]), reduction([before], [after + 1])
    assert more.reduction_percent < one.reduction_percent
    assert more.ci95[0] < one.ci95[0]


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1), st.floats(0, 1))
def test_the_four_words_follow_their_rule(a, b, c, d):
    (lower, upper), (lowest, target) = sorted((a, b)), sorted((c, d))
    word = intervals.efficacy_class(lower, upper, target=target, lowest_acceptable=lowest)
    assert (word in {"reduced", "borderline"}) == (upper < target)
    assert (word in {"adequate", "borderline"}) == (lower >= lowest)
    assert intervals.efficacy_class(lower, None, target=target, lowest_acceptable=lowest) in {
        "adequate",
        "inconclusive",
    }


@given(group, group)
def test_the_interval_is_doubted_exactly_when_animals_differ_less_than_counting(before, after):
    """Two Poisson sums alone give log(after/before) the variance 1/before + 1/after (delta method)."""
    if sum(before) and sum(after):
        spread = intervals.log_variance_unpaired(
            intervals.group_summary(before), intervals.group_summary(after)
        )
        by_counting = (sum(before) + sum(after)) / (sum(before) * sum(after))
        if not math.isclose(spread, by_counting):
            assert bool(reduction(before, after).warnings) == (spread < by_counting)


@pytest.mark.parametrize(
    ("before", "after", "doubted"),
    [
        ([1, 2], [4, 13], True),  # variance 0.998 times that of counting
        ([4, 8], [9, 12], False),  # 1.004 times
        ([13, 24], [3, 5], True),  # 0.992 times
        ([10, 23], [3, 4], False),  # 1.014 times
    ],
)
def test_the_doubt_begins_where_counting_alone_would_differ_as_much(before, after, doubted):
    assert bool(reduction(before, after).warnings) is doubted


def test_looking_at_twice_as_much_after_halves_what_is_left():
    lower, upper = intervals.two_count_interval(40, 2)
    finer = intervals.two_count_interval(40, 2, exposure_ratio=2)
    assert finer == pytest.approx((1 - (1 - lower) / 2, 1 - (1 - upper) / 2))
