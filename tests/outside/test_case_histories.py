"""Every case history gives the standing that is due (the project's follow-up rule)."""

import json
from pathlib import Path

import pytest

from fecallab.cli.forms import CaseQuestion
from fecallab.cli.words import standing_payload
from fecallab.domain.followup import STANDINGS, assess

HISTORIES = json.loads((Path(__file__).parent / "data" / "case_histories.json").read_text(encoding="utf-8"))[
    "histories"
]


@pytest.mark.parametrize("history", HISTORIES, ids=lambda h: f"{h['id']}-{h['expected']['standing']}")
def test_the_case_stands_where_it_should(history):
    question = CaseQuestion.model_validate(history)
    standing = assess(question.history(), question.today)
    said = standing_payload(standing)
    day = said["next_sample_on_or_after"]
    said["next_sample_on_or_after"] = day.isoformat() if day else None
    assert {key: said[key] for key in history["expected"]} == history["expected"], (history["why"], said)
    assert standing.standing in STANDINGS
    assert standing.reasons
    assert question.unknown_keys() == []


def test_all_rows_are_used():
    assert len(HISTORIES) == 14
