import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain import counting
from fecallab.domain.errors import BadInput

counts = st.lists(st.integers(0, 300), min_size=1, max_size=60)


def width(interval):
    return interval[1] - interval[0]


def test_no_find_leaves_an_upper_limit_and_no_dispersion():
    found = counting.field_density([0] * 10)
    assert (found.mean_per_field, found.total, found.fields) == (0, 0, 10)
    assert found.upper95_if_zero == pytest.approx(-math.log(0.05) / 10)
    assert found.ci95 == pytest.approx((0, 0.3689), abs=5e-5)
    assert (found.dispersion_index, found.dispersion_p, found.k) == (None, None, None)
    assert found.model == "poisson"


def test_one_field_has_no_dispersion():
    found = counting.field_density([4])
    assert found.dispersion_index is None
    assert found.model == "poisson"
    assert found.ci95 == pytest.approx((1.0899, 10.2416), abs=1e-4)


def test_a_find_leaves_no_bound_of_none():
    assert counting.field_density([0, 1]).upper95_if_zero is None


def test_clumped_fields_take_the_negative_binomial_from_ten_fields_on():
    nine = [0, 0, 0, 20, 0, 0, 15, 0, 1]
    assert counting.field_density(nine).model == "poisson"
    assert counting.field_density(nine).dispersion_p < 0.05
    ten = counting.field_density([*nine, 0])
    assert ten.model == "negative-binomial"
    assert ten.k is not None
    assert width(ten.ci95) > width(counting.exact_interval(ten.total, ten.fields))


def test_too_even_fields_stay_poisson():
    found = counting.field_density([5] * 20)
    assert found.model == "poisson"
    assert found.dispersion_index == 0
    assert found.dispersion_p == pytest.approx(1)


def test_clumping_is_recovered_from_drawn_fields():
    """10,000 drawn fields, mean 6, k 0.8, seed fixed: k within 5 %."""
    import numpy as np

    rng = np.random.default_rng(20)
    fields = rng.negative_binomial(0.8, 0.8 / 6.8, size=10_000).tolist()
    assert counting.clumping_by_likelihood(fields) == pytest.approx(0.8, rel=0.05)
    assert counting.clumping_by_moments(fields) == pytest.approx(0.8, rel=0.1)


def test_the_exact_interval_covers_at_least_as_often_as_it_says():
    """The chance, over all counts, that the interval holds the true mean; computed, not drawn."""
    from scipy.stats import poisson

    for mean in (0.3, 1.0, 2.5, 7.7, 30.0):
        held = 0.0
        for seen in range(120):
            low, high = counting.exact_interval(seen)
            held += poisson.pmf(seen, mean) * (low <= mean <= high)
        assert held >= 0.95, mean


def test_the_clumped_interval_covers_near_what_it_says():
    """1,000 drawn exams of 30 fields, mean 4, k 1.5, seed fixed: 95 % within 4 points."""
    import numpy as np

    rng = np.random.default_rng(7)
    held = 0
    for _ in range(1000):
        low, high = counting.field_density(rng.negative_binomial(1.5, 1.5 / 5.5, size=30).tolist()).ci95
        held += low <= 4 <= high
    assert held / 1000 == pytest.approx(0.95, abs=0.04)


def test_clumping_has_no_answer_when_fields_are_not_clumped():
    assert counting.clumping_by_likelihood([3, 3, 3]) is None
    assert counting.clumping_by_moments([3, 3, 3]) is None
    assert counting.clumping_by_likelihood([0, 0]) is None
    assert counting.clumping_by_moments([5]) is None


def test_crowded_fields_do_not_overflow():
    found = counting.field_density([10_000_000] * 500)
    assert found.ci95[0] < 10_000_000 < found.ci95[1]


@pytest.mark.parametrize(
    "bad",
    [[], [-1], [1.5], [math.nan], [math.inf], ["3"], [None], [True], [10**8]],
    ids=repr,
)
def test_what_is_no_count_is_refused_in_one_line(bad):
    with pytest.raises(BadInput) as told:
        counting.field_density(bad)
    assert "\n" not in str(told.value)
    assert told.value.reason.next


@pytest.mark.parametrize("exposure", [0, -1, math.nan, math.inf, "2"])
def test_what_was_looked_at_must_be_something(exposure):
    with pytest.raises(BadInput, match="looked at"):
        counting.exact_interval(3, exposure)


@pytest.mark.parametrize("level", [0, 1, 95, math.nan])
def test_a_confidence_lies_between_nothing_and_all(level):
    with pytest.raises(BadInput):
        counting.exact_interval(3, level=level)


@given(counts)
def test_the_interval_holds_the_estimate(fields):
    found = counting.field_density(fields)
    assert found.ci95[0] <= found.mean_per_field <= found.ci95[1]
    assert found.mean_per_field == pytest.approx(sum(fields) / len(fields))


@given(counts, st.integers(2, 5))
def test_reading_the_same_fields_again_never_widens_the_interval_of_one_model(fields, times):
    once, more = counting.field_density(fields), counting.field_density(fields * times)
    assert more.mean_per_field == pytest.approx(once.mean_per_field)
    if once.model == more.model:
        assert width(more.ci95) <= width(once.ci95) * (1 + 1e-9)


@given(st.integers(0, 5000), st.floats(0.01, 1000))
def test_one_sided_limits_lie_inside_the_two_sided_interval(count, exposure):
    low, high = counting.exact_interval(count, exposure)
    assert low <= counting.lower_bound(count, exposure)
    assert counting.upper_bound(count, exposure) <= high


@given(st.integers(0, 5000))
def test_more_seen_never_lowers_a_limit(count):
    one, more = counting.exact_interval(count), counting.exact_interval(count + 1)
    assert one[0] <= more[0]
    assert one[1] < more[1]


@given(st.integers(1, 100_000))
def test_the_exact_zero_bound_stays_under_the_rule_of_three(looks):
    assert 0 < counting.zero_share_bound(looks) <= counting.rule_of_three(looks) <= 1


@given(counts)
def test_the_order_of_fields_does_not_matter(fields):
    one, turned = counting.field_density(fields), counting.field_density(fields[::-1])
    assert one.model == turned.model
    assert one.ci95 == pytest.approx(turned.ci95, rel=1e-9)
