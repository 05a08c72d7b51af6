"""Which dataclass of the domain lies in which table, and how a row becomes a fact again."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache
from string import ascii_uppercase
from typing import Any

import sqlalchemy as sa

from fecallab.domain.animal import Animal, AnimalEvent, CareEntry, Measurement, Weighing
from fecallab.domain.case import Case, Closing
from fecallab.domain.control import ControlRun
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import ElsewhereResult, Exam, Mark, Picture, Preparation, Reading
from fecallab.domain.housing import (
    Arrival,
    ArrivalMember,
    ArrivalProtocol,
    CountChange,
    Enclosure,
    Release,
    Sharing,
    Stay,
)
from fecallab.domain.plan import DoseGiven, DoseReaction, OtherDrugGiven, Plan
from fecallab.domain.sample import Sample
from fecallab.domain.signs import SignAnswer
from fecallab.domain.vet_words import (
    CaseWord,
    ExamVerdict,
    MarkVerdict,
    MissedOrganism,
    TrustedKey,
    VetAnswer,
    VetPage,
)
from fecallab.records import schema
from fecallab.records.clean import clean, name_key
from fecallab.records.columns import broken_rule

Fact = (
    Animal
    | Weighing
    | AnimalEvent
    | CareEntry
    | Sample
    | Exam
    | Preparation
    | Reading
    | Mark
    | ElsewhereResult
    | Case
    | Plan
    | DoseGiven
    | Closing
    | Measurement
    | ControlRun
    | SignAnswer
    | DoseReaction
    | OtherDrugGiven
    | VetPage
    | VetAnswer
    | MarkVerdict
    | MissedOrganism
    | ExamVerdict
    | CaseWord
    | TrustedKey
    | Enclosure
    | Sharing
    | Stay
    | CountChange
    | Arrival
    | ArrivalMember
    | ArrivalProtocol
    | Release
)
"""Whatever has a code of its own in the records."""

Row = sa.RowMapping | Mapping[str, Any]


@dataclass(frozen=True)
class Kind:
    """One kind of fact.

    Attributes
    ----------
    name : str
        What the keeper calls it.
    prefix : str
        First letter (or two) of its codes; for a child, what stands before its number after the parent's code.
    parent : str
        Column that holds the code of the fact that it is a part of; empty for one that stands alone.
    parts : tuple of str
        Fields that hold child facts, each with its own code.
    words : str
        Field that holds somebody's words on rules (`RuleWord`), which lie in ``words_table`` by the id of
        the row, in its column ``words_owner``; empty for a kind that has none.
    lists : tuple of str
        Fields that hold several words, which lie in ``lists_table`` by the id of the row and the field.
    """

    name: str
    fact: type[Any]
    table: sa.Table
    prefix: str = ""
    parent: str = ""
    parts: tuple[str, ...] = ()
    words: str = ""
    words_table: sa.Table | None = None
    words_owner: str = ""
    lists: tuple[str, ...] = ()
    lists_table: sa.Table | None = None

    @property
    def own_fields(self) -> tuple[str, ...]:
        """Names of the fields that are columns of the table, without the code."""
        return _own_fields(self)

    @property
    def references(self) -> tuple[str, ...]:
        """Names of the columns that hold codes of other facts."""
        return tuple(
            column.name
            for column in self.table.c
            if column.name != "code" and any(key.column is schema.codes.c.code for key in column.foreign_keys)
        )


@cache
def _own_fields(kind: Kind) -> tuple[str, ...]:
    return tuple(
        field.name for field in fields(kind.fact) if field.name in kind.table.c and field.name != "code"
    )


ANIMAL = Kind("animal", Animal, schema.animals, "A")
WEIGHING = Kind("weighing", Weighing, schema.weighings, "W")
EVENT = Kind("event", AnimalEvent, schema.animal_events, "V")
CARE = Kind("care entry", CareEntry, schema.care_entries, "K")
SAMPLE = Kind("sample", Sample, schema.samples, "S")
EXAM = Kind("exam", Exam, schema.exams, "E", parts=("preparations", "elsewhere"))
PREPARATION = Kind("preparation", Preparation, schema.preparations, "", "exam", parts=("readings",))
READING = Kind("reading", Reading, schema.readings, "", "preparation", parts=("marks",))
MARK = Kind("mark", Mark, schema.marks, "", "reading")
ELSEWHERE = Kind("result from elsewhere", ElsewhereResult, schema.elsewhere_results, "R", "exam")
CASE = Kind("case", Case, schema.cases, "C")
PLAN = Kind(
    "plan",
    Plan,
    schema.plans,
    "P",
    words="confirmed",
    words_table=schema.plan_confirmations,
    words_owner="plan_id",
)
DOSE = Kind(
    "dose",
    DoseGiven,
    schema.doses_given,
    "D",
    words="overrides",
    words_table=schema.dose_overrides,
    words_owner="dose_id",
)
CLOSING = Kind("closing", Closing, schema.closings, "X")
MEASUREMENT = Kind("measurement", Measurement, schema.measurements, "M")
CONTROL = Kind("control run", ControlRun, schema.control_runs, "Q")
SIGN = Kind("sign", SignAnswer, schema.sign_answers, "G")
REACTION = Kind("reaction", DoseReaction, schema.dose_reactions, "R")
OTHER_DRUG = Kind("other drug", OtherDrugGiven, schema.other_drugs, "H")
VET_PAGE = Kind("vet's page", VetPage, schema.vet_pages, "Z")
ANSWER = Kind("vet's answer", VetAnswer, schema.vet_answers, "Y")
MARK_VERDICT = Kind("word on a mark", MarkVerdict, schema.mark_verdicts, "U")
MISSED = Kind("missed organism", MissedOrganism, schema.missed_organisms, "O")
EXAM_VERDICT = Kind("word on an exam", ExamVerdict, schema.exam_verdicts, "J")
CASE_WORD = Kind("word on a case", CaseWord, schema.case_words, "N")
TRUSTED_KEY = Kind("vet's key", TrustedKey, schema.trusted_keys, "T")
ENCLOSURE = Kind("enclosure", Enclosure, schema.enclosures, "B")
SHARING = Kind("sharing", Sharing, schema.sharings, "BW")
STAY = Kind("stay", Stay, schema.stays, "BT")
COUNT_CHANGE = Kind("change of number", CountChange, schema.count_changes, "F")
ARRIVAL = Kind("arrival", Arrival, schema.arrivals, "I")
MEMBER = Kind("member", ArrivalMember, schema.arrival_members, "IM")
PROTOCOL = Kind(
    "protocol",
    ArrivalProtocol,
    schema.arrival_protocols,
    "IP",
    lists=("preparations", "blocking", "not_blocking"),
    lists_table=schema.protocol_words,
)
RELEASE = Kind(
    "release", Release, schema.releases, "L", lists=("animals",), lists_table=schema.release_animals
)

KINDS = (
    ANIMAL,
    WEIGHING,
    EVENT,
    CARE,
    SAMPLE,
    EXAM,
    PREPARATION,
    READING,
    MARK,
    ELSEWHERE,
    CASE,
    PLAN,
    DOSE,
    CLOSING,
    MEASUREMENT,
    CONTROL,
    SIGN,
    REACTION,
    OTHER_DRUG,
    VET_PAGE,
    ANSWER,
    MARK_VERDICT,
    MISSED,
    EXAM_VERDICT,
    CASE_WORD,
    TRUSTED_KEY,
    ENCLOSURE,
    SHARING,
    STAY,
    COUNT_CHANGE,
    ARRIVAL,
    MEMBER,
    PROTOCOL,
    RELEASE,
)
PART_KINDS = {"preparations": PREPARATION, "elsewhere": ELSEWHERE, "readings": READING, "marks": MARK}

_BY_FACT = {kind.fact: kind for kind in KINDS}
_BY_LETTERS = {kind.prefix: kind for kind in KINDS if kind.prefix and not kind.parent}
_CODE = re.compile(r"([A-Z]{1,2})([1-9]\d*)((?:-[1-9]\d*){0,3}|-R[1-9]\d*)", re.ASCII)


def kind_of_fact(fact: object) -> Kind:
    """Return the kind of a fact; a programming error when the records do not keep such a thing."""
    try:
        return _BY_FACT[type(fact)]
    except KeyError:
        raise TypeError(f"the records keep no {type(fact).__name__}") from None


def kind_of_code(code: str) -> Kind | None:
    """Return the kind that a code names by its form, or None when it is no code.

    Examples
    --------
    >>> [kind_of_code(code).name for code in ("A1", "E3", "E3-1", "E3-1-2", "E3-1-2-1", "E3-R1")]
    ['animal', 'exam', 'preparation', 'reading', 'mark', 'result from elsewhere']
    >>> kind_of_code("Tilda") is None
    True
    """
    match = _CODE.fullmatch(code)
    if match is None:
        return None
    letters, _, tail = match.groups()
    if not tail:
        return _BY_LETTERS.get(letters)
    if letters != "E":
        return None
    return ELSEWHERE if tail.startswith("-R") else (PREPARATION, READING, MARK)[tail.count("-") - 1]


def code_order(code: str) -> tuple[int, ...]:
    """Return what puts codes of one kind in the order in which they were given.

    Examples
    --------
    >>> sorted(["E10-1", "E2-10", "E2-9"], key=code_order)
    ['E2-9', 'E2-10', 'E10-1']
    """
    if "-" not in code:
        return (int(code.lstrip(ascii_uppercase)),)
    return tuple(int(part.lstrip(ascii_uppercase)) for part in code.split("-"))


def row_of(kind: Kind, fact: Any, parent: str = "") -> dict[str, Any]:
    """Return the columns of a fact, each checked; the codes it refers to are not looked up here.

    Raises
    ------
    BadInput
        For a value of the wrong kind, a control character, or a rule of the schema that is broken.
    """
    row = {name: clean(getattr(fact, name), kind.table.c[name], kind.name) for name in kind.own_fields}
    if kind.parent:
        row[kind.parent] = parent
    if "name_key" in kind.table.c:
        row["name_key"] = name_key(row["name"])
    rule = broken_rule(kind.table.name, row)
    if rule is not None:
        shown = "name" if rule.columns[-1] == "name_key" else rule.columns[-1]
        raise BadInput(
            f"The {shown.replace('_', ' ')} of the {kind.name} is {_shown(row.get(shown))}: {rule.sentence}.",
            next="Correct it and repeat.",
            code="refused-by-records",
        )
    return row


def _shown(value: Any) -> str:
    if value is None:
        return "missing"
    return repr(value) if isinstance(value, str) else str(value)


def fact_of(kind: Kind, row: Row, **more: Any) -> Any:
    """Return the fact of a row; `more` gives the fields that other tables hold."""
    values = {name: _given_back(kind.table.c[name], row[name]) for name in kind.own_fields}
    return kind.fact(code=row["code"], **values, **more)


def _given_back(column: sa.Column[Any], value: Any) -> Any:
    return "" if value is None and column.foreign_keys else value


def picture_row(picture: Picture) -> dict[str, Any]:
    """Return the columns of a picture, each checked."""
    table = schema.pictures
    row = {
        field.name: clean(getattr(picture, field.name), table.c[field.name], "picture")
        for field in fields(picture)
    }
    rule = broken_rule(table.name, row)
    if rule is not None:
        raise BadInput(
            f"The {rule.columns[-1].replace('_', ' ')} of the picture: {rule.sentence}.",
            next="Correct it and repeat.",
            code="refused-by-records",
        )
    return row


def picture_of(row: Row) -> Picture:
    """Return the picture of a row."""
    return Picture(**{field.name: row[field.name] for field in fields(Picture)})
