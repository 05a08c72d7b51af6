"""``fecallab batch``: whole tables in and out, as CSV of a spreadsheet."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import BY, JSON, RECORDS, now, one_of, open_folder, who
from fecallab.cli.output import emit
from fecallab.domain.spoken import number_of

if TYPE_CHECKING:
    from fecallab.cli.batch_record import Written
    from fecallab.cli.batch_sheet import Sheet
    from fecallab.cli.batch_state import Batch
    from fecallab.records.reader import Reader

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)

MOST_LINES = 200
"""How many cases, notes or codes are listed for a person; ``--json`` has all."""
SEMICOLONS = typer.Option(
    False, "--semicolons", help="Semicolons and decimal commas, for German spreadsheets."
)
BOM = typer.Option(False, "--bom", help="Mark the files as UTF-8 for spreadsheets that guess otherwise.")


@app.command(name="take-in")
def take_in(
    files: list[Path] = typer.Argument(help="CSV files, or a folder with them; all are one batch."),
    check: bool = typer.Option(False, "--check", help="Only check; write nothing."),
    dates: str | None = typer.Option(None, help="day-first or month-first, where 3/4/2026 can be both."),
    decimals: str | None = typer.Option(None, help="comma or point, where 1,234 can be both."),
    new_only: bool = typer.Option(False, "--new-only", help="Pass over rows that are recorded already."),
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Take in animals, weights, samples, readings, results, plans and doses: all of it, or nothing."""
    from fecallab.cli.batch_cells import COMMA, DAY_FIRST, MONTH_FIRST, POINT
    from fecallab.cli.batch_read import named_files
    from fecallab.cli.batch_record import BatchFaults, Written, check_batch, write_batch
    from fecallab.cli.batch_tell import tell_faults
    from fecallab.cli.batch_typed import Ways

    ways = Ways(
        one_of(dates, (DAY_FIRST, MONTH_FIRST), "--dates") if dates else "",
        one_of(decimals, (COMMA, POINT), "--decimals") if decimals else "",
    )
    paths = named_files(files)
    written = Written()
    with open_folder(records) as store:
        try:
            if check:
                with store.at_one_moment() as reader:
                    batch = check_batch(paths, reader, ways, who(by), new_only=new_only)
            else:
                with store.write(by=who(by), now=now()) as writer:
                    batch = check_batch(paths, writer, ways, who(by), new_only=new_only)
                    written = write_batch(batch, writer)
        except BatchFaults as faults:
            tell_faults(faults, as_json)
            raise typer.Exit(2) from None
    _tell(batch, written, check, as_json)


def _tell(batch: Batch, written: Written, check: bool, as_json: bool) -> None:
    from fecallab.cli.batch_record import summary

    counted = summary(batch)
    by_name = {(name, case.target): case.code for case, name in written.cases}
    opened = [
        (by_name.get((name, target)), name, target, why)
        for (owner, target), why in batch.cases.items()
        for name in [batch.animal(owner).name]
    ]
    notes = [*batch.notes, *written.notes]
    lines = [f"{sheet.file}: {_how_read(sheet)}" for sheet in batch.sheets]
    said = ", ".join(_counted(number, name) for name, number in counted.items()) or "nothing to record"
    lines.append(f"{said}. {'Checked, nothing written' if check else 'Recorded'}.")
    if batch.skipped:
        lines.append(f"  Passed over, recorded already: {batch.skipped}.")
    lines += [f"  {_case_line(*case)}" for case in opened[:MOST_LINES]]
    lines += [f"  Note: {note}" for note in notes[:MOST_LINES]]
    if max(len(opened), len(notes)) > MOST_LINES:
        lines.append("  ... and more; --json lists all.")
    for what, codes in written.codes.items():
        lines += _code_lines(what, codes)
    payload = {
        "written": not check,
        "counts": counted,
        "passed_over": batch.skipped,
        "codes": written.codes,
        "cases_opened": [
            {"case": code, "animal": name, "target": target, "why": why} for code, name, target, why in opened
        ],
        "notes": notes,
        "files": [_how_read_payload(sheet) for sheet in batch.sheets],
    }
    emit(payload, "\n".join(lines), as_json)


_ONE = {"animals": "animal", "weights": "weight", "samples": "sample", "exams": "exam", "readings": "reading"}
_ONE |= {"enclosures": "enclosure", "stays": "stay", "animals of arrivals": "animal of an arrival"}
_ONE |= {"results from elsewhere": "result from elsewhere", "plans": "plan", "doses": "dose"}


def _counted(number: int, name: str) -> str:
    return f"{number} {_ONE[name] if number == 1 else name}"


def _case_line(code: str | None, name: str, target: str, why: str) -> str:
    from fecallab.cli.batch_vet import BY_READING

    said = f"{target} in {name}, {why}."
    step = " Send the exam to the vet." if why == BY_READING else ""
    return f"Case {code} opened: {said}{step}" if code else f"A case will be opened: {said}"


def _how_read(sheet: Sheet) -> str:
    from fecallab.cli.batch_read import SEPARATORS

    number, table = len(sheet.rows), sheet.table
    what = (table.one if number == 1 else table.many) if table is not None else "rows"
    apart = SEPARATORS.get(sheet.separator, repr(sheet.separator))
    orders = "".join(f"; dates of '{title}' read {order}" for title, order in sheet.orders.items())
    return f"{number} {what} ({sheet.encoding}, {apart}{orders})"


def _how_read_payload(sheet: Sheet) -> dict[str, Any]:
    return {
        "file": sheet.file,
        "table": sheet.table.key if sheet.table is not None else None,
        "rows": len(sheet.rows),
        "encoding": sheet.encoding,
        "separator": sheet.separator,
        "dates": sheet.orders,
    }


def _code_lines(what: str, codes: Mapping[str, str]) -> list[str]:
    """Say which code each label became, several in a line; nothing where they are the same."""
    changed = [f"{label} = {code}" for label, code in codes.items() if label != code]
    if not changed:
        return []
    shown = changed[:MOST_LINES]
    lines = [f"  Your labels of {what} became codes:"]
    lines += [f"    {', '.join(shown[i : i + 8])}" for i in range(0, len(shown), 8)]
    return lines + (["    ... and more; --json lists all."] if len(changed) > len(shown) else [])


@app.command(name="give-out")
def give_out(
    folder: Path = typer.Argument(help="A folder that has none of these files yet."),
    semicolons: bool = SEMICOLONS,
    bom: bool = BOM,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Give the records out as CSV, one file for each table; take-in reads them again."""
    from fecallab.cli.batch_write import all_tables, write_files

    with open_folder(records) as store, store.at_one_moment() as reader:
        found = all_tables(reader, semicolons=semicolons)
        left = _left_out(reader)
    write_files(folder, {name: text for name, (text, _) in found.items()}, bom=bom)
    lines = [f"{folder / name}: {number_of(number, 'row')}" for name, (_, number) in found.items()]
    lines = lines or ["There is nothing to give out yet."]
    if left:
        lines.append(f"Not in these tables: {', '.join(left)}. All of it: fecallab records backup TARGET")
    payload = {
        "folder": str(folder),
        "files": [{"file": name, "rows": number} for name, (_, number) in found.items()],
        "not_in_tables": left,
    }
    emit(payload, "\n".join(lines), as_json)


def _left_out(reader: Reader) -> list[str]:
    """Return what these records hold that no table here has room for."""
    exams, cases = reader.exams(), reader.cases()
    owners = [animal.code for animal in reader.animals()]
    plans = [plan for case in cases for plan in reader.plans(case.code)]
    doses = [dose for case in cases for dose in reader.doses(case.code)]
    words = [plan.confirmed for plan in plans] + [dose.overrides for dose in doses]
    numbers = {
        "picture": len(reader.pictures()),
        "mark (its count is)|marks (their counts are)": sum(
            len(reading.marks) for exam in exams for part in exam.preparations for reading in part.readings
        ),
        "answer about a danger sign|answers about danger signs": len(reader.signs()),
        "control run": len(reader.controls()),
        "entry of care|entries of care": sum(len(reader.care(code)) for code in owners),
        "event": len(reader.events()),
        "measurement": sum(len(reader.measurements(code)) for code in owners),
        "drug given elsewhere|drugs given elsewhere": sum(len(reader.other_drugs(code)) for code in owners),
        "reaction to a dose|reactions to doses": sum(len(reader.reactions(case.code)) for case in cases),
        "word on a rule|words on rules": sum(map(len, words)),
        "closing of a case|closings of cases": sum(reader.closing(case.code) is not None for case in cases),
    }
    return [number_of(number, *name.split("|")) for name, number in numbers.items() if number]


@app.command()
def template(
    folder: Path = typer.Argument(help="A folder that has none of these files yet."),
    semicolons: bool = SEMICOLONS,
    bom: bool = typer.Option(True, "--bom/--no-bom", help="Mark them as UTF-8, as spreadsheets want it."),
    as_json: bool = JSON,
) -> None:
    """Write an empty table of each kind: a header, a line that explains each column, an example."""
    from fecallab.cli.batch_write import template_texts, write_files

    written = write_files(folder, template_texts(semicolons=semicolons), bom=bom)
    lines = [str(path) for path in written]
    lines.append("Rows that begin with # are left out: write yours below them.")
    lines.append(f"Then: fecallab batch take-in {folder} --check")
    emit({"folder": str(folder), "files": [path.name for path in written]}, "\n".join(lines), as_json)
