"""A whole batch: read and checked without writing, then written in one transaction."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fecallab.cli.batch_elsewhere import add_elsewhere
from fecallab.cli.batch_exams import add_readings
from fecallab.cli.batch_facts import Rows, add_animals, add_samples, add_weights
from fecallab.cli.batch_housing import add_arrivals, add_enclosures, add_stays, write_places, write_stays
from fecallab.cli.batch_read import read_sheet
from fecallab.cli.batch_sheet import Fault, Sheet
from fecallab.cli.batch_state import Batch, Entry, blame_row
from fecallab.cli.batch_typed import Ways, typed_rows
from fecallab.cli.batch_vet import add_doses, add_plans, note_cases
from fecallab.domain.case import Case
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import say_time

if TYPE_CHECKING:
    from fecallab.records.casefile import CaseFile
    from fecallab.records.reader import Reader
    from fecallab.records.writer import Writer


class BatchFaults(BadInput):
    """Everything that is wrong with a batch; nothing of it was written."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        where = len({fault.file for fault in faults})
        text = f"{len(faults)} {'error' if len(faults) == 1 else 'errors'} in {where}"
        text += f" {'file' if where == 1 else 'files'}; nothing was written."
        super().__init__(text, next="Mend the files and take them in again.", code="batch-errors")
        self.faults = tuple(faults)


MOST_DOSES_ASKED = 300
"""How many doses of one batch are held against the rules for doses, which takes some milliseconds each."""


@dataclass
class Written:
    """What a batch became: codes by label, the cases that it opened with the names of their animals."""

    codes: dict[str, dict[str, str]] = field(
        default_factory=lambda: {"samples": {}, "exams": {}, "plans": {}}
    )
    cases: list[tuple[Case, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def check_batch(
    paths: Sequence[Path], reader: Reader, ways: Ways, who: str, *, new_only: bool = False
) -> Batch:
    """Read and check all files as one batch; nothing is written.

    Raises
    ------
    BatchFaults
        With every fault of every file.
    """
    sheets = [read_sheet(path) for path in paths]
    _refuse_same_content(sheets)
    rows: dict[str, Rows] = {}
    for sheet in sheets:
        if sheet.table is not None:
            rows.setdefault(sheet.table.key, []).extend((sheet, row) for row in typed_rows(sheet, ways))
    batch = Batch(reader, sheets, who, new_only=new_only)
    whole = {sheet.table.key for sheet in sheets if sheet.table is not None and _lacks_columns(sheet)}
    for key, add in (
        ("animals", add_animals),
        ("enclosures", add_enclosures),
        ("stays", add_stays),
        ("arrivals", add_arrivals),
        ("weights", add_weights),
        ("samples", add_samples),
        ("readings", add_readings),
        ("elsewhere", add_elsewhere),
        ("plans", add_plans),
        ("doses", add_doses),
    ):
        if key == "plans":
            note_cases(batch)
        if key not in whole:
            add(batch, rows.get(key, []))
    faults = [fault for sheet in sheets for fault in sorted(sheet.faults, key=lambda one: one.line)]
    if faults:
        raise BatchFaults(faults)
    return batch


def _lacks_columns(sheet: Sheet) -> bool:
    assert sheet.table is not None
    has = {column.key for column in sheet.columns}
    return any(column.needed and column.key not in has for column in sheet.table.columns)


def _refuse_same_content(sheets: Sequence[Sheet]) -> None:
    """Refuse a file that holds the very rows of another one: it was named, or copied, twice."""
    seen: dict[tuple[Any, ...], Sheet] = {}
    for sheet in sheets:
        if sheet.table is None or not sheet.rows:
            continue
        held = (sheet.table.key, *(tuple(sorted(row.cells.items())) for row in sheet.rows))
        other = seen.setdefault(held, sheet)
        if other is not sheet:
            text = f"The file holds the same rows as {other.file}."
            sheet.blame(BadInput(text, next="Name one of them.", code="file-twice"))


def write_batch(batch: Batch, writer: Writer) -> Written:
    """Record a checked batch in the open transaction of a writer.

    Raises
    ------
    BatchFaults
        For what the records refuse all the same; the transaction must be left then.
    """
    written = Written()
    codes: dict[str, str] = {}
    write_places(batch, writer, _add)
    housed = batch.housing.housed
    for ref, entry in batch.animals.items():
        animal = replace(entry.fact, enclosure="") if ref in housed else entry.fact
        codes[ref] = _add(writer, entry, animal).code
    write_stays(batch, writer, codes, _add)
    _add_all(writer, [(e, replace(e.fact, animal=codes.get(e.owner, e.owner))) for e in batch.weights])
    for ref, entry in batch.samples.items():
        same = entry.fact.same_stool_as
        sample = replace(
            entry.fact, animal=codes.get(entry.owner, entry.owner), same_stool_as=codes.get(same, same)
        )
        codes[ref] = _add(writer, entry, sample).code
        if entry.label:
            written.codes["samples"][entry.label] = codes[ref]
    for ref, entry in batch.exams.items():
        exam = _add(
            writer, entry, replace(entry.fact, sample=codes.get(entry.fact.sample, entry.fact.sample))
        )
        codes[ref] = exam.code
        if entry.label:
            written.codes["exams"][entry.label] = exam.code
    _open_cases(batch, writer, codes, written)
    for ref, entry in batch.plans.items():
        case = _case_of(batch, writer, entry, codes, written)
        codes[ref] = _add(writer, entry, replace(entry.fact, case=case)).code
        if entry.label:
            written.codes["plans"][entry.label] = codes[ref]
    _add_all(writer, [(e, replace(e.fact, plan=codes.get(e.fact.plan, e.fact.plan))) for e in batch.doses])
    _note_refusals(batch, writer, codes, written)
    return written


@contextmanager
def _row_of(entry: Entry) -> Iterator[None]:
    try:
        yield
    except BadInput as trouble:
        blame_row(entry.sheet, entry.row, trouble)
        raise BatchFaults(entry.sheet.faults) from None


def _add(writer: Writer, entry: Entry, fact: Any) -> Any:
    with _row_of(entry):
        return writer.add(fact)


def _add_all(writer: Writer, facts: Sequence[tuple[Entry, Any]]) -> None:
    """Record many facts of one kind; what the records refuse all the same is told of the first row."""
    if facts:
        with _row_of(facts[0][0]):
            writer.add_all([fact for _, fact in facts])


def _note_refusals(batch: Batch, writer: Writer, codes: dict[str, str], written: Written) -> None:
    """Say which doses the rules would have refused; they happened, so they are recorded all the same."""
    from fecallab.gather import as_on
    from fecallab.gather_dose import dose_answer

    asked = [one for one in batch.doses if one.fact.outcome == "given" and not one.fact.as_told]
    if len(asked) > MOST_DOSES_ASKED:
        written.notes.append(
            f"More than {MOST_DOSES_ASKED} doses: they were not held against the rules for doses."
        )
        return
    files: dict[str, CaseFile] = {}
    for entry in asked:
        plan, moment = codes.get(entry.fact.plan, entry.fact.plan), entry.fact.given_at
        if plan not in files:
            files[plan] = writer.case_file(writer.plan(plan).case)
        file = as_on(files[plan], moment.date())
        answer = dose_answer(replace(file, doses=tuple(d for d in file.doses if d.given_at < moment)), moment)
        if answer.refused:
            place = f"{entry.sheet.file}, line {entry.row.raw.line}"
            why = ", ".join(reason.code for reason in answer.reasons)
            written.notes.append(
                f"{place}: {file.animal.name}, dose of {say_time(moment)}: recorded because it happened, though"
                f" the rules would have refused it ({why}). Tell the vet."
            )


def _open_cases(batch: Batch, writer: Writer, codes: dict[str, str], written: Written) -> None:
    """Open cases by the rule of `exam add`, the exam of the oldest stool first."""
    from fecallab.cli.exam import open_cases

    for ref in batch.opening:
        exam = writer.exam(codes[ref])
        sample = writer.sample(exam.sample)
        animal = writer.animal(sample.animal)
        opened, notes = open_cases(writer, exam, sample, animal)
        written.cases += [(case, animal.name) for case in opened]
        written.notes += [f"{exam.code}: {note}" for note in notes]


def _case_of(batch: Batch, writer: Writer, entry: Entry, codes: dict[str, str], written: Written) -> str:
    """Return the case of a plan; where none is open the plan is the vet's decision that there is one."""
    from fecallab.cli.batch_elsewhere import target_group
    from fecallab.gather import stages_of

    owner = codes.get(entry.owner, entry.owner)
    target = target_group(entry.row.text["target"])
    known = [case for case in writer.cases(owner, open_only=True) if case.target == target]
    if known:
        return known[-1].code
    case = Case(
        animal=owner,
        target=target,
        stages=stages_of(target, batch.animal(entry.owner)),
        opened_on=entry.fact.written_on,
        remark=f"opened by the decision of {entry.fact.vet}",
    )
    made: Case = _add(writer, entry, case)
    written.cases.append((made, batch.animal(entry.owner).name))
    return made.code


def summary(batch: Batch) -> dict[str, int]:
    """Return how many of everything a batch holds, in plain words."""
    made = [entry for entry in batch.samples.values() if entry.made]
    results = sum(len(entry.fact.elsewhere) for entry in batch.exams.values())
    parts = [part for entry in batch.exams.values() for part in entry.fact.preparations]
    counted = {
        "animals": len(batch.animals),
        **batch.housing.counted(),
        "weights": len(batch.weights),
        "samples": len(batch.samples) - len(made),
        "exams": sum(bool(entry.fact.preparations) for entry in batch.exams.values()),
        "readings": sum(len(part.readings) for part in parts),
        "results from elsewhere": results,
        "plans": len(batch.plans),
        "doses": len(batch.doses),
    }
    return {name: number for name, number in counted.items() if number}
