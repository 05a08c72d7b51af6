"""From the cells of a table to values: decimal marks and orders of dates are told from the whole table."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from fecallab.cli.batch_cells import (
    DAY_FIRST,
    MONTH_FIRST,
    date_orders,
    is_open_date,
    read_date_cell,
    read_number_cell,
)
from fecallab.cli.batch_columns import CHOICE, DAY, FLAG, NUMBER, ORGANISM, TEXT, TIME, WHOLE, Column
from fecallab.cli.batch_sheet import RawRow, Sheet
from fecallab.cli.batch_text import free_text, plain, refuse_garbled, refuse_uncalculated
from fecallab.cli.common import number_or_none, one_of, read_day, read_time
from fecallab.cli.typed import read_count
from fecallab.domain.errors import BadInput, Reason
from fecallab.domain.spoken import say_date

YES = frozenset({"yes", "y", "true", "1", "x", "ja", "j", "wahr"})
NO = frozenset({"no", "n", "false", "0", "nein", "falsch"})


@dataclass(frozen=True)
class Ways:
    """How the person says that dates and decimals are written; empty where it is told from the table."""

    dates: str = ""
    decimals: str = ""


@dataclass
class Row:
    """One row in plain form: as text for the checks of single commands, and as values.

    ``unknown`` names the columns that say "n/a": known to be not known. ``bad`` names the columns that have a
    fault; such a row is checked further as far as it can be, and goes no further.
    """

    raw: RawRow
    text: dict[str, str] = field(default_factory=dict)
    value: dict[str, Any] = field(default_factory=dict)
    grid: dict[int, int] = field(default_factory=dict)
    unknown: set[str] = field(default_factory=set)
    bad: set[str] = field(default_factory=set)

    @property
    def sound(self) -> bool:
        """Whether no fault was found."""
        return not self.bad


class _Asked(BadInput):
    """A cell that can be read in two ways: said once for the whole column."""


def typed_rows(sheet: Sheet, ways: Ways) -> list[Row]:
    """Return the rows of a sheet with every cell read; every cell that cannot be is a fault of the sheet."""
    proved = {column.key: _marks(sheet, column) for column in sheet.columns if column.kind == NUMBER}
    readers = {column.key: _reader(column, sheet, ways, proved) for column in sheet.columns}
    rows: list[Row] = []
    asked: dict[str, int] = {}
    gaps: dict[str, int] = {}
    for raw in sheet.rows:
        row = Row(raw)
        for column in sheet.columns:
            cell = raw.cells.get(column.key, "")
            try:
                refuse_uncalculated(cell)
                row.text[column.key], row.value[column.key] = readers[column.key](cell)
            except _Asked as question:
                row.bad.add(column.key)
                asked[column.key] = asked.get(column.key, 0) + 1
                if asked[column.key] == 1:
                    sheet.blame(question, raw, column.title, cell)
                continue
            except BadInput as trouble:
                row.bad.add(column.key)
                sheet.blame(trouble, raw, column.title, cell.strip())
                continue
            if not row.text[column.key]:
                if cell.strip():
                    row.unknown.add(column.key)
                if column.needed:
                    row.bad.add(column.key)
                    _blame_gap(sheet, rows, row, column, gaps)
        _read_grid(sheet, row)
        rows.append(row)
    return rows


def _blame_gap(sheet: Sheet, before: list[Row], row: Row, column: Column, gaps: dict[str, int]) -> None:
    """Note an empty cell that is needed; cells merged with the one above are told as one."""
    known = gaps.get(column.key)
    if known is not None and before and column.key in before[-1].text and not before[-1].text[column.key]:
        fault = sheet.faults[known]
        sheet.faults[known] = replace(fault, last_line=row.raw.line)
        return
    above = before[-1].text.get(column.key, "") if before else ""
    text, step, code = "The cell is empty, but every row needs it.", "Fill it.", "cell-empty"
    if above:
        text = (
            f"The cell is empty, and the one above it (line {before[-1].raw.line}) says {above[:40]!r};"
            " merged cells arrive like this."
        )
        step = "In the spreadsheet undo the merging and write it in every row."
        code = "cell-empty-merged"
    sheet.blame(Reason(code, text, step), row.raw, column.title)
    gaps[column.key] = len(sheet.faults) - 1


def _read_grid(sheet: Sheet, row: Row) -> None:
    """Read ``field 1``, ``field 2`` …; an empty one at the end was not read, one in between is a fault."""
    written = {number: cell for number, cell in sorted(row.raw.grid.items()) if plain(cell)}
    for number, cell in written.items():
        title = f"field {number}"
        try:
            refuse_uncalculated(cell)
            row.grid[number] = int(read_count(_whole(plain(cell)), title))
        except BadInput as trouble:
            row.bad.add("count")
            sheet.blame(trouble, row.raw, title, cell.strip())
    missing = [
        number for number in row.raw.grid if written and number < max(written) and number not in written
    ]
    if missing:
        row.bad.add("count")
        names = ", ".join(f"field {number}" for number in sorted(missing))
        text = f"{names} is empty although a later field was read."
        sheet.blame(Reason("field-empty", text, "Write 0 where nothing was seen."), row.raw, names)


Reading = Callable[[str], tuple[str, Any]]


def _reader(column: Column, sheet: Sheet, ways: Ways, proved: dict[str, set[str]]) -> Reading:
    """Return what reads the cells of one column into a plain text and a value."""
    if column.kind == TEXT:
        return _text
    if column.kind in (NUMBER, WHOLE):
        style = ways.decimals or _style(column, proved)
        return lambda cell: _number(plain(cell), column, style)
    if column.kind in (DAY, TIME):
        return lambda cell, order=_order(sheet, column, ways): _date(plain(cell), column, order)  # type: ignore[misc]
    readers: dict[str, Reading] = {FLAG: _flag, CHOICE: _choice_of(column), ORGANISM: _organism}
    return lambda cell: readers[column.kind](plain(cell)) if plain(cell) else ("", None)


def _cells(sheet: Sheet, column: Column) -> Iterable[str]:
    return (row.cells.get(column.key, "") for row in sheet.rows)


def _without_unit(text: str, column: Column) -> str:
    unit = column.unit.casefold()
    bare = text[: -len(unit)].rstrip() if unit and text.casefold().endswith(unit) else text
    return bare if bare[-1:].isdigit() else text


def _marks(sheet: Sheet, column: Column) -> set[str]:
    """Return the decimal marks that the numbers of a column prove."""
    written = {_without_unit(plain(cell), column) for cell in set(_cells(sheet, column))}
    found = (read_number_cell(text) for text in written)
    return {number.mark for number in found if number is not None and number.mark}


def _style(column: Column, proved: dict[str, set[str]]) -> str:
    """Return the decimal mark of a table: the only one that its numbers prove, else that of the column."""
    for marks in (set().union(*proved.values()), proved.get(column.key, set())):
        if len(marks) == 1:
            return next(iter(marks))
    return ""


def _number(text: str, column: Column, style: str) -> tuple[str, Any]:
    if not text:
        return "", None
    low, high = column.limits
    cell = read_number_cell(_without_unit(text, column))
    if cell is None:
        unit = f" in {column.unit}" if column.unit else ""
        raise BadInput(
            f"This is no plain number{unit}.",
            next="Type the number alone, without a unit or words: 12.5",
            code="not-a-number",
        )
    if column.kind == WHOLE:
        chosen = cell.as_thousands if cell.open and not style else cell.read(style, text)
        count = read_count(_whole(chosen), column.title)
        number_or_none(str(count), column.title, low=low, high=high)
        return str(count), count
    chosen = cell.read(style, text) if style or not cell.open else _only_possible(cell, low, high)
    if not chosen:
        raise _Asked(
            f"This can be {cell.as_decimal} or {cell.as_thousands}, and no other number in the table decides.",
            next="Type: --decimals comma  or  --decimals point  (the mark before the decimals)",
            code="decimals-ambiguous",
        )
    return chosen, number_or_none(chosen, column.title, low=low, high=high)


def _only_possible(cell: Any, low: float, high: float) -> str:
    fitting = [text for text in (cell.as_decimal, cell.as_thousands) if low <= float(text) <= high]
    return fitting[0] if len(fitting) == 1 else ""


def _whole(text: str) -> str:
    return re.sub(r"[.,]0+$", "", text)


def _order(sheet: Sheet, column: Column, ways: Ways) -> str:
    """Return the order of day and month of a column; ``?`` where nothing decides or dates contradict."""
    proved = date_orders(_cells(sheet, column))
    order = ways.dates or (proved.pop() if len(proved) == 1 else "?" if not proved else "!")
    if order not in ("?", "!") and any(map(is_open_date, _cells(sheet, column))):
        sheet.orders[column.title] = order
    return order


def _date(text: str, column: Column, order: str) -> tuple[str, Any]:
    if not text:
        return "", None
    if order in ("?", "!") and is_open_date(text):
        ways = (read_date_cell(text, way) for way in (DAY_FIRST, MONTH_FIRST))
        both = " or ".join(say_date(datetime.fromisoformat(way)) for way in ways if way)
        why = "no date of this column decides" if order == "?" else "the dates of this column contradict"
        raise _Asked(
            f"This can be {both}, and {why}.",
            next="Type: --dates day-first  or  --dates month-first",
            code="dates-ambiguous",
        )
    found = read_date_cell(text, order if order in (DAY_FIRST, MONTH_FIRST) else "")
    if found is None:
        raise _no_date(text, column, order)
    if column.kind == DAY:
        if found[11:] not in ("", "00:00"):
            raise BadInput("A day alone is asked for.", next=f"Type: {found[:10]}", code="not-a-day")
        return found[:10], read_day(found[:10], column.title)
    return found, read_time(found, column.title)


def _no_date(text: str, column: Column, order: str) -> BadInput:
    step = "Type: 2026-03-04" + (" 08:30" if column.kind == TIME else "")
    if re.fullmatch(r"[34]\d{4}([.,]\d+)?", text):
        return BadInput(
            "This is the number that a spreadsheet keeps for a day, no date.",
            next="Format the column as a date and save as CSV again.",
            code="day-number",
        )
    if re.fullmatch(r"\d{1,2}:\d{2}(:\d{2})?( ?[aApP][mM])?", text):
        return BadInput("This is an hour without a day.", next=step, code="day-missing")
    said = (
        f" in the order {order}" if order in (DAY_FIRST, MONTH_FIRST) and re.match(r"\d+[/-]", text) else ""
    )
    return BadInput(f"This is no date{said}.", next=step, code="not-a-date")


def _text(cell: str) -> tuple[str, str]:
    refuse_garbled(cell)
    text = free_text(cell)
    return text, text


def _flag(text: str) -> tuple[str, bool]:
    word = text.casefold()
    if word not in YES | NO:
        raise BadInput("This is neither yes nor no.", next="Write yes or no.", code="not-yes-or-no")
    return ("yes", True) if word in YES else ("no", False)


def _choice_of(column: Column) -> Reading:
    joined = any("_" in word for word in column.choices)

    def read(text: str) -> tuple[str, str]:
        word = text.replace(" ", "_").replace("-", "_") if joined else text
        found = one_of(word, column.choices, f"'{column.title}'")
        return found, found

    return read


def _organism(text: str) -> tuple[str, str]:
    from fecallab.cli.exam_input import organism_name

    found = organism_name(text)
    return found, found
