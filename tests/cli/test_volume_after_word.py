"""A warning that needs the vet's word holds back the volume on every way to it, and notes refuse nothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fecallab.domain.dose_answer import VOLUMES

from .conftest import Said

Do = Callable[..., dict[str, Any]]
COURSE = ["--drug", "fenbendazole", "--dose-mg-per-kg", "50", "--concentration-mg-per-ml", "100"]
PLAN = [*COURSE, "--route", "by mouth", "--interval-days", "14", "--doses", "2", "--vet", "Dr Ilse Varnholt"]
CODE = "warn-benzimidazole-again"


def test_no_volume_is_shown_before_the_word_and_notes_are_no_refusals(
    do: Do, fecallab: Callable[..., Said], float_exam: Do
) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    float_exam("Saffron", "2025-03-04", "oxyurid=3")
    do("plan", "add", "C1", "--written", "2025-03-06", *PLAN)
    for day in ("2025-03-06", "2025-03-20", "2025-04-20"):
        do("animal", "weigh", "Saffron", "318", "--at", f"{day} 08:00")
        if day < "2025-04":
            do("dose", "give", "C1", "--at", f"{day} 08:10")
    do("plan", "add", "C1", "--written", "2025-04-20", *PLAN)
    asked = fecallab("dose", "work-out", "C1", "--at", "2025-04-20 08:10")
    assert f"needs the vet's word ({CODE})" in asked.out
    assert "No volume before that word" in asked.out
    assert "draw 0.16" not in asked.out and "exactly 0.15" not in asked.out and "dose give" not in asked.out
    script = fecallab("dose", "work-out", "C1", "--at", "2025-04-20 08:10", "--json").json
    assert script["to_confirm"] == [CODE]
    assert {key for key in VOLUMES if script[key] is not None} == set()
    refused = fecallab("dose", "give", "C1", "--at", "2025-04-20 08:15")
    assert refused.code == 1
    assert CODE in refused.err and "drug-caution" not in refused.err
    told = fecallab("dose", "work-out", "C1", "--at", "2025-04-20 08:10", "--confirmed", CODE)
    assert "draw 0.16 ml" in told.out and "Then: fecallab dose give C1" in told.out
    script = fecallab(
        "dose", "work-out", "C1", "--at", "2025-04-20 08:10", "--confirmed", CODE, "--json"
    ).json
    assert script["draw_ml"] == 0.16
