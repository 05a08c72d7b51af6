"""Tubes: what they hold, one way only, air out first, not too much at once, marked on the animal itself."""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.dose_tube import check_tube, tube_figures, weighed_tube_ml
from fecallab.domain.dosing import Found, TubeAnswer, TubeUse
from fecallab.domain.errors import BadInput
from fecallab.domain.tube import TubeMark, outer_diameter_mm, priming_by_weighing_ml, priming_ml, tube_mark
from fecallab.reference.care import tube_landmarks
from fecallab.reference.drugs import dose_facts
from fecallab.reference.taxa import resolve_taxon, taxa

_spec = importlib.util.spec_from_file_location("care_cases", Path(__file__).with_name("care_cases.py"))
assert _spec is not None and _spec.loader is not None
care = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(care)
through, cases = care.through, care.cases


def ask(
    dose: Any, weight: Any, *, animal: str = "Hermann's tortoise", weak: bool = False, **more: Any
) -> tuple[TubeAnswer | None, set[str], set[str]]:
    found = Found(dose_facts())
    use = TubeUse(**{"priming_ml": "0.05", "way": "flush", **more})
    answer = check_tube(Decimal(str(dose)), Decimal(str(weight)), use, resolve_taxon(animal), weak, found)
    assert (answer is None) == found.refused
    return answer, {item.code for item in found.reasons}, {item.code for item in found.warnings}


def test_a_french_is_a_third_of_a_millimetre_outside() -> None:
    assert round(outer_diameter_mm(Decimal(5)), 4) == Decimal("1.6667")


def test_weighing_and_inner_diameter_agree() -> None:
    by_bore = priming_ml(Decimal("1.7"), Decimal(400))
    assert abs(priming_by_weighing_ml(Decimal("3.10"), Decimal("4.01")) - by_bore) < Decimal("0.01")


def test_a_flush_delivers_the_whole_dose_and_all_of_it_counts_for_the_stomach() -> None:
    answer, _, _ = ask("0.4", 850)
    assert answer is not None
    assert (answer.draw_ml, answer.waste_ml) == (Decimal("0.4"), 0)
    assert answer.flush_ml == Decimal("0.075")
    assert answer.into_stomach_ml == Decimal("0.475")


def test_an_overfilled_tube_gets_its_own_volume_more_and_is_never_flushed() -> None:
    answer, _, _ = ask("0.4", 850, way="overfill")
    assert answer is not None
    assert (answer.draw_ml, answer.waste_ml, answer.flush_ml) == (Decimal("0.45"), Decimal("0.05"), 0)
    assert answer.into_stomach_ml == Decimal("0.4")
    assert any("without a flush" in step for step in answer.steps)


@pytest.mark.parametrize("more", [{"flush_ml": "0.01"}, {"feed_ml": 2}, {"fluid_ml": "0.5"}])
def test_anything_pushed_after_an_overfilled_tube_is_both_ways_at_once(more: dict[str, Any]) -> None:
    """Food or fluid after the drug pushes the drug in the tube in as well."""
    assert ask("0.4", 850, way="overfill", **more)[1] == {"tube-two-ways"}


def test_overfill_is_refused_when_the_tube_holds_more_than_the_dose() -> None:
    assert ask("0.04", 850, way="overfill")[1] == {"tube-overfill-too-small"}
    assert ask("0.05", 850, way="overfill")[1] == set()


@pytest.mark.parametrize(("dose", "warned"), [("0.25", False), ("0.24", True)])
def test_a_tube_that_holds_more_than_a_fifth_of_the_dose_is_warned_of(dose: str, warned: bool) -> None:
    assert ("tube-dead-volume-large" in ask(dose, 850)[2]) == warned


def test_air_is_out_before_the_tube_is_on_and_signs_of_backing_up_are_told() -> None:
    for way in ("flush", "overfill"):
        answer, _, _ = ask("0.4", 850, way=way)
        assert answer is not None
        assert "without the tube" in answer.steps[0]
        assert "push air and surplus back" in answer.steps[0]
        assert "Only now put" in answer.steps[1]
        assert "pneumonia" in answer.steps[-1]
        assert "wells up" in answer.steps[-1]


def test_a_flush_of_one_s_own_size_is_used_and_may_not_be_smaller_than_the_tube() -> None:
    answer, _, _ = ask("0.4", 850, flush_ml="0.2")
    assert answer is not None
    assert answer.flush_ml == Decimal("0.2")
    assert ask("0.4", 850, flush_ml="0.04")[1] == {"tube-flush-too-small"}


def test_drug_flush_food_and_fluid_together_are_held_to_two_percent() -> None:
    assert ask("0.425", 850, feed_ml=10, fluid_ml="6.5")[1] == set()
    assert ask("0.426", 850, feed_ml=10, fluid_ml="6.5")[1] == {"stomach-too-full"}


@pytest.mark.parametrize(("before", "refused"), [(None, True), (0, True), (2, True), (3, False)])
def test_a_weak_animal_gets_half_for_its_first_three_gavages(before: int | None, refused: bool) -> None:
    _, reasons, _ = ask("0.4", 850, weak=True, fluid_ml="9", gavages_before=before)
    assert reasons == ({"stomach-first-gavages"} if refused else set())
    assert ask("0.4", 850, weak=False, fluid_ml="9", gavages_before=before)[1] == set()


def test_more_only_with_a_volume_that_the_vet_wrote_and_never_more_than_was_published() -> None:
    answer, reasons, warnings = ask("0.4", 850, feed_ml=30, total_written_ml=31)
    assert answer is not None
    assert answer.limit_ml == 31
    assert reasons == set()
    assert "stomach-by-vets-volume" in warnings
    assert ask("0.4", 850, feed_ml=30, total_written_ml=20)[1] == {"stomach-too-full"}
    assert ask("0.4", 850, feed_ml=90, total_written_ml=100)[1] == {"stomach-beyond-published"}


@pytest.mark.parametrize(
    ("hours", "reasons", "warnings"),
    [
        (0, {"gavage-after-meal"}, set()),
        ("47.9", {"gavage-after-meal"}, set()),
        (48, set(), {"gavage-after-meal"}),
        (72, set(), set()),
        (None, set(), {"gavage-after-meal"}),
    ],
)
def test_no_tube_into_a_snake_that_has_just_eaten(hours: Any, reasons: set[str], warnings: set[str]) -> None:
    said = ask("0.4", 850, animal="corn snake", hours_since_meal=hours)
    assert said[1] == reasons
    assert said[2] & {"gavage-after-meal"} == warnings
    assert ask("0.4", 850, hours_since_meal=hours)[1] == set()


def test_the_tube_is_marked_by_the_animals_own_length() -> None:
    found = Found(dose_facts())
    snake = tube_mark(resolve_taxon("corn snake"), 900, tube_landmarks(), found)
    assert snake is not None
    assert (snake.low_mm, snake.high_mm) == (297, 450)
    tortoise = tube_mark(resolve_taxon("sulcata"), "84", tube_landmarks(), found)
    assert isinstance(tortoise, TubeMark)
    assert (tortoise.low_mm, tortoise.high_mm) == (84, 84)
    assert "stretched" in tortoise.words
    assert not found.refused


@pytest.mark.parametrize("length", [None, 0, -3, "abc"])
def test_a_length_that_was_not_measured_is_asked_for_in_words(length: Any) -> None:
    found = Found(dose_facts())
    assert tube_mark(resolve_taxon("Hermann's tortoise"), length, tube_landmarks(), found) is None
    assert "tip of the beak" in found.reasons[0].text
    assert "mark the tube" in found.reasons[0].next.casefold()


def test_every_kind_but_crocodiles_has_a_landmark() -> None:
    for taxon in taxa():
        known = any(taxon.is_a(entry) for row in tube_landmarks() for entry in row.taxa)
        assert known == (
            taxon.order == "Testudines" or taxon.host_group in ("snake", "lizard", "gecko", "chameleon")
        )


@pytest.mark.parametrize(
    ("french", "inner", "length", "code"),
    [
        ("0.5", None, "400", "tube-size-unlikely"),
        ("50", None, "400", "tube-size-unlikely"),
        ("5", None, "0.4", "tube-length-unlikely"),
        ("5", None, "5000", "tube-length-unlikely"),
        ("5", "1.7", "400", "tube-inner-unlikely"),
        ("5", "-1", "400", "tube-inner-unlikely"),
    ],
)
def test_a_tube_that_cannot_be_is_bad_input(french: str, inner: str | None, length: str, code: str) -> None:
    with pytest.raises(BadInput) as caught:
        tube_figures(Decimal(french), Decimal(inner) if inner else None, Decimal(length), dose_facts())
    assert caught.value.reason.code == code


def test_an_empty_tube_is_lighter_than_a_full_one() -> None:
    assert weighed_tube_ml(Decimal("3.1"), Decimal("3.4"), dose_facts()) == Decimal("0.3")
    with pytest.raises(BadInput):
        weighed_tube_ml(Decimal("3.4"), Decimal("3.1"), dose_facts())


def test_a_dose_by_plan_carries_the_tube_and_a_refused_tube_lets_no_volume_out() -> None:
    answer = through()
    assert answer.tube is not None
    assert answer.tube.draw_ml == answer.draw_ml == Decimal("0.21")
    refused = through(way="overfill", priming_ml=1)
    assert (refused.draw_ml, refused.tube) == (None, None)
    injected = cases.by_plan(replace(cases.PLAN, route="SC"), tube=TubeUse(priming_ml="0.03", way="flush"))
    assert "route-differs" in {reason.code for reason in injected.reasons}


FIGURE = st.one_of(st.none(), st.decimals(allow_nan=True), st.integers(-5, 40), st.text(max_size=4))


@given(
    priming=FIGURE,
    way=st.sampled_from(["flush", "Overfill ", "both", ""]),
    flush=FIGURE,
    feed=FIGURE,
    fluid=FIGURE,
    before=st.one_of(st.none(), st.integers(-1, 5)),
    hours=FIGURE,
    written=FIGURE,
    weak=st.booleans(),
)
def test_whatever_goes_through_a_tube_ends_in_volumes_or_a_way_forward(
    priming: Any,
    way: str,
    flush: Any,
    feed: Any,
    fluid: Any,
    before: int | None,
    hours: Any,
    written: Any,
    weak: bool,
) -> None:
    found = Found(dose_facts())
    use = TubeUse(
        priming_ml=priming,
        way=way,
        flush_ml=flush,
        feed_ml=feed,
        fluid_ml=fluid,
        gavages_before=before,
        hours_since_meal=hours,
        total_written_ml=written,
    )
    taxon = resolve_taxon("corn snake")
    answer = check_tube(Decimal("0.2"), Decimal(420), use, taxon, weak, found)
    assert (answer is None) == found.refused
    assert all(reason.next for reason in found.reasons)
    if answer is not None:
        pushed = answer.draw_ml - answer.waste_ml
        assert pushed == Decimal("0.2")
        assert answer.into_stomach_ml <= answer.limit_ml
        assert answer.flush_ml * answer.waste_ml == 0
