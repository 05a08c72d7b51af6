"""The record folder as a whole: make one, open one, write in one transaction."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from fecallab.domain.errors import BadInput, CouldNot, FecallabError
from fecallab.domain.exam import Picture
from fecallab.records import migrate, schema
from fecallab.records.engine import BUSY_SECONDS, access_to, reading, sqlite_engine, writing
from fecallab.records.folder import (
    DATABASE,
    LAYOUT_VERSION,
    MARKER,
    PICTURES,
    RECORD_FOLDER,
    Marker,
    read_marker,
    shown,
    sync_folder,
    write_marker,
)
from fecallab.records.guard import set_guard, unguarded
from fecallab.records.ledger import Seal, add_lines, newest_seal
from fecallab.records.picture_place import FolderPictures, PicturePlace, picture_place
from fecallab.records.reader import Reader
from fecallab.records.trouble import could_not, in_one_line
from fecallab.records.writer import Writer

if TYPE_CHECKING:
    from fecallab.records.privacy import Place


class Records(Reader):
    """An open record folder.

    Parameters
    ----------
    folder : Path
        Where the pictures lie.
    engine : Engine
        The database, at the newest schema.
    place : PicturePlace, optional
        Where the bytes of the pictures lie; in the folder when omitted.
    """

    def __init__(self, folder: Path, engine: Engine, place: PicturePlace | None = None) -> None:
        self.folder = folder
        self.engine = engine
        self.place = place or FolderPictures(folder)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    @contextmanager
    def _connection(self) -> Iterator[Connection]:
        with in_one_line(), reading(self.engine) as connection:
            yield connection

    @contextmanager
    def write(self, by: str, now: datetime) -> Iterator[Writer]:
        """Open the transaction of one command.

        Parameters
        ----------
        by : str
            Who records.
        now : datetime
            The moment, with its zone; one without is taken for the clock of this computer.

        Yields
        ------
        Writer
            What it records is on the disk when the block has ended, or nothing of it is kept.

        Raises
        ------
        CouldNot
            When another command went on writing for too long, or the disk is full or read-only.
        """
        placed: list[Picture] = []
        try:
            with in_one_line(disk=False), writing(self.engine) as connection:
                writer = Writer(self.folder, connection, by, now, placed, self.place)
                yield writer
                add_lines(connection, writer.by, now)
        except BaseException:
            self._take_back(placed)
            raise

    def seal(self) -> Seal:
        """Return the newest seal of the ledger."""
        with self._connection() as connection:
            return newest_seal(connection)

    def places_of(self, name: str) -> list[Place]:
        """Return every text of the records in which a person's name stands."""
        from fecallab.records.privacy import places_of

        with self._connection() as connection:
            return list(places_of(connection, name))

    def redact(self, name: str, instead: str, *, by: str, why: str, now: datetime) -> list[Place]:
        """Take a name out of every text of the records, see `privacy.redact`."""
        from fecallab.records.privacy import redact

        with in_one_line(), writing(self.engine) as connection:
            return redact(connection, name, instead, by=by, why=why, now=now)

    def set_guard(self) -> list[str]:
        """Put the triggers back that keep what was recorded; return the tables that lacked one."""
        with in_one_line(), writing(self.engine) as connection:
            bare = unguarded(connection)
            if bare:
                set_guard(connection)
        return bare

    def _take_back(self, placed: list[Picture]) -> None:
        """Remove picture files of a command that is not kept, unless another command keeps them by now.

        What cannot be removed now does no harm: `check` names it.
        """
        table = schema.pictures
        if not placed:
            return
        with suppress(FecallabError), in_one_line(), writing(self.engine) as connection:
            for picture in placed:
                query = sa.select(table.c.id).where(table.c.sha256 == picture.sha256)
                if connection.execute(query).first() is None:
                    self.place.remove(picture)


def create_records(folder: Path | str, now: datetime | None = None) -> bool:
    """Make a record folder; the folder may exist if it is empty.

    A folder that lost only its marker gets a new one; its records are left as they are.

    Parameters
    ----------
    folder : Path or str
        The folder to make.
    now : datetime, optional
        When it is made; this computer's time when omitted.

    Returns
    -------
    bool
        True when records were made, False when only the marker was written anew.

    Raises
    ------
    BadInput
        When the folder is a record folder already or holds other files.
    CouldNot
        When the disk is full or may not be written.
    """
    folder = Path(folder)
    database = folder / DATABASE
    with in_one_line():
        if folder.exists() and not folder.is_dir():
            raise BadInput(
                f"{folder} is a file, no folder.", next="Name another folder.", code="not-a-folder"
            )
        if database.exists():
            _refuse_if_marked(folder)
            _write_marker_of(folder)
            return False
        made = not folder.exists()
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        mine = {database.name + ending for ending in (".new", ".new-wal", ".new-shm", ".new-journal")}
        strange = [path.name for path in folder.iterdir() if path.name not in mine | {MARKER, PICTURES}]
        strange = [name for name in strange if not name.startswith(".")]
        if strange or any((folder / PICTURES).glob("*")):
            raise BadInput(
                f"{folder} holds other files already ({(strange or [PICTURES])[0]}, …).",
                next="Name a folder that is new or empty.",
                code="folder-not-empty",
            )
        for name in mine:
            (folder / name).unlink(missing_ok=True)
        fresh = folder / (DATABASE + ".new")
        try:
            (folder / PICTURES).mkdir(exist_ok=True)
            _make_database(fresh, now or datetime.now(UTC))
            if fresh.with_name(fresh.name + "-wal").exists():
                raise could_not("not-writable", f"{fresh} could not be finished")
            fresh.rename(database)
        except BaseException:
            with suppress(OSError):
                for name in mine:
                    (folder / name).unlink(missing_ok=True)
                (folder / PICTURES).rmdir()
                if made:
                    folder.rmdir()
            raise
        sync_folder(folder)
        _write_marker_of(folder)
    return True


def open_records(folder: Path | str, *, busy_seconds: float = BUSY_SECONDS) -> Records:
    """Open a record folder; use it in a ``with`` block.

    Records of an older fecallab are brought to the newest schema first, in one transaction.

    Parameters
    ----------
    folder : Path
        The record folder.
    busy_seconds : float
        How long to wait for another command that is writing.

    Raises
    ------
    BadInput
        When it is no record folder.
    CouldNot
        When it is damaged, from a newer fecallab, or cannot be read.
    """
    folder = Path(folder)
    marker = read_marker(folder)
    place = picture_place(folder, marker.pictures)
    if marker.database:
        return _open_server(folder, marker, place, busy_seconds)
    database = folder / DATABASE
    if not database.exists():
        raise CouldNot(
            f"{folder} has no {DATABASE}: the records are missing.",
            next="Bring the file back, or type: fecallab records restore BACKUP NEW_FOLDER",
            code="records-missing",
        )
    access = access_to(database)
    engine = sqlite_engine(database, busy_seconds=busy_seconds, access=access)
    try:
        with in_one_line():
            if migrate.needs_upgrade(engine):
                if access == "read":
                    raise could_not("not-writable", "they are of an older fecallab and must be renewed")
                engine.dispose()
                migrate.upgrade_file(database, busy_seconds=busy_seconds)
    except BaseException:
        engine.dispose()
        raise
    return Records(folder, engine, place)


def _open_server(folder: Path, marker: Marker, place: PicturePlace, busy_seconds: float) -> Records:
    """Open records on a server; nothing is renewed there without a word, since others may be at work."""
    from fecallab.records.server import address_of, server_engine

    engine = server_engine(address_of(marker.database), busy_seconds=busy_seconds)
    try:
        with in_one_line():
            if migrate.needs_upgrade(engine):
                raise CouldNot(
                    "The records on the server are of an older fecallab and must be renewed.",
                    next=f"Whoever runs the server types: fecallab records renew --records {shown(folder)}",
                    code="older-schema",
                )
    except BaseException:
        engine.dispose()
        raise
    return Records(folder, engine, place)


def _refuse_if_marked(folder: Path) -> None:
    try:
        read_marker(folder)
    except CouldNot as trouble:
        if trouble.reason.code != "marker-damaged":
            raise
    except BadInput:
        if (folder / MARKER).exists():
            raise
    else:
        raise BadInput(
            f"{folder} is a record folder already.",
            next=f"Use it as it is: --records {shown(folder)}",
            code="exists-already",
        )


def _make_database(path: Path, now: datetime) -> None:
    migrate.upgrade_file(path, create=True)
    engine = sqlite_engine(path)
    try:
        found_collection(engine, now)
    finally:
        engine.dispose()


def found_collection(engine: Engine, now: datetime) -> str:
    """Give a new database its identity, by which backups know it."""
    identity = str(uuid.uuid4())
    with writing(engine) as connection:
        connection.execute(sa.insert(schema.collection), {"id": 1, "identity": identity, "made_at": now})
        add_lines(connection, "", now)
    return identity


def _write_marker_of(folder: Path) -> None:
    engine = sqlite_engine(folder / DATABASE)
    try:
        migrate.needs_upgrade(engine)
        with reading(engine) as connection:
            identity = connection.execute(sa.select(schema.collection.c.identity)).scalar()
    finally:
        engine.dispose()
    write_marker(folder, Marker(RECORD_FOLDER, LAYOUT_VERSION, str(identity)))
