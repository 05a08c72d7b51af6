"""Records of every schema that there ever was are brought to the newest, with their rows, on both databases.

``data/schema_NNNN.sql`` holds one of every kind of fact, a correction and a withdrawal, as the program of that
schema wrote them.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.engine import Engine

from fecallab.records import ledger, ledger_check, migrate, schema
from fecallab.records.engine import postgresql_engine, reading, sqlite_engine, writing
from fecallab.records.guard import lift_guard, unguarded
from fecallab.records.transfer import compare_all, go_on_numbering, put_rows, rows_of, tables_in_order

DATA = Path(__file__).parent / "data"
OLD = schema.SCHEMA_REVISIONS[:-1]


def as_it_was(path: Path, revision: str) -> Engine:
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript((DATA / f"schema_{revision}.sql").read_text(encoding="utf-8"))
        assert connection.execute("SELECT version_num FROM alembic_version").fetchone() == (revision,)
    return sqlite_engine(path, foreign_keys=False)


def typed_tables(engine: Engine) -> sa.MetaData:
    """The tables of an old database, with the types that their columns have in this program."""
    found = sa.MetaData()
    found.reflect(engine)
    for table in found.tables.values():
        mine = schema.metadata.tables.get(table.name)
        for column in table.c:
            if mine is not None and column.name in mine.c:
                column.type = mine.c[column.name].type
    return found


def contents(engine: Engine, known: sa.MetaData) -> dict[str, list[str]]:
    with reading(engine) as connection:
        return {
            table.name: [ledger.content_of(row) for row in rows_of(connection, table)]
            for table in tables_in_order(known)
        }


def same_columns(engine: Engine, known: sa.MetaData) -> dict[str, list[str]]:
    """What stands now in the columns that the old tables had."""
    found: dict[str, list[str]] = {}
    with reading(engine) as connection:
        for table in tables_in_order(known):
            now = schema.metadata.tables[table.name]
            columns = [now.c[column.name] for column in table.c]
            query = sa.select(*columns).order_by(*now.primary_key)
            found[table.name] = [ledger.content_of(row) for row in connection.execute(query).mappings()]
    return found


def test_there_is_a_database_of_every_older_schema() -> None:
    assert {path.stem.removeprefix("schema_") for path in DATA.glob("schema_*.sql")} == set(OLD)


@pytest.mark.parametrize("revision", OLD)
def test_every_row_of_an_older_schema_is_there_after_the_upgrade(revision: str, tmp_path: Path) -> None:
    engine = as_it_was(tmp_path / "old.sqlite", revision)
    known = typed_tables(engine)
    before = contents(engine, known)
    assert sum(map(len, before.values())) > 20
    migrate.upgrade(engine)
    after = same_columns(engine, known)
    for name, rows in before.items():
        kept = after[name]
        if name == "codes":  # in the order of the alphabet, with the codes of what an upgrade has made
            assert set(rows) <= set(kept)
        else:
            assert kept[: len(rows)] == rows, name
        assert len(after[name]) == len(rows) or name in ("ledger", "codes", "enclosures", "stays")
    with reading(engine) as connection:
        assert list(ledger_check.verify(connection)) == []
        assert unguarded(connection) == []
    engine.dispose()


@pytest.mark.parametrize("revision", OLD)
def test_a_server_is_renewed_as_a_folder_is(
    revision: str, tmp_path: Path, new_postgresql: Callable[..., str]
) -> None:
    here = as_it_was(tmp_path / "old.sqlite", revision)
    there = postgresql_engine(new_postgresql())
    migrate.upgrade(there, revision)
    known = typed_tables(here)
    with reading(here) as source, writing(there) as target:
        lift_guard(target)
        for table in tables_in_order(known):
            put_rows(target, table, rows_of(source, table))
        go_on_numbering(target, known)
    migrate.upgrade(here)
    migrate.upgrade(there)
    with reading(here) as source, reading(there) as target:
        skipped: set[str] = set()
        if revision < "0005":
            skipped = {"ledger"}  # its lines of the upgrade carry the moment of the upgrade
        wanted = sa.MetaData()
        for table in schema.metadata.sorted_tables:
            if table.name not in skipped:
                table.to_metadata(wanted)
        assert compare_all(source, target, wanted) > 20
        assert list(ledger_check.verify(target)) == []
        assert unguarded(target) == []
    here.dispose()
    there.dispose()


def test_a_newer_database_is_refused_and_an_older_program_says_so(tmp_path: Path) -> None:
    path = tmp_path / "new.sqlite"
    migrate.upgrade_file(path, create=True)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
        connection.commit()
    engine = sqlite_engine(path)
    with pytest.raises(Exception, match="written by a newer fecallab") as caught:
        migrate.upgrade(engine)
    assert "Install the newer fecallab" in str(caught.value)
    engine.dispose()


def test_the_old_data_holds_no_path_of_a_computer() -> None:
    said: list[Any] = [path for path in DATA.glob("*.sql") if "/home/" in path.read_text("utf-8")]
    assert said == []
