"""Current facts read back: rows that nothing replaces, and exams with everything that is part of them."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import cache
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.case import Case
from fecallab.domain.exam import ElsewhereResult, Exam, Mark, Preparation, Reading
from fecallab.domain.plan import RuleWord
from fecallab.domain.vet_words import NO_VERDICTS, Verdicts
from fecallab.records import schema
from fecallab.records.rows import (
    ANSWER,
    CASE,
    ELSEWHERE,
    EXAM,
    EXAM_VERDICT,
    MARK,
    MARK_VERDICT,
    MISSED,
    PREPARATION,
    READING,
    Kind,
    code_order,
    fact_of,
)

Where = sa.ColumnElement[bool]
Codes = sa.Select[Any]
"""A query that yields codes; the database joins, so the number of queries does not grow with the records."""


@cache
def tips(kind: Kind) -> sa.Select[Any]:
    """Return the query for the newest row of every fact of a kind, the withdrawn ones included.

    The newer row is asked for row by row, through its index; as "not exists" PostgreSQL would compare the
    whole table with itself for a few rows that are wanted.
    """
    table = kind.table
    newer = table.alias("newer")
    replacing = sa.select(newer.c.id).where(newer.c.replaces == table.c.id).limit(1).correlate(table)
    return sa.select(table).where(replacing.scalar_subquery().is_(None))


@cache
def current(kind: Kind) -> sa.Select[Any]:
    """Return the query for the facts of a kind that stand today."""
    return tips(kind).where(sa.not_(kind.table.c.withdrawn))


def among(connection: Connection, codes: Iterable[str]) -> Codes:
    """Return the query that yields these codes, handed over as one value however many they are.

    A question is asked once, and its answer is handed to the queries that follow: a database that is asked
    it again inside each of them reads whole tables.
    """
    return _handed_over(connection, sorted(set(codes)), sa.Text())


def _rows(connection: Connection, found: Iterable[tuple[int, Any, Any]]) -> Codes:
    """Return the query that yields the ids of rows that `load` has found."""
    return _handed_over(connection, sorted(identity for identity, _, _ in found), sa.Integer())


def _handed_over(connection: Connection, values: list[Any], kind: sa.types.TypeEngine[Any]) -> Codes:
    if connection.dialect.name == "postgresql":
        array = sa.ARRAY(kind)
        return sa.select(sa.func.unnest(sa.cast(sa.literal(values, array), array)))
    return sa.select(sa.func.json_each(json.dumps(values)).table_valued("value").c.value)


def current_codes(connection: Connection, kind: Kind, *where: Where) -> list[str]:
    """Return the codes of the facts of a kind that stand today, in the order in which they were given."""
    query = current(kind).where(*where).with_only_columns(kind.table.c.code)
    return sorted(connection.scalars(query), key=code_order)


@cache
def _of_kind(kind: Kind) -> sa.Select[Any]:
    """Return the query for id, code of the parent, code and fields of the facts of a kind that stand today."""
    table = kind.table
    parent = table.c[kind.parent] if kind.parent else sa.literal("")
    names = ("code", *kind.own_fields)
    return current(kind).with_only_columns(table.c.id, parent, *(table.c[name] for name in names))


def load(connection: Connection, kind: Kind, *where: Where) -> list[tuple[int, str, dict[str, Any]]]:
    """Return id, code of the parent, and fields of the current facts, in the order of their codes."""
    table, names = kind.table, ("code", *kind.own_fields)
    query = _of_kind(kind).where(*where)
    empty = [name for name in kind.own_fields if table.c[name].foreign_keys]
    found: list[tuple[int, str, dict[str, Any]]] = []
    for identity, whole, *values in connection.execute(query):
        fields = dict(zip(names, values, strict=True))
        for name in empty:
            if fields[name] is None:
                fields[name] = ""
        found.append((identity, whole, fields))
    found.sort(key=lambda row: code_order(row[2]["code"]))
    return found


def facts(connection: Connection, kind: Kind, *where: Where) -> list[Any]:
    """Return the current facts of a kind that has no parts, in the order of their codes."""
    found = load(connection, kind, *where)
    if kind.lists:
        lists = lists_of(connection, kind, _rows(connection, found))
        return [kind.fact(**fields, **lists[identity]) for identity, _, fields in found]
    if not kind.words:
        return [kind.fact(**fields) for _, _, fields in found]
    said = words_of(connection, kind, _rows(connection, found))
    return [kind.fact(**fields, **{kind.words: said[identity]}) for identity, _, fields in found]


def words_of(connection: Connection, kind: Kind, row_ids: Codes) -> defaultdict[int, tuple[RuleWord, ...]]:
    """Return somebody's words on rules by the id of the row that they are part of; none for other kinds."""
    found: defaultdict[int, tuple[RuleWord, ...]] = defaultdict(tuple)
    table = kind.words_table
    if table is None:
        return found
    owner = table.c[kind.words_owner]
    query = (
        sa.select(owner, table.c.rule, table.c.by, table.c.at, table.c.why)
        .where(owner.in_(row_ids))
        .order_by(table.c.id)
    )
    for identity, rule, by, at, why in connection.execute(query):
        found[identity] += (RuleWord(rule=rule, by=by, at=at, why=why),)
    return found


def lists_of(
    connection: Connection, kind: Kind, row_ids: Codes
) -> defaultdict[int, dict[str, tuple[str, ...]]]:
    """Return the lists of words by the id of the row that they are part of, in the order as given."""
    found: defaultdict[int, dict[str, tuple[str, ...]]] = defaultdict(lambda: dict.fromkeys(kind.lists, ()))
    table = kind.lists_table
    if table is None:
        return found
    query = (
        sa.select(table.c.row_id, table.c.field, table.c.word)
        .where(table.c.row_id.in_(row_ids))
        .order_by(table.c.id)
    )
    for identity, field, word in connection.execute(query):
        found[identity][field] += (word,)
    return found


def fact_at(connection: Connection, kind: Kind, row: sa.RowMapping) -> Any:
    """Return the fact of one row, with the words and lists that are part of it."""
    if kind.lists:
        return fact_of(kind, row, **lists_of(connection, kind, sa.select(sa.literal(row["id"])))[row["id"]])
    if not kind.words:
        return fact_of(kind, row)
    said = words_of(connection, kind, sa.select(sa.literal(row["id"])))
    return fact_of(kind, row, **{kind.words: said[row["id"]]})


def load_cases(connection: Connection, *where: Where) -> list[Case]:
    """Return the current cases with their stages, in the order of their codes."""
    rows = load(connection, CASE, *where)
    stages = stages_of(connection, _rows(connection, rows))
    return [Case(**fields, stages=tuple(stages[identity])) for identity, _, fields in rows]


def stages_of(connection: Connection, case_ids: Codes) -> dict[int, list[str]]:
    """Return the stages by the id of the case row, in the order in which they were named."""
    table = schema.case_stages
    found: dict[int, list[str]] = defaultdict(list)
    query = (
        sa.select(table.c.case_id, table.c.stage).where(table.c.case_id.in_(case_ids)).order_by(table.c.id)
    )
    for case_id, stage in connection.execute(query):
        found[case_id].append(stage)
    return found


def counts_of(connection: Connection, reading_ids: Codes | None) -> dict[tuple[int, bool], dict[str, int]]:
    """Return the counts by the id of the reading row and by sure or unsure."""
    table = schema.reading_counts
    query = sa.select(table.c.reading_id, table.c.name, table.c.sure, table.c.count).order_by(table.c.id)
    if reading_ids is not None:
        query = query.where(table.c.reading_id.in_(reading_ids))
    found: dict[tuple[int, bool], dict[str, int]] = defaultdict(dict)
    for reading_id, name, sure, count in connection.execute(query):
        found[reading_id, sure][name] = count
    return found


def tallies_of_marks(
    connection: Connection, where: Sequence[Where]
) -> dict[str, tuple[dict[str, int], dict[str, int]]]:
    """Return how many marks of each name every reading has, the sure and the unsure ones."""
    table = schema.marks
    how_many = sa.func.count()
    query = current(MARK).where(*where).group_by(table.c.reading, table.c.name, table.c.sure)
    rows = connection.execute(query.with_only_columns(table.c.reading, table.c.name, table.c.sure, how_many))
    found: dict[str, tuple[dict[str, int], dict[str, int]]] = {}
    for code, name, sure, number in rows:
        found.setdefault(code, ({}, {}))[0 if sure else 1][name] = number
    return found


def verdicts_on(connection: Connection, which: Codes | None = None) -> dict[str, Verdicts]:
    """Return the words of vets that stand, by the code of the exam; exams without any are left out.

    Four queries at most, one where no vet has said anything.
    """
    kinds = (MARK_VERDICT, MISSED, EXAM_VERDICT)
    if connection.execute(sa.select(schema.vet_answers.c.id).limit(1)).first() is None:
        return {}
    found: dict[str, tuple[list[Any], list[Any], list[Any]]] = {}
    for place, kind in enumerate(kinds):
        where = [] if which is None else [kind.table.c.exam.in_(which)]
        for one in facts(connection, kind, *where):
            found.setdefault(one.exam, ([], [], []))[place].append(one)
    if not found:
        return {}
    named = [sa.select(kind.table.c.answer) for kind in kinds]
    if which is not None:
        named = [query.where(kind.table.c.exam.in_(which)) for query, kind in zip(named, kinds, strict=True)]
    answers = {
        one.code: one for one in facts(connection, ANSWER, schema.vet_answers.c.code.in_(sa.union(*named)))
    }
    return {
        exam: Verdicts(
            answers={
                code: answers[code]
                for code in dict.fromkeys(one.answer for one in (*marks, *missed, *whole))
                if code in answers
            },
            marks=tuple(marks),
            missed=tuple(missed),
            exams=tuple(whole),
        )
        for exam, (marks, missed, whole) in found.items()
    }


def load_exams(
    connection: Connection, which: Codes | None = None, *, tallies_only: bool = False
) -> list[Exam]:
    """Return current exams with their preparations, readings, counts, marks and results from elsewhere.

    Parameters
    ----------
    connection : Connection
        An open transaction.
    which : Select, optional
        A query for the codes of the exams; all of them when omitted.
    tallies_only : bool
        Let the database count the marks of a reading: `Reading.tally` answers the same, but ``marks`` is
        empty, but for readings on which a vet has a word. For questions over many exams.

    Returns
    -------
    list of Exam
        In the order of their codes, each with the words of vets. At most eleven queries, however many exams
        there are.
    """

    def within(column: sa.ColumnElement[str], codes: Iterable[str]) -> list[Where]:
        return [] if which is None else [column.in_(among(connection, codes))]

    of_exams = [] if which is None else [schema.exams.c.code.in_(which)]
    exams = load(connection, EXAM, *of_exams)
    exam_codes = [fields["code"] for _, _, fields in exams]
    verdicts = verdicts_on(connection, None if which is None else among(connection, exam_codes))
    prepared = load(connection, PREPARATION, *within(schema.preparations.c.exam, exam_codes))
    prepared_codes = [fields["code"] for _, _, fields in prepared]
    read = load(connection, READING, *within(schema.readings.c.preparation, prepared_codes))
    read_codes = [fields["code"] for _, _, fields in read]
    read_ids = None if which is None else _rows(connection, read)
    counts = counts_of(connection, read_ids)
    marks: defaultdict[str, list[Mark]] = defaultdict(list)
    of_readings = within(schema.marks.c.reading, read_codes)
    marked = tallies_of_marks(connection, of_readings) if tallies_only else {}
    if tallies_only:
        answered = sa.union(
            *(current(kind).with_only_columns(kind.table.c.reading) for kind in (MARK_VERDICT, MISSED))
        )
        of_readings = [*of_readings, schema.marks.c.reading.in_(answered)]
    for _, whole, fields in [] if tallies_only and not verdicts else load(connection, MARK, *of_readings):
        marks[whole].append(Mark(**fields))
    readings: defaultdict[str, list[Reading]] = defaultdict(list)
    for identity, whole, fields in read:
        typed = (counts.get((identity, True), {}), counts.get((identity, False), {}))
        sure, unsure = typed if fields["code"] in marks else marked.get(fields["code"], typed)
        found = Reading(**fields, counts=sure, unsure=unsure, marks=tuple(marks[fields["code"]]))
        readings[whole].append(found)
    preparations: defaultdict[str, list[Preparation]] = defaultdict(list)
    for _, whole, fields in prepared:
        preparations[whole].append(Preparation(**fields, readings=tuple(readings[fields["code"]])))
    results: defaultdict[str, list[ElsewhereResult]] = defaultdict(list)
    for _, whole, fields in load(connection, ELSEWHERE, *within(schema.elsewhere_results.c.exam, exam_codes)):
        results[whole].append(ElsewhereResult(**fields))
    return [
        Exam(
            **fields,
            preparations=tuple(preparations[fields["code"]]),
            elsewhere=tuple(results[fields["code"]]),
            verdicts=verdicts.get(fields["code"], NO_VERDICTS),
        )
        for _, _, fields in exams
    ]


def reading_at(connection: Connection, code: str) -> Reading:
    """Return one current reading with its counts and marks; what else its exam holds is not touched."""
    table = schema.readings
    ((identity, _, fields),) = load(connection, READING, table.c.code == code)
    counts = counts_of(connection, sa.select(sa.literal(identity)))
    marks = load(connection, MARK, schema.marks.c.reading == code)
    return Reading(
        **fields,
        counts=counts.get((identity, True), {}),
        unsure=counts.get((identity, False), {}),
        marks=tuple(Mark(**values) for _, _, values in marks),
    )


def one_code(code: str) -> Codes:
    """Return the query that yields one code."""
    return sa.select(sa.literal(code))
