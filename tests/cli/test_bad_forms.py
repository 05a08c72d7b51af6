"""Forms that cannot be meant: one clear line that names the place."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import Said
from .kept import kept, refused_as_bad, told

__all__ = ["kept", "refused_as_bad", "told"]

Do = Callable[..., dict[str, Any]]
Run = Callable[..., Said]


GOOD_FORM = {
    "target": "oxyurid",
    "stage": "egg",
    "sample": {"origin": "stool", "owner": "animal"},
    "preparations": [{"method": "simple_flotation", "cover_share": 1}],
    "counts": {"oxyurid": 0},
}


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "no JSON object"),
        ("{", "no JSON object"),
        ("[]", "valid dictionary"),
        ("3", "valid dictionary"),
        ("NaN", "NaN is no number"),
        ('{"a":' * 100_000, "no JSON object"),
        ("[" * 100_000, "no JSON object"),
        ('{"target": ' + "9" * 5000 + "}", "no JSON object"),
        ('{"target": "oxyurid"}', "stage is missing"),
        (b"\xff\xfe\x00", "no JSON object"),
        (json.dumps({**GOOD_FORM, "counts": {"oxyurid": -1}}), "counts.oxyurid"),
        (json.dumps({**GOOD_FORM, "counts": {"oxyurid": 0.5}}), "counts.oxyurid"),
        (json.dumps({**GOOD_FORM, "counts": {"a\nb": -1}}), "a b"),
        (json.dumps({**GOOD_FORM, "stage": "grub"}), "grub"),
        (json.dumps({**GOOD_FORM, "preparations": [{"method": "magic"}]}), "magic"),
        (json.dumps({**GOOD_FORM, "preparations": [{"method": "mcmaster", "cover_share": 1.01}]}), "1.01"),
        (json.dumps({**GOOD_FORM, "preparations": [{"method": "mcmaster", "sample_g": 1e308}]}), "1e+308"),
        (
            json.dumps({**GOOD_FORM, "preparations": [{"method": "mcmaster", "sample_g": float("nan")}]}),
            "NaN is no number",
        ),
        (json.dumps(GOOD_FORM).replace('"cover_share": 1', '"cover_share": 1e999'), "less than or equal"),
    ],
)
def test_a_form_that_cannot_be_meant_is_one_line(
    fecallab: Run, tmp_path: Path, content: str | bytes, said: str
) -> None:
    form = tmp_path / "form.json"
    form.write_bytes(content if isinstance(content, bytes) else content.encode())
    got = fecallab("calc", "adequacy", form)
    assert (got.code, got.out) == (2, "")
    assert said in got.err and got.err.count("\n") == 1 and len(got.err) < 700
    assert fecallab("calc", "adequacy", form, "--json").error["code"] in ("no-json", "form-value")


@pytest.mark.parametrize(
    ("place", "value"),
    [
        ("today", "9999-12-31"),
        ("today", "0001-01-01"),
        ("today", "2025-02-30"),
        ("case.opened", "9999-12-31"),
        ("exams.0.sample_collected", "9999-12-31"),
        ("exams.0.result", "cured"),
        ("plan.wait_after_last_dose_days", 2_000_000_000),
        ("plan.spacing_days", -1),
        ("plan.negatives_needed", 2.5),
        ("plan.goal", "win"),
        ("doses.0.given", "9999-12-31"),
        ("doses.0.outcome", "eaten"),
        ("events.0.start", "9999-12-31"),
    ],
)
def test_a_history_that_cannot_be_meant_names_the_place(
    fecallab: Run, tmp_path: Path, place: str, value: Any
) -> None:
    form: dict[str, Any] = {
        "case": {"target": "oxyurid", "opened": "2025-03-04"},
        "plan": {"written": "2025-03-06", "doses_planned": 1, "interval_days": 14},
        "exams": [{"sample_collected": "2025-03-04", "result": "positive"}],
        "doses": [{"given": "2025-03-07"}],
        "events": [{"kind": "brumation", "start": "2025-11-01"}],
        "today": "2025-12-01",
    }
    spot: Any = form
    *way, last = place.split(".")
    for step in way:
        spot = spot[int(step)] if isinstance(spot, list) else spot[step]
    spot[last] = value
    path = tmp_path / "history.json"
    path.write_text(json.dumps(form), encoding="utf-8")
    got = fecallab("calc", "standing", path)
    assert got.code == 2 and place in got.err and got.err.count("\n") == 1


def test_a_form_that_is_no_file_or_a_huge_one_is_one_line(fecallab: Run, tmp_path: Path) -> None:
    (tmp_path / "huge.json").write_bytes(b" " * 5_000_001)
    for name, said in (("no.json", "no file"), ("huge.json", "5 MB"), (".", "no file")):
        got = fecallab("calc", "standing", tmp_path / name)
        assert got.code == 2 and said in got.err
