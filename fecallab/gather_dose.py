"""From the record folder to a dose: everything that the rules ask, gathered, and what the day adds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import TYPE_CHECKING

from fecallab.domain.spoken import number_of
from fecallab.gather import case_standing
from fecallab.gather_dose_day import DoseDay as DoseDay
from fecallab.gather_dose_day import (
    animal_today,
    bottle_today,
    dose_log,
    other_drugs,
    plan_facts,
    tube_of_plan,
    weight_fact,
)

if TYPE_CHECKING:
    from fecallab.domain.care_plan import CareToday
    from fecallab.domain.dosing import DoseAnswer, OtherDrug
    from fecallab.domain.errors import Reason
    from fecallab.domain.followup import Standing
    from fecallab.records.casefile import CaseFile
    from fecallab.records.reader import Reader


def other_cases_of(reader: Reader, file: CaseFile) -> tuple[CaseFile, ...]:
    """Return the other cases of the same animal: their doses count for the drugs that are still at work."""
    codes = [case.code for case in reader.cases(file.animal.code) if case.code != file.case.code]
    return tuple(reader.case_file(code) for code in codes)


def dose_answer(file: CaseFile, now: datetime, *, day: DoseDay | None = None) -> DoseAnswer:
    """Work out the next dose of a case's plan from the last weight, or every reason why not.

    Parameters
    ----------
    file : CaseFile
        The case.
    now : datetime
        The moment of the dose.
    day : DoseDay, optional
        What is known of today beside the records; what nobody said is named as not checked.

    Returns
    -------
    DoseAnswer
        Without any volume while a rule refuses, or while the case waits for the vet.
    """
    from fecallab.domain.dosing import dose_by_plan
    from fecallab.domain.followup import COURSE_INCOMPLETE, POSITIVE_AGAIN
    from fecallab.reference.drugs import dose_facts

    today = day or DoseDay()
    judged, standing, _ = case_standing(file, now.date())
    plan = file.plan if file.plan is not None and file.plan.drug else None
    facts = None
    if plan is not None:
        positive = any(one.result == "positive" for one in judged)
        facts = plan_facts(file, plan, today, positive=positive, clear=standing.may_close)
    answer = dose_by_plan(
        facts,
        weight_fact(file, now),
        now,
        dose_log(file, plan),
        animal_today(file, plan, now, today),
        dose_facts(),
        route=today.route,
        syringe_ml=today.syringe_ml,
        graduation_ml=today.graduation_ml,
        bottle=bottle_today(file, plan, today),
        tube=tube_of_plan(plan, today),
    )
    before = _before_any_dose(file, standing, waits=(POSITIVE_AGAIN, COURSE_INCOMPLETE))
    return answer if before is None else _refused_too(answer, before)


MARKED_BY = {"snake": "snout-vent length"}
"""Which measured length tells how far a tube goes in; of every other animal the way from snout to stomach."""


def tube_mark_words(file: CaseFile) -> str:
    """Say how far to mark the tube for this animal, from its own measured length, or what to measure first."""
    from fecallab.domain.dosing import Found
    from fecallab.domain.tube import tube_mark
    from fecallab.reference.care import tube_landmarks
    from fecallab.reference.drugs import dose_facts
    from fecallab.reference.taxa import resolve_taxon

    animal = file.animal
    kind = MARKED_BY.get(animal.host_group, "snout to stomach")
    measured = [one.value_mm for one in file.measurements if one.kind == kind]
    found = Found(dose_facts())
    taxon = resolve_taxon(animal.species) if animal.species else None
    mark = tube_mark(taxon, measured[-1] if measured else None, tube_landmarks(), found)
    if mark is None:
        step = f'Type: fecallab animal measure {animal.name} "{kind}" MM'
        return " ".join([*(reason.text for reason in found.reasons), step])
    low, high = f"{mark.low_mm:.0f}", f"{mark.high_mm:.0f}"
    where = f"{low} mm" if low == high else f"{low} to {high} mm"
    return f"Mark it {where} from its end ({kind} {measured[-1]:g} mm). {mark.words}"


def _before_any_dose(file: CaseFile, standing: Standing, *, waits: Sequence[str]) -> Reason | None:
    """Return what must come before any dose of this case, whatever the plan says."""
    from fecallab.domain.errors import Reason

    if file.animal.kind != "animal":
        text = (
            f"{file.animal.name} is a {file.animal.kind} with {number_of(file.animal.number_of_animals, 'animal')}; a dose is"
            " worked out for one animal by its own weight."
        )
        step = "Add each animal by itself (fecallab animal add NAME), weigh it, and open its case by the vet's word."
        return Reason("one-animal", text, step)
    if file.closing is not None:
        text = f"The case {file.case.code} is closed."
        return Reason("case-closed", text, "A new positive opens a new case.")
    if standing.standing in waits:
        text = f"The case stands at '{standing.standing}': the course is not repeated or extended by itself."
        step = "Send exam, history and today's weight to the vet; record the new plan: fecallab plan add"
        return Reason("vet-first", text, step)
    return None


def _refused_too(answer: DoseAnswer, reason: Reason) -> DoseAnswer:
    """Refuse a dose for one more reason: no volume is left in it."""
    return replace(
        answer,
        volume_ml=None,
        draw_ml=None,
        delivered_mg_per_kg=None,
        error_percent=None,
        volume_with_last_weight_ml=None,
        dilution=None,
        tube=None,
        refused=True,
        reasons=(reason, *answer.reasons),
    )


def care_of_today(file: CaseFile, now: datetime, *, day: DoseDay | None = None) -> CareToday:
    """Lay out today's care for the animal of a case: warm, weigh, water, drug, food, watch."""
    from fecallab.domain.care_plan import CareDone, CareOrder, care_today
    from fecallab.domain.dosing import WarmthFloor
    from fecallab.domain.fluids import FluidOrder
    from fecallab.domain.followup import NOT_TREATED, ON_TREATMENT
    from fecallab.reference.drugs import dose_facts

    said = day or DoseDay()
    plan, today = file.plan, now.date()
    order = CareOrder()
    if plan is not None:
        fluids = None
        if plan.fluids_ml_per_kg_day is not None:
            fluids = FluidOrder(
                weight_g=0,
                ml_per_kg=plan.fluids_ml_per_kg_day,
                product=plan.fluid_product,
                named_by=plan.vet,
                by_plan=True,
            )
        order = CareOrder(
            vet=plan.vet,
            fluids=fluids,
            feeding=plan.feeding,
            floor=WarmthFloor(
                warm_end_at_least_c=plan.warm_end_at_least_c, night_at_least_c=plan.night_at_least_c
            ),
        )
    standing = case_standing(file, today)[1].standing
    due = plan is not None and bool(plan.drug) and standing in (NOT_TREATED, ON_TREATMENT)
    return care_today(
        order,
        weight_fact(file, now),
        today,
        animal_today(file, plan, now, said),
        [CareDone(kind=c.kind, amount=c.amount) for c in file.care if c.at.date() == today and c.at <= now],
        dose_facts(),
        dose=dose_answer(file, now, day=said) if due else None,
    )


def earlier_doses(file: CaseFile, today: date, others: Sequence[CaseFile]) -> tuple[OtherDrug, ...]:
    """Return every dose that the animal had, of any plan, case or elsewhere, the newest first."""
    return other_drugs(file, None, today, others)
