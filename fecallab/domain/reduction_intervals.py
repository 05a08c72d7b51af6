"""The published intervals of an egg count reduction, one function each, from moments or from raw eggs.

Sources: Denwood et al. 2019, arXiv 1910.06667v1 (read) for the paired log-ratio t, gamma, asymptotic and beta
intervals and the classes; Coles et al. 1992 for two groups (formula from memory); McKenna's four formulas
(abstract read). All reductions here are fractions of 1; below 0 means that counts rose.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fecallab.domain.checked import confidence, positive_number, whole_count
from fecallab.domain.errors import BadInput

MOST_EGGS = 10**12
"""Largest sum of eggs over a group that is believed (common sense, no source)."""


@dataclass(frozen=True)
class GroupSummary:
    """Mean and variance (divisor n - 1) of one group's counts, with the number of animals."""

    mean: float
    variance: float
    animals: int


@dataclass(frozen=True)
class PairedSummary:
    """Counts of the same animals before and after, as moments.

    ``variance_*`` have divisor n - 1; ``correlation`` is Pearson's, between before and after.
    """

    mean_before: float
    variance_before: float
    mean_after: float
    variance_after: float
    correlation: float
    animals: int

    @property
    def ratio(self) -> float:
        """Mean after over mean before."""
        return self.mean_after / self.mean_before


def need_two_animals(animals: int) -> int:
    """Return the number of animals in a group, or say that one shows no difference between animals."""
    if animals < 2:
        raise BadInput(
            f"{animals} animal in a group; how animals differ shows from two on.",
            next="Give one count per animal: two or more in each group, or one before and one after.",
            code="group-too-small",
        )
    return animals


def group_summary(counts: Sequence[float]) -> GroupSummary:
    """Return mean and variance of a group of two or more animals.

    Examples
    --------
    >>> group_summary([8, 13, 6])
    GroupSummary(mean=9.0, variance=13.0, animals=3)
    """
    n = need_two_animals(len(counts))
    mean = math.fsum(counts) / n
    return GroupSummary(mean, math.fsum((count - mean) ** 2 for count in counts) / (n - 1), n)


def paired_summary(before: Sequence[float], after: Sequence[float]) -> PairedSummary:
    """Return the moments of animals counted before and after; both lists in the same order of animals.

    Examples
    --------
    >>> paired_summary([10, 20, 30], [1, 2, 3]).correlation
    1.0
    """
    if len(before) != len(after):
        raise BadInput(
            f"{len(before)} counts before and {len(after)} after; in pairs each animal has one of both.",
            next="Give the animals in the same order in both lists, or leave --paired out.",
            code="pairs-do-not-match",
        )
    first, second = group_summary(before), group_summary(after)
    together = math.fsum(
        (one - first.mean) * (other - second.mean) for one, other in zip(before, after, strict=True)
    ) / (first.animals - 1)
    spread = math.sqrt(first.variance * second.variance)
    correlation = max(-1.0, min(1.0, together / spread)) if spread > 0 else 0.0
    return PairedSummary(first.mean, first.variance, second.mean, second.variance, correlation, first.animals)


def _eggs_on_both_sides(mean_before: float, mean_after: float) -> None:
    if mean_before <= 0:
        raise nothing_before()
    if mean_after <= 0:
        raise BadInput(
            "Nothing was left after, and this interval needs eggs on both sides.",
            next="Use the beta interval or the exact interval of two counts.",
            code="none-left",
        )


def log_variance_paired(moments: PairedSummary) -> float:
    """Return the variance of log(mean after / mean before) for the same animals (read: Denwood 2019)."""
    _eggs_on_both_sides(moments.mean_before, moments.mean_after)
    before = moments.variance_before / moments.mean_before**2
    after = moments.variance_after / moments.mean_after**2
    shared = 2 * moments.correlation * math.sqrt(before * after)
    return max(0.0, before + after - shared) / moments.animals


def log_variance_unpaired(before: GroupSummary, after: GroupSummary) -> float:
    """Return the variance of log(mean after / mean before) for two groups (Coles 1992, from memory)."""
    _eggs_on_both_sides(before.mean, after.mean)
    return before.variance / (before.animals * before.mean**2) + after.variance / (
        after.animals * after.mean**2
    )


def _log_t_interval(ratio: float, variance: float, df: int, level: float) -> tuple[float, float]:
    from scipy.special import stdtrit

    spread = float(stdtrit(df, 0.5 + confidence(level) / 2)) * math.sqrt(variance)
    largest = math.exp(min(spread, 700.0))
    return 1 - min(ratio * largest, 1e300), 1 - ratio / largest


def paired_interval(moments: PairedSummary, *, level: float = 0.95) -> tuple[float, float]:
    """Return the log-ratio t interval of the reduction (0-1) for the same animals, df = animals - 1.

    Examples
    --------
    >>> trial = PairedSummary(74, 74 + 74**2 / 0.84, 35, 35 + 35**2 / 0.58, 0.65, 91)
    >>> [round(limit, 2) for limit in paired_interval(trial)]
    [0.41, 0.62]
    """
    return _log_t_interval(moments.ratio, log_variance_paired(moments), moments.animals - 1, level)


def unpaired_interval(
    before: GroupSummary, after: GroupSummary, *, level: float = 0.95
) -> tuple[float, float]:
    """Return the log-ratio t interval of the reduction (0-1) for two groups, df = both less two."""
    variance = log_variance_unpaired(before, after)
    return _log_t_interval(after.mean / before.mean, variance, before.animals + after.animals - 2, level)


def gamma_interval(moments: PairedSummary, *, level: float = 0.95) -> tuple[float, float]:
    """Return the delta-method gamma interval of the reduction (0-1) for the same animals.

    Notes
    -----
    1 - r follows a gamma law with its delta-method mean and variance (Levecke, as given in Denwood 2019).
    """
    from scipy.special import gammaincinv

    variance = moments.ratio**2 * log_variance_paired(moments)
    if variance == 0:
        return 1 - moments.ratio, 1 - moments.ratio
    shape, scale = moments.ratio**2 / variance, variance / moments.ratio
    tail = (1 - confidence(level)) / 2
    return 1 - scale * float(gammaincinv(shape, 1 - tail)), 1 - scale * float(gammaincinv(shape, tail))


def asymptotic_interval(moments: PairedSummary, *, level: float = 0.95) -> tuple[float, float]:
    """Return the plain normal interval of the reduction (0-1) for the same animals (Denwood 2019, read)."""
    from scipy.special import ndtri

    spread = moments.ratio**2 * moments.variance_before + moments.variance_after
    variance = spread / moments.mean_before**2 * (1 - moments.correlation) / moments.animals
    half = float(ndtri(0.5 + confidence(level) / 2)) * math.sqrt(variance)
    return 1 - moments.ratio - half, 1 - moments.ratio + half


def beta_interval(eggs_before: int, eggs_after: int, *, level: float = 0.95) -> tuple[float, float]:
    """Return the beta interval of the reduction (0-1) from raw eggs.

    Notes
    -----
    1 - r ~ Beta(1 + after, 1 + before - after): Dobson 2012, as given in Denwood 2019 (read). Works when
    nothing is left; far too narrow when animals differ, so its authors advise 99 %.

    Examples
    --------
    >>> round(beta_interval(100, 0)[0], 4), round(beta_interval(100, 0, level=0.99)[0], 4)
    (0.9641, 0.9489)
    """
    from scipy.special import betaincinv

    if eggs_after > eggs_before:
        raise BadInput(
            f"{eggs_after} eggs after and {eggs_before} before; the beta interval needs no more after.",
            next="Use the exact interval of two counts.",
            code="more-after-than-before",
        )
    tail = (1 - confidence(level)) / 2
    whole_count(eggs_after, "eggs after", most=MOST_EGGS)
    a, b = 1 + eggs_after, 1 + eggs_before - eggs_after
    return 1 - float(betaincinv(a, b, 1 - tail)), 1 - float(betaincinv(a, b, tail))


def eggs_to_prove(reduction: float, *, level: float = 0.95) -> int:
    """Return the eggs to count before, so that none after puts the lower limit above ``reduction``.

    Examples
    --------
    >>> eggs_to_prove(0.90), eggs_to_prove(0.95)
    (35, 71)
    """
    tail = (1 - confidence(level)) / 2
    wanted = confidence(reduction)
    eggs = max(0, math.floor(math.log(tail) / math.log(wanted)) - 2)
    while tail ** (1 / (eggs + 1)) <= wanted:
        eggs += 1
    return eggs


def two_count_interval(
    eggs_before: int, eggs_after: int, *, exposure_ratio: float = 1.0, level: float = 0.95
) -> tuple[float, float | None]:
    """Return the exact interval of the reduction (0-1) from two Poisson counts, conditional on their sum.

    Parameters
    ----------
    eggs_before, eggs_after : int
        Raw eggs counted; some before.
    exposure_ratio : float
        Faeces looked at after over faeces looked at before: factor before / factor after.

    Returns
    -------
    tuple
        Lower and upper limit; the upper one is None when no egg was left. Counting error only: the
        changes of shedding from day to day come on top.

    Examples
    --------
    >>> [round(limit, 3) for limit in two_count_interval(40, 2)]
    [0.807, 0.994]
    >>> round(two_count_interval(12, 0, exposure_ratio=5)[0], 3)  # a finer method after proves more
    0.928
    """
    from scipy.special import betaincinv

    x = whole_count(eggs_before, "eggs before", most=MOST_EGGS)
    y = whole_count(eggs_after, "eggs after", most=MOST_EGGS)
    if x == 0:
        raise nothing_before()
    ratio = positive_number(exposure_ratio, "the ratio of what was looked at", least=1e-12, most=1e12)
    tail = (1 - confidence(level)) / 2
    # share of all eggs that were seen after, theta; 1 - theta is taken from the mirrored beta to stay exact
    most, rest = float(betaincinv(y + 1, x, 1 - tail)), float(betaincinv(x, y + 1, tail))
    lower = 1 - most / rest / ratio
    if y == 0:
        return lower, None
    least, rest = float(betaincinv(y, x + 1, tail)), float(betaincinv(x + 1, y, 1 - tail))
    return lower, 1 - least / rest / ratio


def mckenna(
    treated_before: float, treated_after: float, control_before: float, control_after: float
) -> tuple[float, float, float, float]:
    """Return McKenna's four reductions (0-1) from group means.

    Returns
    -------
    tuple of float
        Treated and control, before and after; treated and control after; treated alone; treated after
        against control before (read: McKenna, NZ Vet J, abstract).

    Examples
    --------
    >>> mckenna(400, 20, 500, 400)
    (0.9375, 0.95, 0.95, 0.96)
    """
    for mean in (treated_before, control_before, control_after):
        positive_number(mean, "a group's mean", most=1e12)
    return (
        1 - treated_after * control_before / (treated_before * control_after),
        1 - treated_after / control_after,
        1 - treated_after / treated_before,
        1 - treated_after / control_before,
    )


def efficacy_class(lower: float, upper: float | None, *, target: float, lowest_acceptable: float) -> str:
    """Return where an interval lies against two limits, in a word; never a verdict on resistance.

    Parameters
    ----------
    lower, upper : float
        Interval of the reduction, 0-1; None is 1.
    target, lowest_acceptable : float
        What the drug should reach, and the least that is accepted, as the vet sets them.

    Returns
    -------
    str
        ``reduced`` (upper below the target), ``adequate`` (lower not below the lowest acceptable),
        ``borderline`` (both) or ``inconclusive`` (neither) (read: Denwood 2019).

    Examples
    --------
    >>> efficacy_class(0.32, 0.61, target=0.5, lowest_acceptable=0.45)
    'inconclusive'
    """
    reduced = (1.0 if upper is None else upper) < target
    adequate = lower >= lowest_acceptable
    if reduced and adequate:
        return "borderline"
    if reduced:
        return "reduced"
    return "adequate" if adequate else "inconclusive"


def nothing_before() -> BadInput:
    """Return the error for a count of nothing before: no share of nothing can be gone."""
    return BadInput(
        "No egg was counted before, so there is nothing that could be reduced.",
        next="Give the count from before treatment, or use: fecallab calc density, calc epg.",
        code="nothing-before",
    )
