"""The records as tables, one CSV each, written so that a spreadsheet shows them and they come back unchanged."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fecallab.cli.batch_columns import NUMBER, Column, Table
from fecallab.cli.batch_housing import housing_lines
from fecallab.cli.batch_tables import table_of, tables
from fecallab.cli.batch_text import guarded
from fecallab.cli.typed import plain_number
from fecallab.domain.errors import BadInput

if TYPE_CHECKING:
    from fecallab.domain.exam import Exam, Preparation
    from fecallab.domain.plan import DoseGiven
    from fecallab.records.reader import Reader

NOT_KNOWN = object()
"""Stands where an empty cell would be filled from elsewhere on the way in; it is written as n/a."""
_NO_WHEN_EMPTY = ("as_told", "whole_stool", "visit")
Line = dict[str, Any]


def table_rows(reader: Reader) -> dict[str, list[Line]]:
    """Return every table of the records as rows of values by column key, in the order of their codes."""
    from fecallab.records.rows import code_order

    def in_order(facts: Iterable[Any]) -> list[Any]:
        return sorted(facts, key=lambda fact: code_order(fact.code))

    names = {animal.code: animal.name for animal in reader.animals()}
    samples = {sample.code: sample for sample in in_order(reader.samples())}
    exams = in_order(reader.exams())
    cases = {case.code: case for case in reader.cases()}
    plans = in_order(plan for case in cases for plan in reader.plans(case))
    of_plan = {plan.code: cases[plan.case] for plan in plans}
    doses = in_order(dose for plan in plans for dose in reader.doses(plan.code))
    weighings = in_order(reader.weighings())
    return {
        "animals": [
            {**vars(one), "number": one.number_of_animals, "arrived": one.arrived_on}
            for one in in_order(reader.animals())
        ],
        **housing_lines(reader),
        "weights": [{**vars(one), "animal": names[one.animal]} for one in weighings],
        "samples": [_sample_line(one, names) for one in _first_of_stool_first(samples)],
        "readings": [line for exam in exams for line in _exam_lines(exam)],
        "elsewhere": [
            {
                **vars(stated),
                "exam": exam.code,
                "sample": exam.sample,
                "as_told": exam.as_told,
                "animal": names[samples[exam.sample].animal],
                "reported": stated.reported_on,
                "collected": samples[exam.sample].collected_at.date(),
            }
            for exam in exams
            for stated in exam.elsewhere
        ],
        "plans": [_plan_line(plan, of_plan[plan.code], names) for plan in plans],
        "doses": [
            {**_dose_line(dose), "animal": names[case.animal], "target": case.target}
            for dose in doses
            for case in [of_plan[dose.plan]]
        ],
    }


def _sample_line(sample: Any, names: Mapping[str, str]) -> Line:
    return {
        **vars(sample),
        "label": sample.code,
        "animal": names[sample.animal],
        "passed_to": sample.passed_to or sample.passed_from,
        "collected": sample.collected_at,
        "whole_stool": sample.whole_stool_used,
    }


def _first_of_stool_first(samples: Mapping[str, Any]) -> Iterator[Any]:
    """Yield samples so that each stands after the one whose stool it shares."""
    done: set[str] = set()
    for sample in samples.values():
        first = samples.get(sample.same_stool_as)
        for one in (first, sample):
            if one is not None and one.code not in done:
                done.add(one.code)
                yield one


def _dose_line(dose: DoseGiven) -> Line:
    """Return a dose; what would be worked out on the way in, but is not known, is said to be not known."""
    known = dose.volume_ml and dose.weight_g is not None and dose.outcome == "given"
    return {
        **vars(dose),
        "weight_g": NOT_KNOWN if dose.weight_g is None else dose.weight_g,
        "by": dose.by or NOT_KNOWN,
        "delivered_mg_per_kg": dose.delivered_mg_per_kg or (NOT_KNOWN if known else ""),
    }


def _plan_line(plan: Any, case: Any, names: Mapping[str, str]) -> Line:
    return {
        **vars(plan),
        "label": plan.code,
        "animal": names[case.animal],
        "target": case.target,
        "written": plan.written_on,
        "doses": plan.doses_planned or None,
        "negatives": plan.negatives_needed,
        "wait_days": plan.wait_after_last_dose_days,
        "night_c": plan.night_at_least_c,
        "tube_inner_mm": plan.tube_inner_diameter_mm,
        "warm_end_c": plan.warm_end_at_least_c,
    }


def _exam_lines(exam: Exam) -> Iterator[Line]:
    moments = [part.read_at for part in exam.preparations]
    follows = None not in moments and moments[:1] == [exam.examined_at]
    whole: Line = {
        "exam": exam.code,
        "sample": exam.sample,
        "by": exam.by or NOT_KNOWN,
        "question": exam.question,
        "exam_remark": exam.remark,
        "as_told": exam.as_told,
        "stated_adequate": exam.stated_adequate,
        "examined_at": None if follows else exam.examined_at,
    }
    for number, part in enumerate(exam.preparations, start=1):
        prepared = {**vars(part), **whole, "preparation": str(number), "preparation_remark": part.remark}
        if not part.readings:
            yield prepared
        for line in _reading_lines(part):
            yield {**prepared, **line}


def _reading_lines(part: Preparation) -> Iterator[Line]:
    for number, reading in enumerate(part.readings, start=1):
        read = {**vars(reading), "reading": str(number), "reading_remark": reading.remark}
        seen: list[Line] = [
            {"organism": name, "count": count, "sure": sure}
            for sure in (True, False)
            for name, count in reading.tally(sure=sure).items()
        ]
        for line in seen or [{}]:
            yield {**read, **line}


def cell_of(value: Any, column: Column, *, comma: bool = False) -> str:
    """Return a value as a cell: numbers that cannot be misread, days and hours year first, texts guarded.

    Examples
    --------
    >>> weight = table_of("weights").by_key["mass_g"]
    >>> cell_of(1.234, weight), cell_of(1234.0, weight), cell_of(0.5, weight, comma=True)
    ('1.2340', '1234', '0,5')
    """
    if value is None or value == "" or (value is False and column.key in _NO_WHEN_EMPTY):
        return ""
    if value is NOT_KNOWN:
        return "n/a"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        seconds = value.replace(microsecond=0).isoformat(sep=" ")
        return seconds.removesuffix(":00") if value.second == 0 else seconds
    if isinstance(value, date):
        return value.isoformat()
    return _number_cell(value, comma) if column.kind == NUMBER else guarded(str(value))


def _number_cell(value: Any, comma: bool) -> str:
    try:
        text = plain_number(float(value))
        text = text if len(text) <= 30 else repr(float(value))
    except ValueError:
        return guarded(str(value))
    if re.fullmatch(r"-?[1-9]\d{0,2}\.\d{3}", text):
        text += "0"
    return text.replace(".", ",") if comma else text


def csv_text(table: Table, rows: Sequence[Line], *, semicolons: bool = False) -> str:
    """Return a table as CSV; rare columns stand in it only where a row fills them."""
    lines = [[cell_of(row.get(c.key), c, comma=semicolons) for c in table.columns] for row in rows]
    kept = [i for i, c in enumerate(table.columns) if not c.rare or any(line[i] for line in lines)]
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=";" if semicolons else ",", lineterminator="\r\n")
    writer.writerow([table.columns[i].title for i in kept])
    writer.writerows([[line[i] for i in kept] for line in lines])
    return out.getvalue()


def template_texts(*, semicolons: bool = False, fields: int = 10) -> dict[str, str]:
    """Return the templates by file name: a header, a line that explains each column, one example.

    The last one is for a filled printed grid: a row per organism, a column per field.
    """
    found = {
        table.file_name: _template([c for c in table.columns if not c.rare], {}, semicolons)
        for table in tables()
    }
    readings = table_of("readings").by_key
    keys = ("sample", "method", "read_at", "specific_gravity", "gravity_checked", "standing_minutes")
    columns = [readings[key] for key in (*keys, "objective", "field_number", "organism")]
    grid = {f"field {number}": "0210310021"[number % 10] for number in range(1, fields + 1)}
    return found | {"readings-grid.csv": _template(columns, grid, semicolons)}


def _template(columns: Sequence[Column], grid: Mapping[str, str], semicolons: bool) -> str:
    says = [("needed: " if column.needed else "") + column.says for column in columns]
    example = [
        column.example.replace(".", ",") if semicolons and column.kind == NUMBER else column.example
        for column in columns
    ]
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=";" if semicolons else ",", lineterminator="\r\n")
    writer.writerow([*(column.title for column in columns), *grid])
    writer.writerow(["# " + says[0], *says[1:], *("what was counted in it, 0 too" for _ in grid)])
    writer.writerow(["# " + example[0], *example[1:], *grid.values()])
    return out.getvalue()


def write_files(folder: Path, texts: Mapping[str, str], *, bom: bool = False) -> list[Path]:
    """Write files into a folder that has none of them yet; all of them, or none.

    Raises
    ------
    BadInput
        When one of them is there already.
    """
    there = [name for name in texts if (folder / name).exists()]
    if folder.exists() and not folder.is_dir():
        raise BadInput(f"{folder} is a file, no folder.", next="Name another folder.", code="not-a-folder")
    if there:
        text = f"{folder} holds {there[0]} already; nothing is written over."
        raise BadInput(text, next="Name a new folder.", code="file-exists")
    folder.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    try:
        for name, text in texts.items():
            path = folder / name
            written.append(path)
            path.write_bytes(text.encode("utf-8-sig" if bom else "utf-8"))
    except BaseException:
        for path in written:
            path.unlink(missing_ok=True)
        raise
    return written


def all_tables(reader: Reader, *, semicolons: bool = False) -> dict[str, tuple[str, int]]:
    """Return the text and the number of rows of every table that has any, by its file name."""
    rows = table_rows(reader)
    return {
        table.file_name: (csv_text(table, rows[table.key], semicolons=semicolons), len(rows[table.key]))
        for table in tables()
        if rows[table.key]
    }
