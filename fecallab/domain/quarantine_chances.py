"""Beside the rule: the chance that infection is still in the group, per animal and in numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fecallab.domain.pooling import sensitivity_in_pool
from fecallab.domain.quarantine_run import MemberRun
from fecallab.domain.residual import HUMAN_CORRELATION, negatives_needed, residual_chance
from fecallab.domain.spoken import say_date

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
    found_says : str
        What was found in the group already, and what the chances do not say of it; empty when nothing was.
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
    found_says: str = ""


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


def found_words(target: str, found: Mapping[str, Sequence[tuple[str, date]]]) -> str:
    """Return what the chances for a target do not say of what was found.

    Parameters
    ----------
    target : str
        Which group the chances are for.
    found : mapping
        For each group that was found: in whom, and the last day.

    Examples
    --------
    >>> found_words("oxyurid", {"coccidian": [("Thistle", date(2026, 4, 5))]})
    'Only for oxyurid: they say nothing of coccidian, which was found (in Thistle, last on 5 April 2026).'
    >>> found_words("oxyurid", {"oxyurid": [("Thistle", date(2026, 4, 5)), ("Sedge", date(2026, 4, 2))]})
    'oxyurid was found (in Thistle, last on 5 April 2026, and 1 more): there the chance before was higher than this one.'
    """
    said = []
    others = [group for group in sorted(found) if group != target]
    if others:
        which = " and ".join(f"{group}, which was found ({_in_whom(found[group])})" for group in others)
        said.append(f"Only for {target}: they say nothing of {which}.")
    if target in found:
        said.append(
            f"{target} was found ({_in_whom(found[target])}): there the chance before was higher than this one."
        )
    return " ".join(said)


def _in_whom(found: Sequence[tuple[str, date]]) -> str:
    (name, day), *others = sorted(found, key=lambda one: (-one[1].toordinal(), one[0]))
    more = f", and {len(others)} more" if others else ""
    return f"in {name}, last on {say_date(day)}{more}"


def group_chance(
    target: str,
    members: Sequence[MemberRun],
    *,
    prior: float,
    prior_says: str,
    sensitivity: float,
    sensitivity_says: str,
    correlation: float = HUMAN_CORRELATION,
    found: Mapping[str, Sequence[tuple[str, date]]] | None = None,
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
    found : mapping, optional
        What was found already, for `found_words`.

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
        found_says=found_words(target, found or {}),
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
