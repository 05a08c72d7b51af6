"""Bringing a database to the newest schema, each time in one transaction with its version row."""

from __future__ import annotations

from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from fecallab.domain.errors import CouldNot
from fecallab.records.engine import BUSY_SECONDS, sqlite_engine, writing
from fecallab.records.schema import SCHEMA_REVISIONS

HEAD = SCHEMA_REVISIONS[-1]
SCRIPTS = "fecallab.records:migrations"


def revision_of(connection: Connection) -> str | None:
    """Return the revision of the schema of a database; None for an empty one."""
    if (
        connection.dialect.name == "sqlite"
    ):  # every command asks: the inspector would take longer than the rest
        asked = "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'alembic_version'"
        there = connection.exec_driver_sql(asked).first() is not None
    else:
        there = sa.inspect(connection).has_table("alembic_version")
    if not there:
        return None
    found = connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar()
    return None if found is None else str(found)


def needs_upgrade(engine: Engine) -> bool:
    """Say whether a database is older than this program.

    Raises
    ------
    CouldNot
        When it was written by a newer fecallab, or is no database of records.
    """
    with engine.connect() as connection:
        revision = revision_of(connection)
    if revision is None:
        raise CouldNot(
            "The database holds no records of fecallab.",
            next="Bring back the right records.sqlite, or restore a backup.",
            code="records-damaged",
        )
    _refuse_newer(revision)
    return revision != HEAD


def _refuse_newer(revision: str | None) -> None:
    if revision is not None and revision not in SCHEMA_REVISIONS:
        raise CouldNot(
            f"These records were written by a newer fecallab (schema {revision};"
            f" this one knows up to {HEAD}).",
            next="Install the newer fecallab and repeat.",
            code="newer-records",
        )


def upgrade(engine: Engine, revision: str | None = None) -> None:
    """Bring a database to the newest schema in one transaction; doing it twice changes nothing.

    An older `revision` is asked for only to take in what was exported at that schema.
    """
    from alembic import command
    from alembic.config import Config

    from fecallab.records.guard import lift_guard, set_guard

    with writing(engine) as connection:
        found = revision_of(connection)
        _refuse_newer(found)
        wanted = revision or HEAD
        if found in (HEAD, wanted):
            return
        config = Config()
        config.set_main_option("script_location", SCRIPTS)
        config.attributes["connection"] = connection
        lift_guard(connection)
        command.upgrade(config, wanted)
        set_guard(connection)
        if engine.dialect.name == "sqlite":
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").first()
            if broken is not None:
                raise CouldNot(
                    f"The records cannot be renewed: a row of {broken[0]} names something that is missing.",
                    next="Restore a backup and repeat.",
                    code="records-damaged",
                )


def upgrade_file(
    path: Path, *, create: bool = False, busy_seconds: float = BUSY_SECONDS, revision: str | None = None
) -> None:
    """Bring a SQLite file to the newest schema."""
    engine = sqlite_engine(
        path, busy_seconds=busy_seconds, foreign_keys=False, access="create" if create else "write"
    )
    try:
        upgrade(engine, revision)
    finally:
        engine.dispose()
