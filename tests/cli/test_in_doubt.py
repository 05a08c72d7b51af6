"""Exams that a failed control run puts in doubt count all the same, and that is said wherever something rests on them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from .nursery import clean_exam, nursery, nursery_folder

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]
KNOWN = ("control", "add", "known positive", "--method", "simple flotation", "--expected", "20", "--found")
COUNTED = "Not proven, and counted all the same: "
__all__ = ["clean_exam", "nursery", "nursery_folder"]


def test_a_case_says_what_its_end_would_rest_on(do: Do, say: Say, float_exam: Do, treated: str) -> None:
    for day in ("2025-05-02", "2025-05-20", "2025-06-10"):
        float_exam("Saffron", day)
    before = say("case", "show", treated, "--on", "2025-06-11")
    assert (
        "may close the case" in before
        and before.count("by simple flotation. No control run recorded.\n") == 3
    )
    failed = say(*KNOWN, "0", "--of", "oxyurid", "--at", "2025-06-20 09:00")
    assert "They count all the same where a case or a quarantine ends. Ask the vet" in failed
    shown = do("case", "show", treated)
    assert shown["may_close"] and shown["counted_not_proven"] == ["E2", "E3", "E4"]
    text = say("case", "show", treated)
    assert f"{COUNTED}E2, E3, E4." in text and "before you close the case." in text
    assert "yes, in doubt: 1 of 3" in text and "yes: 1 of 3" not in text
    closed = say("case", "close", treated)
    assert "C1 closed: goal reached" in closed and f"{COUNTED}E2, E3, E4." in closed
    after = say("case", "show", treated)
    assert f"{COUNTED}E2, E3, E4." in after and "before you close" not in after


def test_a_later_good_run_does_not_hide_what_was_doubted_before(do: Do, float_exam: Do, treated: str) -> None:
    float_exam("Saffron", "2025-05-02")
    do(*KNOWN, "0", "--of", "oxyurid", "--at", "2025-05-10 09:00")
    do(*KNOWN, "21", "--of", "oxyurid", "--at", "2025-05-12 09:00")
    float_exam("Saffron", "2025-05-20")
    assert do("case", "show", treated)["counted_not_proven"] == ["E2"]


def test_those_in_quarantine_are_not_let_go_without_a_word_about_it(
    nursery: None, do: Do, say: Say, clean_exam: Any, tmp_path: Path
) -> None:
    for day in ("2025-03-02", "2025-03-20", "2025-04-05"):
        clean_exam("Thistle", day)
    assert COUNTED not in say("arrivals", "show", "I1", "--on", "2025-05-30")
    do(*KNOWN, "0", "--of", "coccidian", "--at", "2025-05-12 09:00")
    groups = do("arrivals", "show", "I1", "--on", "2025-05-30")["groups"]
    assert [[one["code"] for one in group["remarks"] if "proven" in one["code"]] for group in groups] == [
        [],
        ["counted-not-proven"],
    ]
    assert groups[1]["may_release"]
    shown = say("arrivals", "show", "I1", "--on", "2025-05-30")
    assert f"Note: {COUNTED}E1, E2, E3." in shown and "before you release anybody." in shown
    pages = str(tmp_path / "pages")
    do("report", "arrival", "I1", "--animal", "Thistle", "--on", "2025-05-30", "--to", pages)
    (page,) = (tmp_path / "pages").glob("*.html")
    assert f"{COUNTED}E1, E2, E3." in page.read_text(encoding="utf-8")
    assert COUNTED not in say("arrivals", "show", "I1", "--on", "2025-05-11"), "nobody knew it then"
    released = say("arrivals", "release", "I1", "Thistle", "--on", "2025-05-30")
    assert f"{COUNTED}E1, E2, E3." in released
