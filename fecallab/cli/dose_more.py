"""What was seen after a dose, and drugs that were given outside of any plan here."""

from __future__ import annotations

import typer

from fecallab.cli.common import (
    AS_TOLD,
    BY,
    JSON,
    RECORDS,
    REMARK,
    fact_dict,
    now,
    number_or_none,
    one_of,
    open_folder,
    read_day,
    read_time,
    who,
)
from fecallab.cli.output import emit
from fecallab.domain.spoken import number_of, say_date, say_time


def reaction(
    dose: str = typer.Argument(help="Code of the dose, D3."),
    sign: str = typer.Argument(help="wobbling, tremor, limp, vomited, none … (a wrong word lists them)."),
    text: str = typer.Argument("", help="What was seen, in your words."),
    at: str | None = typer.Option(None, help='When, "2026-03-04 08:30" (now when left out).'),
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Record what was seen after a dose; a stop sign ends the course until the vet's word."""
    from fecallab.domain.errors import BadInput
    from fecallab.domain.plan import DoseReaction
    from fecallab.reference.signs import reaction_signs

    known = reaction_signs()[one_of(sign.replace("_", " "), tuple(reaction_signs()), "the sign")]
    moment = read_time(at, "--at")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        given = writer.dose(dose)
        if moment < given.given_at:
            words = f"The reaction of {say_time(moment)} is before the dose of {say_time(given.given_at)}."
            raise BadInput(words, next="Check --at.", code="reaction-before-dose")
        plan = writer.plan(given.plan)
        case = writer.case_file(plan.case)
        recorded = writer.add(DoseReaction(dose=given.code, at=moment, sign=known.key, text=text, by=who(by)))
    hours = (moment - given.given_at).total_seconds() / 3600
    lines = [
        f"{case.animal.name}, {number_of(round(hours), 'hour')} after {given.code} ({plan.drug}): {known.words}. Recorded.",
        f"  {known.next}",
    ]
    if known.stops:
        weight = f"{given.weight_g:g} g" if given.weight_g else "weight not known"
        lines.append(
            f"  For the vet: {plan.drug}, {given.volume_ml or '?'} ml on {say_time(given.given_at)}, {weight}."
        )
    payload = {"reaction": fact_dict(recorded), "stop": known.stops, "next": known.next}
    emit(payload, "\n".join(lines), as_json)


def other(
    animal: str = typer.Argument(help="Name or code."),
    drug: str = typer.Argument(help="Generic name of the drug."),
    mg_per_kg: str | None = typer.Option(None, help="mg per kg of each dose, when known."),
    given: str | None = typer.Option(None, help="Day of the last dose, 2026-03-04 (today when left out)."),
    doses: int = typer.Option(1, help="How many such doses."),
    as_told: bool = AS_TOLD,
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Record a drug that was given outside of any plan here, so that interactions and sums are known."""
    from fecallab.cli.typed import plain_number
    from fecallab.domain.animal import AS_TOLD as TOLD
    from fecallab.domain.errors import BadInput
    from fecallab.domain.plan import OtherDrugGiven
    from fecallab.reference.drugs import dose_facts

    name = " ".join(drug.lower().split())
    if not name:
        raise BadInput("The drug is not named.", next="Type its generic name.", code="drug-missing")
    if not 1 <= doses <= 1000:
        raise BadInput(
            f"--doses is {doses}; it lies outside 1 to 1000.", next="Check it.", code="out-of-range"
        )
    amount = number_or_none(mg_per_kg, "--mg-per-kg", low=0.0001, high=10_000)
    day = read_day(given, "--given")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        owner = writer.animal(animal)
        recorded = writer.add(
            OtherDrugGiven(
                animal=owner.code,
                drug=name,
                mg_per_kg=plain_number(amount) if amount is not None else "",
                given_on=day,
                doses=doses,
                by=who(by),
                as_told=as_told,
                remark=remark,
            )
        )
    known = dose_facts().find_drug(name) is not None
    much = f", {recorded.mg_per_kg} mg/kg" if recorded.mg_per_kg else ""
    times = f", {doses} doses, the last" if doses > 1 else ""
    told = f" ({TOLD})" if as_told else ""
    line = f"{owner.name}: {name}{much}{times} on {say_date(day)}{told}. Recorded."
    if not known:
        line += "\n  This drug is not in the table: whether it goes with others is the vet's to say."
    emit({"other_drug": fact_dict(recorded), "drug_known": known}, line, as_json)
