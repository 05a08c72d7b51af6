"""Hard stops: a drug in an animal that no range can soften."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta
from decimal import Decimal

from fecallab.domain.dose_facts import DrugName, HardStop
from fecallab.domain.dose_found import Found
from fecallab.domain.dose_request import DoseRequest, Figures, OtherDrug, exact
from fecallab.domain.errors import Reason
from fecallab.domain.figures import figure_text
from fecallab.domain.spoken import number_of
from fecallab.domain.taxon import Taxon

_ROLE = {"refuse-unless-specialist": "specialist", "warn-hard": "vet"}


def check_stops(
    request: DoseRequest, figures: Figures, drug: DrugName | None, found: Found
) -> frozenset[str]:
    """Refuse or warn by every stop that speaks of this drug and animal.

    A stop whose conditions nobody asked about is named as not checked; a stop that cannot be ruled
    out because the animal was named too widely refuses until the species is known.

    Returns
    -------
    frozenset of str
        The other drugs that a stop has spoken of.
    """
    spoken_of: set[str] = set()
    about = [stop for stop in found.facts.hard_stops if _is_about(stop, drug)]
    _ask_for_species(request, drug, about, found)
    for stop in about:
        place = _place(stop, request.taxon)
        met = _conditions(stop, request, figures, drug, found)
        if place == "elsewhere" or met is False:
            continue
        if met is None:
            text = f"Nobody asked here whether this holds: {stop.text}"
            found.not_checked.append(Reason(stop.code, text, stop.next))
            continue
        if place == "perhaps" and stop.refuses:
            known = request.taxon.name if request.taxon else "the animal"
            text = f"{stop.text} {known[:1].upper()}{known[1:]} does not tell whether this is such an animal."
            found.say("species-needed", text)
            continue
        others = _met_drugs(stop, request, drug, found)
        spoken_of |= {item.drug for item in others}
        text = f"{stop.text}{_summed_up(stop, others)}"
        if stop.action == "refuse-unless-specialist" and request.specialist_word:
            text = f"{text} Lifted by the written word of {request.specialist_word}."
            found.add("warn-hard", stop.code, text, stop.next, "vet")
        else:
            found.add(stop.action, stop.code, text, stop.next, _ROLE.get(stop.action, "nobody"))
    return frozenset(spoken_of)


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


def _conditions(
    stop: HardStop, request: DoseRequest, figures: Figures, drug: DrugName | None, found: Found
) -> bool | None:
    """Say whether every filled condition holds; None when one was not asked about and none is false."""
    answers = [
        _above(figures.dose, stop.above_mg_per_kg),
        _at_least(figures.concentration, stop.concentration_from_mg_per_ml),
        _at_most(figures.concentration, stop.concentration_to_mg_per_ml),
        not stop.routes or request.route in stop.routes,
        _any_of(request.findings, stop.findings),
        _running(stop, request, drug, found),
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


def _running(stop: HardStop, request: DoseRequest, drug: DrugName | None, found: Found) -> bool | None:
    """Say whether a drug that must not meet this one is in the body; None when nobody asked."""
    if not stop.with_drugs and not stop.with_classes:
        return True
    return None if request.other_drugs is None else bool(_met_drugs(stop, request, drug, found))


def _met_drugs(
    stop: HardStop, request: DoseRequest, drug: DrugName | None, found: Found
) -> tuple[OtherDrug, ...]:
    """Return the doses of other drugs that a stop is about, within its days."""
    days = (
        stop.within_days if stop.within_days is not None else found.facts.rule("other-drug-active").at_high()
    )
    met = []
    for item in request.other_drugs or ():
        other = found.facts.find_drug(item.drug)
        if other is None or item.days_ago > days:
            continue
        same = drug is not None and other.drug == drug.drug
        listed = other.drug in stop.with_drugs or set(other.classes) & set(stop.with_classes)
        if listed and (stop.same_drug_counts or not same):
            met.append(item)
    return tuple(met)


def _summed_up(stop: HardStop, others: Sequence[OtherDrug]) -> str:
    """List the earlier doses of a family, with their number and all mg per kg together."""
    if not others:
        return ""
    said = "; ".join(item.words for item in sorted(others, key=lambda item: -item.days_ago))
    if stop.within_days is None:
        return f" In the body: {said}."
    amounts = [(exact(item.dose_mg_per_kg), item.doses) for item in others]
    known = [amount * doses for amount, doses in amounts if amount is not None]
    total = f", {figure_text(sum(known, Decimal(0)))} mg per kg in all" if len(known) == len(amounts) else ""
    count = sum(item.doses for item in others)
    return f" The last {figure_text(stop.within_days)} days: {said} ({number_of(count, 'dose')}{total})."


def _hours_since(item: OtherDrug) -> Decimal:
    """Return the hours since a dose: as told, else whole days."""
    told = exact(item.hours_ago)
    return Decimal(timedelta(days=item.days_ago) // timedelta(hours=1)) if told is None else told


def check_other_drugs(
    request: DoseRequest,
    figures: Figures,
    drug: DrugName | None,
    spoken_of: frozenset[str],
    found: Found,
) -> None:
    """Refuse a second plan of the same drug at once; warn of drugs that no stop has spoken of."""
    rule = found.facts.rule
    active, early = rule("other-drug-active").at_high(), rule("too-early").at_low()
    unknown = []
    for item in request.other_drugs or ():
        other = found.facts.find_drug(item.drug)
        same = drug is not None and other is not None and other.drug == drug.drug
        hours, passed = figures.interval_hours, _hours_since(item)
        if same and hours is not None and passed < hours * early:
            found.say("same-drug-elsewhere", f"Under another plan: {item.words}.")
        elif not same and item.days_ago <= active and item.drug not in spoken_of:
            unknown.append(item)
    if unknown:
        said = "; ".join(dict.fromkeys(item.words for item in unknown))
        found.say("other-drug-running", f"In the body: {said}.")
