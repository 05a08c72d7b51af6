"""Published worked fluids, tubes and tube feeds (kind: read), and published harm and limits beside them.

The source of each example stands in its row of ``data/worked_examples.json``. Own arithmetic without a
published example is apart, in ``test_worked_care_computed.py``.
"""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from fecallab.domain.dose_tube import check_tube, tube_figures
from fecallab.domain.dosing import Found, TubeUse
from fecallab.domain.fluids import FluidOrder, day_volume_ml, work_out_fluids
from fecallab.domain.tube import outer_diameter_mm
from fecallab.reference.care import fluid_products, fluid_rates, gavage_limits
from fecallab.reference.drugs import citation, dose_facts
from fecallab.reference.taxa import resolve_taxon

ROWS: dict[str, dict[str, Any]] = {
    row["id"]: row
    for row in json.loads(
        (Path(__file__).parent / "data" / "worked_examples.json").read_text(encoding="utf-8")
    )
}


def rows(*names: str) -> pytest.MarkDecorator:
    """Run a test once for each of these examples; the kind of source stands in the test's id."""
    chosen = [ROWS[name] for name in names]
    ids = [f"{row['id']}-{row['source_kind'].split(',')[0]}" for row in chosen]
    return pytest.mark.parametrize("row", chosen, ids=ids)


def close(value: float, row: dict[str, Any]) -> Any:
    return pytest.approx(value, rel=row["rel_tolerance"])


def number(value: Any) -> Decimal:
    return Decimal(str(value))


@rows("W05")
def test_published_fluids_of_a_day_and_the_reptile_ceiling_beside_them(row: dict[str, Any]) -> None:
    """A dog's rate: the arithmetic holds, and the tool refuses it as above anything for a reptile."""
    weight_g, amount = number(row["given"]["weight_kg"]) * 1000, number(row["given"]["ml_per_kg_day"])
    total = day_volume_ml(weight_g, amount)
    assert float(total) == close(row["result"]["ml_per_day"], row)
    assert float(total / 24) == close(row["result"]["ml_per_hour"], row)
    answer = work_out_fluids(FluidOrder(weight_g=weight_g, ml_per_kg=amount), dose_facts())
    assert {reason.code for reason in answer.reasons} == {"fluids-too-much"}


@rows("W17")
def test_published_food_by_tube_needs_the_vets_volume(row: dict[str, Any]) -> None:
    """5 to 10 % is food for a stable snake; drug and fluid stay at 2 % unless the vet wrote the volume."""
    weight = number(row["given"]["weight_g"])
    limit = next(item for item in gavage_limits() if item.key == "snake-food")
    assert limit.source_kind == "read"
    volumes = limit.volumes_ml(weight)
    for volume, expected in zip(volumes, row["result"]["volume_ml"], strict=True):
        assert float(volume) == close(expected, row)
        for written, refused in ((None, True), (volume, False)):
            found = Found(dose_facts())
            use = TubeUse(
                priming_ml="0.05",
                way="flush",
                flush_ml="0.05",
                hours_since_meal=200,
                total_written_ml=written,
            )
            snake = resolve_taxon("corn snake")
            answer = check_tube(volume - Decimal("0.05"), weight, use, snake, False, found)
            assert (answer is None) == refused
            assert ("stomach-too-full" in {reason.code for reason in found.reasons}) == refused


@rows("W19")
def test_published_french_size_is_the_outer_diameter(row: dict[str, Any]) -> None:
    outer = outer_diameter_mm(number(row["given"]["fr"]))
    assert float(outer) == close(row["result"]["od_mm"], row)
    assert tube_figures(number(row["given"]["fr"]), None, Decimal(400), dose_facts()) == (outer, None)


@rows("W22")
def test_published_pair_of_ml_and_ml_per_kg(row: dict[str, Any]) -> None:
    """12 ml was equated to 40 ml per kg in juvenile desert tortoises: an animal of 300 g."""
    weight_g = number(row["result"]["implied_weight_kg"]) * 1000
    answer = work_out_fluids(
        FluidOrder(weight_g=weight_g, ml_per_kg=row["given"]["ml_per_kg"], route="PO", times=2), dose_facts()
    )
    assert answer.total_ml is not None
    assert float(answer.total_ml) == close(row["given"]["ml"], row)
    assert "fluids-much" in {warning.code for warning in answer.warnings}


READ_LIMITS = [
    ("snake-fluid", 2, 2, "wikivet-snake-care"),
    ("snake-capacity", 2, 5, "lafeber-hospital-snake"),
    ("snake-food", 5, 10, "lafeber-nutrition"),
    ("box-turtle-food-first-days", "0.5", "0.5", "box-turtle-sheet"),
    ("box-turtle-food", 2, 2, "box-turtle-sheet"),
    ("tortoise-water", 4, 4, "tortoise-handout"),
]


@pytest.mark.parametrize(("key", "low", "high", "source"), READ_LIMITS)
def test_published_volumes_of_a_stomach(key: str, low: Any, high: Any, source: str) -> None:
    row = next(item for item in gavage_limits() if item.key == key)
    assert (row.low_percent, row.high_percent) == (number(low), number(high))
    assert (row.source, row.source_kind) == (source, "read")
    assert citation(source)


READ_RATES = [
    ("maintenance", 10, 30, "lafeber-fluids"),
    ("loggerhead-trial", 20, 20, "camacho-2015"),
    ("tortoise-tube", 40, 40, "tortoise-handout"),
    ("desert-tortoise", 40, 40, "desert-tortoise-water"),
]


@pytest.mark.parametrize(("key", "low", "high", "source"), READ_RATES)
def test_published_fluids_of_a_day_by_source(key: str, low: int, high: int, source: str) -> None:
    row = next(item for item in fluid_rates() if item.key == key)
    assert (row.low_ml_per_kg, row.high_ml_per_kg, row.source, row.source_kind) == (low, high, source, "read")


def test_published_osmolarity_of_the_usual_fluids() -> None:
    """Lactated Ringer's 273 and a balanced solution with acetate 294 mOsm per l (dvm360 proceedings, read)."""
    known = {row.key: row for row in fluid_products()}
    assert known["ringer-lactate"].osmolarity_mosm_per_l == 273
    assert known["balanced-acetate"].osmolarity_mosm_per_l == 294
    assert known["saline"].osmolarity_mosm_per_l is None
