"""Doses: worked out by the vet's plan and today's weight; what was really given."""

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
    number_or_none,
    one_of,
    open_folder,
    read_day,
    read_time,
    who,
)
from fecallab.cli.dose_more import other, reaction
from fecallab.cli.dose_options import DOSE_DAY, DOSE_MORE
from fecallab.cli.options import with_options
from fecallab.cli.output import emit
from fecallab.domain.spoken import say_date

if TYPE_CHECKING:
    from datetime import datetime

    from fecallab.domain.plan import Plan

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)

AT = typer.Option(None, help='When, "2026-03-04 08:30" (now when left out).')
CONFIRMED = typer.Option([], help="Code of a warning that the vet has confirmed; may be repeated.")


SYRINGE = {"syringe_ml": (str | None, typer.Option(None, help="Syringe at hand, ml."))}


@app.command(name="work-out")
@with_options(SYRINGE, DOSE_DAY)
def work_out(
    case: str = typer.Argument(help="Code of the case."),
    at: str | None = AT,
    confirmed: list[str] = CONFIRMED,
    records: str | None = RECORDS,
    as_json: bool = JSON,
    **options: Any,
) -> None:
    """Work out the next dose from the plan and the last weight, or say what stands in its way."""
    from fecallab.cli.dose_options import day_of_dose
    from fecallab.cli.dose_words import answer_lines
    from fecallab.domain.dose_found import said_once
    from fecallab.domain.errors import Refused
    from fecallab.gather_dose import dose_answer
    from fecallab.reference.drugs import dose_facts

    moment = read_time(at, "--at")
    with open_folder(records) as store:
        file = store.case_file(case)
        day = day_of_dose(options, confirmed, store, file, moment)
    answer = dose_answer(file, moment, day=day)
    if answer.refused:
        raise Refused(said_once(answer.reasons, dose_facts()))
    emit(answer.as_dict_until_confirmed(), "\n".join(answer_lines(file, answer, moment)), as_json)


app.command()(reaction)
app.command()(other)


@app.command()
@with_options(DOSE_MORE, DOSE_DAY)
def give(
    case: str = typer.Argument(help="Code of the case."),
    outcome: str = typer.Option("given", help="given, partly given, missed, spat or vomited."),
    at: str | None = AT,
    volume_ml: str | None = typer.Option(None, help="What was given, ml (as worked out when left out)."),
    lot: str = typer.Option("", help="Lot of the bottle."),
    already: bool = typer.Option(False, "--already-given", help="It happened though it is refused: log it."),
    confirmed: list[str] = CONFIRMED,
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
    **options: Any,
) -> None:
    """Log what happened with a dose."""
    from fecallab.cli.dose_options import as_worked_out, day_of_dose, delivered_mg_per_kg, more_of_dose
    from fecallab.cli.typed import plain_number
    from fecallab.domain.animal import AS_TOLD as TOLD
    from fecallab.domain.dose_found import said_once
    from fecallab.domain.errors import Reason, Refused
    from fecallab.domain.plan import OUTCOMES, DoseGiven
    from fecallab.gather_dose import dose_answer
    from fecallab.reference.drugs import dose_facts

    word = one_of(outcome, OUTCOMES, "--outcome")
    moment = read_time(at, "--at")
    typed = number_or_none(volume_ml, "--volume-ml", low=0.0001, high=1000)
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        file = writer.case_file(case)
        if file.plan is None or not file.plan.drug:
            text = f"{file.case.code} has no plan with a drug; a dose is logged under a vet's plan."
            raise Refused(
                [Reason("order-missing", text, f"Record it: fecallab plan add {file.case.code} --vet NAME")]
            )
        check_day(file.plan, moment)
        more = more_of_dose(options, file.plan, confirmed, now())
        already = already or more["as_told"]
        if file.closing is not None and not already:
            text = (
                f"{file.case.code} was closed on {say_date(file.closing.closed_on)} ({file.closing.ending})."
            )
            raise Refused(
                [Reason("case-closed", text, "If it happened all the same, log it: --already-given")]
            )
        volume = plain_number(typed) if typed is not None else ""
        note = remark
        if word == "given" and not more["as_told"]:
            answer = dose_answer(file, moment, day=day_of_dose(options, confirmed, writer, file, moment))
            if answer.refused and not already:
                extra = Reason(
                    "log-anyway", "Nothing was logged.", "If it was given already: --already-given"
                )
                raise Refused([*said_once(answer.reasons, dose_facts()), extra])
            if answer.refused:
                codes = ", ".join(reason.code for reason in answer.reasons)
                note = f"{remark} (logged though refused: {codes})".strip()
            elif answer.to_confirm:
                codes = " ".join(f"--confirmed {code}" for code in answer.to_confirm)
                text = "A warning needs the vet's word first."
                waiting = [warning for warning in answer.warnings if warning.code in answer.to_confirm]
                raise Refused([Reason("vets-word", text, f"Ask, then type: {codes}"), *waiting])
            else:
                volume = volume or f"{answer.draw_ml.normalize():f}" if answer.draw_ml is not None else volume
                more = as_worked_out(more, answer, now())
        weighings = [w for w in file.weighings if w.weighed_at <= moment]
        weight_g = weighings[-1].mass_g if weighings else None
        strength = more["diluted_mg_per_ml"] or file.plan.concentration_mg_per_ml
        dose = writer.add(
            DoseGiven(
                plan=file.plan.code,
                given_at=moment,
                outcome=word,
                volume_ml=volume,
                weight_g=weight_g,
                by=who(by),
                lot=lot,
                remark=note,
                delivered_mg_per_kg=delivered_mg_per_kg(volume, strength, weight_g)
                if word == "given"
                else "",
                **more,
            )
        )
        after = writer.case_file(case)
    from fecallab.cli.words import standing_lines
    from fecallab.gather import case_standing

    standing = case_standing(after, moment.date())[1]
    told = f" ({TOLD})" if dose.as_told else ""
    lines = [
        f"{file.animal.name}: {file.plan.drug}, {word}{f', {volume} ml' if volume else ''}{told}. Recorded."
    ]
    if word == "missed":
        lines.append("  Never double the next dose; tell the vet.")
    if word in ("vomited", "spat", "partly given"):
        lines.append("  Do not repeat it; call the vet.")
    lines += standing_lines(standing)
    emit({"dose": fact_dict(dose), "standing": standing.standing}, "\n".join(lines), as_json)


@app.command()
def again(
    case: str = typer.Argument(help="Code of the case."),
    on: str | None = ON,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Positive again: gather what the vet needs for a new plan. No volume before the vet has written one."""
    from fecallab.cli.dose_words import again_lines, again_payload
    from fecallab.domain.errors import Reason, Refused
    from fecallab.gather import as_on, case_standing
    from fecallab.gather_dose import earlier_doses, other_cases_of

    today = read_day(on, "--on")
    with open_folder(records) as store:
        file = as_on(store.case_file(case), today)
        doses = earlier_doses(file, today, other_cases_of(store, file))
    if file.closing is not None:
        text = f"{file.case.code} was closed on {say_date(file.closing.closed_on)} ({file.closing.ending})."
        raise Refused([Reason("case-closed", text, "A new positive opens a new case.")])
    standing = case_standing(file, today)[1]
    lines = again_lines(file, standing, doses, today)
    emit(again_payload(file, standing, doses, today), "\n".join(lines), as_json)


def check_day(plan: Plan, moment: datetime) -> None:
    """Refuse a dose from before its plan was written."""
    from fecallab.domain.errors import BadInput

    if moment.date() < plan.written_on:
        text = f"The dose of {say_date(moment)} is before the plan of {say_date(plan.written_on)}."
        raise BadInput(text, next="Check --at.", code="dose-before-plan")
