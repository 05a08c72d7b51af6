"""Supportive care that was given: fluids, feeding, warmth, cleaning."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from fecallab.cli.common import (
    BY,
    JSON,
    RECORDS,
    REMARK,
    fact_dict,
    now,
    number_or_none,
    one_of,
    open_folder,
    read_time,
    who,
)
from fecallab.cli.output import emit
from fecallab.domain.spoken import say_time

if TYPE_CHECKING:
    from fecallab.domain.animal import CareEntry

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)

UNITS = {
    "fluids": "ml",
    "feeding": "g",
    "warm end": "°C",
    "lowest at night": "°C",
    "soak": "min",
    "cleaning": "",
    "other": "",
}
NEEDS_AMOUNT = ("fluids", "warm end", "lowest at night")


@app.command()
def log(
    animal: str = typer.Argument(help="Name or code."),
    kind: str = typer.Argument(help="fluids, feeding, warm end, lowest at night, soak, cleaning or other."),
    amount: str | None = typer.Argument(
        None, help="ml of fluids, g of food, °C (below zero: -- -2), minutes."
    ),
    at: str | None = typer.Option(None, help='When, "2026-03-04 08:30" (now when left out).'),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Write down what was done for an animal today."""
    from fecallab.domain.animal import CareEntry
    from fecallab.domain.errors import BadInput

    word = one_of(kind.replace("-", " "), tuple(UNITS), "the kind of care")
    lowest = -40 if UNITS[word] == "°C" else 0
    number = number_or_none(amount, "the amount", low=lowest, high=100_000)
    if number is None and word in NEEDS_AMOUNT:
        raise BadInput(
            f"{word} needs a number in {UNITS[word]}.", next=f'Type: "{word}" 12', code="amount-missing"
        )
    if UNITS[word] == "°C" and number is not None and number > 70:
        raise BadInput(
            f"{number:g} °C is no place to live.", next="Check the number (°C).", code="out-of-range"
        )
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        owner = writer.animal(animal)
        entry = writer.add(
            CareEntry(
                animal=owner.code,
                enclosure=owner.enclosure if word == "cleaning" else "",
                at=read_time(at, "--at"),
                kind=word,
                amount=number,
                unit=UNITS[word] if number is not None else "",
                remark=remark,
            )
        )
        weight = writer.latest_weighing(owner.code)
        warnings = _fluid_warnings(writer.care(owner.code), entry, weight.mass_g if weight else None)
    said = f" {number:g} {UNITS[word]}".rstrip() if number is not None else ""
    lines = [
        f"{owner.name}: {word}{said}, {say_time(entry.at)}. Recorded.",
        *(f"  {w}" for w in warnings),
    ]
    emit({"care": fact_dict(entry), "warnings": warnings}, "\n".join(lines), as_json)


def _fluid_warnings(care: list[CareEntry], entry: CareEntry, weight_g: float | None) -> list[str]:
    """Say how much fluid the day makes per kg, and when it passes what is usual."""
    if entry.kind != "fluids" or not weight_g:
        return []
    day = [
        c.amount or 0
        for c in care
        if c.kind == "fluids" and c.at.date() == entry.at.date() and c.animal == entry.animal
    ]
    per_kg = sum(day) / weight_g * 1000
    text = f"Fluids this day: {sum(day):g} ml, {per_kg:.3g} ml/kg."
    if per_kg > 30:
        text += " More than 30 ml/kg in a day (common practice, no source): ask the vet before giving more."
    return [text]


@app.command()
def today(
    animal: str = typer.Argument(help="Name or code."),
    at: str | None = typer.Option(None, help='As at this time, "2026-03-04 08:30" (now when left out).'),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Say today's care for an animal under a plan: warm, weigh, water, drug, food, watch, in this order."""
    from fecallab.domain.errors import BadInput
    from fecallab.gather_dose import DoseDay, care_of_today, other_cases_of

    moment = read_time(at, "--at")
    with open_folder(records) as store:
        owner = store.animal(animal)
        files = [store.case_file(case.code) for case in store.cases(owner.code, open_only=True)]
        days = [DoseDay(other_cases=other_cases_of(store, file)) for file in files]
    if not files:
        text = f"{owner.name} has no open case: no plan says what care it needs today."
        raise BadInput(text, next=f"Type: fecallab animal show {owner.name}", code="no-open-case")
    answers = [(file, care_of_today(file, moment, day=day)) for file, day in zip(files, days, strict=True)]
    lines = [f"{owner.name}, {say_time(moment)}"]
    for file, answer in answers:
        lines.append(f"Case {file.case.code}, {file.case.target}:")
        lines += [f"  [{line.state}] {line.act}: {line.text}" for line in answer.lines]
        lines += [f"  refused ({reason.code}): {reason}" for reason in answer.reasons]
        lines += [f"  note ({warning.code}): {warning}" for warning in answer.warnings]
    payload = {"animal": owner.code, "cases": [{"case": f.case.code, **a.as_dict()} for f, a in answers]}
    emit(payload, "\n".join(lines), as_json)
