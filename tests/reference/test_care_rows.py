"""Every row about tubes, stomach volumes, fluids and warmth: figures, sources, animals that exist."""

from __future__ import annotations

from decimal import Decimal

import pytest

from fecallab.domain.dosing import read_route
from fecallab.domain.tube import outer_diameter_mm
from fecallab.reference.care import (
    fluid_products,
    fluid_rates,
    gavage_limits,
    tube_landmarks,
    tube_sizes,
    warm_range,
)
from fecallab.reference.drugs import citation, dose_facts
from fecallab.reference.hosts import hosts
from fecallab.reference.tables import parts, read_rows
from fecallab.reference.taxa import taxa

TABLES = ("tubes", "tube_marks", "gavage_limits", "fluid_products", "fluid_rates", "warm_ranges")
SOURCE_KIND = {row["id"]: row["kind"] for row in read_rows("dose_sources")}


@pytest.mark.parametrize("table", TABLES)
def test_keys_are_unique_and_every_source_resolves_to_its_kind(table: str) -> None:
    rows = read_rows(table)
    assert len({row["key"] for row in rows}) == len(rows)
    for row in rows:
        for column in (name for name in row if name.endswith("source")):
            if not row[column]:
                continue
            assert citation(row[column])
            kinds = {SOURCE_KIND[key] for key in parts(row[column])}
            assert row[f"{column}_kind"] in kinds


@pytest.mark.parametrize("table", ["tube_marks", "gavage_limits", "warm_ranges"])
def test_every_animal_named_is_in_the_table_of_animals(table: str) -> None:
    for row in read_rows(table):
        for entry in parts(row["taxa"]):
            assert any(taxon.is_a(entry) for taxon in taxa()), f"{row['key']}: {entry}"


def test_inner_diameters_are_from_memory_and_smaller_than_the_outer_ones() -> None:
    for size in tube_sizes():
        assert 0 < size.typical_inner_diameter_mm < outer_diameter_mm(size.french)
        assert size.inner_source_kind == "memory"
        assert "weigh" in size.note


def test_landmarks_ask_for_a_length_on_the_animal() -> None:
    for row in tube_landmarks():
        assert "mm" in row.measure
        assert 0 < row.low_share <= row.high_share <= 1
    snake = next(row for row in tube_landmarks() if row.key == "snake")
    assert (snake.low_share, snake.high_share) == (Decimal("0.33"), Decimal("0.5"))


def test_no_published_stomach_volume_is_below_the_cap_for_weak_animals_or_above_the_highest() -> None:
    most = dose_facts().rule("stomach-beyond-published").at_high()
    assert max(row.high_percent for row in gavage_limits()) == most
    for row in gavage_limits():
        assert 0 < row.low_percent <= row.high_percent
        assert row.per in {"one time", "one day"}


def test_fluids_for_a_day_stay_at_or_below_the_ceiling_of_the_rules() -> None:
    ceiling = dose_facts().rule("fluids-too-much").at_high()
    for row in fluid_rates():
        assert 0 < row.low_ml_per_kg <= row.high_ml_per_kg <= ceiling
        assert all(read_route(route) == route for route in row.routes)
    for product in fluid_products():
        assert product.osmolarity_mosm_per_l is None or 200 < product.osmolarity_mosm_per_l < 400


def test_every_range_of_warmth_is_in_the_table_of_hosts_and_only_one_speaks_for_an_animal() -> None:
    for row in read_rows("warm_ranges"):
        assert hosts()[row["host"]].range_low_c is not None
    for taxon in taxa():
        speaking = [
            row["host"]
            for row in read_rows("warm_ranges")
            if any(taxon.is_a(entry) for entry in parts(row["taxa"]))
        ]
        assert len(speaking) <= 1, taxon.name
        found = warm_range(taxon)
        if found is not None:
            assert 15 < found.low_c <= found.high_c < 42
            assert found.low_c <= found.day_low_c <= found.day_high_c
