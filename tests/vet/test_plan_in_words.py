"""A plan of an answer is shown in words before it is taken in, and a mistake on the page is said at its field."""

from __future__ import annotations

import json

from fecallab.cli.vet_words import case_word_lines
from fecallab.domain.vet_words import CaseWord


def test_a_plan_and_a_follow_up_of_the_page_are_said_field_by_field() -> None:
    plan = {
        "kind": "new",
        "drug": "fenbendazole",
        "dose_mg_per_kg": 25.5,
        "interval_days": 10,
        "doses_planned": 3,
    }
    follow_up = {"negatives_needed": 3, "spacing_days": 14}
    word = CaseWord(
        answer="Y1",
        case="C1",
        plan_kind="new",
        plan_says=json.dumps(plan),
        follow_up_says=json.dumps(follow_up),
    )
    said = case_word_lines(word)
    assert said[0] == "C1: a plan: drug: fenbendazole; dose: 25.5 mg/kg; interval: 10 days; doses planned: 3"
    assert said[1] == "C1: follow-up: negatives needed: 3; spacing: 14 days"
    assert not any("{" in line for line in said)


def test_a_plan_that_came_in_a_message_stays_in_its_words() -> None:
    word = CaseWord(answer="Y1", case="C1", plan_kind="new", plan_says="fenbendazole as before\nfor {3} days")
    assert case_word_lines(word)[0] == "C1: a plan: fenbendazole as before for {3} days"
