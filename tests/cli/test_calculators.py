"""The calculators of exams and cases, through the program, with the keys that other programs rely on."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import Said

Run = Callable[..., Said]
Ask = Callable[..., dict[str, Any]]

FLOAT: dict[str, Any] = {
    "target": "oxyurid",
    "stage": "egg",
    "sample": {
        "origin": "stool",
        "owner": "animal",
        "passed_minutes_ago": [60, 180],
        "form": "soft",
        "kept": "room",
        "mass_g": 1.4,
        "whole_stool_used": False,
    },
    "preparations": [
        {
            "method": "simple_flotation",
            "objective": 10,
            "cover_share": 1.0,
            "specific_gravity": 1.2,
            "gravity_checked": True,
            "standing_minutes": 15,
        }
    ],
    "counts": {"oxyurid": 0},
    "unsure": [],
}
HISTORY: dict[str, Any] = {
    "case": {"target": "oxyurid", "host_group": "lizard", "opened": "2025-03-04"},
    "plan": {
        "goal": "clear",
        "negatives_needed": 2,
        "spacing_days": 14,
        "wait_after_last_dose_days": 30,
        "doses_planned": 1,
        "interval_days": 14,
        "written": "2025-03-06",
    },
    "exams": [{"sample_collected": "2025-03-04", "defecation": "d0", "result": "positive"}],
    "doses": [{"given": "2025-03-07", "outcome": "given"}],
    "events": [],
    "today": "2025-03-10",
}


@pytest.fixture
def ask(fecallab: Run, tmp_path: Path) -> Ask:
    """Ask ``calc adequacy`` or ``calc standing`` about a form; no records are named."""

    def asked(which: str, form: dict[str, Any]) -> dict[str, Any]:
        path = tmp_path / "form.json"
        path.write_text(json.dumps(form), encoding="utf-8")
        said = fecallab("calc", which, path, "--json")
        assert said.code == 0, said.all
        assert said.err == ""
        return said.json

    return asked


def changed(form: dict[str, Any], **parts: Any) -> dict[str, Any]:
    """Return a form with parts replaced; ``sample`` and ``preparation`` are joined with what is there."""
    made = json.loads(json.dumps(form))
    made["sample"] = {**made.get("sample", {}), **parts.pop("sample", {})}
    if "preparation" in parts:
        made["preparations"][0].update(parts.pop("preparation"))
    if "plan" in parts and parts["plan"] is not None:
        made["plan"].update(parts.pop("plan"))
    made.update(parts)
    if "case" in made:
        made.pop("sample")
    return made


# calc adequacy


def test_adequacy_answers_with_its_keys(ask: Ask) -> None:
    found = ask("adequacy", FLOAT)
    assert set(found) == {"result", "unsure", "reasons", "bound", "keys_not_read"}
    assert found["result"] == "negative" and found["unsure"] is False
    assert all(set(reason) == {"code", "text", "next"} for reason in found["reasons"])
    bound = found["bound"]
    assert set(bound) >= {"value", "unit", "level", "sided"}
    assert (bound["unit"], bound["level"], bound["sided"]) == ("per_g", 0.95, "one")
    assert bound["value"] == pytest.approx(2.9957 / 1.4 / bound["recovery"], rel=1e-3)


@pytest.mark.parametrize(
    ("change", "result", "code"),
    [
        ({"counts": {"oxyurid": 1}}, "positive", "seen"),
        ({"counts": {"oxyurid_pharyngodon_egg": 1}}, "positive", "seen"),
        ({"counts": {"pollen_pine": 9}}, "negative", "none-found"),
        ({"unsure": ["oxyurid"]}, "inconclusive", "unsure-mark"),
        ({"preparation": {"cover_share": 0.9}}, "inconclusive", "whole-glass"),
        ({"preparation": {"specific_gravity": 1.1}}, "inconclusive", "gravity"),
        ({"preparation": {"gravity_checked": None}}, "inconclusive", "gravity-checked"),
        ({"preparation": {"standing_minutes": 5}}, "inconclusive", "stood"),
        ({"preparation": {"method": "direct_saline_smear"}}, "inconclusive", None),
        ({"preparations": []}, "inconclusive", "no-preparation"),
        ({"sample": {"passed_minutes_ago": [60, 2000]}}, "inconclusive", "day-old"),
        ({"sample": {"passed_minutes_ago": [2000, 60]}}, "inconclusive", "day-old"),
        ({"sample": {"passed_minutes_ago": None}}, "inconclusive", "day-old"),
        ({"sample": {"kept": "frozen"}}, "inconclusive", "kept"),
        ({"sample": {"owner": "tub"}}, "inconclusive", "owner-unknown"),
        ({"sample": {"owner": "tub"}, "asked_of": "group"}, "negative", "none-found"),
        ({"sample": {"origin": "urate only"}}, "inconclusive", "origin"),
        ({"sample": {"mass_g": 0.4}}, "inconclusive", "enough-stool"),
        ({"sample": {"mass_g": 0.4, "whole_stool_used": True}}, "negative", "none-found"),
        ({"target": "cryptosporidium", "stage": "oocyst", "counts": {}}, "inconclusive", "not-clearable"),
    ],
)
def test_adequacy_says_why(ask: Ask, change: dict[str, Any], result: str, code: str | None) -> None:
    found = ask("adequacy", changed(FLOAT, **change))
    assert found["result"] == result
    codes = [reason["code"] for reason in found["reasons"]]
    assert code is None or code in codes
    assert (found["bound"] is not None) == (result == "negative")


def test_adequacy_in_words_names_the_question_and_the_way_on(fecallab: Run, tmp_path: Path) -> None:
    path = tmp_path / "form.json"
    path.write_text(json.dumps(changed(FLOAT, preparation={"cover_share": 0.5})), encoding="utf-8")
    said = fecallab("calc", "adequacy", path)
    assert said.code == 0
    assert said.out.splitlines()[0] == "inconclusive for oxyurid (egg)"
    assert "Was the whole cover glass read? No: 50" in said.out
    assert "Read the whole cover glass at 10×." in said.out
    path.write_text(json.dumps(FLOAT), encoding="utf-8")
    assert "None found, one-sided 95 % limit" in fecallab("calc", "adequacy", path).out


def test_a_key_that_is_not_read_is_named_and_never_trusted(ask: Ask) -> None:
    form = changed(FLOAT, sample={"freshness": "very"}, preparation={"cover_shar": 1}, colour="brown")
    assert sorted(ask("adequacy", form)["keys_not_read"]) == [
        "colour",
        "preparations.cover_shar",
        "sample.freshness",
    ]


def test_a_calculator_that_answered_exits_0_whatever_the_answer(fecallab: Run) -> None:
    said = fecallab(
        "calc",
        "dose",
        "--weight-g",
        "317",
        "--dose-mg-per-kg",
        "50",
        "--concentration-mg-per-ml",
        "100",
        "--json",
    )
    assert said.code == 0
    assert said.json["refused"] is True and said.json["volume_ml"] is None


# calc standing


def test_standing_answers_with_its_keys(ask: Ask) -> None:
    found = ask("standing", HISTORY)
    assert set(found) == {
        *("standing", "k", "n", "next_sample_on_or_after", "may_close", "reasons", "keys_not_read"),
    }
    assert found["standing"] == "course done, not confirmed: waiting"
    assert (found["k"], found["n"], found["may_close"]) == (0, 2, False)
    assert found["next_sample_on_or_after"] == "2025-04-06"


def negative(day: str, **more: str) -> dict[str, Any]:
    return {"sample_collected": day, "defecation": day, "result": "negative", **more}


@pytest.mark.parametrize(
    ("change", "standing", "k"),
    [
        ({"plan": None}, "not treated", 0),
        ({"doses": []}, "not treated", 0),
        ({"doses": [{"given": "2025-03-07", "outcome": "spat"}]}, "course incomplete", 0),
        ({"today": "2025-04-06"}, "next stool on or after", 0),
        ({"today": "2025-04-10", "exams": [negative("2025-03-20")]}, "next stool on or after", 0),
        ({"today": "2025-04-10", "exams": [negative("2025-04-06")]}, "k of n", 1),
        ({"today": "2025-05-10", "exams": [negative("2025-04-06"), negative("2025-04-19")]}, "k of n", 1),
        (
            {"today": "2025-05-10", "exams": [negative("2025-04-06"), negative("2025-04-20")]},
            "clear by the rule",
            2,
        ),
        (
            {
                "today": "2025-05-10",
                "exams": [negative("2025-04-06", defecation="d"), negative("2025-04-20", defecation="d")],
            },
            *("k of n", 1),
        ),
        (
            {
                "today": "2025-05-10",
                "exams": [negative("2025-04-06"), {**negative("2025-04-20"), "result": "positive"}],
            },
            *("positive again: back to the vet", 0),
        ),
        (
            {
                "today": "2025-05-10",
                "exams": [negative("2025-04-06"), {**negative("2025-04-20"), "result": "unsure"}],
            },
            *("waiting for the vet's word", 1),
        ),
        (
            {
                "today": "2025-05-10",
                "exams": [negative("2025-04-06"), negative("2025-04-20", result_corrected_to="inconclusive")],
            },
            *("k of n", 1),
        ),
        ({"plan": {"goal": "watch, no treatment", "doses_planned": 0}, "doses": []}, "watching", 0),
    ],
)
def test_standing_follows_the_history(ask: Ask, change: dict[str, Any], standing: str, k: int) -> None:
    found = ask("standing", changed(HISTORY, **change))
    assert (found["standing"], found["k"]) == (standing, k)
    assert found["may_close"] is (standing == "clear by the rule")
    assert found["reasons"]


def test_a_plan_that_is_silent_takes_the_defaults_of_its_target(ask: Ask) -> None:
    plan = {"negatives_needed": None, "spacing_days": None, "wait_after_last_dose_days": None}
    found = ask("standing", changed(HISTORY, plan=plan))
    assert (found["n"], found["next_sample_on_or_after"]) == (3, "2025-04-06")


def test_standing_in_words_has_its_reasons(fecallab: Run, tmp_path: Path) -> None:
    path = tmp_path / "form.json"
    path.write_text(json.dumps(HISTORY), encoding="utf-8")
    said = fecallab("calc", "standing", path).out
    assert said.startswith("course done, not confirmed: waiting until 6 April 2025\n")
    assert "Nothing is proven yet" in said


def test_a_form_with_a_byte_order_mark_is_read(fecallab: Run, tmp_path: Path) -> None:
    path = tmp_path / "form.json"
    path.write_text(json.dumps(HISTORY), encoding="utf-8-sig")
    assert fecallab("calc", "standing", path, "--json").code == 0
