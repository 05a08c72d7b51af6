"""Published worked doses, units and roundings, and published harm as hard stops (kind: read).

The source of each example stands in its row of ``data/worked_examples.json``. Own arithmetic without a
published example is apart, in ``test_worked_doses_computed.py``; ``LATER`` names what no test uses, and why.
"""

from __future__ import annotations

import ast
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from fecallab.domain.dosing import (
    DoseRequest,
    volume_ml,
    work_out,
)
from fecallab.domain.errors import BadInput
from fecallab.domain.figures import read_figure
from fecallab.domain.syringe import Syringe, round_to_mark, with_size
from fecallab.reference.drugs import dose_facts, hard_stops, syringes
from fecallab.reference.taxa import resolve_taxon

ROWS: dict[str, dict[str, Any]] = {
    row["id"]: row
    for row in json.loads(
        (Path(__file__).parent / "data" / "worked_examples.json").read_text(encoding="utf-8")
    )
}

LATER = {
    "W56": "metabolic scaling stays out of the tool",
    "W57": "metabolic scaling stays out of the tool",
    "W58": "metabolic scaling stays out of the tool",
}
"""Examples that no test here uses, each with the reason."""


def rows(*names: str) -> pytest.MarkDecorator:
    """Run a test once for each of these examples; the kind of source stands in the test's id."""
    chosen = [ROWS[name] for name in names]
    ids = [f"{row['id']}-{row['source_kind'].split(',')[0]}" for row in chosen]
    return pytest.mark.parametrize("row", chosen, ids=ids)


def close(value: float, row: dict[str, Any]) -> Any:
    return pytest.approx(value, rel=row["rel_tolerance"])


def number(value: Any) -> Decimal:
    return Decimal(str(value))


def told(text: str, unit: str) -> str:
    """Return what a person is told to type instead."""
    with pytest.raises(BadInput) as caught:
        read_figure(text, unit, "--option")
    return caught.value.reason.next


@rows("W01")
def test_published_volume_from_a_percentage(row: dict[str, Any]) -> None:
    given, result = row["given"], row["result"]
    assert f"type {result['conc_mg_per_ml']}" in told(f"{given['conc_percent_wv']} %", "mg_per_ml")
    weight_g = number(given["weight_kg"]) * 1000
    volume = volume_ml(weight_g, number(given["dose_mg_per_kg"]), number(result["conc_mg_per_ml"]))
    assert float(volume) == close(result["volume_ml"], row)
    assert float(volume) == pytest.approx(result["volume_ml_exact"], abs=1e-6)
    request = DoseRequest(
        weight_g=weight_g,
        dose_mg_per_kg=given["dose_mg_per_kg"],
        concentration_mg_per_ml=result["conc_mg_per_ml"],
        arithmetic_only=True,
    )
    answer = work_out(request, dose_facts())
    assert answer.volume_ml == volume
    assert answer.draw_ml == Decimal("2.7")


@rows("W03")
def test_published_pounds_in_kg_within_the_rounding_of_the_factor(row: dict[str, Any]) -> None:
    said = told(f"{row['given']['weight_lb']} lb", "g")
    grams = float(said.rsplit(" is ", 1)[1].rstrip(".").replace("\N{NO-BREAK SPACE}", ""))
    assert grams / 1000 == close(row["result"]["weight_kg"], row)
    assert grams == pytest.approx(3.3 * 453.59237, rel=1e-5)


@rows("W04")
def test_published_dose_in_micrograms(row: dict[str, Any]) -> None:
    given, result = row["given"], row["result"]
    assert "0.006" in told(f"{given['dose_ug_per_kg']} µg/kg", "mg_per_kg")
    mass_mg = volume_ml(number(given["weight_kg"]) * 1000, Decimal("0.006"), Decimal(1))
    assert float(mass_mg) == close(result["dose_mg"], row)


@rows("W07", "W08", "W09", "W11", "W12", "W14")
def test_published_volume_from_a_stock(row: dict[str, Any]) -> None:
    """A dose mass is a dose per kg of an animal of one kg."""
    given = row["given"]
    mass = number(given.get("dose_mg", given.get("dose_units")))
    if "conc_mg_per_ml" in given:
        strength = number(given["conc_mg_per_ml"])
    else:
        strength = number(given.get("stock_mg", given.get("stock_units"))) / number(given["stock_ml"])
    assert float(volume_ml(Decimal(1000), mass, strength)) == close(row["result"]["volume_ml"], row)


@rows("W13")
def test_published_stock_in_micrograms(row: dict[str, Any]) -> None:
    assert "0.125" in told(f"{row['given']['tablet_ug']} µg/ml", "mg_per_ml")
    pieces = volume_ml(Decimal(1000), number(row["given"]["dose_mg"]), Decimal("0.125"))
    assert float(pieces) == close(row["result"]["tablets"], row)


@rows("W15")
def test_published_label_rate_per_pounds(row: dict[str, Any]) -> None:
    given, kg_per_lb = row["given"], Decimal("0.45359237")
    weight_g = number(given["weight_lb"]) * kg_per_lb * 1000
    ml_per_kg = number(given["ml"]) / (number(given["per_lb"]) * kg_per_lb)
    volume = float(volume_ml(weight_g, ml_per_kg, Decimal(1)))
    assert volume == close(row["result"]["volume_ml"], row)
    assert volume == pytest.approx(row["result"]["volume_ml_exact"], abs=1e-6)


@rows("W18")
def test_published_spot_on_carries_both_drugs_in_one_ml_per_kg(row: dict[str, Any]) -> None:
    strength = number(row["result"]["emodepside_mg_per_ml"])
    assert volume_ml(Decimal(1000), strength, strength) == row["given"]["ml_per_kg"]
    drug = next(item for item in dose_facts().drug_rows if item.key == "emodepside-tortoise")
    assert drug.dose_max_mg_per_kg == strength
    assert strength in {item.value for item in drug.known_concentrations}
    name = dose_facts().find_drug("emodepside")
    assert name is not None
    assert str(row["result"]["praziquantel_mg_per_ml"]) in name.note


@rows("W21")
def test_published_rounding_to_hundredths(row: dict[str, Any]) -> None:
    rounded = [round_to_mark(number(value), Decimal("0.01")) for value in row["given"]["values"]]
    assert [float(value) for value in rounded] == row["result"]["rounded"]


def syringe_of(nominal: float) -> Syringe:
    found = with_size(number(nominal), syringes())
    assert found is not None
    return found


def test_the_smtl_worked_tolerance_of_four_ml_in_a_ten_ml_syringe() -> None:
    """Phillips, SMTL 2016 (read): 4 ml from a 10 ml syringe, plus or minus 0.19 ml."""
    assert syringe_of(10).tolerance_ml(Decimal(4)) == Decimal("0.19")


READ_STOPS = [
    ("leopard tortoise", "ivermectin", "0.025", "stop-ivermectin-chelonian", "teare-bush-1983"),
    ("red-footed tortoise", "ivermectin", "0.4", "stop-ivermectin-chelonian", "teare-bush-1983"),
    ("Nile crocodile", "ivermectin", "0.2", "stop-macrocyclic-lactone-crocodilian", "vpis-2019"),
    ("eastern indigo snake", "metronidazole", "100", "stop-nitroimidazole-indigo", "carpenter-2018"),
    ("Arizona mountain kingsnake", "metronidazole", "100", "stop-nitroimidazole-kingsnake", "carpenter-2018"),
    ("Honduran milk snake", "metronidazole", "40.1", "stop-nitroimidazole-kingsnake", "carpenter-2018"),
    ("Uracoan rattlesnake", "metronidazole", "100", "stop-nitroimidazole-uracoan", "carpenter-2018"),
    ("bearded dragon", "metronidazole", "201", "stop-metronidazole-above-200", "carpenter-2018"),
    ("ball python", "praziquantel", "20.1", "stop-praziquantel-python", "klingenberg-praziquantel"),
    ("reticulated python", "praziquantel", "30", "stop-praziquantel-python", "klingenberg-praziquantel"),
    ("red-eared slider", "milbemycin oxime", "0.5", "stop-milbemycin-chelonian", "milbemycin-trial"),
]


@pytest.mark.parametrize(("animal", "drug", "dose", "code", "source"), READ_STOPS)
def test_doses_that_harmed_are_refused(animal: str, drug: str, dose: str, code: str, source: str) -> None:
    """Doses and animals of the published reports; the source key names the report that was read."""
    request = DoseRequest(
        weight_g=1500,
        dose_mg_per_kg=dose,
        concentration_mg_per_ml=40,
        drug=drug,
        taxon=resolve_taxon(animal),
        interval_hours=336,
    )
    answer = work_out(request, dose_facts())
    assert code in {reason.code for reason in answer.reasons}
    assert answer.draw_ml is None
    assert any(
        stop.code == code and source in stop.source and stop.source_kind == "read" for stop in hard_stops()
    )


def test_the_listed_dose_of_a_sensitive_snake_passes() -> None:
    """40 mg per kg once, again after 14 days, is the listed dose (Carpenter 2018, read)."""
    request = DoseRequest(
        weight_g=850,
        dose_mg_per_kg=40,
        concentration_mg_per_ml=40,
        drug="metronidazole",
        taxon=resolve_taxon("Lampropeltis pyromelana"),
        interval_hours=336,
    )
    assert work_out(request, dose_facts()).draw_ml == Decimal("0.85")


def test_every_example_is_used_or_named_with_a_reason() -> None:
    here = Path(__file__).parent
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in sorted(here.glob("test_worked_*.py"))]
    used = {
        argument.value
        for tree in trees
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "rows"
        for argument in node.args
        if isinstance(argument, ast.Constant)
    }
    assert used | set(LATER) == set(ROWS)
    assert not used & set(LATER)
    assert all(LATER.values())


def test_every_example_carries_its_source_and_kind() -> None:
    for row in ROWS.values():
        assert row["source"]
        assert row["source_kind"] in {"read", "computed", "read, result recomputed"}
