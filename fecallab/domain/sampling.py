"""How many of a group to examine, and what a sample of it can find: exact, in numbers of infected animals.

The exams may be imperfect; a negative is never a false alarm here (see `screening` for false alarms).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from fecallab.domain.checked import confidence as checked_confidence
from fecallab.domain.checked import fraction, whole_count
from fecallab.domain.errors import BadInput
from fecallab.domain.residual import HUMAN_CORRELATION, MOST_NEGATIVES, chance_all_negative

METHOD = "exact hypergeometric"
MOST_ANIMALS = 100_000
"""Largest group that is worked on (common sense, no source)."""
EXACT_UP_TO = 200
"""Groups up to this size are worked out in whole fractions; larger ones in floating point, good to 1e-12."""
ROUNDING = 1e-12
"""A goal that is missed by less than this was reached: 19 of 20 is 0.95."""


@dataclass(frozen=True)
class GroupSize:
    """How many of a group to examine.

    Attributes
    ----------
    sample_size : int or None
        The least number that reaches the confidence; None when not even all of them do.
    probability_detected : float
        Chance that this sample (all of them where None) finds at least one infected animal.
    if_all_examined : float
        The same chance when every animal is examined once.
    expected_found : float
        Infected animals that this sample (or all) is expected to show.
    exams_each, exams_each_cautious : int or None
        Exams of every animal that reach the confidence: exams independent, and cautious (light shedders stay
        light); None where no number up to `MOST_NEGATIVES` does.
    method : str
        How it was worked out.
    reason : str
        Why no sample size is given; empty otherwise.
    """

    sample_size: int | None
    probability_detected: float
    if_all_examined: float
    expected_found: float
    exams_each: int | None
    exams_each_cautious: int | None
    method: str
    reason: str


def _checked(group: object, infected: object, tested: object = 0) -> tuple[int, int, int]:
    animals = whole_count(group, "the group", most=MOST_ANIMALS)
    ill = whole_count(infected, "the number of infected animals", most=MOST_ANIMALS)
    examined = whole_count(tested, "the number examined", most=MOST_ANIMALS)
    if animals == 0:
        raise BadInput(
            "The group has no animals.",
            next="Give how many there are, such as --group 60.",
            code="group-empty",
        )
    if ill > animals:
        raise BadInput(
            f"{ill} infected animals do not fit into a group of {animals}; it is a number of animals, no "
            "percentage.",
            next=f"Give a number from 1 to {animals}.",
            code="more-infected-than-animals",
        )
    if examined > animals:
        raise BadInput(
            f"{examined} examined animals do not fit into a group of {animals}.",
            next="Count animals, not exams: a second exam of the same animal is no second animal.",
            code="more-examined-than-animals",
        )
    return animals, ill, examined


def chance_detected(group: int, tested: int, infected: int, sensitivity: float = 1.0) -> float:
    """Return the chance that a random sample of a group shows at least one infected animal.

    Parameters
    ----------
    group : int
        Animals in the group.
    tested : int
        Animals examined once, drawn at random.
    infected : int
        Infected animals in the group; a number, no percentage.
    sensitivity : float
        Chance that one exam finds an infected animal, 0-1.

    Raises
    ------
    BadInput
        When more are examined or infected than there are, or a number is no count.

    Notes
    -----
    1 - sum over d of Hyp(d; group, infected, tested) (1 - sensitivity)^d.

    Examples
    --------
    >>> chance_detected(20, 19, 1)
    0.95
    >>> round(chance_detected(60, 30, 2, 0.5), 3)
    0.439
    """
    animals, ill, examined = _checked(group, infected, tested)
    finds = fraction(sensitivity, "the sensitivity")
    if animals <= EXACT_UP_TO:
        return float(1 - _missed_exactly(animals, examined, ill, finds))
    return 1 - _missed(animals, examined, ill, finds)


def _missed_exactly(group: int, tested: int, infected: int, sensitivity: float) -> Fraction:
    """Return the chance that nothing is seen, as a whole fraction of the figures as they were typed."""
    miss = 1 - Fraction(repr(sensitivity))
    least, most = max(0, tested + infected - group), min(tested, infected)
    top, power = Fraction(0), miss**least
    for seen in range(least, most + 1):
        top += math.comb(infected, seen) * math.comb(group - infected, tested - seen) * power
        power *= miss
    return top / math.comb(group, tested)


def _missed(group: int, tested: int, infected: int, sensitivity: float) -> float:
    """Return the chance that nothing is seen, by weights relative to the likeliest number in the sample.

    Every step is a ratio of small whole numbers and every term is positive, so nothing cancels or overflows.
    """
    if sensitivity == 1:
        few, many = sorted((infected, tested))
        return math.prod((group - many - one) / (group - one) for one in range(few)) if few else 1.0
    miss = 1 - sensitivity
    least, most = max(0, tested + infected - group), min(tested, infected)
    likeliest = min(max((tested + 1) * (infected + 1) // (group + 2), least), most)
    weights, unseen = 1.0, miss**likeliest
    weight = 1.0
    for seen in range(likeliest, most):
        weight *= (infected - seen) * (tested - seen)
        weight /= (seen + 1) * (group - infected - tested + seen + 1)
        if weight < 1e-40:
            break
        weights += weight
        unseen += weight * miss ** (seen + 1)
    weight = 1.0
    for seen in range(likeliest, least, -1):
        weight *= seen * (group - infected - tested + seen)
        weight /= (infected - seen + 1) * (tested - seen + 1)
        if weight < 1e-40:
            break
        weights += weight
        unseen += weight * miss ** (seen - 1)
    return min(1.0, unseen / weights)


def expected_found(group: int, tested: int, infected: int, sensitivity: float = 1.0) -> float:
    """Return how many infected animals a random sample is expected to show.

    Examples
    --------
    >>> expected_found(60, 30, 4, 0.5)
    1.0
    """
    animals, ill, examined = _checked(group, infected, tested)
    return examined * ill / animals * fraction(sensitivity, "the sensitivity")


def group_size(group: int, infected: int, confidence: float, sensitivity: float = 1.0) -> GroupSize:
    """Return the least number of animals to examine so that at least one infected one is likely found.

    Parameters
    ----------
    group : int
        Animals in the group.
    infected : int
        The number of infected animals that should not be missed, at least 1.
    confidence : float
        Wanted chance of finding at least one, between 0 and 1.
    sensitivity : float
        Chance that one exam finds an infected animal, 0-1.

    Raises
    ------
    BadInput
        For numbers that do not fit together.

    Examples
    --------
    >>> group_size(60, 1, 0.95).sample_size, group_size(60, 3, 0.95).sample_size
    (57, 38)
    >>> one = group_size(1, 1, 0.95, 0.75)
    >>> one.sample_size, one.exams_each, one.exams_each_cautious
    (None, 3, 19)
    """
    animals, ill, _ = _checked(group, infected)
    wanted = checked_confidence(confidence)
    finds = fraction(sensitivity, "the sensitivity")
    if ill == 0:
        raise BadInput(
            "With no infected animal in the group there is nothing to find, however many are examined.",
            next="Give the number of infected animals that should not be missed, at least 1.",
            code="none-infected",
        )
    goal = wanted - ROUNDING
    if_all = chance_detected(animals, animals, ill, finds)
    if if_all < goal:
        alone = _exams_each(ill, finds, wanted, 0.0)
        together = _exams_each(ill, finds, wanted, HUMAN_CORRELATION)
        reason = (
            f"Not reachable even when all {animals} are examined once: that finds an infected animal with "
            f"chance {if_all:.3g}. Repeat exams."
        )
        return GroupSize(None, if_all, if_all, ill * finds, alone, together, METHOD, reason)
    low, high = 0, animals
    while high - low > 1:
        middle = (low + high) // 2
        if chance_detected(animals, middle, ill, finds) >= goal:
            high = middle
        else:
            low = middle
    found = chance_detected(animals, high, ill, finds)
    return GroupSize(high, found, if_all, expected_found(animals, high, ill, finds), 1, 1, METHOD, "")


def _exams_each(infected: int, sensitivity: float, confidence: float, correlation: float) -> int | None:
    """Return how many exams of every animal reach the confidence, or None."""
    if sensitivity == 0:
        return None
    may_miss = (1 - confidence + ROUNDING) ** (1 / infected)
    low, high = 0, MOST_NEGATIVES
    if chance_all_negative(sensitivity, high, correlation=correlation) > may_miss:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if chance_all_negative(sensitivity, middle, correlation=correlation) > may_miss:
            low = middle
        else:
            high = middle
    return high


def large_group_size(share_infected: float, confidence: float, sensitivity: float = 1.0) -> int:
    """Return the least number to examine in a very large group, where each animal drawn is like the first.

    Raises
    ------
    BadInput
        When the share or the sensitivity is 0: nothing can be found then.

    Examples
    --------
    >>> large_group_size(0.05, 0.95), large_group_size(0.05, 0.95, 0.9)
    (59, 66)
    """
    found = fraction(share_infected, "the share infected") * fraction(sensitivity, "the sensitivity")
    wanted = checked_confidence(confidence)
    if found == 0:
        raise BadInput(
            "With a share or a sensitivity of 0 nothing can be found, however many are examined.",
            next="Give a share above 0.",
            code="none-infected",
        )
    if found == 1:
        return 1
    return max(1, math.ceil(math.log1p(-wanted) / math.log1p(-found) - ROUNDING))


def sizes_by_infected(
    group: int, confidence: float, sensitivity: float = 1.0, *, rows: int = 8
) -> dict[int, int | None]:
    """Return the number to examine for one, two, three … infected animals; nobody knows how many there are.

    Examples
    --------
    >>> sizes_by_infected(10, 0.95, rows=4)
    {1: 10, 2: 8, 3: 6, 4: 5}
    """
    animals, _, _ = _checked(group, 0)
    return {
        infected: group_size(animals, infected, confidence, sensitivity).sample_size
        for infected in range(1, min(rows, animals) + 1)
    }
