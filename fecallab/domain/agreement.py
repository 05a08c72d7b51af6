"""How well two readers agree: names given to the same things, and counts of the same things."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fecallab.domain.checked import whole_count
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import number_of

MOST_NAMES = 100


@dataclass(frozen=True)
class Agreement:
    """Agreement of two readers over one table, rows the first reader, columns the second.

    Attributes
    ----------
    n : int
        Things both have named.
    agreement : float
        Share named alike.
    kappa, kappa_se : float or None
        Cohen's kappa and its standard error (Fleiss, Cohen, Everitt 1969); None when both used one and
        the same name throughout, since chance alone then explains everything.
    ci95 : tuple of float or None
        kappa -+ 1.96 standard errors, held within -1 to 1.
    kappa_se_if_none : float or None
        Standard error if there were no agreement beyond chance; only for testing that.
    ac1 : float
        Gwet's coefficient, steady when almost everything has one name.
    scott_pi : float or None
        Scott's pi.
    chance_free : float
        Brennan-Prediger, for two names the same as PABAK.
    positive_agreement, negative_agreement : float or None
        Two names only, the first being positive: 2a/(2a+b+c) and 2d/(2d+b+c).
    """

    n: int
    agreement: float
    kappa: float | None
    kappa_se: float | None
    ci95: tuple[float, float] | None
    kappa_se_if_none: float | None
    ac1: float
    scott_pi: float | None
    chance_free: float
    positive_agreement: float | None
    negative_agreement: float | None


def _checked(table: Sequence[Sequence[int]]) -> list[list[int]]:
    size = len(table)
    if not 2 <= size <= MOST_NAMES or any(len(row) != size for row in table):
        raise BadInput(
            f"the table has {size} rows of {', '.join(str(len(row)) for row in table[:10]) or 'no'} numbers; "
            f"it must be square, 2 to {MOST_NAMES} names on each side.",
            next='Give rows of the first reader, columns of the second: "40,9;6,45".',
            code="table-not-square",
        )
    rows = [[whole_count(cell, "a cell of the table") for cell in row] for row in table]
    if sum(map(sum, rows)) == 0:
        raise BadInput(
            "the table holds nothing but zeros.", next="Count what both have named.", code="table-empty"
        )
    return rows


def agreement(table: Sequence[Sequence[int]]) -> Agreement:
    """Return the agreement of two readers.

    Parameters
    ----------
    table : sequence of sequence of int
        Square: how often the first reader gave the row's name and the second the column's.

    Raises
    ------
    BadInput
        For a table that is not square, holds no counts, or nothing.

    Notes
    -----
    AC1: chance is sum of p(1 - p) over names / (names - 1), p the mean of both margins (Gwet; printed
    output read).

    Examples
    --------
    >>> found = agreement([[40, 9], [6, 45]])
    >>> found.agreement, round(found.kappa, 3), round(found.ac1, 3)
    (0.85, 0.7, 0.701)
    """
    rows = _checked(table)
    size, n = len(rows), sum(map(sum, rows))
    first = [sum(row) / n for row in rows]
    second = [sum(row[column] for row in rows) / n for column in range(size)]
    mean = [(one + other) / 2 for one, other in zip(first, second, strict=True)]
    seen = sum(rows[place][place] for place in range(size)) / n
    by_chance = math.fsum(one * other for one, other in zip(first, second, strict=True))
    kappa = se = se_none = interval = None
    if max(max(row) for row in rows) < n:
        kappa = (seen - by_chance) / (1 - by_chance)
        se, se_none = _standard_errors(rows, first, second, kappa, by_chance)
        half = 1.959963984540054 * se
        interval = (max(-1.0, kappa - half), min(1.0, kappa + half))
    elif seen == 0:
        kappa = 0.0  # each reader used one name of their own: no agreement, and chance expects none
    chance_ac1 = math.fsum(share * (1 - share) for share in mean) / (size - 1)
    chance_pi = math.fsum(share**2 for share in mean)
    apart = n - sum(rows[place][place] for place in range(size))
    positive = negative = None
    if size == 2:
        positive = _specific(rows[0][0], apart)
        negative = _specific(rows[1][1], apart)
    return Agreement(
        n=n,
        agreement=seen,
        kappa=kappa,
        kappa_se=se,
        ci95=interval,
        kappa_se_if_none=se_none,
        ac1=(seen - chance_ac1) / (1 - chance_ac1),
        scott_pi=(seen - chance_pi) / (1 - chance_pi) if chance_pi < 1 else None,
        chance_free=(seen - 1 / size) / (1 - 1 / size),
        positive_agreement=positive,
        negative_agreement=negative,
    )


def _specific(alike: int, apart: int) -> float | None:
    return 2 * alike / (2 * alike + apart) if 2 * alike + apart else None


def _standard_errors(
    rows: list[list[int]], first: list[float], second: list[float], kappa: float, by_chance: float
) -> tuple[float, float]:
    """Return the standard error of kappa, and the one that holds if there is no agreement beyond chance."""
    n = sum(map(sum, rows))
    size = range(len(rows))
    diagonal = math.fsum(rows[i][i] / n * (1 - (first[i] + second[i]) * (1 - kappa)) ** 2 for i in size)
    beside = (1 - kappa) ** 2 * math.fsum(
        rows[i][j] / n * (second[i] + first[j]) ** 2 for i in size for j in size if i != j
    )
    rest = (kappa - by_chance * (1 - kappa)) ** 2
    margins = math.fsum(first[i] * second[i] * (first[i] + second[i]) for i in size)
    scale = (1 - by_chance) * math.sqrt(n)
    return (
        math.sqrt(max(0.0, diagonal + beside - rest)) / scale,
        math.sqrt(max(0.0, by_chance + by_chance**2 - margins)) / scale,
    )


@dataclass(frozen=True)
class CountAgreement:
    """Agreement of two readers' counts (or measures) of the same things.

    Attributes
    ----------
    mean_difference, sd_difference : float
        First less second; divisor n - 1.
    limits : tuple of float
        Mean difference -+ 1.96 SD: where 95 % of differences lie (Bland and Altman).
    concordance : float or None
        Lin's coefficient (divisor n); None when neither reader's numbers vary.
    correlation : float or None
        Pearson's; high even when one reader always counts double, so never alone.
    """

    mean_difference: float
    sd_difference: float
    limits: tuple[float, float]
    concordance: float | None
    correlation: float | None


def count_agreement(first: Sequence[float], second: Sequence[float]) -> CountAgreement:
    """Return how well two readers' numbers agree.

    Parameters
    ----------
    first, second : sequence of float
        The same things in the same order, three or more.

    Examples
    --------
    >>> count_agreement([1, 2, 3], [2, 3, 4]).limits
    (-1.0, -1.0)
    """
    n = len(first)
    if n != len(second) or n < 3 or not all(math.isfinite(value) for value in (*first, *second)):
        raise BadInput(
            f"{number_of(n, 'number')} of the first reader and {len(second)} of the second; three pairs are the least.",
            next="Give both readers' numbers for the same things in the same order.",
            code="pairs-do-not-match",
        )
    mean_first, mean_second = math.fsum(first) / n, math.fsum(second) / n
    differences = [one - other for one, other in zip(first, second, strict=True)]
    mean = math.fsum(differences) / n
    sd = math.sqrt(math.fsum((value - mean) ** 2 for value in differences) / (n - 1))
    var_first = math.fsum((value - mean_first) ** 2 for value in first) / n
    var_second = math.fsum((value - mean_second) ** 2 for value in second) / n
    together = (
        math.fsum(
            (one - mean_first) * (other - mean_second) for one, other in zip(first, second, strict=True)
        )
        / n
    )
    spread = var_first + var_second + (mean_first - mean_second) ** 2
    both = math.sqrt(var_first * var_second)
    return CountAgreement(
        mean_difference=mean,
        sd_difference=sd,
        limits=(mean - 1.959963984540054 * sd, mean + 1.959963984540054 * sd),
        concordance=2 * together / spread if spread > 0 else None,
        correlation=together / both if both > 0 else None,
    )
