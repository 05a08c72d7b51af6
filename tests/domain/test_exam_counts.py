"""Every exam of a case says whether it counts towards the goal, and why not."""

from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace

import pytest

from fecallab.domain.exam_counts import counts_towards
from fecallab.domain.followup import CaseHistory, DoseFact, ExamFact, FollowUpPlan, Pause, assess

OPENED = date(2026, 3, 1)
PLAN = FollowUpPlan("clear", 3, 14, 30, 2, 14, date(2026, 3, 3))
COURSE = (DoseFact(date(2026, 3, 4), "given"), DoseFact(date(2026, 3, 18), "given"))
# the wait ends 30 days after 18 March: 17 April 2026, day 47


def said(*exams: tuple[int, str, str], day: int = 200, **changes: object) -> dict[str, tuple[bool, str]]:
    """What is said of each exam, given as (day, result, stool); the first positive opened the case."""
    facts = [
        ExamFact(OPENED + timedelta(days=at), stool or f"stool {at}", result, code=f"E{number}")
        for number, (at, result, stool) in enumerate(((0, "positive", ""), *exams), 1)
    ]
    history = CaseHistory(
        "oxyurid", OPENED, **{"plan": PLAN, "doses": COURSE, "exams": tuple(facts)} | changes
    )
    standing = assess(history, OPENED + timedelta(days=day))
    told = {
        one.code: counts_towards(
            SimpleNamespace(exam=SimpleNamespace(code=one.code), result=one.result, of_case=True), standing
        )
        for one in facts
    }
    assert [code for code, (counts, _) in told.items() if counts] == [one.code for one in standing.counted]
    return told


def test_those_that_count_have_their_place_and_the_others_a_reason():
    told = said(
        (10, "negative", ""),
        (40, "negative", ""),
        (50, "negative", "a"),
        (55, "negative", ""),
        (70, "negative", "a"),
        (75, "inconclusive", ""),
        (80, "negative", ""),
        (100, "negative", ""),
        (120, "negative", ""),
    )
    assert told == {
        "E1": (False, "positive"),
        "E2": (False, "before the last dose"),
        "E3": (False, "within the wait until 17 April 2026"),
        "E4": (True, "1 of 3"),
        "E5": (False, "nearer than 14 days"),
        "E6": (False, "the same stool spoke already"),
        "E7": (False, "inconclusive"),
        "E8": (True, "2 of 3"),
        "E9": (True, "3 of 3"),
        "E10": (True, "4, 3 are needed"),
    }


def test_a_stool_of_brumation_does_not_count():
    asleep = (Pause(OPENED + timedelta(days=90), OPENED + timedelta(days=110)),)
    assert said((50, "negative", ""), (100, "negative", ""), pauses=asleep)["E3"][1] == "passed in brumation"


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"plan": None, "doses": ()}, "not treated yet"),
        ({"doses": ()}, "not treated yet"),
        ({"doses": (COURSE[0], DoseFact(date(2026, 3, 18), "missed"))}, "the course is not whole"),
        ({"plan": replace(PLAN, goal="watch, no treatment")}, "watched, not treated"),
        ({"not_clearable": True}, "no exams clear it"),
    ],
)
def test_where_nothing_counts_the_standing_is_the_reason(changes, reason):
    assert said((50, "negative", ""), **changes)["E2"] == (False, reason)


def test_after_a_positive_that_came_back_nothing_before_it_counts():
    told = said((50, "negative", ""), (70, "positive", ""))
    assert told["E2"] == (False, "positive again") and told["E3"] == (False, "positive")
