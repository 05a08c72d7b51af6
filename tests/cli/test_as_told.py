"""Starting in mid-course: what was only told is recorded, counts as they state it, and is marked everywhere."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import FLOAT, PLAN, Said, contents

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]
TOLD = "as told, not seen here"


@pytest.fixture
def taken_on(do: Do) -> str:
    """A lizard that came in mid-course, everything as told by somebody else: a case from 4 March 2025."""
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    do(
        *("exam", "elsewhere", "Saffron", "--target", "oxyurid", "--result", "positive", "--from", "Lab Ouk"),
        *("--method", "flotation", "--collected", "2025-03-04", "--reported", "2025-03-05", "--as-told"),
    )
    do("plan", "add", "C1", *PLAN, "--as-told")
    do("animal", "weigh", "Saffron", "317", "--at", "2025-03-07 08:00", "--as-told")
    for day in ("2025-03-07", "2025-03-21"):
        do("dose", "give", "C1", "--at", f"{day} 08:15", "--volume-ml", "0.16", "--as-told")
    return "C1"


def test_doses_as_told_count_as_given(do: Do, taken_on: str) -> None:
    shown = do("case", "show", taken_on, "--on", "2025-03-22")
    assert shown["standing"] == "course done, not confirmed: waiting"
    assert [(dose["as_told"], dose["outcome"]) for dose in shown["doses"]] == [(True, "given")] * 2
    assert shown["doses"][0]["delivered_mg_per_kg"] == "50.47"


def test_a_dose_as_told_needs_no_weight_and_meets_no_refusal(do: Do, fecallab: Callable[..., Said]) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    do("case", "open", "Saffron", "oxyurid", "--vet", "Dr Ilse Varnholt", "--on", "2025-03-04")
    do("plan", "add", "C1", *PLAN, "--as-told")
    refused = fecallab("dose", "give", "C1", "--at", "2025-03-07 08:15", "--json")
    assert refused.code == 1, "seen here, it needs a weight"
    dose = do("dose", "give", "C1", "--at", "2025-03-07 08:15", "--as-told")["dose"]
    assert (dose["weight_g"], dose["delivered_mg_per_kg"], dose["as_told"]) == (None, "", True)


@pytest.mark.parametrize(
    ("word", "result", "counted"),
    [((), "inconclusive", 0), (("--not-adequate",), "inconclusive", 0), (("--adequate",), "negative", 1)],
)
def test_an_exam_as_told_is_adequate_only_as_they_state_it(
    do: Do, taken_on: str, word: tuple[str, ...], result: str, counted: int
) -> None:
    passed = ("--passed-from", "2025-06-02 06:30", "--passed-to", "2025-06-02 08:00", "--kept", "room")
    sample = do("sample", "add", "Saffron", *passed, "--mass-g", "2", "--as-told")["sample"]
    assert sample["as_told"]
    read = ("--read-at", "2025-06-02 09:00", "--objective", "10", "--share", "1", "--seen", "oxyurid=0")
    do("exam", "add", sample["code"], *FLOAT, *read, "--as-told", *word)
    shown = do("case", "show", taken_on)
    assert (shown["exams"][-1]["result"], shown["exams"][-1]["as_told"]) == (result, True)
    assert shown["k"] == counted, "the same float, read here, would have counted"


def test_a_positive_as_told_is_a_positive(do: Do, taken_on: str) -> None:
    do("sample", "add", "Saffron", "--passed-from", "2025-06-02 06:30", "--as-told")
    read = ("--read-at", "2025-06-02 09:00", "--objective", "10", "--share", "1", "--seen", "oxyurid=2")
    do("exam", "add", "S2", *FLOAT, *read, "--as-told")
    assert do("case", "show", taken_on)["standing"] == "positive again: back to the vet"


def test_it_is_marked_wherever_it_is_listed(do: Do, say: Say, taken_on: str, tmp_path: Path) -> None:
    for words in (
        ("animal", "list"),
        ("animal", "show", "Saffron"),
        ("sample", "list"),
        ("exam", "show", "E1"),
        ("plan", "show", "C1"),
        ("case", "show", "C1"),
    ):
        assert TOLD in say(*words), words
    assert "As told, not seen here: plan P1; doses D1, D2; exam E1; weight W1." in say("case", "show", "C1")
    assert say("case", "show", "C1").count(TOLD) >= 4, "plan, exam and each dose in its own line too"
    do("report", "case", "C1", "--to", str(tmp_path / "pages"))
    for page in ("case-C1.html", "exam-E1.html"):
        assert TOLD in (tmp_path / "pages" / page).read_text(encoding="utf-8").lower(), page


@pytest.mark.parametrize(
    ("word", "said"),
    [("--adequate", "Could it have shown oxyurid, egg? Yes"), (None, "and they do not state it")],
)
def test_a_page_asks_no_questions_of_an_exam_as_told(
    do: Do, taken_on: str, tmp_path: Path, word: str | None, said: str
) -> None:
    do("sample", "add", "Saffron", "--passed-from", "2025-06-02 06:30", "--as-told")
    read = ("--read-at", "2025-06-02 09:00", "--objective", "10", "--share", "1", "--seen", "oxyurid=0")
    do("exam", "add", "S2", *FLOAT, *read, "--as-told", *([word] if word else []))
    do("report", "exam", "E2", "--to", str(tmp_path / "pages"))
    page = (tmp_path / "pages" / "exam-E2.html").read_text(encoding="utf-8")
    assert said in " ".join(page.split())
    assert "adequate only as they state it" in page
    assert "Was it floated within" not in page


def test_nothing_is_marked_that_was_seen_here(say: Say, treated: str) -> None:
    for words in (("animal", "show", "Saffron"), ("exam", "show", "E1"), ("case", "show", treated)):
        assert "as told" not in say(*words).lower()


def test_adequacy_of_an_exam_read_here_is_not_a_matter_of_a_word(
    folder: Path, fecallab: Callable[..., Said], case: str
) -> None:
    before = contents(folder)
    said = fecallab("exam", "add", "S1", *FLOAT, "--objective", "10", "--share", "1", "--adequate", "--json")
    assert (said.code, said.error["code"]) == (2, "adequate-not-asked")
    assert contents(folder) == before
