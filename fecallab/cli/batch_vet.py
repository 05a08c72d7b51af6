"""Rows of plans and doses as facts: what the vet wrote, and what was given already."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Any

from fecallab.cli.batch_elsewhere import target_group
from fecallab.cli.batch_facts import Rows, check_recordable, owner_of
from fecallab.cli.batch_state import NEW, Batch, Entry, RecordedAlready, blame_row, label_key
from fecallab.cli.batch_typed import Row
from fecallab.cli.common import now
from fecallab.cli.dose import check_day
from fecallab.cli.dose_options import delivered_mg_per_kg, more_of_dose
from fecallab.cli.plan import check_follow_up, check_goal, check_grade, check_treatment
from fecallab.cli.plan_options import more_of_plan
from fecallab.cli.typed import plain_number
from fecallab.domain.animal import Weighing
from fecallab.domain.case import Case
from fecallab.domain.errors import BadInput
from fecallab.domain.plan import DoseGiven, Plan
from fecallab.domain.spoken import say_date, say_time

BY_READING = "by a sure finding"
BY_VET = "by the vet's plan"
_PLAN_WORDS = ("vet", "component", "route", "grade_at_most", "grade_scale", "fluids", "feeding", "remark")
_PLAN_MORE = (
    *("fluids_ml_per_kg_day", "fluid_product", "night_c", "diluent", "diluent_by", "volume_written_ml"),
    *("specialist_word", "bottle_ml", "tube_french", "tube_inner_mm", "tube_length_mm", "tube_way"),
)
_DOSE_MORE = ("second_person", "syringe_ml", "dilution_factor", "diluted_mg_per_ml", "flush_ml")
_WORDS = ("fluid_product", "diluent", "diluent_by", "specialist_word", "tube_way", "second_person")
_COLUMN_OF = {
    "no-target": "target",
    "label-twice": "plan",
    "unknown-plan": "plan",
    "plan-older": "written",
    "dose-before-plan": "given at",
    "dose-twice": "given at",
}


def note_cases(batch: Batch) -> None:
    """Work out which cases the exams of the batch open, by the rule of `exam add`; oldest stool first."""
    from fecallab.gather import normal_inhabitant_note, targets_seen

    for ref, entry in sorted(batch.exams.items(), key=lambda item: in_time(batch, item[1])):
        new = [
            one for one in targets_seen(entry.fact, unsure=False) if batch.open_case(entry.owner, one) is None
        ]
        for target in new:
            if not normal_inhabitant_note(entry.fact, target, batch.animal(entry.owner)):
                batch.cases[entry.owner, target] = BY_READING
        if new:
            batch.opening.append(ref)


def in_time(batch: Batch, entry: Entry) -> tuple[Any, ...]:
    """Return what puts exams in the order of their stools."""
    return batch.sample_of(entry.fact.sample).taken_on, entry.fact.examined_at


def add_plans(batch: Batch, rows: Rows) -> None:
    """Take in the rows of plans."""
    for sheet, row in rows:
        owner = owner_of(batch, sheet, row)
        label = row.text.get("label", "")
        key = label_key(label) or f"{sheet.file} {row.raw.line}"
        try:
            if f"{NEW}{key}" in batch.plans or ("plan", key) in batch.unsound:
                text = f"The label {label!r} stands for an earlier plan already."
                raise BadInput(text, next="Give every plan a label of its own.", code="label-twice")
            if row.sound:
                plan = _plan(batch, row, owner)
                check_recordable(plan)
                batch.plans[f"{NEW}{key}"] = Entry(sheet, row, plan, owner, label)
                continue
        except BadInput as trouble:
            if batch.pass_over(trouble, "plan", key):
                continue
            blame_row(sheet, row, trouble, _COLUMN_OF.get(trouble.reason.code, ""))
        batch.unsound.add(("plan", key))


def _plan(batch: Batch, row: Row, owner: str) -> Plan:
    from fecallab.gather import plan_with_defaults, stages_of
    from fecallab.records.casefile import CaseFile

    text, value = row.text, row.value.get
    target = target_group(text["target"])
    drug = text.get("drug", "").lower()
    dose, strength, doses = value("dose_mg_per_kg"), value("concentration_mg_per_ml"), value("doses") or 0
    check_treatment(drug, dose, strength, text.get("route", ""), value("interval_days"), doses)
    check_goal(value("goal") or "", drug)
    numbers = {"--negatives": "negatives", "--spacing-days": "spacing_days", "--wait-days": "wait_days"}
    check_follow_up({option: value(key) for option, key in numbers.items()})
    options = {**_options(row, _PLAN_MORE), "repeats_allowed": value("repeats_allowed"), "confirm": []}
    more = more_of_plan(options, text["vet"], now(), value("warm_end_c"))
    more |= {key: text.get(key, "") for key in _PLAN_WORDS}
    plan = Plan(
        case="C1",
        written_on=row.value["written"],
        goal=value("goal") or "",
        drug=drug,
        dose_mg_per_kg=plain_number(dose) if dose else "",
        concentration_mg_per_ml=plain_number(strength) if strength else "",
        interval_days=value("interval_days"),
        doses_planned=doses,
        weight_max_age_days=value("weight_max_age_days"),
        negatives_needed=value("negatives"),
        spacing_days=value("spacing_days"),
        wait_after_last_dose_days=value("wait_days"),
        warm_end_at_least_c=value("warm_end_c"),
        **more,
    )
    case = batch.open_case(owner, target)
    animal = batch.animal(owner)
    if isinstance(case, Case):
        _check_recorded_case(batch, case, plan)
    else:
        batch.cases.setdefault((owner, target), f"{BY_VET} ({plan.vet})")
    stages = case.stages if isinstance(case, Case) else stages_of(target, animal)
    known = Case(animal=owner, target=target, stages=stages, opened_on=plan.written_on)
    plan = plan_with_defaults(plan, CaseFile(case=known, animal=animal, samples={}))
    plan = replace(
        plan,
        follow_up_source=text.get("follow_up_source") or plan.follow_up_source,
        edition=text.get("edition") or plan.edition,
    )
    check_grade(plan)
    return plan


def _options(row: Row, keys: Iterable[str]) -> dict[str, Any]:
    """Return cells as the options of a single command; what is left out is None, of words empty."""
    given = {key: row.text.get(key) or ("" if key in _WORDS else None) for key in keys}
    return {**given, "as_told": bool(row.value.get("as_told"))}


def _number_text(row: Row, key: str) -> str:
    value = row.value.get(key)
    return "" if value is None else plain_number(value)


def _check_recorded_case(batch: Batch, case: Case, plan: Plan) -> None:
    plans = batch.reader.plans(case.code)
    if plans and plan.written_on < plans[-1].written_on:
        text = f"The plan is of {say_date(plan.written_on)}, older than the one in force ({say_date(plans[-1].written_on)})."
        raise BadInput(text, next="Check the day.", code="plan-older")
    for old in plans:
        if (old.written_on, old.vet, old.drug) == (plan.written_on, plan.vet, plan.drug):
            raise RecordedAlready("This plan", old.code)


def add_doses(batch: Batch, rows: Rows) -> None:
    """Take in the rows of doses: what happened already, so nothing is refused for being unwise."""
    seen: dict[tuple[str, datetime], int] = {}
    weighed: dict[str, list[Weighing]] = {}
    for entry in batch.weights:
        weighed.setdefault(entry.owner, []).append(entry.fact)
    for sheet, row in rows:
        owner = owner_of(batch, sheet, row)
        if not row.sound:
            continue
        try:
            ref, plan = _plan_of(batch, row, owner)
            if plan is None:
                row.bad.add("plan")
                continue
            dose = _dose(batch, row, ref, plan, [*batch.weighings(owner), *weighed.get(owner, ())])
            check_recordable(dose)
            before = seen.setdefault((ref, dose.given_at), row.raw.line)
            if before != row.raw.line:
                text = f"The dose of {say_time(dose.given_at)} stands in line {before} already."
                raise BadInput(text, next="Delete one of the rows.", code="dose-twice")
            _refuse_known(batch, dose)
        except BadInput as trouble:
            if not batch.pass_over(trouble):
                blame_row(sheet, row, trouble, _COLUMN_OF.get(trouble.reason.code, ""))
            continue
        batch.doses.append(Entry(sheet, row, dose, owner))


def _refuse_known(batch: Batch, dose: DoseGiven) -> None:
    if dose.plan.startswith(NEW):
        return
    for old in batch.recorded_doses(dose.plan):
        if old.given_at == dose.given_at:
            raise RecordedAlready("This dose", old.code)


def _plan_of(batch: Batch, row: Row, owner: str) -> tuple[str, Plan | None]:
    """Return the plan that a dose was given under: the one named, else the one in force on that day."""
    asked = row.text.get("plan", "")
    day = row.value["given_at"].date()
    target = target_group(row.text["target"]) if row.text.get("target") else ""
    name = batch.animal(owner).name
    if asked:
        ref, whose, plan = batch.plan(asked)
        if plan is not None and whose != owner:
            text = f"The plan {asked!r} is for {batch.animal(whose).name}, not for {name}."
            raise BadInput(text, next="Name its animal, or another plan.", code="unknown-plan")
        return ref, plan
    if any(what == "plan" for what, _ in batch.unsound):
        return "", None
    found = [one for one in _plans_for(batch, owner) if target in ("", one[0])]
    if len({one[0] for one in found}) > 1:
        text = f"{name} has plans for {' and '.join(sorted({one[0] for one in found}))}."
        raise BadInput(text, next="Fill 'plan' or 'target'.", code="plan-unclear")
    before = [one for one in found if one[2].written_on <= day]
    if not before:
        if found:
            check_day(found[0][2], row.value["given_at"])
        text = f"{name} has no plan with a drug; a dose is logged under a vet's plan."
        raise BadInput(text, next="Add the plan to plans.csv.", code="order-missing")
    _, ref, plan = max(before, key=lambda one: one[2].written_on)
    return ref, plan


def _plans_for(batch: Batch, owner: str) -> list[tuple[str, str, Plan]]:
    """Return target, reference and plan of all plans with a drug for the open cases of an animal."""
    found = [
        (target_group(entry.row.text["target"]), ref, entry.fact)
        for ref, entry in batch.plans.items()
        if entry.owner == owner and entry.fact.drug
    ]
    for target in sorted(batch.open_targets(owner)):
        case = batch.open_case(owner, target)
        if isinstance(case, Case):
            found += [(target, plan.code, plan) for plan in batch.reader.plans(case.code) if plan.drug]
    return found


def _dose(batch: Batch, row: Row, ref: str, plan: Plan, weights: list[Weighing]) -> DoseGiven:
    moment: datetime = row.value["given_at"]
    if not plan.drug:
        text = (
            f"The plan of {say_date(plan.written_on)} gives no drug; a dose is logged under a plan with one."
        )
        raise BadInput(text, next="Name another plan.", code="order-missing")
    check_day(plan, moment)
    options = {**_options(row, _DOSE_MORE), "override": [], "override_by": ""}
    more = more_of_dose(options, plan, [], now())
    weight = row.value.get("weight_g")
    if weight is None and not more["as_told"] and "weight_g" not in row.unknown:
        before = [one for one in weights if one.weighed_at <= moment]
        weight = max(before, key=lambda one: one.weighed_at).mass_g if before else None
    outcome, volume = row.value.get("outcome") or "given", _number_text(row, "volume_ml")
    delivered = _number_text(row, "delivered_mg_per_kg")
    if outcome == "given" and "delivered_mg_per_kg" not in row.unknown:
        strength = more["diluted_mg_per_ml"] or plan.concentration_mg_per_ml
        delivered = delivered or delivered_mg_per_kg(volume, strength, weight)
    return DoseGiven(
        plan=ref,
        given_at=moment,
        outcome=outcome,
        volume_ml=volume,
        weight_g=weight,
        by=row.text.get("by") or ("" if "by" in row.unknown else batch.who),
        lot=row.text.get("lot", ""),
        remark=row.text.get("remark", ""),
        delivered_mg_per_kg=delivered,
        **more,
    )
