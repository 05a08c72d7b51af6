"""Work out one dose: every rule that needs no plan, no date and no history."""

from __future__ import annotations

from dataclasses import replace

from fecallab.domain.dose_answer import DoseAnswer, Drawn, RangeUsed, conclude
from fecallab.domain.dose_draw import measure
from fecallab.domain.dose_facts import DoseFacts, DrugName, read_route
from fecallab.domain.dose_found import Found
from fecallab.domain.dose_range import check_range, is_narrow_margin
from fecallab.domain.dose_request import DoseRequest, Figures, read_figures
from fecallab.domain.dose_stops import check_other_drugs, check_stops
from fecallab.domain.dose_volume import check_strength, check_weight
from fecallab.domain.errors import Reason
from fecallab.domain.figures import figure_text


def work_out(request: DoseRequest, facts: DoseFacts) -> DoseAnswer:
    """Work out the volume of one dose, or say why not and what to do.

    The dose is the vet's: nothing here chooses a drug or a dose.

    Parameters
    ----------
    request : DoseRequest
        Weight, dose, strength, drug, animal, interval, route and syringe.
    facts : DoseFacts
        Drug rows, stops, syringes and rules (``fecallab.reference.drugs.dose_facts()``).

    Returns
    -------
    DoseAnswer
        With every figure None while any rule refuses; rules that need a plan, a weight's date, a
        history or a look at the animal are named in ``not_checked``.
    """
    found = Found(facts)
    for rule in facts.rules:
        if rule.needs:
            found.not_checked.append(
                Reason(rule.code, f"Not checked here: {rule.when}.", rule.ask or rule.next)
            )
    return conclude(found, *work_out_into(found, request))


def work_out_into(found: Found, request: DoseRequest) -> tuple[RangeUsed | None, Drawn | None]:
    """Work out one dose on top of what other rules already found: the range it met, and the volume."""
    figures = read_figures(request, found)
    route = read_route(request.route)
    if route is None:
        found.say("route-unknown", f'The route "{request.route[:30]}" is not known.')
    request = replace(request, route=route or "")
    if figures is None:
        return None, None
    drug = found.facts.find_drug(request.drug)
    _check_named(request, drug, found)
    spoken_of = check_stops(request, figures, drug, found)
    check_other_drugs(request, figures, drug, spoken_of, found)
    used = _check_drug(request, figures, drug, found)
    check_weight(request, figures.weight_g, found)
    _check_high_dose(request, figures, found)
    _say_how(request, drug, found)
    if found.refused:
        return used, None
    name = drug.drug if drug is not None else request.drug
    narrow = drug is not None and is_narrow_margin(drug, request.taxon, found)
    return used, measure(request, figures, name, narrow, found)


def _check_named(request: DoseRequest, drug: DrugName | None, found: Found) -> None:
    """Refuse what is not named or not known, unless the bare sum was asked for."""
    chelonian = request.taxon is not None and request.taxon.is_a("order Testudines")
    if request.taxon_text and (drug is not None or not request.arithmetic_only):
        near = f" Near names: {', '.join(request.near_names)}." if request.near_names else ""
        stops = drug is not None and any(
            stop.names(drug) and stop.asks_for_species for stop in found.facts.hard_stops
        )
        text = f'"{request.taxon_text[:40]}" is in no row of the table of animals.{near}'
        if request.taxon is None or stops:
            found.say("taxon-unknown", text)
        else:
            found.say("taxon-unknown-group-used", f"{text} The group {request.taxon.name} was used.")
    if request.drug and drug is None and chelonian:
        text = f'"{request.drug[:40]}" is a drug of unknown kind, and this is a turtle or tortoise.'
        found.say("unknown-drug-chelonian", text)
    if request.arithmetic_only:
        if drug is None or request.taxon is None or not found.facts.rows_of(drug.drug):
            found.say("no-range-check", "NO RANGE CHECK POSSIBLE: this is the bare sum.")
        return
    if not request.drug or (request.taxon is None and not request.taxon_text):
        missing = (
            "no animal" if request.drug else "no drug" if request.taxon or request.taxon_text else "neither"
        )
        found.say(
            "drug-or-animal-missing",
            f"Drug and animal decide whether a dose may be worked out: {missing} named.",
        )
    if request.drug and (drug is None or not found.facts.rows_of(drug.drug)):
        known = f'The table of drugs has no dose of "{request.drug[:40]}".'
        if drug is None and (near := found.facts.spelled_nearly(request.drug)):
            known += f" Is {near} meant? It must be spelled as on the label."
        _say_unknown(f"{known} No range check is possible.", request, found)


def _say_unknown(text: str, request: DoseRequest, found: Found) -> None:
    """Refuse a drug without a row; the vet's word lifts it only where the strength was typed twice."""
    rule, before = found.facts.rule("drug-unknown"), len(found.lifted)
    role = rule.override_role if request.strength_typed_twice else "nobody"
    found.add(rule.action, rule.code, text, rule.next, role, rule.place)
    if len(found.lifted) > before:
        found.say("no-range-check", "NO RANGE CHECK POSSIBLE: the table knows no dose of this drug.")


def _check_drug(
    request: DoseRequest, figures: Figures, drug: DrugName | None, found: Found
) -> RangeUsed | None:
    """Compare dose and strength with what is published about the drug."""
    if drug is None or not found.facts.rows_of(drug.drug):
        return None
    check_strength(figures.concentration, drug, found, typed_twice=request.strength_typed_twice)
    if request.taxon is None:
        return None
    return check_range(request, figures, drug, found)


def _check_high_dose(request: DoseRequest, figures: Figures, found: Found) -> None:
    """Refuse a dose above the line that only a reptile specialist may cross."""
    rule = found.facts.rule("dose-above-specialist-limit")
    if request.arithmetic_only and not request.drug:
        return
    if figures.dose > rule.at_high() and not request.specialist_word:
        text = f"{figure_text(figures.dose)} mg per kg is above {figure_text(rule.at_high())}."
        found.say(rule.code, text)


def _say_how(request: DoseRequest, drug: DrugName | None, found: Found) -> None:
    """Say what the way it is given asks for, and what to watch afterwards."""
    if request.route in ("SC", "IM"):
        code = "injection-not-taught" if request.injection_taught is False else "injection-taught-only"
        found.say(code, f"This goes through the skin ({request.route}).")
    if drug is not None and is_narrow_margin(drug, request.taxon, found):
        found.say("narrow-margin-watch", f"{drug.drug} has a narrow margin here: rounded down to the mark.")
