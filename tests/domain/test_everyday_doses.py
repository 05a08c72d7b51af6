"""Everyday situations of a keeper with a syringe: each ends in a volume, or in a way forward.

Names are invented. Where a volume comes out it is checked by hand in the comment beside it; where none does,
the reason is the one that is meant, and what to do next stands in plain words.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from fecallab.domain.dosing import (
    BottleToday,
    DilutionOrder,
    OtherDrug,
)

from .everyday import (
    DRAGON,
    FENBEN,
    METRO,
    NOW,
    SITUATIONS,
    SNAKE,
    SULFA,
    TODAY,
    TORTOISE,
    Everyday,
    ago,
    animal,
    dose,
)


def test_there_are_at_least_twenty_and_each_is_told_once() -> None:
    assert len(SITUATIONS) >= 20
    assert len({item.told for item in SITUATIONS}) == len(SITUATIONS)


@pytest.mark.parametrize("everyday", SITUATIONS, ids=lambda item: item.told.replace(" ", "-")[:70])
def test_everyday_ends_in_a_volume_or_in_a_way_forward(everyday: Everyday) -> None:
    answer = everyday.ask()
    reasons = {reason.code: reason for reason in answer.reasons}
    if everyday.draw_ml is not None:
        assert not reasons
        assert answer.draw_ml == Decimal(everyday.draw_ml)
        assert answer.draw_ml <= (answer.volume_ml or 0) * Decimal("1.05")
        warned = {warning.code for warning in answer.warnings}
        assert everyday.warns in {*warned, ""}
        assert answer.to_confirm == ((everyday.to_confirm,) if everyday.to_confirm else ())
        assert not {item.code for item in answer.not_checked} & {
            "warmth",
            "unwell-today",
            "hydration-unknown",
        }
        return
    assert everyday.code in reasons
    reason = reasons[everyday.code]
    assert everyday.next_says in reason.next
    assert "Until then: keep the animal inside its own warm range" in reason.next
    assert getattr(answer, "draw_ml", None) is None
    assert getattr(answer, "total_ml", None) is None


def test_a_growing_animal_shows_the_old_volume_beside_the_new() -> None:
    answer = SITUATIONS[0].ask()
    assert (answer.volume_with_last_weight_ml, answer.volume_ml) == (Decimal("0.1"), Decimal("0.14"))


def test_who_gave_the_last_dose_is_named() -> None:
    answer = dose(replace(SULFA, interval_hours=12), DRAGON, 310, ago(1, 310, by="Ada"))
    assert "by Ada" in answer.reasons[0].text


def test_all_doses_of_the_family_are_shown_before_it_is_given_again() -> None:
    history = (
        OtherDrug("fenbendazole", 30, 50, date(2026, 4, 20), 5),
        OtherDrug("oxfendazole", 50, 68, date(2026, 3, 31)),
        OtherDrug("fenbendazole", 61, 50, date(2026, 3, 20)),
    )
    for who in (TORTOISE, animal("bearded dragon"), animal("corn snake")):
        answer = dose(FENBEN, replace(who, other_drugs=history), 850)
        warning = next(item for item in answer.warnings if item.code == "warn-benzimidazole-again")
        assert "oxfendazole on 31 March 2026, 68 mg per kg" in warning.text
        assert "fenbendazole on 20 April 2026, 50 mg per kg, 5 doses" in warning.text
        assert "6 doses, 318 mg per kg in all" in warning.text
        assert "20 March 2026" not in warning.text
        assert "warn-benzimidazole-again" in answer.to_confirm


def test_a_slip_between_two_orders_is_named_in_words() -> None:
    answer = dose(replace(METRO, previous_dose_mg_per_kg=2), SNAKE, 420)
    assert "20 is ten times 2" in answer.reasons[0].text


def test_pounds_taken_for_kilograms_between_two_weighings_are_named() -> None:
    answer = dose(METRO, SNAKE, 926, ago(48, 420))
    said = next(item.text for item in (*answer.reasons, *answer.warnings) if item.code == "weight-odd")
    assert "pounds and kg" in said


def test_the_volume_of_the_vets_sheet_is_compared_for_the_weight_it_was_written_for() -> None:
    """Written 0.1 ml for 100 g; the dragon weighs 140 g now and 0.14 ml is right, 0.3 ml never was."""
    growing = replace(DRAGON, growing=True)
    order = replace(SULFA, volume_written_ml="0.1")
    assert dose(order, growing, 140, ago(24, 100)).draw_ml == Decimal("0.14")
    wrong = dose(replace(SULFA, volume_written_ml="0.3"), growing, 140, ago(24, 100))
    assert "vet-volume-differs" in {reason.code for reason in wrong.reasons}


def test_yesterday_evening_under_another_plan_is_not_yesterday_morning() -> None:
    for hours, refused in ((10, True), (30, False)):
        others = (OtherDrug("sulfadimethoxine", 1, 50, hours_ago=hours),)
        answer = dose(SULFA, replace(DRAGON, other_drugs=others), 310)
        assert ("same-drug-elsewhere" in {reason.code for reason in answer.reasons}) == refused


def test_a_dilution_mixed_anew_for_each_dose_needs_its_stock_each_time() -> None:
    """0.6 ml of stock for each of ten doses, and a tenth more: 6.6 ml."""
    thinned = DilutionOrder(
        diluent="simple syrup", named_by="the pharmacy at the bridge", role="pharmacist", factor=10
    )
    hatchling = replace(DRAGON, growing=True)
    for left, short in (("6.5", True), ("6.6", False)):
        answer = dose(
            replace(SULFA, dilution=thinned), hatchling, 12, step="0.1", bottle=BottleToday(left_ml=left)
        )
        assert ("stock-short" in {warning.code for warning in answer.warnings}) == short


def test_an_earlier_course_of_the_same_drug_is_not_a_second_drug_of_the_family() -> None:
    """Metronidazole given five days ago under an older plan is no second nitroimidazole; ronidazole is."""
    for name, refused in (("metronidazole", False), ("ronidazole", True)):
        answer = dose(METRO, replace(SNAKE, other_drugs=(OtherDrug(name, 5, 20),)), 420)
        assert ("stop-two-nitroimidazoles" in {reason.code for reason in answer.reasons}) == refused


@pytest.mark.parametrize(("last", "changed"), [("6.0", True), ("6.1", False), ("6.9", False), ("7.0", True)])
def test_under_ten_grams_a_change_of_one_step_of_the_scale_is_none(last: str, changed: bool) -> None:
    """6.5 g on a scale with 0.4 g steps: 0.4 g less or more may be the scale alone, though it is above 5 %."""
    order = replace(SULFA, concentration_mg_per_ml=10, concentration_again_mg_per_ml=10)
    answer = dose(order, replace(DRAGON, growing=True), "6.5", ago(24, last), step="0.4")
    assert ("weight-changed" in {warning.code for warning in answer.warnings}) == changed


@pytest.mark.parametrize(("grams", "refused"), [(10, False), ("9.9", True)])
def test_half_a_step_of_the_scale_is_what_a_weight_may_be_off(grams: Any, refused: bool) -> None:
    """1 g steps: half a gram is 5 % of 10 g."""
    answer = dose(SULFA, replace(DRAGON, growing=True), grams, step=1)
    assert ("scale-too-coarse" in {reason.code for reason in answer.reasons}) == refused


def test_a_volume_on_the_vets_sheet_for_a_dilution_is_one_of_the_dilution() -> None:
    """0.012 kg × 50 / 50 × 10 = 0.12 ml of the mixture."""
    thinned = DilutionOrder(
        diluent="simple syrup", named_by="the pharmacy at the bridge", role="pharmacist", factor=10
    )
    hatchling = replace(DRAGON, growing=True)
    for written, refused in (("0.12", False), ("0.012", True)):
        order = replace(SULFA, dilution=thinned, volume_written_ml=written)
        answer = dose(order, hatchling, 12, step="0.1")
        assert ("vet-volume-differs" in {reason.code for reason in answer.reasons}) == refused
        assert (answer.draw_ml is None) == refused


def test_a_volume_on_the_vets_sheet_lifts_the_limit_by_mouth_up_to_itself() -> None:
    """Written 1.2 ml at 100 g; at 190 g the sum is 2.28 ml, above 2 % is 3.8: inside. At strength 1: above both."""
    order = replace(
        SULFA, concentration_mg_per_ml=2, concentration_again_mg_per_ml=2, volume_written_ml="2.5"
    )
    first = dose(order, DRAGON, 100)
    assert "volume-by-vets-word" in {warning.code for warning in first.warnings}
    assert first.draw_ml == Decimal("2.5")
    grown = dose(order, replace(DRAGON, growing=True), 145, ago(24, 100))
    assert "volume-by-mouth-too-large" in {reason.code for reason in grown.reasons}


def test_a_mixture_keeps_for_its_session_unless_the_pharmacist_gave_a_day() -> None:
    yesterday = NOW - timedelta(days=1)
    for until, refused in ((None, True), (TODAY, False), (TODAY - timedelta(days=1), True)):
        answer = dose(METRO, SNAKE, 420, bottle=BottleToday(mixed_at=yesterday, mixture_discard_on=until))
        assert ("dilution-expired" in {reason.code for reason in answer.reasons}) == refused
