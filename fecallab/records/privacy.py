"""What is stored about a person, and how a name is taken out without breaking the ledger.

People stand in the records by name only: who recorded, who gave a dose, which vet wrote, and wherever somebody
typed a name into a remark. Nothing is sent anywhere. A name that is taken out is replaced in every row, the
replaced rows too; a redaction, itself a line of the ledger, says when, by whom and why, and carries the digest
that the row has from then on, so that `ledger.verify` still proves all the rest. Of the name itself only a
SHA-256 digest stays in the chain: whoever guesses the name can confirm the guess, nobody can read it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.errors import BadInput
from fecallab.records import schema
from fecallab.records.guard import lift_guard, set_guard
from fecallab.records.ledger import add_lines, digest_of, digest_of_row, tables_with_parts

LEAST_LETTERS = 3


@dataclass(frozen=True)
class Place:
    """One text in which a name stands."""

    table: str
    row_id: int
    code: str
    column: str
    text: str

    def as_dict(self) -> dict[str, Any]:
        """Return the place as plain keys for ``--json``."""
        return asdict(self)


def places_of(connection: Connection, name: str) -> Iterator[Place]:
    """Yield every text of the records in which a name stands as a word, in any case.

    Raises
    ------
    BadInput
        When the name is too short to be told from other words.
    """
    pattern = _pattern(name)
    for table in schema.metadata.sorted_tables:
        columns = [
            column for column in table.c if isinstance(column.type, sa.Text) and not column.foreign_keys
        ]
        columns = [column for column in columns if column.name not in ("code", "name_key", "digest", "seal")]
        if not columns or table is schema.codes:
            continue
        key = next(iter(table.primary_key))
        told = table.c.code if "code" in table.c else sa.literal("")
        near = sa.or_(*(sa.func.lower(column).contains(name.lower(), autoescape=True) for column in columns))
        for row in connection.execute(sa.select(key, told, *columns).where(near).order_by(key)):
            for column, text in zip(columns, row[2:], strict=True):
                if text and pattern.search(text):
                    yield Place(table.name, row[0], row[1], column.name, text)


def redact(
    connection: Connection, name: str, instead: str, *, by: str, why: str, now: datetime
) -> list[Place]:
    """Replace a name by other words in every text of the records; the ledger says that it was done.

    Parameters
    ----------
    connection : Connection
        A transaction that may write; on a server its login must own the tables.
    name : str
        As it stands in the texts; capitals make no difference.
    instead : str
        What stands there from now on, such as ``keeper 2``.
    by, why, now : str, str, datetime
        Who does it, for which reason, and when.

    Returns
    -------
    list of Place
        Where the name stood.

    Raises
    ------
    BadInput
        When the name is not found, or no words or no reason are given.
    """
    if not instead.strip() or not why.strip() or _pattern(name).search(instead):
        raise BadInput(
            "A redaction needs words that stand instead of the name, and a reason.",
            next='Type: fecallab records redact NAME --instead "keeper 2" --reason "WHY"',
            code="redaction-incomplete",
        )
    found = list(places_of(connection, name))
    if not found:
        raise BadInput(
            f"{name!r} stands nowhere in these records.",
            next="Give the name as it was typed.",
            code="unknown-name",
        )
    pattern = _pattern(name)
    lift_guard(connection)
    for place in found:
        table = schema.metadata.tables[place.table]
        key = next(iter(table.primary_key))
        new = pattern.sub(lambda _: instead.strip(), place.text)
        connection.execute(sa.update(table).where(key == place.row_id).values({place.column: new}))
    _tell(connection, found, by=by, why=why, now=now)
    set_guard(connection)
    add_lines(connection, by, now)
    return found


def _tell(connection: Connection, found: list[Place], *, by: str, why: str, now: datetime) -> None:
    """Add one redaction for every row with lines that was changed, and for every changed text of a line."""
    owners = {
        part.name: (table, owner)
        for table, parts in tables_with_parts(schema.metadata)
        for part, owner in parts
    }
    frame = {"recorded_at": now.astimezone(UTC), "recorded_by": by, "why": why}
    changed: dict[tuple[str, int], None] = {}
    told = []
    for place in found:
        if place.table == schema.ledger.name:
            said = {"table_name": place.table, "row_id": place.row_id, "column_name": place.column}
            told.append({**said, "digest": digest_of(place.text), **frame})
        elif place.table in owners:
            table, owner = owners[place.table]
            part = schema.metadata.tables[place.table]
            query = sa.select(part.c[owner]).where(part.c.id == place.row_id)
            changed[table.name, connection.execute(query).scalar_one()] = None
        else:
            changed[place.table, place.row_id] = None
    for table_name, row_id in changed:
        digest = digest_of_row(connection, schema.metadata.tables[table_name], row_id)
        told.append(
            {"table_name": table_name, "row_id": row_id, "column_name": "", "digest": digest, **frame}
        )
    connection.execute(sa.insert(schema.redactions), told)


def _pattern(name: str) -> re.Pattern[str]:
    said = name.strip()
    if len(said) < LEAST_LETTERS:
        raise BadInput(
            f"{name!r} is too short: it would be found inside of other words.",
            next="Give the whole name.",
            code="name-too-short",
        )
    return re.compile(rf"(?<!\w){re.escape(said)}(?!\w)", re.IGNORECASE)
