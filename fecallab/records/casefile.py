"""Everything that the standing of a case is worked out from, read in a bounded number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.animal import Animal, AnimalEvent, CareEntry, Measurement, Weighing
from fecallab.domain.case import Case, Closing
from fecallab.domain.control import ControlRun
from fecallab.domain.exam import Exam
from fecallab.domain.plan import DoseGiven, DoseReaction, OtherDrugGiven, Plan
from fecallab.domain.sample import Sample
from fecallab.domain.signs import SignAnswer
from fecallab.domain.vet_words import CaseWord, VetAnswer, VetPage
from fecallab.records import schema
from fecallab.records.rows import (
    ANIMAL,
    ANSWER,
    CARE,
    CASE,
    CASE_WORD,
    CLOSING,
    DOSE,
    EVENT,
    MEASUREMENT,
    OTHER_DRUG,
    PLAN,
    REACTION,
    SAMPLE,
    SIGN,
    WEIGHING,
    code_order,
)
from fecallab.records.trees import Codes, among, current, facts, load_cases, load_exams


@dataclass(frozen=True, kw_only=True)
class CaseFile:
    """One case with all that its standing rests on.

    Plans, doses, exams, events, weighings and care stand in the order in which things happened; ``samples``
    are those of the animal by their code; ``words`` are those of vets on this case; ``reactions`` are those to the doses of this case, ``signs``,
    ``measurements`` and ``other_drugs`` (given outside of any plan) are the animal's.
    """

    case: Case
    animal: Animal
    plans: tuple[Plan, ...] = ()
    doses: tuple[DoseGiven, ...] = ()
    samples: Mapping[str, Sample]
    exams: tuple[Exam, ...] = ()
    events: tuple[AnimalEvent, ...] = ()
    closings: tuple[Closing, ...] = ()
    weighings: tuple[Weighing, ...] = ()
    care: tuple[CareEntry, ...] = ()
    reactions: tuple[DoseReaction, ...] = ()
    other_drugs: tuple[OtherDrugGiven, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    signs: tuple[SignAnswer, ...] = ()
    words: tuple[CaseWord, ...] = ()

    @property
    def plan(self) -> Plan | None:
        """The plan that is in force: the last one written."""
        return self.plans[-1] if self.plans else None

    @property
    def closing(self) -> Closing | None:
        """The act that closed the case, None while it is open."""
        return self.closings[-1] if self.closings else None

    @property
    def exams_with_samples(self) -> tuple[tuple[Exam, Sample], ...]:
        """Every exam with the sample that was read."""
        return tuple((exam, self.samples[exam.sample]) for exam in self.exams if exam.sample in self.samples)


def open_case_codes() -> Codes:
    """Return the query for the codes of the cases that no closing has ended."""
    table = schema.cases
    closed = current(CLOSING).where(schema.closings.c.case == table.c.code).correlate(table).exists()
    return current(CASE).where(~closed).with_only_columns(table.c.code)


def load_case_files(
    connection: Connection, which: Codes, *, tallies_only: bool = False, of_case_only: bool = False
) -> list[CaseFile]:
    """Return the files of the cases whose codes `which` yields, in the order of their codes.

    The number of queries is the same for one case and for a thousand. With `tallies_only` the marks are
    counted and not listed, see `trees.load_exams`. With `of_case_only` exams of stools from before a case
    are left out: its standing never rests on them.
    """
    t = schema
    cases = load_cases(connection, t.cases.c.code.in_(which))

    def of(column: sa.ColumnElement[str], codes: Iterable[str]) -> sa.ColumnElement[bool]:
        return column.in_(among(connection, codes))

    case_codes, owners = [case.code for case in cases], [case.animal for case in cases]
    animals = {animal.code: animal for animal in facts(connection, ANIMAL, of(t.animals.c.code, owners))}
    written = facts(connection, PLAN, of(t.plans.c.case, case_codes))
    given = facts(connection, DOSE, of(t.doses_given.c.plan, [plan.code for plan in written]))
    taken = facts(connection, SAMPLE, of(t.samples.c.animal, owners))
    enclosures = {animal.enclosure for animal in animals.values()} - {""}
    cared_for = sa.or_(of(t.care_entries.c.animal, owners), of(t.care_entries.c.enclosure, enclosures))
    cared = facts(connection, CARE, cared_for)
    plans, doses, samples = _by("case", written), _by("plan", given), _by("animal", taken)
    events = _by("animal", facts(connection, EVENT, of(t.animal_events.c.animal, owners)))
    closings = _by("case", facts(connection, CLOSING, of(t.closings.c.case, case_codes)))
    weighings = _by("animal", facts(connection, WEIGHING, of(t.weighings.c.animal, owners)))
    of_doses = of(t.dose_reactions.c.dose, [dose.code for dose in given])
    reactions = _by("dose", facts(connection, REACTION, of_doses))
    others = _by("animal", facts(connection, OTHER_DRUG, of(t.other_drugs.c.animal, owners)))
    measured = _by("animal", facts(connection, MEASUREMENT, of(t.measurements.c.animal, owners)))
    signs = _by("animal", facts(connection, SIGN, of(t.sign_answers.c.animal, owners)))
    words = _by("case", _dated(connection, facts(connection, CASE_WORD, of(t.case_words.c.case, case_codes))))
    since = dict.fromkeys(owners, date.min)
    if of_case_only:
        since = {owner: min(case.exams_since for case in cases if case.animal == owner) for owner in owners}
    read = [sample.code for sample in taken if sample.taken_on >= since[sample.animal]]
    exam_codes = sa.select(t.exams.c.code).where(of(t.exams.c.sample, read))
    exams = _by("sample", load_exams(connection, exam_codes, tallies_only=tallies_only))
    files = []
    for case in cases:
        animal = animals[case.animal]
        mine = {sample.code: sample for sample in in_time(samples[animal.code])}
        my_plans = in_time(plans[case.code])
        my_doses = in_time(dose for plan in my_plans for dose in doses[plan.code])
        files.append(
            CaseFile(
                case=case,
                animal=animal,
                plans=tuple(my_plans),
                doses=tuple(my_doses),
                samples=mine,
                exams=tuple(
                    in_time(
                        exam
                        for sample in mine.values()
                        for exam in exams[sample.code]
                        if not of_case_only or sample.taken_on >= case.exams_since
                    )
                ),
                events=tuple(in_time(events[animal.code])),
                closings=tuple(in_time(closings[case.code])),
                weighings=tuple(in_time(weighings[animal.code])),
                care=tuple(in_time(entry for entry in cared if concerns(entry, animal))),
                reactions=tuple(in_time(each for dose in my_doses for each in reactions[dose.code])),
                other_drugs=tuple(in_time(others[animal.code])),
                measurements=tuple(in_time(measured[animal.code])),
                signs=tuple(in_time(signs[animal.code])),
                words=tuple(words[case.code]),
            )
        )
    return files


def _dated(connection: Connection, words: list[CaseWord]) -> list[CaseWord]:
    """Return words on cases with the day of their answer."""
    if not words:
        return []
    table = schema.vet_answers
    named = table.c.code.in_(sa.select(schema.case_words.c.answer))
    days = {one.code: one.answered_at.date() for one in facts(connection, ANSWER, named)}
    return [replace(word, said_on=days.get(word.answer)) for word in words]


def concerns(entry: CareEntry, animal: Animal) -> bool:
    """Say whether care was given to this animal, or to the whole enclosure that it lives in."""
    if entry.animal:
        return entry.animal == animal.code
    return entry.enclosure != "" and entry.enclosure == animal.enclosure


_WHEN = {
    Weighing: "weighed_at",
    AnimalEvent: "start",
    CareEntry: "at",
    Exam: "examined_at",
    Case: "opened_on",
    Plan: "written_on",
    DoseGiven: "given_at",
    Closing: "closed_on",
    Measurement: "measured_at",
    ControlRun: "done_at",
    SignAnswer: "seen_at",
    DoseReaction: "at",
    OtherDrugGiven: "given_on",
    VetPage: "made_at",
    VetAnswer: "answered_at",
}


def in_time(things: Iterable[Any]) -> list[Any]:
    """Return facts of one kind in the order in which they happened; the code settles a tie."""

    def when(thing: Any) -> tuple[Any, tuple[int, ...]]:
        if isinstance(thing, Sample):
            return thing.passed_from or thing.collected_at, code_order(thing.code)
        return getattr(thing, _WHEN[type(thing)]), code_order(thing.code)

    return sorted(things, key=when)


def _by(field: str, things: Iterable[Any]) -> defaultdict[str, list[Any]]:
    found: defaultdict[str, list[Any]] = defaultdict(list)
    for thing in things:
        found[getattr(thing, field)].append(thing)
    return found
