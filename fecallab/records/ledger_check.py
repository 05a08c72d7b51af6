"""The ledger compared with itself and with the rows: what was altered, lost, or came in by another way."""

from __future__ import annotations

from collections.abc import Iterator

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.errors import Reason
from fecallab.domain.spoken import number_of, say_date, say_time
from fecallab.records.columns import UtcDateTime, metadata
from fecallab.records.ledger import (
    ROWS_AT_ONCE,
    START,
    Row,
    Seal,
    contents,
    digest_of,
    seal_at,
    seal_of,
    tables_with_parts,
    taken_out,
)
from fecallab.records.schema_ledger import ledger, redactions

_RESTORE = "Type: fecallab records restore BACKUP NEW_FOLDER  and compare it with what you know."


def verify(connection: Connection, against: Seal | None = None) -> Iterator[Reason]:
    """Compare the whole ledger, line by line, with itself and with the rows.

    Parameters
    ----------
    against : Seal, optional
        A seal that was kept elsewhere; it must stand in this ledger as it was.

    Yields
    ------
    Reason
        ``ledger-broken`` where a line does not follow from the one before, ``row-altered`` where a row is not
        as it was recorded, ``row-lost`` and ``row-without-line`` where one is gone or came in by another way,
        ``seal-differs`` where the seal kept elsewhere is not the one that stands here.
    """
    if against is not None:
        yield from _compare_seal(connection, against)
    yield from _verify_chain(connection)
    for table, parts in tables_with_parts(metadata):
        yield from _verify_rows(connection, table, parts)


def redacted(connection: Connection) -> Iterator[Reason]:
    """Yield what was taken out of the records, by whom and why: no damage, and nobody shall wonder."""
    query = (
        sa.select(
            redactions.c.recorded_at,
            redactions.c.recorded_by,
            redactions.c.why,
            sa.func.count().label("texts"),
        )
        .group_by(redactions.c.recorded_at, redactions.c.recorded_by, redactions.c.why)
        .order_by(redactions.c.recorded_at)
    )
    for at, by, why, texts in connection.execute(query):
        many = number_of(texts, "row or line", "rows and lines")
        said = f"{many} {'was' if texts == 1 else 'were'} redacted on {say_date(at)} by {by}: {why}."
        yield Reason("redacted", said, "Nothing is to be done.")


def clock_set_back(connection: Connection) -> Iterator[Reason]:
    """Yield the lines that carry an earlier time than the line before of the same table: a clock went back."""
    before = sa.func.lag(ledger.c.at, type_=UtcDateTime()).over(
        partition_by=ledger.c.table_name, order_by=ledger.c.line
    )
    lines = sa.select(ledger.c.line, ledger.c.code, ledger.c.at, before.label("before")).subquery()
    query = sa.select(lines).where(lines.c.at < lines.c.before).order_by(lines.c.line).limit(20)
    for line, code, at, earlier in connection.execute(query):
        said = (
            f"Line {line} ({code}) carries {say_time(at)} UTC, earlier than the line before it"
            f" ({say_time(earlier)}): the clock of a computer was set back."
        )
        yield Reason("clock-set-back", said, "Set the clock right; the order of the lines still holds.")


def _compare_seal(connection: Connection, against: Seal) -> Iterator[Reason]:
    found = seal_at(connection, against.line)
    if against.line and (found is None or not found.seal.startswith(against.seal)):
        here = "there is no such line" if found is None else f"it is {found.short} here"
        said = (
            f"The seal {against.short} was kept elsewhere; {here}: what was recorded until then was altered."
        )
        yield Reason("seal-differs", said, _RESTORE)


def _verify_chain(connection: Connection) -> Iterator[Reason]:
    before, expected, after = START, 1, 0
    out = taken_out(connection)
    while True:
        query = sa.select(ledger).where(ledger.c.line > after).order_by(ledger.c.line).limit(ROWS_AT_ONCE)
        found = connection.execute(query).mappings().all()
        if not found:
            return
        for line in found:
            if line["line"] != expected or seal_of(before, line, out.get(line["line"])) != line["seal"]:
                which = (
                    f"Line {line['line']} of the ledger ({line['code'] or line['table_name']}, {line['by']})"
                )
                said = f"{which} does not follow from the line before: the ledger was altered there."
                yield Reason("ledger-broken", said, _RESTORE)
            before, expected = line["seal"], line["line"] + 1
        after = found[-1]["line"]


def _verify_rows(
    connection: Connection, table: sa.Table, parts: list[tuple[sa.Table, str]]
) -> Iterator[Reason]:
    redacted_since = _redacted_digests(connection, table.name)
    lines = _digests(connection, table.name)
    told = next(lines, None)
    for row, content in contents(connection, table, parts):
        while told is not None and told["row_id"] < row["id"]:
            yield _lost(told)
            told = next(lines, None)
        name = row.get("code") or f"row {row['id']}"
        if told is None or told["row_id"] > row["id"]:
            said = f"{name} in {table.name} has no line in the ledger: it came in by another way."
            yield Reason("row-without-line", said, _RESTORE)
            continue
        if redacted_since.get(row["id"], told["digest"]) != digest_of(content):
            when = say_time(told["at"])
            said = f"{name} in {table.name} is not as {told['by'] or 'it was'} recorded it on {when} UTC."
            yield Reason("row-altered", said, _RESTORE)
        told = next(lines, None)
    while told is not None:
        yield _lost(told)
        told = next(lines, None)


def _lost(line: Row) -> Reason:
    name = line["code"] or f"row {line['row_id']}"
    said = f"{name} in {line['table_name']} was recorded by {line['by'] or 'the program'} and is gone."
    return Reason("row-lost", said, _RESTORE)


def _digests(connection: Connection, table_name: str) -> Iterator[sa.RowMapping]:
    after = -1
    columns = (ledger.c.table_name, ledger.c.row_id, ledger.c.code, ledger.c.at, ledger.c.by, ledger.c.digest)
    while True:
        query = (
            sa.select(*columns)
            .where(ledger.c.table_name == table_name, ledger.c.row_id > after)
            .order_by(ledger.c.row_id)
            .limit(ROWS_AT_ONCE)
        )
        found = connection.execute(query).mappings().all()
        if not found:
            return
        yield from found
        after = found[-1]["row_id"]


def _redacted_digests(connection: Connection, table_name: str) -> dict[int, str]:
    """Return by row the digest that it has since it was last redacted."""
    query = sa.select(redactions.c.row_id, redactions.c.digest).where(redactions.c.table_name == table_name)
    return {row.row_id: row.digest for row in connection.execute(query.order_by(redactions.c.id))}
