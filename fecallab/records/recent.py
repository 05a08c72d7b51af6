"""What was recorded last: the animals that somebody works with, the newest samples, exams and preparations."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.exam import Exam, Preparation, Reading
from fecallab.domain.plan import Plan
from fecallab.domain.sample import Sample
from fecallab.records import rows, schema, trees
from fecallab.records.reader import Reader
from fecallab.records.rows import Kind

MANY = 9
"""As many as one digit chooses from."""


def _last(connection: Connection, kind: Kind, count: int, *where: trees.Where) -> list[Any]:
    """Return the facts of a kind that were recorded last, newest first, without their parts."""
    query = trees.current(kind).where(*where).order_by(kind.table.c.id.desc()).limit(count)
    return [rows.fact_of(kind, row) for row in connection.execute(query).mappings()]


def animals_by_use(reader: Reader) -> dict[str, tuple[Any, int]]:
    """Return when something was last recorded of each animal, by its code: what is larger is later."""
    s = schema
    own = [
        (s.animals, s.animals.c.code),
        (s.weighings, s.weighings.c.animal),
        (s.samples, s.samples.c.animal),
        (s.care_entries, s.care_entries.c.animal),
        (s.animal_events, s.animal_events.c.animal),
        (s.cases, s.cases.c.animal),
    ]
    asked = [sa.select(owner, table.c.recorded_at, table.c.id).select_from(table) for table, owner in own]
    asked.append(
        sa.select(s.samples.c.animal, s.exams.c.recorded_at, s.exams.c.id).join(
            s.exams, s.exams.c.sample == s.samples.c.code
        )
    )
    asked.append(
        sa.select(s.cases.c.animal, s.doses_given.c.recorded_at, s.doses_given.c.id)
        .join(s.plans, s.plans.c.case == s.cases.c.code)
        .join(s.doses_given, s.doses_given.c.plan == s.plans.c.code)
    )
    found: dict[str, tuple[Any, int]] = {}
    with reader._connection() as connection:
        for query in asked:
            part = query.subquery()
            owner, when, number = part.c
            latest = sa.select(owner, sa.func.max(when), sa.func.max(number)).group_by(owner)
            for code, last, identity in connection.execute(latest):
                if code:
                    found[code] = max(found.get(code, (last, 0)), (last, identity))
    return found


def last_samples(reader: Reader, count: int = MANY) -> list[tuple[Sample, bool]]:
    """Return the samples that were recorded last, newest first, each with whether an exam was made of it."""
    with reader._connection() as connection:
        samples = _last(connection, rows.SAMPLE, count)
        mine = schema.exams.c.sample.in_([sample.code for sample in samples])
        query = trees.current(rows.EXAM).where(mine).with_only_columns(schema.exams.c.sample)
        examined = set(connection.scalars(query))
    return [(sample, sample.code in examined) for sample in samples]


def last_exams(reader: Reader, count: int = MANY) -> list[Exam]:
    """Return the exams that were recorded last, newest first, without preparations and results."""
    with reader._connection() as connection:
        return _last(connection, rows.EXAM, count)


def last_preparation(reader: Reader, *, with_gravity: bool = False) -> Preparation | None:
    """Return the preparation that was recorded last, without its readings; None when there is none."""
    where = [schema.preparations.c.specific_gravity.is_not(None)] if with_gravity else []
    with reader._connection() as connection:
        found = _last(connection, rows.PREPARATION, 1, *where)
    return found[0] if found else None


def last_reading(reader: Reader) -> Reading | None:
    """Return the reading with a field number that was recorded last, without what was seen in it."""
    with reader._connection() as connection:
        found = _last(connection, rows.READING, 1, schema.readings.c.field_number.is_not(None))
    return found[0] if found else None


def last_plan(reader: Reader) -> Plan | None:
    """Return the plan that was recorded last; None when there is none."""
    with reader._connection() as connection:
        found = _last(connection, rows.PLAN, 1)
    return found[0] if found else None
