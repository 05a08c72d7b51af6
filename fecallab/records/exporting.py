"""Everything in open formats, without loss: CSV with its description, JSON with its schema, pictures, marks.

::

    datapackage.json       what every table and column is (Frictionless Data Package)
    tables/*.csv           every row that was ever recorded, the replaced ones and the ledger too
    facts/*.json           what stands today, nested, each with a JSON Schema beside it
    annotations/*.json     the marks of each picture (W3C Web Annotation)
    pictures/…             the original bytes
"""

from __future__ import annotations

import csv
import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.errors import BadInput, Reason
from fecallab.records import migrate, rows, schema, trees
from fecallab.records.annotations import pages_of
from fecallab.records.check import known_pictures
from fecallab.records.engine import reading
from fecallab.records.folder import PICTURES, picture_name, shown
from fecallab.records.ledger import newest_seal
from fecallab.records.package import cell_of, describe
from fecallab.records.pictures import place_picture
from fecallab.records.store import Records
from fecallab.records.transfer import rows_of, tables_in_order
from fecallab.records.trouble import in_one_line

PACKAGE = "datapackage.json"
EXPORT_VERSION = 1

Progress = Callable[[str, int], None]


@dataclass(frozen=True, kw_only=True)
class ExportResult:
    """What an export holds."""

    folder: Path
    rows: int
    tables: int
    pictures: int
    seal: str
    problems: tuple[Reason, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return the result as plain keys for ``--json``."""
        return {
            "folder": str(self.folder),
            "rows": self.rows,
            "tables": self.tables,
            "pictures": self.pictures,
            "seal": self.seal,
            "problems": [problem.as_dict() for problem in self.problems],
        }


def export_records(
    records: Records, folder: Path, *, pictures: bool = True, progress: Progress | None = None
) -> ExportResult:
    """Write everything into a new folder, as it was at one moment.

    Parameters
    ----------
    folder : Path
        New, or empty.
    pictures : bool
        False leaves the bytes of the pictures out; an import of such an export finds them missing.

    Raises
    ------
    BadInput
        When the folder holds anything.
    CouldNot
        When the disk is full or may not be written; what was begun is removed.
    """
    with in_one_line():
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise BadInput(
                f"{folder} is not empty; an export is never written over anything.",
                next="Name a folder that is new.",
                code="folder-not-empty",
            )
        with _removed_unless_whole(folder):
            with reading(records.engine) as connection:
                tables = _write_tables(connection, folder, progress)
                known = known_pictures(connection)
                _write_facts(connection, folder, known)
                seal = newest_seal(connection)
                identity = connection.execute(sa.select(schema.collection.c.identity)).scalar_one()
            problems: list[Reason] = []
            there = 0
            for picture in known if pictures else []:
                found = list(records.place.problems(picture))
                problems += found
                if not found:
                    place_picture(records.place.path(picture), folder, picture)
                    there += 1
                    if progress is not None:
                        progress(PICTURES, there)
            package = {
                "profile": "tabular-data-package",
                "name": "fecallab-records",
                "title": "All records of one collection, as exported by fecallab",
                "fecallab": {
                    "export": EXPORT_VERSION,
                    "schema": migrate.HEAD,
                    "collection": identity,
                    "seal": seal.whole,
                },
                "resources": tables,
            }
            _write_json(folder / PACKAGE, package)
    return ExportResult(
        folder=folder,
        rows=sum(table["rowCount"] for table in tables),
        tables=len(tables),
        pictures=there,
        seal=seal.whole,
        problems=tuple(problems),
    )


@contextmanager
def _removed_unless_whole(folder: Path) -> Iterator[None]:
    made = not folder.exists()
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    try:
        yield
    except BaseException:
        for path in folder.iterdir():
            if path.is_dir():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink(missing_ok=True)
        if made:
            folder.rmdir()
        raise


def _write_tables(connection: Connection, folder: Path, progress: Progress | None) -> list[dict[str, Any]]:
    (folder / "tables").mkdir()
    found = []
    for table in tables_in_order(schema.metadata):
        path = folder / "tables" / f"{table.name}.csv"
        names = [column.name for column in table.c]
        how_many = 0
        with path.open("w", encoding="utf-8", newline="") as handle:
            writer = csv.writer(handle, lineterminator="\r\n")  # RFC 4180
            writer.writerow(names)
            for row in rows_of(connection, table):
                writer.writerow([cell_of(row[name]) for name in names])
                how_many += 1
            handle.flush()
            os.fsync(handle.fileno())
        with path.open("rb") as handle:
            digest = hashlib.file_digest(handle, "sha256").hexdigest()
        found.append(
            {
                "name": table.name,
                "path": f"tables/{table.name}.csv",
                "format": "csv",
                "encoding": "utf-8",
                "rowCount": how_many,
                "hash": f"sha256:{digest}",
                "schema": describe(table),
            }
        )
        if progress is not None:
            progress(table.name, how_many)
    return found


def _write_facts(connection: Connection, folder: Path, known: list[Any]) -> None:
    from pydantic import TypeAdapter

    (folder / "facts").mkdir()
    (folder / "annotations").mkdir()
    exams = trees.load_exams(connection)
    inside = {rows.PREPARATION, rows.READING, rows.MARK, rows.ELSEWHERE}
    for kind in rows.KINDS:
        if kind in inside or kind.parent:
            continue
        if kind is rows.EXAM:
            standing: list[Any] = exams
        elif kind is rows.CASE:
            standing = trees.load_cases(connection)
        else:
            standing = trees.facts(connection, kind)
        stem = folder / "facts" / kind.table.name
        _write_json(stem.with_suffix(".json"), [asdict(fact) for fact in standing])
        _write_json(stem.with_suffix(".schema.json"), TypeAdapter(list[kind.fact]).json_schema())  # type: ignore[name-defined]
    pictures = {picture.sha256: picture for picture in known}
    files = {
        picture.sha256: f"../{picture_name(picture.sha256, picture.format, picture.file_name)}"
        for picture in known
    }
    readings = [one for exam in exams for preparation in exam.preparations for one in preparation.readings]
    for code, page in pages_of(readings, pictures, files):
        _write_json(folder / "annotations" / f"{code}.json", page)


def _write_json(path: Path, said: Any) -> None:
    def plain(value: Any) -> str:
        if isinstance(value, date | datetime):
            return value.isoformat()
        raise TypeError(f"{type(value).__name__} is not written")

    text = json.dumps(said, ensure_ascii=False, indent=1, default=plain, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8", newline="\n")


def how_to_import(folder: Path) -> str:
    """Return what to type to make records from an export."""
    return f"fecallab records import {shown(folder)} NEW_FOLDER"
