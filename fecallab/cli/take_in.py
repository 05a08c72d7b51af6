"""``exam take-in``: a folder of pictures from the phone becomes the fields of a preparation."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.ask import may_ask
from fecallab.cli.common import BY, JSON, RECORDS, REMARK, now, number_or_none, open_folder, who
from fecallab.cli.options import PREPARATION, with_options
from fecallab.cli.output import emit
from fecallab.domain.errors import BadInput

if TYPE_CHECKING:
    from fecallab.cli.picture_folder import TakenPicture
    from fecallab.domain.exam import Exam, Mark, Preparation, Reading
    from fecallab.records.reader import Reader
    from fecallab.records.writer import Writer

METHOD = (
    str | None,
    typer.Option(None, help="Of a new preparation: simple_flotation, direct_saline_smear …"),
)
NEW_PREPARATION = {**PREPARATION, "method": METHOD}


def register(app: typer.Typer) -> None:
    """Give the exam commands this one."""
    app.command(name="take-in")(take_in)


@with_options(NEW_PREPARATION)
def take_in(
    folder: Path = typer.Argument(help="Folder with the pictures; it is only read."),
    sample: str | None = typer.Option(None, help="Code of the sample: a new exam is recorded."),
    preparation: str | None = typer.Option(None, help="Or the code of a preparation that is there, E1-1."),
    objective: str | None = typer.Option(None, help="Objective of all these pictures: 10, 40 …"),
    um_per_px: str | None = typer.Option(None, help="One scale for all, µm per pixel (phone on an adapter)."),
    scale_later: bool = typer.Option(
        False, "--scale-later", help="No scale yet (phone held by hand: every picture has its own)."
    ),
    field_number: str | None = typer.Option(
        None, help="Number on the eyepiece, mm: gives a scale from the lit circle when it is asked."
    ),
    marks: Path | None = typer.Option(None, help="Marks on the pictures: CSV or W3C Web Annotation JSON."),
    dry_run: bool = typer.Option(False, "--dry-run", help="Say what would be done, and do nothing."),
    question: str = typer.Option("", help="What you want the vet to answer (new exams)."),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
    **options: Any,
) -> None:
    """Take in a folder of pictures, sorted by the time at which they were taken, one field each.

    A picture that is there already is named and left out, and so is what is no picture. All or nothing.
    """
    from fecallab.cli.exam_input import check_objective, empty_reading
    from fecallab.cli.picture_folder import look_through

    if (sample is None) == (preparation is None):
        text = "Either --sample or --preparation is needed: the pictures belong to one of them."
        raise BadInput(text, next="Type: --sample S1 --method simple_flotation", code="sample-missing")
    if um_per_px is not None and scale_later:
        text = "--um-per-px and --scale-later do not go together."
        raise BadInput(text, next="Leave one of them out.", code="scale-twice")
    with open_folder(records) as store:
        made, exam = _preparation(store, sample, preparation, options)
        shared = {"objective": objective, "field_number": None, "um_per_px": um_per_px}
        common = empty_reading(shared, made.method)
        check_objective(common)
        found = look_through(folder, {picture.sha256: picture.file_name for picture in store.pictures()})
    on_them = _marks(marks, found.pictures)
    asks = may_ask(["--json"] if as_json else []) and not dry_run
    scales = _scales(found.pictures, common, scale_later, field_number, asks=asks, needed=not dry_run)
    readings = [
        replace(common, picture=one.info.sha256, um_per_px=scale, marks=on_them.get(one.path.name, ()))
        for one, scale in zip(found.pictures, scales, strict=True)
    ]
    if exam is None and options["read_at"] is None:
        made = replace(made, read_at=found.last_taken(now()) or made.read_at)
    if dry_run:
        lines = [*found.lines(), "This was a dry run: nothing was recorded."]
        emit({**found.as_dict(scales), "dry_run": True}, "\n".join(lines), as_json)
        return
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        for one in found.pictures:
            writer.add_picture(one.path, one.record())
        new = None if exam is None else writer.exam(exam.code)
        payload, lines = _record(writer, sample, made, new, readings, question, remark, who(by))
    emit({**found.as_dict(scales), "dry_run": False, **payload}, "\n".join([*found.lines(), *lines]), as_json)


def _preparation(
    store: Reader, sample: str | None, preparation: str | None, options: dict[str, Any]
) -> tuple[Preparation, Exam | None]:
    """Return the preparation that the pictures are of, and its exam when it is recorded already."""
    from fecallab.cli.exam_input import preparation_from
    from fecallab.cli.tally_start import find_preparation

    if sample is not None:
        store.sample(sample)
        if options["method"] is None:
            text = "How the preparation was made is not given."
            raise BadInput(text, next="Type: --method simple_flotation", code="method-missing")
        return preparation_from(options), None
    exam, made = find_preparation(store, str(preparation).strip().upper())
    return made, exam


def _record(
    writer: Writer,
    sample: str | None,
    made: Preparation,
    before: Exam | None,
    readings: Sequence[Reading],
    question: str,
    remark: str,
    by: str,
) -> tuple[dict[str, Any], list[str]]:
    """Record the fields, and say what was recorded."""
    from fecallab.cli.exam import check_time, open_cases
    from fecallab.cli.exam_words import exam_payload, preparation_line
    from fecallab.domain.exam import Exam

    known = writer.sample(before.sample if before is not None else str(sample))
    if before is None:
        check_time(known, made.read_at)
        whole = replace(made, readings=tuple(readings))
        at = made.read_at or now()
        exam = writer.add(
            Exam(
                sample=known.code,
                examined_at=at,
                by=by,
                preparations=(whole,),
                question=question,
                remark=remark,
            )
        )
    else:
        writer.add_readings(made.code, readings)
        exam = writer.exam(before.code)
    animal = writer.animal(known.animal)
    opened, notes = open_cases(writer, exam, known, animal, before)
    lines = [f"{exam.code}: exam of {known.code} ({animal.name}). Recorded."]
    lines += [f"  {preparation_line(p)}" for p in exam.preparations]
    lines += [f"  Case {case.code} opened: {case.target}. Send the exam to the vet." for case in opened]
    lines += [f"  Note: {note}" for note in notes]
    recorded = [reading for p in exam.preparations for reading in p.readings][-len(readings) :]
    unmarked = [reading for reading in recorded if not reading.marks]
    if unmarked:
        lines.append(
            f"  {len(unmarked)} of them carry no mark and read as a field with nothing in it: mark what you"
            " see before you believe that."
        )
    unscaled = [reading.code for reading in recorded if reading.um_per_px is None]
    if unscaled:
        lines.append(
            f"  {len(unscaled)} without a scale: nothing in them can be measured yet. Later, for each:"
        )
        lines.append(
            f'    fecallab correct {unscaled[0]} um_per_px=0.65 --reason "scale from the lit circle"'
        )
    payload = {"exam": exam_payload(exam), "cases_opened": [case.code for case in opened], "notes": notes}
    return payload, lines


def _marks(path: Path | None, pictures: Sequence[TakenPicture]) -> dict[str, tuple[Mark, ...]]:
    """Return the marks of a file by picture, each inside its picture."""
    from fecallab.cli.exam_input import _check_inside, marks_by_picture

    if path is None:
        return {}
    found = marks_by_picture(path, {one.path.name for one in pictures})
    for one in pictures:
        for mark in found.get(one.path.name, ()):
            _check_inside(mark, one.record(), one.path.name)
    return found


def _scales(
    pictures: Sequence[TakenPicture],
    common: Reading,
    later: bool,
    field_number: str | None,
    *,
    asks: bool,
    needed: bool,
) -> list[float | None]:
    """Return the scale of every picture; asked one by one where the phone was held by hand."""
    from fecallab.cli.tally_start import ask_line

    none: list[float | None] = [None for _ in pictures]
    if common.um_per_px is not None:
        return [common.um_per_px for _ in pictures]
    if later or not needed:
        return none
    if not asks:
        text = "The scale of the pictures is not given."
        step = "Type: --um-per-px 0.65  (one for all), or --scale-later  (phone held by hand)"
        raise BadInput(text, next=step, code="scale-missing")
    number = number_or_none(field_number, "--field-number", low=4, high=40)
    by_hand = ask_line("Was the phone held by hand, so that every picture has its own scale? (Enter yes, n):")
    if by_hand.lower() in ("n", "no"):
        text = ask_line("µm per pixel for all of them (Enter: later):")
        return [scale_of(text, common.objective, number) for _ in pictures]
    scales = none
    for place, one in enumerate(pictures):
        question = (
            f"{one.path.name}: µm per pixel, or c and the lit circle's pixels (Enter: later, q: all later):"
        )
        scale, text = None, ask_line(question)
        while text and text.lower() != "q":
            try:
                scale = scale_of(text, common.objective, number)
                break
            except BadInput as error:
                text = ask_line(f"{error}\n{question}")
        if text.lower() == "q":
            break
        scales[place] = scale
    return scales


def scale_of(text: str, objective: float | None, field_number: float | None) -> float | None:
    """Return a scale as typed, in µm per pixel; None for nothing.

    ``c 2900`` is the diameter of the lit circle in pixels: the eyepiece's field number over the objective is
    its diameter in millimetres.

    Examples
    --------
    >>> scale_of("0,65", 10, None), scale_of("", 10, None), scale_of("c 2000", 40, 20)
    (0.65, None, 0.25)
    """
    from fecallab.domain.field import field_diameter_mm

    word = text.strip().lower()
    if not word:
        return None
    if word.startswith("c"):
        pixels = number_or_none(word.removeprefix("circle").removeprefix("c"), "the circle", low=10, high=1e6)
        if field_number is None or objective is None or not pixels:
            raise BadInput(
                "A scale from the lit circle needs the eyepiece's field number.",
                next="Type the µm per pixel, or begin again with --field-number 20",
                code="field-number-missing",
            )
        return 1000 * field_diameter_mm(field_number, objective) / pixels
    return number_or_none(word, "µm per pixel", low=0.001, high=1000)
