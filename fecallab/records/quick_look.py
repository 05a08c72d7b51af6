"""A quick look at a record folder for a report of trouble: nothing is renewed, changed or read through."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from fecallab.domain.errors import FecallabError, Reason
from fecallab.records import migrate, schema
from fecallab.records.engine import access_to, reading, sqlite_engine
from fecallab.records.folder import DATABASE, read_marker
from fecallab.records.ledger import START, newest_seal, seal_at, seal_of, taken_out
from fecallab.records.schema_ledger import ledger
from fecallab.records.trouble import could_not, in_one_line

QUICK_SECONDS = 3.0
"""How long it waits for a database that does not answer."""


@dataclass(frozen=True, kw_only=True)
class QuickLook:
    """What a quick look at a record folder found.

    Attributes
    ----------
    on_server : bool
        Whether the records are on a server, or in the folder.
    revision, newest : str
        Revision of the schema, and the newest one; the first is empty when it could not be read.
    writable : bool
        Whether a file could be written in the folder.
    line : int
        How many rows the ledger holds.
    follows : bool or None
        Whether its last line follows from the one before; None when it was not looked at.
    last_recorded : datetime or None
        When something was last recorded, UTC.
    trouble : Reason or None
        What kept the records from being opened.
    """

    on_server: bool
    revision: str = ""
    newest: str = migrate.HEAD
    writable: bool = False
    line: int = 0
    follows: bool | None = None
    last_recorded: datetime | None = None
    trouble: Reason | None = None


def quick_look(folder: Path) -> QuickLook:
    """Look at the schema and the last line of the ledger; the folder stays as it is.

    Raises
    ------
    BadInput, CouldNot
        When it is no record folder, or its marker cannot be read.
    """
    marker = read_marker(folder)
    on_server = bool(marker.database)
    writable = _writable(folder)
    try:
        engine = _engine(folder, marker.database)
    except FecallabError as error:
        return QuickLook(on_server=on_server, writable=writable, trouble=error.reason)
    revision = ""
    try:
        with in_one_line(), reading(engine) as connection:
            revision = migrate.revision_of(connection) or ""
            if revision != migrate.HEAD:
                return QuickLook(
                    on_server=on_server, revision=revision, writable=writable, trouble=_old_or_new(revision)
                )
            return QuickLook(
                on_server=on_server,
                revision=revision,
                writable=writable,
                line=newest_seal(connection).line,
                follows=last_line_follows(connection),
                last_recorded=_last_recorded(connection),
            )
    except FecallabError as error:
        return QuickLook(on_server=on_server, revision=revision, writable=writable, trouble=error.reason)
    finally:
        engine.dispose()


def _engine(folder: Path, database: str) -> Engine:
    if database:
        from fecallab.records.server import address_of, server_engine

        return server_engine(address_of(database), busy_seconds=QUICK_SECONDS)
    path = folder / DATABASE
    if not path.exists():
        reason = could_not("not-readable").reason
        raise FecallabError(f"{DATABASE} is missing.", next=reason.next, code="records-missing")
    return sqlite_engine(path, busy_seconds=QUICK_SECONDS, access=access_to(path))


def _old_or_new(revision: str) -> Reason | None:
    """Return what stands in the way of a schema that this program does not know; an older one does not."""
    if revision in schema.SCHEMA_REVISIONS:
        return None
    said = f"The records have a schema that this program does not know ({revision or 'none'})."
    return Reason("newer-records", said, "Install the newer fecallab and repeat.")


def last_line_follows(connection: Connection) -> bool:
    """Say whether the last line of the ledger follows from the one before; `ledger_check.verify` reads all of them."""
    last = connection.execute(sa.select(ledger).order_by(ledger.c.line.desc()).limit(1)).mappings().first()
    if last is None:
        return True
    number = last["line"]
    before = seal_at(connection, number - 1)
    if before is None and number > 1:
        return False
    out = taken_out(connection).get(number)
    return seal_of(before.seal if before else START, last, out) == str(last["seal"])


def _last_recorded(connection: Connection) -> datetime | None:
    query = sa.select(ledger.c.at).order_by(ledger.c.line.desc()).limit(1)
    found: datetime | None = connection.execute(query).scalar()
    return found


def _writable(folder: Path) -> bool:
    """Say whether a file can be written in the folder; it is gone at once."""
    try:
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False
