"""Plans: what the vet wrote, never edited, only replaced."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

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
    read_day,
    who,
)
from fecallab.cli.options import with_options
from fecallab.cli.output import emit
from fecallab.cli.plan_options import PLAN_MORE
from fecallab.cli.plan_same import same
from fecallab.domain.spoken import say_date

if TYPE_CHECKING:
    from fecallab.domain.plan import Plan
    from fecallab.records.casefile import CaseFile

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)

LONGEST_COURSE_DAYS = 3650
"""Longest course, spacing or wait that is believed (common sense, no source)."""


@app.command()
@with_options(PLAN_MORE)
def add(
    case: str = typer.Argument(help="Code of the case."),
    vet: str = typer.Option(..., help="The vet who wrote it."),
    written: str | None = typer.Option(None, help="Day on which it was written (today when left out)."),
    goal: str | None = typer.Option(None, help="clear, low burden, watch, no treatment, or not clearable …"),
    drug: str = typer.Option("", help="Generic name; nothing when no drug is given."),
    component: str = typer.Option("", help="What the mg are of: base or salt, one part or both."),
    dose_mg_per_kg: str | None = typer.Option(None, help="mg per kg."),
    concentration_mg_per_ml: str | None = typer.Option(None, help="mg per ml, as on the bottle."),
    route: str = typer.Option("", help="by mouth, under the skin …"),
    interval_days: str | None = typer.Option(None, help="Days between doses; 0.5 is twice a day."),
    doses: int = typer.Option(0, help="Largest number of doses."),
    weight_max_age_days: str | None = typer.Option(None, help="How old a weight may be for a dose."),
    negatives: int | None = typer.Option(None, help="How many negatives are needed."),
    spacing_days: int | None = typer.Option(None, help="Days between the stools that count."),
    wait_days: int | None = typer.Option(
        None, help="Days from the last dose to the first stool that counts."
    ),
    grade_at_most: str = typer.Option("", help="For the goal low burden: the grade to reach."),
    grade_scale: str = typer.Option("", help="The scale of that grade."),
    fluids: str = typer.Option("", help="Fluids, in the vet's words."),
    feeding: str = typer.Option("", help="Feeding, in the vet's words."),
    warm_end_c: str | None = typer.Option(None, help="Warm end at least, °C."),
    file: Path | None = typer.Option(None, help="A picture of the sheet."),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
    **options: Any,
) -> None:
    """Record a vet's plan. What it does not say about the follow-up is filled from the named defaults."""
    from fecallab.cli.case_words import course_words, follow_up_words
    from fecallab.cli.exam_input import take_in
    from fecallab.cli.plan_options import label_of, more_of_plan, more_words
    from fecallab.cli.typed import plain_number
    from fecallab.domain.animal import AS_TOLD as TOLD
    from fecallab.domain.errors import BadInput, Reason, Refused
    from fecallab.domain.plan import GOALS, Plan
    from fecallab.gather import plan_with_defaults

    day = read_day(written, "--written")
    check_follow_up({"--negatives": negatives, "--spacing-days": spacing_days, "--wait-days": wait_days})
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        known = writer.case_file(case)
        if known.closing is not None:
            text = f"{known.case.code} was closed on {say_date(known.closing.closed_on)} ({known.closing.ending})."
            step = f"Open a new one: fecallab case open {known.animal.code} {known.case.target} --vet NAME"
            raise Refused([Reason("case-closed", text, step)])
        if known.plan is not None and day < known.plan.written_on:
            text = f"The plan is of {say_date(day)}, older than the one in force ({say_date(known.plan.written_on)})."
            raise BadInput(text, next="Check --written.", code="plan-older")
        dose = number_or_none(dose_mg_per_kg, "--dose-mg-per-kg", low=0.0001, high=10_000)
        strength = number_or_none(
            concentration_mg_per_ml, "--concentration-mg-per-ml", low=0.0001, high=10_000
        )
        interval = number_or_none(interval_days, "--interval-days", low=0.04, high=3650)
        drug = drug.strip().lower()
        check_treatment(drug, dose, strength, route, interval, doses)
        aim = one_of(goal, GOALS, "--goal") if goal else ""
        check_goal(aim, drug)
        warm_end = number_or_none(warm_end_c, "--warm-end-c", low=5, high=60)
        more = more_of_plan(options, vet, now(), warm_end)
        plan = Plan(
            case=known.case.code,
            vet=vet,
            written_on=day,
            goal=aim,
            drug=drug,
            component=component,
            dose_mg_per_kg=plain_number(dose) if dose else "",
            concentration_mg_per_ml=plain_number(strength) if strength else "",
            route=route,
            interval_days=interval,
            doses_planned=doses,
            weight_max_age_days=number_or_none(weight_max_age_days, "--weight-max-age-days", high=365),
            negatives_needed=negatives,
            spacing_days=spacing_days,
            wait_after_last_dose_days=wait_days,
            grade_at_most=grade_at_most,
            grade_scale=grade_scale,
            fluids=fluids,
            feeding=feeding,
            warm_end_at_least_c=warm_end,
            picture=take_in(file, writer).sha256 if file else "",
            label_picture=label_of(options, writer),
            remark=remark,
            **more,
        )
        plan = plan_with_defaults(plan, known)
        check_grade(plan)
        plan = writer.add(plan)
    lines = [
        f"{plan.code} for {known.case.code} ({known.animal.name}) by {vet}: goal {plan.goal}"
        f"{f' ({TOLD})' if plan.as_told else ''}. Recorded."
    ]
    if plan.drug:
        lines.append(f"  {course_words(plan)}")
    if plan.negatives_needed is not None:
        lines.append(f"  {follow_up_words(plan)}")
    lines += [f"  {line}" for line in more_words(plan)]
    if plan.goal == "low burden" and not plan.grade_scale:
        lines.append(
            f"  No grading scale fits {known.case.target} by itself: only exams that find none will count."
            " A scale by choice: --grade-scale (fecallab reference show grading_scales)"
        )
    lines += _next_lines(plan, known)
    emit({"plan": fact_dict(plan)}, "\n".join(lines), as_json)


def check_goal(goal: str, drug: str) -> None:
    """Refuse a drug for a goal without treatment."""
    from fecallab.domain.errors import BadInput

    if drug and goal == "watch, no treatment":
        text = f"The goal is {goal!r}, but {drug} is to be given."
        raise BadInput(text, next="Leave out the drug, or name another goal.", code="goal-and-drug")


def check_treatment(
    drug: str, dose: float | None, strength: float | None, route: str, interval: float | None, doses: int
) -> None:
    """Refuse a treatment that is not whole; nothing about a drug is guessed."""
    from fecallab.domain.errors import BadInput

    parts = {
        "--dose-mg-per-kg": dose,
        "--concentration-mg-per-ml": strength,
        "--route": route,
        "--interval-days": interval,
        "--doses": doses,
    }
    if doses < 0 or doses > 1000:
        raise BadInput(
            f"--doses is {doses}.", next="Type the largest number of doses, 1 to 1000.", code="doses"
        )
    given = [name for name, value in parts.items() if value]
    missing = [name for name, value in parts.items() if not value]
    if drug and missing:
        text = f"A plan with {drug} lacks {', '.join(missing)}; nothing is guessed."
        raise BadInput(
            text,
            next="Ask the vet; 'until negative' needs a largest number of doses.",
            code="order-incomplete",
        )
    if given and not drug:
        raise BadInput(f"{given[0]} without a drug.", next="Add: --drug NAME", code="drug-missing")
    if interval and interval * doses > LONGEST_COURSE_DAYS:
        text = f"{doses} doses every {interval:g} days take longer than {LONGEST_COURSE_DAYS} days."
        raise BadInput(
            text, next="Check --interval-days (days, not hours) and --doses.", code="course-too-long"
        )


def check_follow_up(numbers: dict[str, int | None]) -> None:
    """Refuse numbers of the follow-up that cannot be meant."""
    from fecallab.domain.errors import BadInput

    for option, value in numbers.items():
        low, high = (1, 100) if option == "--negatives" else (0, LONGEST_COURSE_DAYS)
        if value is not None and not low <= value <= high:
            text = f"{option} is {value}; it lies outside {low} to {high}."
            raise BadInput(text, next="Check the number.", code="out-of-range")


def check_grade(plan: Plan) -> None:
    """Refuse a grade that no scale has, since it could never be reached."""
    from fecallab.domain.errors import BadInput
    from fecallab.reference.grading import grading_scale

    if not plan.grade_scale:
        return
    scale = grading_scale(plan.grade_scale)
    if scale.people_only:
        text = f"The scale {plan.grade_scale} was made for people and says nothing about reptiles."
        raise BadInput(
            text, next="Type: fecallab reference show grading_scales", code="grade-scale-of-people"
        )
    words = [step.word for step in scale.steps]
    if plan.grade_at_most and plan.grade_at_most not in words:
        text = f"--grade-at-most is {plan.grade_at_most[:40]!r}; the scale {plan.grade_scale} knows: {', '.join(words)}."
        raise BadInput(text, next="Type one of these words, or another --grade-scale.", code="grade-unknown")


def _next_lines(plan: Plan, file: CaseFile) -> list[str]:
    if plan.doses_planned:
        return [f"  Next: weigh {file.animal.name}, then: fecallab dose work-out {plan.case}"]
    return [f"  Next: fecallab case show {plan.case}"]


app.command()(same)


@app.command()
def show(
    case: str = typer.Argument(help="Code of the case."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Show every plan of a case; the last one holds."""
    from fecallab.cli.plan_options import plan_fields

    with open_folder(records) as store:
        plans = store.plans(case)
    lines = []
    for plan in plans:
        holds = " (holds)" if plan is plans[-1] else " (replaced)"
        lines.append(f"{plan.code}{holds}")
        lines += [f"  {line}" for line in plan_fields(plan)]
    emit({"plans": [fact_dict(plan) for plan in plans]}, "\n".join(lines) or "No plan yet.", as_json)
