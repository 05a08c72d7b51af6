"""Records on a PostgreSQL server: moving there and back, joining from a second computer, people and roles."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from fecallab.domain.errors import BadInput, CouldNot
from fecallab.domain.exam import Picture
from fecallab.records import migrate, schema
from fecallab.records.check import known_pictures
from fecallab.records.engine import BUSY_SECONDS, postgresql_engine, reading, sqlite_engine, writing
from fecallab.records.folder import (
    DATABASE,
    LAYOUT_VERSION,
    RECORD_FOLDER,
    Marker,
    read_marker,
    shown,
    sync_folder,
    write_marker,
)
from fecallab.records.guard import lift_guard, set_guard
from fecallab.records.picture_place import picture_place
from fecallab.records.transfer import Progress, compare_all, copy_all
from fecallab.records.trouble import MOVED_AWAY, in_one_line

ROLES = ("keeper", "vet", "admin")
"""Who may do what: a keeper records, a vet reads and answers, an admin renews the schema and gives rights."""

VETS_TABLES = (
    "codes",
    "ledger",
    "vet_answers",
    "mark_verdicts",
    "missed_organisms",
    "exam_verdicts",
    "case_words",
)
"""What a vet may add rows to; all the rest a vet reads."""

_MOVED = "fecallab_moved"


@dataclass(frozen=True, kw_only=True)
class MoveResult:
    """What a move has done."""

    source: str
    target: str
    rows: int
    pictures: int
    kept: str

    def as_dict(self) -> dict[str, Any]:
        """Return the result as plain keys for ``--json``."""
        return {
            "from": self.source,
            "to": self.target,
            "rows": self.rows,
            "pictures": self.pictures,
            "kept_behind": self.kept,
        }


def address_of(typed: str) -> sa.URL:
    """Return the address of a database on a server, for the driver that is used here.

    Raises
    ------
    BadInput
        When it is no address of PostgreSQL, names no database, or holds a password.
    """
    said = "Write it as postgresql://USER@HOST/DATABASE"
    try:
        url = sa.make_url(typed)
    except (sa.exc.ArgumentError, ValueError):
        raise BadInput(
            f"{typed[:80]!r} is no address of a database.", next=said, code="bad-address"
        ) from None
    if url.get_backend_name() != "postgresql" or not url.database:
        raise BadInput(
            f"{url.render_as_string(hide_password=True)!r} is no database on a PostgreSQL server.",
            next=said,
            code="bad-address",
        )
    if url.password is not None:
        raise BadInput(
            "The address holds a password; it would be kept in a file that others can read.",
            next="Leave it out; put it into PGPASSWORD or the file .pgpass of your home.",
            code="password-in-address",
        )
    return url.set(drivername="postgresql+psycopg")


def plain(url: sa.URL) -> str:
    """Return an address as it is typed and kept."""
    return url.set(drivername="postgresql").render_as_string(hide_password=False)


def server_engine(url: sa.URL, *, busy_seconds: float = BUSY_SECONDS) -> Engine:
    """Return an engine for a database on a server.

    Raises
    ------
    CouldNot
        When the driver is not installed.
    """
    try:
        return postgresql_engine(url, busy_seconds=busy_seconds)
    except ImportError:
        raise CouldNot(
            "Records on a server need the driver psycopg, which is not installed.",
            next='Type: pip install "fecallab[server]"',
            code="not-installed",
        ) from None


@contextmanager
def open_server(url: sa.URL) -> Iterator[Engine]:
    """Open a server for a while; what the server refuses is one clear line."""
    engine = server_engine(url)
    try:
        with in_one_line():
            yield engine
    finally:
        engine.dispose()


def move_to_server(
    folder: Path, typed: str, now: datetime, *, pictures: str = "", progress: Progress | None = None
) -> MoveResult:
    """Move the records of a folder to a server, checked row by row; the folder then leads there.

    Parameters
    ----------
    typed : str
        Address of an empty database, or of one to which the same move was begun before.
    pictures : str
        Address of a shared place for the pictures; without it they stay in the folder.

    Raises
    ------
    BadInput
        When the folder leads to a server already, or the address is none.
    CouldNot
        When the database holds other things, cannot be reached, or something differs; the folder stays as it
        was then.
    """
    marker = read_marker(folder)
    if marker.database:
        raise BadInput(
            f"These records are on a server already: {marker.database}.",
            next=f"Type: fecallab records move --here --records {shown(folder)}",
            code="on-a-server",
        )
    url = address_of(typed)
    here = sqlite_engine(folder / DATABASE)
    try:
        with in_one_line(), open_server(url) as there, writing(here) as source:
            migrate.needs_upgrade(here)
            rows = _fill(source, there, marker, progress)
            moved = _move_pictures(known_pictures(source), folder, "", pictures)
            _take_no_more(source, now)
            led = Marker(RECORD_FOLDER, LAYOUT_VERSION, marker.collection, plain(url), pictures)
            write_marker(folder, led)
    finally:
        here.dispose()
    kept = folder / f"{DATABASE}.moved-to-server"
    _set_aside(folder / DATABASE, kept)
    return MoveResult(source=str(folder), target=plain(url), rows=rows, pictures=moved, kept=str(kept))


def move_here(folder: Path, now: datetime, progress: Progress | None = None) -> MoveResult:
    """Move the records of a server into the folder; the server takes no more rows from then on.

    Raises
    ------
    BadInput
        When the records lie in the folder already.
    CouldNot
        When the server cannot be reached or something differs; the folder leads there as before then.
    """
    marker = read_marker(folder)
    if not marker.database:
        raise BadInput(
            "These records lie in their folder.", next="Nothing is to be done.", code="not-on-a-server"
        )
    url = address_of(marker.database)
    database = folder / DATABASE
    fresh = folder / f".{DATABASE}.new"
    _remove(fresh)
    try:
        with in_one_line(), open_server(url) as there:
            with writing(there) as source:
                rows, known = _copy_into_file(source, fresh, progress)
                moved = _move_pictures(known, folder, marker.pictures, "")
                _take_no_more(source, now)
            fresh.replace(database)
            sync_folder(folder)
            write_marker(folder, Marker(RECORD_FOLDER, LAYOUT_VERSION, marker.collection))
    finally:
        _remove(fresh)
    return MoveResult(
        source=plain(url), target=str(folder), rows=rows, pictures=moved, kept=f"{plain(url)} (read only)"
    )


def copy_from_server(address: str, fresh: Path, progress: Progress | None = None) -> None:
    """Copy the records of a server as they are at one moment into a new SQLite file, compared row by row."""
    with in_one_line(), open_server(address_of(address)) as there, reading(there) as source:
        _copy_into_file(source, fresh, progress)


def _copy_into_file(source: Connection, fresh: Path, progress: Progress | None) -> tuple[int, list[Picture]]:
    _remove(fresh)
    migrate.upgrade_file(fresh, create=True)
    here = sqlite_engine(fresh, foreign_keys=False)
    try:
        with writing(here) as target:
            lift_guard(target)
            rows = copy_all(source, target, schema.metadata, progress)
            compare_all(source, target, schema.metadata)
            set_guard(target)
            known = known_pictures(target)
        with here.connect() as connection:
            driver = connection.connection.driver_connection
            assert driver is not None
            driver.execute("PRAGMA journal_mode = DELETE")
    finally:
        here.dispose()
    return rows, known


def join_server(folder: Path, typed: str, *, pictures: str = "") -> str:
    """Make a record folder on a second computer that leads to records on a server.

    Returns
    -------
    str
        The identity of the collection.
    """
    url = address_of(typed)
    with in_one_line():
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise BadInput(
                f"{folder} is not empty.", next="Name a folder that is new.", code="folder-not-empty"
            )
    with open_server(url) as there:
        migrate.needs_upgrade(there)
        with reading(there) as connection:
            identity = str(connection.execute(sa.select(schema.collection.c.identity)).scalar_one())
    with in_one_line():
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        picture_place(folder, pictures)
        write_marker(folder, Marker(RECORD_FOLDER, LAYOUT_VERSION, identity, plain(url), pictures))
    return identity


def set_roles(connection: Connection, people: Sequence[tuple[str, str]] = ()) -> list[str]:
    """Give the rights of keeper, vet and admin, and make people members of them.

    The rights are the database's own: a keeper reads and adds rows, a vet reads and adds answers, nobody
    changes or deletes, and only an admin may alter tables. Roles carry the name of the database, so that two
    collections on one server do not share them.

    Parameters
    ----------
    people : sequence of (str, str)
        A login that exists, and one of `ROLES`.

    Returns
    -------
    list of str
        The names of the three roles.
    """
    database = str(connection.execute(sa.select(sa.func.current_database())).scalar_one())
    names = {role: f"{database}_{role}" for role in ROLES}
    quote = connection.dialect.identifier_preparer.quote
    for role, name in names.items():
        there = connection.execute(sa.text("SELECT 1 FROM pg_roles WHERE rolname = :name"), {"name": name})
        if there.first() is None:
            connection.exec_driver_sql(f"CREATE ROLE {quote(name)} NOLOGIN")
        reads = f"GRANT SELECT ON ALL TABLES IN SCHEMA public TO {quote(name)}"
        connection.exec_driver_sql(f"GRANT USAGE ON SCHEMA public TO {quote(name)}")
        connection.exec_driver_sql(reads)
        connection.exec_driver_sql(f"GRANT USAGE ON ALL SEQUENCES IN SCHEMA public TO {quote(name)}")
        if role in ("keeper", "admin"):
            connection.exec_driver_sql(f"GRANT INSERT ON ALL TABLES IN SCHEMA public TO {quote(name)}")
            connection.exec_driver_sql(f"REVOKE INSERT ON alembic_version FROM {quote(name)}")
        else:
            for table in VETS_TABLES:
                connection.exec_driver_sql(f"GRANT INSERT ON {quote(table)} TO {quote(name)}")
    owner = quote(str(connection.execute(sa.select(sa.func.current_user())).scalar_one()))
    connection.exec_driver_sql(f"GRANT {owner} TO {quote(names['admin'])}")
    for login, role in people:
        if role not in names:
            raise BadInput(
                f"{role!r} is no role.", next=f"Give one of: {', '.join(ROLES)}", code="unknown-role"
            )
        there = connection.execute(sa.text("SELECT 1 FROM pg_roles WHERE rolname = :name"), {"name": login})
        if there.first() is None:
            raise BadInput(
                f"The server knows no login {login!r}.",
                next=f"Ask whoever runs the server: CREATE ROLE {quote(login)} LOGIN",
                code="unknown-login",
            )
        for other in names.values():
            connection.exec_driver_sql(f"REVOKE {quote(other)} FROM {quote(login)}")
        connection.exec_driver_sql(f"GRANT {quote(names[role])} TO {quote(login)}")
    return list(names.values())


def _fill(source: Connection, there: Engine, marker: Marker, progress: Progress | None) -> int:
    """Copy and compare in one transaction; a database that holds the same already is only compared."""
    with reading(there) as connection:
        tables = sa.inspect(connection).get_table_names()
        found = None
        if "collection" in tables and "alembic_version" in tables:
            found = connection.execute(sa.select(schema.collection.c.identity)).scalar()
    if tables and (found not in (None, marker.collection) or "alembic_version" not in tables):
        raise CouldNot(
            "The database on the server holds other things already; nothing was changed.",
            next="Ask for an empty database, or name the right one.",
            code="server-not-empty",
        )
    migrate.upgrade(there)
    with writing(there) as target:
        if found is None:
            lift_guard(target)
            rows = copy_all(source, target, schema.metadata, progress)
            set_guard(target)
        else:
            rows = 0
        return max(rows, compare_all(source, target, schema.metadata))


def _move_pictures(known: Sequence[Picture], folder: Path, source: str, target: str) -> int:
    if source == target:
        return len(known)
    give, take = picture_place(folder, source), picture_place(folder, target)
    moved = 0
    for picture in known:
        with suppress(FileNotFoundError):
            take.place(give.path(picture), picture)
            moved += 1
    return moved


def _take_no_more(connection: Connection, now: datetime) -> None:
    """Let a database that was left behind refuse every further row: nobody would look there any more."""
    said = f"{MOVED_AWAY} on {now.date().isoformat()}"
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(
            f"CREATE OR REPLACE FUNCTION {_MOVED}() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION USING MESSAGE = '{said}', ERRCODE = '25006'; END $$"
        )
        connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {_MOVED} ON ledger")
        does = f"FOR EACH STATEMENT EXECUTE FUNCTION {_MOVED}()"
    else:
        connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {_MOVED}")
        does = f"BEGIN SELECT RAISE(ABORT, '{said}'); END"
    connection.exec_driver_sql(f"CREATE TRIGGER {_MOVED} BEFORE INSERT ON ledger {does}")


def _set_aside(database: Path, kept: Path) -> None:
    """Give the file that was left behind another name, with what has not been written into it yet."""
    with in_one_line():
        for ending in ("-wal", "-shm", ""):
            path = database.with_name(database.name + ending)
            if path.exists():
                path.replace(kept.with_name(kept.name + ending))
        sync_folder(database.parent)


def _remove(path: Path) -> None:
    for ending in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + ending).unlink(missing_ok=True)
