"""What a database or a disk can answer, turned into one clear line."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError

from fecallab.domain.errors import BadInput, CouldNot, FecallabError
from fecallab.records.columns import rule_of

_BY_SQLITE_CODE = {
    sqlite3.SQLITE_BUSY: "locked",
    sqlite3.SQLITE_LOCKED: "locked",
    sqlite3.SQLITE_FULL: "disk-full",
    sqlite3.SQLITE_READONLY: "not-writable",
    sqlite3.SQLITE_PERM: "not-writable",
    sqlite3.SQLITE_AUTH: "not-writable",
    sqlite3.SQLITE_CANTOPEN: "not-readable",
    sqlite3.SQLITE_IOERR: "not-readable",
    sqlite3.SQLITE_CORRUPT: "records-damaged",
    sqlite3.SQLITE_NOTADB: "records-damaged",
    sqlite3.SQLITE_CONSTRAINT: "constraint",
}
_BY_SQLSTATE = {
    "55P03": "locked",
    "40P01": "locked",
    "40001": "locked",
    "53100": "disk-full",
    "25006": "not-writable",
    "42501": "not-writable",
    "XX001": "records-damaged",
    "XX002": "records-damaged",
}
MOVED_AWAY = "these records were moved away"
"""What a database says that was left behind by a move."""

_SAID = {
    "locked": ("Another fecallab is writing to these records; nothing was changed.", "Repeat in a moment."),
    "disk-full": ("The disk is full; nothing was changed.", "Free some space and repeat."),
    "not-writable": (
        "These records may not be written; nothing was changed.",
        "Check the permissions of the folder, or copy it to a disk that can be written.",
    ),
    "not-readable": (
        "The records cannot be opened or read; nothing was changed.",
        "Check that the disk is connected and the folder may be read, then repeat.",
    ),
    "records-damaged": (
        "The file records.sqlite is damaged; nothing was changed.",
        "Type: fecallab records check  and then: fecallab records restore BACKUP NEW_FOLDER",
    ),
    "moved-away": (
        "These records were moved to another place; nothing was changed.",
        "Ask whoever moved them; type: fecallab records join ADDRESS NEW_FOLDER  or use the folder that they are in.",
    ),
    "unreachable": ("The database does not answer as it should; nothing was changed.", "Repeat in a moment."),
}


def could_not(code: str, detail: str = "") -> CouldNot:
    """Return the one line for a trouble that is known by `code`."""
    said, following = _SAID[code]
    return CouldNot(f"{said} ({detail})" if detail else said, next=following, code=code)


def code_of_trouble(original: BaseException | None) -> str:
    """Return the word code for what a database driver raised."""
    if MOVED_AWAY in str(original):
        return "moved-away"
    sqlite_code = getattr(original, "sqlite_errorcode", None)
    if sqlite_code == sqlite3.SQLITE_IOERR_SHMSIZE:
        return "disk-full"  # found by running on a full disk: the shared memory file cannot grow
    if isinstance(sqlite_code, int):
        return _BY_SQLITE_CODE.get(sqlite_code & 0xFF, "unreachable")
    state = getattr(original, "sqlstate", None)
    if isinstance(state, str):
        return "constraint" if state.startswith("23") else _BY_SQLSTATE.get(state, "unreachable")
    said = str(original).lower()
    if "malformed" in said or "not a database" in said:
        return "records-damaged"
    return "locked" if "locked" in said else "unreachable"


def from_database(error: DBAPIError) -> FecallabError:
    """Return the one line for an error of the database."""
    code = code_of_trouble(error.orig)
    if code == "constraint":
        return from_constraint(error)
    return could_not(code, _detail(code, error.orig))


def from_constraint(error: DBAPIError) -> BadInput:
    """Return the one line for a fact that the database refused."""
    said = str(error.orig)
    rule = rule_of(said)
    if rule is not None:
        return BadInput(
            f"The records refuse this {rule.columns[-1].replace('_', ' ')}: {rule.sentence}.",
            next="Correct the value and repeat.",
            code="refused-by-records",
        )
    return BadInput(
        f"The records refuse this: {_short(error.orig)}.",
        next="Correct what was given and repeat.",
        code="refused-by-records",
    )


def from_disk(error: OSError) -> CouldNot:
    """Return the one line for what a disk answered."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return could_not("disk-full")
    where = str(error.filename or "")
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return could_not("not-writable", where)
    return could_not("not-readable", f"{error.strerror or error}{where and ': ' + where}")


@contextmanager
def in_one_line(*, disk: bool = True) -> Iterator[None]:
    """Turn every error of the database, and of the `disk`, into a `FecallabError`."""
    try:
        yield
    except FecallabError:
        raise
    except IntegrityError as error:
        raise from_database(error) from error
    except (DBAPIError, OperationalError) as error:
        raise from_database(error) from error
    except sqlite3.Error as error:
        code = code_of_trouble(error)
        code = "unreachable" if code == "constraint" else code
        raise could_not(code, _detail(code, error)) from error
    except UnicodeDecodeError as error:  # found by changing single bytes: the driver's own words were damaged
        raise could_not("records-damaged") from error
    except OSError as error:
        if not disk:
            raise
        raise from_disk(error) from error


def _detail(code: str, original: Any) -> str:
    """Return what the driver said, where our own words do not say it all."""
    return _short(original) if code in ("unreachable", "not-readable") else ""


def _short(original: Any) -> str:
    lines = str(original).strip().splitlines()
    return lines[0] if lines else type(original).__name__
