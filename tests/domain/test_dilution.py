"""Thinning a drug: the recipe can be mixed with real syringes, and the mass of drug stays what was ordered."""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.dilution import Recipe, chain_error, factors, read_factor, too_strong_by, ways, whole
from fecallab.domain.dosing import DilutionOrder, DoseAnswer
from fecallab.domain.errors import BadInput
from fecallab.domain.syringe import with_size
from fecallab.reference.drugs import dose_facts, syringes

_spec = importlib.util.spec_from_file_location("care_cases", Path(__file__).with_name("care_cases.py"))
assert _spec is not None and _spec.loader is not None
care = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(care)
thinned, OIL, cases = care.thinned, care.OIL, care.cases


def made(answer: DoseAnswer) -> Recipe:
    assert answer.dilution is not None, answer.reasons
    return answer.dilution


def codes(answer: DoseAnswer) -> set[str]:
    return {reason.code for reason in answer.reasons}


def test_the_smallest_dilution_that_can_be_measured_is_taken_and_the_dose_stays() -> None:
    answer = thinned()
    recipe = made(answer)
    assert (recipe.factor, recipe.concentration_mg_per_ml) == (5, 2)
    assert (answer.volume_ml, answer.draw_ml) == (Decimal("0.06"), Decimal("0.06"))
    assert answer.delivered_mg_per_kg == Decimal("0.2")


def test_by_mouth_a_dilution_that_fits_a_syringe_without_a_needle_is_preferred() -> None:
    answer = thinned(route="PO")
    assert made(answer).factor == 20
    assert (answer.draw_ml, answer.syringe_key) == (Decimal("0.24"), "oral-one")


def test_a_dilution_that_the_vet_wrote_is_followed() -> None:
    answer = thinned(replace(OIL, factor=10, stock_draw_ml=Decimal("0.5")))
    step = made(answer).steps[0]
    assert (step.stock_ml, step.diluent_ml, step.total_ml) == (Decimal("0.5"), Decimal("4.5"), 5)
    assert answer.draw_ml == Decimal("0.12")


def test_more_than_one_in_twenty_goes_in_two_steps_and_never_in_three() -> None:
    recipe = made(thinned(weight_g=100))
    assert len(recipe.steps) == 2
    assert recipe.factor == whole([step.factor for step in recipe.steps])
    assert recipe.steps[1].stock_mg_per_ml == recipe.steps[0].concentration_mg_per_ml
    assert recipe.steps[0].total_ml >= recipe.steps[1].stock_ml
    assert codes(thinned(weight_g=2)) == {"dilution-too-many-steps"}
    assert max(len(way) for way in ways(dose_facts())) == 2


def test_a_dose_that_can_be_measured_is_not_thinned() -> None:
    answer = cases.ask(dilution=OIL)
    assert answer.dilution is None
    assert answer.draw_ml == Decimal("0.21")


def test_without_a_named_liquid_the_refusal_says_which_dilution_to_ask_for() -> None:
    answer = thinned(None)
    assert "volume-too-small" in codes(answer)
    reason = next(reason for reason in answer.reasons if reason.code == "volume-too-small")
    assert "Thinned 1 in 5 it could be measured" in reason.next
    assert "with what liquid" in reason.next


@pytest.mark.parametrize(
    "order",
    [
        replace(OIL, diluent=" "),
        replace(OIL, named_by=""),
        replace(OIL, role="keeper"),
        replace(OIL, role="breeder"),
    ],
)
def test_only_a_vet_or_pharmacist_names_the_liquid(order: DilutionOrder) -> None:
    answer = thinned(order)
    assert codes(answer) == {"dilution-diluent-missing"}
    assert not thinned(replace(OIL, role="pharmacist")).refused


def test_mixing_in_the_dosing_syringe_is_refused_with_how_wrong_it_would_be() -> None:
    answer = thinned(replace(OIL, mixed_in="dosing syringe"))
    assert "59 % too strong" in answer.reasons[0].text
    assert too_strong_by(Decimal("0.1"), Decimal(1), Decimal(0)) == 0


def test_it_is_discarded_after_the_session_unless_the_pharmacist_gave_a_day() -> None:
    assert "end of this session" in made(thinned()).discard
    dated = replace(OIL, role="pharmacist", discard_on=date(2026, 3, 20))
    assert "20 March 2026" in made(thinned(dated)).discard


def test_the_recipe_is_told_in_acts_each_with_its_own_syringe() -> None:
    lines = made(thinned(replace(OIL, factor=10, stock_draw_ml=Decimal("0.2")))).lines()
    assert lines[0].startswith("Draw 0.2 ml from the bottle, shaken, with a 1 ml syringe")
    assert "Add 1.8 ml" in lines[1]
    assert "another syringe of 2 ml" in lines[1]
    assert "1 mg per ml" in lines[1]
    assert "Dr. Iva Marrow" in lines[1]
    assert len(lines) == 4


@pytest.mark.parametrize(
    ("text", "factor"),
    [("1 in 10", 10), ("one in 10", 10), ("1 part in 20", 20), ("1 + 9", 10), ("1+3", 4), ("1 in 50", 50)],
)
def test_one_in_ten_is_one_part_and_nine_parts(text: str, factor: int) -> None:
    assert read_factor(text, dose_facts()) == factor


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("1:10", "dilution-ratio"),
        ("1 : 10", "dilution-ratio"),
        ("1/10", "dilution-ratio"),
        ("1 in 7", "dilution-factor-unknown"),
        ("10", "dilution-factor-unknown"),
        ("1 in 1000", "dilution-factor-unknown"),
        ("", "dilution-factor-unknown"),
        ("ten fold", "dilution-factor-unknown"),
    ],
)
def test_a_ratio_and_anything_else_are_not_guessed(text: str, code: str) -> None:
    with pytest.raises(BadInput) as caught:
        read_factor(text, dose_facts())
    assert caught.value.reason.code == code
    assert caught.value.reason.next


def test_the_error_of_the_chain_is_the_root_of_the_sum_of_squares_of_every_draw() -> None:
    recipe = made(thinned(weight_g=100))
    shares = [share for step in recipe.steps for share in step.error_shares]
    assert len(shares) == 4
    own = Decimal("0.07")
    expected = sum(float(share) ** 2 for share in (*shares, own)) ** 0.5
    assert float(recipe.error_share(own)) == pytest.approx(expected)
    assert recipe.error_share(own) > recipe.error_share() > max(shares)
    assert chain_error([]) == 0


def test_a_large_error_of_the_chain_refuses_a_narrow_margin_drug_and_warns_of_another() -> None:
    """Ivermectin has a narrow margin, toltrazuril an ordinary one; 1 in 50 of a small draw is off by as much."""
    order = replace(OIL, factor=50, stock_draw_ml=Decimal("0.2"))
    assert codes(thinned(order, weight_g=60)) == {"dilution-error-too-large"}
    ordinary = thinned(
        order,
        drug="toltrazuril",
        animal="bearded dragon",
        weight_g=6,
        dose=10,
        strength=50,
        interval_hours=24,
    )
    limit = dose_facts().rule("dilution-error-too-large").at_high()
    assert not ordinary.refused
    assert "dilution-error" in {warning.code for warning in ordinary.warnings}
    assert made(ordinary).error_share(Decimal("0.1")) > limit


WEIGHTS = st.decimals("3", "2000", places=1)
DOSES = st.sampled_from([Decimal(text) for text in ("0.1", "0.2", "0.3", "0.4")])


@given(
    weight=WEIGHTS,
    dose=DOSES,
    factor=st.sampled_from([None, *factors(dose_facts()), 40, 100]),
    route=st.sampled_from(["", "PO", "SC"]),
)
def test_a_dilution_never_changes_the_mass_of_drug(
    weight: Decimal, dose: Decimal, factor: int | None, route: str
) -> None:
    answer = thinned(replace(OIL, factor=factor), weight_g=weight, dose=dose, route=route)
    assert answer.refused == (answer.draw_ml is None)
    if answer.dilution is None or answer.volume_ml is None:
        return
    recipe = answer.dilution
    mass = Fraction(weight) * Fraction(dose) / 1000
    assert Fraction(answer.volume_ml) * Fraction(recipe.concentration_mg_per_ml) == mass
    for step in recipe.steps:
        drawn = Fraction(step.stock_ml) * Fraction(step.stock_mg_per_ml)
        in_vial = Fraction(step.total_ml) * Fraction(step.concentration_mg_per_ml)
        assert drawn == in_vial
    assert recipe.steps[0].stock_mg_per_ml == 10
    assert recipe.steps[-1].total_ml >= answer.volume_ml


@given(weight=WEIGHTS, dose=DOSES)
def test_every_draw_of_a_recipe_ends_on_a_mark_of_a_syringe_that_holds_it(
    weight: Decimal, dose: Decimal
) -> None:
    answer = thinned(weight_g=weight, dose=dose)
    for step in answer.dilution.steps if answer.dilution else ():
        for volume, size in (
            (step.stock_ml, step.stock_syringe_ml),
            (step.diluent_ml, step.diluent_syringe_ml),
        ):
            syringe = with_size(size, [item for item in syringes() if item.mixes])
            assert syringe is not None
            assert volume <= size
            assert volume % syringe.graduation_ml == 0
        least = dose_facts().rule("dilution-stock-draw-too-small").at_low()
        assert step.stock_ml >= least


@given(
    diluent=st.text(max_size=8),
    by=st.text(max_size=5),
    role=st.sampled_from(["vet", "pharmacist", "keeper", ""]),
    factor=st.one_of(st.none(), st.integers(-3, 500)),
    stock=st.one_of(st.none(), st.decimals("-1", "30", places=2)),
    place=st.sampled_from(["vial", "Vial ", "dosing syringe", ""]),
)
def test_whatever_is_ordered_ends_in_a_volume_or_a_way_forward(
    diluent: str, by: str, role: str, factor: Any, stock: Any, place: str
) -> None:
    order = DilutionOrder(
        diluent=diluent, named_by=by, role=role, factor=factor, stock_draw_ml=stock, mixed_in=place
    )
    answer = thinned(order)
    assert (answer.draw_ml is None) == bool(answer.reasons)
    assert all(reason.next for reason in answer.reasons)
