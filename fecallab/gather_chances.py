"""The chances beside the answer: how likely an infection was before the exams and is after them, with sources."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fecallab.gather import SENSITIVITY, SENSITIVITY_SAYS

if TYPE_CHECKING:
    from fecallab.domain.quarantine import MixAnswer
    from fecallab.domain.quarantine_run import MemberRun
    from fecallab.domain.quarantine_starts import Situation

WHAT_LOWERS = (
    "more clean exams of stools from other days, of every animal; a laboratory test by the vet's choice"
)
OWN_PRIOR = "your own prior"


@dataclass(frozen=True)
class OwnerChance:
    """The chance of one owner: that the animal, or one or more in a tub, carries the target.

    Attributes
    ----------
    animal, name : str
        Code and name of the animal or tub.
    number : int
        How many animals it stands for.
    negatives : int
        Clean exams that counted.
    before : float
        The prior, for the owner as a whole.
    independent, cautious : float
        After the exams: as if exams told nothing of each other, and with light shedders that stay light.
    """

    animal: str
    name: str
    number: int
    negatives: int
    before: float
    independent: float
    cautious: float


@dataclass(frozen=True)
class GroupChance:
    """The chances of a contact group for one target.

    Attributes
    ----------
    target : str
        The group of parasites with the highest published share among those that the protocol asks for.
    prior : float
        Share of infected animals to start from.
    prior_says, sensitivity_says, lowers : str
        Where the prior comes from; what one exam is taken to find; what would lower the chance.
    owners : tuple of OwnerChance
        Animals and tubs.
    expected_before, expected_independent, expected_cautious : float
        How many owners of the group carry it on average.
    any_before, any_independent, any_cautious : float
        The chance that at least one does, as if owners were infected one without the other.
    """

    target: str
    prior: float
    prior_says: str
    sensitivity: float
    sensitivity_says: str
    lowers: str
    owners: tuple[OwnerChance, ...]
    expected_before: float
    expected_independent: float
    expected_cautious: float
    any_before: float
    any_independent: float
    any_cautious: float


def chances_of(answer: MixAnswer, situation: Situation, own_prior: float | None = None) -> GroupChance | None:
    """Return the chances of a contact group; None where no published share and no own prior is there."""
    from fecallab.domain.quarantine_exams import required_groups
    from fecallab.gather_arrivals import known_host
    from fecallab.reference.quarantine import prior_for

    targets: dict[str, tuple[float, str]] = {}
    for member in answer.members:
        protocol = situation.protocol_of(member.animal)
        for target in required_groups(protocol) if protocol is not None else ():
            host = known_host(situation.host_of(member.animal))
            row = prior_for(target, host)
            if row is None:
                continue
            said = f"{row.population}, {row.organism or target} ({row.source}, {row.source_kind})"
            if target not in targets or row.share > targets[target][0]:
                targets[target] = (row.share, said)
    if own_prior is not None:
        target = max(targets, key=lambda one: targets[one][0], default="any that the protocol asks for")
        prior, said = own_prior, OWN_PRIOR
    elif targets:
        target = max(targets, key=lambda one: targets[one][0])
        prior, said = targets[target]
    else:
        return None
    owners = tuple(_owner(member, prior) for member in answer.members)
    return GroupChance(
        target=target,
        prior=prior,
        prior_says=said,
        sensitivity=SENSITIVITY,
        sensitivity_says=SENSITIVITY_SAYS,
        lowers=WHAT_LOWERS,
        owners=owners,
        expected_before=sum(one.before for one in owners),
        expected_independent=sum(one.independent for one in owners),
        expected_cautious=sum(one.cautious for one in owners),
        any_before=_any(one.before for one in owners),
        any_independent=_any(one.independent for one in owners),
        any_cautious=_any(one.cautious for one in owners),
    )


def _any(chances: object) -> float:
    from math import prod

    return 1 - prod(1 - chance for chance in chances)  # type: ignore[attr-defined]


def _owner(member: MemberRun, prior: float) -> OwnerChance:
    """Return the chances of one owner; a tub is a pool in which one infected animal is thinned."""
    from fecallab.domain.pooling import sensitivity_in_pool
    from fecallab.domain.residual import residual_chance

    before = 1 - (1 - prior) ** member.number
    finds = SENSITIVITY if member.number == 1 else sensitivity_in_pool(SENSITIVITY, member.number)
    after = residual_chance(before, finds, member.k)
    return OwnerChance(
        member.animal, member.name, member.number, member.k, before, after.independent, after.cautious
    )
