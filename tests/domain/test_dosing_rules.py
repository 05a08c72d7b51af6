"""Every row of the dosing table speaks when it should, and holds its own threshold."""

from __future__ import annotations

import ast
import importlib.util
from dataclasses import replace
from decimal import Decimal
from importlib import resources
from pathlib import Path

import pytest

from fecallab.domain.dosing import DoseFacts
from fecallab.reference.drugs import dose_facts, dose_rules

_spec = importlib.util.spec_from_file_location("dosing_cases", Path(__file__).with_name("dosing_cases.py"))
assert _spec is not None and _spec.loader is not None
cases = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(cases)

SILENT = ("say", "not-checked")


def test_every_rule_of_the_table_has_a_case_and_every_case_a_rule() -> None:
    spoken = {(rule.code, rule.scope) for rule in dose_rules() if rule.action not in SILENT}
    assert spoken == set(cases.CASES)


@pytest.mark.parametrize(("code", "scope"), list(cases.CASES))
def test_the_rule_speaks_and_shows_a_way_forward(code: str, scope: str) -> None:
    rule = dose_facts().rule(code, scope)
    answer = cases.CASES[code, scope]()
    spoken = [*answer.reasons] if rule.action == "refuse" else [*answer.warnings]
    mine = [reason for reason in spoken if reason.code == code]
    assert mine, [reason.code for reason in (*answer.reasons, *answer.warnings)]
    assert all(rule.next in reason.next and reason.text for reason in mine)
    assert (code in answer.to_confirm) == (rule.action == "warn-hard")
    if rule.action == "refuse":
        assert answer.volume_ml is None
        assert all(dose_facts().rule("until-then").next in reason.next for reason in mine)


@pytest.mark.parametrize(
    ("code", "scope"),
    [key for key in cases.CASES if not {(key[0], s) for s in ("refuse", "warn")} & set(cases.CASES)],
)
def test_a_warning_alone_keeps_the_volume(code: str, scope: str) -> None:
    rule = dose_facts().rule(code, scope)
    answer = cases.CASES[code, scope]()
    if rule.action != "refuse":
        assert not answer.refused, answer.reasons
        assert answer.draw_ml is not None
        assert answer.draw_ml > 0


def with_threshold(code: str, scope: str = "", **bounds: Decimal) -> DoseFacts:
    facts = dose_facts()
    moved = tuple(
        replace(rule, **bounds) if (rule.code, rule.scope) == (code, scope) else rule for rule in facts.rules
    )
    return DoseFacts(facts.drug_rows, facts.drug_names, facts.hard_stops, facts.syringes, moved)


@pytest.mark.parametrize(
    ("code", "scope", "bounds"),
    [
        ("dose-above-specialist-limit", "", {"high": Decimal(150)}),
        ("volume-by-mouth-too-large", "", {"high": Decimal(5)}),
        ("volume-per-site-too-large", "IM", {"high": Decimal(50)}),
        ("volume-per-site-too-large", "SC", {"high": Decimal(50)}),
        ("volume-near-smallest", "", {"high": Decimal("0.19"), "low": Decimal(2)}),
        ("graduation-unlikely", "", {"low": Decimal(2)}),
        ("order-expired", "", {"high": Decimal(400)}),
        ("too-early", "", {"low": Decimal("0.5")}),
        ("late-dose", "", {"high": Decimal(3)}),
        ("weight-stale", "adult", {"high": Decimal(30)}),
        ("weight-stale", "growing", {"high": Decimal(7)}),
        ("weight-stale", "small", {"high": Decimal(7), "low": Decimal(100)}),
        ("weight-stale", "narrow-margin", {"high": Decimal(7)}),
        ("weight-loss", "", {"high": Decimal("0.5")}),
        ("weight-gain", "adult", {"high": Decimal("0.9")}),
        ("weight-changed", "", {"high": Decimal("0.5")}),
        ("vet-volume-differs", "", {"high": Decimal("0.5")}),
        ("dose-unlike-last", "refuse", {"high": Decimal(20), "low": Decimal("0.1")}),
        ("weight-implausible", "snake", {"high": Decimal(1000000), "low": Decimal(1)}),
    ],
)
def test_the_threshold_stands_in_the_table_and_not_in_the_code(
    code: str, scope: str, bounds: dict[str, Decimal], monkeypatch: pytest.MonkeyPatch
) -> None:
    def spoken() -> set[str]:
        answer = cases.CASES[code, scope]()
        return {reason.code for reason in (answer.reasons if action == "refuse" else answer.warnings)}

    action = dose_facts().rule(code, scope).action
    assert code in spoken()
    moved = with_threshold(code, scope, **bounds)
    monkeypatch.setattr(cases, "dose_facts", lambda: moved)
    assert code not in spoken()


def test_no_threshold_stands_in_the_code() -> None:
    """Only units (1000 g, 100 %), first and last items, and lengths of shown texts may be figures there."""
    allowed = {0, 1, 2, 3, 10, 30, 40, 60, 100, 1000}
    folder = resources.files("fecallab.domain")
    for path in sorted(folder.iterdir(), key=str):
        if not path.name.startswith(("dose_", "dosing", "syringe")):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, int | float):
                assert node.value in allowed, f"{path.name}: {node.value}"
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Decimal" and node.args:
                argument = node.args[0]
                if isinstance(argument, ast.Constant):
                    assert argument.value in (0, 1, "Infinity"), f"{path.name}: Decimal({argument.value})"
