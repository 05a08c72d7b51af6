"""What vets have said, in words beside the keeper's own; how a keeper reads, beside the chance that is left."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fecallab.domain.keeper_and_vet import FEWEST_EXAMS, KeeperAndVet, Sensitivity
from fecallab.domain.spoken import say_percent

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from fecallab.domain.due import Due
    from fecallab.domain.exam import Exam
    from fecallab.domain.followup import Standing
    from fecallab.domain.vet_words import CaseWord, ExamVerdict
    from fecallab.records.casefile import CaseFile
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
        f" ({say_percent(share.share)}, 95 % interval {say_percent(share.low)} to {say_percent(share.high)}, exact). With that counted in:"
        f" {say_percent(ends[0])} to {say_percent(ends[1])} cautious. It rests on exams that you sent: what you never sent is not in"
        " it."
    )


def one_line(text: str) -> str:
    """Return a text that somebody wrote in one line."""
    return " ".join(text.split())


def _named(name: str, sure: bool) -> str:
    return name.replace("_", " ") + ("" if sure else " (not sure)")


def exam_word(said: ExamVerdict) -> str:
    """Return a word on a whole exam in one line, with the code of the exam."""
    return f"{said.exam}, {whole_word(said)}"


def whole_word(said: ExamVerdict) -> str:
    """Return a word on a whole exam in one line."""
    parts = [f"grade {one_line(said.grade)}"] if said.grade else []
    adequacy = {"agree": "adequacy as the table says", "not adequate": "not adequate", "accept": "accepted"}
    parts += [adequacy[said.adequacy]] if said.adequacy else []
    parts += [f"pictures {said.picture_quality}"] if said.picture_quality else []
    parts += [one_line(said.remark)] if said.remark else []
    return f"{f'for {said.target}' if said.target else 'on the whole exam'}: {'; '.join(parts) or 'nothing said'}"


def verdict_lines(exam: Exam) -> list[str]:
    """Return the words of vets on an exam beside the keeper's names, a line each; none when no vet spoke."""
    from fecallab.domain.verdict import differ, missed_once, standing_words, views_of, words_on_exam

    said = exam.verdicts
    if not said:
        return []
    marks = {
        mark.code: mark
        for preparation in exam.preparations
        for reading in preparation.readings
        for mark in reading.marks
    }
    lines: list[str] = []
    rest: dict[str, int] = {}
    for item, words in standing_words(said).items():
        vets = [said.answers[word.answer].vet for word in words]
        if len(words) == 1 and words[0].word == "agree with the rest":
            rest[vets[0]] = rest.get(vets[0], 0) + 1
            continue
        own = marks.get(item)
        if own is None:
            keeper = _named(words[0].seen_name, words[0].seen_sure)
            keeper += ", withdrawn since" if ":" not in item else ""
        else:
            keeper = _named(own.name, own.sure)
        told = "; ".join(
            f"{one_line(vet)}: {word.word}"
            + (f", {_named(word.name, word.sure)}" if word.word == "other" else "")
            + (f" ({one_line(word.remark)})" if word.remark else "")
            for vet, word in zip(vets, words, strict=True)
        )
        counts = ", ".join(_named(view.name, view.sure) for view in views_of(words, said.answers))
        lines.append(
            f"{item}: you {keeper}; {told}; counts as {counts}{' (vets differ)' if differ(words) else ''}"
        )
    lines = [
        *(
            f"{one_line(vet)} agrees with the rest as you named it: {number} {'marks or counts' if number > 1 else 'mark or count'}"
            for vet, number in rest.items()
        ),
        *lines,
    ]
    for one in missed_once(said):
        vet = one_line(said.answers[one.answer].vet)
        lines.append(f"{one.reading}: {vet} adds {one.count} {_named(one.name, one.sure)} that you missed")
    lines += [f"{one_line(said.answers[w.answer].vet)}: {whole_word(w)}" for w in words_on_exam(exam)]
    return lines


def case_word_notes(words: Sequence[CaseWord]) -> list[str]:
    """Return the vet's advice on a case, and the plans that wait to be read over, a line each."""
    lines = [f"The vet's advice ({word.code}): {one_line(word.advice)}" for word in words if word.advice]
    return lines + [
        f"A plan of the vet waits to be read over by you ({word.code}): fecallab verdict plan {word.code}"
        for word in words
        if word.open
    ]


def vets_differ(exams: Iterable[Exam]) -> list[str]:
    """Return a note for every exam in which vets differ about a mark."""
    from fecallab.domain.verdict import differ, standing_words

    notes = []
    for exam in exams:
        items = [item for item, words in standing_words(exam.verdicts).items() if differ(words)]
        if items:
            shown = ", ".join(items[:5]) + (", …" if len(items) > 5 else "")
            notes.append(
                f"Exam {exam.code}: vets differ on {shown}. The stricter reading holds for a negative."
            )
    return notes


def after_words(thing: Due, file: CaseFile) -> Due:
    """Return what comes next for a case: first of all to read over a plan that the vet has sent."""
    from dataclasses import replace

    waiting = [word.code for word in file.words if word.open]
    if not waiting or file.closing is not None:
        return thing
    step = f"fecallab verdict plan {waiting[-1]}"
    why = f"The vet sent a plan with an answer ({waiting[-1]}); it holds only after you have read it over."
    return replace(thing, what="read over the vet's plan", on_or_after=None, why=why, next=step)
