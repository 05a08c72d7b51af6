"""A case by commands: plan, doses, the way to its end, and corrections."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import KEEPER, PLAN, Said

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]
Run = Callable[..., Said]


def test_the_whole_course_of_a_case(do: Do, say: Say, fecallab: Run, case: str, float_exam: Do) -> None:
    assert "not treated" in say("case", "list", "--on", "2025-03-05")
    assert do("due", "--on", "2025-03-05")["due"][0]["what"] == "ask the vet (not treated)"
    planned = say("plan", "add", case, *PLAN)
    assert "fenbendazole 50 mg/kg by mouth, 100 mg/ml, 2 doses every 14 days" in planned
    assert "Follow-up: 3 negatives, 14 days apart, from 30 days after the last dose" in planned
    assert do("plan", "show", case)["plans"][0]["vet"] == "Dr Ilse Varnholt"
    assert "weigh, then dose 1 of 2" in say("due", "--on", "2025-03-06")

    no_weight = fecallab("dose", "work-out", case, "--at", "2025-03-07 08:00", "--json")
    assert (no_weight.code, no_weight.json["refused"]) == (1, True)
    assert no_weight.json["reasons"][0]["code"].startswith("weight")

    do("animal", "weigh", "Saffron", "317", "--at", "2025-03-07 08:00")
    worked = do("dose", "work-out", case, "--at", "2025-03-07 08:10")
    assert float(worked["volume_ml"]) == pytest.approx(317 / 1000 * 50 / 100)
    assert worked["refused"] is False
    spoken = say("dose", "work-out", case, "--at", "2025-03-07 08:10")
    assert "draw 0.16 ml (zero point one six millilitres)" in spoken and "weight 317 g" in spoken

    given = do("dose", "give", case, "--at", "2025-03-07 08:15", "--lot", "L-77")
    assert given["standing"] == "on treatment"
    assert (given["dose"]["volume_ml"], given["dose"]["by"], given["dose"]["lot"]) == ("0.16", KEEPER, "L-77")
    too_early = fecallab("dose", "give", case, "--at", "2025-03-07 20:15", "--json")
    assert too_early.code == 1 and len(do("case", "show", case, "--on", "2025-03-08")["doses"]) == 1
    assert do("due", "--on", "2025-03-10")["due"][0]["on_or_after"] == "2025-03-21"

    do("animal", "weigh", "Saffron", "321", "--at", "2025-03-21 08:00")
    assert "waiting until 20 April 2025" in say("dose", "give", case, "--at", "2025-03-21 08:15")
    do("animal", "weigh", "Saffron", "324", "--at", "2025-04-04 08:00")
    used_up = fecallab("dose", "work-out", case, "--at", "2025-04-04 08:10", "--json")
    assert used_up.code == 1, "a course is never extended by itself"

    early = fecallab("case", "close", case, "--on", "2025-04-05", "--json")
    assert (early.code, early.json["reasons"][0]["code"]) == (1, "goal-not-reached")
    assert "20 April 2025" in early.json["reasons"][0]["next"]

    for day in ("2025-04-21", "2025-05-06"):
        float_exam("Saffron", day)
    shown = do("case", "show", case, "--on", "2025-05-07")
    assert (shown["standing"], shown["k"], shown["n"]) == ("k of n", 2, 3)
    assert shown["next_sample_on_or_after"] == "2025-05-20"
    assert 0 < shown["chance_left"]["independent"] < shown["chance_left"]["cautious"] < 0.5
    assert "examine the next stool passed on or after 20 May 2025" in say("due", "--on", "2025-05-07")
    float_exam("Saffron", "2025-05-21")
    text = say("case", "show", case, "--on", "2025-05-22")
    assert "clear by the rule" in text and "nothing found in stools by these exams" in text
    assert do("due", "--on", "2025-05-22")["due"][0]["what"] == "the case may be closed"
    closed = say("case", "close", case, "--on", "2025-05-23")
    assert "C1 closed: goal reached" in closed and "no diagnosis" in closed
    assert do("case", "show", case, "--on", "2025-05-23")["closed"] == "closed on 23 May 2025: goal reached"
    assert do("case", "show", case, "--on", "2025-05-22")["closed"] == "", "a past day knows nothing of it"
    assert say("due", "--on", "2025-05-24").endswith("Nothing is open.\n")


def test_a_late_positive_leads_back_to_the_vet(
    do: Do, say: Say, fecallab: Run, treated: str, float_exam: Do
) -> None:
    float_exam("Saffron", "2025-04-21")
    float_exam("Saffron", "2025-05-06", "oxyurid=1")
    shown = do("case", "show", treated, "--on", "2025-05-07")
    assert shown["standing"] == "positive again: back to the vet"
    assert [reason["code"] for reason in shown["reasons"]] == ["positive-again", "reinfection-possible"]
    do("animal", "weigh", "Saffron", "330", "--at", "2025-05-07 08:00")
    refused = fecallab("dose", "work-out", treated, "--at", "2025-05-07 08:10", "--json")
    assert (refused.code, refused.json["reasons"][0]["code"]) == (1, "vet-first")
    again = [word if word != "2025-03-06" else "2025-05-08" for word in PLAN]
    do("plan", "add", treated, *again)
    assert do("case", "show", treated, "--on", "2025-05-08")["standing"] == "not treated"
    assert "(replaced)" in say("plan", "show", treated)


def test_a_broken_course_counts_nothing_until_the_vet_says_so(
    do: Do, fecallab: Run, case: str, float_exam: Do
) -> None:
    do("plan", "add", case, *PLAN)
    do("animal", "weigh", "Saffron", "317", "--at", "2025-03-07 08:00")
    do("dose", "give", case, "--at", "2025-03-07 08:15")
    spat = do("dose", "give", case, "--at", "2025-03-21 08:15", "--outcome", "spat")
    assert spat["standing"] == "course incomplete"
    for day in ("2025-04-21", "2025-05-06", "2025-05-21"):
        float_exam("Saffron", day)
    assert do("case", "show", case, "--on", "2025-05-22")["standing"] == "course incomplete"
    nobody = fecallab("animal", "event", "Saffron", "vet accepts course", "--json")
    assert (nobody.code, nobody.error["code"]) == (2, "vet-missing")
    word = ("--vet", "Dr Ilse Varnholt", "--case", case, "--from", "2025-05-22")
    do("animal", "event", "Saffron", "vet accepts course", *word)
    assert do("case", "show", case, "--on", "2025-05-22")["standing"] == "clear by the rule"


def test_a_dose_that_was_given_all_the_same_is_logged_with_why_not(do: Do, fecallab: Run, case: str) -> None:
    do("plan", "add", case, *PLAN)
    refused = fecallab("dose", "give", case, "--at", "2025-03-07 08:15", "--json")
    assert refused.code == 1 and refused.json["reasons"][-1]["code"] == "log-anyway"
    logged = do("dose", "give", case, "--at", "2025-03-07 08:15", "--already-given", "--volume-ml", "0.1625")
    assert logged["dose"]["volume_ml"] == "0.1625"
    assert "logged though refused: weight" in logged["dose"]["remark"]


def test_the_weight_shown_with_a_dose_is_the_one_it_was_worked_out_from(do: Do, say: Say, case: str) -> None:
    do("plan", "add", case, *PLAN)
    do("animal", "weigh", "Saffron", "317", "--at", "2025-03-07 08:00")
    do("animal", "weigh", "Saffron", "400", "--at", "2025-06-07 08:00")
    text = say("dose", "work-out", case, "--at", "2025-03-07 08:10")
    assert "weight 317 g of 7 March 2025" in text and "400" not in text


def test_a_plan_keeps_every_figure_of_the_vet(do: Do, case: str) -> None:
    words = [{"50": "1.2345678", "100": "0,05"}.get(word, word) for word in PLAN]
    plan = do("plan", "add", case, *words)["plan"]
    assert (plan["dose_mg_per_kg"], plan["concentration_mg_per_ml"]) == ("1.2345678", "0.05")


def test_a_plan_of_today_is_not_the_plan_of_a_past_day(do: Do, treated: str) -> None:
    again = [word if word != "2025-03-06" else "2025-06-01" for word in PLAN]
    do("plan", "add", treated, *again)
    assert do("case", "show", treated, "--on", "2025-04-01")["plan"]["code"] == "P1"
    past = do("case", "show", treated, "--on", "2025-04-01")
    assert past["standing"] == "course done, not confirmed: waiting"
    assert do("case", "show", treated, "--on", "2025-06-02")["standing"] == "not treated"


def test_a_plan_on_the_day_of_a_dose_does_not_stop_what_is_due(do: Do, say: Say, case: str) -> None:
    do("plan", "add", case, *PLAN)
    do("animal", "weigh", "Saffron", "317", "--at", "2025-03-07 08:00")
    do("dose", "give", case, "--at", "2025-03-07 08:15")
    do("plan", "add", case, *[word if word != "2025-03-06" else "2025-03-07" for word in PLAN])
    assert "Saffron" in say("due", "--on", "2025-03-08")


def test_of_an_animal_that_died_nothing_more_is_asked(do: Do, say: Say, fecallab: Run, treated: str) -> None:
    not_known = fecallab("case", "close", treated, "--ending", "animal died", "--on", "2025-04-01", "--json")
    assert (not_known.code, not_known.json["reasons"][0]["code"]) == (1, "event-missing")
    do("animal", "event", "Saffron", "died", "--from", "2025-04-01")
    assert "the animal died: close the case" in say("due", "--on", "2025-04-02")
    assert "closed: animal died" in say(
        "case", "close", treated, "--ending", "animal died", "--on", "2025-04-02"
    )


@pytest.mark.parametrize("ending", ["animal left", "on a vet's order", "withdrawn: reading corrected"])
def test_every_other_ending_asks_for_what_it_rests_on(
    do: Do, fecallab: Run, treated: str, ending: str
) -> None:
    refused = fecallab("case", "close", treated, "--ending", ending, "--on", "2025-04-01", "--json")
    assert refused.code == 1
    if ending == "animal left":
        do("animal", "event", "Saffron", "left", "--from", "2025-03-30")
    elif ending == "on a vet's order":
        ending_words = ("--vet", "Dr Ilse Varnholt", "--reason", "moved to a sanctuary")
        done = do("case", "close", treated, "--ending", ending, *ending_words, "--on", "2025-04-01")
        assert done["closing"]["reason"] == "moved to a sanctuary"
        return
    else:
        do("correct", "E1-1-1", "counts.oxyurid=0", "--reason", "it was pollen")
    assert (
        do("case", "close", treated, "--ending", ending, "--on", "2025-04-01")["closing"]["ending"] == ending
    )


def test_after_a_closing_nothing_more_is_planned_or_given(do: Do, fecallab: Run, treated: str) -> None:
    order = ("--ending", "on a vet's order", "--vet", "Dr Ilse Varnholt", "--reason", "sanctuary")
    do("case", "close", treated, *order, "--on", "2025-04-01")
    for words in (
        ("plan", "add", treated, "--vet", "Dr Ilse Varnholt", "--written", "2025-04-02"),
        ("dose", "give", treated, "--outcome", "missed", "--at", "2025-04-02 08:00"),
        ("dose", "work-out", treated, "--at", "2025-04-02 08:00"),
    ):
        said = fecallab(*words, "--json")
        assert (said.code, said.json["reasons"][0]["code"]) == (1, "case-closed"), words
    again = fecallab("case", "close", treated, "--json")
    assert (again.code, again.error["code"]) == (2, "closed-already")


# Corrections


def test_a_correction_keeps_the_old_row_and_moves_the_conclusion(
    do: Do, say: Say, treated: str, float_exam: Do
) -> None:
    for day in ("2025-04-21", "2025-05-06", "2025-05-21"):
        float_exam("Saffron", day)
    do("case", "close", treated, "--on", "2025-05-22")
    text = say("correct", "E3-1-1", "counts.oxyurid=2", "--reason", "overlooked at first")
    assert "The old row stays" in text
    assert do("case", "show", treated)["closed"] == "closed, no longer supported"
    assert [e["fact"]["counts"] for e in do("history", "E3-1-1")["history"]] == [
        {"oxyurid": 0},
        {"oxyurid": 2},
    ]


def test_a_correction_that_reveals_a_find_opens_its_case(do: Do, float_exam: Do) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    float_exam("Saffron", "2025-03-04", "oxyurid=0")
    assert do("case", "list")["cases"] == []
    corrected = do("correct", "E1-1-1", "counts.coccidian=2", "--reason", "seen on the picture")
    assert corrected["cases_opened"] == ["C1"]


def test_a_remark_on_an_old_exam_opens_no_closed_case_again(do: Do, treated: str) -> None:
    order = ("--ending", "on a vet's order", "--vet", "Dr Ilse Varnholt", "--reason", "sanctuary")
    do("case", "close", treated, *order, "--on", "2025-04-01")
    assert do("correct", "E1", "remark=by daylight", "--reason", "added")["cases_opened"] == []
    assert (
        do("exam", "read", "E1-1", "--objective", "10", "--counts", "1", "--of", "oxyurid")["cases_opened"]
        == []
    )


def test_pages_are_written_for_an_exam_and_a_case(do: Do, treated: str, tmp_path: Path) -> None:
    (page,) = do("report", "exam", "E1", "--to", tmp_path / "pages")["pages"]
    pages = do("report", "case", treated, "--to", tmp_path / "pages", "--on", "2025-04-01")["pages"]
    assert Path(page).read_text(encoding="utf-8").startswith("<!")
    assert len(pages) == 2 and all("Saffron" in Path(path).read_text(encoding="utf-8") for path in pages)


def test_a_second_case_is_not_held_open_by_what_the_first_one_found(
    do: Do, fecallab: Run, treated: str, float_exam: Do
) -> None:
    order = ("--ending", "on a vet's order", "--vet", "Dr Ilse Varnholt", "--reason", "sanctuary")
    do("case", "close", treated, *order, "--on", "2025-04-01")
    assert float_exam("Saffron", "2025-08-01", "oxyurid=1")["cases_opened"] == ["C2"]
    held = fecallab("case", "close", "C2", "--ending", "withdrawn: reading corrected", "--json")
    assert held.json["reasons"][0]["code"] == "still-supported"
    assert "E2" in held.json["reasons"][0]["text"] and "E1" not in held.json["reasons"][0]["text"]
    do("correct", "E2-1-1", "counts.oxyurid=0", "--reason", "it was pollen")
    shown = do("case", "show", "C2")
    assert (shown["standing"], shown["reasons"][0]["code"]) == (
        "waiting for the vet's word",
        "no-longer-supported",
    )
    do("case", "close", "C2", "--ending", "withdrawn: reading corrected")
    assert do("case", "show", "C2")["closed"].endswith("withdrawn: reading corrected")
