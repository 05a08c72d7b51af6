"""Every row about drugs, stops, syringes and dosing rules: figures, ranges, words and sources."""

from __future__ import annotations

from decimal import Decimal

import pytest

from fecallab.domain.dose_facts import OVERRIDE_ROLES, DoseRule, DrugRow, HardStop
from fecallab.domain.dosing import FINDINGS, DoseFacts
from fecallab.domain.syringe import Syringe
from fecallab.domain.taxon import HOST_GROUPS
from fecallab.reference.drugs import (
    citation,
    dose_facts,
    dose_rules,
    drug_names,
    drug_rows,
    hard_stops,
    syringes,
)
from fecallab.reference.tables import EDITION, parts, read_rows
from fecallab.reference.taxa import resolve_taxon, taxa

KINDS = {"read", "memory", "common practice", "derived"}
ROUTES = {"PO", "SC", "IM", "TOP", "ICe", "IV", "IO"}
ACTIONS = {"refuse", "refuse-unless-specialist", "warn", "warn-hard"}
USES = {"general", "study", "special indication", "older scheme", "loading scheme", "never"}
PLACES = {
    "every refusal",
    "word",
    "naming",
    "figures",
    "strength",
    "range",
    "amount",
    "syringe",
    "dilution",
    "tube",
    "fluids",
    "order",
    "bottle",
    "course",
    "weight",
    "animal today",
}
SOURCE_KIND = {row["id"]: row["kind"] for row in read_rows("dose_sources")}
DRUGS = {name.drug for name in drug_names()}
CLASSES = {item for name in drug_names() for item in name.classes}


def taxon_entry_exists(entry: str) -> bool:
    """Say whether a rule's taxon names an animal of the table."""
    rank, _, name = entry.partition(" ")
    if entry == "any":
        return True
    if rank == "host_group":
        return name in HOST_GROUPS
    return any(getattr(taxon, rank) == name for taxon in taxa())


@pytest.mark.parametrize("row", drug_rows(), ids=lambda row: row.key)
class TestDrugRows:
    def test_figures_are_ordered_and_in_reach(self, row: DrugRow) -> None:
        low, high, ceiling = row.dose_min_mg_per_kg, row.dose_max_mg_per_kg, row.ceiling_mg_per_kg
        if row.sets_range:
            assert low is not None
            assert high is not None
            assert 0 < low <= high <= 400
            assert ceiling is None or ceiling >= high
        if row.use == "never":
            assert (low, high, ceiling) == (0, 0, 0)
            assert not row.sets_range
        if row.interval_min_hours is not None:
            assert row.interval_max_hours is not None
            assert 3 <= row.interval_min_hours <= row.interval_max_hours <= 24 * 30

    def test_words_come_from_closed_lists_and_references_resolve(self, row: DrugRow) -> None:
        assert row.drug in DRUGS
        assert row.use in USES
        assert set(row.routes) <= ROUTES
        assert row.confidence in {"low", "medium", "high"}
        assert all(taxon_entry_exists(entry) for entry in row.taxa)
        assert row.taxa and row.targets and row.studied_in and row.course
        assert row.ceiling_basis or row.ceiling_mg_per_kg is None

    def test_a_special_row_sets_no_range(self, row: DrugRow) -> None:
        if row.use in {"special indication", "older scheme", "loading scheme", "never"}:
            assert not row.sets_range

    def test_source_and_kind_agree(self, row: DrugRow) -> None:
        kinds = {SOURCE_KIND[key] for key in parts(row.source)}
        assert row.source_kind in KINDS
        if row.source_kind == "read":
            assert "read" in kinds
        if row.source_kind == "memory":
            assert "memory" in kinds or row.source == "carpenter-2018"
        assert citation(row.source)

    def test_strengths_carry_a_unit_and_a_kind(self, row: DrugRow) -> None:
        for strength in row.known_concentrations:
            assert strength.unit in {"mg/ml", "mg/g"}
            assert Decimal("0.5") <= strength.value <= 400
            assert strength.source_kind in KINDS


def test_drug_rows_are_unique_and_every_formulary_drug_is_there() -> None:
    keys = [row.key for row in drug_rows()]
    assert len(set(keys)) == len(keys) == 65
    assert {row.drug for row in drug_rows()} >= {
        "metronidazole",
        "fenbendazole",
        "oxfendazole",
        "albendazole",
        "mebendazole",
        "thiabendazole",
        "pyrantel pamoate",
        "praziquantel",
        "ponazuril",
        "toltrazuril",
        "sulfadimethoxine",
        "trimethoprim-sulfonamide",
        "paromomycin",
        "nitazoxanide",
        "levamisole",
        "ivermectin",
        "milbemycin oxime",
        "moxidectin",
        "emodepside + praziquantel",
        "piperazine",
        "dimetridazole",
        "ronidazole",
    }


def test_one_drug_has_one_list_of_strengths() -> None:
    for drug in {row.drug for row in drug_rows()}:
        assert len({row.known_concentrations for row in drug_rows() if row.drug == drug}) == 1


def test_generic_names_are_unique_and_every_drug_has_a_class() -> None:
    names = [name.casefold() for entry in drug_names() for name in (entry.drug, *entry.other_names)]
    assert len(set(names)) == len(names)
    assert all(entry.classes for entry in drug_names())


@pytest.mark.parametrize("stop", hard_stops(), ids=lambda stop: stop.key)
class TestStops:
    def test_words_resolve(self, stop: HardStop) -> None:
        assert stop.action in ACTIONS
        assert stop.drugs or stop.classes
        assert set(stop.drugs) <= {*DRUGS, "any"}
        assert set(stop.classes) | set(stop.with_classes) <= CLASSES
        assert set(stop.with_drugs) <= DRUGS
        assert set(stop.findings) <= set(FINDINGS)
        assert set(stop.routes) <= ROUTES
        assert stop.taxa
        assert all(taxon_entry_exists(entry) for entry in stop.taxa)
        assert stop.code.split("-")[0] == ("stop" if stop.refuses else "warn")

    def test_says_why_and_shows_a_way_forward_with_a_source(self, stop: HardStop) -> None:
        assert stop.text.endswith(".")
        assert stop.next.endswith(".")
        assert stop.overridden_by
        assert stop.source_kind in KINDS
        assert citation(stop.source)
        if stop.source_kind == "read":
            assert "read" in {SOURCE_KIND[key] for key in parts(stop.source)}

    def test_the_wider_names_hold_every_taxon_of_the_stop(self, stop: HardStop) -> None:
        """Every animal that the stop is about must also be found through each wider name."""
        for name in stop.within:
            wider = resolve_taxon(name)
            assert wider is not None, name
            for entry in stop.taxa:
                hit = [taxon for taxon in taxa() if taxon.rank == "species" and taxon.is_a(entry)]
                assert hit
                assert any(
                    name in (taxon.genus, taxon.family, taxon.order, taxon.host_group)
                    or taxon.is_a(f"host_group {name}")
                    for taxon in hit
                ), name


def test_every_wider_latin_name_of_a_stop_is_listed() -> None:
    for stop in hard_stops():
        for entry in stop.taxa:
            rank, _, _ = entry.partition(" ")
            if rank not in ("species", "genus", "family"):
                continue
            for taxon in taxa():
                if taxon.rank == "species" and taxon.is_a(entry):
                    wider = [taxon.order, taxon.host_group]
                    wider += [taxon.family] if rank in ("species", "genus") else []
                    wider += [taxon.genus] if rank == "species" else []
                    assert set(wider) <= set(stop.within), stop.key


@pytest.mark.parametrize("rule", dose_rules(), ids=lambda rule: f"{rule.code}:{rule.scope}")
class TestRules:
    def test_says_when_who_may_override_and_what_next(self, rule: DoseRule) -> None:
        assert rule.action in {*ACTIONS, "say", "not-checked"}
        assert rule.when
        assert rule.next.endswith(".")
        assert rule.code == rule.code.lower().replace(" ", "-")
        if rule.action == "refuse":
            assert rule.overridden_by
            assert rule.ask.endswith("?") or rule.ask.endswith(".") or rule.low is not None

    def test_names_a_source_and_its_kind(self, rule: DoseRule) -> None:
        assert citation(rule.source)
        assert rule.source_kind in KINDS
        if rule.source_kind == "memory":
            assert "memory" in {SOURCE_KIND[key] for key in parts(rule.source)}

    def test_thresholds_have_a_unit(self, rule: DoseRule) -> None:
        assert bool(rule.unit) == (rule.low is not None or rule.high is not None)
        assert rule.needs in {"", "plan", "weight-date", "history", "animal-today", "bottle"}

    def test_says_who_may_lift_it_and_what_is_kept_then(self, rule: DoseRule) -> None:
        assert rule.place in PLACES
        if rule.action in ("say", "not-checked"):
            assert not rule.override_role
            return
        assert rule.override_role in OVERRIDE_ROLES
        assert rule.recorded_as
        by_action = {
            "warn": {"not-needed"},
            "warn-hard": {"vet", "typed-twice"},
            "refuse": {"nobody", "vet", "specialist", "vet-volume", "new-plan"},
        }
        assert rule.override_role in by_action[rule.action]


def test_rules_are_unique_by_code_and_scope() -> None:
    keys = [(rule.code, rule.scope) for rule in dose_rules()]
    assert len(set(keys)) == len(keys)


@pytest.mark.parametrize("syringe", syringes(), ids=lambda item: item.key)
def test_every_syringe_has_whole_marks_and_a_tolerance(syringe: Syringe) -> None:
    assert syringe.nominal_ml % syringe.graduation_ml == 0
    assert syringe.nominal_ml / syringe.graduation_ml >= 10
    assert 0 < syringe.tolerance_of_nominal < syringe.tolerance_of_volume_from_half < Decimal("0.1")
    assert 0 < syringe.tolerance_of_volume_below_half < syringe.tolerance_of_volume_from_half
    assert syringe.standard in {"ISO 7886-1", "ISO 8537", "as ISO 7886-1"}
    assert syringe.kind in {"insulin U-100", "slip tip", "oral"}
    assert 0 < syringe.dead_space_ml < Decimal("0.3")


def test_proposed_syringes_have_one_set_of_marks_per_size() -> None:
    sizes = [item.nominal_ml for item in syringes() if item.default and not item.oral]
    oral = [item.nominal_ml for item in syringes() if item.default and item.oral]
    assert len(set(sizes)) == len(sizes)
    assert len(set(oral)) == len(oral)
    assert {Decimal(text) for text in ("0.3", "0.5", "1", "2", "3", "5", "10")} <= set(sizes)


def test_sources_say_what_was_read() -> None:
    for row in read_rows("dose_sources"):
        assert row["kind"] in KINDS
        assert row["citation"]
        assert bool(row["what_was_read"]) == (row["kind"] == "read")


def test_the_facts_carry_the_edition_of_the_tables() -> None:
    facts = dose_facts()
    assert isinstance(facts, DoseFacts)
    assert facts.edition == EDITION
    with pytest.raises(KeyError):
        facts.rule("no-such-rule")
