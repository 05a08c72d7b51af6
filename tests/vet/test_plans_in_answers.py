"""A plan that comes with an answer is none before the keeper has read it over."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from .conftest import VET, Rescue, float_of

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]
NEW = {
    "kind": "new",
    "drug": "Fenbendazole",
    "dose_mg_per_kg": 25.5,
    "concentration_mg_per_ml": 100,
    "route": "by mouth",
    "interval_days": 14,
    "doses_planned": 2,
    "weight_max_age_days": 5,
}


@pytest.fixture
def positive(rescue: Rescue) -> Rescue:
    rescue.exam("2026-05-09", float_of(("oxyurid", True)))
    rescue.case("oxyurid", "2026-05-09", "E1")
    return rescue


def take_in(rescue: Rescue, do: Do, **case: Any) -> dict[str, Any]:
    answer = rescue.answer(rescue.page("C1", "E1"), cases=[{"case": "C1", **case}])
    return do("vet", "take-in", rescue.file(answer), "--yes")


def test_a_plan_waits_and_shows_as_what_comes_next(positive: Rescue, do: Do, say: Say) -> None:
    told = take_in(positive, do, plan=NEW, advice="Call me if it stops eating.")
    assert told["to_read_over"] == ["N1"]
    with positive.open() as store:
        assert store.plans("C1") == []
    assert "read over the vet's plan" in say("due")
    shown = say("case", "show", "C1")
    assert "fecallab verdict plan N1" in shown and "Call me if it stops eating." in shown
    assert do("verdict", "plan", "N1")["recorded"] is False
    with positive.open() as store:
        assert store.plans("C1") == [], "shown, not recorded"


def test_the_line_of_the_start_screen_shows_the_plan_that_waits(positive: Rescue, do: Do) -> None:
    from fecallab.cli.ask.talk import Talk
    from fecallab.cli.start_screen import _Screen

    take_in(positive, do, plan=NEW)
    (row,) = do("due")["due"]
    ran: list[list[str]] = []
    _Screen(lambda words: ran.append(list(words)) or 0, Talk())._do_row(row, positive.folder)
    assert ran == [["verdict", "plan", "N1"]]


def test_read_over_it_becomes_a_plan_word_for_word(positive: Rescue, do: Do, say: Say) -> None:
    take_in(positive, do, plan=NEW, follow_up={"goal": "clear", "negatives_needed": 3, "spacing_days": 10})
    done = do("verdict", "plan", "N1", "--yes")["plan"]
    kept = {
        name: done[name] for name in ("vet", "written_on", "drug", "dose_mg_per_kg", "doses_planned", "goal")
    }
    assert kept == {
        "vet": VET,
        "written_on": "2026-05-12",
        "drug": "fenbendazole",
        "dose_mg_per_kg": "25.5",
        "doses_planned": 2,
        "goal": "clear",
    }
    assert (done["negatives_needed"], done["spacing_days"], done["weight_max_age_days"]) == (3, 10, 5)
    assert done["follow_up_source"].startswith(f"number of exams and spacing by {VET}; the rest is default")
    assert "weigh, then dose 1 of 2" in say("due")
    assert "not open" in say("verdict", "plan", "N1", "--yes", code=2), "never twice"
    assert "verdict plan" not in say("case", "show", "C1")


def test_the_same_plan_again(positive: Rescue, do: Do) -> None:
    positive.plan("C1", "2026-05-10", "2026-05-10")
    take_in(positive, do, plan={"kind": "same", "plan": "P1"})
    done = do("verdict", "plan", "N1", "--yes")["plan"]
    assert (done["code"], done["drug"], done["written_on"]) == ("P2", "fenbendazole", "2026-05-12")
    assert done["remark"] == "the same plan as P1 of 10 May 2026"


def test_declined_with_a_reason_it_no_longer_waits(positive: Rescue, do: Do, say: Say) -> None:
    take_in(positive, do, plan=NEW)
    do("verdict", "plan", "N1", "--decline", "the vet called: another animal")
    assert "verdict plan" not in say("due")
    with positive.open() as store:
        assert store.plans("C1") == []
    assert "declined" in say("history", "N1")


@pytest.mark.parametrize(
    ("plan", "said"),
    [
        ({"kind": "new", "drug": "fenbendazole"}, "lacks"),
        ({**NEW, "doses_planned": 0}, "lacks"),
        ({"kind": "new", "dose_mg_per_kg": 5}, "without a drug"),
        ({**NEW, "interval_days": 900, "doses_planned": 900}, "longer than"),
    ],
)
def test_a_treatment_that_is_not_whole_is_refused_and_stays_open(
    positive: Rescue, do: Do, say: Say, plan: dict[str, Any], said: str
) -> None:
    take_in(positive, do, plan=plan)
    assert said in say("verdict", "plan", "N1", "--yes", code=2)
    with positive.open() as store:
        assert store.plans("C1") == [] and store.case_file("C1").words[0].open


def test_a_follow_up_alone_never_ends_a_running_course(positive: Rescue, do: Do, say: Say) -> None:
    positive.plan("C1", "2026-05-10", "2026-05-10")
    with positive.open() as store:
        plan = store.plan("P1")
    assert plan.doses_planned == 1
    positive.plan("C1", "2026-05-11", "2026-05-11", remark="two doses")
    do("dose", "give", "C1", "--at", "2026-05-11 09:00", "--volume-ml", "0.1", "--as-told")
    take_in(
        positive, do, follow_up={"negatives_needed": 4, "spacing_days": 9, "wait_after_last_dose_days": 20}
    )
    done = do("verdict", "plan", "N1", "--yes")["plan"]
    assert (done["drug"], done["negatives_needed"], done["doses_planned"]) == ("", 4, 0)
    assert do("case", "show", "C1", "--on", "2026-05-20")["standing"] == "course done, not confirmed: waiting"


def test_a_follow_up_alone_is_refused_while_doses_are_left(positive: Rescue, do: Do, say: Say) -> None:
    do(
        *("plan", "add", "C1", "--vet", VET, "--written", "2026-05-10", "--drug", "fenbendazole"),
        *("--dose-mg-per-kg", "50", "--concentration-mg-per-ml", "100", "--route", "by mouth"),
        *("--interval-days", "14", "--doses", "2"),
    )
    take_in(positive, do, follow_up={"negatives_needed": 4})
    assert "would end that course" in say("verdict", "plan", "N1", "--yes", code=1)


def test_a_plan_in_words_is_typed_by_the_keeper(positive: Rescue, do: Do, say: Say) -> None:
    words = "plan: fenbendazole 50 mg/kg, two doses; advice: keep warm"
    do("verdict", "add", "E1", words, "--vet", VET, "--yes")
    shown = say("verdict", "plan", "N1", "--yes")
    assert "fecallab plan add C1 --vet 'Dr Ilse Varnholt'" in shown
    with positive.open() as store:
        assert store.plans("C1") == []
    positive.plan("C1", "2026-05-13")
    do("verdict", "plan", "N1", "--taken-as", "P1")
    with positive.open() as store:
        assert not store.case_file("C1").words[0].open


def test_an_answer_whose_plan_was_taken_is_not_withdrawn(positive: Rescue, do: Do, say: Say) -> None:
    take_in(positive, do, plan=NEW)
    do("verdict", "plan", "N1", "--yes")
    assert "was read over and recorded" in say("verdict", "withdraw", "Y1", "--reason", "x", code=2)
