"""What the rules of a dose ask, gathered from the records and from what is said of the day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fecallab.domain.dosing import (
        AnimalToday,
        BottleToday,
        DoseLogged,
        OtherDrug,
        PlanFacts,
        TubeUse,
        WarmthToday,
        WeightFact,
        WordGiven,
    )
    from fecallab.domain.plan import Plan
    from fecallab.records.casefile import CaseFile

WARMTH_HOURS = 36
"""How long a logged temperature speaks for today: a day and the night before it."""

STATE_FINDINGS = {"gravid": "gravid", "just fed": "just-fed"}
"""What the state of a weighing says about the animal."""


@dataclass(frozen=True, kw_only=True)
class DoseDay:
    """What somebody says of the day of a dose, beside what is recorded.

    ``findings`` is None when nobody asked (an empty set means: looked, nothing odd); temperatures and hydration
    are None when not known. ``confirmed`` are codes of warnings that the vet has answered today; ``words`` a named vet's words on rules,
    which lift only what the rule table allows.
    """

    findings: frozenset[str] | None = None
    hydration: str | None = None
    warm_end_c: float | None = None
    lowest_at_night_c: float | None = None
    syringe_ml: float | None = None
    graduation_ml: float | None = None
    confirmed: Sequence[str] = ()
    expires_on: date | None = None
    discard_on: date | None = None
    route: str = ""
    feed_ml: float = 0
    fluid_ml: float = 0
    hours_since_meal: float | None = None
    words: Sequence[WordGiven] = ()
    other_cases: Sequence[CaseFile] = field(default=())


def plan_facts(file: CaseFile, plan: Plan, day: DoseDay, *, positive: bool, clear: bool) -> PlanFacts:
    """Return the plan of a case as the rules ask for it, with the words that lift or answer a rule."""
    from fecallab.domain.dosing import DilutionOrder, PlanFacts, WarmthFloor, WordGiven

    mine = [dose for dose in file.doses if dose.plan == plan.code]
    earlier = [
        one
        for case in (file, *day.other_cases)
        for one in case.plans
        if one.code != plan.code and one.drug == plan.drug and one.written_on <= plan.written_on
    ]
    return PlanFacts(
        vet=plan.vet,
        ordered_on=plan.written_on,
        drug=plan.drug,
        dose_mg_per_kg=plan.dose_mg_per_kg,
        concentration_mg_per_ml=plan.concentration_mg_per_ml,
        route=plan.route,
        interval_hours=(plan.interval_days or 0) * 24,
        doses=plan.doses_planned or None,
        animal=file.animal.code,
        component=plan.component,
        first_dose_on=mine[0].given_at.date() if mine else None,
        weight_max_age_days=plan.weight_max_age_days,
        volume_written_ml=plan.volume_written_ml or None,
        previous_dose_mg_per_kg=earlier[-1].dose_mg_per_kg if earlier else None,
        specialist_word=plan.specialist_word,
        confirmed=frozenset(day.confirmed),
        words=(
            *(
                WordGiven(code=word.rule, by=word.by, on=word.at.date(), reason=word.why)
                for word in plan.confirmed
            ),
            *day.words,
        ),
        dilution=DilutionOrder(diluent=plan.diluent, named_by=plan.diluent_by)
        if plan.diluent and plan.diluent_by
        else None,
        floor=WarmthFloor(
            warm_end_at_least_c=plan.warm_end_at_least_c, night_at_least_c=plan.night_at_least_c
        ),
        positive_exam=positive,
        clear_already=clear,
    )


def weight_fact(file: CaseFile, now: datetime) -> WeightFact | None:
    """Return the last weighing that is not after now; None when there is none."""
    from fecallab.domain.dosing import WeightFact

    known = [one for one in file.weighings if one.weighed_at <= now]
    if not known:
        return None
    last = known[-1]
    return WeightFact(
        weight_g=last.mass_g,
        weighed_on=last.weighed_at.date(),
        state=last.state,
        scale_step_g=last.scale_step_g,
    )


def dose_log(file: CaseFile, plan: Plan | None) -> list[DoseLogged]:
    """Return the doses of a plan that are logged, each with the reactions after it."""
    from fecallab.domain.dosing import DoseLogged

    seen = {dose.code: [one.sign for one in file.reactions if one.dose == dose.code] for dose in file.doses}
    return [
        DoseLogged(
            given_at=dose.given_at,
            outcome=dose.outcome,
            weight_g=dose.weight_g,
            by=dose.by,
            reactions=frozenset(seen[dose.code]),
            volume_ml=dose.volume_ml or None,
        )
        for dose in file.doses
        if plan is not None and dose.plan == plan.code
    ]


def animal_today(file: CaseFile, plan: Plan | None, now: datetime, day: DoseDay) -> AnimalToday:
    """Return the animal as it is today: its kind, what was found, what it was given elsewhere, how warm it is."""
    from fecallab.domain.dosing import AnimalToday
    from fecallab.reference.care import warm_range
    from fecallab.reference.taxa import resolve_taxon

    animal, today = file.animal, now.date()
    taxon = resolve_taxon(animal.species) if animal.species else None
    weighed = [one for one in file.weighings if one.weighed_at <= now and one.weighed_at.date() == today]
    states = {STATE_FINDINGS[one.state] for one in weighed if one.state in STATE_FINDINGS}
    findings = day.findings
    if states:
        findings = (findings or frozenset()) | states
    return AnimalToday(
        animal=animal.code,
        taxon=taxon,
        taxon_text="" if taxon is not None else animal.species,
        growing=animal.adult is False,
        brumating=any(
            e.kind == "brumation" and e.start <= today and (e.end is None or today < e.end)
            for e in file.events
        ),
        findings=findings,
        other_drugs=other_drugs(file, plan, today, day.other_cases),
        warmth=_warmth(file, now, day),
        warm_range=warm_range(taxon, animal.species),
        hydration=day.hydration,
    )


def _warmth(file: CaseFile, now: datetime, day: DoseDay) -> WarmthToday | None:
    """Return what a thermometer showed lately: what was said now, else what was logged."""
    from fecallab.domain.dosing import WarmthToday

    def logged(kind: str) -> float | None:
        lately = now - timedelta(hours=WARMTH_HOURS)
        return next((c.amount for c in reversed(file.care) if c.kind == kind and lately <= c.at <= now), None)

    warm = day.warm_end_c if day.warm_end_c is not None else logged("warm end")
    night = day.lowest_at_night_c if day.lowest_at_night_c is not None else logged("lowest at night")
    if warm is None and night is None:
        return None
    return WarmthToday(warm_end_c=warm, lowest_at_night_c=night)


def other_drugs(
    file: CaseFile, plan: Plan | None, today: date, others: Sequence[CaseFile]
) -> tuple[OtherDrug, ...]:
    """Return doses of other plans, other cases and outside of any plan, the newest first."""
    from fecallab.domain.dosing import OtherDrug

    found = [
        OtherDrug(
            drug=one.drug,
            days_ago=(today - one.given_on).days,
            dose_mg_per_kg=one.mg_per_kg or None,
            given_on=one.given_on,
            doses=one.doses,
        )
        for one in file.other_drugs
        if one.given_on <= today
    ]
    for case in (file, *others):
        drugs = {one.code: one for one in case.plans}
        found += [
            OtherDrug(
                drug=drugs[dose.plan].drug,
                days_ago=(today - dose.given_at.date()).days,
                dose_mg_per_kg=dose.delivered_mg_per_kg or drugs[dose.plan].dose_mg_per_kg or None,
                given_on=dose.given_at.date(),
            )
            for dose in case.doses
            if dose.outcome != "missed"
            and (plan is None or dose.plan != plan.code)
            and drugs[dose.plan].drug
            and dose.given_at.date() <= today
        ]
    return tuple(sorted(found, key=lambda one: one.days_ago))


def bottle_today(file: CaseFile, plan: Plan | None, day: DoseDay) -> BottleToday | None:
    """Return the bottle in the hand, with what should be left in it; None when nothing is known of it."""
    from decimal import Decimal

    from fecallab.domain.dosing import BottleToday

    left: Decimal | None = None
    if plan is not None and plan.bottle_ml is not None:
        used = [
            Decimal(dose.volume_ml) / Decimal(repr(dose.dilution_factor or 1))
            for dose in file.doses
            if dose.plan == plan.code and dose.volume_ml and dose.outcome != "missed"
        ]
        left = max(Decimal(0), Decimal(repr(plan.bottle_ml)) - sum(used, Decimal(0)))
    if left is None and day.expires_on is None and day.discard_on is None:
        return None
    return BottleToday(expires_on=day.expires_on, discard_on=day.discard_on, left_ml=left)


def tube_of_plan(plan: Plan | None, day: DoseDay) -> TubeUse | None:
    """Return the tube of the plan, with what it holds where that can be worked out."""
    from decimal import Decimal

    from fecallab.domain.dosing import TubeUse
    from fecallab.domain.tube import priming_ml

    if plan is None or plan.tube_french is None or not plan.tube_way:
        return None
    holds = None
    if plan.tube_inner_diameter_mm and plan.tube_length_mm:
        holds = priming_ml(Decimal(repr(plan.tube_inner_diameter_mm)), Decimal(repr(plan.tube_length_mm)))
    return TubeUse(
        priming_ml=holds,
        way=plan.tube_way,
        feed_ml=day.feed_ml,
        fluid_ml=day.fluid_ml,
        hours_since_meal=day.hours_since_meal,
    )
