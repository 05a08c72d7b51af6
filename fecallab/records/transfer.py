"""Rows from one place to another, as they are: between databases, and out to files and back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.errors import CouldNot

ROWS_AT_ONCE = 1000

Progress = Callable[[str, int], None]
"""Told after every batch: the table, and how many of its rows are over."""

_NOT_CARRIED = frozenset({"alembic_version"})


def tables_in_order(known: sa.MetaData) -> list[sa.Table]:
    """Return the tables in an order in which every row finds what it refers to."""
    return [table for table in known.sorted_tables if table.name not in _NOT_CARRIED]


def rows_of(connection: Connection, table: sa.Table) -> Iterator[dict[str, Any]]:
    """Yield all rows of a table in the order of its key, a bounded number in memory at a time."""
    query = sa.select(table).order_by(*table.primary_key).execution_options(yield_per=ROWS_AT_ONCE)
    for row in connection.execute(query).mappings():
        yield dict(row)


def put_rows(
    connection: Connection,
    table: sa.Table,
    given: Iterable[Mapping[str, Any]],
    progress: Progress | None = None,
) -> int:
    """Insert rows with the keys that they have, and return how many."""
    done = 0
    batch: list[dict[str, Any]] = []
    for row in given:
        batch.append(dict(row))
        if len(batch) == ROWS_AT_ONCE:
            done += _insert(connection, table, batch)
            batch = []
            if progress is not None:
                progress(table.name, done)
    if batch:
        done += _insert(connection, table, batch)
    if progress is not None and done:
        progress(table.name, done)
    return done


def _insert(connection: Connection, table: sa.Table, batch: list[dict[str, Any]]) -> int:
    connection.execute(sa.insert(table), batch)
    return len(batch)


def copy_all(
    source: Connection, target: Connection, known: sa.MetaData, progress: Progress | None = None
) -> int:
    """Copy every row of every table into an empty database at the same schema.

    Returns
    -------
    int
        How many rows were copied.
    """
    total = 0
    for table in tables_in_order(known):
        total += put_rows(target, table, rows_of(source, table), progress)
    go_on_numbering(target, known)
    return total


def go_on_numbering(connection: Connection, known: sa.MetaData) -> None:
    """Let PostgreSQL number new rows after those that were put in with their own keys."""
    if connection.dialect.name != "postgresql":
        return
    for table in tables_in_order(known):
        if "id" not in table.c:
            continue
        sequence = connection.execute(
            sa.select(sa.func.pg_get_serial_sequence(table.name, "id"))
        ).scalar_one()
        last = connection.execute(sa.select(sa.func.max(table.c.id))).scalar()
        if sequence is not None and last is not None:
            connection.execute(sa.select(sa.func.setval(sequence, last)))


def compare_all(source: Connection, target: Connection, known: sa.MetaData) -> int:
    """Compare two databases row by row.

    Returns
    -------
    int
        How many rows were compared.

    Raises
    ------
    CouldNot
        At the first row that differs.
    """
    from fecallab.records.ledger import content_of

    compared = 0
    for table in tables_in_order(known):
        pairs = _pairs(rows_of(source, table), rows_of(target, table))
        for mine, theirs in pairs:
            compared += 1
            if mine is None or theirs is None or content_of(mine) != content_of(theirs):
                key = next(row for row in (mine, theirs) if row is not None)
                name = key.get("code") or next(iter(key.values()))
                raise CouldNot(
                    f"{name} in {table.name} is not the same in both; nothing was changed.",
                    next="Repeat; if it stays so, type: fecallab records check",
                    code="copy-differs",
                )
    return compared


def _pairs(
    first: Iterator[dict[str, Any]], second: Iterator[dict[str, Any]]
) -> Iterator[tuple[dict[str, Any] | None, dict[str, Any] | None]]:
    while True:
        pair = next(first, None), next(second, None)
        if pair == (None, None):
            return
        yield pair
