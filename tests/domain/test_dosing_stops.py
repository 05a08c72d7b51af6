"""Hard stops: each speaks for its animal and drug, and only when its conditions hold."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.dosing import DoseAnswer, DoseRequest, HardStop, OtherDrug, work_out
from fecallab.domain.taxon import Taxon
from fecallab.reference.drugs import dose_facts, hard_stops
from fecallab.reference.taxa import group_taxon, resolve_taxon, taxa

FACTS = dose_facts()
IVERMECTIN_FAMILY = [
    name.drug
    for name in FACTS.drug_names
    if "macrocyclic lactone" in name.classes and name.drug != "milbemycin oxime"
]


def first_drug(stop: HardStop) -> str:
    if "any" in stop.drugs:
        return "fenbendazole"
    if stop.drugs:
        return stop.drugs[0]
    return next(name.drug for name in FACTS.drug_names if set(name.classes) & set(stop.classes))


def first_animal(stop: HardStop) -> Taxon | None:
    if "any" in stop.taxa:
        return resolve_taxon("corn snake")
    return next(taxon for taxon in taxa() if taxon.rank == "species" and taxon.is_a(stop.taxa[0]))


def other_drugs(stop: HardStop, days_ago: int = 0) -> tuple[OtherDrug, ...]:
    names = list(stop.with_drugs) + [
        name.drug for name in FACTS.drug_names if set(name.classes) & set(stop.with_classes)
    ]
    if not stop.same_drug_counts:
        names = [name for name in names if name != first_drug(stop)]
    return tuple(OtherDrug(name, days_ago) for name in names[:1])


def meeting(stop: HardStop) -> DoseRequest:
    """Ask for a dose that meets every condition of a stop."""
    above = stop.above_mg_per_kg
    return DoseRequest(
        weight_g=500,
        dose_mg_per_kg=above + Decimal("0.1") if above is not None else 5,
        concentration_mg_per_ml=stop.concentration_from_mg_per_ml or 50,
        drug=first_drug(stop),
        taxon=first_animal(stop),
        interval_hours=stop.interval_at_most_hours or 24,
        route=stop.routes[0] if stop.routes else "PO",
        findings=frozenset(stop.findings),
        other_drugs=other_drugs(stop),
        doses_planned=stop.doses_at_least or 1,
        arithmetic_only=True,
    )


def spoken(answer: DoseAnswer, stop: HardStop) -> bool:
    where = answer.reasons if stop.refuses else answer.warnings
    return stop.code in {reason.code for reason in where}


def every(keep: Callable[[HardStop], object] = lambda stop: True) -> pytest.MarkDecorator:
    """Run a test over the stops of the table, or over those of one kind."""
    chosen = [stop for stop in hard_stops() if keep(stop)]
    assert chosen
    return pytest.mark.parametrize("stop", chosen, ids=lambda stop: stop.key)


@every()
def test_speaks_when_its_conditions_hold_and_no_volume_leaves(stop: HardStop) -> None:
    answer = work_out(meeting(stop), FACTS)
    assert spoken(answer, stop)
    if stop.refuses:
        assert answer.draw_ml is None


@every(lambda stop: "any" not in stop.taxa)
def test_is_silent_in_another_animal(stop: HardStop) -> None:
    same_code = [entry for other in hard_stops() if other.code == stop.code for entry in other.taxa]
    elsewhere = next(
        taxon
        for taxon in taxa()
        if taxon.rank == "species" and not any(taxon.is_a(entry) for entry in same_code)
    )
    answer = work_out(replace(meeting(stop), taxon=elsewhere), FACTS)
    assert not spoken(answer, stop)


@every()
def test_is_silent_without_each_of_its_conditions(stop: HardStop) -> None:
    asked = meeting(stop)
    softer: list[DoseRequest] = []
    if stop.above_mg_per_kg is not None:
        softer.append(replace(asked, dose_mg_per_kg=stop.above_mg_per_kg))
    if stop.concentration_from_mg_per_ml is not None:
        softer.append(replace(asked, concentration_mg_per_ml=stop.concentration_from_mg_per_ml / 2))
    if stop.routes:
        softer.append(replace(asked, route="TOP"))
    if stop.findings:
        softer.append(replace(asked, findings=frozenset()))
    if stop.with_drugs or stop.with_classes:
        softer.append(replace(asked, other_drugs=()))
        softer.append(replace(asked, other_drugs=(OtherDrug("nitazoxanide"), OtherDrug("unheard of"))))
    if stop.with_drugs or stop.with_classes:
        days = stop.within_days or FACTS.rule("other-drug-active").at_high()
        softer.append(replace(asked, other_drugs=other_drugs(stop, int(days) + 1)))
    if stop.doses_at_least is not None:
        softer.append(replace(asked, doses_planned=stop.doses_at_least - 1))
    if stop.interval_at_most_hours is not None:
        softer.append(replace(asked, interval_hours=stop.interval_at_most_hours + 1))
    assert softer or "any" not in stop.taxa or stop.drugs
    for request in softer:
        assert not spoken(work_out(request, FACTS), stop)


@every(lambda stop: stop.findings or stop.with_drugs or stop.with_classes or stop.doses_at_least)
def test_is_named_as_not_checked_when_nobody_asked(stop: HardStop) -> None:
    blind = replace(meeting(stop), findings=None, other_drugs=None, doses_planned=None)
    answer = work_out(blind, FACTS)
    assert not spoken(answer, stop)
    assert stop.code in {reason.code for reason in answer.not_checked}


@every(lambda stop: stop.refuses)
def test_only_a_specialists_word_lifts_it_if_anything_does(stop: HardStop) -> None:
    worded = replace(meeting(stop), specialist_word="Dr. Ode Fenn, 2026-03-01")
    answer = work_out(worded, FACTS)
    lifted = stop.action == "refuse-unless-specialist"
    assert spoken(answer, stop) != lifted
    assert (stop.code in answer.to_confirm) == lifted


@settings(deadline=None)
@given(
    drug=st.sampled_from(IVERMECTIN_FAMILY),
    animal=st.sampled_from([t for t in taxa() if t.order in ("Testudines", "Crocodylia")]),
    dose=st.decimals("0.0001", "50", places=4),
    route=st.sampled_from(["", "PO", "SC", "IM", "TOP", "ICe"]),
    word=st.sampled_from(["", "Dr. Ode Fenn, 2026-03-01"]),
    bare=st.booleans(),
)
def test_no_turtle_and_no_crocodile_ever_gets_the_ivermectin_family(
    drug: str, animal: Taxon, dose: Decimal, route: str, word: str, bare: bool
) -> None:
    request = DoseRequest(
        weight_g=900,
        dose_mg_per_kg=dose,
        concentration_mg_per_ml=10,
        drug=drug,
        taxon=animal,
        route=route,
        specialist_word=word,
        arithmetic_only=bare,
    )
    answer = work_out(request, FACTS)
    assert answer.refused
    assert answer.volume_ml is None


@pytest.mark.parametrize(
    "animal", ["Colubridae", "snake", "Squamata", "lizard or snake", "Viperidae", "Crotalus"]
)
def test_a_name_too_wide_to_rule_a_stop_out_asks_for_the_species(animal: str) -> None:
    taxon = resolve_taxon(animal)
    assert taxon is not None
    request = DoseRequest(
        weight_g=900, dose_mg_per_kg=60, concentration_mg_per_ml=40, drug="metronidazole", taxon=taxon
    )
    answer = work_out(request, FACTS)
    assert "species-needed" in {reason.code for reason in answer.reasons}


@pytest.mark.parametrize(
    "group", ["tortoise", "turtle", "snake", "lizard", "gecko", "chameleon", "crocodilian"]
)
@pytest.mark.parametrize(
    "drug", ["metronidazole", "ivermectin", "praziquantel", "levamisole", "sulfadimethoxine"]
)
def test_the_group_alone_is_not_enough_for_a_drug_with_a_hard_stop(group: str, drug: str) -> None:
    request = DoseRequest(
        weight_g=900, dose_mg_per_kg=5, concentration_mg_per_ml=40, drug=drug, taxon=group_taxon(group)
    )
    assert "species-needed" in {reason.code for reason in work_out(request, FACTS).reasons}


def test_the_group_is_enough_where_no_stop_asks_for_the_species() -> None:
    request = DoseRequest(
        weight_g=900,
        dose_mg_per_kg=50,
        concentration_mg_per_ml=100,
        drug="fenbendazole",
        taxon=group_taxon("tortoise"),
        interval_hours=336,
    )
    assert work_out(request, FACTS).draw_ml == Decimal("0.45")


def test_a_drug_is_known_by_its_other_generic_names() -> None:
    request = DoseRequest(
        weight_g=900,
        dose_mg_per_kg=1,
        concentration_mg_per_ml=10,
        drug="Imidacloprid + Moxidectin",
        taxon=resolve_taxon("sulcata"),
        arithmetic_only=True,
    )
    assert "stop-macrocyclic-lactone-chelonian" in {
        reason.code for reason in work_out(request, FACTS).reasons
    }
