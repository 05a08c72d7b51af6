"""``fecallab records``: make, check, back up and restore a record folder."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from fecallab.cli.common import BY, JSON, RECORDS, who
from fecallab.cli.output import emit, say
from fecallab.cli.records_server import register
from fecallab.domain.errors import Reason
from fecallab.domain.spoken import number_of

if TYPE_CHECKING:
    from fecallab.records.backup import CopyResult

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)


@app.command("make")
def make(
    folder: Path = typer.Argument(..., help="A folder that is new or empty."),
    as_json: bool = JSON,
) -> None:
    """Make a record folder: one database, and a place for the pictures."""
    from fecallab.records.folder import shown
    from fecallab.records.store import create_records

    made = create_records(folder)
    if made:
        text = (
            f"Made the record folder {folder}.\nNext: cd {shown(folder)}  and there: fecallab animal add NAME"
        )
    else:
        text = f"Wrote the marker of {folder} anew; the records are as they were."
    emit({"folder": str(folder), "made": made}, text, as_json)


@app.command("check")
def check_records(
    against: str | None = typer.Option(None, help="A seal that was kept elsewhere (fecallab records seal)."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Check that everything recorded is there and unaltered: database, ledger, every picture by its hash."""
    from fecallab.records.check import check
    from fecallab.records.folder import named_folder
    from fecallab.records.ledger import seal_from

    found = check(named_folder(records), None if against is None else seal_from(against))
    schema = found.revision or "unknown"
    lines = [
        f"{found.folder}: {number_of(found.facts, 'row of facts', 'rows of facts')}, {number_of(found.pictures, 'picture')}, schema {schema}."
    ]
    lines += [f"Damaged: {problem}" for problem in found.problems]
    lines += [f"Odd: {notice}" for notice in found.notices]
    if found.seal:
        lines.append(f"Seal of the newest line: {found.seal}")
    if found.orphans:
        lines.append(f"Files that no record names, harmless: {', '.join(found.orphans)}")
    if found.ok:
        lines.append("Everything is there.")
    _answer(found.as_dict(), lines, found.problems, as_json)


@app.command("seal")
def seal_records(records: str | None = RECORDS, as_json: bool = JSON) -> None:
    """Show the seal of today: kept elsewhere (on paper, in a mail), it later proves that nothing was altered."""
    from fecallab.records.folder import find_folder
    from fecallab.records.store import open_records

    with open_records(find_folder(records)) as store:
        seal = store.seal()
    text = f"{seal.whole}\nKeep it elsewhere; later type: fecallab records check --against {seal.short}"
    emit({"line": seal.line, "seal": seal.seal}, text, as_json)


@app.command("guard")
def guard_records(records: str | None = RECORDS, as_json: bool = JSON) -> None:
    """Put back the guard by which the database refuses to change or delete what was recorded."""
    from fecallab.records.folder import find_folder
    from fecallab.records.store import open_records

    with open_records(find_folder(records)) as store:
        mended = store.set_guard()
    text = f"The guard was put back on {', '.join(mended)}." if mended else "The guard is whole."
    emit({"mended": mended}, text, as_json)


@app.command("person")
def person(
    name: str = typer.Argument(..., help="The name as it was typed; capitals make no difference."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Show everything that is stored about a person: each text in which the name stands."""
    from fecallab.records.folder import find_folder
    from fecallab.records.store import open_records

    with open_records(find_folder(records)) as store:
        found = store.places_of(name)
    lines = [f"{place.table} {place.code or place.row_id}, {place.column}: {place.text}" for place in found]
    lines.append(f"{name} stands in {len(found)} texts." if found else f"{name} stands nowhere.")
    emit({"name": name, "places": [place.as_dict() for place in found]}, "\n".join(lines), as_json)


@app.command("redact")
def redact(
    name: str = typer.Argument(..., help="The name as it was typed; capitals make no difference."),
    instead: str = typer.Option(..., help="What stands there from now on, such as: keeper 2"),
    reason: str = typer.Option(..., help="Why; it is kept."),
    by: str | None = BY,
    yes: bool = typer.Option(False, "--yes", help="Do it without asking."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Take a person's name out of every text, for good; the ledger says that it was done, and still holds."""
    from datetime import UTC, datetime

    from fecallab.records.folder import find_folder
    from fecallab.records.store import open_records

    with open_records(find_folder(records)) as store:
        if not yes:
            there = len(store.places_of(name))
            text = (
                f"{name} stands in {there} texts; once taken out it cannot be brought back. Earlier backups and"
                " exports keep it.\nNothing was taken out. To do it: add --yes"
            )
            emit({"texts": there, "redacted": False}, text, as_json)
            return
        found = store.redact(name, instead, by=who(by), why=reason, now=datetime.now(UTC))
    text = (
        f"Taken out of {len(found)} texts. Earlier backups, exports and pages that were sent keep the name."
    )
    emit({"texts": len(found), "redacted": True}, text, as_json)


@app.command("backup")
def backup_records(
    target: Path = typer.Argument(..., help="A new folder, or an earlier backup of the same records."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Back the records up while they may be in use; every picture is read back and compared."""
    from fecallab.records.backup import backup
    from fecallab.records.folder import find_folder

    _tell(backup(find_folder(records), target, _progress), "Backed up", as_json)


@app.command("restore")
def restore_records(
    backup_folder: Path = typer.Argument(..., metavar="BACKUP", help="The backup."),
    folder: Path = typer.Argument(..., help="A folder that is new or empty."),
    as_json: bool = JSON,
) -> None:
    """Make a record folder from a backup; nothing is ever written over."""
    from fecallab.records.backup import restore

    _tell(restore(backup_folder, folder, _progress), "Restored", as_json)


@app.command("export")
def export(
    folder: Path = typer.Argument(..., help="A folder that is new or empty."),
    pictures: bool = typer.Option(True, help="With the bytes of the pictures, or without."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Write everything in open formats, without loss: CSV, JSON with schema, pictures, marks."""
    from fecallab.records.exporting import export_records, how_to_import
    from fecallab.records.folder import find_folder
    from fecallab.records.store import open_records

    with open_records(find_folder(records)) as store:
        found = export_records(store, folder, pictures=pictures, progress=_rows_done)
    lines = [
        f"Exported {number_of(found.rows, 'row')} of {number_of(found.tables, 'table')} and {number_of(found.pictures, 'picture')} to {folder}.",
        f"What each column is stands in {folder / 'datapackage.json'}. Back again: {how_to_import(folder)}",
        f"Seal of the newest line: {found.seal}",
        *(f"Not exported: {problem}" for problem in found.problems),
    ]
    _answer(found.as_dict(), lines, found.problems, as_json)


@app.command("import")
def import_(
    export_folder: Path = typer.Argument(..., metavar="EXPORT", help="What records export has written."),
    folder: Path = typer.Argument(..., help="A folder that is new or empty."),
    as_json: bool = JSON,
) -> None:
    """Make a record folder from an export, every row and picture; nothing is ever written over."""
    from fecallab.records.importing import import_records

    total, missing = import_records(export_folder, folder, _rows_done)
    lines = [f"Took in {number_of(total, 'row')}; the records are in {folder}."]
    lines += [f"Missing: {problem}" for problem in missing]
    payload = {"folder": str(folder), "rows": total, "problems": [each.as_dict() for each in missing]}
    _answer(payload, lines, tuple(missing), as_json)


def _rows_done(what: str, done: int) -> None:
    if done and done % 10_000 == 0:
        say(f"{what}: {done}")


def _progress(done: int, total: int) -> None:
    if done % 100 == 0:
        say(f"{done} of {total} pictures")


def _tell(result: CopyResult, what: str, as_json: bool) -> None:
    lines = [
        f"{what} {result.source} to {result.target}: {number_of(result.facts, 'row of facts', 'rows of facts')}, {number_of(result.pictures, 'picture')}"
        f" ({result.copied} copied now), each read back and compared."
    ]
    lines += [f"Not copied: {problem}" for problem in result.problems]
    _answer(result.as_dict(), lines, result.problems, as_json)


def _answer(
    payload: dict[str, object], lines: list[str], problems: tuple[Reason, ...], as_json: bool
) -> None:
    """Print the answer; damage that was found is exit code 3, with the first problem as the error."""
    if problems:
        payload = {**payload, "error": problems[0].as_dict()}
    emit(payload, "\n".join(lines), as_json)
    if problems:
        raise typer.Exit(3)


register(app)
