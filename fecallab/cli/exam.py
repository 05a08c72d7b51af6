"""Exams: preparations, pictures, readings, results from elsewhere, and what they say."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli import exam_clip, exam_propose, take_in, tally
from fecallab.cli.common import (
    AS_TOLD,
    BY,
    JSON,
    RECORDS,
    REMARK,
    now,
    one_of,
    open_folder,
    read_day,
    who,
)
from fecallab.cli.exam_show import show
from fecallab.cli.options import PREPARATION, READING, with_options
from fecallab.cli.output import emit
from fecallab.domain.spoken import say_date, say_time

if TYPE_CHECKING:
    from datetime import date, datetime

    from fecallab.domain.animal import Animal
    from fecallab.domain.case import Case
    from fecallab.domain.exam import Exam
    from fecallab.domain.sample import Sample
    from fecallab.records.writer import Writer

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)

STAGES = ("trophozoite", "cyst", "oocyst", "egg", "larva", "spore", "adult")
RESULTS = ("positive", "negative", "inconclusive")


@app.command()
@with_options(PREPARATION, READING)
def add(
    sample: str = typer.Argument(help="Code of the sample."),
    question: str = typer.Option("", help="What you want the vet to answer."),
    as_told: bool = AS_TOLD,
    adequate: bool | None = typer.Option(
        None, "--adequate/--not-adequate", help="As told only: do they state that it could have shown it?"
    ),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
    **options: Any,
) -> None:
    """Record an exam with its first preparation and what was seen in it."""
    from fecallab.cli.exam_input import preparation_from, readings_from
    from fecallab.domain.errors import BadInput
    from fecallab.domain.exam import Exam

    if adequate is not None and not as_told:
        text = "Whether an exam that was read here is adequate follows from what was done, not from a word."
        raise BadInput(text, next="Leave it out, or add --as-told.", code="adequate-not-asked")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        known = writer.sample(sample)
        preparation = preparation_from(options)
        check_time(known, preparation.read_at)
        preparation = replace(preparation, readings=readings_from(options, preparation.method, writer))
        exam = writer.add(
            Exam(
                sample=known.code,
                examined_at=preparation.read_at or now(),
                by=who(by),
                preparations=(preparation,),
                question=question,
                remark=remark,
                as_told=as_told,
                stated_adequate=adequate,
            )
        )
        animal = writer.animal(known.animal)
        opened, notes = open_cases(writer, exam, known, animal)
    _say_recorded(exam, known, animal, opened, notes, as_json)


@app.command()
@with_options(PREPARATION, READING)
def prepare(
    exam: str = typer.Argument(help="Code of the exam."),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
    **options: Any,
) -> None:
    """Add one more preparation of the same sample to an exam."""
    from fecallab.cli.exam_input import preparation_from, readings_from

    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        known = writer.sample(writer.exam(exam).sample)
        preparation = replace(preparation_from(options), remark=remark)
        check_time(known, preparation.read_at)
        preparation = replace(preparation, readings=readings_from(options, preparation.method, writer))
        before = writer.exam(exam)
        writer.add_preparation(before.code, preparation)
        whole = writer.exam(before.code)
        animal = writer.animal(known.animal)
        opened, notes = open_cases(writer, whole, known, animal, before)
    _say_recorded(whole, known, animal, opened, notes, as_json, before)


@app.command()
@with_options(READING)
def read(
    preparation: str = typer.Argument(help="Code of the preparation, E1-1."),
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
    **options: Any,
) -> None:
    """Add more readings (fields, sweeps, pictures with marks) to a preparation."""
    from fecallab.cli.exam_input import readings_from
    from fecallab.domain.errors import BadInput

    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        code = preparation.strip().upper()
        exam = writer.exam(code.partition("-")[0])
        found = next((p for p in exam.preparations if p.code == code), None)
        if found is None:
            codes = ", ".join(p.code for p in exam.preparations) or "none"
            text = f"There is no preparation {preparation!r}; exam {exam.code} has: {codes}."
            raise BadInput(text, next="Type one of these.", code="unknown-preparation")
        readings = readings_from(options, found.method, writer)
        if not readings:
            text = "Nothing was given that was read."
            raise BadInput(text, next="Type: --objective 10 --counts 0,2,1 --of oxyurid", code="nothing-read")
        writer.add_readings(code, readings)
        whole = writer.exam(exam.code)
        known = writer.sample(exam.sample)
        animal = writer.animal(known.animal)
        opened, notes = open_cases(writer, whole, known, animal, exam)
    _say_recorded(whole, known, animal, opened, notes, as_json, exam)


@app.command()
def elsewhere(
    animal: str = typer.Argument(help="Name or code."),
    target: str = typer.Option(..., help="What was looked for: a group such as oxyurid."),
    result: str = typer.Option(..., help="positive, negative or inconclusive."),
    who_reports: str = typer.Option(..., "--from", help="The laboratory or vet that reports."),
    method: str = typer.Option(..., help="Their method, in their words."),
    collected: str = typer.Option(..., help="Day on which the sample was collected, 2026-03-04."),
    reported: str | None = typer.Option(None, help="Day of the report (today when left out)."),
    stage: str = typer.Option("", help=f"Stage that they looked for, if they say so: {', '.join(STAGES)}."),
    adequate: bool | None = typer.Option(
        None, "--adequate/--not-adequate", help="Do they state that it could have shown the target?"
    ),
    grade: str = typer.Option("", help="Their grade, in their words."),
    file: Path | None = typer.Option(None, help="A picture or scan of the report."),
    as_told: bool = AS_TOLD,
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Record a result from a laboratory or a vet, with adequacy as they state it."""
    from fecallab.cli.exam_input import organism_name, take_in
    from fecallab.domain.exam import ElsewhereResult, Exam
    from fecallab.domain.sample import Sample
    from fecallab.gather import group_of

    day = read_day(collected, "--collected")
    told = read_day(reported, "--reported")
    noon, told_at = noons_of(day, told)
    if stage:
        stage = one_of(stage, STAGES, "--stage")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        owner = writer.animal(animal)
        sent = Sample(animal=owner.code, collected_at=noon, remark="sent elsewhere", as_told=as_told)
        sample = writer.add(sent)
        stated = ElsewhereResult(
            target=group_of(organism_name(target)),
            stage=stage,
            who=who_reports,
            method=method,
            reported_on=told,
            result=one_of(result, RESULTS, "--result"),
            stated_adequate=adequate,
            grade=grade,
            picture=take_in(file, writer).sha256 if file else "",
            remark=remark,
        )
        exam = writer.add(
            Exam(
                sample=sample.code,
                examined_at=told_at,
                by=who_reports,
                elsewhere=(stated,),
                as_told=as_told,
            )
        )
        opened, notes = open_cases(writer, exam, sample, owner)
    _say_recorded(exam, sample, owner, opened, notes, as_json)


app.command()(show)


def noons_of(collected: date, reported: date) -> tuple[datetime, datetime]:
    """Return when a stool was collected and its result told, where only the days are known."""
    from datetime import datetime, time

    from fecallab.domain.errors import BadInput

    if reported < collected:
        text = f"--reported {say_date(reported)} is before --collected {say_date(collected)}."
        raise BadInput(text, next="Swap or correct them.", code="reported-before-collected")
    noon = min(datetime.combine(collected, time(12)), now())
    return noon, max(min(datetime.combine(reported, time(12)), now()), noon)


def check_time(sample: Sample, read_at: datetime | None) -> None:
    """Refuse an exam that was read before its sample was there."""
    from fecallab.domain.errors import BadInput

    start = sample.passed_from or sample.collected_at
    if sample.passed_to is not None and sample.collected_at > sample.passed_to:
        start = sample.collected_at
    if read_at is not None and read_at < start:
        text = (
            f"The exam was read {say_time(read_at)}, before its sample was passed or collected"
            f" ({say_time(start)})."
        )
        raise BadInput(text, next='Type: --read-at "2026-03-04 09:10"', code="exam-before-sample")


def open_cases(
    writer: Writer, exam: Exam, sample: Sample, animal: Animal, before: Exam | None = None
) -> tuple[list[Case], list[str]]:
    """Open a case for every sure target that is no normal inhabitant and has none open.

    An exam that was positive `before` more was recorded of it opens none again when its case was closed.
    """
    from fecallab.domain.case import Case
    from fecallab.gather import normal_inhabitant_note, stages_of, targets_seen

    opened: list[Case] = []
    notes: list[str] = []
    known = {case.target for case in writer.cases(animal.code, open_only=True)}
    if before is not None:
        ended = {case.target for case in writer.cases(animal.code)} - known
        known |= ended.intersection(targets_seen(before, unsure=False))
    for target in targets_seen(exam, unsure=False):
        if target in known:
            continue
        note = normal_inhabitant_note(exam, target, animal)
        if note:
            notes.append(note)
            continue
        opened.append(
            writer.add(
                Case(
                    animal=animal.code,
                    target=target,
                    stages=stages_of(target, animal),
                    opened_on=sample.taken_on,
                    opened_by_exam=exam.code,
                )
            )
        )
    return opened, notes


def _say_recorded(
    exam: Exam,
    sample: Sample,
    animal: Animal,
    opened: list[Case],
    notes: list[str],
    as_json: bool,
    before: Exam | None = None,
) -> None:
    """Say what was recorded and where to read on; how to clean is said in full once for each exam."""
    from fecallab.cli.exam_words import cleaning_after, exam_payload, preparation_line, seen_line
    from fecallab.domain.animal import AS_TOLD as TOLD
    from fecallab.gather import normal_inhabitant_note, targets_seen

    told = f", {TOLD}" if exam.as_told else ""
    lines = [f"{exam.code}: exam of {sample.code} ({animal.name}{told}). Recorded."]
    lines += [f"  {preparation_line(p)}" for p in exam.preparations]
    lines += [f"  From elsewhere: {r.who}, {r.method}: {r.result} for {r.target}" for r in exam.elsewhere]
    if exam.preparations or not exam.elsewhere:
        lines.append(f"  {seen_line(exam)}")
    lines += [f"  Case {case.code} opened: {case.target}. Send the exam to the vet." for case in opened]
    lines += [f"  Note: {note}" for note in notes]
    seen = targets_seen(exam, unsure=False)
    normal = [one for one in seen if normal_inhabitant_note(exam, one, animal) in notes]
    cleaning = cleaning_after(exam, before, normal)
    lines += [f"  {line}" for line in cleaning]
    lines.append(f"  What it says: fecallab exam show {exam.code}")
    payload = {
        "exam": exam_payload(exam),
        "cases_opened": [case.code for case in opened],
        "notes": notes,
        "cleaning": cleaning,
    }
    emit(payload, "\n".join(lines), as_json)


tally.register(app)
take_in.register(app)
exam_clip.register(app)
exam_propose.register(app)
