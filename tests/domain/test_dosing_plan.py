"""A dose by the plan: order, weight, time and course decide whether any volume leaves."""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.dosing import EXPLAINED, DoseAnswer, DoseLogged, OtherDrug, WeightFact, last_planned_day
from fecallab.reference.drugs import dose_facts
from fecallab.reference.taxa import resolve_taxon

_spec = importlib.util.spec_from_file_location("dosing_cases", Path(__file__).with_name("dosing_cases.py"))
assert _spec is not None and _spec.loader is not None
cases = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(cases)
PLAN, WEIGHT, ANIMAL, ORDINARY, NOW, TODAY = (
    cases.PLAN,
    cases.WEIGHT,
    cases.ANIMAL,
    cases.ORDINARY,
    cases.NOW,
    cases.TODAY,
)
by_plan, logged, changed, of_age, weighing = (
    cases.by_plan,
    cases.logged,
    cases.changed,
    cases.of_age,
    cases.weighing,
)


def codes(answer: DoseAnswer) -> set[str]:
    return {reason.code for reason in answer.reasons}


def warned(answer: DoseAnswer) -> set[str]:
    return {warning.code for warning in answer.warnings}


def test_a_whole_order_a_weight_of_today_and_a_dose_left_give_a_volume() -> None:
    answer = by_plan()
    assert codes(answer) == set()
    assert (answer.draw_ml, answer.delivered_mg_per_kg, answer.error_percent) == (Decimal("0.21"), 20, 0)
    assert {"warmth", "unwell-today"} <= {reason.code for reason in answer.not_checked}
    assert "order-missing" not in {reason.code for reason in answer.not_checked}


@pytest.mark.parametrize(
    ("missing", "named"),
    [
        ({"vet": ""}, "vet"),
        ({"ordered_on": None}, "date"),
        ({"drug": ""}, "drug"),
        ({"dose_mg_per_kg": None}, "mg per kg"),
        ({"concentration_mg_per_ml": ""}, "strength"),
        ({"route": ""}, "route"),
        ({"interval_hours": None}, "interval"),
        ({"doses": None}, "largest number of doses"),
        ({"doses": 0}, "largest number of doses"),
        ({"doses": -1}, "largest number of doses"),
    ],
)
def test_an_order_that_lacks_a_part_is_refused_and_the_part_is_named(
    missing: dict[str, Any], named: str
) -> None:
    answer = changed(**missing)
    assert "order-incomplete" in codes(answer)
    assert named in next(reason.text for reason in answer.reasons if reason.code == "order-incomplete")


def test_one_dose_needs_no_interval() -> None:
    assert "order-incomplete" not in codes(changed(doses=1, interval_hours=None))
    assert not changed(doses=1, interval_hours=None).refused


def test_the_last_planned_dose_is_n_minus_one_intervals_after_the_first() -> None:
    assert last_planned_day(PLAN) == date(2026, 3, 12)
    assert last_planned_day(replace(PLAN, first_dose_on=date(2026, 3, 10))) == date(2026, 3, 14)
    assert last_planned_day(replace(PLAN, doses=None)) is None


def test_an_order_holds_until_its_last_planned_dose_and_fourteen_days_however_long_the_course() -> None:
    long = replace(ORDINARY, doses=21, interval_hours=48)
    last = last_planned_day(long)
    assert last == date(2026, 4, 17)
    for days, refused in ((14, False), (15, True)):
        now = datetime.combine(last + timedelta(days=days), NOW.time())
        weight = WeightFact(weight_g=420, weighed_on=now.date())
        assert ("order-expired" in codes(by_plan(long, weight, now=now))) == refused


@pytest.mark.parametrize(
    ("days", "weight_g", "growing", "plan", "refused"),
    [
        (7, 420, False, ORDINARY, False),
        (8, 420, False, ORDINARY, True),
        (3, 420, True, ORDINARY, False),
        (4, 420, True, ORDINARY, True),
        (0, 99, False, ORDINARY, False),
        (1, 99, False, ORDINARY, True),
        (1, 100, False, ORDINARY, False),
        (0, 420, False, PLAN, False),
        (1, 420, False, PLAN, True),
        (2, 420, False, replace(ORDINARY, weight_max_age_days=1), True),
        (1, 420, False, replace(ORDINARY, weight_max_age_days=1), False),
        (8, 420, False, replace(ORDINARY, weight_max_age_days=30), True),
    ],
)
def test_how_old_a_weight_may_be(days: int, weight_g: int, growing: bool, plan: Any, refused: bool) -> None:
    """A plan may ask for a fresher weight than the table; it never lets an older one pass."""
    assert ("weight-stale" in codes(of_age(days, weight_g=weight_g, growing=growing, plan=plan))) == refused


@pytest.mark.parametrize(
    ("hours", "expected"),
    [(35.9, "too-early"), (36, None), (48, None), (60, None), (60.1, "late-dose"), (-0.1, "clock-backwards")],
)
def test_too_early_in_time_and_late(hours: float, expected: str | None) -> None:
    answer = by_plan(doses=(logged(hours),))
    about_time = {"too-early", "late-dose", "clock-backwards"}
    assert (codes(answer) | warned(answer)) & about_time == ({expected} if expected else set())


def test_a_twice_daily_drug_may_be_given_by_two_people_nine_hours_apart() -> None:
    twice = replace(PLAN, interval_hours=12)
    assert "too-early" in codes(by_plan(twice, doses=(logged(8.9),)))
    assert "too-early" not in codes(by_plan(twice, doses=(logged(9),)))


def test_the_next_time_is_told_when_it_is_too_early() -> None:
    answer = by_plan(doses=(logged(24),))
    text = next(reason.text for reason in answer.reasons if reason.code == "too-early")
    assert "11 March 2026, 00:00" in text


def test_missed_doses_are_not_used_up_and_do_not_count_as_the_last() -> None:
    doses = (logged(96), logged(48), logged(1, outcome="missed"))
    assert codes(by_plan(doses=doses)) == set()


@pytest.mark.parametrize("outcome", ["given", "partly given", "spat", "vomited"])
def test_a_dose_that_did_not_stay_down_is_not_repeated(outcome: str) -> None:
    doses = (logged(96), logged(50), logged(48, outcome=outcome))
    assert "doses-used-up" in codes(by_plan(doses=doses))
    assert "too-early" in codes(by_plan(doses=(logged(1, outcome=outcome),)))


@pytest.mark.parametrize(
    ("now_g", "growing", "refuses", "warns"),
    [
        (420, False, set(), set()),
        (441, False, set(), set()),
        (442, False, set(), {"weight-changed"}),
        (378, False, set(), {"weight-changed"}),
        (377, False, set(), {"weight-loss-watch", "weight-changed"}),
        (336, False, set(), {"weight-loss-watch", "weight-changed"}),
        (335, False, {"weight-loss"}, {"weight-changed"}),
        (547, False, {"weight-gain"}, {"weight-changed"}),
        (547, True, set(), {"weight-gain", "weight-changed"}),
        (631, True, set(), {"weight-gain", "weight-odd"}),
        (2101, True, {"weight-jump"}, set()),
        (83, False, {"weight-jump"}, set()),
    ],
)
def test_a_weight_is_compared_with_those_of_the_course(
    now_g: int, growing: bool, refuses: set[str], warns: set[str]
) -> None:
    answer = weighing(now_g, growing=growing)
    about = {name for name in (*codes(answer), *warned(answer)) if name.startswith("weight-")}
    assert about == refuses | warns
    assert codes(answer) & about == refuses or "weight-stale" in codes(answer)


@pytest.mark.parametrize("state", EXPLAINED)
def test_a_noted_reason_turns_a_loss_or_gain_into_the_vets_question(state: str) -> None:
    loss = weighing(330, state=state)
    assert "weight-loss" not in codes(loss)
    assert "weight-loss-watch" in loss.to_confirm
    assert "weight-gain" not in codes(weighing(560, state=state))


def test_what_the_vet_confirmed_already_is_not_asked_again() -> None:
    plan = replace(PLAN, previous_dose_mg_per_kg=5)
    assert by_plan(plan).to_confirm == ("dose-unlike-last",)
    assert by_plan(replace(plan, confirmed=frozenset({"dose-unlike-last"}))).to_confirm == ()


def test_a_hard_stop_holds_whatever_the_order_says() -> None:
    plan = replace(PLAN, drug="ivermectin", component="", dose_mg_per_kg="0.2", concentration_mg_per_ml=1)
    tortoise = replace(ANIMAL, taxon=resolve_taxon("leopard tortoise"))
    worded = replace(plan, specialist_word="Dr. Ode Fenn, 2026-03-01", confirmed=frozenset({"anything"}))
    assert "stop-ivermectin-chelonian" in codes(by_plan(worded, animal=tortoise))


def test_what_is_known_about_the_animal_reaches_the_stops() -> None:
    dry = by_plan(ORDINARY, animal=replace(ANIMAL, findings=frozenset({"dehydrated"})))
    assert "stop-sulfonamide-kidney-or-dry" in codes(dry)
    both = by_plan(animal=replace(ANIMAL, other_drugs=(OtherDrug("ronidazole"),)))
    assert "stop-two-nitroimidazoles" in codes(both)


def test_without_an_order_the_care_that_can_be_given_now_is_told() -> None:
    reason = by_plan(None).reasons[0]
    assert reason.code == "order-missing"
    for word in ("warm", "soak", "weigh", "apart", "fresh sample", "vet"):
        assert word in reason.next


def test_a_clock_with_a_zone_is_compared_with_a_log_that_has_one() -> None:
    now = NOW.replace(tzinfo=UTC)
    dose = DoseLogged(given_at=now - timedelta(hours=48), weight_g=420)
    assert not by_plan(doses=(dose,), now=now).refused


@settings(deadline=None)
@given(
    vet=st.sampled_from(["", "Dr. Iva Marrow"]),
    ordered=st.sampled_from([None, date(2026, 1, 1), date(2026, 3, 8), date(2026, 3, 12)]),
    dose=st.one_of(st.none(), st.sampled_from(["20", 200, "0", "abc", -3])),
    strength=st.one_of(st.none(), st.sampled_from([40, "4", 0])),
    route=st.sampled_from(["", "PO", "IV", "by mouth", "sideways"]),
    hours=st.one_of(st.none(), st.sampled_from([48, 0, 1e9, "x"])),
    doses=st.one_of(st.none(), st.integers(-1, 5)),
    grams=st.one_of(st.none(), st.sampled_from([420, 42, 4200000, 0, "heavy"])),
    age=st.integers(-2, 40),
    log=st.lists(st.floats(-5, 500), max_size=4),
    brumating=st.booleans(),
)
def test_whatever_the_plan_no_volume_leaves_while_a_rule_refuses(
    vet: str,
    ordered: date | None,
    dose: Any,
    strength: Any,
    route: str,
    hours: Any,
    doses: int | None,
    grams: Any,
    age: int,
    log: list[float],
    brumating: bool,
) -> None:
    plan = replace(
        PLAN,
        vet=vet,
        ordered_on=ordered,
        dose_mg_per_kg=dose,
        concentration_mg_per_ml=strength,
        route=route,
        interval_hours=hours,
        doses=doses,
    )
    weight = None if grams is None else WeightFact(weight_g=grams, weighed_on=TODAY - timedelta(days=age))
    given_doses = tuple(logged(hours_ago, weight_g=grams) for hours_ago in log)
    answer = by_plan(plan, weight, given_doses, replace(ANIMAL, brumating=brumating))
    assert (answer.draw_ml is None) == bool(answer.reasons)
    if not answer.refused:
        assert vet and not brumating and 0 <= age <= 7
        assert doses is not None and len(log) < doses
    assert all(reason.next for reason in answer.reasons)


@settings(deadline=None)
@given(order=st.permutations(range(3)))
def test_the_order_of_the_log_does_not_matter(order: list[int]) -> None:
    doses = [logged(120, weight_g=400), logged(72, weight_g=410), logged(20, weight_g=420)]
    shuffled = by_plan(replace(PLAN, doses=5), doses=tuple(doses[index] for index in order))
    assert shuffled == by_plan(replace(PLAN, doses=5), doses=tuple(doses))


def test_the_facts_of_the_plan_keep_their_edition() -> None:
    assert dose_facts().edition
