"""``calc fluids`` and ``calc tube`` as a keeper types them and as a script reads them."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
import typer
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from fecallab.cli import calc_care
from fecallab.domain.errors import BadInput

app = typer.Typer(pretty_exceptions_enable=False)
calc_care.register(app)


def call(*words: str) -> str:
    result = CliRunner().invoke(app, [*words])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == 0, result.output
    return result.stdout


def ask(*words: str) -> dict[str, Any]:
    answer: dict[str, Any] = json.loads(call(*words, "--json"))
    return answer


FLUIDS = ("fluids", "--weight-g", "350")


def test_fluids_answer_with_the_keys_that_scripts_rely_on() -> None:
    answer = ask(*FLUIDS, "--ml-per-kg", "20", "--sites", "2")
    assert answer["total_ml"] == 7
    assert answer["per_site_ml"] == 3.5
    assert answer["refused"] is False
    assert answer["reasons"] == answer["warnings"] == []


def test_without_places_all_of_it_is_in_one() -> None:
    answer = ask(*FLUIDS, "--ml-per-kg", "10")
    assert answer["total_ml"] == answer["per_site_ml"] == 3.5


def test_above_forty_is_an_answer_without_volumes() -> None:
    answer = ask(*FLUIDS, "--ml-per-kg", "40.5")
    assert (answer["refused"], answer["total_ml"], answer["per_site_ml"]) == (True, None, None)
    assert [reason["code"] for reason in answer["reasons"]] == ["fluids-too-much"]
    assert all(reason["next"] for reason in answer["reasons"])
    assert ask(*FLUIDS, "--ml-per-kg", "40")["total_ml"] == 14
    text = call(*FLUIDS, "--ml-per-kg", "41")
    assert "REFUSED" in text
    assert "Until then" in text
    assert "14.35" not in text


def test_maintenance_and_what_is_missing_are_put_together() -> None:
    """350 g, 15 ml per kg and 6 % missing over 3 days: 15 + 20 = 35 ml per kg, 12.25 ml."""
    answer = ask(
        *FLUIDS, "--maintenance-ml-per-kg", "15", "--dry-percent", "6 %", "--route", "PO", "--times", "2"
    )
    assert answer["total_ml"] == 12.25
    assert answer["read_as"]["ml_per_kg"] == 35
    assert [item["code"] for item in answer["warnings"]] == ["fluids-much"]


def test_a_decimal_comma_and_units_are_read() -> None:
    assert ask("fluids", "--weight-g", "350 g", "--ml-per-kg", "12,5 ml/kg")["total_ml"] == 4.375


@pytest.mark.parametrize(
    "words",
    [
        [*FLUIDS],
        [*FLUIDS, "--ml-per-kg", "20", "--maintenance-ml-per-kg", "15"],
        [*FLUIDS, "--ml-per-kg", "0"],
        [*FLUIDS, "--ml-per-kg", "-3"],
        [*FLUIDS, "--ml-per-kg", "inf"],
        [*FLUIDS, "--ml-per-kg", "20 %"],
        [*FLUIDS, "--ml-per-kg", "20", "--sites", "1.5"],
        [*FLUIDS, "--ml-per-kg", "20", "--sites", "many"],
        ["fluids", "--weight-g", "0.35 kg", "--ml-per-kg", "20"],
        ["tube", "--french", "0", "--length-mm", "400"],
        ["tube", "--french", "60", "--length-mm", "400"],
        ["tube", "--french", "5", "--length-mm", "40 cm"],
        ["tube", "--french", "5", "--length-mm", "4"],
        ["tube", "--french", "5", "--length-mm", "400", "--inner-diameter-mm", "1.7"],
        ["tube", "--french", "5", "--length-mm", "400", "--empty-g", "3"],
        ["tube", "--french", "5", "--length-mm", "400", "--empty-g", "3", "--full-g", "2"],
        ["tube", "--french", "5", "--length-mm", "400", "--dose-ml", "0.3"],
        ["tube", "--french", "1:5", "--length-mm", "400"],
    ],
)
def test_what_cannot_be_meant_is_bad_input_with_what_to_type(words: list[str]) -> None:
    with pytest.raises(BadInput) as caught:
        call(*words)
    assert caught.value.exit_code == 2
    assert caught.value.reason.next


def test_centimetres_are_turned_into_what_to_type() -> None:
    with pytest.raises(BadInput) as caught:
        call("tube", "--french", "5", "--length-mm", "40 cm")
    assert "40 cm is 400" in caught.value.reason.next


def test_a_tube_answers_with_the_keys_that_scripts_rely_on() -> None:
    answer = ask("tube", "--french", "8", "--inner-diameter-mm", "1.7", "--length-mm", "400")
    assert answer["outer_diameter_mm"] == pytest.approx(8 / 3)
    assert answer["priming_ml"] == pytest.approx(math.pi / 4 * 1.7**2 * 400 / 1000)
    assert ask("tube", "--french", "5", "--length-mm", "400")["priming_ml"] is None


def test_weighing_goes_before_the_inner_diameter() -> None:
    words = ("tube", "--french", "8", "--inner-diameter-mm", "1.7", "--length-mm", "400")
    answer = ask(*words, "--empty-g", "3.1", "--full-g", "4.0")
    assert answer["priming_ml"] == pytest.approx(0.9)
    assert answer["priming_by"] == "weighing"


def test_both_ways_through_a_tube_are_explained_and_never_mixed() -> None:
    words = ("tube", "--french", "5", "--length-mm", "400", "--inner-diameter-mm", "0.9")
    text = call(*words, "--dose-ml", "0.4", "--weight-g", "850")
    assert "Two ways, never both" in text
    assert "FLUSH" in text and "OVERFILL" in text
    ways = ask(*words, "--dose-ml", "0.4", "--weight-g", "850")["ways"]
    assert ways["overfill"]["answer"]["flush_ml"] == 0
    assert ways["flush"]["answer"]["waste_ml"] == 0
    small = ask(*words, "--dose-ml", "0.1", "--weight-g", "850")["ways"]
    assert small["overfill"]["answer"] is None
    assert small["overfill"]["reasons"][0]["code"] == "tube-overfill-too-small"
    unknown = ask("tube", "--french", "5", "--length-mm", "400", "--dose-ml", "1", "--weight-g", "850")[
        "ways"
    ]
    assert {reason["code"] for way in unknown.values() for reason in way["reasons"]} == {
        "tube-priming-unknown"
    }


def test_a_person_reads_the_banner_and_the_cautions_of_fluids() -> None:
    text = call(*FLUIDS, "--ml-per-kg", "20", "--sites", "2")
    assert "your vet's" in text.splitlines()[0]
    assert "once, in 2 places" in text
    assert "no rehydration" in text


FIGURES = st.one_of(
    st.text(max_size=8),
    st.sampled_from(
        ["1", "0.5", "350", "1e9", "20 ml/kg", "5 Fr", "NaN", "-1", "0", "9" * 50, "1,5", "SC", "1/2"]
    ),
)


@settings(max_examples=150, deadline=None)
@given(
    command=st.sampled_from(["fluids", "tube"]),
    chosen=st.lists(
        st.tuples(
            st.sampled_from(
                [
                    "--weight-g",
                    "--ml-per-kg",
                    "--sites",
                    "--times",
                    "--route",
                    "--maintenance-ml-per-kg",
                    "--dry-percent",
                    "--over-days",
                    "--volume-written-ml",
                    "--french",
                    "--length-mm",
                    "--inner-diameter-mm",
                    "--empty-g",
                    "--full-g",
                    "--dose-ml",
                ]
            ),
            FIGURES,
        ),
        max_size=7,
    ),
)
def test_whatever_is_typed_ends_in_an_answer_or_one_clear_line(
    command: str, chosen: list[tuple[str, str]]
) -> None:
    base = (
        ["--weight-g", "350", "--ml-per-kg", "20"]
        if command == "fluids"
        else ["--french", "5", "--length-mm", "400"]
    )
    result = CliRunner().invoke(app, [command, *base, *(part for pair in chosen for part in pair), "--json"])
    if isinstance(result.exception, BadInput):
        assert result.exception.reason.next
        return
    assert result.exception is None or isinstance(result.exception, SystemExit)
    if result.exit_code == 0:
        answer = json.loads(result.stdout)
        if command == "fluids":
            assert (answer["total_ml"] is None) == answer["refused"] == bool(answer["reasons"])
        else:
            assert answer["outer_diameter_mm"] > 0
    else:
        assert result.exit_code == 2
