"""Current facts read back: rows that nothing replaces, and exams with everything that is part of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.case import Case
from fecallab.domain.exam import Exam, Reading
from fecallab.records import schema
from fecallab.records.rows import (
    CASE,
    ELSEWHERE,
    EXAM,
    MARK,
    PREPARATION,
    READING,
    Kind,
    code_order,
    fact_of,
)

Where = sa.ColumnElement[bool]
Codes = sa.Select[Any]
"""A query that yields codes; the database joins, so the number of queries does not grow with the records."""


def tips(kind: Kind) -> sa.Select[Any]:
    """Return the query for the newest row of every fact of a kind, the withdrawn ones included."""
    table = kind.table
    newer = table.alias("newer")
    replaced = sa.select(sa.literal(1)).where(newer.c.replaces == table.c.id).correlate(table).exists()
    return sa.select(table).where(~replaced)


def current(kind: Kind) -> sa.Select[Any]:
    """Return the query for the facts of a kind that stand today."""
    return tips(kind).where(sa.not_(kind.table.c.withdrawn))


def current_rows(connection: Connection, kind: Kind, *where: Where) -> list[sa.RowMapping]:
    """Return the current rows of a kind in the order in which their codes were given."""
    rows = connection.execute(current(kind).where(*where)).mappings().all()
    return sorted(rows, key=lambda row: code_order(row["code"]))


def facts(connection: Connection, kind: Kind, *where: Where) -> list[Any]:
    """Return the current facts of a kind that has no parts, in the order of their codes."""
    return [fact_of(kind, row) for row in current_rows(connection, kind, *where)]


def load_cases(connection: Connection, *where: Where) -> list[Case]:
    """Return the current cases with their stages, in the order of their codes."""
    rows = current_rows(connection, CASE, *where)
    wanted = current(CASE).where(*where).with_only_columns(schema.cases.c.id)
    stages = stages_of(connection, wanted)
    return [fact_of(CASE, row, stages=tuple(stages[row["id"]])) for row in rows]


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
    query = sa.select(table).order_by(table.c.id)
    if reading_ids is not None:
        query = query.where(table.c.reading_id.in_(reading_ids))
    found: dict[tuple[int, bool], dict[str, int]] = defaultdict(dict)
    for row in connection.execute(query).mappings():
        found[row["reading_id"], row["sure"]][row["name"]] = row["count"]
    return found


def load_exams(connection: Connection, which: Codes | None = None) -> list[Exam]:
    """Return current exams with their preparations, readings, counts, marks and results from elsewhere.

    Parameters
    ----------
    connection : Connection
        An open transaction.
    which : Select, optional
        A query for the codes of the exams; all of them when omitted.

    Returns
    -------
    list of Exam
        In the order of their codes. Six queries, however many exams there are.
    """
    t_preparations, t_readings = schema.preparations, schema.readings
    of_exams: list[Where] = []
    of_preparations: list[Where] = []
    of_readings: list[Where] = []
    reading_ids: Codes | None = None
    if which is not None:
        preparation_codes = sa.select(t_preparations.c.code).where(t_preparations.c.exam.in_(which))
        of_preparations = [t_readings.c.preparation.in_(preparation_codes)]
        reading_codes = sa.select(t_readings.c.code).where(*of_preparations)
        reading_ids = sa.select(t_readings.c.id).where(*of_preparations)
        of_exams = [t_preparations.c.exam.in_(which)]
        of_readings = [schema.marks.c.reading.in_(reading_codes)]
    marks = _grouped(connection, MARK, "reading", of_readings)
    counts = counts_of(connection, reading_ids)
    readings: dict[str, list[Reading]] = defaultdict(list)
    for row in current_rows(connection, READING, *of_preparations):
        readings[row["preparation"]].append(
            fact_of(
                READING,
                row,
                counts=counts.get((row["id"], True), {}),
                unsure=counts.get((row["id"], False), {}),
                marks=tuple(marks[row["code"]]),
            )
        )
    preparations = defaultdict(list)
    for row in current_rows(connection, PREPARATION, *of_exams):
        preparations[row["exam"]].append(fact_of(PREPARATION, row, readings=tuple(readings[row["code"]])))
    of_results = [] if which is None else [schema.elsewhere_results.c.exam.in_(which)]
    results = _grouped(connection, ELSEWHERE, "exam", of_results)
    of_codes = [] if which is None else [schema.exams.c.code.in_(which)]
    return [
        fact_of(
            EXAM,
            row,
            preparations=tuple(preparations[row["code"]]),
            elsewhere=tuple(results[row["code"]]),
        )
        for row in current_rows(connection, EXAM, *of_codes)
    ]


def _grouped(
    connection: Connection, kind: Kind, parent: str, where: Sequence[Where]
) -> defaultdict[str, list[Any]]:
    found: defaultdict[str, list[Any]] = defaultdict(list)
    for row in current_rows(connection, kind, *where):
        found[row[parent]].append(fact_of(kind, row))
    return found


def one_code(code: str) -> Codes:
    """Return the query that yields one code."""
    return sa.select(sa.literal(code))
