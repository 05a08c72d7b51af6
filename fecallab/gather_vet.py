"""What the records say of how a keeper reads, beside the chance that infection is left."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fecallab.domain.keeper_and_vet import FEWEST_EXAMS, KeeperAndVet, Sensitivity

if TYPE_CHECKING:
    from fecallab.domain.exam import Exam
    from fecallab.domain.followup import Standing
    from fecallab.records.reader import Reader

NOT_BLIND = (
    "The vet saw your names, and only what you sent: agreement looks better here than between two readers who"
    " know nothing of each other."
)


def keeper_and_vet_of(reader: Reader, by: str = "") -> KeeperAndVet:
    """Return how the names of a keeper (of all, when none is named) compare with those of vets."""
    from fecallab.domain.keeper_and_vet import keeper_and_vet
    from fecallab.domain.organism import TARGET_GROUPS
    from fecallab.records.vet_words import exams_with_words
    from fecallab.reference.adequacy import adequacy_facts

    return keeper_and_vet(exams_with_words(reader), adequacy_facts().group_of, TARGET_GROUPS, by)


def keeper_sensitivity(reader: Reader, target: str) -> Sensitivity:
    """Return how often this collection's keepers surely found a target that a vet surely found."""
    from fecallab.domain.keeper_and_vet import sensitivity_of
    from fecallab.records.vet_words import exams_with_words
    from fecallab.reference.adequacy import adequacy_facts

    exams: list[Exam] = exams_with_words(reader)
    return sensitivity_of(exams, adequacy_facts().group_of, target)


def reading_words(standing: Standing, found: Sensitivity | None) -> str:
    """Return what the keeper's own reading does to the chance that is left; empty where no exam has counted.

    The chance takes a keeper who sees what lies under the lens; the exam's chance to find an infection is
    multiplied with both ends of the keeper's own interval.
    """
    from fecallab.domain.residual import residual_chance
    from fecallab.gather import PRIOR, SENSITIVITY

    if found is None or not standing.k or standing.n is None:
        return ""
    if not found.enough or found.share is None:
        return (
            "That takes a keeper who sees what lies under the lens. Your own reading: a vet found it in"
            f" {found.exams} exam{'' if found.exams == 1 else 's'} that were looked over whole; from"
            f" {FEWEST_EXAMS} on it is counted in here."
        )
    share = found.share
    ends = [residual_chance(PRIOR, SENSITIVITY * end, standing.k).cautious for end in (share.high, share.low)]
    return (
        f"Your own reading: you found it in {share.found} of {share.of} exams in which a vet did"
        f" ({share.share:.0%}, 95 % interval {share.low:.0%} to {share.high:.0%}, exact). With that counted in:"
        f" {ends[0]:.1%} to {ends[1]:.1%} cautious. It rests on exams that you sent: what you never sent is not in"
        " it."
    )
