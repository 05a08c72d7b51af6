"""``fecallab sheet type-in``: a filled microscope sheet, line by line at the keys or as a table."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import BY, JSON, RECORDS, now, one_of, open_folder, who
from fecallab.cli.output import emit

if TYPE_CHECKING:
    from fecallab.cli.batch_record import Written
    from fecallab.cli.batch_sheet import Sheet
    from fecallab.cli.batch_typed import Ways
    from fecallab.cli.sheet_table import Line
    from fecallab.domain.signs import Sign


def register(app: typer.Typer) -> None:
    """Add the command ``type-in``."""
    app.command(name="type-in")(type_in)


def type_in(
    file: Path | None = typer.Argument(None, help="The sheet as CSV; asked line by line when left out."),
    check: bool = typer.Option(False, "--check", help="Only check; write nothing."),
    dates: str | None = typer.Option(None, help="day-first or month-first, where 3/4/2026 can be both."),
    decimals: str | None = typer.Option(None, help="comma or point, where 1,234 can be both."),
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Type a filled microscope sheet in: checked as a whole, then recorded as samples, exams and signs."""
    from fecallab.cli.batch_cells import COMMA, DAY_FIRST, MONTH_FIRST, POINT
    from fecallab.cli.batch_record import BatchFaults
    from fecallab.cli.batch_tell import tell_faults
    from fecallab.cli.batch_typed import Ways
    from fecallab.cli.sheet_table import read_table

    ways = Ways(
        one_of(dates, (DAY_FIRST, MONTH_FIRST), "--dates") if dates else "",
        one_of(decimals, (COMMA, POINT), "--decimals") if decimals else "",
    )
    if file is None:
        _ask(by, records, as_json)
        return
    sheet, lines = read_table(file)
    try:
        emit(*take_in(sheet, lines, ways, who(by), records, check=check), as_json)
    except BatchFaults as faults:
        tell_faults(faults, as_json)
        raise typer.Exit(2) from None


def _ask(by: str | None, records: str | None, as_json: bool) -> None:
    """Ask half page by half page where somebody can answer."""
    from fecallab.cli.ask import may_ask
    from fecallab.cli.sheet_ask import type_in_by_questions
    from fecallab.domain.errors import BadInput

    if as_json or not may_ask([]):
        raise BadInput(
            "Nobody can be asked here.", next="Type: fecallab sheet type-in FILE.csv", code="file-missing"
        )
    type_in_by_questions(records, who(by))


def take_in(
    sheet: Sheet, lines: Sequence[Line], ways: Ways, by: str, records: str | None, *, check: bool = False
) -> tuple[dict[str, Any], str]:
    """Check a sheet and record it; return the answer for a machine and for a person.

    Raises
    ------
    BatchFaults
        With everything that is wrong; nothing was written then.
    """
    from fecallab.cli.batch_record import Written
    from fecallab.cli.sheet_record import check_sheet, write_sheet_rows
    from fecallab.records.folder import read_marker

    written = Written()
    told: list[tuple[str, Sign]] = []
    with open_folder(records) as store:
        collection = read_marker(store.folder).collection
        if check:
            with store.at_one_moment() as reader:
                _, halves = check_sheet(sheet, lines, reader, ways, by, collection)
        else:
            with store.write(by=by, now=now()) as writer:
                batch, halves = check_sheet(sheet, lines, writer, ways, by, collection)
                written, told = write_sheet_rows(batch, halves, writer, by)
    names = list(dict.fromkeys(half.owner for half in halves))
    return _payload(written, told, len(halves), check), _text(written, told, names, len(halves), check)


def _payload(written: Written, told: list[tuple[str, Sign]], halves: int, check: bool) -> dict[str, Any]:
    from fecallab.cli.sign import sign_says

    return {
        "written": not check,
        "half_pages": halves,
        "samples": list(written.codes["samples"].values()),
        "exams": list(written.codes["exams"].values()),
        "cases_opened": [{"case": c.code, "animal": name, "target": c.target} for c, name in written.cases],
        "to_the_vet": [{"animal": name, **sign_says(one)} for name, one in told],
        "notes": written.notes,
    }


def _text(written: Written, told: list[tuple[str, Sign]], names: list[str], halves: int, check: bool) -> str:
    pages = "1 half page" if halves == 1 else f"{halves} half pages"
    lines = [f"{name}: {one.says}" for name, one in told]
    if check:
        lines.append(f"{pages} ({', '.join(names)}): nothing is wrong. Checked, nothing written.")
        return "\n".join(lines)
    lines.append(f"{pages} ({', '.join(names)}). Recorded.")
    codes = written.codes
    if codes["samples"]:
        lines.append(f"  Samples: {', '.join(codes['samples'].values())}")
    lines += [f"  What it says: fecallab exam show {code}" for code in codes["exams"].values()]
    lines += [
        f"  Case {case.code} opened: {case.target} in {name}. Send the exam to the vet."
        for case, name in written.cases
    ]
    lines += [f"  Note: {note}" for note in written.notes]
    return "\n".join(lines)
