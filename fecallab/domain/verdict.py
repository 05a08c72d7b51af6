"""What vets have said, applied: an exam as the rules see it.

The keeper's own names stay in the exam. Whoever counts, judges or grades asks `ruled` first, and does so in
`fecallab.domain.casework` and `fecallab.domain.burden` alone, so that no two places can disagree.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TypeVar

from fecallab.domain.exam import Exam, Mark, Reading
from fecallab.domain.followup import GRADE_ORDERS
from fecallab.domain.items import count_key
from fecallab.domain.organism import NEVER_A_CASE
from fecallab.domain.vet_words import (
    ExamVerdict,
    MarkVerdict,
    MissedOrganism,
    Verdicts,
    VetAnswer,
)

NEAR_PX = 30.0
"""Two vets who point within this distance at the same group mean the same organism (own choice, no source)."""

_MEMO = "_ruled_by_vets"

W = TypeVar("W", MarkVerdict, MissedOrganism, ExamVerdict)


@dataclass(frozen=True)
class View:
    """What one item counts as: a name, how sure, and who says so."""

    name: str
    sure: bool
    eye_group: str
    by: str


def vet_key(name: str) -> str:
    """Return the form of a vet's name by which two answers are of the same vet.

    Examples
    --------
    >>> vet_key("Dr  Ilse VARNHOLT") == vet_key("dr ilse varnholt ")
    True
    """
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def _order(code: str) -> int:
    return int("".join(filter(str.isdigit, code)) or 0)


def by_time(words: Iterable[W], answers: Mapping[str, VetAnswer]) -> list[W]:
    """Return the words whose answer stands, the oldest answer first; the code settles a tie."""
    known = [word for word in words if word.answer in answers]
    return sorted(
        known,
        key=lambda word: (answers[word.answer].answered_at, _order(word.answer), _order(word.code)),
    )


def standing_words(verdicts: Verdicts) -> dict[str, list[MarkVerdict]]:
    """Return the words on each item that stand: the last one of every vet, oldest first, by the item's key."""
    last: dict[tuple[str, str], MarkVerdict] = {}
    for word in by_time(verdicts.marks, verdicts.answers):
        key = (word.item, vet_key(verdicts.answers[word.answer].vet))
        last.pop(key, None)
        last[key] = word
    found: dict[str, list[MarkVerdict]] = {}
    for (item, _), word in last.items():
        found.setdefault(item, []).append(word)
    return found


def views_of(words: Sequence[MarkVerdict], answers: Mapping[str, VetAnswer]) -> tuple[View, ...]:
    """Return what an item counts as by the standing words of all vets.

    Where vets differ, each group that one of them names stands (so the item is positive for every such
    target), ``cannot tell`` keeps the keeper's name unsure, and an artefact stands only when nobody names an
    organism. One item is never counted twice for one group.
    """
    organisms: dict[str, View] = {}
    nothing: View | None = None
    for word in words:
        view = View(word.name, word.sure, word.eye_group, answers[word.answer].vet)
        if word.eye_group in NEVER_A_CASE:
            if word.word == "cannot tell":
                organisms.setdefault(word.eye_group, view)
            else:
                nothing = view
            continue
        before = organisms.get(word.eye_group)
        if before is None or view.sure or not before.sure:
            organisms[word.eye_group] = view
    return tuple(organisms.values()) or ((nothing,) if nothing is not None else ())


def differ(words: Sequence[MarkVerdict]) -> bool:
    """Say whether vets differ about one item: in the group, or in whether it can be told."""
    return len({(word.eye_group, word.sure) for word in words}) > 1


def missed_once(verdicts: Verdicts) -> list[MissedOrganism]:
    """Return the organisms that vets added, each once though several vets point at it.

    Of those told without a place, the largest number of one group in one reading stands.
    """
    placed: list[MissedOrganism] = []
    told: dict[tuple[str, str], MissedOrganism] = {}
    for one in by_time(verdicts.missed, verdicts.answers):
        if one.x_px is None or one.y_px is None:
            key = (one.reading, one.eye_group)
            if key not in told or told[key].count < one.count:
                told[key] = one
            continue
        place = next((n for n, other in enumerate(placed) if _same_place(one, other)), None)
        if place is None:
            placed.append(one)
        elif one.sure and not placed[place].sure:
            placed[place] = one
    return [*placed, *told.values()]


def _same_place(one: MissedOrganism, other: MissedOrganism) -> bool:
    if (one.reading, one.eye_group) != (other.reading, other.eye_group):
        return False
    assert one.x_px is not None and one.y_px is not None
    assert other.x_px is not None and other.y_px is not None
    return (one.x_px - other.x_px) ** 2 + (one.y_px - other.y_px) ** 2 <= NEAR_PX**2


def ruled(exam: Exam) -> Exam:
    """Return an exam as the rules see it: what vets said in the place of the keeper's names.

    An ``agree`` on an unsure mark makes it sure, an artefact counts for nothing, ``cannot tell`` leaves it
    unsure, and a missed organism counts. A mark that a vet has named goes on counting when the keeper
    withdraws it afterwards, until the vet's word itself is withdrawn. An exam without a word of a vet is
    returned as it is.

    Parameters
    ----------
    exam : Exam
        As it is recorded, with its verdicts.

    Returns
    -------
    Exam
        With the same preparations and readings; its words on marks and missed organisms are used up.
    """
    verdicts = exam.verdicts
    if not (verdicts.marks or verdicts.missed):
        return exam
    found: Exam | None = exam.__dict__.get(_MEMO)
    if found is None:
        found = _ruled(exam)
        object.__setattr__(exam, _MEMO, found)  # an exam never changes, and many rules ask
    return found


def _ruled(exam: Exam) -> Exam:
    verdicts = exam.verdicts
    words = standing_words(verdicts)
    of_reading: dict[str, dict[str, list[MarkVerdict]]] = {}
    for item, said in words.items():
        of_reading.setdefault(said[0].reading, {})[item] = said
    missed: dict[str, list[MissedOrganism]] = {}
    for one in missed_once(verdicts):
        missed.setdefault(one.reading, []).append(one)
    preparations = tuple(
        replace(
            preparation,
            readings=tuple(
                _ruled_reading(
                    reading,
                    of_reading.get(reading.code, {}),
                    missed.get(reading.code, []),
                    verdicts.answers,
                )
                for reading in preparation.readings
            ),
        )
        for preparation in exam.preparations
    )
    return replace(exam, preparations=preparations, verdicts=replace(verdicts, marks=(), missed=()))


def _ruled_reading(
    reading: Reading,
    words: Mapping[str, list[MarkVerdict]],
    missed: Sequence[MissedOrganism],
    answers: Mapping[str, VetAnswer],
) -> Reading:
    if not words and not missed:
        return reading
    gone = [
        said
        for item, said in words.items()
        if ":" not in item and item not in {mark.code for mark in reading.marks}
    ]
    late = [view for said in gone for view in views_of(said, answers)]
    if not reading.marks:
        return _ruled_counts(reading, words, missed, late, answers)
    marks: list[Mark] = []
    for mark in reading.marks:
        said = words.get(mark.code)
        if said is None:
            marks.append(mark)
            continue
        marks += [
            replace(mark, name=view.name, sure=view.sure, named_by=view.by)
            for view in views_of(said, answers)
        ]
    marks += [Mark(x_px=0.0, y_px=0.0, name=view.name, sure=view.sure, named_by=view.by) for view in late]
    for one in missed:
        marks += [
            Mark(
                x_px=one.x_px or 0.0,
                y_px=one.y_px or 0.0,
                name=one.name,
                sure=one.sure,
                named_by=answers[one.answer].vet,
            )
        ] * one.count
    return replace(reading, marks=tuple(marks))


def _ruled_counts(
    reading: Reading,
    words: Mapping[str, list[MarkVerdict]],
    missed: Sequence[MissedOrganism],
    late: Sequence[View],
    answers: Mapping[str, VetAnswer],
) -> Reading:
    """Return a reading without marks, its counts by the vets' words."""
    held: dict[bool, dict[str, int]] = {True: {}, False: {}}

    def hold(name: str, sure: bool, number: int) -> None:
        held[sure][name] = held[sure].get(name, 0) + number

    for sure, counts in ((True, reading.counts), (False, reading.unsure)):
        for name, number in counts.items():
            said = words.get(count_key(reading.code, name, sure=sure))
            if said is None or number == 0:
                hold(name, sure, number)
                continue
            for view in views_of(said, answers):
                hold(view.name, view.sure, number)
    for view in late:
        hold(view.name, view.sure, 1)
    for one in missed:
        hold(one.name, one.sure, one.count)
    return replace(reading, counts=held[True], unsure=held[False])


def words_on_exam(exam: Exam, target: str = "") -> list[ExamVerdict]:
    """Return the words on the whole exam that stand: of each vet the last for a target, and the last for all."""
    verdicts = exam.verdicts
    last: dict[tuple[str, str], ExamVerdict] = {}
    for word in by_time(verdicts.exams, verdicts.answers):
        if target and word.target not in ("", target):
            continue
        key = (vet_key(verdicts.answers[word.answer].vet), word.target)
        last.pop(key, None)
        last[key] = word
    return list(last.values())


def adequacy_by_vets(exam: Exam, target: str) -> tuple[str, str]:
    """Return what vets say of an exam's adequacy for a target, and which of them.

    Returns
    -------
    word, vets : str
        ``not adequate`` when any vet says so; ``accept`` only when every vet who speaks of it accepts; else
        empty.
    """
    said = [word for word in words_on_exam(exam, target) if word.adequacy]
    answers = exam.verdicts.answers
    stricter = [answers[word.answer].vet for word in said if word.adequacy == "not adequate"]
    if stricter:
        return "not adequate", ", ".join(dict.fromkeys(stricter))
    if said and all(word.adequacy == "accept" for word in said):
        return "accept", ", ".join(dict.fromkeys(answers[word.answer].vet for word in said))
    return "", ""


def grade_by_vets(exam: Exam, target: str) -> str:
    """Return the grade that vets give a target; the heaviest where they differ, empty where none does."""
    words = [word.grade for word in words_on_exam(exam, target) if word.grade]
    for order in GRADE_ORDERS:
        known = [word for word in words if word in order]
        if known and len(known) == len(words):
            return max(known, key=order.index)
    return words[-1] if words else ""


def known_on(exam: Exam, day: date) -> Exam:
    """Return an exam with the words of vets that were said up to a day."""
    verdicts = exam.verdicts
    answers = {code: one for code, one in verdicts.answers.items() if one.answered_at.date() <= day}
    if len(answers) == len(verdicts.answers):
        return exam
    kept = Verdicts(
        answers=answers,
        marks=tuple(one for one in verdicts.marks if one.answer in answers),
        missed=tuple(one for one in verdicts.missed if one.answer in answers),
        exams=tuple(one for one in verdicts.exams if one.answer in answers),
    )
    return replace(exam, verdicts=kept)
