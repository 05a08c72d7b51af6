"""Danger signs: said at once, never in the way of recording, first in what is due, on every page."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import Said, contents

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]


@pytest.fixture
def saffron(do: Do) -> str:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult", "--enclosure", "north shelf")
    return "Saffron"


def test_a_yes_with_a_sample_says_what_to_do_and_records_the_sample(say: Say, do: Do, saffron: str) -> None:
    text = say("sample", "add", saffron, "--sign", "collapse", "--sign", "29", "--sign", "collapse")
    assert text.startswith("S1: stool of Saffron. Recorded.")
    assert "To the vet today: collapse" in text
    assert "To the vet within 2 days: watery stool" in text
    answers = do("sign", "list", saffron)["answers"]
    assert [(one["sign"], one["sample"]) for one in answers] == [("collapse", "S1"), ("watery-stool", "S1")]


def test_signs_come_first_in_what_is_due_until_the_vet_knows(say: Say, do: Do, saffron: str) -> None:
    do("sign", "add", saffron, "watery-stool", "--at", "2025-03-04 09:00")
    do("sign", "add", saffron, "collapse", "--at", "2025-03-05 09:00")
    lines = say("due").splitlines()
    assert lines[1].startswith("! Saffron: To the vet today: collapse")
    assert lines[2].startswith("! Saffron: To the vet within 2 days: watery stool")
    assert [one["sign"] for one in do("due")["to_the_vet"]] == ["collapse", "watery-stool"]
    assert do("due", "--on", "2025-03-04")["to_the_vet"][0]["sign"] == "watery-stool"
    do("sign", "add", saffron, "collapse", "--vet-knows")
    do("sign", "add", saffron, "watery-stool", "--no")
    assert do("due")["to_the_vet"] == []
    assert [one["vet_knows"] for one in do("sign", "list", saffron)["open"]] == [True]


def test_an_animal_that_is_gone_is_named_no_more(do: Do, saffron: str) -> None:
    do("sign", "add", saffron, "collapse")
    do("animal", "event", saffron, "died")
    assert do("due")["to_the_vet"] == []


def test_signs_travel_on_exam_and_case(do: Do, say: Say, case: str, tmp_path: Path) -> None:
    do(
        "sign",
        "add",
        "Saffron",
        "bleeding",
        "--sample",
        "S1",
        "--at",
        "2025-03-04 08:00",
        "--remark",
        "two drops",
    )
    assert "bleeding from the vent" in say("exam", "show", "E1")
    assert do("case", "show", case)["signs"][0]["said"] == "two drops"
    do("sign", "add", "Saffron", "bleeding", "--no", "--at", "2025-03-06 08:00")
    do("report", "case", case, "--to", str(tmp_path / "pages"))
    exam = (tmp_path / "pages" / "exam-E1.html").read_text(encoding="utf-8")
    assert "To the vet today: bleeding from the vent" in exam, "as it was when the exam was read"
    assert "bleeding" not in (tmp_path / "pages" / "case-C1.html").read_text(encoding="utf-8")


def test_a_sign_noted_with_the_sample_travels_though_it_was_gone_by_the_exam(
    do: Do, saffron: str, tmp_path: Path, float_exam: Do
) -> None:
    do("sample", "add", saffron, "--passed-from", "2025-03-04 06:00", "--sign", "watery-stool")
    do("sign", "add", saffron, "watery-stool", "--no", "--at", "2025-03-04 07:00")
    do(
        *("exam", "add", "S1", "--method", "simple_flotation", "--read-at", "2025-03-04 09:00"),
        *("--objective", "10", "--share", "1"),
    )
    do("report", "exam", "E1", "--to", str(tmp_path / "pages"))
    page = (tmp_path / "pages" / "exam-E1.html").read_text(encoding="utf-8")
    assert "Noted with S1 on 4 March 2025: watery stool" in page


def test_a_loss_of_weight_is_worked_out_and_said_at_the_scale(do: Do, say: Say, saffron: str) -> None:
    do("animal", "weigh", saffron, "320", "--at", "2025-03-01 08:00")
    assert do("animal", "weigh", saffron, "300", "--at", "2025-03-04 08:00")["signs"] == []
    text = say("animal", "weigh", saffron, "280", "--at", "2025-03-08 08:00")
    assert "To the vet within 2 days: weight loss." in text
    assert "280 g on 8 March 2025, 320 g on 1 March 2025: 12.5 % less" in text
    assert do("due", saffron)["to_the_vet"][0]["sign"] == "weight-loss"
    assert "weight loss" in say("sample", "add", saffron)
    assert "weight loss" in say("animal", "show", saffron)
    do("sign", "add", saffron, "weight-loss", "--no", "--remark", "laid eggs")
    assert do("due")["to_the_vet"] == [], "somebody explained it"
    do("animal", "weigh", saffron, "270")
    assert do("due")["to_the_vet"] == [], "explained today"
    do("correct", "W3", "state=eggs laid", "--reason", "forgotten")
    assert do("animal", "weigh", saffron, "318")["signs"] == []


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("sign", "add", "Saffron", "hiccups"), "sign-unknown"),
        (("sign", "add", "Saffron", "not-eating"), "sign-unknown"),
        (("sign", "add", "Saffron", "99"), "sign-unknown"),
        (("sign", "add", "Nobody", "collapse"), "unknown-animal"),
        (("sign", "add", "Saffron", "collapse", "--no", "--vet-knows"), "given-twice"),
        (("sign", "add", "Saffron", "collapse", "--sample", "S9"), "unknown-sample"),
        (("sign", "add", "Saffron", "collapse", "--at", "2199-01-01"), "in-the-future"),
        (("sample", "add", "Saffron", "--sign", "hiccups"), "sign-unknown"),
        (("sign", "list", "Nobody"), "unknown-animal"),
    ],
)
def test_what_cannot_be_meant_is_one_line_and_changes_nothing(
    folder: Path, fecallab: Callable[..., Said], saffron: str, words: tuple[str, ...], code: str
) -> None:
    before = contents(folder)
    said = fecallab(*words, "--json")
    assert (said.code, said.error["code"]) == (2, code)
    assert contents(folder) == before


def test_a_sign_of_another_animals_sample_is_refused(
    do: Do, fecallab: Callable[..., Said], case: str
) -> None:
    do("animal", "add", "Tilda", "--species", "Testudo hermanni")
    said = fecallab("sign", "add", "Tilda", "collapse", "--sample", "S1", "--json")
    assert said.error["code"] == "sample-of-another"


def test_the_list_numbers_what_can_be_typed(do: Do, saffron: str) -> None:
    whole = do("sign", "list")["signs"]
    assert [one["number"] for one in whole] == list(range(1, 37))
    for one in do("sign", "list", saffron)["signs"]:
        assert whole[one["number"] - 1]["sign"] == one["sign"]
        assert one["source"] and one["source_kind"]
