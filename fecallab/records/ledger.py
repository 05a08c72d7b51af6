"""The ledger: who recorded what, when, in place of what and why, chained so that a later alteration shows.

Every command adds, in its own transaction, one line for every row that it recorded. A line keeps the digest
of the whole row with its parts, and a seal over itself and the seal of the line before: whoever alters a row,
a line or their order afterwards would have to compute every later seal anew, and the seal that was printed or
backed up before would no longer fit. Nothing hides what was done by someone who may write the database file
and rebuilds the whole chain: against that helps only a seal kept elsewhere (`Seal`, on reports and backups).

Written in the spirit of 21 CFR 11.10(e) (time-stamped audit trail that keeps what was there before); no
compliance with it is claimed.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.errors import BadInput
from fecallab.records.columns import metadata
from fecallab.records.schema_ledger import ledger, redactions

ROWS_AT_ONCE = 2000

Row = sa.RowMapping | Mapping[str, Any]
Parts = list[tuple[sa.Table, str]]
"""The tables of the parts of a row, each with the column of the owner."""

NOT_FACTS = frozenset({"ledger", "codes"})
"""Tables without lines: the ledger itself, and the codes, which every row repeats."""

START = "0" * 64
_DIGITS = re.compile(r"[0-9a-f]{16,64}", re.ASCII)


@dataclass(frozen=True)
class Seal:
    """The newest line of a ledger: written down elsewhere, it proves what was recorded until then.

    Attributes
    ----------
    line : int
        How many rows had been recorded; 0 for none.
    seal : str
        64 hexadecimal digits.
    """

    line: int
    seal: str

    @property
    def whole(self) -> str:
        """The line and all digits."""
        return f"{self.line}-{self.seal}"

    @property
    def short(self) -> str:
        """The line and the first 16 digits, enough to compare by eye.

        Examples
        --------
        >>> Seal(12, "ab" * 32).short
        '12-abababababababab'
        """
        return f"{self.line}-{self.seal[:16]}"


def tables_with_parts(known: sa.MetaData) -> list[tuple[sa.Table, Parts]]:
    """Return every table whose rows have lines, with the tables of their parts and the column of the owner.

    A part is a row without a code of its own (counts of a reading, stages of a case): it refers to its owner
    by the row, not by a code, and is sealed with it.
    """
    parts: dict[str, list[tuple[sa.Table, str]]] = defaultdict(list)
    owners = []
    for table in known.sorted_tables:
        if table.name in NOT_FACTS or table.name == "alembic_version":
            continue
        owner = _owner_of(table)
        if owner is None:
            owners.append(table)
        else:
            parts[owner[0]].append((table, owner[1]))
    return [(table, parts[table.name]) for table in sorted(owners, key=lambda each: each.name)]


def _owner_of(table: sa.Table) -> tuple[str, str] | None:
    if "recorded_at" in table.c:
        return None
    for key in table.foreign_keys:
        if key.column.name == "id" and key.parent.name.endswith("_id"):
            return key.column.table.name, key.parent.name
    return None


def content_of(row: Row, parts: Sequence[tuple[str, Row]] = ()) -> str:
    """Return a row with its parts as one text that is the same on every database and in every later schema.

    What says nothing (nothing known, an empty text, no) is left out, so that a column that is added later
    changes no digest.

    Examples
    --------
    >>> content_of({"id": 3, "mass_g": 12.5, "remark": "", "adult": None, "withdrawn": False})
    '[{"id":3,"mass_g":12.5},[]]'
    """
    said = [[name, _said(part)] for name, part in parts]
    return json.dumps([_said(row), said], ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def _said(row: Row) -> dict[str, Any]:
    return {
        name: _plain(value)
        for name, value in row.items()
        if value is not None and value != "" and value is not False
    }


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        moment = value if value.tzinfo is None else value.astimezone(UTC).replace(tzinfo=None)
        return moment.isoformat(timespec="microseconds")
    if isinstance(value, date):
        return value.isoformat()
    return value


def digest_of(content: str) -> str:
    """Return the SHA-256 digest of a content as hexadecimal digits."""
    return hashlib.sha256(content.encode("utf-8")).hexdigest()


def seal_of(before: str, line: Row, taken_out: Mapping[str, str] | None = None) -> str:
    """Return the seal of a line: over the seal before it and everything that it says.

    Who and why enter by their digests only; ``taken_out`` gives the digest of what stood there before a
    redaction.
    """
    said = {name: _plain(value) for name, value in line.items() if name != "seal"}
    for name in ("by", "why"):
        said[name] = (taken_out or {}).get(name) or digest_of(str(said[name]))
    return digest_of(before + json.dumps(said, ensure_ascii=False, sort_keys=True, separators=(",", ":")))


def seal_from(typed: str) -> Seal:
    """Return the seal that somebody kept: ``LINE-DIGITS``, whole or short.

    Raises
    ------
    BadInput
        When it is none.

    Examples
    --------
    >>> seal_from("12-abababababababab").line
    12
    """
    line, _, digits = typed.strip().lower().partition("-")
    if not line.isascii() or not line.isdigit() or len(line) > 12 or not _DIGITS.fullmatch(digits):
        raise BadInput(
            f"{typed[:80]!r} is no seal: it is the number of a line, a dash and 16 to 64 digits or letters a-f.",
            next="Type: fecallab records seal  to see the seal of today",
            code="no-seal",
        )
    return Seal(int(line), digits)


def newest_seal(connection: Connection) -> Seal:
    """Return the newest seal; line 0 where nothing was recorded yet."""
    query = sa.select(ledger.c.line, ledger.c.seal).order_by(ledger.c.line.desc()).limit(1)
    row = connection.execute(query).first()
    return Seal(0, START) if row is None else Seal(row.line, row.seal)


def seal_at(connection: Connection, line: int) -> Seal | None:
    """Return the seal of one line, or None where there is no such line."""
    found = connection.execute(sa.select(ledger.c.seal).where(ledger.c.line == line)).scalar()
    return None if found is None else Seal(line, found)


def add_lines(connection: Connection, by: str, now: datetime, known: sa.MetaData = metadata) -> Seal:
    """Add the lines of all rows that have none yet; called at the end of every transaction that writes.

    One writer at a time is let in (`engine.writing`), so rows without a line are those of this transaction.

    Parameters
    ----------
    by, now : str, datetime
        Who records and when, for rows that do not say so themselves.
    known : MetaData
        The tables as they are; a migration gives those that it found.
    """
    tables, query = _highest(known, len(known.tables))
    marks = connection.execute(query).one()
    last = newest_seal(connection)
    for index, (table, parts) in enumerate(tables):
        sealed, newest = marks[2 * index] or 0, marks[2 * index + 1] or 0
        if newest <= sealed:
            continue
        batch: list[dict[str, Any]] = []
        for line in _lines_of(connection, table, parts, sealed):
            line = {"by": by, "at": now.astimezone(UTC), **line, "line": last.line + 1}
            last = Seal(line["line"], seal_of(last.seal, line))
            batch.append({**line, "seal": last.seal})
            if len(batch) == ROWS_AT_ONCE:
                connection.execute(sa.insert(ledger), batch)
                batch = []
        if batch:
            connection.execute(sa.insert(ledger), batch)
    return last


@lru_cache(maxsize=4)
def _highest(known: sa.MetaData, _count: int) -> tuple[list[tuple[sa.Table, Parts]], sa.Select[Any]]:
    """Return the tables with their parts, and the query for the last row of each that has a line, and of all.

    Put together once for a set of tables, since every command that writes asks it.
    """
    tables = tables_with_parts(known)
    pairs = [
        (
            sa.select(sa.func.max(ledger.c.row_id))
            .where(ledger.c.table_name == table.name)
            .scalar_subquery(),
            sa.select(sa.func.max(table.c.id)).scalar_subquery(),
        )
        for table, _ in tables
    ]
    return tables, sa.select(*(each for pair in pairs for each in pair))


def _lines_of(
    connection: Connection, table: sa.Table, parts: list[tuple[sa.Table, str]], after: int
) -> Iterator[dict[str, Any]]:
    for row, content in contents(connection, table, parts, after):
        line = {
            "table_name": table.name,
            "row_id": row["id"],
            "before_id": row.get("replaces"),
            "code": row.get("code") or row.get("sha256") or "",
            "why": row.get("correction_reason") or "",
            "digest": digest_of(content),
        }
        if "recorded_at" in row:
            at = row["recorded_at"]
            line["at"] = at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
            line["by"] = row["recorded_by"]
        yield line


def contents(
    connection: Connection, table: sa.Table, parts: list[tuple[sa.Table, str]], after: int = 0
) -> Iterator[tuple[sa.RowMapping, str]]:
    """Yield the rows of a table above an id, each with its content, a bounded number at a time."""
    while True:
        query = sa.select(table).where(table.c.id > after).order_by(table.c.id).limit(ROWS_AT_ONCE)
        found = connection.execute(query).mappings().all()
        if not found:
            return
        first, last = found[0]["id"], found[-1]["id"]
        owned: dict[int, list[tuple[str, dict[str, Any]]]] = defaultdict(list)
        for part, owner in parts:
            column = part.c[owner]
            inside = sa.select(part).where(column >= first, column <= last).order_by(part.c.id)
            for row in connection.execute(inside).mappings():
                said = {name: value for name, value in row.items() if name not in ("id", owner)}
                owned[row[owner]].append((part.name, said))
        for row in found:
            yield row, content_of(row, owned[row["id"]])
        after = last


def taken_out(connection: Connection) -> dict[int, dict[str, str]]:
    """Return by line the digests of what stood there before it was redacted, the first redaction of each."""
    query = (
        sa.select(redactions.c.row_id, redactions.c.column_name, redactions.c.digest)
        .where(redactions.c.table_name == ledger.name)
        .order_by(redactions.c.id)
    )
    found: dict[int, dict[str, str]] = defaultdict(dict)
    for line, column, digest in connection.execute(query):
        found[line].setdefault(column, digest)
    return found


def digest_of_row(connection: Connection, table: sa.Table, row_id: int) -> str:
    """Return the digest of one row with its parts, as it is now."""
    parts = next(parts for each, parts in tables_with_parts(metadata) if each.name == table.name)
    return digest_of(next(contents(connection, table, parts, row_id - 1))[1])
