"""Own arithmetic about dilutions and tubes without a published example (kind: computed), kept as regression."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from fecallab.domain.dilution import chain_error
from fecallab.domain.dose_tube import check_tube, tube_figures
from fecallab.domain.dosing import (
    DilutionOrder,
    DoseRequest,
    Found,
    TubeUse,
    stock_needed_ml,
    volume_ml,
    work_out,
)
from fecallab.reference.care import tube_sizes
from fecallab.reference.drugs import dose_facts
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


@rows("W27", "W28")
def test_the_whole_recipe_of_a_dilution(row: dict[str, Any]) -> None:
    """The liquid is named by an invented vet; the amount of stock drawn is the example's own."""
    given, result = row["given"], row["result"]
    animal, drug = ("ball python", "ivermectin") if row["id"] == "W27" else ("corn snake", "fenbendazole")
    order = DilutionOrder(
        diluent="the vehicle of the vet's sheet",
        named_by="Dr. Iva Marrow",
        factor=given["factor"],
        stock_draw_ml=number(result["stock_ml"]),
    )
    request = DoseRequest(
        weight_g=given["weight_g"],
        dose_mg_per_kg=given["dose_mg_per_kg"],
        concentration_mg_per_ml=given["stock_mg_per_ml"],
        drug=drug,
        taxon=resolve_taxon(animal),
        interval_hours=336,
        dilution=order,
    )
    answer = work_out(request, dose_facts())
    recipe = answer.dilution
    assert recipe is not None
    assert answer.draw_ml is not None
    assert len(recipe.steps) == 1
    step = recipe.steps[0]
    assert (step.stock_ml, step.diluent_ml, step.total_ml) == (
        number(result["stock_ml"]),
        number(result["diluent_ml"]),
        number(result["total_ml"]),
    )
    assert recipe.concentration_mg_per_ml == number(result["c2_mg_per_ml"])
    assert answer.draw_ml == number(result["diluted_ml"])
    assert answer.draw_ml * recipe.concentration_mg_per_ml == number(result["dose_mg"])
    undiluted = volume_ml(
        number(given["weight_g"]), number(given["dose_mg_per_kg"]), number(given["stock_mg_per_ml"])
    )
    assert undiluted == number(result["undiluted_ml"])


@rows("W29")
def test_making_a_weaker_liquid(row: dict[str, Any]) -> None:
    """100 to 5 mg per ml is 1 in 20: 0.5 ml and 9.5 ml make 10 ml."""
    given, result = row["given"], row["result"]
    factor = number(given["c1"]) / number(given["c2"])
    order = DilutionOrder(
        diluent="the vehicle of the vet's sheet",
        named_by="Dr. Iva Marrow",
        factor=int(factor),
        stock_draw_ml=number(result["v1_ml"]),
    )
    request = DoseRequest(
        weight_g=40,
        dose_mg_per_kg=25,
        concentration_mg_per_ml=given["c1"],
        drug="fenbendazole",
        taxon=resolve_taxon("corn snake"),
        interval_hours=336,
        dilution=order,
    )
    recipe = work_out(request, dose_facts()).dilution
    assert recipe is not None
    step = recipe.steps[0]
    assert (step.diluent_ml, step.total_ml) == (number(result["diluent_ml"]), number(given["v2"]))
    assert recipe.concentration_mg_per_ml == number(given["c2"])


@rows("W45", "W46", "W47")
def test_what_a_tube_holds(row: dict[str, Any]) -> None:
    """The inner diameters are typical ones, from memory, and stand so in the table of tubes."""
    given, result = row["given"], row["result"]
    french, inner, length = (
        number(given["fr"]),
        number(given["id_mm"]),
        number(given["length_cm"]) * 10,
    )
    outer, held = tube_figures(french, inner, length, dose_facts())
    assert held is not None
    assert float(outer) == close(result["od_mm"], row)
    assert float(held) == close(result["dead_ml"], row)
    size = next(item for item in tube_sizes() if item.french == french)
    assert (size.typical_inner_diameter_mm, size.inner_source_kind) == (inner, "memory")


@rows("W48")
def test_a_dose_smaller_than_the_tube_goes_by_flush_and_all_of_it_counts(row: dict[str, Any]) -> None:
    given, result = row["given"], row["result"]
    dose, dead = number(given["dose_ml"]), number(given["dead_ml"])
    for way, refused in (("flush", set()), ("overfill", {"tube-overfill-too-small"})):
        found = Found(dose_facts())
        answer = check_tube(
            dose, Decimal(850), TubeUse(priming_ml=dead, way=way), resolve_taxon("sulcata"), False, found
        )
        assert {reason.code for reason in found.reasons} == refused
        if answer is not None:
            assert float(answer.flush_ml) == close(result["flush_planned_ml"], row)
            assert float(answer.into_stomach_ml) == close(result["total_gastric_ml"], row)
            assert float(answer.priming_ml) == close(result["flush_min_ml"], row)
    assert dose < dead


@rows("W62")
def test_three_draws_of_five_percent(row: dict[str, Any]) -> None:
    shares = [number(percent) / 100 for percent in row["given"]["errors_percent"]]
    assert float(chain_error(shares) * 100) == close(row["result"]["rss_percent"], row)


def test_what_a_course_needs_from_the_bottle() -> None:
    """Note of W25 (computed): 21 doses of 0.31 ml are 6.51 ml, with a tenth more 7.16 ml."""
    needed = stock_needed_ml(Decimal("0.31"), 21, dose_facts())
    assert round(needed, 2) == Decimal("7.16")
    assert stock_needed_ml(
        Decimal("0.31"), 21, dose_facts(), lost_per_dose_ml=Decimal("0.07")
    ) == needed + Decimal("1.47")


def test_a_mixture_made_in_the_dosing_syringe_is_too_strong() -> None:
    """0.10 ml of drug filled up to 1.00 ml over 0.07 ml of dead space: 1.589 times (computed)."""
    from fecallab.domain.dilution import too_strong_by

    assert float(1 + too_strong_by(Decimal("0.1"), Decimal(1), Decimal("0.07"))) == pytest.approx(
        1.589, abs=5e-4
    )
