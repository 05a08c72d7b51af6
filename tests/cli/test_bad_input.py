"""What cannot be meant: one clear line, exit 2, no traceback, and the records as they were."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import FLOAT, PLAN, Said
from .kept import kept, refused_as_bad, told

__all__ = ["kept", "refused_as_bad", "told"]

Do = Callable[..., dict[str, Any]]
Run = Callable[..., Said]

FUTURE = "2199-01-01"


EXAM = ("exam", "add", "S1", *FLOAT, "--read-at", "2025-03-04 09:00", "--objective", "10")
ELSEWHERE = ("exam", "elsewhere", "Saffron", "--target", "oxyurid", "--from", "Lab Ouk", "--method", "float")


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        # names
        (("animal", "show", "Safron"), "unknown-animal", "Did you mean Saffron?"),
        (("animal", "weigh", "piksel", "40"), "unknown-animal", "Did you mean Pixel?"),
        (("due", "nobody at all"), "unknown-animal", "fecallab animal list"),
        (("animal", "add", "SAFFRON"), "name-taken", "Saffron"),
        (("animal", "add", "A7"), "name-like-code", "no letter with a number"),
        (("animal", "add", ""), "name-empty", "name"),
        (("animal", "add", " \u200b\u202e "), "name-empty", "name"),
        (("exam", "show", "E99"), "unknown-exam", "There is one: E1"),
        (("exam", "add", "S99", *FLOAT), "unknown-sample", "There is one: S1"),
        (("case", "show", "S1"), "unknown-case", "There is one: C1"),
        (("case", "show", "saffron"), "unknown-case", "the one case of Saffron: C1"),
        (("exam", "show", "S1"), "unknown-exam", "the one exam of S1: E1"),
        (("exam", "show", "A1"), "unknown-exam", "the one exam of Saffron: E1"),
        (
            ("exam", "read", "E1-7", "--objective", "10", "--counts", "0", "--of", "oxyurid"),
            "unknown-preparation",
            "E1-1",
        ),
        # counts
        ((*EXAM, "--counts", "-1,2", "--of", "oxyurid"), "not-a-count", "a count is a whole number"),
        ((*EXAM, "--counts", "0,1.5", "--of", "oxyurid"), "not-a-count", "entry 2 is '1.5'"),
        ((*EXAM, "--counts", "0,nan", "--of", "oxyurid"), "not-a-count", "whole number"),
        ((*EXAM, "--counts", "", "--of", "oxyurid"), "not-a-count", "whole number"),
        ((*EXAM, "--counts", "0,2"), "organism-missing", "--of oxyurid"),
        ((*EXAM, "--counts", "oxyurid:1,2", "--counts", "coccidian:0"), "field-numbers", "1, 2"),
        ((*EXAM, "--counts", "oxyurid:1", "--counts", "oxyurid:0"), "given-twice", "oxyurid twice"),
        ((*EXAM, "--share", "1", "--seen", "oxyurid=-3"), "not-a-count", "whole number"),
        ((*EXAM, "--share", "1", "--seen", "oxyurid"), "not-a-count", "oxyurid=2"),
        ((*EXAM, "--seen", "oxyurid=3"), "share-missing", "how much of the glass"),
        ((*EXAM, "--share", "1", "--seen", "oxyurid=99999999999"), "too-large", "too large"),
        # organisms, methods, words of a closed list
        ((*EXAM, "--counts", "0", "--of", "oxyurd"), "unknown-organism", "Did you mean oxyurid"),
        ((*EXAM, "--counts", "0", "--of", "unicorn"), "unknown-organism", "fecallab reference"),
        (("exam", "add", "S1", "--method", "flotation"), "method-two-ways", "simple_flotation or centrif"),
        (("exam", "add", "S1", "--method", "simple_flotaton"), "not-a-choice", "simple_flotation"),
        (("exam", "show", "E1", "--target", "pinwrm"), "unknown-organism", "pinworm"),
        (("sample", "add", "Saffron", "--form", "runny"), "not-a-choice", "formed, soft, liquid"),
        (("sample", "add", "Saffron", "--kept", "freezer"), "not-a-choice", "frozen"),
        (("sample", "add", "Saffron", "--origin", "blood"), "not-a-choice", "cloacal wash"),
        (("animal", "add", "X", "--kind", "herd"), "not-a-choice", "animal, tub, pen"),
        (("animal", "add", "X", "--host-group", "frog"), "not-a-choice", "tortoise"),
        (("animal", "add", "X", "--number", "3"), "number-of-animals", "an animal is one"),
        (("animal", "add", "X", "--kind", "tub", "--number", "0"), "", "1 or more"),
        (("animal", "add", "X", "--kind", "tub", "--number", "99999999999"), "too-large", "too large"),
        (("animal", "event", "Saffron", "moulted"), "not-a-choice", "brumation"),
        (("animal", "event", "Saffron", "died", "--to", "2025-04-01"), "end-not-asked", "one day"),
        (("care", "log", "Saffron", "massage"), "not-a-choice", "fluids"),
        (("care", "log", "Saffron", "fluids"), "amount-missing", "ml"),
        (("care", "log", "Saffron", "fluids", "--", "-3"), "", "outside 0"),
        (("care", "log", "Saffron", "warm end", "95"), "out-of-range", "°C"),
        (("case", "close", "C1", "--ending", "bored"), "not-a-choice", "goal reached"),
        (("case", "open", "Saffron", "pollen_pine", "--vet", "V"), "no-target", "group of parasites"),
        (("case", "open", "Saffron", "oxyurid", "--vet", "V"), "case-open-already", "C1"),
        ((*ELSEWHERE, "--result", "clean", "--collected", "2025-05-05"), "not-a-choice", "negative"),
        (
            (*ELSEWHERE, "--result", "negative", "--collected", "2025-05-05", "--stage", "eggs"),
            "not-a-choice",
            "Did you mean egg?",
        ),
        # days and times
        (("sample", "add", "Saffron", "--passed-from", f"{FUTURE} 08:00"), "in-the-future", "future"),
        (("sample", "add", "Saffron", "--collected", FUTURE), "in-the-future", "after today"),
        (("animal", "weigh", "Saffron", "318", "--at", f"{FUTURE} 08:00"), "in-the-future", "future"),
        (("animal", "event", "Saffron", "brumation", "--from", FUTURE), "in-the-future", "after today"),
        (("plan", "add", "C1", "--vet", "V", "--written", FUTURE), "in-the-future", "after today"),
        (("case", "close", "C1", "--on", FUTURE), "in-the-future", "after today"),
        (("case", "close", "C1", "--on", "2025-03-01"), "closed-before-opened", "opened on 4 March 2025"),
        (("dose", "give", "C1", "--at", f"{FUTURE} 08:00"), "in-the-future", "future"),
        ((*EXAM[:-4], "--read-at", f"{FUTURE} 08:00"), "in-the-future", "future"),
        ((*EXAM[:-4], "--read-at", "2025-03-04 05:00"), "exam-before-sample", "before its sample"),
        (("sample", "add", "Saffron", "--passed-from", "yesterdayish"), "not-a-time", "2026-03-04 08:30"),
        (("sample", "add", "Saffron", "--passed-from", "2025-02-30"), "not-a-day", "year-month-day"),
        (("sample", "add", "Saffron", "--passed-from", "04.03.2025 08:30"), "not-a-time", "day and hour"),
        (("sample", "add", "Saffron", "--passed-from", "25:99"), "not-a-time", "hour of today"),
        (("sample", "add", "Saffron", "--passed-from", "1925-03-04 08:00"), "too-long-ago", "year"),
        (("sample", "add", "Saffron", "--passed-to", "2025-03-04 08:00"), "window-open", "--passed-from"),
        (
            (
                "sample",
                "add",
                "Saffron",
                "--passed-from",
                "2025-03-04 09:00",
                "--passed-to",
                "2025-03-04 08:00",
            ),
            *("end-before-start", "Swap them"),
        ),
        (
            (
                "sample",
                "add",
                "Saffron",
                "--passed-from",
                "2025-03-04 09:00",
                "--collected",
                "2025-03-04 08:00",
            ),
            *("collected-before-passed", "before the stool was passed"),
        ),
        (
            (
                "exam",
                "elsewhere",
                "Saffron",
                "--target",
                "oxyurid",
                "--from",
                "L",
                "--method",
                "m",
                "--result",
                "negative",
                "--collected",
                "2025-05-05",
                "--reported",
                "2025-05-01",
            ),
            *("reported-before-collected", "before --collected"),
        ),
        # numbers
        ((*EXAM, "--share", "1.2"), "out-of-range", "0 to 1"),
        ((*EXAM, "--share", "40%"), "not-a-number", "plain number"),
        ((*EXAM, "--share", "nan"), "not-a-number", "plain number"),
        ((*EXAM, "--share", "inf"), "not-a-number", "plain number"),
        ((*EXAM, "--share", "1e999"), "out-of-range", "0 to 1"),
        ((*EXAM[:-2], "--objective", "10x", "--share", "1"), "not-a-number", "plain number"),
        ((*EXAM[:-2], "--share", "1"), "objective-missing", "--objective 40"),
        (("exam", "add", "S1", *FLOAT, "--gravity", "118"), "out-of-range", "0.9 to 2"),
        (
            ("exam", "add", "S1", "--method", "mcmaster", "--suspension-ml", "3", "--counted-ml", "30"),
            "volumes",
            "more than",
        ),
        (("animal", "weigh", "Saffron", "0"), "out-of-range", "unit"),
        (("animal", "weigh", "Saffron", "1,234"), "not-a-number", "thousands mark"),
        (("animal", "weigh", "Saffron", "318g"), "not-a-number", "without a unit"),
        (("animal", "weigh", "Saffron", "--", "-3"), "", "outside"),
        (("sample", "add", "Saffron", "--mass-g", "1e400"), "out-of-range", "unit"),
        (("sample", "add", "Saffron", "--same-stool-as", "S9"), "unknown-sample", "There is one: S1"),
        (("sample", "add", "Pixel", "--same-stool-as", "S1"), "same-stool-of-another", "is of Saffron"),
        # plans and doses
        (
            ("plan", "add", "C1", "--vet", "V", "--drug", "fenbendazole"),
            "order-incomplete",
            "nothing is guessed",
        ),
        (("plan", "add", "C1", "--vet", "V", "--doses", "2"), "drug-missing", "without a drug"),
        (
            ("plan", "add", "C1", *PLAN, "--doses", "1000", "--interval-days", "3650"),
            "course-too-long",
            "days",
        ),
        (("plan", "add", "C1", *PLAN, "--goal", "watch, no treatment"), "goal-and-drug", "is to be given"),
        (("plan", "add", "C1", "--vet", "V", "--goal", "cured"), "not-a-choice", "clear"),
        (("plan", "add", "C1", "--vet", "V", "--wait-days", "2000000000"), "out-of-range", "0 to 3650"),
        (("plan", "add", "C1", "--vet", "V", "--negatives", "-1"), "out-of-range", "1 to 100"),
        (("plan", "add", "C1", "--vet", "V", "--spacing-days", "-1"), "out-of-range", "0 to 3650"),
        (
            ("plan", "add", "C1", "--vet", "V", "--goal", "low burden", "--grade-scale", "mine"),
            "scale-unknown",
            "Name one of",
        ),
        (
            ("plan", "add", "C1", "--vet", "V", "--goal", "low burden", "--grade-at-most", "tiny"),
            "grade-unknown",
            "moderate",
        ),
        (
            (
                "plan",
                "add",
                "C1",
                "--vet",
                "V",
                "--goal",
                "low burden",
                "--grade-scale",
                "people_epg_ascaris",
            ),
            "grade-scale-of-people",
            "people",
        ),
        (("plan", "add", "C1", *PLAN, "--dose-mg-per-kg", "-50"), "out-of-range", "unit"),
        (("plan", "add", "C1", *PLAN, "--dose-mg-per-kg", "50 mg"), "not-a-number", "plain number"),
        (("dose", "give", "C1", "--outcome", "forgot"), "not-a-choice", "missed"),
        (("animal", "event", "Saffron", "vet accepts course"), "vet-missing", "named vet"),
        # corrections
        (("correct", "S1", "mass_g", "--reason", "x"), "no-change", "field=value"),
        (("correct", "S1", "colour=red", "--reason", "x"), "not-a-choice", "remark"),
        (("correct", "S1", "mass_g=heavy", "--reason", "x"), "not-a-number", "plain number"),
        (("correct", "S1", "mass_g=2", "--reason", " "), "no-reason", "reason"),
        (("correct", "S1", "mass_g=1.4", "--reason", "x"), "nothing-changed", "differs"),
        (("correct", "S1", "passed_from=2025-03-05 08:00", "--reason", "x"), "", "before"),
        (("correct", "S1", "same_stool_as=S1", "--reason", "x"), "same-stool-as-itself", "itself"),
        (("correct", "A1", "host_group=frog", "--reason", "x"), "not-a-choice", "tortoise"),
        (("correct", "A1", "number_of_animals=2.5", "--reason", "x"), "not-a-count", "whole number"),
        (("correct", "A1", "name=Pixel", "--reason", "x"), "name-taken", "Pixel"),
        (("correct", "C1", "target=unicorn", "--reason", "x"), "unknown-organism", "unicorn"),
        (("correct", "C1", "stages=abc", "--reason", "x"), "not-a-choice", "target"),
        (("correct", "E1-1", "read_at=2025-03-01 08:00", "--reason", "x"), "exam-before-sample", "before"),
        (("correct", "E1-1", "cover_glass=1x1", "--reason", "x"), "not-a-choice", "22x22"),
        (("correct", "E1-1-1", "counts=5", "--reason", "x"), "organism-missing", "counts.oxyurid"),
        (("correct", "E1-1-1", "counts.oxyurid=-5", "--reason", "x"), "not-a-count", "whole number"),
        (("correct", "E1-1-1", "counts.unicorn=5", "--reason", "x"), "unknown-organism", "unicorn"),
        (("correct", "E1-1-1", "objective=1e300", "--reason", "x"), "out-of-range", "250"),
        (("correct", "E1-1-1", "cover_share=", "--reason", "x"), "share-missing", "share"),
        (("correct", "E9", "remark=x", "--reason", "x"), "unknown-code", "E9"),
        (("withdraw", "S1", "--reason", "x"), "still-needed", "E1"),
        (("history", "nonsense"), "unknown-code", "code"),
        # usage
        (("animal", "ad", "X"), "usage", "--help"),
        (("animal", "weigh", "Saffron"), "usage", "--help"),
        (("animal", "weigh", "Saffron", "318", "319"), "usage", "--help"),
        (("exam", "add", "S1"), "usage", "--method"),
        (("animal", "add", "X", "--number", "many"), "usage", "--number"),
    ],
)
def test_what_cannot_be_meant_is_one_line(
    refused_as_bad: Callable[..., str], words: tuple[str, ...], code: str, said: str
) -> None:
    assert said in refused_as_bad(*words, code=code)


def test_a_folder_that_is_no_record_folder_is_one_line(fecallab: Run, tmp_path: Path) -> None:
    for where in (tmp_path, tmp_path / "not there", tmp_path / "a\0b"):
        said = fecallab("animal", "list", "--records", where)
        assert (said.code, said.out) == (2, "")
        assert said.err.count("\n") == 1 and "fecallab records make" in said.err
        assert "\0" not in said.err
    assert fecallab("animal", "list", "--records", "~nobody-of-this-name/records").code == 2
    assert fecallab("animal", "list").err.startswith("Not understood: No record folder was named")
    (tmp_path / "file").write_text("x", encoding="utf-8")
    assert fecallab("records", "make", "file").code == 2
    full = tmp_path / "full"
    full.mkdir()
    (full / "letter.txt").write_text("x", encoding="utf-8")
    assert "letter.txt" in fecallab("records", "make", full).err
    assert list(full.iterdir()) == [full / "letter.txt"]


def test_a_weight_of_less_than_a_gram_asks_whether_it_was_read_in_kg(folder: Path, fecallab: Run) -> None:
    assert fecallab("animal", "add", "Pip", "--species", "leopard gecko").code == 0
    assert "is it 320 g, read in kg?" in fecallab("animal", "weigh", "Pip", "0.32").out
