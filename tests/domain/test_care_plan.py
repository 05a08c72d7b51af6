"""Today's care in the order in which it helps, with what is still open and what must wait."""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.care_plan import STATES, CareDone, CareLine, CareOrder, CareToday, care_today
from fecallab.domain.dosing import WarmthFloor, WarmthToday, WeightFact
from fecallab.domain.fluids import FluidOrder
from fecallab.reference.care import warm_range
from fecallab.reference.drugs import dose_facts
from fecallab.reference.taxa import resolve_taxon

_spec = importlib.util.spec_from_file_location("dosing_cases", Path(__file__).with_name("dosing_cases.py"))
assert _spec is not None and _spec.loader is not None
cases = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(cases)
TODAY = cases.TODAY
WARM = WarmthToday(warm_end_c=30, lowest_at_night_c=26)
ANIMAL = replace(
    cases.ANIMAL, warmth=WARM, warm_range=warm_range(resolve_taxon("corn snake")), hydration="normal"
)
RINGER = FluidOrder(
    weight_g="",
    ml_per_kg=20,
    sites=2,
    times=2,
    route="SC",
    product="lactated Ringer's solution",
    named_by="Dr. Iva Marrow",
)
ORDER = CareOrder(
    vet="Dr. Iva Marrow",
    fluids=RINGER,
    feeding="one small mouse, skinned",
    soak="20 minutes, belly deep",
    floor=WarmthFloor(night_at_least_c=24),
)
WEIGHT = WeightFact(weight_g=420, weighed_on=TODAY)


def ask(
    order: CareOrder = ORDER, weight: Any = WEIGHT, animal: Any = ANIMAL, *done: CareDone, **more: Any
) -> CareToday:
    return care_today(order, weight, TODAY, animal, done, dose_facts(), **more)


def line(care: CareToday, act: str) -> CareLine:
    return next(item for item in care.lines if item.act == act)


def test_warm_weigh_water_drug_food_is_the_order() -> None:
    care = ask(dose=cases.by_plan(weight=WEIGHT))
    assert [item.act for item in care.lines] == ["warmth", "weigh", "soak", "fluids", "drug", "watch", "food"]
    assert {item.state for item in care.lines} == {"done", "to do"}
    assert "Draw up 0.21 ml" in line(care, "drug").text
    assert not care.reasons


def test_what_is_left_of_the_fluids_is_told_with_each_portion() -> None:
    """420 g at 20 ml per kg: 8.4 ml, twice in two places 2.1 ml each."""
    before = line(ask(), "fluids").text
    assert "8.4 ml of lactated Ringer's solution" in before
    assert "2 times, each in 2 places, 2.1 ml each" in before
    assert "left 8.4 ml" in before
    half = ask(
        ORDER, WEIGHT, ANIMAL, CareDone(kind="fluids", amount="2.1"), CareDone(kind="fluids", amount=2.1)
    )
    assert "left 4.2 ml" in line(half, "fluids").text
    whole = ask(ORDER, WEIGHT, ANIMAL, CareDone(kind="fluids", amount=9))
    assert (line(whole, "fluids").state, "left 0 ml" in line(whole, "fluids").text) == ("done", True)


def test_a_cold_animal_is_warmed_and_everything_else_waits() -> None:
    cold = replace(ANIMAL, warmth=WarmthToday(warm_end_c=22, lowest_at_night_c=18))
    care = ask(ORDER, WEIGHT, cold)
    assert (care.lines[0].act, care.lines[0].state) == ("warmth", "to do")
    assert "22 °C" in care.lines[0].text
    assert line(care, "fluids").state == line(care, "food").state == "not now"
    assert {"too-cold-by-day", "below-vets-floor", "feeding-cold-or-dry"} == {r.code for r in care.reasons}


def test_a_dry_animal_gets_water_and_no_food() -> None:
    care = ask(ORDER, WEIGHT, replace(ANIMAL, hydration="dry"))
    assert line(care, "fluids").state == "to do"
    assert line(care, "food").state == "not now"
    assert "dry" in line(care, "food").text


def test_a_drug_that_is_hard_on_kidneys_asks_for_fluids_where_the_plan_names_none() -> None:
    dose = cases.by_plan(cases.ORDINARY)
    care = ask(replace(ORDER, fluids=None), dose=dose)
    assert line(care, "fluids").state == "ask the vet"


def test_a_refused_dose_is_told_with_its_reason_and_no_volume() -> None:
    care = ask(dose=cases.by_plan(None))
    assert line(care, "drug") == CareLine(
        "drug", "not now", "There is no written order of a vet for this animal."
    )
    unanswered = cases.changed(previous_dose_mg_per_kg=5)
    assert line(ask(dose=unanswered), "drug").state == "ask the vet"


def test_fluids_that_a_rule_refuses_go_to_the_vet() -> None:
    care = ask(replace(ORDER, fluids=replace(RINGER, ml_per_kg=45)))
    assert line(care, "fluids").state == "ask the vet"
    assert "fluids-too-much" in {reason.code for reason in care.reasons}
    unnamed = ask(replace(ORDER, fluids=replace(RINGER, product="")))
    assert "fluids-product-missing" in {reason.code for reason in unnamed.reasons}


def test_without_a_weight_of_today_it_is_asked_for() -> None:
    old = replace(WEIGHT, weighed_on=TODAY - timedelta(days=3))
    assert "7 March 2026" in line(ask(ORDER, old), "weigh").text
    care = ask(ORDER, None)
    assert line(care, "weigh").state == "to do"
    assert line(care, "fluids").state == "not now"


def test_what_was_done_is_not_asked_again() -> None:
    care = ask(ORDER, WEIGHT, ANIMAL, CareDone(kind="soak"), CareDone(kind="feeding"))
    assert line(care, "soak").state == line(care, "food").state == "done"


def test_a_meal_by_tube_is_held_to_what_a_stomach_takes_unless_the_vet_wrote_it() -> None:
    """100 g, 5 ml: more than 2 %, but the published food volume of a stable snake, written by the vet."""
    weight = WeightFact(weight_g=100, weighed_on=TODAY)
    assert line(ask(replace(ORDER, fluids=None, feed_ml=5), weight), "food").state == "to do"
    unwritten = ask(replace(ORDER, fluids=None, feed_ml=5, vet=""), weight)
    assert line(unwritten, "food").state == "not now"


def test_a_word_of_the_vet_lifts_the_cold_for_today() -> None:
    word = cases.word("too-cold-at-night", on=TODAY)
    animal = replace(ANIMAL, warmth=WarmthToday(warm_end_c=30, lowest_at_night_c=22))
    refused = ask(replace(ORDER, floor=WarmthFloor()), WEIGHT, animal)
    lifted = ask(replace(ORDER, floor=WarmthFloor(), words=(word,)), WEIGHT, animal)
    assert line(refused, "fluids").state == "not now"
    assert line(lifted, "fluids").state == "to do"


FIGURE = st.one_of(st.none(), st.floats(), st.integers(-5, 60), st.text(max_size=4))


@given(
    warm_end=FIGURE,
    night=FIGURE,
    grams=FIGURE,
    amount=FIGURE,
    given_ml=FIGURE,
    feed=FIGURE,
    age=st.integers(-1, 9),
    hydration=st.sampled_from([None, "normal", "dry", "not known"]),
)
def test_whatever_the_day_brings_care_is_laid_out(
    warm_end: Any,
    night: Any,
    grams: Any,
    amount: Any,
    given_ml: Any,
    feed: Any,
    age: int,
    hydration: str | None,
) -> None:
    day: date = TODAY - timedelta(days=age)
    care = ask(
        replace(ORDER, fluids=replace(RINGER, ml_per_kg=amount), feed_ml=feed),
        WeightFact(weight_g=grams, weighed_on=day),
        replace(
            ANIMAL, hydration=hydration, warmth=WarmthToday(warm_end_c=warm_end, lowest_at_night_c=night)
        ),
        CareDone(kind="fluids", amount=given_ml),
    )
    assert [item.act for item in care.lines][:2] == ["warmth", "weigh"]
    assert all(item.state in STATES and item.text for item in care.lines)
    assert all(reason.next for reason in care.reasons)
    plain = care.as_dict()
    assert len(plain["lines"]) == len(care.lines)
