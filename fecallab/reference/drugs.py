"""Drugs, hard stops, syringes and dosing rules as typed rows, read once."""

from __future__ import annotations

from decimal import Decimal
from functools import cache

from fecallab.domain.dose_facts import DoseFacts, DoseRule, DrugName, DrugRow, HardStop, Strength
from fecallab.domain.syringe import Syringe
from fecallab.reference.tables import EDITION, parts, read_rows


def _exact(text: str) -> Decimal | None:
    """Return the figure in a cell exactly, or None for an empty one."""
    return Decimal(text) if text else None


def _needed(text: str) -> Decimal:
    """Return the figure in a cell that must be filled."""
    return Decimal(text)


def _strength(text: str) -> Strength:
    """Read a strength such as ``25 mg/ml memory``."""
    value, unit, kind = text.split(" ", 2)
    return Strength(Decimal(value), unit, kind)


@cache
def citation(keys: str) -> str:
    """Return the full words of one or more source keys, as written in a ``source`` cell."""
    known = {row["id"]: row["citation"] for row in read_rows("dose_sources")}
    return " | ".join(known[key] for key in parts(keys))


@cache
def drug_rows() -> tuple[DrugRow, ...]:
    """Return every published dose in the table."""
    return tuple(
        DrugRow(
            key=row["key"],
            drug=row["drug"],
            targets=parts(row["targets"]),
            taxa=parts(row["taxa"]),
            studied_in=row["studied_in"],
            use=row["use"],
            sets_range=row["sets_range"] == "yes",
            dose_min_mg_per_kg=_exact(row["dose_min_mg_per_kg"]),
            dose_max_mg_per_kg=_exact(row["dose_max_mg_per_kg"]),
            routes=parts(row["routes"]),
            interval_min_hours=_exact(row["interval_min_hours"]),
            interval_max_hours=_exact(row["interval_max_hours"]),
            course=row["course"],
            ceiling_mg_per_kg=_exact(row["ceiling_mg_per_kg"]),
            ceiling_basis=row["ceiling_basis"],
            narrow_margin=row["narrow_margin"] == "yes",
            hydration_first=row["hydration_first"] == "yes",
            component=row["component"],
            known_concentrations=tuple(_strength(item) for item in parts(row["known_concentrations"])),
            concentration_note=row["concentration_note"],
            caution=row["caution"],
            source=row["source"],
            source_kind=row["source_kind"],
            confidence=row["confidence"],
        )
        for row in read_rows("drugs")
    )


@cache
def drug_names() -> tuple[DrugName, ...]:
    """Return every drug by its generic names, with the classes that stops are written for."""
    return tuple(
        DrugName(
            row["drug"],
            parts(row["other_names"]),
            parts(row["classes"]),
            parts(row["components"]),
            row["note"],
        )
        for row in read_rows("drug_names")
    )


@cache
def hard_stops() -> tuple[HardStop, ...]:
    """Return the stops that no range can soften."""
    return tuple(
        HardStop(
            key=row["key"],
            code=row["code"],
            taxa=parts(row["taxa"]),
            within=parts(row["within"]),
            drugs=parts(row["drugs"]),
            classes=parts(row["classes"]),
            action=row["action"],
            overridden_by=row["overridden_by"],
            text=row["text"],
            next=row["next"],
            source=row["source"],
            source_kind=row["source_kind"],
            above_mg_per_kg=_exact(row["above_mg_per_kg"]),
            concentration_from_mg_per_ml=_exact(row["concentration_from_mg_per_ml"]),
            concentration_to_mg_per_ml=_exact(row["concentration_to_mg_per_ml"]),
            routes=parts(row["routes"]),
            findings=parts(row["findings"]),
            with_drugs=parts(row["with_drugs"]),
            with_classes=parts(row["with_classes"]),
            within_days=_exact(row["within_days"]),
            doses_at_least=int(row["doses_at_least"]) if row["doses_at_least"] else None,
            interval_at_most_hours=_exact(row["interval_at_most_hours"]),
            same_drug_counts=row["same_drug_counts"] == "yes",
        )
        for row in read_rows("hard_stops")
    )


@cache
def syringes() -> tuple[Syringe, ...]:
    """Return the syringes with their marks and tolerances."""
    return tuple(
        Syringe(
            key=row["key"],
            nominal_ml=_needed(row["nominal_ml"]),
            graduation_ml=_needed(row["graduation_ml"]),
            default=row["default"] == "yes",
            standard=row["standard"],
            tolerance_of_nominal=_needed(row["tolerance_of_nominal"]),
            tolerance_of_volume_below_half=_needed(row["tolerance_of_volume_below_half"]),
            tolerance_of_volume_from_half=_needed(row["tolerance_of_volume_from_half"]),
            units_per_ml=_exact(row["units_per_ml"]),
            tolerance_source_kind=row["tolerance_source_kind"],
            note=row["note"],
            kind=row["kind"],
            dead_space_ml=_needed(row["max_dead_space_ml"]),
        )
        for row in read_rows("syringes")
    )


@cache
def dose_rules() -> tuple[DoseRule, ...]:
    """Return the rule table of dosing."""
    return tuple(
        DoseRule(
            code=row["code"],
            scope=row["scope"],
            action=row["action"],
            when=row["when"],
            low=_exact(row["low"]),
            high=_exact(row["high"]),
            unit=row["unit"],
            needs=row["needs"],
            overridden_by=row["overridden_by"],
            ask=row["ask"],
            next=row["next"],
            source=row["source"],
            source_kind=row["source_kind"],
            note=row["note"],
            place=row["place"],
            override_role=row["override_role"],
            recorded_as=row["recorded_as"],
        )
        for row in read_rows("dose_rules")
    )


@cache
def dose_facts() -> DoseFacts:
    """Return everything that dosing needs, as one argument for ``fecallab.domain.dosing``."""
    return DoseFacts(drug_rows(), drug_names(), hard_stops(), syringes(), dose_rules(), EDITION)
