"""The story of one fact: every row that was recorded under its code, the replaced ones too."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.errors import BadInput
from fecallab.records import trees
from fecallab.records.rows import CASE, PART_KINDS, READING, Fact, Kind, code_order, fact_of, kind_of_code


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
