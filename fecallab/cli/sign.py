"""Danger signs: what must not wait for a microscope."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import (
    BY,
    JSON,
    ON,
    RECORDS,
    REMARK,
    fact_dict,
    now,
    open_folder,
    read_day,
    read_time,
    who,
)
from fecallab.cli.output import emit
from fecallab.domain.spoken import say_date

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from fecallab.domain.animal import Animal
    from fecallab.domain.signs import Sign, SignAnswer
    from fecallab.records.writer import Writer

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)


@app.command()
def add(
    animal: str = typer.Argument(help="Name or code."),
    sign: list[str] = typer.Argument(help="Signs by word or number, as sign list names them."),
    not_seen: bool = typer.Option(False, "--no", help="Looked for and not seen (any more)."),
    vet_knows: bool = typer.Option(False, "--vet-knows", help="Seen, and in the vet's hands."),
    sample: str = typer.Option("", help="Code of the sample with which it was seen."),
    at: str | None = typer.Option(None, help='When, "2026-03-04 08:30" (now when left out).'),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Record a danger sign; it says at once what to do and how urgent it is."""
    from fecallab.domain.errors import BadInput
    from fecallab.reference.signs import sign as known_sign

    if not_seen and vet_knows:
        raise BadInput("Not seen, and known to the vet?", next="Give one of both.", code="given-twice")
    answer = "no" if not_seen else "vet knows" if vet_knows else "yes"
    known = [known_sign(name) for name in sign]
    moment = read_time(at, "--at")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        owner = writer.animal(animal)
        if sample and writer.sample(sample).animal != owner.code:
            text = f"{sample.upper()} is no sample of {owner.name}."
            raise BadInput(text, next=f"Type: fecallab sample list {owner.name}", code="sample-of-another")
        recorded = record_signs(writer, owner, known, moment, who(by), answer, sample, remark)
    words = {"yes": "seen", "no": "not seen", "vet knows": "the vet knows"}[answer]
    lines = [f"{owner.name}: {', '.join(one.sign for one in known)}: {words}. Recorded."]
    if answer == "yes":
        lines += [f"  {one.says}" for one in known]
    payload = {
        "signs": [fact_dict(one) for one in recorded],
        "to_the_vet": [sign_says(one) for one in known] if answer == "yes" else [],
    }
    emit(payload, "\n".join(lines), as_json)


def record_signs(
    writer: Writer,
    owner: Animal,
    signs: Sequence[Sign],
    moment: datetime,
    by: str,
    answer: str = "yes",
    sample: str = "",
    remark: str = "",
) -> list[SignAnswer]:
    """Record one answer for several signs; each sign once."""
    from fecallab.domain.signs import SignAnswer

    return [
        writer.add(
            SignAnswer(
                animal=owner.code,
                sign=one.key,
                answer=answer,
                seen_at=moment,
                sample=sample,
                by=by,
                remark=remark,
            )
        )
        for one in dict.fromkeys(signs)
    ]


def sign_says(sign: Sign) -> dict[str, Any]:
    """Return what a sign asks for, as plain keys for ``--json``."""
    return {"sign": sign.key, "urgency": sign.urgency, "text": sign.says}


@app.command(name="list")
def list_signs(
    animal: str | None = typer.Argument(None, help="Name or code: what is asked of it, and what was seen."),
    on: str | None = ON,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """List the signs that must not wait; of one animal, what was noted of it and what its weights say."""
    from fecallab.cli.words import table
    from fecallab.gather_notes import sign_dict, signs_of_animal
    from fecallab.reference.signs import signs, signs_for

    today = read_day(on, "--on")
    number = {key: place for place, key in enumerate(signs(), start=1)}
    asked = list(signs().values())
    lines: list[str] = []
    payload: dict[str, Any] = {}
    if animal is not None:
        with open_folder(records) as store:
            owner = store.animal(animal)
            weighed = store.latest_weighing(owner.code)
            found = signs_of_animal(store, owner, today)
            answers = [one for one in store.signs(owner.code) if one.seen_at.date() <= today]
        asked = signs_for(owner, weighed.mass_g if weighed else None)
        lines += [one.line for one in found] or [
            f"{owner.name}: no danger sign is open on {say_date(today)}."
        ]
        lines.append("Asked of it:")
        payload = {
            "animal": owner.code,
            "open": [sign_dict(one) for one in found],
            "answers": [fact_dict(one) for one in answers],
        }
    rows = [
        [
            str(number[one.key]),
            one.key,
            one.urgency,
            one.question if animal else f"{one.sign}: {one.threshold}",
        ]
        for one in asked
    ]
    lines.append(table(["no.", "sign", "urgency", "asked" if animal else "what, and from when on"], rows))
    lines.append("Seen one: fecallab sign add NAME SIGN  (by word or number)")
    listed = [
        {
            "number": number[one.key],
            "sign": one.key,
            "question": one.question,
            "threshold": one.threshold,
            "host": one.host_words,
            "urgency": one.urgency,
            "until_the_vet": one.until_the_vet,
            "asked_first": one.asked_first,
            "source": one.source,
            "source_kind": one.source_kind,
        }
        for one in asked
    ]
    emit({**payload, "signs": listed}, "\n".join(lines), as_json)
