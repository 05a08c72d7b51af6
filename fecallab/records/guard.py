"""Triggers by which the database itself refuses to change or delete what was recorded."""

from __future__ import annotations

from collections.abc import Iterator

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.errors import Reason

REFUSED = "what was recorded is never changed or deleted; record a correction"
_FUNCTION = "fecallab_refuse"


def guarded_tables(connection: Connection) -> list[str]:
    """Return the tables that are guarded: all but the one that names the schema."""
    return sorted(name for name in sa.inspect(connection).get_table_names() if name != "alembic_version")


def _names(table: str) -> list[tuple[str, str]]:
    return [(f"keep_{table}_{verb.lower()}", verb) for verb in ("UPDATE", "DELETE")]


def set_guard(connection: Connection) -> None:
    """Put the triggers on every table; those that are there already are made anew."""
    lift_guard(connection)
    postgresql = connection.dialect.name == "postgresql"
    if postgresql:
        connection.exec_driver_sql(
            f"CREATE OR REPLACE FUNCTION {_FUNCTION}() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION USING MESSAGE = '{REFUSED}', ERRCODE = 'restrict_violation'; END $$"
        )
    for table in guarded_tables(connection):
        for name, verb in _names(table):
            if postgresql:
                does = f"EXECUTE FUNCTION {_FUNCTION}()"
                made = f'CREATE TRIGGER "{name}" BEFORE {verb} ON "{table}" FOR EACH STATEMENT {does}'
            else:
                does = f"BEGIN SELECT RAISE(ABORT, '{REFUSED}'); END"
                made = f'CREATE TRIGGER "{name}" BEFORE {verb} ON "{table}" {does}'
            connection.exec_driver_sql(made)


def lift_guard(connection: Connection) -> None:
    """Take the triggers away; only a migration does so, in its own transaction."""
    postgresql = connection.dialect.name == "postgresql"
    for table in guarded_tables(connection):
        for name, _ in _names(table):
            on = f' ON "{table}"' if postgresql else ""
            connection.exec_driver_sql(f'DROP TRIGGER IF EXISTS "{name}"{on}')


def unguarded(connection: Connection) -> list[str]:
    """Return the tables from which a trigger was taken away, or switched off."""
    if connection.dialect.name == "postgresql":
        query = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
    else:
        query = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    there = {name for (name,) in connection.exec_driver_sql(query)}
    every = guarded_tables(connection)
    return [table for table in every if any(name not in there for name, _ in _names(table))]


def missing_guard(connection: Connection) -> Iterator[Reason]:
    """Yield what is not guarded."""
    bare = unguarded(connection)
    if bare:
        said = f"The guard against changes was taken away from {', '.join(bare)}."
        yield Reason("guard-missing", said, "Type: fecallab records guard")
