"""The exact interval of a keeper's own sensitivity, against scipy, statsmodels and closed forms.

Sources: scipy.stats.binomtest (its exact interval is found by root search on the binomial distribution, not by
beta quantiles), statsmodels.stats.proportion.proportion_confint(method="beta"): computed here. Closed forms
for none and all found, 1 - (a/2)^(1/n): derived. Kind: computed.
"""

from __future__ import annotations

import pytest

from fecallab.domain.keeper_and_vet import exact_share

CASES = [(found, of) for of in (1, 2, 5, 10, 17, 40, 250) for found in {0, 1, of // 3, of // 2, of - 1, of}]


@pytest.mark.parametrize(("found", "of"), CASES)
def test_as_scipy_finds_it_by_root_search(found: int, of: int) -> None:
    from scipy.stats import binomtest

    known = binomtest(found, of).proportion_ci(0.95, method="exact")
    mine = exact_share(found, of)
    assert (mine.low, mine.high) == pytest.approx((known.low, known.high), abs=1e-8)


@pytest.mark.parametrize(("found", "of"), CASES)
def test_as_statsmodels_has_it(found: int, of: int) -> None:
    from statsmodels.stats.proportion import proportion_confint

    known = proportion_confint(found, of, alpha=0.05, method="beta")
    mine = exact_share(found, of)
    assert (mine.low, mine.high) == pytest.approx(known, abs=1e-12)


@pytest.mark.parametrize("of", [1, 3, 10, 60])
def test_none_and_all_found_have_closed_forms(of: int) -> None:
    edge = 0.025 ** (1 / of)
    assert exact_share(0, of).high == pytest.approx(1 - edge)
    assert exact_share(of, of).low == pytest.approx(edge)


def test_it_covers_at_least_what_it_says() -> None:
    """The chance that the interval holds the truth, summed over every possible count, is never under 95 %."""
    from scipy.stats import binom

    for of in (10, 23):
        shares = [exact_share(found, of) for found in range(of + 1)]
        for step in range(1, 40):
            truth = step / 40
            held = sum(
                float(binom.pmf(found, of, truth))
                for found, one in enumerate(shares)
                if one.low <= truth <= one.high
            )
            assert held >= 0.95 - 1e-9


def test_kappa_of_keeper_and_vet_as_statsmodels_has_it() -> None:
    import numpy as np
    from statsmodels.stats.inter_rater import cohens_kappa

    from fecallab.domain.agreement import agreement

    table = [[31, 4], [6, 59]]
    known = cohens_kappa(np.array(table))
    mine = agreement(table)
    assert mine.kappa == pytest.approx(known.kappa)
    assert mine.kappa_se == pytest.approx(known.std_kappa)
