"""``calc dose`` as a keeper types it and as a script reads it."""

from __future__ import annotations

import json
from typing import Any

import pytest
import typer
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from fecallab.cli import calc_dose
from fecallab.domain.errors import BadInput

app = typer.Typer(pretty_exceptions_enable=False)
calc_dose.register(app)


@app.callback()
def _root() -> None:
    """Keep ``dose`` a command of its own."""


def call(*words: str) -> str:
    result = CliRunner().invoke(app, ["dose", *words])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == 0, result.output
    return result.stdout


def figures(weight_g: str = "420", dose: str = "20", strength: str = "40") -> list[str]:
    return ["--weight-g", weight_g, "--dose-mg-per-kg", dose, "--concentration-mg-per-ml", strength]


SNAKE = ("--drug", "metronidazole", "--taxon", "corn snake", "--interval-hours", "48")


def ask(*words: str) -> dict[str, Any]:
    answer: dict[str, Any] = json.loads(call(*words, "--json"))
    return answer


def codes(answer: dict[str, Any]) -> set[str]:
    return {reason["code"] for reason in answer["reasons"]}


def test_answers_with_the_keys_that_scripts_rely_on() -> None:
    answer = ask(*figures(), *SNAKE)
    assert answer["volume_ml"] == 0.21
    assert answer["draw_ml"] == 0.21
    assert answer["delivered_mg_per_kg"] == 20
    assert answer["error_percent"] == 0
    assert answer["checked"] is False
    assert answer["refused"] is False
    assert answer["reasons"] == []
    assert all(set(item) == {"code", "text", "next"} for item in answer["warnings"])
    assert {"order-missing", "weight-stale", "too-early"} <= {item["code"] for item in answer["not_checked"]}
    assert answer["in_words"] == "zero point two one millilitres"
    assert answer["read_as"]["species"] == "Pantherophis guttatus"


def test_the_error_is_signed_and_the_delivered_dose_follows_it() -> None:
    answer = ask(
        *figures("850", "50", "100"),
        "--drug",
        "fenbendazole",
        "--taxon",
        "Hermann's tortoise",
        "--interval-hours",
        "336",
    )
    assert answer["volume_ml"] == 0.425
    assert answer["draw_ml"] == 0.42
    assert answer["error_percent"] == pytest.approx(-1.17647, abs=1e-5)
    assert answer["delivered_mg_per_kg"] == pytest.approx(49.4118, abs=1e-4)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ([*figures(dose="200"), *SNAKE], "slip-found"),
        (
            [*figures("900", "0.2", "10"), "--drug", "ivermectin", "--taxon", "sulcata"],
            "stop-ivermectin-chelonian",
        ),
        (
            [*figures("900", "0.2", "10"), "--drug", "ivermectin", "--host-group", "tortoise"],
            "stop-ivermectin-chelonian",
        ),
        ([*figures(), "--drug", "metronidazole", "--host-group", "lizard"], "species-needed"),
        ([*figures(), "--drug", "metronidazole", "--taxon", "corm snaik"], "taxon-unknown"),
        ([*figures(), "--drug", "unobtainium", "--taxon", "corn snake"], "drug-unknown"),
        (figures(), "drug-or-animal-missing"),
        ([*figures(), *SNAKE, "--route", "IV"], "stop-route-not-at-home"),
        ([*figures(), *SNAKE, "--route", "sideways"], "route-unknown"),
        ([*figures(), *SNAKE, "--syringe-ml", "0.7"], "syringe-unknown"),
        ([*figures("2000"), *SNAKE, "--syringe-ml", "0.5"], "syringe-too-small"),
        ([*figures(strength="0.9"), *SNAKE], "volume-by-mouth-too-large"),
        ([*figures("450000"), *SNAKE], "weight-implausible"),
    ],
)
def test_a_refusal_is_an_answer_without_any_volume(words: list[str], code: str) -> None:
    answer = ask(*words)
    assert answer["refused"] is True
    assert code in codes(answer)
    for key in (
        "volume_ml",
        "draw_ml",
        "delivered_mg_per_kg",
        "error_percent",
        "in_words",
        "percent_of_body_weight",
    ):
        assert answer[key] is None
    assert all(reason["text"] and reason["next"] for reason in answer["reasons"])
    text = call(*words)
    assert "REFUSED" in text
    assert "Draw up" not in text
    assert "Until then" in text


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (figures(strength="7.5 %"), "strength-percent"),
        (figures(strength="1:10"), "strength-ratio"),
        (figures(strength="222 mg/g"), "strength-per-gram"),
        (figures(weight_g="0.42 kg"), "unit-wrong"),
        (figures(dose="200 µg/kg"), "unit-wrong"),
        (figures(weight_g="1,234"), "number-ambiguous"),
        (figures(weight_g="-5"), "number-not-positive"),
        (figures(dose="0"), "number-not-positive"),
        (figures(strength="inf"), "number-unreadable"),
        ([*figures(), "--syringe-ml", "big"], "number-unreadable"),
        ([*figures(), "--host-group", "dragon"], "host-group-unknown"),
        ([*figures(), "--host-group", "lizard", "--taxon", "corn snake"], "host-group-differs"),
    ],
)
def test_what_cannot_be_read_is_bad_input_with_what_to_type(words: list[str], code: str) -> None:
    with pytest.raises(BadInput) as caught:
        call(*words, "--arithmetic-only")
    assert caught.value.exit_code == 2
    assert caught.value.reason.code == code
    assert caught.value.reason.next


def test_a_decimal_comma_is_read_and_read_back() -> None:
    answer = ask(*figures("600", "0,2", "1"), "--drug", "ivermectin", "--taxon", "ball python")
    assert answer["read_as"]["dose_mg_per_kg"] == 0.2
    assert answer["draw_ml"] == 0.12
    assert "0.2 mg per kg" in call(*figures("600", "0,2", "1"), "--arithmetic-only")


def test_the_bare_sum_says_that_nothing_was_checked() -> None:
    answer = ask(*figures(), "--arithmetic-only")
    assert answer["draw_ml"] == 0.21
    assert answer["range_used"] is None
    assert "NO RANGE CHECK POSSIBLE" in call(*figures(), "--arithmetic-only")


def test_the_group_may_stand_beside_the_species_it_holds() -> None:
    for group, animal in (("lizard", "leopard gecko"), ("gecko", "leopard gecko"), ("turtle", "turtle")):
        words = figures("60", "100", "50") if animal != "turtle" else figures("900", "50", "100")
        drug = "paromomycin" if animal != "turtle" else "fenbendazole"
        assert not ask(*words, "--drug", drug, "--taxon", animal, "--host-group", group)["refused"]


def test_a_person_reads_the_banner_the_volume_in_words_and_what_was_not_checked() -> None:
    text = call(*figures(), *SNAKE, "--route", "by mouth")
    assert "your vet's" in text.splitlines()[0]
    assert "Draw up 0.21 ml (zero point two one millilitres) in a 1 ml syringe marked every 0.01 ml." in text
    assert (
        "Read as: 420 g, 20 mg per kg, 40 mg per ml, metronidazole, corn snake (Pantherophis guttatus)"
        in text
    )
    assert "Not checked here" in text


@settings(max_examples=150, deadline=None)
@given(
    words=st.lists(
        st.tuples(
            st.sampled_from(
                [
                    "--weight-g",
                    "--dose-mg-per-kg",
                    "--concentration-mg-per-ml",
                    "--drug",
                    "--taxon",
                    "--host-group",
                    "--interval-hours",
                    "--route",
                    "--syringe-ml",
                    "--graduation-ml",
                ]
            ),
            st.one_of(
                st.text(max_size=12),
                st.sampled_from(
                    ["1", "0.5", "420", "1e9", "40 mg/ml", "snake", "PO", "ivermectin", "NaN", "-1"]
                ),
            ),
        ),
        max_size=8,
    )
)
def test_whatever_is_typed_ends_in_an_answer_or_one_clear_line(words: list[tuple[str, str]]) -> None:
    given_words = [*figures(), *(part for pair in words for part in pair)]
    result = CliRunner().invoke(app, ["dose", *given_words, "--json"])
    if isinstance(result.exception, BadInput):
        assert result.exception.reason.next
        return
    assert result.exception is None or isinstance(result.exception, SystemExit)
    if result.exit_code == 0:
        answer = json.loads(result.stdout)
        assert (answer["draw_ml"] is None) == answer["refused"]
    else:
        assert result.exit_code == 2
