"""A filled microscope sheet, checked as a whole by the rules of single commands, then recorded in one go."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fecallab.cli.batch_exams import add_readings
from fecallab.cli.batch_facts import add_samples
from fecallab.cli.batch_record import BatchFaults, Written, write_batch
from fecallab.cli.batch_sheet import RawRow, Sheet
from fecallab.cli.batch_state import NEW, Batch, label_key
from fecallab.cli.batch_tables import table_of
from fecallab.cli.batch_typed import Ways, typed_rows
from fecallab.cli.batch_vet import note_cases
from fecallab.cli.sheet_table import (
    OF_PREPARATION,
    OF_ROW,
    OF_SAMPLE,
    PASSED_ON,
    READ_ON,
    SIGNS,
    Line,
    title_of,
    with_day,
)
from fecallab.domain.errors import BadInput, Reason

if TYPE_CHECKING:
    from fecallab.domain.signs import Sign
    from fecallab.records.reader import Reader
    from fecallab.records.writer import Writer


@dataclass
class HalfPage:
    """One half page: its lines, the label or code of its sample, the owner's name, the signs that were ticked."""

    lines: list[Line]
    sample: str = ""
    preparation: int = 1
    recorded: bool = False
    made_here: bool = False
    owner: str = ""
    signs: list[Sign] = field(default_factory=list)

    @property
    def first(self) -> Line:
        """The line that names the animal."""
        return self.lines[0]

    def cell(self, key: str) -> str:
        """Return the first thing that a column says on this half page."""
        return next((line.cell(key) for line in self.lines if line.cell(key)), "")


def check_sheet(
    sheet: Sheet, lines: Sequence[Line], reader: Reader, ways: Ways, who: str, collection: str
) -> tuple[Batch, list[HalfPage]]:
    """Check a filled sheet without writing anything.

    Parameters
    ----------
    sheet : Sheet
        The file, with its faults as a table.
    lines : sequence of Line
        Its lines.
    collection : str
        Identity of the records, against which scanned labels are held.

    Raises
    ------
    BatchFaults
        With every fault, each with its line.
    """
    readings = Sheet(sheet.file, table_of("readings"), sheet.encoding, sheet.separator)
    halves = _halves(sheet, lines)
    previous: HalfPage | None = None
    for number, half in enumerate(halves, start=1):
        _name_sample(sheet, half, previous, number, reader, collection)
        half.signs = _signs(sheet, half, reader)
        if half.made_here:
            sheet.rows.append(_sample_row(half))
        readings.rows += _reading_rows(half)
        previous = half
    sheet.columns = [table_of("samples").by_key[key] for key in ("label", "animal", "collected", *OF_SAMPLE)]
    keys = ("sample", "preparation", "reading", *OF_PREPARATION, *OF_ROW)
    readings.columns = [table_of("readings").by_key[key] for key in keys]
    batch = Batch(reader, [sheet, readings], who)
    if not sheet.faults or halves:
        add_samples(batch, [(sheet, row) for row in typed_rows(sheet, ways)])
        add_readings(batch, [(readings, row) for row in typed_rows(readings, ways)])
        note_cases(batch)
    faults = sorted((*sheet.faults, *readings.faults), key=lambda fault: fault.line)
    if faults:
        raise BatchFaults(list(dict.fromkeys(faults)))
    for half in halves:
        reference = half.sample if half.recorded else f"{NEW}{label_key(half.sample)}"
        half.owner = batch.animal(batch.sample_of(reference).animal).name
    if not halves:
        raise BadInput("No line is filled in.", next="Type at least one half page.", code="nothing-read")
    return batch, halves


def _halves(sheet: Sheet, lines: Sequence[Line]) -> list[HalfPage]:
    """Return the half pages: one begins where an animal, or another sample, is named."""
    halves: list[HalfPage] = []
    for line in lines:
        if (
            line.cell("animal")
            or (line.cell("sample") and not halves)
            or (halves and line.cell("sample") not in ("", halves[-1].cell("sample")))
        ):
            halves.append(HalfPage([line]))
        elif halves:
            halves[-1].lines.append(line)
        else:
            step = "Write the animal in the first line of every half page."
            sheet.blame(Reason("cell-empty", "The line names no animal.", step), line.place, "animal")
    return halves


def _name_sample(
    sheet: Sheet,
    half: HalfPage,
    before: HalfPage | None,
    number: int,
    reader: Reader,
    collection: str,
) -> None:
    """Find out of which sample a half page is: a recorded one, the one of the half page above, or a new one."""
    from fecallab.report.labels import code_from_label

    asked, animal = half.cell("sample"), half.cell("animal")
    described = [key for key in (PASSED_ON, *OF_SAMPLE) if half.cell(key)]
    try:
        asked = code_from_label(asked, collection)
    except BadInput as trouble:
        sheet.blame(trouble, half.first.place, "sample", asked)
        return
    if before is not None and not described:
        same_animal = animal.casefold() in ("", before.cell("animal").casefold())
        if (asked and asked.casefold() == before.sample.casefold()) or (not asked and same_animal):
            half.sample, half.preparation, half.recorded = (
                before.sample,
                before.preparation + 1,
                before.recorded,
            )
            return
    half.sample = asked or f"half page {number}"
    known = _recorded(reader, asked)
    if not known:
        half.made_here = True
        return
    half.sample, half.recorded = known, True
    if described:
        names = ", ".join(f"'{title_of(key)}'" for key in described)
        text = f"{known} is recorded already, with what it says of the stool."
        step = f"Empty {names}, or change the record: fecallab correct {known} form=soft --reason WHY"
        sheet.blame(Reason("sample-recorded", text, step), half.first.place, title_of(described[0]))
    owner = reader.animal(reader.sample(known).animal)
    if animal and animal.casefold() not in (owner.name.casefold(), owner.code.casefold()):
        text = f"{known} is of {owner.name}, not of {animal}."
        step = "Check the code on the cup and the name on the sheet."
        sheet.blame(Reason("other-animal", text, step), half.first.place, "animal", animal)


def _recorded(reader: Reader, asked: str) -> str:
    """Return the code of a recorded sample, or an empty text."""
    from fecallab.records.rows import SAMPLE, kind_of_code

    if not asked or kind_of_code(asked.upper()) is not SAMPLE:
        return ""
    try:
        return reader.sample(asked).code
    except BadInput:
        return ""


def _signs(sheet: Sheet, half: HalfPage, reader: Reader) -> list[Sign]:
    """Return the signs that were ticked, by the words on paper or their keys; ``none`` and ``no`` are none."""
    from fecallab.reference.signs import sign, signs_for

    ticked = [" ".join(word.split()).casefold() for word in re.split(r"[;,+/]", half.cell(SIGNS))]
    ticked = [word for word in ticked if word not in ("", "none", "no", "nein")]
    if not ticked:
        return []
    try:
        owner = reader.sample(half.sample).animal if half.recorded else half.cell("animal")
        asked = {one.sign.casefold(): one for one in reversed(signs_for(reader.animal(owner)))}
    except BadInput:
        return []
    found: list[Sign] = []
    for word in ticked:
        try:
            found.append(asked.get(word) or sign(word))
        except BadInput as trouble:
            sheet.blame(trouble, half.first.place, "signs", word)
    return found


def _sample_row(half: HalfPage) -> RawRow:
    day = half.cell(PASSED_ON)
    cells = {key: half.cell(key) for key in OF_SAMPLE}
    for key in ("passed_from", "passed_to"):
        cells[key] = with_day(cells[key], day)
    if day and not cells["passed_from"] and not cells["passed_to"]:
        cells["passed_from"] = day
    if not cells["passed_from"] and not cells["passed_to"]:
        cells["collected"] = _read_at(half)
    cells |= {"label": half.sample, "animal": half.cell("animal")}
    return RawRow(half.first.line, half.first.row, cells)


def _read_at(half: HalfPage) -> str:
    """Return when it was read; an hour alone is of the day on which the stool was passed."""
    passed = half.cell(PASSED_ON) or half.cell("passed_from").partition(" ")[0]
    return with_day(half.cell("read_at"), half.cell(READ_ON) or passed)


def _reading_rows(half: HalfPage) -> list[RawRow]:
    """Return the lines as rows of readings: objectives are carried down, sweeps are numbered."""
    rows: list[RawRow] = []
    prepared = {key: half.cell(key) for key in OF_PREPARATION} | {"read_at": _read_at(half)}
    kept: dict[bool, dict[str, str]] = {True: {}, False: {}}
    sweeps: dict[tuple[str, str], str] = {}
    for number, line in enumerate(half.lines):
        cells = {key: line.cells.get(key, "") for key in OF_ROW}
        fields = line.counted()
        swept = not fields and bool(line.cell("count") or line.cell("cover_share"))
        if fields or swept:
            for key in ("objective", "cover_share") if swept else ("objective", "field_number"):
                cells[key] = cells[key] or kept[swept].get(key, "")
                kept[swept][key] = cells[key]
        else:
            cells = dict.fromkeys(OF_ROW, "")
        if swept and cells["cover_share"]:
            sweep = (line.cell("objective") or cells["objective"], cells["cover_share"])
            cells["reading"] = sweeps.setdefault(sweep, str(len(sweeps) + 1))
            cells["field_number"] = ""
        cells |= {"sample": half.sample, "preparation": str(half.preparation)}
        rows.append(RawRow(line.line, line.row, cells | (prepared if number == 0 else {}), line.grid))
    return rows


def write_sheet_rows(
    batch: Batch, halves: Sequence[HalfPage], writer: Writer, who: str
) -> tuple[Written, list[tuple[str, Sign]]]:
    """Record a checked sheet in the open transaction of a writer, danger signs included.

    Returns
    -------
    Written
        What became of it.
    list of (animal's name, sign)
        What goes to the vet now.
    """
    from fecallab.cli.sign import record_signs

    written = write_batch(batch, writer)
    told: list[tuple[str, Sign]] = []
    for half in halves:
        if not half.signs:
            continue
        code = half.sample if half.recorded else written.codes["samples"][half.sample]
        sample = writer.sample(code)
        owner = writer.animal(sample.animal)
        by = half.cell("by") or who
        record_signs(writer, owner, half.signs, sample.passed_to or sample.collected_at, by, sample=code)
        told += [(owner.name, one) for one in half.signs]
    return written, told
