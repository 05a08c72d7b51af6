"""A dose by the vet's plan: an order, a fresh weight, a dose left, the right time, an animal that is fit for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from decimal import Decimal

from fecallab.domain.dose_answer import DoseAnswer, Drawn, conclude
from fecallab.domain.dose_case import AnimalToday, BottleToday, DoseLogged, PlanFacts
from fecallab.domain.dose_course import check_bottle, check_course, in_order, stock_needed_ml, taken_of
from fecallab.domain.dose_facts import DoseFacts, read_route
from fecallab.domain.dose_found import Found
from fecallab.domain.dose_order import (
    check_order,
    compare_last_order,
    compare_volume,
    last_planned_day,
    missing_parts,
    typed_twice,
)
from fecallab.domain.dose_range import is_narrow_margin
from fecallab.domain.dose_request import DoseRequest, Figure, exact
from fecallab.domain.dose_today import check_today
from fecallab.domain.dose_tube import check_tube
from fecallab.domain.dose_volume import volume_ml
from fecallab.domain.dose_weight import WeightFact, check_weighing
from fecallab.domain.dose_work import work_out_into
from fecallab.domain.tube import TubeUse

__all__ = ["AnimalToday", "BottleToday", "DoseLogged", "PlanFacts", "dose_by_plan", "last_planned_day"]


def dose_by_plan(
    plan: PlanFacts | None,
    weight: WeightFact | None,
    now: datetime,
    doses: Sequence[DoseLogged],
    animal: AnimalToday,
    facts: DoseFacts,
    *,
    route: str = "",
    syringe_ml: Figure | None = None,
    graduation_ml: Figure | None = None,
    bottle: BottleToday | None = None,
    tube: TubeUse | None = None,
    injection_taught: bool | None = None,
) -> DoseAnswer:
    """Work out the next dose of a plan, or say why not and what may be done now.

    Parameters
    ----------
    plan : PlanFacts or None
        The plan in force; None when the vet has written none.
    weight : WeightFact or None
        The latest weighing.
    now : datetime
        The moment of the dose; with a time zone if the log has one.
    doses : sequence of DoseLogged
        The log of this plan, any order.
    animal : AnimalToday
        Who it is for and how it is.
    facts : DoseFacts
        Drug rows, stops, syringes and rules.
    route : str
        How it is about to be given, when that is said anew.
    syringe_ml, graduation_ml : figure, optional
        The syringe at hand.
    bottle : BottleToday, optional
        The bottle or vial in the hand.
    tube : TubeUse, optional
        The tube that the dose goes through.
    injection_taught : bool, optional
        Whether the vet has taught this person to inject.

    Returns
    -------
    DoseAnswer
        Without any volume while a rule refuses. What nobody asked stands in ``not_checked``.
    """
    today = now.date()
    words, ordered_on = (plan.words, plan.ordered_on) if plan else ((), None)
    found = Found(facts, words, today, ordered_on)
    drug = facts.find_drug(plan.drug) if plan else None
    logged = in_order(doses, now, found) or []
    check_today(animal, plan, drug, found, first_dose=not taken_of(logged))
    if plan is None:
        found.say("order-missing", "There is no written order of a vet for this animal.")
    else:
        check_order(plan, today, animal, route, found)
        check_course(plan, logged, now, found)
    check_weighing(
        weight,
        today,
        [dose.weight_g for dose in logged if dose.weight_g is not None],
        found,
        growing=animal.growing,
        narrow=drug is not None and is_narrow_margin(drug, animal.taxon, found),
        max_age_days=plan.weight_max_age_days if plan else None,
    )
    if plan is None or weight is None or missing_parts(plan):
        return conclude(found, None, None)
    compare_last_order(plan, found)
    grams, dose, strength = (
        exact(figure) for figure in (weight.weight_g, plan.dose_mg_per_kg, plan.concentration_mg_per_ml)
    )
    then = _weight_of_the_sheet(grams, logged)
    if then and dose and strength and min(then, dose, strength) > 0 and plan.dilution is None:
        compare_volume(volume_ml(then, dose, strength), plan.volume_written_ml, found)
    request = DoseRequest(
        weight_g=weight.weight_g,
        dose_mg_per_kg=plan.dose_mg_per_kg or "",
        concentration_mg_per_ml=plan.concentration_mg_per_ml or "",
        drug=plan.drug,
        taxon=animal.taxon,
        taxon_text=animal.taxon_text,
        interval_hours=plan.interval_hours,
        route=plan.route,
        syringe_ml=syringe_ml,
        graduation_ml=graduation_ml,
        findings=animal.known_findings,
        other_drugs=animal.other_drugs,
        doses_planned=plan.doses,
        specialist_word=plan.specialist_word,
        strength_typed_twice=typed_twice(plan, found),
        volume_written_ml=plan.volume_written_ml,
        dilution=plan.dilution,
        injection_taught=injection_taught,
    )
    used, drawn = work_out_into(found, request)
    if drawn is not None and plan.dilution is not None and then and grams:
        compare_volume(drawn.volume_ml * then / grams, plan.volume_written_ml, found)
    through = None
    if tube is not None and read_route(plan.route) not in ("PO", None):
        found.say("route-differs", f"The order says {plan.route}; a tube is by mouth.")
    if drawn is not None and grams is not None and tube is not None:
        weak = "debilitated" in (animal.findings or frozenset())
        through = check_tube(drawn.draw_ml, grams, tube, animal.taxon, weak, found)
    left = (plan.doses or 0) - len(taken_of(logged))
    check_bottle(bottle, now, _needed_ml(drawn, left, through.waste_ml if through else None, found), found)
    answer = conclude(
        found, used, drawn, tube=through, with_last_weight_ml=_with_last_weight(drawn, logged, dose)
    )
    return replace(answer, to_confirm=tuple(code for code in answer.to_confirm if code not in plan.confirmed))


def _weight_of_the_sheet(grams: Decimal | None, logged: Sequence[DoseLogged]) -> Decimal | None:
    """Return the weight that the volume on the vet's sheet was written for: that of the first dose, else today's."""
    weights = [exact(item.weight_g) for item in logged if item.weight_g is not None]
    first = weights[0] if weights else None
    return first if first is not None and first > 0 else grams


def _needed_ml(drawn: Drawn | None, left: int, in_tube_ml: Decimal | None, found: Found) -> Decimal | None:
    """Return what the doses left need of the bottle, in ml; a dilution is mixed anew each time."""
    if drawn is None or left < 1:
        return None
    if drawn.dilution is not None:
        return stock_needed_ml(drawn.dilution.steps[0].stock_ml, left, found.facts)
    key = drawn.syringe_key
    dead = next((item.dead_space_ml for item in found.facts.syringes if item.key == key), Decimal(0))
    return stock_needed_ml(
        drawn.draw_ml, left, found.facts, lost_per_dose_ml=dead + (in_tube_ml or Decimal(0))
    )


def _with_last_weight(
    drawn: Drawn | None, logged: Sequence[DoseLogged], dose: Decimal | None
) -> Decimal | None:
    """Return the exact volume with the weight of the last dose, to show beside the new one."""
    weights = [exact(item.weight_g) for item in logged if item.weight_g is not None]
    if drawn is None or not weights or weights[-1] is None or weights[-1] <= 0 or not dose:
        return None
    strength = drawn.concentration_mg_per_ml
    return volume_ml(weights[-1], dose, strength)
