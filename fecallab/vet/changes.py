"""What an answer would change: names, counts, grades, and where cases stand, before and after."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from fecallab.domain.casework import JudgedExam, counts_of
from fecallab.domain.exam import Exam
from fecallab.domain.verdict import differ, ruled, standing_words
from fecallab.domain.vet_words import Verdicts
from fecallab.gather import (
    case_standing,
    judge_alone,
    normal_inhabitant_note,
    targets_of,
    targets_seen,
)
from fecallab.records.reader import Reader
from fecallab.vet.incoming import Incoming
from fecallab.vet.item_words import NEW


@dataclass(frozen=True)
class NameChange:
    """One item: its number on the page, the keeper's name, the vet's word, and what it counts as then."""

    number: int | None
    item: str
    keeper: str
    word: str
    becomes: str
    remark: str
    vets_differ: bool


@dataclass(frozen=True)
class ResultChange:
    """What one exam says for one target, before and after."""

    exam: str
    target: str
    before: str
    after: str
    grade_before: str
    grade_after: str
    count_before: int
    count_after: int

    @property
    def changed(self) -> bool:
        """Whether anything differs."""
        return (self.before, self.grade_before, self.count_before) != (
            self.after,
            self.grade_after,
            self.count_after,
        )


@dataclass(frozen=True)
class StandingChange:
    """Where one case stands, before and after."""

    case: str
    animal: str
    target: str
    before: str
    after: str


@dataclass(frozen=True)
class Changes:
    """Everything that an answer would change."""

    names: tuple[NameChange, ...]
    agreed: int
    counts: Mapping[str, tuple[Mapping[str, int], Mapping[str, int]]]
    results: tuple[ResultChange, ...]
    standings: tuple[StandingChange, ...]
    opens: tuple[tuple[str, str], ...]


def with_words(exam: Exam, incoming: Incoming) -> Exam:
    """Return an exam with the words of an answer beside those that stand."""
    before = exam.verdicts
    verdicts = Verdicts(
        answers={**before.answers, NEW: replace(incoming.answer, code=NEW)},
        marks=(*before.marks, *(one for one in incoming.marks if one.exam == exam.code)),
        missed=(*before.missed, *(one for one in incoming.missed if one.exam == exam.code)),
        exams=(*before.exams, *(one for one in incoming.exams if one.exam == exam.code)),
    )
    return replace(exam, verdicts=verdicts)


def changes(reader: Reader, incoming: Incoming, today: date) -> Changes:
    """Return what an answer would change in these records."""
    names: list[NameChange] = []
    agreed = 0
    counts: dict[str, tuple[Mapping[str, int], Mapping[str, int]]] = {}
    results: list[ResultChange] = []
    after: dict[str, Exam] = {}
    animals: dict[str, None] = {}
    opens: dict[tuple[str, str], None] = {}
    for code in incoming.exam_codes:
        exam = reader.exam(code)
        said = with_words(exam, incoming)
        after[code] = said
        sample = reader.sample(exam.sample)
        animal = reader.animal(sample.animal)
        animals[animal.code] = None
        standing = standing_words(said.verdicts)
        for one in (each for each in incoming.marks if each.exam == code):
            if one.word == "agree with the rest":
                agreed += 1
                continue
            keeper = one.seen_name + ("" if one.seen_sure else " (not sure)")
            becomes = one.name + ("" if one.sure else " (not sure)")
            names.append(
                NameChange(
                    incoming.numbers.get(one.item),
                    one.item,
                    keeper,
                    one.word,
                    becomes,
                    one.remark,
                    differ(standing.get(one.item, [])),
                )
            )
        counts[code] = (_counts(exam), _counts(said))
        cases = reader.cases(animal.code)
        for target in targets_of(said, [*(case.target for case in cases), *targets_seen(exam)]):
            results.append(
                _result(judge_alone(exam, sample, animal, target), judge_alone(said, sample, animal, target))
            )
        known = {case.target for case in reader.cases(animal.code, open_only=True)}
        for target in targets_seen(said, unsure=False):
            new = target not in known and target not in targets_seen(exam, unsure=False)
            if new and not normal_inhabitant_note(said, target, animal):
                opens[animal.name, target] = None
    standings = [
        change
        for name in animals
        for case in reader.cases(name)
        if (change := _standing(reader, case.code, after, today)) is not None
    ]
    return Changes(tuple(names), agreed, counts, tuple(results), tuple(standings), tuple(opens))


def _counts(exam: Exam) -> dict[str, int]:
    whole = ruled(exam)
    found = dict(counts_of(whole))
    for name, number in counts_of(whole, sure=False).items():
        found[f"{name} (not sure)"] = number
    return {name: number for name, number in found.items() if number}


def _result(before: JudgedExam, after: JudgedExam) -> ResultChange:
    return ResultChange(
        exam=before.exam.code,
        target=before.target,
        before=before.result,
        after=after.result,
        grade_before=before.grade_word,
        grade_after=after.grade_word,
        count_before=sum(burden.total for burden in before.burdens),
        count_after=sum(burden.total for burden in after.burdens),
    )


def _standing(reader: Reader, case: str, after: Mapping[str, Exam], today: date) -> StandingChange | None:
    file = reader.case_file(case)
    changed = replace(file, exams=tuple(after.get(exam.code, exam) for exam in file.exams))
    stood, stands = (_said(*case_standing(each, today)[1:]) for each in (file, changed))
    return StandingChange(file.case.code, file.animal.name, file.case.target, stood, stands)


def _said(standing: object, closed: str) -> str:
    from fecallab.domain.followup import K_OF_N, Standing

    assert isinstance(standing, Standing)
    if closed:
        return closed
    if standing.standing == K_OF_N:
        return f"{standing.k} of {standing.n}"
    return standing.standing
