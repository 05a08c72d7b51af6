"""Hard stops: a drug in an animal that no range can soften."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from fecallab.domain.dose_facts import DrugName, Found, HardStop
from fecallab.domain.dose_request import DoseRequest, Figures
from fecallab.domain.errors import Reason
from fecallab.domain.taxon import Taxon


def check_stops(request: DoseRequest, figures: Figures, drug: DrugName | None, found: Found) -> None:
    """Refuse or warn by every stop that speaks of this drug and animal.

    A stop whose conditions nobody asked about is named as not checked; a stop that cannot be ruled
    out because the animal was named too widely refuses until the species is known.
    """
    about = [stop for stop in found.facts.hard_stops if _is_about(stop, drug)]
    _ask_for_species(request, drug, about, found)
    for stop in about:
        place = _place(stop, request.taxon)
        met = _conditions(stop, request, figures, found)
        if place == "elsewhere" or met is False:
            continue
        if met is None:
            text = f"Nobody asked here whether this holds: {stop.text}"
            found.not_checked.append(Reason(stop.code, text, stop.next))
        elif place == "perhaps" and stop.refuses:
            known = request.taxon.name if request.taxon else "the animal"
            text = f"{stop.text} {known[:1].upper()}{known[1:]} does not tell whether this is such an animal."
            found.say("species-needed", text)
        elif stop.action == "refuse-unless-specialist" and request.specialist_word:
            text = f"{stop.text} Lifted by the written word of {request.specialist_word}."
            found.add("warn-hard", stop.code, text, stop.next)
        else:
            found.add(stop.action, stop.code, stop.text, stop.next)


def _is_about(stop: HardStop, drug: DrugName | None) -> bool:
    """Say whether a stop is about this drug, by name, by class, or about any drug."""
    if "any" in stop.drugs:
        return True
    return drug is not None and stop.names(drug)


def _ask_for_species(
    request: DoseRequest, drug: DrugName | None, about: Iterable[HardStop], found: Found
) -> None:
    """Refuse a drug that has any stop while only the animal's group is known, or nothing."""
    if drug is None or (request.taxon is not None and request.taxon.rank != "group"):
        return
    if any(stop.asks_for_species for stop in about):
        known = f"only the group is known ({request.taxon.name})" if request.taxon else "no animal is named"
        found.say("species-needed", f"{drug.drug} has a hard stop in some reptiles, and {known}.")


def _place(stop: HardStop, taxon: Taxon | None) -> str:
    """Say whether the stop's taxon holds for the animal: ``here``, ``perhaps`` or ``elsewhere``."""
    if "any" in stop.taxa or (taxon is not None and any(taxon.is_a(entry) for entry in stop.taxa)):
        return "here"
    if taxon is None:
        return "perhaps"
    return "perhaps" if taxon.may_be(stop.taxa, stop.within) else "elsewhere"


def _conditions(stop: HardStop, request: DoseRequest, figures: Figures, found: Found) -> bool | None:
    """Say whether every filled condition holds; None when one was not asked about and none is false."""
    answers = [
        _above(figures.dose, stop.above_mg_per_kg),
        _at_least(figures.concentration, stop.concentration_from_mg_per_ml),
        _at_most(figures.concentration, stop.concentration_to_mg_per_ml),
        not stop.routes or request.route in stop.routes,
        _any_of(request.findings, stop.findings),
        _running(stop, request, found),
        stop.doses_at_least is None or _whole_at_least(request.doses_planned, stop.doses_at_least),
        stop.interval_at_most_hours is None
        or (
            None if figures.interval_hours is None else figures.interval_hours <= stop.interval_at_most_hours
        ),
    ]
    if any(answer is False for answer in answers):
        return False
    return None if any(answer is None for answer in answers) else True


def _above(value: Decimal, limit: Decimal | None) -> bool:
    return limit is None or value > limit


def _at_least(value: Decimal, limit: Decimal | None) -> bool:
    return limit is None or value >= limit


def _at_most(value: Decimal, limit: Decimal | None) -> bool:
    return limit is None or value <= limit


def _whole_at_least(value: int | None, limit: int) -> bool | None:
    return None if value is None else value >= limit


def _any_of(findings: frozenset[str] | None, wanted: tuple[str, ...]) -> bool | None:
    """Say whether any finding is there; None when nobody asked."""
    if not wanted:
        return True
    return None if findings is None else bool(findings & set(wanted))


def _running(stop: HardStop, request: DoseRequest, found: Found) -> bool | None:
    """Say whether a drug that must not meet this one is running; None when nobody asked."""
    if not stop.with_drugs and not stop.with_classes:
        return True
    if request.other_drugs is None:
        return None
    for item in request.other_drugs:
        other = found.facts.find_drug(item.drug)
        too_long_ago = stop.within_days is not None and item.days_ago > stop.within_days
        if other is None or too_long_ago:
            continue
        if other.drug in stop.with_drugs or set(other.classes) & set(stop.with_classes):
            return True
    return False
