"""Groups when a positive may be a false alarm, and what clean rounds say about a whole group."""

from __future__ import annotations

import math
from collections.abc import Iterator

from fecallab.domain.checked import fraction, whole_count
from fecallab.domain.errors import BadInput
from fecallab.domain.sampling import MOST_ANIMALS

MOST_EXAMINED = 2_000
"""Largest sample for which false alarms are worked out (common sense, no source)."""


def _binomial(number: int, chance: float) -> list[float]:
    """Return the chances of 0 … number successes."""
    if chance in (0.0, 1.0):
        return [float(seen == number * chance) for seen in range(number + 1)]
    logs = (
        math.lgamma(number + 1)
        - math.lgamma(seen + 1)
        - math.lgamma(number - seen + 1)
        + seen * math.log(chance)
        + (number - seen) * math.log1p(-chance)
        for seen in range(number + 1)
    )
    return [math.exp(value) for value in logs]


def _in_sample(group: int | None, tested: int, infected: float) -> Iterator[tuple[int, float]]:
    """Yield (infected animals in the sample, chance); ``infected`` is a share where the group is endless."""
    if group is None:
        yield from enumerate(_binomial(tested, infected))
        return
    ill = int(infected)
    whole = math.comb(group, tested)
    for seen in range(max(0, tested + ill - group), min(tested, ill) + 1):
        yield seen, math.comb(ill, seen) * math.comb(group - ill, tested - seen) / whole


def chance_positives(
    group: int | None,
    tested: int,
    infected: float,
    *,
    sensitivity: float = 1.0,
    specificity: float = 1.0,
    at_least: int = 1,
) -> float:
    """Return the chance that at least so many of a random sample test positive, rightly or wrongly.

    Parameters
    ----------
    group : int or None
        Animals in the group; None for a very large one.
    tested : int
        Animals examined once.
    infected : float
        Infected animals in the group; their share (0-1) where ``group`` is None.
    sensitivity, specificity : float
        Chance that an infected animal tests positive, and that an uninfected one tests negative.
    at_least : int
        Positives from which on the group is called positive.

    Raises
    ------
    BadInput
        For numbers that do not fit together.

    Notes
    -----
    The exact sum of Cameron and Baldock (1998) over infected animals in the sample and true positives.

    Examples
    --------
    >>> round(chance_positives(65, 10, 3, sensitivity=0.95, specificity=0.99), 4)
    0.4412
    >>> round(chance_positives(None, 50, 0.0, specificity=0.99), 3)  # false alarms in a clean group
    0.395
    """
    examined = whole_count(tested, "the number examined", most=MOST_EXAMINED)
    cut = whole_count(at_least, "the number of positives", most=MOST_EXAMINED)
    finds, spares = fraction(sensitivity, "the sensitivity"), fraction(specificity, "the specificity")
    if group is None:
        infected = fraction(infected, "the share infected")
    else:
        whole_count(group, "the group", most=MOST_ANIMALS)
        whole_count(infected, "the number of infected animals", most=group)
        if examined > group:
            raise BadInput(
                f"{examined} examined animals do not fit into a group of {group}.",
                next="Count animals, not exams.",
                code="more-examined-than-animals",
            )
    below = 0.0
    for ill, chance in _in_sample(group, examined, infected):
        if chance == 0.0:
            continue
        true, false = _binomial(ill, finds), _binomial(examined - ill, 1 - spares)
        reach = [0.0]
        for value in false:
            reach.append(reach[-1] + value)
        below += chance * sum(
            true[right] * reach[min(cut - right, len(false))] for right in range(min(cut, ill + 1))
        )
    return min(1.0, max(0.0, 1 - below))


def chance_free(prior_free: float, group_sensitivity: float, *, brought_in: float = 0.0) -> float:
    """Return the chance that a group is free of the infection after one clean round.

    Parameters
    ----------
    prior_free : float
        Chance before this round, 0-1.
    group_sensitivity : float
        Chance that the round would have shown an infection in the group.
    brought_in : float
        Chance that it was brought in since the last round.

    Examples
    --------
    >>> round(chance_free(0.5, 0.6, brought_in=0.01), 4)
    0.7102
    """
    before = fraction(prior_free, "the chance of being free") * (
        1 - fraction(brought_in, "the chance of being brought in")
    )
    finds = fraction(group_sensitivity, "the chance to find it in the group")
    return before / (1 - finds * (1 - before))


def highest_chance_free(group_sensitivity: float, brought_in: float) -> float:
    """Return the chance of being free that no number of clean rounds passes while newcomers bring it in.

    Raises
    ------
    BadInput
        When a round finds less often than the infection is brought in: nothing is won then.

    Examples
    --------
    >>> round(highest_chance_free(0.6, 0.02), 3)
    0.986
    """
    finds = fraction(group_sensitivity, "the chance to find it in the group")
    comes = fraction(brought_in, "the chance of being brought in")
    if finds <= comes or comes == 1:
        raise BadInput(
            f"A round finds it with chance {finds:g} and it is brought in with chance {comes:g}: rounds do "
            "not raise the chance of being free.",
            next="Examine more, or let no newcomers in.",
            code="rounds-do-not-help",
        )
    return (1 - comes / finds) / (1 - comes)


def group_sensitivity_needed(prior_free: float, wanted_free: float) -> float:
    """Return the chance of finding it that one clean round must have to reach a wanted chance of being free.

    Examples
    --------
    >>> round(group_sensitivity_needed(0.5, 0.95), 4)
    0.9474
    """
    before, wanted = fraction(prior_free, "the chance now"), fraction(wanted_free, "the wanted chance")
    if wanted <= before:
        return 0.0
    if before == 0:
        raise BadInput(
            "A group that cannot be free does not become so by exams.",
            next="Give a chance above 0.",
            code="contradiction",
        )
    return (1 - before / wanted) / (1 - before)
