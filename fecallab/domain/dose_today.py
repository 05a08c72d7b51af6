"""Is the animal fit for a dose today: awake, warm, not dry, not unwell?"""

from __future__ import annotations

from fecallab.domain.dose_case import AnimalToday, PlanFacts
from fecallab.domain.dose_facts import DELICATE, SIGNS_TODAY, DrugName, HardStop
from fecallab.domain.dose_found import Found
from fecallab.domain.warmth import WarmthFloor, check_warmth

_WORDS = {
    "gravid": "It carries eggs or young",
    "hatchling": "It is a hatchling",
    "before-shedding": "It is about to shed",
    "just-fed": "It has eaten lately",
    "after-brumation": "It woke from brumation lately",
}


def check_today(
    animal: AnimalToday, plan: PlanFacts | None, drug: DrugName | None, found: Found, *, first_dose: bool
) -> None:
    """Refuse or warn by how the animal is today; name what nobody asked.

    Parameters
    ----------
    animal : AnimalToday
        The animal.
    plan : PlanFacts or None
        For the warmth that the vet wrote.
    drug : DrugName or None
        For whether it is hard on kidneys.
    found : Found
        Collects refusals and warnings.
    first_dose : bool
        Whether this is the first dose of the course.
    """
    if animal.brumating:
        found.say("brumating", "The animal is brumating: its gut and liver stand still.")
    floor = WarmthFloor() if plan is None else plan.floor
    check_warmth(animal.warmth, animal.warm_range, floor, found, first_dose=first_dose)
    if animal.findings is None:
        found.ask("unwell-today")
    else:
        signs = [sign for sign in SIGNS_TODAY if sign in animal.findings]
        if signs:
            found.say("unwell-today", f"Today: {', '.join(signs)}.")
        for state in DELICATE:
            if state in animal.findings:
                found.say("delicate-state", f"{_WORDS[state]}.", state)
    _check_water(animal, drug, found)
    if animal.other_drugs is None:
        found.ask("earlier-courses")


def _check_water(animal: AnimalToday, drug: DrugName | None, found: Found) -> None:
    """Refuse a drug that is hard on kidneys while nobody knows whether the animal is dry."""
    if drug is None or not any(_is_about_water(stop, drug) for stop in found.facts.hard_stops):
        return
    known = animal.known_findings or frozenset()
    if animal.hydration == "normal" or "dehydrated" in known:
        return
    if animal.hydration is None:
        found.ask("hydration-unknown")
    else:
        found.say(
            "hydration-unknown", f"{drug.drug} is hard on kidneys; whether the animal is dry is not known."
        )


def _is_about_water(stop: HardStop, drug: DrugName) -> bool:
    return stop.names(drug) and "dehydrated" in stop.findings
