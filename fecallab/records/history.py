"""The story of one fact: every row that was recorded under its code, the replaced ones too."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.errors import BadInput
from fecallab.records import trees
from fecallab.records.rows import (
    CASE,
    KINDS,
    PART_KINDS,
    READING,
    Fact,
    Kind,
    code_order,
    fact_of,
    kind_of_code,
)


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One row as it was recorded.

    Attributes
    ----------
    code : str
        Code of the fact.
    fact : dataclass of the domain
        What was recorded; parts with a code of their own have entries of their own.
    recorded_at : datetime
        When, in UTC.
    recorded_by : str
        By whom.
    reason : str
        Why it was corrected or withdrawn; empty for the first row.
    current : bool
        Whether this row stands today.
    withdrawn : bool
        Whether this row withdraws the fact.
    """

    code: str
    fact: Fact
    recorded_at: datetime
    recorded_by: str
    reason: str = ""
    current: bool = True
    withdrawn: bool = False


def load_history(connection: Connection, code: str) -> list[Entry]:
    """Return the entries of a code and of all its parts, in the order in which they were recorded."""
    kind = kind_of_code(code)
    if kind is None:
        raise BadInput(
            f"{code!r} is no code of these records.",
            next="Give a code such as A1, E3 or E3-1-2.",
            code="unknown-code",
        )
    found = [entry for each, where in rows_under(kind, code) for entry in _entries(connection, each, where)]
    if not found:
        raise BadInput(
            f"Nothing was ever recorded under {code}.", next="Give a code that exists.", code="unknown-code"
        )
    return [entry for _, entry in sorted(found, key=lambda pair: pair[0])]


def load_story(connection: Connection, code: str) -> list[Entry]:
    """Return every row that was ever recorded about something: its own, and those of all that rests on it.

    For an animal: its weighings, samples, exams with their marks, cases, plans, doses and what was said of
    them; for an exam the words of vets too; in the order in which they were recorded.
    """
    reached = {entry.code for entry in load_history(connection, code)}
    fresh = set(reached)
    entries: list[tuple[Any, Entry]] = [
        each for kind, where in rows_under(_kind(code), code) for each in _entries(connection, kind, where)
    ]
    while fresh:
        nearer, fresh = fresh, set()
        for kind in KINDS:
            told = [kind.table.c[name] for name in kind.references]
            if not told:
                continue
            for some in _portions(sorted(nearer)):
                query = sa.select(kind.table.c.code).where(sa.or_(*(column.in_(some) for column in told)))
                new = set(connection.scalars(query)) - reached
                for codes in _portions(sorted(new)):
                    entries += _entries(connection, kind, kind.table.c.code.in_(codes))
                reached |= new
                fresh |= new
    return [entry for _, entry in sorted(entries, key=lambda pair: pair[0])]


def _kind(code: str) -> Kind:
    kind = kind_of_code(code)
    assert kind is not None
    return kind


def _portions(codes: list[str], size: int = 500) -> list[list[str]]:
    """Cut a list so that no statement carries more values than a database takes."""
    return [codes[start : start + size] for start in range(0, len(codes), size)]


def rows_under(kind: Kind, code: str) -> list[tuple[Kind, trees.Where]]:
    """Return where the rows of a fact and of all its parts lie, whatever stands today."""
    found: list[tuple[Kind, trees.Where]] = [(kind, kind.table.c.code == code)]
    for each, where in found:
        codes = sa.select(each.table.c.code).where(where)
        for part in each.parts:
            child = PART_KINDS[part]
            found.append((child, child.table.c[child.parent].in_(codes)))
    return found


def _entries(connection: Connection, kind: Kind, where: trees.Where) -> list[tuple[Any, Entry]]:
    table = kind.table
    rows = connection.execute(sa.select(table).where(where)).mappings().all()
    replaced = {row["replaces"] for row in rows}
    ids = sa.select(table.c.id).where(where)
    more: dict[int, dict[str, Any]] = {row["id"]: {} for row in rows}
    if kind is READING:
        counts = trees.counts_of(connection, ids)
        more = {
            row["id"]: {
                "counts": counts.get((row["id"], True), {}),
                "unsure": counts.get((row["id"], False), {}),
            }
            for row in rows
        }
    elif kind.words:
        words = trees.words_of(connection, kind, ids)
        more = {row["id"]: {kind.words: words[row["id"]]} for row in rows}
    elif kind.lists:
        lists = trees.lists_of(connection, kind, ids)
        more = {row["id"]: lists[row["id"]] for row in rows}
    elif kind is CASE:
        stages = trees.stages_of(connection, ids)
        more = {row["id"]: {"stages": tuple(stages[row["id"]])} for row in rows}
    return [
        (
            (row["recorded_at"], code_order(row["code"]), row["id"]),
            Entry(
                code=row["code"],
                fact=fact_of(kind, row, **more[row["id"]]),
                recorded_at=row["recorded_at"],
                recorded_by=row["recorded_by"],
                reason=row["correction_reason"],
                current=row["id"] not in replaced and not row["withdrawn"],
                withdrawn=row["withdrawn"],
            ),
        )
        for row in rows
    ]
