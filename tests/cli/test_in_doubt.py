"""Exams that a failed control run puts in doubt count all the same, and that is said wherever something rests on them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .asking import typed
from .nursery import clean_exam, nursery, nursery_folder

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]
KNOWN = ("control", "add", "known positive", "--method", "simple flotation", "--expected", "20", "--found")
COUNTED = "Not proven, and counted all the same: "
__all__ = ["clean_exam", "nursery", "nursery_folder", "typed"]


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
    due = say("due")
    assert "the case may be closed, but not proven: E2, E3, E4" in " ".join(due.split())
    assert f"! C1: {COUNTED}E2, E3, E4." in due and "before you close the case." in due
    (thing,) = do("due")["due"]
    assert (thing["counted_not_proven"], thing["next"]) == (["E2", "E3", "E4"], "fecallab case show C1")
    assert COUNTED in thing["why"]


@pytest.fixture
def doubted(do: Do, float_exam: Do, treated: str) -> str:
    """Give a case that may be closed on three exams, one of them in doubt."""
    for day in ("2025-05-02", "2025-05-20", "2025-06-10"):
        float_exam("Saffron", day)
    do(*KNOWN, "21", "--of", "oxyurid", "--at", "2025-05-30 09:00")
    do(*KNOWN, "0", "--of", "oxyurid", "--at", "2025-06-20 09:00")
    return treated


WARNED = f"C1 is to be closed: goal reached.\n  ! {COUNTED}E4."


def test_a_case_is_not_closed_on_exams_in_doubt_before_that_was_said(do: Do, say: Say, doubted: str) -> None:
    said = do("case", "close", doubted)
    assert said == {"closed": False, "standing": "clear by the rule", "counted_not_proven": ["E4"]}
    refused = say("case", "close", doubted)
    assert refused.endswith("The case stays open. To close it all the same: add --yes\n")
    assert not do("case", "show", doubted)["closed"]
    order = ("--ending", "on a vet's order", "--vet", "Dr Ilse Varnholt", "--reason", "moves away")
    assert "! Not proven" not in say("case", "close", doubted, *order), "an order does not rest on the exams"


def test_one_who_wants_it_all_the_same_closes_it(do: Do, say: Say, doubted: str) -> None:
    closed = say("case", "close", doubted, "--yes")
    assert closed.startswith(WARNED) and closed.index(WARNED) < closed.index(
        "C1 closed: goal reached. Recorded."
    )
    after = say("case", "show", doubted)
    assert f"{COUNTED}E4." in after and "before you close" not in after


@pytest.mark.parametrize(("answer", "closes"), [("", False), ("n", False), ("y", True)])
def test_a_person_is_asked_before_the_case_is_closed(
    do: Do, typed: Any, doubted: str, answer: str, closes: bool
) -> None:
    said = typed(["case", "close", doubted], answer)
    assert said.out.index(f"! {COUNTED}E4.") < said.out.index("Close it all the same? y, n")
    assert said.out.count(COUNTED) == 1
    assert ("Recorded." in said.out) is closes and ("stays open" in said.out) is not closes
    assert bool(do("case", "show", doubted)["closed"]) is closes


def test_what_comes_into_doubt_while_a_person_thinks_is_asked_about_anew(
    fecallab: Any, do: Do, doubted: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def somebody_else_records(*_: object) -> bool:
        do(*KNOWN, "0", "--of", "oxyurid", "--at", "2025-05-25 09:00")
        return True

    monkeypatch.setattr("fecallab.cli.case.agreed", somebody_else_records)
    said = fecallab("case", "close", doubted, "--json")
    assert (said.code, said.error["code"]) == (3, "doubt-meanwhile")
    assert "E2, E3 came into doubt meanwhile" in said.error["text"]
    assert do("case", "show", doubted)["may_close"]


def test_where_nothing_is_in_doubt_a_case_is_closed_without_a_question(
    typed: Any, float_exam: Do, treated: str
) -> None:
    for day in ("2025-05-02", "2025-05-20", "2025-06-10"):
        float_exam("Saffron", day)
    said = typed(["case", "close", treated])
    assert "C1 closed: goal reached. Recorded." in said.out and "y, n" not in said.out


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


RELEASE = ("arrivals", "release", "I1", "Thistle", "--on", "2025-05-30")


@pytest.fixture
def may_leave(nursery: None, clean_exam: Any) -> None:
    """Give Thistle the three clean exams after which it may leave quarantine."""
    for day in ("2025-03-02", "2025-03-20", "2025-04-05"):
        clean_exam("Thistle", day)


@pytest.fixture
def leaves_in_doubt(may_leave: None, do: Do) -> None:
    """Put all three of them in doubt."""
    do(*KNOWN, "0", "--of", "coccidian", "--at", "2025-05-12 09:00")


def test_nobody_is_released_on_exams_in_doubt_before_that_was_said(
    leaves_in_doubt: None, do: Do, fecallab: Any
) -> None:
    said = do(*RELEASE)
    assert (said["released"], said["releases"], said["number"]) == (False, [], 0)
    assert said["counted_not_proven"] == ["E1", "E2", "E3"]
    refused = fecallab(*RELEASE)
    assert refused.err.startswith("1 animal of I1 is to be released on 30 May 2025.\n  Thistle\n")
    assert f"! {COUNTED}E1, E2, E3." in refused.err and "before you release anybody." in refused.err
    assert refused.out == "Nobody is released. To release all the same: add --yes\n"
    assert do("arrivals", "show", "I1", "--on", "2025-05-31")["released"] == []
    assert do(*RELEASE[:3], "--on", "2025-05-30")["stay_apart"] == said["stay_apart"], "whoever is named"


def test_one_who_wants_it_all_the_same_releases_them(leaves_in_doubt: None, do: Do, say: Say) -> None:
    released = say(*RELEASE, "--yes")
    assert released.index(f"! {COUNTED}E1, E2, E3.") < released.index("released on 30 May 2025 by")
    assert released.count("Thistle") == 1
    (act,) = do("arrivals", "show", "I1", "--on", "2025-05-31")["released"]
    assert act["state"] == "released on 30 May 2025", "the rule what may be released stays as it is"


@pytest.mark.parametrize(("answer", "leaves"), [("", False), ("n", False), ("y", True)])
def test_a_person_is_asked_before_they_are_released(
    leaves_in_doubt: None, do: Do, typed: Any, answer: str, leaves: bool
) -> None:
    said = typed(list(RELEASE), answer)
    assert said.out.index(f"! {COUNTED}E1, E2, E3.") < said.out.index("Release all the same? y, n")
    assert said.out.count(COUNTED) == 1
    assert ("Recorded." in said.out) is leaves and ("Nobody is released." in said.out) is not leaves
    assert bool(do("arrivals", "show", "I1", "--on", "2025-05-31")["released"]) is leaves


def test_where_nothing_is_in_doubt_they_are_released_without_a_question(may_leave: None, typed: Any) -> None:
    said = typed(list(RELEASE))
    assert "Recorded." in said.out and "y, n" not in said.out


def test_a_release_on_a_vets_order_rests_on_no_exam(nursery: None, do: Do, clean_exam: Any) -> None:
    clean_exam("Thistle", "2025-03-02")
    do(*KNOWN, "0", "--of", "coccidian", "--at", "2025-03-12 09:00")
    order = ("--vet", "Dr Ilse Varnholt", "--reason", "goes to a clinic")
    said = do("arrivals", "release", "I1", "Thistle", "--on", "2025-03-20", *order)
    assert said["released"] and said["counted_not_proven"] == []


def test_what_comes_into_doubt_while_a_release_is_thought_over_is_asked_about_anew(
    may_leave: None, do: Do, fecallab: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    do(*KNOWN, "21", "--of", "coccidian", "--at", "2025-03-10 09:00")
    do(*KNOWN, "0", "--of", "coccidian", "--at", "2025-05-12 09:00")
    assert do(*RELEASE)["counted_not_proven"] == ["E2", "E3"]

    def somebody_else_records(*_: object) -> bool:
        do(*KNOWN, "0", "--of", "coccidian", "--at", "2025-03-05 09:00")
        return True

    monkeypatch.setattr("fecallab.cli.arrivals_release.agreed", somebody_else_records)
    said = fecallab(*RELEASE, "--json")
    assert (said.code, said.error["code"]) == (3, "doubt-meanwhile")
    assert "E1 came into doubt meanwhile" in said.error["text"]
    assert do("arrivals", "show", "I1", "--on", "2025-05-31")["released"] == []
