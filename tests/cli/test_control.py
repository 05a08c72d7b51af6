"""``fecallab control``: runs are judged as they are typed, and stand beside every negative."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import Said, contents

Do = Callable[..., dict[str, Any]]
KNOWN = ("control", "add", "known positive", "--method", "simple flotation", "--of", "oxyurid")


def test_a_known_positive_is_judged_by_the_band_of_its_mean(do: Do) -> None:
    passed = do(*KNOWN, "--found", "12", "--expected", "20", "--bottle", "B1")["control"]
    assert (passed["passed"], passed["value"], passed["expected_value"]) == (True, 12.0, 20.0)
    assert (passed["method"], passed["expected"], passed["bottle"]) == ("simple_flotation", "oxyurid", "B1")
    failed = do(*KNOWN, "--found", "11", "--expected", "20")["control"]
    assert not failed["passed"]
    assert failed["judged"] == "11 found; band 12 to 29 for a mean of 20"


def test_ten_own_runs_are_used_from_the_records(do: Do) -> None:
    for number, found in enumerate((18, 22, 20, 19, 21, 20, 24, 16, 20, 20), start=1):
        do(*KNOWN, "--found", str(found), "--at", f"2025-03-{number:02d} 09:00")
    assert "own mean of 10 runs 20" in do(*KNOWN, "--found", "17")["control"]["judged"]
    other = do(
        "control", "add", "known positive", "--method", "sedimentation", "--of", "oxyurid", "--found", "3"
    )
    assert "no long-run mean yet" in other["control"]["judged"], "another method has runs of its own"


@pytest.mark.parametrize(
    ("words", "passed"),
    [
        (("blank", "--method", "simple_flotation", "--found", "0"), True),
        (("blank", "--method", "simple_flotation", "--found", "2"), False),
        (("gravity", "--solution", "zinc sulfate fresh", "--found", "1,19"), True),
        (("gravity", "--expected", "1.2", "--empty-g", "52", "--water-g", "152", "--fluid-g", "170"), False),
        (("microscope scale", "--objective", "40", "--expected", "0.25", "--found", "0.254"), True),
        (("microscope-scale", "--objective", "40", "--expected", "0.25", "--found", "0.26"), False),
        (
            (
                "slide read blind",
                "--expected",
                "oxyurid=12,pollen_pine=3",
                "--found",
                "oxyurid=10,pollen_pine=4",
            ),
            True,
        ),
        (("slide read blind", "--expected", "oxyurid=12", "--found", ""), False),
        (("outside check", "--method", "mcmaster", "--expected", "positive", "--found", "negative"), False),
    ],
)
def test_every_kind_is_judged(do: Do, words: tuple[str, ...], passed: bool) -> None:
    assert do("control", "add", *words)["control"]["passed"] is passed


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("known positive", "--found", "3"), "method-missing"),
        (("known positive", "--method", "simple_flotation"), "value-missing"),
        (("known positive", "--method", "tea", "--found", "3"), "not-a-choice"),
        (("known positive", "--method", "mcmaster", "--found", "-3"), "not-a-count"),
        (("known positive", "--method", "mcmaster", "--found", "2.5"), "not-a-count"),
        (("known positive", "--method", "mcmaster", "--found", "3", "--expected", "0"), "out-of-range"),
        (("known positive", "--method", "mcmaster", "--found", "3", "--empty-g", "5"), "weights-not-asked"),
        (("gravity", "--found", "1180"), "out-of-range"),
        (("gravity", "--found", "1.18"), "gravity-not-known"),
        (("gravity", "--found", "1.18", "--solution", "zinc"), "gravity-not-known"),
        (("gravity", "--empty-g", "52", "--water-g", "152"), "flask-weights"),
        (
            ("gravity", "--expected", "1.2", "--empty-g", "52", "--water-g", "50", "--fluid-g", "60"),
            "flask-weights",
        ),
        (
            ("gravity", "--found", "1.2", "--empty-g", "2", "--water-g", "50", "--fluid-g", "60"),
            "given-twice",
        ),
        (("microscope scale", "--expected", "1", "--found", "1"), "objective-missing"),
        (("microscope scale", "--objective", "40", "--found", "1"), "value-missing"),
        (("microscope scale", "--objective", "40", "--expected", "nan", "--found", "1"), "not-a-number"),
        (("slide read blind", "--expected", "oxyurid"), "not-a-count"),
        (("slide read blind", "--found", "oxyurid=1"), "value-missing"),
        (("slide read blind", "--expected", "oxyurid=2"), "value-missing"),
        (("slide read blind", "--expected", "nonsense=2", "--found", "oxyurid=1"), "unknown-organism"),
        (("outside check", "--method", "mcmaster", "--expected", "yes", "--found", "no"), "not-a-choice"),
        (("moon phase", "--found", "1"), "not-a-choice"),
        (("blank", "--method", "mcmaster", "--found", "0", "--at", "2199-01-01"), "in-the-future"),
    ],
)
def test_what_cannot_be_meant_is_one_line_and_changes_nothing(
    folder: Path, fecallab: Callable[..., Said], words: tuple[str, ...], code: str
) -> None:
    before = contents(folder)
    said = fecallab("control", "add", *words, "--json")
    assert (said.code, said.error["code"]) == (2, code)
    assert said.error["next"]
    assert contents(folder) == before


def test_the_note_stands_beside_a_negative_and_only_there(
    do: Do, float_exam: Do, say: Callable[..., str]
) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    float_exam("Saffron", "2025-03-04", "oxyurid=2")
    assert "No control run recorded." in say("exam", "show", "E1", "--target", "coccidian")
    do(*KNOWN, "--found", "20", "--expected", "20", "--at", "2025-03-01 09:00")
    shown = do("exam", "show", "E1", "--target", "coccidian")
    beside = {one["target"]: (one["result"], one["control"]) for one in shown["judged"]}
    assert beside == {
        "coccidian": ("negative", "Control passed on 1 March 2025 (known positive)"),
        "oxyurid": ("positive", None),
    }
    assert shown["controls"][0]["state"] == "passed"


def test_a_failed_run_names_the_negatives_that_it_puts_in_doubt(
    do: Do, float_exam: Do, say: Callable[..., str], treated: str
) -> None:
    float_exam("Saffron", "2025-05-02")
    do(*KNOWN, "--found", "20", "--expected", "20", "--at", "2025-05-10 09:00")
    float_exam("Saffron", "2025-05-20")
    float_exam("Saffron", "2025-06-10", "oxyurid=1")
    failed = do(*KNOWN, "--found", "0", "--expected", "20", "--at", "2025-06-20 09:00")
    assert failed["not_proven"] == ["E3", "E4"]
    exams = {one["exam"]: (one["result"], one["not_proven"]) for one in do("case", "show", treated)["exams"]}
    assert exams == {
        "E1": ("positive", False),
        "E2": ("negative", False),
        "E3": ("negative", True),
        "E4": ("positive", False),
    }
    text = say("case", "show", treated)
    assert "negative, not proven" in text
    assert "Exam E3: control failed on 20 June 2025" in text
    before = do("case", "show", treated, "--on", "2025-06-15")["exams"]
    assert not any(one["not_proven"] for one in before), "nobody knew it then"
    good = do(*KNOWN, "--found", "21", "--expected", "20", "--at", "2025-06-20 11:00")
    assert good["not_proven"] == []
    assert "not proven" not in say("case", "show", treated), "repeated once the same day"


def test_the_note_travels_on_the_pages(do: Do, float_exam: Do, treated: str, tmp_path: Path) -> None:
    float_exam("Saffron", "2025-05-02")
    do(*KNOWN, "--found", "0", "--expected", "20", "--at", "2025-05-10 09:00")
    do("report", "case", treated, "--to", str(tmp_path / "pages"))
    case = (tmp_path / "pages" / "case-C1.html").read_text(encoding="utf-8")
    exam = (tmp_path / "pages" / "exam-E2.html").read_text(encoding="utf-8")
    assert "Exam E2: control failed on 10 May 2025 (known positive)" in case
    assert "Negatives of this exam: Control failed on 10 May 2025" in exam


def test_the_list_says_when_each_was_last_done_and_whether_it_is_due(do: Do, say: Callable[..., str]) -> None:
    do(*KNOWN, "--found", "20", "--expected", "20", "--bottle", "B1", "--at", "2025-03-04 09:00")
    do(
        "control",
        "add",
        "gravity",
        "--expected",
        "1.18",
        "--found",
        "1.18",
        "--bottle",
        "B2",
        "--at",
        "2025-03-05",
    )
    listed = do("control", "list", "--on", "2025-03-06")
    due = {one["kind"]: (one["last_on"], one["due"], one["why"]) for one in listed["due"]}
    assert due["known positive"] == ("2025-03-04", True, "the bottle 'B2' has had none yet")
    assert due["gravity"][:2] == ("2025-03-05", False)
    assert due["blank"] == (None, True, "never done here")
    assert [run["code"] for run in listed["controls"]] == ["Q1", "Q2"]
    assert [run["code"] for run in do("control", "list", "--on", "2025-03-04")["controls"]] == ["Q1"]
    assert "never done here" in say("control", "list")


def test_a_run_is_corrected_and_taken_back(do: Do) -> None:
    do(*KNOWN, "--found", "0", "--expected", "20")
    do("correct", "Q1", "bottle=B7", "--reason", "the other bottle")
    story = do("history", "Q1")["history"]
    assert [entry["fact"]["bottle"] for entry in story] == ["", "B7"]
    do("withdraw", "Q1", "--reason", "a dry run")
    assert do("control", "list")["controls"] == []
    assert json.dumps(story)
