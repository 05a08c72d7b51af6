"""Beside the rule: the chance that infection is still in the group, per animal and in numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fecallab.domain.pooling import sensitivity_in_pool
from fecallab.domain.quarantine_run import MemberRun
from fecallab.domain.residual import HUMAN_CORRELATION, negatives_needed, residual_chance

GOAL = 0.05
"""Chance per animal that the remark on further negatives works towards (a round figure, no source)."""

GROUP_NOTE = (
    "The expected number holds however the animals hang together. The chance for the group is for animals that are "
    "infected by themselves; animals that share infect each other, then it lies lower, never below that of the "
    "likeliest one."
)


@dataclass(frozen=True)
class MemberChance:
    """The chance that one animal (each one of a tub) is infected, after its negatives.

    ``sensitivity`` is the chance that one exam of its owner would have shown it: lower in a tub, whose exams see
    only some animals, thinned by the others.
    """

    animal: str
    name: str
    number: int
    negatives: int
    sensitivity: float
    independent: float
    cautious: float


@dataclass(frozen=True)
class GroupChance:
    """The chance for one target in a contact group, before and after, exams independent and cautious.

    Attributes
    ----------
    animals : int
        How many animals.
    prior, prior_says : float, str
        Chance before the exams, and where it comes from.
    sensitivity, sensitivity_says : float, str
        Chance that one exam of an infected animal's own stool finds it, and where that comes from.
    expected_before, expected_left, expected_left_cautious : float
        Infected animals, in numbers.
    any_before, any_left, any_left_cautious : float
        Chance that at least one is infected, if each is by itself.
    negatives_for_goal, negatives_for_goal_cautious : int or None
        Negatives of each animal that bring it to `GOAL` or below; None when no number does.
    lowers : str
        What would lower it.
    """

    target: str
    animals: int
    prior: float
    prior_says: str
    sensitivity: float
    sensitivity_says: str
    correlation: float
    correlation_says: str
    expected_before: float
    expected_left: float
    expected_left_cautious: float
    any_before: float
    any_left: float
    any_left_cautious: float
    negatives_for_goal: int | None
    negatives_for_goal_cautious: int | None
    lowers: str
    members: tuple[MemberChance, ...]
    note: str = GROUP_NOTE


def chance_any(chances: Sequence[tuple[float, int]]) -> float:
    """Return the chance that at least one is infected, from (chance, number of animals), each by itself.

    Examples
    --------
    >>> round(chance_any([(0.5, 2), (0.0, 10)]), 6), chance_any([(1.0, 1)]), chance_any([])
    (0.75, 1.0, 0.0)
    """
    held = [(chance, number) for chance, number in chances if number > 0]
    if any(chance >= 1 for chance, _ in held):
        return 1.0
    return max(0.0, -math.expm1(sum(number * math.log1p(-chance) for chance, number in held)))


def group_chance(
    target: str,
    members: Sequence[MemberRun],
    *,
    prior: float,
    prior_says: str,
    sensitivity: float,
    sensitivity_says: str,
    correlation: float = HUMAN_CORRELATION,
) -> GroupChance:
    """Return the chances for one target in a contact group.

    Parameters
    ----------
    target : str
        A target group.
    members : sequence of MemberRun
        Those in quarantine, from `may_mix`; the exams that counted are their negatives.
    prior, sensitivity : float
        0-1, each with words for where it comes from.

    Raises
    ------
    BadInput
        For chances outside 0-1, or a prior and a sensitivity of 1 beside a negative.
    """
    rows: list[MemberChance] = []
    note = ""
    for member in members:
        held = min(member.held, member.number)
        share = held / max(member.number, 1)
        finds = share * sensitivity_in_pool(sensitivity, max(held, 1)) if member.number > 1 else sensitivity
        left = residual_chance(prior, finds, len(member.counted), correlation)
        note = left.note
        rows.append(
            MemberChance(
                member.animal,
                member.name,
                member.number,
                len(member.counted),
                finds,
                left.independent,
                left.cautious,
            )
        )
    animals = sum(row.number for row in rows)
    alone, together = (
        negatives_needed(prior, sensitivity, GOAL, correlation=rho) for rho in (0.0, correlation)
    )
    return GroupChance(
        target=target,
        animals=animals,
        prior=prior,
        prior_says=prior_says,
        sensitivity=sensitivity,
        sensitivity_says=sensitivity_says,
        correlation=correlation,
        correlation_says=note,
        expected_before=animals * prior,
        expected_left=math.fsum(row.number * row.independent for row in rows),
        expected_left_cautious=math.fsum(row.number * row.cautious for row in rows),
        any_before=chance_any([(prior, animals)]),
        any_left=chance_any([(row.independent, row.number) for row in rows]),
        any_left_cautious=chance_any([(row.cautious, row.number) for row in rows]),
        negatives_for_goal=alone,
        negatives_for_goal_cautious=together,
        lowers=_lowers(rows, alone, together),
        members=tuple(rows),
    )


def _lowers(rows: Sequence[MemberChance], alone: int | None, together: int | None) -> str:
    said = (
        f"More clean exams of separate stools (to {100 * GOAL:g} % each: {_number(alone)} in all if exams are "
        f"independent, {_number(together)} cautious), a method that finds more, a laboratory's test by the vet's "
        "choice."
    )
    if any(row.number > 1 for row in rows):
        said += " In a tub: a stool of each animal by itself, or samples that hold stool of every one."
    return said


def _number(exams: int | None) -> str:
    return "out of reach" if exams is None else str(exams)
