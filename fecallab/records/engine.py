"""Connections: SQLite in the record folder, or PostgreSQL, with the same promises.

One writer at a time, a whole command in one transaction, and a commit that is on the disk when it returns.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal, cast

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.engine import Connection, Dialect, Engine
from sqlalchemy.pool import QueuePool
from sqlalchemy.util import LRUCache

from fecallab.records.only_read import (
    keeps_from_writing_only,
    opened,
    opened_to_read,
    refuse_if_only_read,
)

BUSY_SECONDS = 5.0
"""How long a command waits for another one that is writing."""

Access = Literal["write", "create", "read"]

_SQLITE_HEADER_BYTES = 100  # memory (believed source: the SQLite file format, section 1.3)

WRITER_LOCK = 0x66656361
"""Key of the advisory lock that lets one writer in at a time on PostgreSQL (the letters ``feca``)."""


def sqlite_engine(
    path: Path,
    *,
    busy_seconds: float = BUSY_SECONDS,
    foreign_keys: bool = True,
    access: Access = "write",
) -> Engine:
    """Return an engine for a SQLite file that exists, or is to be made.

    Parameters
    ----------
    path : Path
        The database file.
    busy_seconds : float
        How long to wait for another writer.
    foreign_keys : bool
        False only while tables are rebuilt by a migration.
    access : str
        ``write`` for a file that exists, ``create`` to make it when it is not there, ``read`` for a medium
        that cannot be written: nothing beside the file is touched then.
    """

    def connect() -> sqlite3.Connection:
        if access != "create" and path.exists() and path.stat().st_size < _SQLITE_HEADER_BYTES:
            raise sqlite3.DatabaseError("the file is not a database: it is too short")
        if access == "read":
            return opened_to_read(path, busy_seconds, foreign_keys)
        mode = {"write": "rw", "create": "rwc"}[access]
        try:
            return opened(f"{path.absolute().as_uri()}?mode={mode}", busy_seconds, foreign_keys, log=True)
        except sqlite3.OperationalError as trouble:
            if access == "create" or not keeps_from_writing_only(trouble):
                raise
            try:
                return opened_to_read(path, busy_seconds, foreign_keys, trouble)
            except (sqlite3.Error, OSError):
                raise trouble from None

    dialect = _sqlite_dialect()
    pool = QueuePool(cast("Any", connect), dialect=dialect)
    url = sa.make_url("sqlite://")
    engine = Engine(pool, dialect, url, execution_options={"compiled_cache": _STATEMENTS})

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("fecallab_writes")
        refuse_if_only_read(connection.connection.dbapi_connection, bool(writes))
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


_STATEMENTS = LRUCache[Any, Any](500)
"""Statements as SQLite is told them, of every file that this process opens."""


@lru_cache(maxsize=1)
def _sqlite_dialect() -> Dialect:
    """Return the way in which statements are written for SQLite, one for the whole process.

    It holds nothing of a file. Where records are opened again for every act, as on the start screen, each
    statement is then written once: most of the time of a small command went into that.
    """
    engine = sa.create_engine("sqlite://")
    with engine.connect():
        pass  # with the first connection it asks the library what that can do
    engine.dispose()
    return engine.dialect


def postgresql_engine(url: str | sa.URL, *, busy_seconds: float = BUSY_SECONDS) -> Engine:
    """Return an engine for a PostgreSQL database; `url` uses the driver psycopg."""
    engine = sa.create_engine(url)

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        if connection.get_execution_options().get("fecallab_writes"):
            wait_ms = max(1, round(busy_seconds * 1000))
            connection.exec_driver_sql(f"SET LOCAL lock_timeout = {wait_ms}")
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITER_LOCK})")

    return engine


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Open a transaction that sees the records as they are now, unchanged until it ends."""
    with engine.connect() as connection:
        options: dict[str, Any] = {}
        if engine.dialect.name == "postgresql":
            options["isolation_level"] = "REPEATABLE READ"
        with connection.execution_options(**options).begin():
            yield connection


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Open the transaction of one command; all of it is kept, or nothing."""
    with engine.connect() as connection, connection.execution_options(fecallab_writes=True).begin():
        yield connection


def access_to(database: Path) -> Access:
    """Return how a database may be opened: ``read`` on a medium or in a folder that may only be read."""
    writable = os.access(database, os.W_OK) and os.access(database.parent, os.W_OK)
    return "write" if writable else "read"
