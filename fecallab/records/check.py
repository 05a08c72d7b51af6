"""Looking whether a record folder, or a backup, is whole."""

from __future__ import annotations

import string
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from fecallab.domain.errors import FecallabError, Reason
from fecallab.domain.exam import Picture
from fecallab.records import migrate, rows, schema
from fecallab.records.engine import access_to, reading, sqlite_engine
from fecallab.records.folder import DATABASE, Marker, picture_name, read_marker
from fecallab.records.guard import missing_guard
from fecallab.records.ledger import Seal, newest_seal
from fecallab.records.ledger_check import clock_set_back, redacted, verify
from fecallab.records.picture_place import PicturePlace, picture_place
from fecallab.records.trouble import could_not, in_one_line


@dataclass(frozen=True, kw_only=True)
class CheckResult:
    """What was found in a folder.

    Attributes
    ----------
    problems : tuple of Reason
        What is damaged or missing; empty when the folder is whole.
    orphans : tuple of str
        Files that no record names, for example after a crash; they do no harm.
    facts : int
        Rows of facts, the replaced ones included.
    pictures : int
        Pictures that are there with the bytes that were recorded.
    revision : str
        Revision of the schema; empty when it could not be read.
    seal : str
        The newest seal of the ledger; empty when it could not be read.
    notices : tuple of Reason
        What is odd and no damage: a clock that was set back.
    """

    folder: Path
    problems: tuple[Reason, ...] = ()
    orphans: tuple[str, ...] = ()
    facts: int = 0
    pictures: int = 0
    revision: str = ""
    seal: str = ""
    notices: tuple[Reason, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether nothing is damaged or missing."""
        return not self.problems

    def as_dict(self) -> dict[str, Any]:
        """Return the result as plain keys for ``--json``."""
        return {
            "folder": str(self.folder),
            "ok": self.ok,
            "problems": [problem.as_dict() for problem in self.problems],
            "orphans": list(self.orphans),
            "facts": self.facts,
            "pictures": self.pictures,
            "revision": self.revision,
            "seal": self.seal,
            "notices": [notice.as_dict() for notice in self.notices],
        }


def check(folder: Path, against: Seal | None = None) -> CheckResult:
    """Check the marker, the database, its references, schema and ledger, and every picture by its hash.

    Parameters
    ----------
    folder : Path
        A record folder, or a backup.
    against : Seal, optional
        A seal that was kept elsewhere.

    Raises
    ------
    BadInput
        When it is neither. Damage is no error here: it is what the result tells.
    """
    problems: list[Reason] = []
    marker = None
    try:
        marker = read_marker(folder, None)
    except FecallabError as error:
        if error.exit_code == 2 and not (folder / DATABASE).exists():
            raise
        problems.append(error.reason)
    on_server = marker is not None and marker.database
    if not on_server and not (folder / DATABASE).exists():
        problems.append(
            Reason(
                "records-missing", f"{folder / DATABASE} is missing.", "Restore a backup into a new folder."
            )
        )
        return CheckResult(folder=folder, problems=tuple(problems))
    known: list[Picture] | None = None
    facts, revision, seal = 0, "", ""
    notices: tuple[Reason, ...] = ()
    place = picture_place(folder, marker.pictures if marker else "")
    engine = _engine(folder, marker)
    try:
        with in_one_line(), reading(engine) as connection:
            if not on_server:
                problems += list(_damage(connection))
            revision = migrate.revision_of(connection) or ""
            problems += list(_schema_problems(revision))
            if revision == migrate.HEAD:
                identity = connection.execute(sa.select(schema.collection.c.identity)).scalar()
                if marker is not None and identity != marker.collection:
                    said = "The marker names another collection than the one in the database."
                    problems.append(Reason("other-collection", said, "Bring the right records.sqlite back."))
                facts = count_facts(connection)
                known = known_pictures(connection)
                seal = newest_seal(connection).whole
                problems += [
                    *_code_problems(connection),
                    *missing_guard(connection),
                    *verify(connection, against),
                ]
                notices = (*clock_set_back(connection), *redacted(connection))
    except FecallabError as error:
        problems.append(_without_promise(error.reason))
    finally:
        engine.dispose()
    if known is None:
        return CheckResult(folder=folder, problems=tuple(problems), revision=revision)
    lost = [problem for picture in known for problem in place.problems(picture)]
    return CheckResult(
        folder=folder,
        problems=(*problems, *lost),
        orphans=tuple(orphans(place, known)),
        facts=facts,
        pictures=len(known) - len(lost),
        revision=revision,
        seal=seal,
        notices=notices,
    )


def known_pictures(connection: Connection) -> list[Picture]:
    """Return every picture that the records name."""
    found = connection.execute(sa.select(schema.pictures).order_by(schema.pictures.c.id)).mappings()
    return [rows.picture_of(row) for row in found]


def count_facts(connection: Connection) -> int:
    """Return how many rows of facts there are, the replaced ones included."""
    counted = (sa.select(sa.func.count()).select_from(kind.table).scalar_subquery() for kind in rows.KINDS)
    return sum(connection.execute(sa.select(*counted)).one())


def orphans(place: PicturePlace, known: Iterable[Picture]) -> Iterator[str]:
    """Yield the files among the pictures that no record names."""
    names = {picture_name(picture.sha256, picture.format, picture.file_name) for picture in known}
    for name in place.names():
        if name not in names:
            yield name


def _engine(folder: Path, marker: Marker | None) -> Engine:
    if marker is not None and marker.database:
        from fecallab.records.server import address_of, server_engine

        return server_engine(address_of(marker.database))
    return sqlite_engine(folder / DATABASE, access=access_to(folder / DATABASE))


def _damage(connection: Connection) -> Iterator[Reason]:
    for (said,) in connection.exec_driver_sql("PRAGMA integrity_check(5)"):
        if said != "ok":
            yield _without_promise(could_not("records-damaged", str(said).replace("\n", " ")).reason)
    for table, row, other, _ in connection.exec_driver_sql("PRAGMA foreign_key_check").all():
        said = f"Row {row} of {table} names something in {other} that is not there."
        yield Reason("reference-broken", said, "Restore a backup into a new folder.")


def _code_problems(connection: Connection) -> Iterator[Reason]:
    """Yield codes that do not say of themselves what their row says: what kind, a part of what, which number."""
    table = schema.codes
    for code, kind, parent, number in connection.execute(
        sa.select(table.c.code, table.c.kind, table.c.parent, table.c.number)
    ):
        meant = rows.kind_of_code(code)
        whole, _, last = code.rpartition("-")
        digits = (last if whole else code).lstrip(string.ascii_uppercase)
        if meant is None or (meant.name, whole or None, digits) != (kind, parent, str(number)):
            said = (
                f"The code {code} is kept as {kind} number {number} of {parent or 'nothing'}: it was altered."
            )
            yield Reason("code-altered", said, "Restore a backup into a new folder.")


def _without_promise(reason: Reason) -> Reason:
    """Return what a command says when it stops, as a finding."""
    following = "Type: fecallab records restore BACKUP NEW_FOLDER" if reason.code == "records-damaged" else ""
    return Reason(reason.code, reason.text.replace("; nothing was changed", ""), following or reason.next)


def _schema_problems(revision: str) -> Iterator[Reason]:
    if revision == migrate.HEAD:
        return
    if revision in schema.SCHEMA_REVISIONS:
        said = f"The records are of an older schema ({revision}; the newest is {migrate.HEAD})."
        yield Reason("older-schema", said, "Any command that opens them brings them up to date.")
    else:
        said = f"The records have a schema that this program does not know ({revision or 'none'})."
        yield Reason("newer-records", said, "Install the newer fecallab and repeat.")
