"""Is the vet's order whole, for this animal, in force, and followed?"""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from fecallab.domain.dose_case import AnimalToday, PlanFacts
from fecallab.domain.dose_facts import read_route
from fecallab.domain.dose_found import Found
from fecallab.domain.dose_request import Figure, exact
from fecallab.domain.figures import figure_text
from fecallab.domain.slips import find_slips
from fecallab.domain.spoken import number_of, say_date


def missing_parts(plan: PlanFacts) -> list[str]:
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


def check_order(plan: PlanFacts, today: date, animal: AnimalToday, route: str, found: Found) -> None:
    """Check that the order is whole, for this animal, in force, and followed."""
    missing = missing_parts(plan)
    if missing:
        found.say("order-incomplete", f"The order lacks: {', '.join(missing)}.")
    if plan.animal and not animal.animal:
        found.say("animal-not-confirmed", f"The order is for {plan.animal}, and no animal was named.")
    elif plan.animal and plan.animal != animal.animal:
        found.say("order-for-another-animal", f"The order is for {plan.animal}, not for {animal.animal}.")
    drug = found.facts.find_drug(plan.drug)
    if drug is not None and drug.components and plan.component not in drug.components:
        choices = " or ".join(drug.components)
        found.say("component-missing", f"The order does not say what the mg of {drug.drug} count: {choices}.")
    if plan.ordered_on is not None:
        if plan.ordered_on > today:
            found.say(
                "order-in-future",
                f"The order is dated {say_date(plan.ordered_on)}, after today, {say_date(today)}.",
            )
        last = last_planned_day(plan)
        grace = found.facts.rule("order-expired").at_high()
        if last is not None and (today - last).days > grace:
            text = f"The last planned dose was due on {say_date(last)}; the order held {number_of(grace, 'day')} longer."
            found.say("order-expired", text)
    if route and read_route(route) != read_route(plan.route):
        found.say("route-differs", f"The order says {plan.route}, not {route[:30]}.")
    _check_exams(plan, found)


def _check_exams(plan: PlanFacts, found: Found) -> None:
    """Say when the records give no ground for treatment."""
    if plan.positive_exam is None:
        found.ask("no-positive-exam")
    elif not plan.positive_exam:
        found.say("no-positive-exam", "The records hold no positive exam for this target.")
    if plan.clear_already:
        found.say("clear-already", "The repeat exams have confirmed already that none is found.")


def typed_twice(plan: PlanFacts, found: Found) -> bool:
    """Say whether the strength was read twice; refuse two readings that differ."""
    first, second = exact(plan.concentration_mg_per_ml), exact(plan.concentration_again_mg_per_ml)
    if plan.concentration_again_mg_per_ml is None:
        return False
    if first is None or second is None or first != second:
        text = (
            f"{plan.concentration_mg_per_ml} the first time, {plan.concentration_again_mg_per_ml} the second."
        )
        found.say("strength-typed-differently", f"The strength in mg per ml was read twice: {text}")
        return False
    return True


def compare_volume(volume_ml: Decimal, written_ml: Figure | None, found: Found) -> None:
    """Refuse when the volume on the vet's sheet is another; no volume is told."""
    written = exact(written_ml)
    share = found.facts.rule("vet-volume-differs").at_high()
    if written and abs(volume_ml - written) > abs(written) * share:
        text = f"The vet's own volume differs by more than {figure_text(share * 100)} % from the plan's."
        found.say("vet-volume-differs", text)


def compare_last_order(plan: PlanFacts, found: Found) -> None:
    """Compare with the last order of the drug for this animal; name the slip that would explain it."""
    dose, previous = exact(plan.dose_mg_per_kg), exact(plan.previous_dose_mg_per_kg)
    if not dose or not previous or dose <= 0 or previous <= 0:
        return
    ratio = dose / previous
    text = f"{figure_text(dose)} mg per kg now, {figure_text(previous)} in the last order of {plan.drug}."
    tolerance = found.facts.rule("slip-found").at_low()
    named = "".join(f" {slip.words}" for slip in find_slips(dose, previous, previous, tolerance))
    for scope in ("refuse", "warn"):
        rule = found.facts.rule("dose-unlike-last", scope)
        if not rule.at_low() <= ratio <= rule.at_high():
            found.say("dose-unlike-last", f"{text}{named}", scope)
            return
