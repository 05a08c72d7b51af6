"""SQLite where nothing can be written: on a full disk, on a medium or in a folder that may only be read."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path
from typing import Any

from fecallab.records.trouble import code_of_trouble, could_not

_KEEPS_FROM_WRITING = {
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_PERM,
}
_IN_MEMORY = "/dev/shm"  # a folder that needs no disk, where the system has one


class Connection(sqlite3.Connection):
    """A connection that remembers why it can only read; None when it can write."""

    trouble: sqlite3.Error | None = None


def keeps_from_writing_only(trouble: sqlite3.Error) -> bool:
    """Say whether a database that could not be opened may still be read: even to read, SQLite makes files beside it."""
    code = getattr(trouble, "sqlite_errorcode", None)
    return isinstance(code, int) and code & 0xFF in _KEEPS_FROM_WRITING


def opened(address: str, busy_seconds: float, foreign_keys: bool, *, log: bool = False) -> Connection:
    """Open a file by its address and read from it once, so that what is wrong is found here.

    Parameters
    ----------
    address : str
        A ``file:`` address with its mode.
    busy_seconds : float
    foreign_keys : bool
    log : bool
        Have changes written into a log beside the file.
    """
    connection = sqlite3.connect(
        address,
        uri=True,
        timeout=busy_seconds,
        isolation_level=None,
        check_same_thread=False,
        factory=Connection,
    )
    try:
        connection.execute(f"PRAGMA foreign_keys = {'ON' if foreign_keys else 'OFF'}")
        connection.execute("PRAGMA synchronous = FULL")
        if log:
            connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA schema_version").fetchone()
    except BaseException:
        connection.close()
        raise
    return connection


def opened_to_read(
    path: Path, busy_seconds: float, foreign_keys: bool, trouble: sqlite3.Error | None = None
) -> Connection:
    """Open a file without touching anything beside it, with what its log holds.

    Parameters
    ----------
    path : Path
    busy_seconds : float
    foreign_keys : bool
    trouble : sqlite3.Error, optional
        Why it cannot be written; told when somebody tries.
    """
    address = path.absolute().as_uri()
    if not has_log(path):
        connection = opened(f"{address}?mode=ro&immutable=1", busy_seconds, foreign_keys)
    else:
        try:
            connection = opened(f"{address}?mode=ro", busy_seconds, foreign_keys)
        except sqlite3.OperationalError as error:
            if not keeps_from_writing_only(error):
                raise
            connection = _copy_in_memory(path, foreign_keys, trouble)
    connection.trouble = trouble
    return connection


def _copy_in_memory(path: Path, foreign_keys: bool, trouble: sqlite3.Error | None) -> Connection:
    """Read the file together with its log, for which SQLite makes a third file beside them.

    Where the file may be written and only the disk is full, nobody else being at work on it is enough to do
    without that one; else file and log are copied to where there is room.
    """
    kept = opened(":memory:", 0.0, foreign_keys)
    try:
        if trouble is None or not _copied_alone(path, kept):
            _copied_elsewhere(path, kept)
        kept.execute("PRAGMA query_only = ON")
    except BaseException:
        kept.close()
        raise
    return kept


def _copied_alone(path: Path, kept: Connection) -> bool:
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True)) as source:
            source.execute("PRAGMA locking_mode = EXCLUSIVE")
            source.backup(kept)
    except sqlite3.Error:
        return False
    return True


def _copied_elsewhere(path: Path, kept: Connection) -> None:
    with tempfile.TemporaryDirectory(prefix="fecallab-", dir=_room_for(path)) as folder:
        copy = Path(folder) / path.name
        for one in (path, _log_of(path)):
            shutil.copyfile(one, copy.with_name(one.name))
        with closing(sqlite3.connect(copy)) as source:
            source.backup(kept)


def _room_for(path: Path) -> str | None:
    """Return a folder with room for a copy; None for the usual one."""
    needed = 2 * (path.stat().st_size + _log_of(path).stat().st_size)
    if shutil.disk_usage(tempfile.gettempdir()).free < needed and Path(_IN_MEMORY).is_dir():
        return _IN_MEMORY
    return None


def refuse_if_only_read(connection: Any, writes: bool) -> None:
    """Raise why a connection can only read, before somebody writes with it."""
    if writes and isinstance(connection, Connection) and connection.trouble is not None:
        raise could_not("disk-full" if code_of_trouble(connection.trouble) == "disk-full" else "not-writable")


def has_log(database: Path) -> bool:
    """Say whether changes beside the database file belong to it; it must not be read without them."""
    log = _log_of(database)
    return log.exists() and log.stat().st_size > 0


def _log_of(database: Path) -> Path:
    return database.with_name(database.name + "-wal")
