"""How a keeper's names compare with those of vets, target by target and over time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fecallab.domain.agreement import Agreement, agreement
from fecallab.domain.exam import Exam
from fecallab.domain.verdict import missed_once, ruled, standing_words, vet_key

FEWEST_MARKS = 20
"""Fewer marks of a target than this say nothing about how reliable its namer is (own choice, no source)."""
RELIABLE_FROM = 0.8
"""Lower limit of the share named alike from which a keeper is called reliable (own choice, no source)."""
FEWEST_EXAMS = 10
"""Fewer exams in which a vet found a target give no sensitivity of the keeper (own choice, no source)."""

TOO_FEW = "too few yet"
RELIABLE = "reliable so far"
SEND_MORE = "send these to the vet"


@dataclass(frozen=True)
class Pair:
    """One mark named by both: groups that the eye can tell, ``""`` where one of them saw nothing."""

    exam: str
    keeper: str
    keeper_sure: bool
    vet: str
    vet_sure: bool
    with_the_rest: bool
    said_on: date


@dataclass(frozen=True)
class Share:
    """``found`` of ``of``, with its 95 % interval (Clopper and Pearson, exact)."""

    found: int
    of: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """The share itself."""
        return self.found / self.of


def exact_share(found: int, of: int, level: float = 0.95) -> Share:
    """Return a share with its exact interval (Clopper and Pearson 1934): never narrower than it says.

    Parameters
    ----------
    found, of : int
        0 ≤ found ≤ of, of at least 1.
    level : float
        Confidence, a fraction.

    Examples
    --------
    >>> found = exact_share(9, 10)
    >>> round(found.low, 4), round(found.high, 4)
    (0.555, 0.9975)
    """
    from scipy.stats import beta

    if not 0 <= found <= of or of < 1:
        raise ValueError("a share needs 0 <= found <= of, of at least 1")
    tail = (1 - level) / 2
    low = float(beta.ppf(tail, found, of - found + 1)) if found else 0.0
    high = float(beta.ppf(1 - tail, found + 1, of - found)) if found < of else 1.0
    return Share(found, of, low, high)


@dataclass(frozen=True)
class TargetAgreement:
    """Keeper against vets for one target.

    Attributes
    ----------
    table : ((both, keeper only), (vet only, neither))
        Rows the keeper, columns the vet; the first of each is "it is the target". ``vet only`` includes what
        the keeper missed.
    found : Agreement
        Kappa with interval, AC1, positive and negative agreement.
    named_alike : Share or None
        Of the marks that either calls the target, those that both do; None where there is none.
    unsure, unsure_confirmed : int
        Marks of which the keeper was not sure, and of those the ones that the vet called the same.
    verdict : str
        `TOO_FEW`, `RELIABLE` or `SEND_MORE`.
    """

    target: str
    table: tuple[tuple[int, int], tuple[int, int]]
    found: Agreement
    named_alike: Share | None
    missed: int
    unsure: int
    unsure_confirmed: int
    verdict: str


@dataclass(frozen=True)
class Sensitivity:
    """Of the exams in which a vet surely found a target, those in which the keeper had found it surely too.

    ``enough`` tells whether there are `FEWEST_EXAMS`; only exams that a vet looked over as a whole count.
    """

    target: str
    share: Share | None
    exams: int

    @property
    def enough(self) -> bool:
        """Whether there are enough exams to say it."""
        return self.share is not None and self.exams >= FEWEST_EXAMS


@dataclass(frozen=True)
class KeeperAndVet:
    """Everything that is known of how a keeper's names compare with those of vets."""

    pairs: int
    exams: int
    cannot_tell: int
    with_the_rest: int
    targets: tuple[TargetAgreement, ...]
    periods: tuple[tuple[str, int, float, float | None], ...]
    sensitivities: tuple[Sensitivity, ...]


def pairs_of(exam: Exam, group_of: Mapping[str, str]) -> tuple[list[Pair], int]:
    """Return the marks of an exam that vets have named, and how many they could not tell.

    Counts without a picture are left out: the vet saw nothing of them.
    """
    said = exam.verdicts
    found: list[Pair] = []
    cannot_tell = 0
    for item, words in standing_words(said).items():
        if ":" in item:
            continue
        for word in words:
            if word.word == "cannot tell":
                cannot_tell += 1
                continue
            found.append(
                Pair(
                    exam.code,
                    group_of.get(word.seen_name, word.seen_name),
                    word.seen_sure,
                    word.eye_group,
                    word.sure,
                    word.word == "agree with the rest",
                    said.answers[word.answer].answered_at.date(),
                )
            )
    for one in missed_once(said):
        when = said.answers[one.answer].answered_at.date()
        found += [Pair(exam.code, "", False, one.eye_group, one.sure, False, when)] * one.count
    return found, cannot_tell


def keeper_and_vet(
    exams: Iterable[Exam], group_of: Mapping[str, str], targets: Sequence[str], by: str = ""
) -> KeeperAndVet:
    """Compare the names of a keeper (of all, when none is named) with those of vets.

    Parameters
    ----------
    exams : iterable of Exam
        With their verdicts.
    group_of : mapping
        The group that the eye can tell, by organism key or group.
    targets : sequence of str
        The groups that a case can be about, in the order to show.
    by : str
        Who read the exams.
    """
    mine = [exam for exam in exams if exam.verdicts and (not by or vet_key(exam.by) == vet_key(by))]
    pairs: list[Pair] = []
    cannot_tell = 0
    for exam in mine:
        more, unclear = pairs_of(exam, group_of)
        pairs += more
        cannot_tell += unclear
    seen = {pair.keeper for pair in pairs} | {pair.vet for pair in pairs}
    return KeeperAndVet(
        pairs=len(pairs),
        exams=len({pair.exam for pair in pairs}),
        cannot_tell=cannot_tell,
        with_the_rest=sum(pair.with_the_rest for pair in pairs),
        targets=tuple(_of_target(target, pairs) for target in targets if target in seen),
        periods=tuple(_periods(pairs)),
        sensitivities=tuple(
            found for target in targets if (found := sensitivity_of(mine, group_of, target)).exams
        ),
    )


def _of_target(target: str, pairs: Sequence[Pair]) -> TargetAgreement:
    both = sum(pair.keeper == target == pair.vet for pair in pairs)
    keeper_only = sum(pair.keeper == target != pair.vet for pair in pairs)
    vet_only = sum(pair.vet == target != pair.keeper for pair in pairs)
    neither = len(pairs) - both - keeper_only - vet_only
    either = both + keeper_only + vet_only
    share = exact_share(both, either) if either else None
    unsure = [pair for pair in pairs if pair.keeper == target and not pair.keeper_sure]
    if either < FEWEST_MARKS or share is None:
        verdict = TOO_FEW
    else:
        verdict = RELIABLE if share.low >= RELIABLE_FROM else SEND_MORE
    return TargetAgreement(
        target=target,
        table=((both, keeper_only), (vet_only, neither)),
        found=agreement([[both, keeper_only], [vet_only, neither]]),
        named_alike=share,
        missed=sum(pair.vet == target and not pair.keeper for pair in pairs),
        unsure=len(unsure),
        unsure_confirmed=sum(pair.vet == target for pair in unsure),
        verdict=verdict,
    )


def _periods(pairs: Sequence[Pair]) -> Iterable[tuple[str, int, float, float | None]]:
    """Yield each quarter of a year: how many marks, the share named alike, and kappa over all names."""
    by_quarter: dict[str, list[Pair]] = {}
    for pair in sorted(pairs, key=lambda pair: pair.said_on):
        quarter = f"{pair.said_on.year}, {3 * ((pair.said_on.month - 1) // 3) + 1:02d} to {3 * ((pair.said_on.month - 1) // 3) + 3:02d}"
        by_quarter.setdefault(quarter, []).append(pair)
    for quarter, mine in by_quarter.items():
        names = sorted({pair.keeper for pair in mine} | {pair.vet for pair in mine})
        names = names if len(names) > 1 else [*names, "(none other)"]
        place = {name: number for number, name in enumerate(names)}
        table = [[0] * len(names) for _ in names]
        for pair in mine:
            table[place[pair.keeper]][place[pair.vet]] += 1
        found = agreement(table)
        yield quarter, len(mine), found.agreement, found.kappa


def looked_over_whole(exam: Exam) -> bool:
    """Say whether a vet looked over all of an exam: agreed with the rest, added something, or named every mark."""
    said = exam.verdicts
    if said.missed or any(word.word == "agree with the rest" for word in said.marks):
        return bool(said)
    marks = [m.code for p in exam.preparations for r in p.readings for m in r.marks]
    return bool(marks) and set(marks) <= set(standing_words(said))


def sensitivity_of(exams: Iterable[Exam], group_of: Mapping[str, str], target: str) -> Sensitivity:
    """Return how often a keeper surely found what a vet surely found, exam by exam.

    Only the exams that were sent, and of those the ones that a vet looked over whole, can speak; a keeper who
    sends only what was found has a share that is too good.
    """
    found = of = 0
    for exam in exams:
        if not looked_over_whole(exam):
            continue
        if not _surely_there(ruled(exam), group_of, target):
            continue
        of += 1
        found += _surely_there(exam, group_of, target)
    return Sensitivity(target, exact_share(found, of) if of else None, of)


def _surely_there(exam: Exam, group_of: Mapping[str, str], target: str) -> bool:
    return any(
        number > 0 and group_of.get(name, name) == target
        for preparation in exam.preparations
        for reading in preparation.readings
        for name, number in reading.tally().items()
    )
