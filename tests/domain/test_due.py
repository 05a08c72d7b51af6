"""What comes next for a case: an act, its day, and never a stool that is 'overdue'."""

from __future__ import annotations

from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain import followup
from fecallab.domain.due import Due, next_for_case
from fecallab.domain.errors import Reason
from fecallab.domain.followup import STANDINGS, Standing
from fecallab.domain.plan import DoseGiven, Plan

PLAN = Plan(
    code="P2",
    case="C1",
    vet="Dr Ilse Varnholt",
    written_on=date(2025, 3, 6),
    drug="fenbendazole",
    interval_days=14,
    doses_planned=2,
)
DAY = date(2025, 4, 20)


def standing(word: str, day: date | None = None) -> Standing:
    return Standing(word, 0, 3, day, word == followup.CLEAR, (Reason("why", "Because.", "Do it."),))


def dose(day: int, outcome: str = "given", plan: str = "P2") -> DoseGiven:
    return DoseGiven(plan=plan, given_at=datetime(2025, 3, day, 8), outcome=outcome)


def comes_next(word: str, day: date | None = None, **more: object) -> Due:
    parts = {"plan": PLAN, "doses": ()} | more
    return next_for_case("Saffron", "C1", standing(word, day), **parts)


def test_the_first_dose_is_due_from_the_day_of_the_plan() -> None:
    due = comes_next(followup.NOT_TREATED)
    assert (due.what, due.on_or_after) == ("weigh, then dose 1 of 2 (fenbendazole)", PLAN.written_on)


def test_the_next_dose_is_due_an_interval_after_the_last_one_given() -> None:
    due = comes_next(followup.ON_TREATMENT, doses=(dose(1, plan="P1"), dose(7), dose(8, "spat")))
    assert (due.what, due.on_or_after) == ("weigh, then dose 2 of 2 (fenbendazole)", date(2025, 3, 21))


def test_a_plan_that_replaced_another_on_the_day_of_a_dose_still_says_what_is_due() -> None:
    due = comes_next(followup.ON_TREATMENT, doses=(dose(6, plan="P1"),))
    assert (due.what, due.on_or_after) == ("weigh, then dose 1 of 2 (fenbendazole)", PLAN.written_on)


@pytest.mark.parametrize("word", [followup.VETS_WORD, followup.POSITIVE_AGAIN, followup.COURSE_INCOMPLETE])
def test_what_waits_for_the_vet_has_no_day(word: str) -> None:
    due = comes_next(word)
    assert (due.what, due.on_or_after, due.why) == (f"ask the vet ({word})", None, "Because.")
    assert due.next


def test_without_a_plan_the_vet_is_asked() -> None:
    assert comes_next(followup.NOT_TREATED, plan=None).what == "ask the vet (not treated)"


@pytest.mark.parametrize("word", [followup.CLEAR, followup.LOW_BURDEN_MET])
def test_a_goal_that_is_reached_is_closed_by_a_person(word: str) -> None:
    due = comes_next(word)
    assert (due.what, due.next) == ("the case may be closed", "fecallab case close C1")


@pytest.mark.parametrize("word", [followup.WAITING, followup.NEXT_STOOL, followup.K_OF_N, followup.WATCHING])
def test_a_stool_is_due_on_or_after_a_day(word: str) -> None:
    due = comes_next(word, DAY)
    assert (due.what, due.on_or_after) == ("examine the next stool passed on or after 20 April 2025", DAY)
    assert "overdue" not in due.what + due.why


def test_brumation_waits_for_its_end() -> None:
    assert comes_next(followup.PAUSED).what == "note the end of brumation"


@pytest.mark.parametrize("gone", ["died", "left"])
@pytest.mark.parametrize("word", STANDINGS)
def test_of_an_animal_that_is_gone_nothing_is_asked_but_the_end_of_its_case(word: str, gone: str) -> None:
    due = comes_next(word, DAY, gone=gone)
    assert due.what == f"the animal {gone}: close the case"
    assert due.next == f'fecallab case close C1 --ending "animal {gone}"'


def test_what_waits_for_a_person_comes_first_then_the_earlier_day() -> None:
    later, sooner = comes_next(followup.K_OF_N, date(2025, 5, 1)), comes_next(followup.K_OF_N, DAY)
    asked = comes_next(followup.POSITIVE_AGAIN)
    assert sorted([later, asked, sooner], key=lambda due: due.order) == [asked, sooner, later]


@given(
    st.sampled_from(STANDINGS),
    st.none() | st.dates(date(2000, 1, 1), date(2100, 1, 1)),
    st.none() | st.just(PLAN),
    st.lists(
        st.builds(
            dose, st.integers(1, 31), st.sampled_from(["given", "missed"]), st.sampled_from(["P1", "P2"])
        )
    ),
)
def test_every_standing_has_something_that_comes_next(
    word: str, day: date | None, plan: Plan | None, doses: list[DoseGiven]
) -> None:
    due = next_for_case("Saffron", "C1", standing(word, day), plan, doses)
    assert due.what and due.next
    assert due.order == due.order
