"""Rows of results from elsewhere as exams; rows with one exam label are one report."""

from __future__ import annotations

from dataclasses import replace

from fecallab.cli.batch_facts import Rows, check_recordable, owner_of
from fecallab.cli.batch_sheet import Sheet
from fecallab.cli.batch_state import NEW, Batch, Entry, RecordedAlready, blame_row, label_key, natural
from fecallab.cli.batch_typed import Row
from fecallab.cli.exam import noons_of
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import ElsewhereResult, Exam
from fecallab.domain.organism import is_target_group
from fecallab.domain.sample import Sample
from fecallab.domain.spoken import say_date


def add_elsewhere(batch: Batch, rows: Rows) -> None:
    """Take in the rows of results from elsewhere; rows with one exam label are one report."""
    for sheet, row in rows:
        owner = owner_of(batch, sheet, row)
        label = row.text.get("exam", "")
        key = label_key(label) or f"{sheet.file} {row.raw.line}"
        if not row.sound or ("exam", key) in batch.unsound:
            continue
        try:
            exam = _told(batch, sheet, row, owner, key)
            check_recordable(exam.elsewhere[-1])
        except BadInput as trouble:
            if batch.pass_over(trouble):
                continue
            code = trouble.reason.code
            column = {"unknown-sample": "sample", "no-target": "target", "other-animal": "animal"}.get(
                code, ""
            )
            blame_row(sheet, row, trouble, column)
            continue
        entry = batch.exams.setdefault(f"{NEW}{key}", Entry(sheet, row, exam, owner, label))
        entry.fact = exam
    order = sorted(batch.exams.items(), key=lambda item: natural(item[1].label or item[0]))
    batch.exams = dict(order)


def target_group(name: str) -> str:
    """Return the group that a case or a result is about."""
    from fecallab.gather import group_of

    group = group_of(name)
    if not is_target_group(group):
        text = f"{name!r} is a {group}: no case is about it."
        raise BadInput(text, next="Name a group of parasites.", code="no-target")
    return group


def _told(batch: Batch, sheet: Sheet, row: Row, owner: str, key: str) -> Exam:
    """Return the exam with this result added; its sample is made where none is named."""
    noon, told_at = noons_of(row.value["collected"], row.value["reported"])
    told = bool(row.value.get("as_told"))
    stated = ElsewhereResult(
        target=target_group(row.text["target"]),
        stage=row.text.get("stage", ""),
        who=row.text["who"],
        method=row.text["method"],
        reported_on=row.value["reported"],
        result=row.text["result"],
        stated_adequate=row.value.get("stated_adequate"),
        grade=row.text.get("grade", ""),
        remark=row.text.get("remark", ""),
    )
    for old in batch.exams_of(owner):
        if any(
            replace(one, code="", remark="", picture="") == replace(stated, remark="")
            for one in old.elsewhere
        ):
            raise RecordedAlready("This result", old.code)
    known = batch.exams.get(f"{NEW}{key}")
    asked = row.text.get("sample", "")
    ref = known.fact.sample if known is not None else f"{NEW}of {key}"
    if asked:
        ref, sample = batch.sample(asked)
        if sample is not None and sample.animal != owner:
            text = f"The sample {asked!r} is of {batch.animal(sample.animal).name}."
            raise BadInput(text, next="Name its animal, or another sample.", code="other-animal")
        if sample is not None and sample.collected_at.date() != row.value["collected"]:
            text = f"--collected is {say_date(row.value['collected'])}, but the sample is of {say_date(sample.collected_at)}."
            raise BadInput(text, next="Correct one of them.", code="other-day")
        told_at = max(told_at, sample.collected_at) if sample is not None else told_at
    if known is not None:
        if known.fact.sample != ref or known.owner != owner:
            text = f"The exam {row.text['exam']!r} is of another sample in line {known.row.raw.line}."
            raise BadInput(text, next="Give every sample an exam of its own.", code="other-sample")
        fact: Exam = known.fact
        return replace(fact, elsewhere=(*fact.elsewhere, stated))
    if ref not in batch.samples and ref.startswith(NEW):
        made = Sample(animal=owner, collected_at=noon, remark="sent elsewhere", as_told=told)
        batch.samples[ref] = Entry(sheet, row, made, owner, made=True)
    return Exam(sample=ref, examined_at=told_at, by=stated.who, elsewhere=(stated,), as_told=told)
