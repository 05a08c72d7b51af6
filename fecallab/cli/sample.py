"""Samples: whose, passed when, kept how."""

from __future__ import annotations

from datetime import datetime, time
from typing import TYPE_CHECKING

import typer

from fecallab.cli.common import (
    AS_TOLD,
    BY,
    JSON,
    RECORDS,
    REMARK,
    fact_dict,
    is_day_alone,
    now,
    number_or_none,
    one_of,
    open_folder,
    read_time,
    who,
)
from fecallab.cli.output import emit
from fecallab.domain.spoken import say_date, say_time

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from fecallab.domain.animal import Animal
    from fecallab.domain.housing import CountChange
    from fecallab.records.writer import Writer

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)


@app.command()
def add(
    animal: str = typer.Argument(help="Name or code of the animal, tub or pen."),
    passed_from: str | None = typer.Option(None, help='Passed not before, "2026-03-04 06:00" or 06:00.'),
    passed_to: str | None = typer.Option(None, help="Passed not after; the time it was found."),
    collected: str | None = typer.Option(None, help="Picked up (now when left out)."),
    form: str | None = typer.Option(None, help="formed, soft or liquid."),
    kept: str | None = typer.Option(None, help="room, fridge, frozen or fixed."),
    mass_g: str | None = typer.Option(None, help="Mass of the sample in g."),
    whole_stool: bool = typer.Option(False, "--whole-stool", help="The whole stool goes into the exam."),
    origin: str = typer.Option("stool", help="stool, cloacal wash, urine, water dish or urate only."),
    same_stool_as: str = typer.Option("", help="Code of an earlier sample of the same stool."),
    sign: list[str] = typer.Option(
        [], help="A danger sign that was seen, by word or number (fecallab sign list NAME); may be repeated."
    ),
    stools_of: int | None = typer.Option(
        None, help="Of a tub or pen: of how many of its animals stool is in the sample."
    ),
    as_told: bool = AS_TOLD,
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Record a sample. What you do not know, leave out: it stays unknown and is asked later."""
    from fecallab.cli.sign import record_signs, sign_says
    from fecallab.domain.animal import AS_TOLD as TOLD
    from fecallab.domain.sample import FORMS, KEPT, ORIGINS, Sample
    from fecallab.gather_notes import sign_dict, signs_of_animal
    from fecallab.reference.signs import sign as known_sign

    first, last, picked = checked_times(passed_from, passed_to, collected)
    seen = [known_sign(name) for name in sign]
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        owner = writer.animal(animal)
        check_stools_of(stools_of, owner, writer.count_changes(owner.code), (first or picked).date())
        sample = writer.add(
            Sample(
                animal=owner.code,
                origin=one_of(origin, ORIGINS, "--origin"),
                passed_from=first,
                passed_to=last,
                collected_at=picked,
                form=one_of(form, FORMS, "--form") if form else None,
                kept=one_of(kept, KEPT, "--kept") if kept else None,
                mass_g=number_or_none(mass_g, "--mass-g", low=0.001, high=10_000),
                whole_stool_used=whole_stool,
                same_stool_as=first_of_same_stool(writer, same_stool_as, owner) if same_stool_as else "",
                remark=remark,
                as_told=as_told,
                stools_of=stools_of,
            )
        )
        record_signs(writer, owner, seen, picked, who(by), sample=sample.code)
        lost = [
            one
            for one in signs_of_animal(writer, owner, picked.date())
            if one.sign.asked_about == "weights" and one.sign not in seen and not one.with_vet
        ]
    unknown = [
        name
        for name, value in (
            ("when it was passed", first),
            ("form", sample.form),
            ("how it was kept", sample.kept),
            ("mass", sample.mass_g or whole_stool or None),
        )
        if value is None
    ]
    text = f"{sample.code}: {sample.origin} of {owner.name}{f' ({TOLD})' if as_told else ''}. Recorded."
    text += "".join(f"\n  {one.says}" for one in seen) + "".join(f"\n  {one.line}" for one in lost)
    if owner.kind != "animal":
        held = (
            f" It holds stool of {stools_of}." if stools_of else " Of how many it holds stool is not noted."
        )
        text += f"\n  A sample of a {owner.kind} never confirms one animal.{held}"
    if unknown:
        text += (
            f"\n  Not known: {', '.join(unknown)}. What is not known can keep an exam from being negative."
        )
    text += f"\n  Next: fecallab exam add {sample.code} --method ..."
    payload = {
        "sample": fact_dict(sample),
        "not_known": unknown,
        "to_the_vet": [sign_says(one) for one in seen],
        "signs": [sign_dict(one) for one in lost],
    }
    emit(payload, text, as_json)


def check_stools_of(number: int | None, owner: Animal, changes: Sequence[CountChange], day: date) -> None:
    """Refuse a number of animals that a sample cannot hold stool of."""
    from fecallab.domain.errors import BadInput
    from fecallab.domain.housing import number_on

    if number is None:
        return
    most = number_on(owner, changes, day) if owner.kind != "animal" else 1
    if not 1 <= number <= most:
        there = (
            f"{owner.name} holds {most} animals on {say_date(day)}"
            if most != 1
            else f"{owner.name} is one animal"
        )
        text = f"{there}; stool of {number} cannot be in its sample."
        raise BadInput(text, next="Count again.", code="more-than-there-are")


def checked_times(
    passed_from: str | None, passed_to: str | None, collected: str | None
) -> tuple[datetime | None, datetime | None, datetime]:
    """Return the two ends of the passing and the collecting, in an order that can be."""
    from fecallab.domain.errors import BadInput

    first, last, picked = _times(passed_from, passed_to, collected)
    if first and last and last < first:
        text = f"--passed-to {say_time(last)} is before --passed-from {say_time(first)}."
        raise BadInput(text, next="Swap them.", code="end-before-start")
    if last and first is None:
        text = "--passed-to alone does not say how old the stool can be."
        raise BadInput(
            text, next="Add --passed-from: when was the place last seen clean?", code="window-open"
        )
    if first and picked < first:
        text = f"--collected {say_time(picked)} is before the stool was passed."
        raise BadInput(text, next="Check the times.", code="collected-before-passed")
    return first, last, picked


def _times(
    passed_from: str | None, passed_to: str | None, collected: str | None
) -> tuple[datetime | None, datetime | None, datetime]:
    """Return the two ends of the passing and the collecting.

    A day without an hour is the whole day: the stool is as old as that day allows. What was picked up had
    been passed before.
    """
    end_of_day = time(23, 59)
    first = read_time(passed_from, "--passed-from", of_a_day_alone=time(0)) if passed_from else None
    ending = passed_to or passed_from
    last = read_time(ending, "--passed-to", of_a_day_alone=end_of_day) if ending else None
    if not collected:
        return first, last, last or now()
    picked = read_time(collected, "--collected", of_a_day_alone=time(0))
    if is_day_alone(collected):
        return first, last, max(picked, last) if last and last.date() <= picked.date() else picked
    if first and last and first <= picked < last:
        last = picked
    return first, last, picked


def first_of_same_stool(writer: Writer, code: str, owner: Animal) -> str:
    """Return the code of the first sample of a stool, so that all its samples name the same one."""
    from fecallab.domain.errors import BadInput

    other = writer.sample(code)
    if other.animal != owner.code:
        text = f"{other.code} is of {writer.animal(other.animal).name}, not of {owner.name}."
        raise BadInput(text, next=f"Type: fecallab sample list {owner.name}", code="same-stool-of-another")
    return other.same_stool_as or other.code


@app.command(name="list")
def list_samples(
    animal: str | None = typer.Argument(None, help="Name or code; all when left out."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """List samples, oldest first."""
    from fecallab.cli.words import table
    from fecallab.domain.animal import AS_TOLD as TOLD

    with open_folder(records) as store:
        samples = store.samples(animal)
        names = {a.code: a.name for a in store.animals()}
    rows = [
        [
            s.code,
            names[s.animal],
            s.origin,
            say_time(s.passed_from) if s.passed_from else "not known",
            s.form or "-",
            s.kept or "-",
            f"{s.mass_g:g} g" if s.mass_g else "-",
            TOLD if s.as_told else "",
        ]
        for s in samples
    ]
    text = table(["code", "of", "what", "passed from", "form", "kept", "mass", ""], rows)
    emit({"samples": [fact_dict(s) for s in samples]}, text if rows else "No samples yet.", as_json)
