"""The calculators on groups as a person or a script calls them."""

import json

import pytest
import typer
from typer.testing import CliRunner

from fecallab.cli import calc_group
from fecallab.domain.errors import BadInput

app = typer.Typer(pretty_exceptions_enable=False)
calc_group.register(app)


def call(*words):
    result = CliRunner().invoke(app, list(words))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == 0, result.output
    return result.stdout


def ask(*words):
    return json.loads(call(*words, "--json"))


def test_group_size_answers_with_its_keys():
    found = ask("group-size", "--group", "60", "--infected", "3", "--confidence", "0.95")
    assert found["sample_size"] == 38
    assert found["method"] == "exact hypergeometric"
    assert found["probability_detected"] >= 0.95
    assert found["sample_size_by_infected"]["1"] == 57


def test_out_of_reach_is_an_answer_with_its_reason_and_the_way_on():
    words = (
        "group-size",
        "--group",
        "1",
        "--infected",
        "1",
        "--confidence",
        "0.95",
        "--sensitivity",
        "0.75",
    )
    found = ask(*words)
    assert found["sample_size"] is None
    assert "Repeat exams" in found["reason"]
    assert (found["exams_each"], found["exams_each_cautious"]) == (3, 19)
    text = call(*words)
    assert "Not reachable even when all 1 are examined: repeat exams" in text
    assert "3 if exams are independent, 19 cautious" in text


def test_detect_answers_with_its_keys_and_reads_a_decimal_comma():
    found = ask(
        *("detect", "--group", "65", "--tested", "10", "--infected", "1", "--sensitivity", "0,95"),
    )
    assert found["probability_detected"] == pytest.approx(10 / 65 * 0.95)
    assert "drawn by lot" in call("detect", "--group", "20", "--tested", "19", "--infected", "1")


def test_a_pool_says_what_it_thins_and_that_it_never_confirms_one_animal():
    words = ("pool", "--group", "60", "--pool-size", "5", "--pools", "12", "--infected", "3")
    words += ("--sensitivity", "0.75", "--factor", "50")
    assert ask(*words)["factor_per_animal"] == 250
    text = call(*words)
    assert "never confirms one animal" in text
    assert "below 150, one animal in it below 749 per gram" in " ".join(text.split())


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("group-size", "--group", "60", "--infected", "5%", "--confidence", "0.95"), "infected-is-a-number"),
        (
            ("group-size", "--group", "60", "--infected", "0.05", "--confidence", "0.95"),
            "infected-is-a-number",
        ),
        (("group-size", "--group", "60", "--infected", "0", "--confidence", "0.95"), "none-infected"),
        (("group-size", "--group", "60", "--infected", "1", "--confidence", "95"), "not-a-fraction"),
        (
            ("detect", "--group", "60", "--tested", "61", "--infected", "1"),
            "more-examined-than-animals",
        ),
        (("detect", "--group", "0", "--tested", "0", "--infected", "0"), "group-empty"),
        (("detect", "--group", "200001", "--tested", "0", "--infected", "0"), "not-a-count"),
    ],
)
def test_what_cannot_be_meant_is_sent_back_in_one_line(words, code):
    with pytest.raises(BadInput) as caught:
        call(*words)
    assert caught.value.reason.code == code
    assert caught.value.reason.next
    assert "\n" not in str(caught.value)
