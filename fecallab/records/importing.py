"""Records made anew from an export: every row, every picture, checked against what the export says of itself."""

from __future__ import annotations

import csv
import hashlib
import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.errors import BadInput, CouldNot, Reason
from fecallab.records import migrate, schema
from fecallab.records.check import check, known_pictures
from fecallab.records.engine import reading, sqlite_engine, writing
from fecallab.records.exporting import EXPORT_VERSION, PACKAGE, Progress
from fecallab.records.folder import (
    DATABASE,
    LAYOUT_VERSION,
    MARKER,
    PICTURES,
    RECORD_FOLDER,
    Marker,
    picture_name,
    write_marker,
)
from fecallab.records.package import value_of
from fecallab.records.pictures import place_picture
from fecallab.records.transfer import put_rows, tables_in_order
from fecallab.records.trouble import in_one_line

MOST_BYTES_OF_PACKAGE = 20_000_000
MOST_CHARACTERS_OF_A_CELL = 10_000_000


def import_records(source: Path, folder: Path, progress: Progress | None = None) -> tuple[int, list[Reason]]:
    """Make a record folder from an export; nothing is ever written over.

    Parameters
    ----------
    source : Path
        The folder of an export.
    folder : Path
        A folder that is new or empty.

    Returns
    -------
    int
        How many rows were taken in.
    list of Reason
        Pictures that the export lacks; all else is there.

    Raises
    ------
    BadInput
        When `source` is no export, a file in it was changed, or `folder` holds anything.
    CouldNot
        When the export is of a newer fecallab, the disk is full, or what came in is not whole; the folder is
        as it was then.
    """
    package = _read_package(source)
    with in_one_line():
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise BadInput(
                f"{folder} is not empty; an import is never written over anything.",
                next="Name a folder that is new.",
                code="folder-not-empty",
            )
        made = not folder.exists()
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        try:
            total = _take_in(source, package, folder, progress)
            missing = _copy_pictures(source, folder)
            said = package["fecallab"]
            write_marker(folder, Marker(RECORD_FOLDER, LAYOUT_VERSION, str(said["collection"])))
            problems = [one for one in check(folder).problems if not one.code.startswith("picture-")]
            if problems:
                raise CouldNot(
                    f"What came in is not whole: {problems[0].text}",
                    next=problems[0].next,
                    code=problems[0].code,
                )
        except BaseException:
            with suppress(OSError):
                for name in (MARKER, DATABASE, f"{DATABASE}-wal", f"{DATABASE}-shm", f"{DATABASE}-journal"):
                    (folder / name).unlink(missing_ok=True)
                shutil.rmtree(folder / PICTURES, ignore_errors=True)
                if made:
                    folder.rmdir()
            raise
    return total, missing


def _read_package(source: Path) -> dict[str, Any]:
    path = source / PACKAGE
    try:
        if path.stat().st_size > MOST_BYTES_OF_PACKAGE:
            raise ValueError
        package = json.loads(path.read_text(encoding="utf-8"))
        version, revision = package["fecallab"]["export"], package["fecallab"]["schema"]
        tables = {str(each["name"]): str(each["hash"]) for each in package["resources"]}
    except OSError as error:
        raise BadInput(
            f"{source} is no export of fecallab: {PACKAGE} cannot be read ({error.strerror}).",
            next="Name the folder that fecallab records export has written.",
            code="no-export",
        ) from None
    except (ValueError, KeyError, TypeError, RecursionError):
        raise BadInput(
            f"{path} is not what fecallab has written.",
            next="Take the folder as it was exported.",
            code="export-damaged",
        ) from None
    if version != EXPORT_VERSION or revision not in schema.SCHEMA_REVISIONS:
        raise CouldNot(
            f"{source} was exported by a newer fecallab (schema {str(revision)[:20]}).",
            next="Install the newer fecallab and repeat.",
            code="newer-records",
        )
    return {"fecallab": package["fecallab"], "tables": tables}


def _take_in(source: Path, package: dict[str, Any], folder: Path, progress: Progress | None) -> int:
    """Make the database at the schema of the export, fill it, then bring it to the newest."""
    from fecallab.records.guard import lift_guard, set_guard

    database = folder / DATABASE
    (folder / PICTURES).mkdir(exist_ok=True)
    migrate.upgrade_file(database, create=True, revision=str(package["fecallab"]["schema"]))
    engine = sqlite_engine(database, foreign_keys=False)
    total = 0
    try:
        with writing(engine) as connection:
            lift_guard(connection)
            known = _tables_of(connection)
            for table in tables_in_order(known):
                rows = _rows_in(source, table, package["tables"])
                total += put_rows(connection, table, rows, progress)
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").first()
            if broken is not None:
                raise BadInput(
                    f"A row of {broken[0]} names something that is not in the export.",
                    next="Take the folder as it was exported.",
                    code="export-damaged",
                )
            set_guard(connection)
    finally:
        engine.dispose()
    migrate.upgrade_file(database)
    return total


def _tables_of(connection: Connection) -> sa.MetaData:
    """Return the tables with the types that they have in this program, as far as the database has them."""
    there = sa.MetaData()
    there.reflect(connection)
    for name, table in there.tables.items():
        mine = schema.metadata.tables.get(name)
        for column in table.c:
            if mine is not None and column.name in mine.c:
                column.type = mine.c[column.name].type
    return there


def _rows_in(source: Path, table: sa.Table, hashes: dict[str, str]) -> Iterator[dict[str, Any]]:
    path = source / "tables" / f"{table.name}.csv"
    try:
        with path.open("rb") as handle:
            digest = hashlib.file_digest(handle, "sha256").hexdigest()
    except OSError as error:
        raise BadInput(
            f"{path} cannot be read: {error.strerror}.",
            next="Take the folder as it was exported.",
            code="export-damaged",
        ) from None
    if hashes.get(table.name) != f"sha256:{digest}":
        raise BadInput(
            f"{path} is not as it was exported: it was changed.",
            next="Take the folder as it was exported.",
            code="export-damaged",
        )
    with path.open(encoding="utf-8", newline="") as handle, _long_cells():
        reader = csv.reader(handle, strict=True)
        try:
            names = next(reader)
            if set(names) != {column.name for column in table.c}:
                raise csv.Error("its columns are others")
            for number, cells in enumerate(reader, start=2):
                place = f"{path.name}, row {number}"
                yield {
                    name: value_of(cell, table.c[name], place)
                    for name, cell in zip(names, cells, strict=True)
                }
        except (csv.Error, StopIteration, ValueError) as error:
            if isinstance(error, BadInput):
                raise
            raise BadInput(
                f"{path} is not what fecallab has written ({error or 'it is empty'}).",
                next="Take the folder as it was exported.",
                code="export-damaged",
            ) from None


@contextmanager
def _long_cells() -> Iterator[None]:
    """Let cells be as long as the records take them, and leave the limit of everybody else as it was."""
    before = csv.field_size_limit(MOST_CHARACTERS_OF_A_CELL)
    try:
        yield
    finally:
        csv.field_size_limit(before)


def _copy_pictures(source: Path, folder: Path) -> list[Reason]:
    engine = sqlite_engine(folder / DATABASE)
    try:
        with reading(engine) as connection:
            known = known_pictures(connection)
    finally:
        engine.dispose()
    missing = []
    for picture in known:
        name = picture_name(picture.sha256, picture.format, picture.file_name)
        try:
            place_picture(source / name, folder, picture)
        except (BadInput, CouldNot) as error:
            if error.reason.code not in ("picture-not-readable", "picture-changed"):
                raise
            said = f"The picture {picture.file_name} is not in the export, or not as it was recorded."
            missing.append(Reason("picture-missing", said, "Bring the file back from where it was taken."))
    return missing
