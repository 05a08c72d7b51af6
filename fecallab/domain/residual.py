"""The chance that infection is still there after negative exams: exams independent, and cautious."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import count, islice

from fecallab.domain.checked import fraction, whole_count
from fecallab.domain.errors import BadInput

HUMAN_CORRELATION = 0.576
"""Correlation of one host's exams: two numbers fitted to two numbers from people, of whom one, two and three
stools found 283, 343 and 373 (Cartwright 1999, abstract read; fit computed). None was found for reptiles."""
HUMAN_CORRELATION_NOTE = (
    "The correlation 0.576 is a fit to repeat stools of people (Cartwright 1999); no figure for reptiles was "
    "found."
)
MOST_NEGATIVES = 1000


@dataclass(frozen=True)
class ResidualChance:
    """The chance of infection after negative exams, by two assumptions.

    Attributes
    ----------
    independent : float
        If every exam had the same chance to find the infection, whatever the others showed.
    cautious : float
        If light shedders stay light (beta-binomial); never below ``independent``.
    correlation : float
        The correlation behind ``cautious``, 0-1.
    note : str
        Where the correlation comes from.
    """

    independent: float
    cautious: float
    correlation: float
    note: str


def chance_all_negative(sensitivity: float, negatives: int, *, correlation: float = 0.0) -> float:
    """Return the chance that an infected animal shows nothing in ``negatives`` exams.

    Parameters
    ----------
    sensitivity : float
        Mean chance that one exam finds the infection, 0-1.
    negatives : int
        Exams.
    correlation : float
        Correlation between exams of one animal: 0 independent, 1 all exams alike.

    Notes
    -----
    Detectability varies between animals as Beta with mean ``sensitivity``; the product over exams is
    written so that 0 and 1 are no special cases.

    Examples
    --------
    >>> chance_all_negative(0.75, 2), chance_all_negative(0.75, 2, correlation=1)
    (0.0625, 0.25)
    """
    mean, rho = fraction(sensitivity, "the sensitivity"), fraction(correlation, "the correlation")
    exams = whole_count(negatives, "the number of negatives", most=MOST_NEGATIVES)
    return next(islice(_missed(mean, rho), exams, None))


def _missed(mean: float, rho: float) -> Iterator[float]:
    """Yield the chance that 0, 1, 2 … exams all miss; each factor at most 1, so it never rises."""
    missed = 1.0
    yield missed
    missed *= 1 - mean
    for exam in count(1):
        yield missed
        missed *= ((1 - mean) * (1 - rho) + exam * rho) / ((1 - rho) + exam * rho)


def chance_found(sensitivity: float, exams: int, *, correlation: float = 0.0) -> float:
    """Return the chance that at least one of some exams finds the infection.

    Examples
    --------
    >>> round(chance_found(0.5, 3, correlation=0.576), 3)
    0.659
    """
    return 1 - chance_all_negative(sensitivity, exams, correlation=correlation)


def _after(prior: float, missed: float) -> float:
    """Bayes for negatives that are never false alarms; written so that fewer misses never raise it."""
    joint = prior * missed
    return 1 / (1 + (1 - prior) / joint) if joint > 0 else 0.0


def residual_chance(
    prior: float, sensitivity: float, negatives: int, correlation: float = HUMAN_CORRELATION
) -> ResidualChance:
    """Return the chance that infection is still there after ``negatives`` negative exams.

    Parameters
    ----------
    prior : float
        Chance of infection before these exams, 0-1.
    sensitivity : float
        Chance that one adequate exam finds an infection that is there, 0-1.
    negatives : int
        Adequate negative exams of separate defecations.
    correlation : float
        Between exams of one animal, 0-1; the default is `HUMAN_CORRELATION`.

    Raises
    ------
    BadInput
        For chances outside 0-1, a number of negatives that is no count, and a prior of 1 with a
        sensitivity of 1 beside a negative, which cannot all be true.

    Examples
    --------
    >>> found = residual_chance(0.5, 0.75, 3)
    >>> round(found.independent, 3), round(found.cautious, 3)
    (0.015, 0.12)
    """
    before = fraction(prior, "the prior")
    rho = fraction(correlation, "the correlation")
    missed = chance_all_negative(sensitivity, negatives)
    if before == 1 and missed == 0:
        raise BadInput(
            "The infection is given as certain, every exam as finding it, and still an exam was negative.",
            next="Lower the prior or the sensitivity below 1.",
            code="contradiction",
        )
    missed_cautious = max(missed, chance_all_negative(sensitivity, negatives, correlation=rho))
    note = HUMAN_CORRELATION_NOTE if rho == HUMAN_CORRELATION else f"The correlation {rho:g} was given."
    return ResidualChance(_after(before, missed), _after(before, missed_cautious), rho, note)


def negatives_needed(
    prior: float, sensitivity: float, target: float, *, correlation: float = 0.0
) -> int | None:
    """Return the least number of negatives that brings the chance of infection to ``target`` or below.

    None when `MOST_NEGATIVES` exams do not reach it.

    Examples
    --------
    >>> negatives_needed(0.5, 0.75, 0.05), negatives_needed(0.5, 0.75, 0.05, correlation=0.576)
    (3, 17)
    >>> negatives_needed(0.5, 0.75, 0.05, correlation=1) is None
    True
    """
    before, goal = fraction(prior, "the prior"), fraction(target, "the target")
    mean, rho = fraction(sensitivity, "the sensitivity"), fraction(correlation, "the correlation")
    for exams, missed in enumerate(islice(_missed(mean, rho), MOST_NEGATIVES + 1)):
        if not (before == 1 and missed == 0) and _after(before, missed) <= goal:
            return exams
    return None


def found_on_separate_days(shedding_share: float, sensitivity_when_shedding: float, exams: int) -> float:
    """Return the chance that exams on far-apart days find an animal that sheds on a share of days.

    Examples
    --------
    >>> round(found_on_separate_days(0.6, 0.8, 3), 6)
    0.859392
    """
    shed = fraction(shedding_share, "the share of shedding days")
    return chance_found(shed * fraction(sensitivity_when_shedding, "the sensitivity when shedding"), exams)


def found_on_one_day(shedding_share: float, sensitivity_when_shedding: float, slides: int) -> float:
    """Return the chance that several slides of one day find it; it never passes the shedding share.

    Examples
    --------
    >>> round(found_on_one_day(0.6, 0.8, 3), 4)
    0.5952
    """
    shed = fraction(shedding_share, "the share of shedding days")
    return shed * chance_found(sensitivity_when_shedding, slides)


def found_by_any(sensitivities: Sequence[float]) -> float:
    """Return the chance that at least one of several independent tests finds it (parallel).

    Examples
    --------
    >>> round(found_by_any([0.99, 0.95, 0.8]), 9)
    0.9999
    """
    return 1 - math.prod(1 - fraction(value, "a sensitivity") for value in sensitivities)


def found_by_all(sensitivities: Sequence[float]) -> float:
    """Return the chance that every one of several independent tests finds it (series).

    Examples
    --------
    >>> round(found_by_all([0.99, 0.95, 0.8]), 9)
    0.7524
    """
    return math.prod(fraction(value, "a sensitivity") for value in sensitivities)


def sensitivity_from_first_of_three(first_share: float) -> float:
    """Return the sensitivity of one exam from the share that the first of three found, if independent.

    Parameters
    ----------
    first_share : float
        Of the hosts found by any of three exams, the share found by the first; 1/3 to 1.

    Notes
    -----
    Solves s / (1 - (1 - s)^3) = share, that is s^2 - 3 s + 3 = 1 / share.

    Examples
    --------
    >>> round(sensitivity_from_first_of_three(283 / 373), 6)
    0.746328
    """
    share = fraction(first_share, "the share found by the first exam")
    if share <= 1 / 3:
        raise BadInput(
            f"a first exam that finds {share:g} of what three find is not possible; a third is the least.",
            next="Give found by the first over found by all three.",
            code="share-too-small",
        )
    return (3 - math.sqrt(4 / share - 3)) / 2
