"""The chances beside the answer: which target, which prior, from where; the rule itself is in the domain."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fecallab.gather import SENSITIVITY, SENSITIVITY_SAYS

if TYPE_CHECKING:
    from datetime import date

    from fecallab.domain.quarantine import MixAnswer
    from fecallab.domain.quarantine_chances import GroupChance
    from fecallab.domain.quarantine_exposure import Situation

OWN_PRIOR = "your own prior"


def chances_of(answer: MixAnswer, situation: Situation, own_prior: float | None = None) -> GroupChance | None:
    """Return the chances of a contact group, for the target with the highest published share among those asked for.

    Parameters
    ----------
    own_prior : float, optional
        The keeper's own share of infected animals to start from, instead of a published one.

    Returns
    -------
    GroupChance or None
        None where no published share is known for these hosts and none was given.
    """
    from fecallab.domain.quarantine_chances import group_chance
    from fecallab.domain.quarantine_exams import required_groups
    from fecallab.gather_arrivals import known_host
    from fecallab.reference.quarantine import prior_for

    found: dict[str, tuple[float, str]] = {}
    for member in answer.members:
        protocol = situation.protocol_of(member.animal)
        for target in required_groups(protocol) if protocol is not None else ():
            row = prior_for(target, known_host(situation.host_of(member.animal)))
            if row is not None and row.share > found.get(target, (-1.0, ""))[0]:
                found[target] = (row.share, f"{row.population} ({row.source}, {row.source_kind})")
    if not found and own_prior is None:
        return None
    target = max(found, key=lambda one: found[one][0], default="what the protocol asks for")
    prior, said = found.get(target, (0.0, ""))
    if own_prior is not None:
        prior, said = own_prior, OWN_PRIOR
    return group_chance(
        target,
        answer.members,
        prior=prior,
        prior_says=said,
        sensitivity=SENSITIVITY,
        sensitivity_says=SENSITIVITY_SAYS,
        found=_found_in(answer, situation),
    )


def _found_in(answer: MixAnswer, situation: Situation) -> dict[str, list[tuple[str, date]]]:
    """Return what was found in the animals of a contact group and blocks, with the last day of each."""
    found: dict[str, list[tuple[str, date]]] = {}
    for group, last in situation.positives.items():
        for member in answer.members:
            if member.animal in last and situation.blocks(member.animal, group):
                found.setdefault(group, []).append((member.name, last[member.animal]))
    return found
