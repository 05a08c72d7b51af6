"""Fluids of a day: over places and times, with what is missing, below ceilings, by the vet's name for them."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.dosing import Found
from fecallab.domain.fluids import (
    FluidAnswer,
    FluidOrder,
    day_volume_ml,
    deficit_ml,
    ml_per_kg_with_deficit,
    work_out_fluids,
)
from fecallab.reference.care import fluid_products, fluid_rates
from fecallab.reference.drugs import dose_facts

FACTS = dose_facts()


def ask(ml_per_kg: Any, weight_g: Any = 350, **more: Any) -> FluidAnswer:
    return work_out_fluids(FluidOrder(weight_g=weight_g, ml_per_kg=ml_per_kg, **more), FACTS)


def codes(answer: FluidAnswer) -> set[str]:
    return {reason.code for reason in answer.reasons}


def warned(answer: FluidAnswer) -> set[str]:
    return {warning.code for warning in answer.warnings}


def test_the_day_is_divided_over_times_and_places() -> None:
    answer = ask(20, sites=2, times=2, route="under the skin")
    assert (answer.total_ml, answer.per_time_ml, answer.per_site_ml) == (7, Decimal("3.5"), Decimal("1.75"))
    assert not answer.warnings


@pytest.mark.parametrize(
    ("amount", "refused", "warning"),
    [("30", False, None), ("30.1", False, "fluids-much"), ("40", False, "fluids-much"), ("40.1", True, None)],
)
def test_above_thirty_is_warned_of_and_above_forty_refused(
    amount: str, refused: bool, warning: str | None
) -> None:
    answer = ask(amount, route="PO", times=3)
    assert answer.refused == refused
    assert codes(answer) == ({"fluids-too-much"} if refused else set())
    assert warned(answer) == ({warning} if warning else set())


def test_a_volume_that_the_vet_wrote_lifts_the_ceiling_only_when_it_is_this_volume() -> None:
    assert not ask(50, route="PO", volume_written_ml="17.5").refused
    assert codes(ask(50, route="PO", volume_written_ml="7")) == {"vet-volume-differs"}
    assert codes(ask(20, route="PO", volume_written_ml="70")) == {"vet-volume-differs"}


@pytest.mark.parametrize(
    ("route", "sites", "times", "refused"),
    [("SC", 2, 1, True), ("SC", 3, 1, False), ("SC", 1, 3, False), ("IM", 10, 1, True), ("PO", 1, 2, False)],
)
def test_one_place_takes_only_so_much(route: str, sites: int, times: int, refused: bool) -> None:
    answer = ask(25, route=route, sites=sites, times=times)
    assert codes(answer) == ({"fluids-per-site"} if refused else set())


def test_the_number_of_places_that_would_do_is_told() -> None:
    assert "at least 3 places" in ask(25, sites=2).warnings[0].text
    assert "at least 2 places" in ask(25, sites=1, times=2, route="SC").reasons[0].text


@pytest.mark.parametrize(("times", "refused"), [(1, True), (2, False)])
def test_by_mouth_no_more_than_two_percent_at_one_time(times: int, refused: bool) -> None:
    """25 ml per kg at once are 2.5 % of body weight, in two portions 1.25 %."""
    answer = ask(25, route="PO", times=times)
    assert codes(answer) == ({"stomach-too-full"} if refused else set())
    by_vet = ask(25, route="PO", times=times, volume_written_ml="8.75")
    assert not by_vet.refused
    assert ("stomach-by-vets-volume" in warned(by_vet)) == refused


@pytest.mark.parametrize("route", ["ICe", "into a vein", "IO"])
def test_body_cavity_vein_and_bone_are_the_practices(route: str) -> None:
    assert codes(ask(20, route=route)) == {"fluids-route-not-at-home"}


def test_in_a_plan_the_fluid_is_named_and_by_whom() -> None:
    assert codes(ask(20, by_plan=True)) == {"fluids-product-missing"}
    assert codes(ask(20, by_plan=True, product="lactated Ringer's solution")) == {"fluids-product-missing"}
    assert not ask(20, by_plan=True, product="0.9 % saline", named_by="Dr. Iva Marrow").refused


@pytest.mark.parametrize("weight", [0, -1, "inf", "abc", "1e12", None])
def test_no_volume_for_a_weight_that_is_none(weight: Any) -> None:
    answer = ask(20, weight)
    assert answer.refused
    assert answer.total_ml is None


@pytest.mark.parametrize("count", [0, -1, 13])
def test_places_and_times_are_counted_sensibly(count: int) -> None:
    assert codes(ask(20, sites=count)) == codes(ask(20, times=count)) == {"fluids-places-unlikely"}


def test_what_is_missing_is_given_back_over_three_days_unless_the_vet_says_otherwise() -> None:
    """350 g, 8 % dry: 28 ml missing, over 72 h 9.33 ml a day, besides 15 ml per kg."""
    found = Found(FACTS)
    amount = ml_per_kg_with_deficit(15, 8, None, found)
    assert amount is not None
    daily = day_volume_ml(Decimal(350), amount)
    assert float(daily) == pytest.approx(5.25 + 28 / 3)
    assert not found.warnings
    assert ml_per_kg_with_deficit(15, 8, 4, found) == 35
    assert ml_per_kg_with_deficit(15, 0, 9, found) == 15
    assert not found.warnings


@pytest.mark.parametrize(("days", "warned_of"), [("1.9", True), (2, False), (4, False), ("4.1", True)])
def test_two_to_four_days_are_usual(days: Any, warned_of: bool) -> None:
    found = Found(FACTS)
    ml_per_kg_with_deficit(15, 5, days, found)
    assert bool(found.warnings) == warned_of


@pytest.mark.parametrize(("dry", "days"), [(16, 3), (-1, 3), ("nan", 3), (5, 0), (5, -1), ("x", None)])
def test_a_dryness_that_cannot_be_is_refused(dry: Any, days: Any) -> None:
    found = Found(FACTS)
    assert ml_per_kg_with_deficit(15, dry, days, found) is None
    assert found.reasons[0].next


def test_common_practice_for_a_sick_small_chelonian_passes_without_a_word() -> None:
    """20 to 30 ml per kg in a day, so 7 to 10.5 ml for 350 g (common practice, no source)."""
    row = next(row for row in fluid_rates() if row.key == "small-chelonian")
    assert row.source_kind == "common practice"
    for amount, total in ((row.low_ml_per_kg, 7), (row.high_ml_per_kg, Decimal("10.5"))):
        answer = ask(amount, sites=3, times=1, route="SC")
        assert (answer.total_ml, answer.warnings) == (total, ())


def test_fluids_are_named_with_their_source_and_never_chosen() -> None:
    assert {product.key for product in fluid_products()} >= {"ringer-lactate", "saline"}
    assert all(product.source and product.source_kind == "read" for product in fluid_products())


@given(
    weight=st.decimals("1", "9000", places=1),
    amount=st.decimals("0.1", "40", places=1),
    sites=st.integers(1, 12),
    times=st.integers(1, 12),
)
def test_parts_make_the_whole_and_volume_follows_weight(
    weight: Decimal, amount: Decimal, sites: int, times: int
) -> None:
    answer = ask(amount, weight, sites=sites, times=times)
    assert answer.total_ml is not None and answer.per_site_ml is not None
    assert Fraction(answer.total_ml) == Fraction(weight) * Fraction(amount) / 1000
    parts = Fraction(answer.per_site_ml) * sites * times
    assert abs(parts - Fraction(answer.total_ml)) <= Fraction(1, 10**40)
    doubled = ask(amount, weight * 2, sites=sites, times=times).total_ml
    assert doubled == 2 * answer.total_ml
    assert deficit_ml(weight, amount) == weight * amount / 100


FIGURE = st.one_of(st.none(), st.floats(), st.integers(-9, 9**9), st.text(max_size=5))


@given(
    weight=FIGURE,
    amount=FIGURE,
    sites=st.integers(-1, 20),
    times=st.integers(-1, 20),
    route=st.sampled_from(["", "SC", "PO", "IM", "ICe", "sideways"]),
    written=FIGURE,
    by_plan=st.booleans(),
)
def test_whatever_comes_in_no_volume_leaves_while_a_rule_refuses(
    weight: Any, amount: Any, sites: int, times: int, route: str, written: Any, by_plan: bool
) -> None:
    answer = ask(
        amount, weight, sites=sites, times=times, route=route, volume_written_ml=written, by_plan=by_plan
    )
    assert answer.refused == bool(answer.reasons)
    plain = answer.as_dict()
    assert all((plain[key] is None) == answer.refused for key in ("total_ml", "per_time_ml", "per_site_ml"))
    assert all(reason.next for reason in answer.reasons)
