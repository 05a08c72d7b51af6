"""How sure a count is: exact intervals, the bound that a zero leaves, and whether organisms lie in clumps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from fecallab.domain.checked import MOST_COUNTED, confidence, positive_number, whole_count, whole_counts
from fecallab.domain.errors import BadInput

FIELDS_FOR_A_CLUMPED_MODEL = 10
"""From this many fields on a clumping parameter is worth fitting (common practice, no source)."""
CLUMPED_BELOW_P = 0.05
"""The dispersion test calls fields clumped below this chance (common practice, no source)."""


def _lower_limit(count: int, tail: float) -> float:
    """Mean at which this count or more has the chance ``tail``."""
    from scipy.special import gammaincinv

    return float(gammaincinv(count, tail)) if count else 0.0


def _upper_limit(count: int, tail: float) -> float:
    """Mean at which this count or less has the chance ``tail``."""
    from scipy.special import gammainccinv

    return float(gammainccinv(count + 1, tail))


def _looks(number: int) -> int:
    """Return a number of looks or fields, at least one."""
    return int(positive_number(whole_count(number, "the number"), "the number of looks", most=MOST_COUNTED))


def exact_interval(count: int, exposure: float = 1.0, *, level: float = 0.95) -> tuple[float, float]:
    """Return the exact two-sided interval of a rate from one Poisson count (Garwood).

    Parameters
    ----------
    count : int
        Organisms counted.
    exposure : float
        What was looked at: fields, millilitres or grams; the interval is per one of these.
    level : float
        Confidence, 0-1.

    Returns
    -------
    tuple of float
        Lower and upper limit; the lower one is 0 when nothing was counted.

    Notes
    -----
    Limits are chi-square quantiles: half of chi2(a/2; 2n) and of chi2(1-a/2; 2n+2), a = 1 - level
    (Garwood 1936; the formula and its value for zero were read in the documentation of R epitools).

    Examples
    --------
    >>> [round(limit, 3) for limit in exact_interval(0)]
    [0.0, 3.689]
    >>> [round(limit, 4) for limit in exact_interval(80, 20)]
    [3.1718, 4.9783]
    """
    n = whole_count(count, "the count")
    seen = positive_number(exposure, "what was looked at", least=1e-9, most=1e12)
    tail = (1 - confidence(level)) / 2
    return _lower_limit(n, tail) / seen, _upper_limit(n, tail) / seen


def upper_bound(count: int, exposure: float = 1.0, *, level: float = 0.95) -> float:
    """Return the one-sided upper limit of a rate: the true rate is below it with this confidence.

    Examples
    --------
    >>> round(upper_bound(0), 3)  # the three of the rule of three
    2.996
    """
    n = whole_count(count, "the count")
    seen = positive_number(exposure, "what was looked at", least=1e-9, most=1e12)
    return _upper_limit(n, 1 - confidence(level)) / seen


def lower_bound(count: int, exposure: float = 1.0, *, level: float = 0.95) -> float:
    """Return the one-sided lower limit of a rate; 0 when nothing was counted.

    Examples
    --------
    >>> lower_bound(0), round(lower_bound(3), 4)
    (0.0, 0.8177)
    """
    n = whole_count(count, "the count")
    seen = positive_number(exposure, "what was looked at", least=1e-9, most=1e12)
    return _lower_limit(n, 1 - confidence(level)) / seen


def rule_of_three(trials: int) -> float:
    """Return 3/n, the quick one-sided 95 % upper limit after nothing in ``trials`` looks (at most 1).

    Examples
    --------
    >>> rule_of_three(1500)
    0.002
    """
    n = _looks(trials)
    return min(1.0, 3 / n)


def zero_share_bound(trials: int, *, level: float = 0.95) -> float:
    """Return the exact one-sided upper limit of a share after nothing in ``trials`` looks.

    Solves (1 - p)^n = 1 - level.

    Examples
    --------
    >>> round(zero_share_bound(1500), 7)
    0.0019952
    """
    n = _looks(trials)
    return -math.expm1(math.log(1 - confidence(level)) / n)


@dataclass(frozen=True)
class Dispersion:
    """How unevenly organisms lie over the fields (Fisher's test).

    Attributes
    ----------
    index : float
        Variance over mean (divisor n - 1): near 1 by chance alone, above 1 clumped, below 1 too even.
    chi2 : float
        Sum of squared deviations over the mean, against chi-square with ``df``.
    df : int
        Fields less one.
    p_clumped, p_even : float
        Chance of being at least this clumped, at most this clumped, if organisms lay by chance.
    """

    index: float
    chi2: float
    df: int
    p_clumped: float
    p_even: float


def dispersion(counts: Sequence[int]) -> Dispersion | None:
    """Return Fisher's dispersion test, or None for one field or when nothing was counted.

    Examples
    --------
    >>> found = dispersion([35, 41, 37, 47, 43, 45, 70, 46, 40, 29])
    >>> round(found.index, 2), round(found.p_clumped, 3)
    (2.74, 0.003)
    """
    from scipy.special import chdtr, chdtrc

    fields = whole_counts(counts, "counts")
    mean = sum(fields) / len(fields)
    if len(fields) < 2 or mean == 0:
        return None
    df = len(fields) - 1
    chi2 = math.fsum((count - mean) ** 2 for count in fields) / mean
    return Dispersion(chi2 / df, chi2, df, float(chdtrc(df, chi2)), float(chdtr(df, chi2)))


def clumping_by_moments(counts: Sequence[int]) -> float | None:
    """Return the negative binomial k from mean and variance (divisor n - 1): mean^2 / (variance - mean).

    None when the variance does not exceed the mean. Small k is strong clumping.
    """
    found = dispersion(counts)
    if found is None or found.index <= 1:
        return None
    return sum(counts) / len(counts) / (found.index - 1)


def clumping_by_likelihood(counts: Sequence[int]) -> float | None:
    """Return the negative binomial k of greatest likelihood.

    None when the fields are not clumped (variance with divisor n at most the mean): the likelihood then
    rises without end towards the Poisson model.

    Notes
    -----
    The mean's own estimate is the arithmetic mean, so only k is searched: the root of
    sum(digamma(x + k)) - n digamma(k) - n log(1 + mean/k), by bisection on log k.

    Examples
    --------
    >>> leaves = [0] * 70 + [1] * 38 + [2] * 17 + [3] * 10 + [4] * 9 + [5] * 3 + [6] * 2 + [7]
    >>> round(clumping_by_likelihood(leaves), 4)
    1.0246
    """
    import numpy as np
    from scipy.special import digamma

    fields = whole_counts(counts, "counts")
    n = len(fields)
    mean = sum(fields) / n
    if mean == 0 or math.fsum((count - mean) ** 2 for count in fields) / n <= mean * (1 + 1e-12):
        return None
    values, times = np.unique(np.asarray(fields, dtype=float), return_counts=True)

    def slope(k: float) -> float:
        gain: Any = np.dot(times, digamma(values + k) - digamma(k))
        return float(gain) - n * math.log1p(mean / k)

    low, high = math.log(1e-9), math.log(1e12)
    while high - low > 1e-12:
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if slope(math.exp(middle)) > 0 else (low, middle)
    return math.exp((low + high) / 2)


def clumped_mean_interval(mean: float, k: float, fields: int, *, level: float = 0.95) -> tuple[float, float]:
    """Return the interval of a mean per field when organisms are clumped (negative binomial, log scale).

    Parameters
    ----------
    mean : float
        Organisms per field, above 0.
    k : float
        Clumping parameter, above 0.
    fields : int
        Fields read.

    Notes
    -----
    Standard error sqrt((m + m^2/k)/n); limits m exp(-+ z se/m), so they never fall below 0.

    Examples
    --------
    >>> [round(limit, 2) for limit in clumped_mean_interval(4.0, 1.5, 20)]
    [2.63, 6.09]
    """
    from scipy.special import ndtri

    m = positive_number(mean, "the mean", least=1e-9, most=MOST_COUNTED)
    n = _looks(fields)
    clumping = positive_number(k, "k", least=1e-9, most=math.inf)
    spread = float(ndtri(0.5 + confidence(level) / 2)) * math.sqrt((1 / m + 1 / clumping) / n)
    if spread > 700:
        raise BadInput("the mean rests on too little to give an interval.", next="Read more fields.")
    return m * math.exp(-spread), m * math.exp(spread)


@dataclass(frozen=True)
class FieldDensity:
    """Organisms per field with what is known about them.

    Attributes
    ----------
    mean_per_field : float
        Arithmetic mean.
    ci95 : tuple of float
        95 % interval of the mean per field, by ``model``.
    dispersion_index, dispersion_p : float or None
        Variance over mean, and the chance of being at least this clumped; None for one field or mean 0.
    model : str
        ``poisson`` (exact) or ``negative-binomial`` (maximum likelihood, interval on the log scale).
    upper95_if_zero : float or None
        One-sided 95 % upper limit per field when nothing was seen, else None.
    k : float or None
        Clumping parameter of the negative binomial model, else None.
    total, fields : int
        Organisms counted, fields read.
    """

    mean_per_field: float
    ci95: tuple[float, float]
    dispersion_index: float | None
    dispersion_p: float | None
    model: str
    upper95_if_zero: float | None
    k: float | None
    total: int
    fields: int


def field_density(counts: Sequence[int]) -> FieldDensity:
    """Return the mean per field with its 95 % interval, by the model that the fields call for.

    Parameters
    ----------
    counts : sequence of int
        One count per field; zeros included.

    Raises
    ------
    BadInput
        For an empty list and for anything that is no count.

    Notes
    -----
    Exact Poisson, unless `FIELDS_FOR_A_CLUMPED_MODEL` or more fields are clumped (p below
    `CLUMPED_BELOW_P`): then negative binomial by maximum likelihood.

    Examples
    --------
    >>> field_density([0, 0, 0]).upper95_if_zero  # doctest: +ELLIPSIS
    0.998...
    >>> field_density([3, 4, 2]).model
    'poisson'
    """
    fields = whole_counts(counts, "counts")
    total, n = sum(fields), len(fields)
    mean = total / n
    found = dispersion(fields)
    k = None
    if found is not None and n >= FIELDS_FOR_A_CLUMPED_MODEL and found.p_clumped < CLUMPED_BELOW_P:
        k = clumping_by_likelihood(fields)
    if k is None:  # limits of the total directly: many crowded fields may pass what one count may be
        interval = _lower_limit(total, 0.025) / n, _upper_limit(total, 0.025) / n
    else:
        interval = clumped_mean_interval(mean, k, n)
    return FieldDensity(
        mean_per_field=mean,
        ci95=interval,
        dispersion_index=None if found is None else found.index,
        dispersion_p=None if found is None else found.p_clumped,
        model="poisson" if k is None else "negative-binomial",
        upper95_if_zero=upper_bound(0, n) if total == 0 else None,
        k=k,
        total=total,
        fields=n,
    )
