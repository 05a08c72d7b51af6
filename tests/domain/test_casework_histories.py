"""From judged exams to where a case stands, and how it may be closed."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from fecallab.domain import followup
from fecallab.domain.animal import AnimalEvent
from fecallab.domain.case import Case, Closing
from fecallab.domain.casework import (
    NO_LONGER_SUPPORTED,
    JudgedExam,
    closing_state,
    history_of,
    may_close_as,
)
from fecallab.domain.errors import Reason, Refused
from fecallab.domain.exam import Preparation
from fecallab.domain.followup import Standing, assess
from fecallab.domain.plan import DoseGiven, Plan

from .casework_exams import FACTS, FLOAT, MORNING, STOOL, WET, exam, judged, seen

# Histories

CASE = Case(
    code="C1",
    animal="A1",
    target="oxyurid",
    stages=("egg",),
    opened_on=date(2025, 3, 4),
    opened_by_exam="E1",
)


PLAN = Plan(
    code="P1",
    case="C1",
    vet="Dr Ilse Varnholt",
    written_on=date(2025, 3, 6),
    negatives_needed=1,
    spacing_days=14,
    wait_after_last_dose_days=30,
    doses_planned=1,
    interval_days=14,
    drug="fenbendazole",
)


GIVEN = (DoseGiven(code="D1", plan="P1", given_at=datetime(2025, 3, 7, 8)),)


def told(day: int, *preparations: Preparation, code: str = "", **sample: object) -> JudgedExam:
    """A judged exam of a stool this many days after 4 March 2025, kept and read like the one of that day."""
    shift = timedelta(days=day)
    made = replace(
        STOOL,
        code=code or f"S{day + 1}",
        passed_from=STOOL.passed_from + shift,
        passed_to=STOOL.passed_to + shift,
        collected_at=STOOL.collected_at + shift,
        **sample,
    )
    moved = [replace(p, read_at=p.read_at + shift) for p in preparations]
    return judged(
        exam(*moved, code=f"E{day + 1}", sample=made.code, examined_at=MORNING + shift), sample=made
    )


POSITIVE = told(0, seen(FLOAT, oxyurid=3))


def stands(*exams: JudgedExam, on: date = date(2025, 6, 1), **more: object) -> Standing:
    parts = {"case": CASE, "plans": (PLAN,), "doses": GIVEN, "events": ()} | more
    return assess(
        history_of(parts["case"], parts["plans"], exams, parts["doses"], parts["events"], FACTS), on
    )


def test_a_negative_after_the_wait_clears_by_the_rule() -> None:
    assert stands(POSITIVE, told(40, FLOAT)).standing == followup.CLEAR
    assert stands(POSITIVE, told(20, FLOAT)).standing == followup.NEXT_STOOL
    assert stands(POSITIVE, told(40, WET)).standing == followup.NEXT_STOOL


def test_two_samples_of_one_stool_are_one() -> None:
    twice = replace(PLAN, negatives_needed=2, spacing_days=0)
    one, other = told(40, FLOAT, code="S8"), told(41, FLOAT, code="S9", same_stool_as="S8")
    assert stands(POSITIVE, one, other, plans=(twice,)).k == 1
    assert stands(POSITIVE, one, told(41, FLOAT, code="S9"), plans=(twice,)).k == 2


def test_urine_says_nothing_of_the_gut_and_stool_nothing_of_the_kidney() -> None:
    case = replace(CASE, target="flagellate", stages=("trophozoite",))

    def look(day: int, origin: str, n: int) -> JudgedExam:
        made = replace(WET, method="urine_wet_mount" if origin == "urine" else "direct_saline_smear")
        preparation = seen(made, flagellate=n)
        shift = timedelta(days=day)
        sample = replace(
            STOOL,
            code=f"S{day}",
            origin=origin,
            passed_from=STOOL.passed_to + shift,
            passed_to=STOOL.passed_to + shift,
            collected_at=STOOL.collected_at + shift,
        )
        whole = exam(
            replace(preparation, read_at=preparation.read_at + shift), code=f"E{day}", sample=sample.code
        )
        return judged(whole, "flagellate", ("trophozoite",), sample=sample)

    for first, second, cleared in (
        ("stool", "stool", True),
        ("urine", "urine", True),
        ("stool", "urine", False),
        ("urine", "stool", False),
    ):
        standing = stands(look(0, first, 5), look(40, second, 0), case=case)
        assert (standing.standing == followup.CLEAR) is cleared, (first, second)


def test_the_plan_in_force_is_the_last_one() -> None:
    stricter = replace(PLAN, code="P2", negatives_needed=3)
    assert stands(POSITIVE, told(40, FLOAT), plans=(PLAN, stricter)).n == 3
    assert stands(POSITIVE, plans=()).standing == followup.NOT_TREATED


def test_a_vets_word_about_one_case_speaks_for_no_other() -> None:
    spat = (replace(GIVEN[0], outcome="spat"), *GIVEN[1:])
    word = AnimalEvent(animal="A1", kind="vet accepts course", start=date(2025, 3, 8), case="C1", by="V")
    assert stands(POSITIVE, told(40, FLOAT), doses=spat).standing == followup.COURSE_INCOMPLETE
    assert stands(POSITIVE, doses=spat, events=(word,)).standing != followup.COURSE_INCOMPLETE
    other = replace(word, case="C2")
    assert stands(POSITIVE, doses=spat, events=(other,)).standing == followup.COURSE_INCOMPLETE


def test_brumation_moves_the_wait() -> None:
    asleep = AnimalEvent(animal="A1", kind="brumation", start=date(2025, 3, 10), end=date(2025, 3, 30))
    died = replace(asleep, kind="died", end=None)
    day = date(2025, 4, 1)
    assert stands(POSITIVE, on=day).next_sample_on_or_after == date(2025, 4, 6)
    assert stands(POSITIVE, on=day, events=(asleep,)).next_sample_on_or_after == date(2025, 4, 26)
    assert stands(POSITIVE, on=day, events=(died,)).next_sample_on_or_after == date(2025, 4, 6)


def test_what_no_stool_clears_is_never_clear() -> None:
    crypto = replace(CASE, target="coccidian", species="cryptosporidium")
    assert "cryptosporidium" in FACTS.not_clearable
    assert stands(told(40, FLOAT), case=crypto).standing == followup.MANAGED


# Closings

REACHED = Standing(followup.CLEAR, 1, 1, None, True, (Reason("goal-reached", "reached"),))


NOT_REACHED = Standing(
    followup.K_OF_N, 1, 3, date(2025, 5, 20), False, (Reason("count-so-far", "1 of 3", "Examine the next."),)
)


WAITS = Standing(
    followup.VETS_WORD, 0, 3, None, False, (Reason("unsure-mark", "An unsure mark.", "Send it."),)
)


def test_a_goal_that_is_reached_may_be_closed() -> None:
    may_close_as("goal reached", REACHED, [POSITIVE], vet="", reason="")


@pytest.mark.parametrize(("standing", "step"), [(NOT_REACHED, "20 May 2025"), (WAITS, "Send it.")])
def test_a_goal_that_is_not_reached_is_refused_with_the_way_on(standing: Standing, step: str) -> None:
    with pytest.raises(Refused) as refused:
        may_close_as("goal reached", standing, [POSITIVE], vet="", reason="")
    first, *others = refused.value.reasons
    assert first.code == "goal-not-reached" and step in first.next
    assert tuple(others) == standing.reasons


@pytest.mark.parametrize(("vet", "reason"), [("", ""), ("Dr Ilse Varnholt", ""), ("", "moved")])
def test_an_earlier_end_needs_a_named_vet_and_a_reason(vet: str, reason: str) -> None:
    with pytest.raises(Refused) as refused:
        may_close_as("on a vet's order", NOT_REACHED, [POSITIVE], vet=vet, reason=reason)
    assert refused.value.reason.code == "order-missing"
    may_close_as("on a vet's order", NOT_REACHED, [POSITIVE], vet="Dr Ilse Varnholt", reason="moved")


def test_a_case_is_withdrawn_only_when_nothing_sure_is_left() -> None:
    with pytest.raises(Refused, match="E1"):
        may_close_as("withdrawn: reading corrected", NOT_REACHED, [POSITIVE], vet="", reason="")
    may_close_as("withdrawn: reading corrected", NOT_REACHED, [told(0, FLOAT)], vet="", reason="")


def test_what_an_earlier_case_found_does_not_hold_this_one_open() -> None:
    earlier = replace(POSITIVE, of_case=False)
    may_close_as("withdrawn: reading corrected", NOT_REACHED, [earlier], vet="", reason="")
    assert stands(earlier, plans=(), doses=()).standing == followup.VETS_WORD
    assert stands(earlier, told(0, seen(FLOAT, oxyurid=1)), plans=()).standing == followup.NOT_TREATED


@pytest.mark.parametrize("ending", ["animal died", "animal left"])
def test_an_animal_that_is_gone_ends_its_case_wherever_it_stands(ending: str) -> None:
    may_close_as(ending, NOT_REACHED, [POSITIVE], vet="", reason="")


def closing(ending: str, **more: str) -> Closing:
    return Closing(code="K1", case="C1", closed_on=date(2025, 5, 23), by="Mara Quell", ending=ending, **more)


def test_a_closing_that_still_holds_says_how_it_was() -> None:
    assert closing_state(closing("goal reached"), REACHED, []) == "closed on 23 May 2025: goal reached"
    order = closing("on a vet's order", vet="Dr Ilse Varnholt", reason="moved")
    assert closing_state(order, NOT_REACHED, []).endswith("on a vet's order (Dr Ilse Varnholt: moved)")
    assert "died" in closing_state(closing("animal died"), NOT_REACHED, [POSITIVE])


def test_a_closing_whose_basis_is_gone_says_so() -> None:
    assert closing_state(closing("goal reached"), NOT_REACHED, []) == NO_LONGER_SUPPORTED
    withdrawn = closing("withdrawn: reading corrected")
    assert closing_state(withdrawn, WAITS, [POSITIVE]) == NO_LONGER_SUPPORTED
    assert closing_state(withdrawn, WAITS, [told(0, FLOAT)]).startswith("closed on")
    earlier_case = replace(POSITIVE, of_case=False)
    assert closing_state(withdrawn, WAITS, [earlier_case]).startswith("closed on")
    later = told(100, seen(FLOAT, oxyurid=1))
    assert closing_state(withdrawn, WAITS, [later]).startswith("closed on"), "a later find is a new case"
