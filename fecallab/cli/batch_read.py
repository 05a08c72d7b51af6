"""A table as a spreadsheet saves it: its letters, its separator, its header, its rows with their places."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from fecallab.cli.batch_columns import Column
from fecallab.cli.batch_header import fit_of, understand_header
from fecallab.cli.batch_sheet import RawRow, Sheet
from fecallab.cli.batch_text import free_text, plain
from fecallab.domain.errors import BadInput, Reason

LARGEST_BYTES = 100_000_000
SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}
_EXCEL, _OPEN_DOCUMENT = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"


def decode(data: bytes) -> tuple[str, str]:
    """Return the text of a file and what its letters are called.

    Raises
    ------
    BadInput
        For a workbook, and for what is no text.

    Examples
    --------
    >>> decode("Größe".encode("cp1252")), decode("Größe".encode("utf-16"))[1]
    (('Größe', 'Windows-1252'), 'UTF-16')
    """
    if data.startswith((_EXCEL, _OPEN_DOCUMENT)):
        text = "This is a workbook of a spreadsheet program, no CSV."
        raise BadInput(text, next="Open it and save each sheet as CSV (UTF-8).", code="workbook")
    guesses = [("utf-8-sig", "UTF-8"), ("cp1252", "Windows-1252")]
    zeros = data[:4000].count(0)
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        guesses = [("utf-16", "UTF-16")]
    elif zeros and zeros * 4 >= len(data[:4000]):
        guesses = [("utf-16-le" if data[1:2] == b"\0" else "utf-16-be", "UTF-16")]
    for codec, name in guesses:
        try:
            text = data.decode(codec)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text.removeprefix("\ufeff"), name
    raise BadInput("This is no text.", next="Save the sheet as CSV (UTF-8).", code="no-text")


def read_sheet(path: Path) -> Sheet:
    """Read one file; what is wrong with it as a table is noted in its faults."""
    sheet = Sheet(path.name)
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise BadInput("It is larger than 100 MB.", next="Take it in by parts.", code="too-large")
        text, sheet.encoding = decode(path.read_bytes())
        _fill(sheet, text)
    except BadInput as trouble:
        sheet.blame(trouble)
    return sheet


def _fill(sheet: Sheet, text: str) -> None:
    stated = re.match(r"\s*sep=(.)\r?\n", text)
    skipped = 1 if stated else 0
    body = text[stated.end() :] if stated else text
    header = next((line for line in body.splitlines() if line.strip()), "")
    if not header:
        raise BadInput("The file is empty.", next="Write a header and at least one row.", code="empty-file")
    sheet.separator = stated.group(1) if stated else max(SEPARATORS, key=lambda s: fit_of(header, s))
    rows = _split(sheet, body, skipped)
    if not rows:
        return
    first = rows[0]
    names = [free_text(cell) for cell in first[2]]
    columns = understand_header(sheet, names, RawRow(first[0], first[1], {}))
    if sheet.table is None:
        return
    for line, number, cells in rows[1:]:
        if not any(plain(cell) for cell in cells) or cells[0].lstrip().startswith("# "):
            continue
        row = RawRow(line, number, {}, {})
        for place, cell in enumerate(cells):
            column = columns[place] if place < len(columns) else None
            if isinstance(column, Column):
                row.cells[column.key] = cell
            elif isinstance(column, int):
                row.grid[column] = cell
            elif column is None and plain(cell):
                _blame_stray(sheet, row, place, len(names), cell)
        sheet.rows.append(row)


def _split(sheet: Sheet, body: str, skipped: int) -> list[tuple[int, int, list[str]]]:
    """Return the rows with the line that each begins on and its number in a spreadsheet."""
    reader = csv.reader(io.StringIO(body, newline=""), delimiter=sheet.separator, strict=True)
    rows: list[tuple[int, int, list[str]]] = []
    before = 0
    try:
        for number, cells in enumerate(reader, start=1):
            rows.append((before + 1 + skipped, number + skipped, cells or [""]))
            before = reader.line_num
    except csv.Error as error:
        place = RawRow(before + 1 + skipped, len(rows) + 1 + skipped, {})
        step = 'Look for a lone " in this line, or save the sheet as CSV again.'
        sheet.blame(Reason("no-table", f"The row cannot be split into cells ({error}).", step), place)
    while rows and not any(plain(cell) for cell in rows[0][2]):
        rows.pop(0)
    return rows


def _blame_stray(sheet: Sheet, row: RawRow, place: int, width: int, cell: str) -> None:
    if place < width:
        text, code = f"Column {place + 1} has no name, but this row has a cell there.", "column-unnamed"
        step = "Name the column, or empty it."
    else:
        text, code = f"The row has more cells than the header ({place + 1} for {width}).", "cells-too-many"
        step = "A comma inside a text or number needs quotes around it: save the sheet as CSV again."
    if not sheet.faults or sheet.faults[-1].line != row.line:
        sheet.blame(Reason(code, text, step), row, given=cell.strip())


def named_files(given: Sequence[Path]) -> list[Path]:
    """Return the files that were named: themselves, all CSV of a folder, or what a pattern fits.

    Raises
    ------
    BadInput
        For a file that is not there, and for a folder or a pattern without a CSV in it.
    """
    found: list[Path] = []
    for path in given:
        if path.is_dir():
            inside: Iterable[Path] = sorted(p for p in path.iterdir() if p.suffix.casefold() == ".csv")
        elif "*" in path.name and not path.exists():
            inside = sorted(path.parent.glob(path.name))
        else:
            inside = [path] if path.is_file() else []
        listed = list(inside)
        if not listed:
            what = f"no CSV in {path}" if path.is_dir() or "*" in path.name else f"no file {path}"
            raise BadInput(f"There is {what}.", next="Check the name.", code="no-such-file")
        found += [one for one in listed if one not in found]
    return found
