"""The filled microscope sheet as a table: one line per row of its grid, in the columns of `fecallab batch`.

A half page begins where the animal or the sample is named; cells below that are left empty say what the line
above says. The day stands in a column of its own, as on paper, so that hours alone are enough.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from fecallab.cli.batch_columns import GRID, Column
from fecallab.cli.batch_read import LARGEST_BYTES, SEPARATORS, decode
from fecallab.cli.batch_sheet import RawRow, Sheet
from fecallab.cli.batch_tables import table_of
from fecallab.cli.batch_text import free_text, plain
from fecallab.domain.errors import BadInput, Reason
from fecallab.domain.near_spelling import near_spellings
from fecallab.report.sheet_model import FIELDS

PASSED_ON, READ_ON, SIGNS = "passed_on", "read_on", "signs"
OF_SAMPLE = ("passed_from", "passed_to", "form", "kept", "mass_g", "whole_stool")
OF_PREPARATION = (
    *("by", "method", "read_at", "room_c", "slide_warmed", "solution", "specific_gravity", "gravity_checked"),
    *("standing_minutes", "sample_g", "suspension_ml", "counted_ml", "preparation_remark"),
)
OF_ROW = ("objective", "field_number", "organism", "sure", "cover_share", "count")
_ORDER = (
    *("animal", "sample", PASSED_ON, "passed_from", "passed_to", "form", "kept", "mass_g", "whole_stool"),
    *(
        READ_ON,
        "read_at",
        "by",
        "method",
        "objective",
        "field_number",
        "organism",
        "sure",
        "cover_share",
        "count",
    ),
    *("room_c", "slide_warmed", "solution", "specific_gravity", "gravity_checked", "standing_minutes"),
    *("sample_g", "suspension_ml", "counted_ml", "preparation_remark", SIGNS),
)
_NAMES = {
    PASSED_ON: "passed on",
    READ_ON: "read on",
    SIGNS: "signs",
    "cover_share": "share",
    "preparation_remark": "remark",
}
_HOUR = re.compile(r"\d{1,2}[:.]\d{2}(:\d{2})?(\s?([ap]\.?m\.?|uhr))?", re.ASCII | re.IGNORECASE)


@dataclass(frozen=True)
class Line:
    """One line of the table with its place: cells by key, counts by number of the field."""

    line: int
    row: int
    cells: dict[str, str]
    grid: dict[int, str] = field(default_factory=dict)

    def cell(self, key: str) -> str:
        """Return what a cell says; empty where it says nothing."""
        return plain(self.cells.get(key, ""))

    def counted(self) -> bool:
        """Say whether anything was counted in single fields."""
        return any(plain(cell) for cell in self.grid.values())

    @property
    def place(self) -> RawRow:
        """Where it stands."""
        return RawRow(self.line, self.row, {})


@cache
def _columns() -> dict[str, Column]:
    """Return the columns that `fecallab batch` has too, by key."""
    samples, readings = table_of("samples").by_key, table_of("readings").by_key
    return {
        "animal": samples["animal"],
        "sample": readings["sample"],
        **{key: samples[key] for key in OF_SAMPLE},
        **{key: readings[key] for key in (*OF_PREPARATION, *OF_ROW)},
    }


def title_of(key: str) -> str:
    """Return the header of a column."""
    return _NAMES.get(key) or _columns()[key].title


def column_titles() -> tuple[str, ...]:
    """Return the columns in the order of the sheet, as they are printed at its foot."""
    titles = [title_of(key) for key in _ORDER]
    place = _ORDER.index("sure") + 1
    return (*titles[:place], f"field 1 … field {FIELDS}", *titles[place:])


def _plain_name(name: str) -> str:
    text = re.sub(r"\s*[(\[].*$", "", name.casefold().replace("_", " ").replace("\ufeff", ""))
    return " ".join(text.split())


@cache
def _by_name() -> dict[str, str]:
    found: dict[str, str] = {}
    for key in _ORDER:
        names = {title_of(key), key, *((_columns()[key].title,) if key in _columns() else ())}
        found.update({_plain_name(name): key for name in names})
    return found


def read_table(path: Path) -> tuple[Sheet, list[Line]]:
    """Return the lines of a filled sheet that was typed as CSV; what is wrong with it as a table is a fault."""
    sheet = Sheet(path.name, table_of("samples"))
    try:
        if not path.is_file():
            raise BadInput(f"There is no file {path}.", next="Check the name.", code="no-such-file")
        if path.stat().st_size > LARGEST_BYTES:
            raise BadInput("It is larger than 100 MB.", next="Take it in by parts.", code="too-large")
        text, sheet.encoding = decode(path.read_bytes())
        return sheet, _lines(sheet, text)
    except BadInput as trouble:
        sheet.blame(trouble)
        return sheet, []


def _lines(sheet: Sheet, text: str) -> list[Line]:
    stated = re.match(r"\s*sep=(.)\r?\n", text)
    body = text[stated.end() :] if stated else text
    skipped = 1 if stated else 0
    header = next((line for line in body.splitlines() if plain(line)), "")
    if not header:
        raise BadInput("The file is empty.", next=_foot(), code="empty-file")
    sheet.separator = stated.group(1) if stated else max(SEPARATORS, key=lambda sign: _known(header, sign))
    reader = csv.reader(io.StringIO(body, newline=""), delimiter=sheet.separator, strict=True)
    keys: list[str | int | None] = []
    found: list[Line] = []
    before = 0
    try:
        for number, cells in enumerate(reader, start=1):
            place = RawRow(before + 1 + skipped, number + skipped, {})
            before = reader.line_num
            if not any(plain(cell) for cell in cells) or cells[0].lstrip().startswith("# "):
                continue
            if not keys:
                keys = [_key(sheet, free_text(cell), place) for cell in cells]
                _blame_missing(sheet, keys, place)
                continue
            found.append(_line(sheet, keys, cells, place))
    except csv.Error as error:
        step = 'Look for a lone " in this line, or save the sheet as CSV again.'
        text = f"The row cannot be split into cells ({error})."
        sheet.blame(Reason("no-table", text, step), RawRow(before + 1 + skipped, 0, {}))
    return found


def _foot() -> str:
    return (
        "Write the columns that stand at the foot of the sheet: animal, sample, method, organism, field 1 …"
    )


def _known(header: str, separator: str) -> tuple[int, int]:
    names = [_plain_name(part.strip().strip('"')) for part in header.split(separator)]
    return sum(name in _by_name() or GRID.fullmatch(name) is not None for name in names), len(names)


def _key(sheet: Sheet, name: str, place: RawRow) -> str | int | None:
    """Return what a column of the header is: its key, a field's number, or nothing."""
    bare = _plain_name(name)
    numbered = re.fullmatch(r"(?:field|f)\s?(\d{1,3})", bare, re.ASCII)
    if numbered:
        return int(numbered.group(1))
    if not bare or name.startswith("#"):
        return None
    if bare not in _by_name():
        near = near_spellings(bare, _by_name(), 1)
        step = f"Did you mean '{title_of(_by_name()[near[0]])}'? " if near else ""
        step += f"To keep a column of your own, write # before its name: '#{name}'."
        sheet.blame(Reason("column-unknown", "The microscope sheet has no such column.", step), place, name)
        return None
    return _by_name()[bare]


def _blame_missing(sheet: Sheet, keys: Sequence[str | int | None], place: RawRow) -> None:
    known = [key for key in keys if key is not None]
    twice = next((key for key in known if known.count(key) > 1), None)
    if twice is not None:
        name = title_of(twice) if isinstance(twice, str) else f"field {twice}"
        sheet.blame(Reason("column-twice", "The column stands twice.", "Delete one of them."), place, name)
    missing = [title_of(key) for key in ("animal", "method") if key not in known]
    if missing:
        sheet.blame(Reason("columns-missing", f"The table lacks: {', '.join(missing)}.", _foot()), place)


def _line(sheet: Sheet, keys: Sequence[str | int | None], cells: Sequence[str], place: RawRow) -> Line:
    line = Line(place.line, place.row, {})
    for number, cell in enumerate(cells):
        key = keys[number] if number < len(keys) else None
        if isinstance(key, int):
            line.grid[key] = cell
        elif key is not None:
            line.cells[key] = cell
        elif number >= len(keys) and plain(cell):
            text = f"The row has more cells than the header ({number + 1} for {len(keys)})."
            step = "A comma inside a text or number needs quotes around it: save the sheet as CSV again."
            sheet.blame(Reason("cells-too-many", text, step), place, given=plain(cell))
            break
    return line


def with_day(hour: str, day: str) -> str:
    """Return a moment from an hour and the day that stands in a column of its own.

    Examples
    --------
    >>> with_day("6:30", "4.3.2026"), with_day("2026-03-04 06:30", "4.3.2026"), with_day("", "2026-03-04")
    ('4.3.2026 6:30', '2026-03-04 06:30', '')
    """
    return f"{day} {hour}" if day and _HOUR.fullmatch(hour) else hour
