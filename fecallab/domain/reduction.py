"""Egg count reduction: how much lower the counts are after than before, with what the counts allow to say.

All thresholds in print are for worms of livestock; none was found for reptiles. So numbers and intervals are
worked out here and no verdict on a drug: that is the vet's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fecallab.domain.checked import positive_number, whole_counts
from fecallab.domain.reduction_intervals import (
    beta_interval,
    group_summary,
    log_variance_paired,
    log_variance_unpaired,
    need_two_animals,
    nothing_before,
    paired_interval,
    paired_summary,
    two_count_interval,
    unpaired_interval,
)

FACTOR_RANGE = (1e-6, 1e9)


@dataclass(frozen=True)
class Reduction:
    """What `reduction` found; percentages, negative when counts rose.

    Attributes
    ----------
    reduction_percent : float
        From arithmetic means (or from the two counts of one animal).
    ci95 : tuple
        Lower and upper limit in percent; the upper one is None when nothing was left, because no count
        proves that everything is gone.
    method : str
        ``exact-two-count``, ``arithmetic-means-paired``, ``arithmetic-means-unpaired`` or ``beta``.
    mean_before, mean_after : float
        Arithmetic means, times the factor.
    animals_before, animals_after, eggs_before, eggs_after : int
        What the numbers rest on, in animals and raw eggs.
    lower99_percent : float or None
        For ``beta`` the 99 % lower limit that its authors advise, else None.
    warnings : tuple of str
        What makes the interval doubtful.
    """

    reduction_percent: float
    ci95: tuple[float, float | None]
    method: str
    mean_before: float
    mean_after: float
    animals_before: int
    animals_after: int
    eggs_before: int
    eggs_after: int
    lower99_percent: float | None = None
    warnings: tuple[str, ...] = ()


def reduction(
    before: Sequence[int],
    after: Sequence[int],
    *,
    factor_before: float = 1.0,
    factor_after: float = 1.0,
    paired: bool = False,
) -> Reduction:
    """Return how much lower the counts are after than before.

    Parameters
    ----------
    before, after : sequence of int
        Raw eggs counted, one number per animal (several slides of one sample are added up first).
    factor_before, factor_after : float
        Eggs per gram of one counted egg; only their ratio matters.
    paired : bool
        True when both lists hold the same animals in the same order.

    Raises
    ------
    BadInput
        For what is no count, nothing before, lists that do not pair, a group of one against more.

    Notes
    -----
    One animal: exact interval of two counts. Groups: arithmetic means with the paired or unpaired
    log-ratio t interval. Nothing left in a group: beta on raw eggs, or, when the two sides looked at
    different amounts, the exact interval of the two sums; only a lower limit then.

    Examples
    --------
    >>> one = reduction([40], [2])
    >>> one.reduction_percent, one.method
    (95.0, 'exact-two-count')
    >>> reduction([12], [0]).ci95[1] is None
    True
    """
    x, y = whole_counts(before, "counts before"), whole_counts(after, "counts after")
    least, most = FACTOR_RANGE
    f_before = positive_number(factor_before, "the factor before", least=least, most=most, unit="per gram")
    f_after = positive_number(factor_after, "the factor after", least=least, most=most, unit="per gram")
    if paired and len(x) != len(y):
        paired_summary(x, y)  # says what is wrong
    if len(x) != 1 or len(y) != 1:
        need_two_animals(min(len(x), len(y)))
    if sum(x) == 0:
        raise nothing_before()
    exposure = (len(y) / f_after) / (len(x) / f_before)
    mean_before, mean_after = sum(x) / len(x) * f_before, sum(y) / len(y) * f_after
    warnings: list[str] = []
    lower99 = None
    limits: tuple[float, float | None]
    if len(x) == len(y) == 1:
        method = "exact-two-count"
        limits = two_count_interval(x[0], y[0], exposure_ratio=exposure)
    elif sum(y) == 0:
        method, limits, lower99 = _none_left(sum(x), exposure)
        warnings.append(
            "The limit rests on the eggs alone; where animals differ less is sure, so the 99 % limit stands "
            "beside it."
        )
    else:
        method = "arithmetic-means-paired" if paired else "arithmetic-means-unpaired"
        limits, doubt = _group_limits(x, y, f_before, f_after, exposure, paired)
        warnings += doubt
    return Reduction(
        reduction_percent=100 * (1 - mean_after / mean_before),
        ci95=(100 * limits[0], None if limits[1] is None else 100 * limits[1]),
        method=method,
        mean_before=mean_before,
        mean_after=mean_after,
        animals_before=len(x),
        animals_after=len(y),
        eggs_before=sum(x),
        eggs_after=sum(y),
        lower99_percent=None if lower99 is None else 100 * lower99,
        warnings=tuple(warnings),
    )


def _none_left(eggs_before: int, exposure: float) -> tuple[str, tuple[float, None], float]:
    """Return method, 95 % limits and 99 % lower limit when a whole group shows nothing after."""
    if math.isclose(exposure, 1.0, rel_tol=1e-9):
        return (
            "beta",
            (beta_interval(eggs_before, 0)[0], None),
            beta_interval(eggs_before, 0, level=0.99)[0],
        )
    lower = two_count_interval(eggs_before, 0, exposure_ratio=exposure)[0]
    return (
        "exact-two-count",
        (lower, None),
        two_count_interval(eggs_before, 0, exposure_ratio=exposure, level=0.99)[0],
    )


def _group_limits(
    x: Sequence[int], y: Sequence[int], f_before: float, f_after: float, exposure: float, paired: bool
) -> tuple[tuple[float, float | None], list[str]]:
    """Return the limits for groups with eggs left, and what is doubtful about them."""
    first, second = [count * f_before for count in x], [count * f_after for count in y]
    if paired:
        moments = paired_summary(first, second)
        variance = log_variance_paired(moments)
        limits: tuple[float, float | None] = paired_interval(moments)
    else:
        one, other = group_summary(first), group_summary(second)
        variance = log_variance_unpaired(one, other)
        limits = unpaired_interval(one, other)
    counting = 1 / sum(x) + 1 / sum(y)
    if variance < 1e-9 * counting:
        return two_count_interval(sum(x), sum(y), exposure_ratio=exposure), [
            "The animals are exactly alike, so their differences say nothing; the interval is that of "
            "all eggs together, and too narrow for other animals."
        ]
    if variance < counting:
        return limits, [
            "The animals differ less than counting alone would make them; take the interval as too narrow."
        ]
    return limits, []
