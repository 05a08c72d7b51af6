"""Every row of the dosing table speaks when it should, holds its own threshold, and shows a way forward."""

from __future__ import annotations

import ast
import importlib.util
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from fecallab.domain.dosing import DoseFacts, DoseRule
from fecallab.domain.errors import BadInput
from fecallab.reference.drugs import dose_facts, dose_rules, hard_stops

_spec = importlib.util.spec_from_file_location("care_cases", Path(__file__).with_name("care_cases.py"))
assert _spec is not None and _spec.loader is not None
care = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(care)
cases = care.cases

SILENT = ("say", "not-checked")
CASES: dict[tuple[str, str], Callable[[], Any]] = {**cases.CASES, **care.CASES}


def test_every_rule_of_the_table_has_a_case_and_every_case_a_rule() -> None:
    spoken = {(rule.code, rule.scope) for rule in dose_rules() if rule.action not in SILENT}
    assert spoken == set(CASES) | set(care.TYPED)
    assert not set(CASES) & set(care.TYPED)
    assert not set(cases.CASES) & set(care.CASES)


def of_rule(answer: Any, rule: DoseRule) -> list[Any]:
    """Return what one row said in an answer."""
    where = answer.reasons if rule.action == "refuse" else answer.warnings
    return [reason for reason in where if reason.code == rule.code and rule.next in reason.next]


@pytest.mark.parametrize(("code", "scope"), list(CASES))
def test_the_rule_speaks_and_shows_a_way_forward(code: str, scope: str) -> None:
    rule = dose_facts().rule(code, scope)
    answer = CASES[code, scope]()
    mine = of_rule(answer, rule)
    assert mine, [reason.code for reason in (*answer.reasons, *answer.warnings)]
    assert all(reason.text for reason in mine)
    if hasattr(answer, "to_confirm"):
        assert (code in answer.to_confirm) == (rule.action == "warn-hard")
    if rule.action == "refuse":
        for volume in ("volume_ml", "draw_ml", "dilution", "tube", "total_ml", "per_site_ml"):
            assert getattr(answer, volume, None) is None
        assert all(dose_facts().rule("until-then").next in reason.next for reason in mine)


@pytest.mark.parametrize(("code", "scope"), list(care.TYPED))
def test_what_is_typed_wrongly_is_bad_input_by_its_row(code: str, scope: str) -> None:
    with pytest.raises(BadInput) as caught:
        care.TYPED[code, scope]()
    assert caught.value.reason.code == code
    assert caught.value.reason.text
    assert caught.value.reason.next.endswith(".")


TOGETHER = {"word-not-counted"}
"""Warnings that only ever stand beside a refusal."""


@pytest.mark.parametrize(
    ("code", "scope"),
    [key for key in CASES if dose_facts().rule(*key).action != "refuse" and key[0] not in TOGETHER],
)
def test_a_warning_alone_keeps_the_volume(code: str, scope: str) -> None:
    answer = CASES[code, scope]()
    assert not answer.reasons
    for volume in ("draw_ml", "total_ml"):
        if hasattr(answer, volume):
            assert getattr(answer, volume) > 0


@pytest.mark.parametrize("rule", dose_rules(), ids=lambda rule: f"{rule.code}:{rule.scope}")
def test_a_refusal_without_a_way_forward_fails(rule: DoseRule) -> None:
    assert rule.next.strip()
    assert rule.when.strip()
    if rule.action.startswith("refuse"):
        assert rule.ask.strip()
        assert rule.overridden_by.strip()


def test_every_stop_shows_a_way_forward() -> None:
    assert all(stop.next.strip() and stop.overridden_by.strip() for stop in hard_stops())


FAR = Decimal(10) ** 13
WITH_THRESHOLD = [
    key
    for key in CASES
    if dose_facts().rule(*key).low is not None or dose_facts().rule(*key).high is not None
]
NOT_THE_CONDITION = {
    ("strength-looks-like-percent", ""): "how closely it must fit, tested in test_dosing",
    ("strength-per-gram", ""): "how closely it must fit, tested in test_dosing",
    ("strength-unknown", ""): "how closely it must fit, tested below",
    ("strength-unknown", "typed-once"): "read from the row without a scope, tested below",
    ("slip-found", ""): "how closely it must fit, tested below",
    ("narrow-margin-watch", ""): "the hours are said in the row's own words",
    ("fluids-route-not-at-home", ""): "what a practice gives, for the vet to read",
    ("number-not-positive", ""): "above zero is no threshold that could move",
    ("trial-dose", ""): "how closely it must fit, tested below",
    ("dilution-too-many-steps", ""): "a number of steps, tested below",
}
"""Rows whose figure is not the condition itself."""


def moved(code: str, scope: str, low: Decimal | None, high: Decimal | None) -> DoseFacts:
    facts = dose_facts()
    rules = tuple(
        replace(rule, low=low, high=high) if (rule.code, rule.scope) == (code, scope) else rule
        for rule in facts.rules
    )
    return DoseFacts(facts.drug_rows, facts.drug_names, facts.hard_stops, facts.syringes, rules)


@pytest.mark.parametrize(("code", "scope"), [key for key in WITH_THRESHOLD if key not in NOT_THE_CONDITION])
def test_the_threshold_stands_in_the_table_and_not_in_the_code(
    code: str, scope: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Moving the figures of a row far away, to one side or the other, silences it."""
    rule = dose_facts().rule(code, scope)
    assert of_rule(CASES[code, scope](), rule)
    silenced = False
    for low, high in ((1 / FAR, FAR), (FAR, FAR), (1 / FAR, 1 / FAR), (Decimal(1), FAR), (FAR, 1 / FAR)):
        facts = moved(code, scope, None if rule.low is None else low, None if rule.high is None else high)
        monkeypatch.setattr(cases, "dose_facts", lambda facts=facts: facts)
        monkeypatch.setattr(care, "dose_facts", lambda facts=facts: facts)
        silenced = silenced or not of_rule(CASES[code, scope](), rule)
    assert silenced


@pytest.mark.parametrize(
    ("code", "scope", "figures"),
    [
        ("strength-unknown", "", {"low": Decimal("0.2")}),
        ("slip-found", "", {"low": Decimal(0)}),
        ("trial-dose", "", {"low": Decimal("0.5")}),
        ("dilution-too-many-steps", "", {"high": Decimal(1)}),
        ("dilution-factor", "5", {"high": Decimal(6)}),
        ("dilution-factor", "10", {"high": Decimal(12)}),
        ("tube-flush", "", {"high": Decimal(3)}),
        ("stock-waste", "", {"high": Decimal(9)}),
        ("word-of-the-day", "", {"high": Decimal(0)}),
        ("other-drug-active", "", {"high": Decimal(2)}),
        ("fluids-deficit-default", "", {"high": Decimal(1)}),
    ],
)
def test_a_figure_that_other_rules_use_stands_in_the_table_too(
    code: str, scope: str, figures: dict[str, Decimal], monkeypatch: pytest.MonkeyPatch
) -> None:
    def outcome() -> Any:
        if code == "slip-found":
            return cases.ask(dose=9, weight_g=2000).as_dict()["reasons"]
        if code == "strength-unknown":
            return cases.ask(strength=37).as_dict()["warnings"]
        if code == "trial-dose":
            return cases.ask(55, 300, 100, "paromomycin", "bearded dragon").as_dict()["warnings"]
        if code == "dilution-too-many-steps":
            return care.thinned(weight_g=100).refused
        if code == "dilution-factor":
            return care.thinned(replace(care.OIL, factor=int(scope))).draw_ml
        if code == "tube-flush":
            return care.through().tube.flush_ml
        if code == "stock-waste":
            bottle = cases.BottleToday(left_ml=1)
            return [reason.code for reason in cases.by_plan(bottle=bottle).warnings]
        if code == "word-of-the-day":
            plan = replace(cases.PLAN, words=(cases.word("brumating", on=cases.date(2026, 3, 9)),))
            return cases.by_plan(plan, animal=replace(cases.ANIMAL, brumating=True)).refused
        if code == "other-drug-active":
            return [reason.code for reason in CASES["other-drug-running", ""]().warnings]
        return [reason.text for reason in care.missing_water(5).warnings], str(
            care.ml_per_kg_with_deficit(15, 6, None, care.Found(care.dose_facts()))
        )

    before = outcome()
    rule = dose_facts().rule(code, scope)
    facts = moved(code, scope, figures.get("low", rule.low), figures.get("high", rule.high))
    monkeypatch.setattr(cases, "dose_facts", lambda: facts)
    monkeypatch.setattr(care, "dose_facts", lambda: facts)
    assert outcome() != before


OURS = ("dose_", "dosing", "syringe", "dilution", "tube", "fluids", "warmth", "care_plan", "slips")
EXACT = {
    "slips.py": {"0.45359237", "28.349523125", 5, 32, 9},  # definitions of pound, ounce and °F
    "dose_facts.py": {0.92},  # likeness of two spellings; no figure of a dose
}


def test_no_threshold_stands_in_the_code() -> None:
    """Only units (1000 g, 100 %), precision, first and last items, and lengths of shown texts are figures there."""
    allowed = {0, 1, 2, 3, 4, 10, 20, 28, 30, 40, 50, 60, 100, 1000}
    folder = resources.files("fecallab.domain")
    read = [path for path in sorted(folder.iterdir(), key=str) if path.name.startswith(OURS)]
    assert len(read) > 20
    for path in read:
        also = EXACT.get(path.name, set())
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, int | float):
                assert node.value in allowed | also, f"{path.name}: {node.value}"
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Decimal" and node.args:
                argument = node.args[0]
                if isinstance(argument, ast.Constant):
                    fine = {0, 1, 10, 100, 1000, "Infinity"} | also
                    assert argument.value in fine, f"{path.name}: Decimal({argument.value})"
