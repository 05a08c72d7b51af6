"""Rows of readings and of results from elsewhere as exams: rows of one exam, preparation or field are joined."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial
from typing import Any, TypeVar

from fecallab.cli.batch_facts import Rows, check_recordable
from fecallab.cli.batch_sheet import Sheet
from fecallab.cli.batch_state import NEW, Batch, Entry, RecordedAlready, blame_row, label_key
from fecallab.cli.batch_typed import Row
from fecallab.cli.exam import check_time
from fecallab.cli.exam_input import CHAMBER_METHODS, check_objective, empty_reading, preparation_from
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Exam, Preparation, Reading
from fecallab.domain.sample import Sample
from fecallab.domain.spoken import number_of

_EXAM = ("examined_at", "by", "question", "exam_remark", "as_told", "stated_adequate")
_PREPARATION = (
    *("method", "read_at", "cover_glass", "room_c", "slide_warmed", "solution", "specific_gravity"),
    *("gravity_checked", "standing_minutes", "sample_g", "suspension_ml", "counted_ml", "preparation_remark"),
)
_READING = ("kind", "objective", "field_number", "cover_share", "um_per_px", "reading_remark")
_SEEN = (*_READING, "reading", "organism", "count", "sure")
_FLAGS = ("slide_warmed", "gravity_checked")

Placed = tuple[Sheet, Row]
T = TypeVar("T")


class _Of(Exception):
    """A fault of one row among those of an exam."""

    def __init__(self, placed: Placed, trouble: BadInput, column: str = "") -> None:
        super().__init__(str(trouble))
        self.placed, self.trouble, self.column = placed, trouble, column


def _tried(make: Callable[[], T], batch: Batch | None = None) -> T | None:
    """Return what is made, or None after a fault, which is noted unless the batch may pass over it."""
    try:
        return make()
    except _Of as fault:
        if batch is None or not batch.pass_over(fault.trouble):
            blame_row(*fault.placed, fault.trouble, fault.column)
        return None


def _said_once(rows: Sequence[Placed], keys: Iterable[str], what: str) -> dict[str, Any]:
    """Return what the rows of one thing say together; an empty cell says what an earlier row said."""
    found: dict[str, Any] = {}
    for key in keys:
        first: Row | None = None
        for sheet, row in rows:
            if not row.text.get(key, ""):
                continue
            if first is None:
                first = row
            elif row.text[key] != first.text[key]:
                assert sheet.table is not None
                title = sheet.table.by_key[key].title
                text = f"{what} has {row.text[key][:40]!r} here and {first.text[key][:40]!r} in line {first.raw.line}."
                step = "Write the same in both rows, or leave it empty in the second."
                if key in _PREPARATION:
                    step += " Two preparations are numbered in the column 'preparation'."
                raise _Of((sheet, row), BadInput(text, next=step, code="differs"), title)
        found[key] = (first.text.get(key, ""), first.value.get(key)) if first is not None else ("", None)
    return found


def _grouped(rows: Sequence[Placed], *keys: str) -> dict[tuple[str, ...], list[Placed]]:
    groups: dict[tuple[str, ...], list[Placed]] = {}
    for sheet, row in rows:
        name = tuple(label_key(row.text.get(key, "")) for key in keys)
        groups.setdefault(name, []).append((sheet, row))
    return groups


def add_readings(batch: Batch, rows: Rows) -> None:
    """Take in the rows of readings, joined to exams."""
    exams: dict[str, list[Placed]] = {}
    for sheet, row in rows:
        label = row.text.get("exam", "") or row.text.get("sample", "")
        if not label:
            text = "The row names neither its exam nor its sample; merged cells arrive like this."
            blame_row(
                sheet, row, BadInput(text, next="Write the sample in every row.", code="cell-empty"), "sample"
            )
            continue
        exams.setdefault(label_key(label), []).append((sheet, row))
    for key, found in exams.items():
        bad = set().union(*(row.bad for _, row in found))
        skipped = batch.skipped
        entry = _tried(partial(_exam, batch, found, not bad), batch) if bad <= set(_SEEN) else None
        if batch.skipped > skipped:
            continue
        if entry is not None and entry.owner and all(row.sound for _, row in found):
            batch.exams[f"{NEW}{key}"] = entry
        else:
            batch.unsound.add(("exam", key))


def _exam(batch: Batch, rows: Sequence[Placed], whole: bool) -> Entry:
    """Return the exam that these rows describe; without what was seen when they are not `whole`."""
    sheet, first = rows[0]
    label = first.text.get("exam", "") or first.text["sample"]
    said = _said_once(rows, ("sample", *_EXAM), f"The exam {label!r}")
    if not said["sample"][0]:
        text = f"No row of the exam {label!r} names its sample."
        raise _Of(
            rows[0], BadInput(text, next="Write the sample in every row.", code="sample-missing"), "sample"
        )
    ref, sample = "", None
    try:
        ref, sample = batch.sample(said["sample"][0])
    except BadInput as trouble:
        blame_row(sheet, first, trouble, "sample")
    made: list[Preparation | None] = []
    for key, found in _grouped(rows, "preparation").items():
        what = f"The preparation {key[0] or '1'!r} of the exam {label!r}"
        made.append(_tried(partial(_preparation, found, sample, what, said["examined_at"][1], whole)))
    parts = [part for part in made if part is not None]
    examined_at = said["examined_at"][1] or (parts[0].read_at if parts else None)
    if len(parts) < len(made) or examined_at is None:
        return Entry(sheet, first, None)
    try:
        if sample is not None:
            check_time(sample, examined_at)
        exam = Exam(
            sample=ref or "S1",
            examined_at=examined_at,
            by=said["by"][0] or ("" if "by" in first.unknown else batch.who),
            preparations=tuple(parts),
            question=said["question"][0],
            remark=said["exam_remark"][0],
            as_told=bool(said["as_told"][1]),
            stated_adequate=said["stated_adequate"][1],
        )
        check_recordable(exam)
        if sample is not None and first.sound:
            _refuse_known(batch, exam, sample)
    except BadInput as trouble:
        raise _Of(rows[0], trouble) from None
    return Entry(sheet, first, exam, sample.animal if sample is not None else "", label)


def _refuse_known(batch: Batch, exam: Exam, sample: Sample) -> None:
    if exam.sample.startswith(NEW):
        return
    for old in batch.exams_of(sample.animal):
        mine = [(part.method, part.read_at) for part in exam.preparations]
        if old.sample == exam.sample and mine == [(part.method, part.read_at) for part in old.preparations]:
            raise RecordedAlready("This exam", old.code)


def _preparation(
    rows: Sequence[Placed], sample: Sample | None, what: str, examined_at: datetime | None, whole: bool
) -> Preparation:
    said = _said_once(rows, _PREPARATION, what)
    options: dict[str, Any] = {key: text or None for key, (text, _) in said.items()}
    options |= {key: said[key][1] for key in _FLAGS}
    options |= {"cover_glass": options["cover_glass"] or "22x22", "solution": options["solution"] or ""}
    if not options["method"]:
        text = f"{what} has no method."
        raise _Of(
            rows[0], BadInput(text, next="Write it in the column 'method'.", code="method-missing"), "method"
        )
    if not options["read_at"] and examined_at is None:
        text = f"{what} does not say when it was read."
        raise _Of(rows[0], BadInput(text, next="Fill 'read at'.", code="read-at-missing"), "read at")
    try:
        part = preparation_from(options)
        if not options["read_at"]:
            part = replace(part, read_at=None)
        if sample is not None:
            check_time(sample, part.read_at)
        part = replace(part, remark=options["preparation_remark"] or "")
        check_recordable(part)
    except BadInput as trouble:
        raise _Of(rows[0], trouble) from None
    return replace(part, readings=_readings(rows, part.method, what)) if whole else part


def _readings(rows: Sequence[Placed], method: str, what: str) -> tuple[Reading, ...]:
    """Return the fields and sweeps of a preparation; a row with an organism alone is of the row above."""
    groups: dict[tuple[str, str], list[tuple[Placed, int | None]]] = {}
    last: tuple[str, str] | None = None
    width = max((len(row.grid) for _, row in rows), default=0)
    for sheet, row in rows:
        if row.grid and len(row.grid) < width:
            text = f"The row has {number_of(len(row.grid), 'field')}, another of this preparation {width}."
            step = "Write one number per field for every organism, 0 too."
            raise _Of((sheet, row), BadInput(text, next=step, code="field-numbers"))
        if row.grid and (row.text.get("count") or row.text.get("reading")):
            text = "The row has 'field 1' … and 'count' or 'reading' too."
            raise _Of(
                (sheet, row), BadInput(text, next="Fill one or the other.", code="counted-twice"), "count"
            )
        for number, count in row.grid.items():
            groups.setdefault(("field", str(number)), []).append(((sheet, row), count))
        read = any(row.text.get(key, "") for key in ("reading", "organism", "count", *_READING))
        if read and not row.grid:
            said = any(row.text.get(key, "") for key in ("reading", *_READING))
            if said or last is None:
                last = (_kind(row, method), label_key(row.text.get("reading", "")))
            groups.setdefault(last, []).append(((sheet, row), row.value.get("count")))
    made: list[Reading | None] = []
    for (kind, label), found in groups.items():
        name = f"The {kind} {label or '1'!r} of {what[0].lower()}{what[1:]}"
        made.append(_tried(partial(_reading, found, kind, method, name)))
    return tuple(reading for reading in made if reading is not None)


def _kind(row: Row, method: str) -> str:
    if row.value.get("kind"):
        return str(row.value["kind"])
    if row.text.get("cover_share"):
        return "sweep"
    return "chamber" if method in CHAMBER_METHODS else "field"


def _reading(found: Sequence[tuple[Placed, int | None]], kind: str, method: str, what: str) -> Reading:
    placed = [one for one, _ in found]
    said = _said_once(placed, _READING, what)
    options: dict[str, Any] = {key: text or None for key, (text, _) in said.items()}
    counts: dict[bool, dict[str, int]] = {True: {}, False: {}}
    try:
        common = replace(
            empty_reading(options, method),
            kind=kind,
            cover_share=said["cover_share"][1],
            remark=options["reading_remark"] or "",
        )
        if kind != "chamber":
            check_objective(common)
        if kind == "sweep" and common.cover_share is None:
            text = "A sweep needs the share of the cover glass that was read."
            raise BadInput(text, next="Fill 'share of cover glass (0 to 1)': 0.4", code="share-missing")
        check_recordable(common)
    except BadInput as trouble:
        raise _Of(placed[0], trouble) from None
    for (sheet, row), count in found:
        name, sure = row.text.get("organism", ""), row.value.get("sure") is not False
        if not name and count is None:
            continue
        if not name or count is None:
            missing = "organism" if not name else "count"
            text = f"The row has no {missing}."
            step = "Write what was counted." if not name else "Write the number, 0 too."
            raise _Of((sheet, row), BadInput(text, next=step, code=f"{missing}-missing"), missing)
        if name in counts[sure]:
            text = f"{what} has {name} twice."
            step = "Number the fields in the column 'reading'; give every organism once in each."
            raise _Of((sheet, row), BadInput(text, next=step, code="given-twice"), "organism")
        counts[sure][name] = count
    return replace(common, counts=counts[True], unsure=counts[False])
