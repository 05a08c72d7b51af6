"""A dose by the vet's plan: an order, a fresh weight, a dose left, and the right time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal

from fecallab.domain.dose_facts import DoseFacts, Found, read_route
from fecallab.domain.dose_range import is_narrow_margin
from fecallab.domain.dose_request import DoseAnswer, DoseRequest, Figure, OtherDrug, conclude, exact
from fecallab.domain.dose_weight import WeightFact, check_weighing
from fecallab.domain.dose_work import work_out_into
from fecallab.domain.errors import Reason
from fecallab.domain.figures import figure_text
from fecallab.domain.taxon import Taxon


@dataclass(frozen=True, kw_only=True)
class PlanFacts:
    """The vet's written order, as far as dosing needs it.

    ``doses`` is the largest number of doses; None where the order says only "until negative".
    ``volume_written_ml`` and ``previous_dose_mg_per_kg`` (last order of the same drug for the same
    animal) are compared when known. ``specialist_word`` holds name and date of a specialist's word,
    ``confirmed`` the codes of warnings that the vet already answered.
    """

    vet: str
    ordered_on: date | None
    drug: str
    dose_mg_per_kg: Figure | None
    concentration_mg_per_ml: Figure | None
    route: str
    interval_hours: Figure | None
    doses: int | None
    animal: str = ""
    component: str = ""
    first_dose_on: date | None = None
    weight_max_age_days: float | None = None
    volume_written_ml: Figure | None = None
    previous_dose_mg_per_kg: Figure | None = None
    specialist_word: str = ""
    confirmed: frozenset[str] = frozenset()


@dataclass(frozen=True, kw_only=True)
class DoseLogged:
    """One line of the log: when, with which weight, and what happened (``given``, ``missed`` …)."""

    given_at: datetime
    outcome: str = "given"
    weight_g: Figure | None = None


@dataclass(frozen=True, kw_only=True)
class AnimalToday:
    """The animal as it is today. ``findings`` and ``other_drugs`` are None when nobody asked."""

    animal: str = ""
    taxon: Taxon | None = None
    taxon_text: str = ""
    growing: bool = False
    brumating: bool = False
    findings: frozenset[str] | None = None
    other_drugs: tuple[OtherDrug, ...] | None = None


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

    Returns
    -------
    DoseAnswer
        Without any volume while a rule refuses.
    """
    found = Found(facts)
    for rule in facts.rules:
        if rule.action == "not-checked":
            found.not_checked.append(Reason(rule.code, f"Not checked here: {rule.when}.", rule.ask))
    logged = sorted(doses, key=lambda dose: dose.given_at)
    if animal.brumating:
        found.say("brumating", "The animal is brumating: its gut and liver stand still.")
    if plan is None:
        found.say("order-missing", "There is no written order of a vet for this animal.")
    else:
        _check_order(plan, now.date(), animal, route, found)
        _check_course(plan, logged, now, found)
    growing, tightened = animal.growing, plan.weight_max_age_days if plan else None
    narrow = _is_narrow(plan, animal, found)
    earlier = [dose.weight_g for dose in logged if dose.weight_g is not None]
    check_weighing(weight, now.date(), earlier, found, growing=growing, narrow=narrow, max_age_days=tightened)
    if plan is None or weight is None or _incomplete(plan):
        return conclude(found, None, None)
    _compare_orders(plan, weight, found)
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
        findings=animal.findings,
        other_drugs=animal.other_drugs,
        doses_planned=plan.doses,
        specialist_word=plan.specialist_word,
    )
    answer = work_out_into(found, request)
    return replace(answer, to_confirm=tuple(code for code in answer.to_confirm if code not in plan.confirmed))


def _incomplete(plan: PlanFacts) -> list[str]:
    """Name the parts that an order lacks; one dose needs no interval."""
    parts = {
        "vet": plan.vet,
        "date": plan.ordered_on,
        "drug": plan.drug,
        "mg per kg": plan.dose_mg_per_kg,
        "strength in mg per ml": plan.concentration_mg_per_ml,
        "route": plan.route,
        "interval": True if plan.doses == 1 else plan.interval_hours,
        "largest number of doses": plan.doses is not None and plan.doses >= 1,
    }
    return [part for part, value in parts.items() if not value]


def _is_narrow(plan: PlanFacts | None, animal: AnimalToday, found: Found) -> bool:
    """Say whether the plan's drug has a narrow margin in this animal."""
    drug = found.facts.find_drug(plan.drug) if plan else None
    return drug is not None and is_narrow_margin(drug, animal.taxon, found)


def _check_order(plan: PlanFacts, today: date, animal: AnimalToday, route: str, found: Found) -> None:
    """Check that the order is whole, for this animal, in force, and followed."""
    missing = _incomplete(plan)
    if missing:
        found.say("order-incomplete", f"The order lacks: {', '.join(missing)}.")
    if plan.animal and animal.animal and plan.animal != animal.animal:
        found.say("order-for-another-animal", f"The order is for {plan.animal}, not for {animal.animal}.")
    drug = found.facts.find_drug(plan.drug)
    if drug is not None and drug.components and plan.component not in drug.components:
        choices = " or ".join(drug.components)
        found.say("component-missing", f"The order does not say what the mg of {drug.drug} count: {choices}.")
    if plan.ordered_on is not None:
        if plan.ordered_on > today:
            found.say("order-in-future", f"The order is dated {plan.ordered_on}, after today, {today}.")
        last = last_planned_day(plan)
        grace = found.facts.rule("order-expired").at_high()
        if last is not None and (today - last).days > grace:
            text = f"The last planned dose was due on {last}; the order held {grace} days longer."
            found.say("order-expired", text)
    if route and read_route(route) != read_route(plan.route):
        found.say("route-differs", f"The order says {plan.route}, not {route[:30]}.")


def last_planned_day(plan: PlanFacts) -> date | None:
    """Return the day of the last planned dose: (n - 1) intervals after the first.

    Examples
    --------
    >>> plan = PlanFacts(vet="V", ordered_on=date(2026, 3, 1), drug="metronidazole", dose_mg_per_kg=20,
    ...                  concentration_mg_per_ml=40, route="PO", interval_hours=48, doses=6)
    >>> last_planned_day(plan)
    datetime.date(2026, 3, 11)
    """
    start, hours = plan.first_dose_on or plan.ordered_on, exact(plan.interval_hours)
    if start is None or not plan.doses or plan.doses < 1:
        return None
    try:
        return start + timedelta(hours=float((plan.doses - 1) * (hours or Decimal(0))))
    except OverflowError:
        return date.max


def _later(start: datetime, hours: Decimal) -> str:
    """Say when some hours have passed."""
    try:
        return f"{start + timedelta(hours=float(hours)):%Y-%m-%d %H:%M}"
    except OverflowError:
        return "the end of the calendar"


def _check_course(plan: PlanFacts, logged: Sequence[DoseLogged], now: datetime, found: Found) -> None:
    """Check that a dose is left and that it is time."""
    taken = [dose for dose in logged if dose.outcome != "missed"]
    if plan.doses and len(taken) >= plan.doses:
        found.say("doses-used-up", f"All {plan.doses} doses of the plan are logged.")
    hours = exact(plan.interval_hours)
    if not taken or not hours or hours <= 0:
        return
    elapsed = Decimal(str((now - taken[-1].given_at) / timedelta(hours=1)))
    when = f"{taken[-1].given_at:%Y-%m-%d %H:%M}"
    early, late = found.facts.rule("too-early").at_low(), found.facts.rule("late-dose").at_high()
    if elapsed < 0:
        found.say("clock-backwards", f"The last dose is logged at {when}, after now, {now:%Y-%m-%d %H:%M}.")
    elif elapsed < hours * early:
        from_when = _later(taken[-1].given_at, hours * early)
        text = f"The last dose was given at {when}; the next not before {from_when}."
        found.say("too-early", text)
    elif elapsed > hours * late:
        found.say("late-dose", f"The last dose was given at {when}: this one is late.")


def _compare_orders(plan: PlanFacts, weight: WeightFact, found: Found) -> None:
    """Compare with the volume the vet wrote and with the last order of the drug for this animal."""
    dose, strength, grams = (
        exact(plan.dose_mg_per_kg),
        exact(plan.concentration_mg_per_ml),
        exact(weight.weight_g),
    )
    written, previous = exact(plan.volume_written_ml), exact(plan.previous_dose_mg_per_kg)
    if not dose or not strength or not grams or min(dose, strength, grams) <= 0:
        return
    if written:
        volume = grams * dose / (strength * 1000)
        share = found.facts.rule("vet-volume-differs").at_high()
        if abs(volume - written) > written * share:
            text = f"The vet's own volume differs by more than {figure_text(share * 100)} % from the plan's."
            found.say("vet-volume-differs", text)
    if previous and previous > 0:
        ratio = dose / previous
        text = f"{figure_text(dose)} mg per kg now, {figure_text(previous)} in the last order of {plan.drug}."
        for scope in ("refuse", "warn"):
            rule = found.facts.rule("dose-unlike-last", scope)
            if not rule.at_low() <= ratio <= rule.at_high():
                found.say("dose-unlike-last", text, scope)
                break
