"""Grown trees against a published example: does a point lie inside or outside of a sphere in ten dimensions?

Hastie, Tibshirani and Friedman, The Elements of Statistical Learning, 2nd edition, section 10.1 (from memory, believed
source): ten standard normal numbers, the class by whether the sum of their squares exceeds the median of chi-square with
10 degrees of freedom, 9.34; 2,000 examples to learn from, 10,000 to test on. One large tree is wrong in about a quarter
of them, boosted trees of one question each in 5.8 of 100. Ours take small steps, so it takes more of these. Larger trees
do less well on it, since the squares just add up; what they must do is to halve the errors of one tree.
"""

import numpy as np
import pytest
from scipy.stats import chi2

from fecallab.imaging import grow

ROWS = np.random.default_rng(10).normal(size=(12_000, 10))
MEDIAN = float(chi2.ppf(0.5, 10))
OUTSIDE = (ROWS**2).sum(axis=1) > MEDIAN


def wrong(trees: int) -> float:
    """Share of 10,000 fresh points that trees grown to 2,000 others tell wrongly, at the best even split."""
    odds = grow.grown(ROWS[:2000], OUTSIDE[:2000], trees=trees).odds(ROWS[2000:])
    return float(np.mean((odds > np.median(odds)) != OUTSIDE[2000:]))


def test_trees_of_one_question_each_reach_the_published_error(monkeypatch: pytest.MonkeyPatch) -> None:
    assert pytest.approx(9.34, abs=0.005) == MEDIAN
    monkeypatch.setattr(grow, "_LEAVES", 2)
    assert wrong(8000) == pytest.approx(0.058, abs=0.02)


def test_trees_as_they_are_used_halve_the_errors_of_one() -> None:
    one = wrong(1)
    assert 0.2 < one < 0.35
    assert wrong(400) < one / 2
