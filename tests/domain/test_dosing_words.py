"""Who may lift what: a recorded word counts only from the right person, in time, and once for a dose."""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.dosing import DoseAnswer, WordGiven
from fecallab.reference.drugs import dose_facts, dose_rules, hard_stops
from fecallab.reference.taxa import resolve_taxon

_spec = importlib.util.spec_from_file_location("care_cases", Path(__file__).with_name("care_cases.py"))
assert _spec is not None and _spec.loader is not None
care = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(care)
cases = care.cases
PLAN, TODAY, word = cases.PLAN, cases.TODAY, cases.word
BRUMATING = replace(cases.ANIMAL, brumating=True)
SCHEME = {"previous_dose_mg_per_kg": 2}


def ask(*words: WordGiven, animal: Any = BRUMATING, **more: Any) -> DoseAnswer:
    return cases.by_plan(replace(PLAN, words=words, **more), animal=animal)


def codes(answer: DoseAnswer) -> set[str]:
    return {reason.code for reason in answer.reasons}


def warned(answer: DoseAnswer) -> set[str]:
    return {warning.code for warning in answer.warnings}


def test_the_vets_word_of_today_lifts_a_refusal_and_is_kept_with_the_dose() -> None:
    answer = ask(word("brumating"))
    assert codes(answer) == set()
    assert answer.lifted == ("brumating",)
    assert answer.words_used == (word("brumating"),)
    said = next(warning.text for warning in answer.warnings if warning.code == "brumating")
    assert "Dr. Iva Marrow, 10 March 2026: asked by telephone" in said


@pytest.mark.parametrize(
    ("given_word", "why"),
    [
        (word("brumating", by=" "), "no name"),
        (word("brumating", role="keeper"), "keeper may not"),
        (word("brumating", role=""), "nobody may not"),
        (word("brumating", on=TODAY + timedelta(days=1)), "not come"),
        (word("brumating", on=TODAY - timedelta(days=2)), "older than 1 day"),
    ],
)
def test_a_word_that_does_not_count_leaves_the_refusal_and_says_why(given_word: WordGiven, why: str) -> None:
    answer = ask(given_word)
    assert codes(answer) == {"brumating"}
    assert answer.draw_ml is None
    assert why in next(warning.text for warning in answer.warnings if warning.code == "word-not-counted")


def test_a_word_about_the_animal_holds_a_day_and_a_word_about_the_order_as_long_as_the_order() -> None:
    yesterday = TODAY - timedelta(days=1)
    assert not ask(word("brumating", on=yesterday)).refused
    assert not ask(word("dose-unlike-last", on=PLAN.ordered_on), animal=cases.ANIMAL, **SCHEME).refused
    before = word("dose-unlike-last", on=PLAN.ordered_on - timedelta(days=1))
    answer = ask(before, animal=cases.ANIMAL, **SCHEME)
    assert codes(answer) == {"dose-unlike-last"}
    assert "older than the order" in next(w.text for w in answer.warnings if w.code == "word-not-counted")


def test_one_dose_carries_one_exception() -> None:
    unwell = replace(BRUMATING, findings=frozenset({"limp"}))
    both = (word("brumating"), word("unwell-today"))
    answer = ask(*both, animal=unwell)
    assert codes(answer) == {"one-word-only"}
    assert answer.draw_ml is None
    assert set(answer.lifted) == {"brumating", "unwell-today"}


def test_a_warning_that_the_vet_answered_is_not_asked_again() -> None:
    animal = replace(cases.ANIMAL, findings=frozenset({"gravid"}))
    assert ask(animal=animal).to_confirm == ("delicate-state",)
    answered = ask(word("delicate-state"), animal=animal)
    assert answered.to_confirm == ()
    assert answered.lifted == ()
    assert answered.words_used == (word("delicate-state"),)


def test_a_specialist_lifts_what_a_vet_may_not() -> None:
    tortoise = replace(cases.ANIMAL, taxon=resolve_taxon("painted turtle"))
    plan = {
        "drug": "milbemycin oxime",
        "component": "",
        "dose_mg_per_kg": "0.5",
        "concentration_mg_per_ml": 1,
    }
    code = "stop-milbemycin-chelonian"
    assert code in codes(ask(word(code), animal=tortoise, **plan))
    assert code not in codes(ask(word(code, role="specialist"), animal=tortoise, **plan))
    by_vet = ask(word(code), animal=tortoise, **plan)
    assert "only a specialist" in next(w.text for w in by_vet.warnings if w.code == "word-not-counted")


def test_a_drug_without_a_row_needs_the_vets_word_and_the_strength_typed_twice() -> None:
    plan = {"drug": "gentamicin", "component": "", "dose_mg_per_kg": 5, "concentration_mg_per_ml": 10}
    animal = replace(cases.ANIMAL, hydration="normal", findings=frozenset())
    asked = word("drug-unknown")
    once = ask(asked, animal=animal, **plan)
    assert codes(once) == {"drug-unknown"}
    twice = ask(asked, animal=animal, concentration_again_mg_per_ml="10", **plan)
    assert codes(twice) == set()
    assert "no-range-check" in warned(twice)
    assert "drug-unknown" in codes(ask(animal=animal, concentration_again_mg_per_ml="10", **plan))


def test_an_unknown_strength_typed_twice_needs_no_word() -> None:
    once = cases.changed(concentration_mg_per_ml=37)
    twice = cases.changed(concentration_mg_per_ml=37, concentration_again_mg_per_ml="37")
    assert "strength-unknown" in once.to_confirm
    assert "strength-unknown" not in twice.to_confirm
    assert "strength-unknown" in warned(twice)


STRICT = [
    key
    for key, case in {**cases.CASES, **care.CASES}.items()
    if dose_facts().rule(*key).action == "refuse"
    and dose_facts().rule(*key).override_role in ("nobody", "new-plan", "vet-volume", "typed-twice")
    and isinstance(case(), DoseAnswer)
]


@pytest.mark.parametrize(("code", "scope"), STRICT)
@pytest.mark.parametrize("role", ["vet", "specialist", "keeper"])
def test_what_nobody_may_lift_stays_whoever_speaks(
    code: str, scope: str, role: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every plan of the cases gets a word on the rule; the refusal and the missing volume stay."""
    speak(monkeypatch, word(code, role=role))
    answer = {**cases.CASES, **care.CASES}[code, scope]()
    assert code in codes(answer)
    assert code not in answer.lifted
    assert answer.draw_ml is None


def speak(monkeypatch: pytest.MonkeyPatch, *said: WordGiven) -> None:
    """Put words into every plan that the cases work out."""
    original = cases.dose_by_plan

    def with_words(plan: Any, *rest: Any, **more: Any) -> DoseAnswer:
        spoken = plan if plan is None else replace(plan, words=(*plan.words, *said))
        answer: DoseAnswer = original(spoken, *rest, **more)
        return answer

    monkeypatch.setattr(cases, "dose_by_plan", with_words)


MAY_LIFT = [
    (rule.code, rule.scope)
    for rule in dose_rules()
    if rule.action == "refuse" and rule.override_role == "vet" and (rule.code, rule.scope) in cases.CASES
]


@pytest.mark.parametrize(("code", "scope"), [key for key in MAY_LIFT if key[0] != "drug-unknown"])
def test_what_the_vet_may_lift_is_lifted_by_the_vets_word(
    code: str, scope: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    speak(monkeypatch, word(code))
    answer = cases.CASES[code, scope]()
    assert code not in codes(answer)
    assert code in answer.lifted


@given(
    chosen=st.lists(
        st.builds(
            WordGiven,
            code=st.sampled_from([rule.code for rule in dose_rules()] + [stop.code for stop in hard_stops()]),
            by=st.sampled_from(["", "Dr. Iva Marrow"]),
            on=st.dates(TODAY - timedelta(days=9), TODAY + timedelta(days=2)),
            role=st.sampled_from(["vet", "specialist", "keeper", ""]),
        ),
        max_size=6,
    ),
    state=st.sampled_from(["brumating", "tortoise", "limp", "early", "food"]),
)
def test_no_words_let_more_than_one_refusal_pass(chosen: list[WordGiven], state: str) -> None:
    animal = cases.ANIMAL
    doses = ()
    if state == "brumating":
        animal = BRUMATING
    elif state == "limp":
        animal = replace(animal, findings=frozenset({"limp"}), brumating=True)
    elif state == "food":
        animal = replace(animal, findings=frozenset({"food-animal"}))
    elif state == "early":
        doses = (cases.logged(2),)
    plan = replace(PLAN, words=tuple(chosen))
    if state == "tortoise":
        animal = replace(animal, taxon=resolve_taxon("sulcata"))
        plan = replace(plan, drug="ivermectin", component="", dose_mg_per_kg="0.2", concentration_mg_per_ml=1)
    answer = cases.by_plan(plan, animal=animal, doses=doses)
    assert (answer.draw_ml is None) == answer.refused
    if state in ("tortoise", "early", "food", "limp"):
        assert answer.refused
    if not answer.refused:
        assert len(answer.lifted) == 1
        used = answer.words_used[0]
        assert used.by and used.role in ("vet", "specialist") and used.on <= TODAY
