"""The header of a table: which table it is, and which column is which, however it is spelled."""

from __future__ import annotations

import re
from pathlib import Path

from fecallab.cli.batch_columns import GRID, Column, Table
from fecallab.cli.batch_sheet import RawRow, Sheet
from fecallab.cli.batch_tables import tables
from fecallab.domain.errors import Reason
from fecallab.domain.near_spelling import near_spellings


def fit_of(header: str, separator: str) -> tuple[int, int]:
    """Return how many known columns a header has when it is split in this way, and how many in all."""
    known = {key for table in tables() for column in table.columns for key in _spellings(column)}
    parts = [_key(part.strip().strip('"')) for part in header.split(separator)]
    return sum(_key_without_unit(part) in known for part in parts), len(parts)


def _key(name: str) -> str:
    text = (
        name.casefold()
        .replace("â°", "°")
        .replace("âµ", "µ")
        .replace("μ", "µ")
        .replace("_", " ")
        .replace("\ufeff", "")
    )
    return " ".join(text.replace("\u00a0", " ").split())


def _key_without_unit(name: str) -> str:
    return re.sub(r"\s*[(\[].*[)\]]$", "", _key(name))


def _spellings(column: Column) -> set[str]:
    spelled = {_key(column.name), _key(column.title), _key(column.key), _key(f"{column.name} {column.unit}")}
    return spelled | {_key(column.name).replace("°", "")}


def understand_header(sheet: Sheet, names: list[str], place: RawRow) -> list[Column | int | str | None]:
    """Return what each column is: a column, a field's number, a name that is left alone, or nothing."""
    keys = {_key_without_unit(name) for name in names if name}
    table = max(tables(), key=lambda one: _likeness(one, keys, sheet.file))
    shared = sum(bool(keys & _spellings(column)) for column in table.columns)
    shared += sum(GRID.fullmatch(key) is not None for key in keys) if table.key == "readings" else 0
    strange = sum(not key.startswith("#") for key in keys) - shared
    if not shared or strange > shared:
        needed = "; ".join(f"{one.key}: {', '.join(c.title for c in one.columns[:4])} …" for one in tables())
        text = f"The header fits no table ({', '.join(name for name in names if name)[:120]})."
        step = f"Begin with: fecallab batch template FOLDER  ({needed})"
        sheet.blame(Reason("header-unknown", text, step), place)
        return []
    sheet.table = table
    found = [_one_column(sheet, table, name, place) for name in names]
    seen: dict[str, int] = {}
    for number, column in enumerate(found, start=1):
        name = column.title if isinstance(column, Column) else f"field {column}"
        if column is None or isinstance(column, str):
            continue
        if name in seen:
            text = f"The column stands twice: as number {seen[name]} and number {number}."
            sheet.blame(Reason("column-twice", text, "Delete or rename one of them."), place, name)
        seen.setdefault(name, number)
    sheet.columns = [column for column in found if isinstance(column, Column)]
    has = {column.key for column in sheet.columns}
    missing = [column.title for column in table.columns if column.needed and column.key not in has]
    if missing:
        text = f"This looks like a table of {table.many}, but it lacks: {', '.join(missing)}."
        sheet.blame(Reason("columns-missing", text, "Add the columns (names as written here)."), place)
    return found


def _likeness(table: Table, keys: set[str], file: str) -> tuple[float, int, bool]:
    fits = sum(bool(keys & _spellings(column)) for column in table.columns)
    needed = [column for column in table.columns if column.needed]
    have = sum(bool(keys & _spellings(column)) for column in needed)
    fits += sum(GRID.fullmatch(key) is not None for key in keys) if table.key == "readings" else 0
    return 2 * have - (len(needed) - have) + fits, fits, Path(file).stem.casefold().startswith(table.key)


def _one_column(sheet: Sheet, table: Table, name: str, place: RawRow) -> Column | int | str | None:
    if not name:
        return None
    if name.startswith("#"):
        return name
    key, bare = _key(name), _key_without_unit(name)
    grid = GRID.fullmatch(bare)
    if grid and table.key == "readings":
        return int(grid.group(1))
    for column in table.columns:
        if key in _spellings(column):
            return column
    for column in table.columns:
        if bare in _spellings(column):
            unit = _key(name)[len(bare) :].strip(" ()[]")
            if unit and unit != _key(column.unit):
                text = f"The column is in {column.unit or 'no unit'}, not in {unit}."
                step = f"Turn the numbers into {column.unit or 'plain ones'} and call it '{column.title}'."
                sheet.blame(Reason("unit-differs", text, step), place, name)
            return column
    titles = {_key_without_unit(column.title): column.title for column in table.columns}
    near = near_spellings(bare, titles, 1)
    step = f"Did you mean '{titles[near[0]]}'? " if near else ""
    step += f"To keep a column of your own, write # before its name: '#{name}'."
    text = f"A table of {table.many} has no such column."
    sheet.blame(Reason("column-unknown", text, step), place, name)
    return name
