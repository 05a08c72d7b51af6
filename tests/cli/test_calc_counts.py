"""The calculators on counts as a person or a script calls them."""

import json

import pytest
import typer
from hypothesis import example, given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from fecallab.cli import calc_counts
from fecallab.domain.errors import BadInput

app = typer.Typer(pretty_exceptions_enable=False)
calc_counts.register(app)


def call(*words):
    result = CliRunner().invoke(app, list(words))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == 0, result.output
    return result.stdout


def ask(*words):
    return json.loads(call(*words, "--json"))


def test_density_answers_with_its_keys():
    found = ask("density", "--counts", "0,2,1,0,4")
    assert found["mean_per_field"] == pytest.approx(1.4)
    assert found["ci95"] == pytest.approx([0.5629, 2.8845], abs=1e-3)
    assert found["dispersion_index"] == pytest.approx(2.0)
    assert found["model"] == "poisson"
    assert found["upper95_if_zero"] is None


def test_density_of_nothing_gives_a_limit():
    found = ask("density", "--counts", "0,0,0,0,0,0,0,0,0,0")
    assert found["upper95_if_zero"] == pytest.approx(0.29957, abs=1e-5)
    assert found["dispersion_index"] is None
    text = call("density", "--counts", "0,0,0,0,0,0,0,0,0,0")
    assert "None seen in 10 fields" in text
    assert "below 0.3 per field" in text
    assert "no negative" in text


def test_density_says_when_fields_lie_in_clumps():
    assert "clumps" in call("density", "--counts", "0,0,0,9,0,0,0,12,0,0,1")
    few = call("density", "--counts", "0,0,0,9,0")
    assert "too narrow" in few
    assert "more evenly" in call("density", "--counts", "5,5,5,5,5,5,5,5")


def test_epg_answers_with_its_keys_and_reads_a_decimal_comma_back():
    words = ("epg", "--count", "27", "--sample-g", "4", "--suspension-ml", "60", "--counted-ml", "0,3")
    found = ask(*words)
    assert {key: found[key] for key in ("factor", "epg", "one_egg_epg")} == pytest.approx(
        {"factor": 50, "epg": 1350, "one_egg_epg": 50}
    )
    assert found["ci95"] == pytest.approx([889.7, 1964.2], abs=0.1)
    assert found["reliable_epg"] == pytest.approx(149.79, abs=0.01)
    assert "1,350 per gram (95 % interval 890 to 1,964)" in call(*words)
    assert "0.3 ml counted" in call(*words)


def test_epg_of_none_is_a_limit():
    text = call("epg", "--count", "0", "--sample-g", "4", "--suspension-ml", "60", "--counted-ml", "0.3")
    assert text.startswith("None counted: below 150 per gram")


def test_field_answers_with_its_keys():
    found = ask("field", "--field-number", "18", "--objective", "40x")
    assert found["diameter_mm"] == pytest.approx(0.45)
    assert found["area_mm2"] == pytest.approx(0.15904, abs=1e-5)
    assert found["cover_glass_share"] == pytest.approx(0.15904 / 484, rel=1e-4)
    assert "1,015 fields" in call("field", "--field-number", "18", "--objective", "40")


def test_residual_gives_two_chances_and_names_the_human_fit():
    words = ("residual", "--prior", "0.5", "--sensitivity", "0.5", "--negatives", "3")
    found = ask(*words)
    assert found["probability_infected"] == pytest.approx(1 / 9)
    assert found["probability_infected_cautious"] == pytest.approx(0.254, abs=1e-3)
    assert found["correlation"] == 0.576
    text = call(*words)
    assert "11.1 %" in text
    assert "25.4 %" in text
    assert "people" in text
    given_one = ask(*words, "--correlation", "0")
    assert given_one["probability_infected_cautious"] == pytest.approx(1 / 9)


def test_reduction_of_one_animal_and_of_groups():
    found = ask("reduction", "--before", "40", "--after", "2")
    assert found["reduction_percent"] == pytest.approx(95)
    assert found["ci95"] == pytest.approx([80.72, 99.41], abs=0.01)
    assert found["method"] == "exact-two-count"
    none_left = ask("reduction", "--before", "60,40", "--after", "0,0")
    assert none_left["ci95"] == [pytest.approx(96.41, abs=0.01), None]
    assert none_left["method"] == "beta"
    finer = ask(
        "reduction", "--before", "12", "--after", "0", "--factor-before", "50", "--factor-after", "10"
    )
    assert finer["ci95"][0] == pytest.approx(92.80, abs=0.01)
    paired = ask("reduction", "--before", "40,22,31", "--after", "4,1,6", "--paired")
    assert paired["method"] == "arithmetic-means-paired"


def test_reduction_gives_no_verdict_on_a_drug():
    for after in ("0", "2", "39", "90"):
        text = call("reduction", "--before", "40", "--after", after).lower()
        assert "resist" not in text
        assert "vet" in text
    assert "not proven" in call("reduction", "--before", "40", "--after", "0")
    assert "% more after than before" in call("reduction", "--before", "40", "--after", "90")


def test_agreement_answers_with_its_keys():
    found = ask("agreement", "--table", "40,9;6,45")
    assert found["kappa"] == pytest.approx(0.700, abs=5e-4)
    assert found["agreement"] == pytest.approx(0.85)
    assert set(found) >= {"kappa_se", "ci95", "ac1", "positive_agreement", "negative_agreement"}
    assert ask("agreement", "--table", "0,0;0,30")["kappa"] is None
    assert "one name only" in call("agreement", "--table", "0,0;0,30")
    three = ask("agreement", "--table", "13,0,0;0,20,7;0,4,56")
    assert three["kappa_se"] == pytest.approx(0.0589107, abs=1e-7)


EPG = ("--sample-g", "4", "--suspension-ml", "60", "--counted-ml", "0.3")


@pytest.mark.parametrize(
    "words",
    [
        ("density", "--counts", ""),
        ("density", "--counts", "1,,2"),
        ("density", "--counts", "1,-2"),
        ("density", "--counts", "1,2.5"),
        ("density", "--counts", "nan"),
        ("density", "--counts", "inf,1"),
        ("density", "--counts", "many"),
        ("density", "--counts", "999999999999"),
        ("density", "--counts", "٣,٤"),
        ("epg", "--count", "2.5", *EPG),
        ("epg", "--count", "1,2", *EPG),
        ("epg", "--count", "-1", *EPG),
        ("epg", "--count", "3", "--sample-g", "nan", "--suspension-ml", "60", "--counted-ml", "0.3"),
        ("epg", "--count", "3", "--sample-g", "0", "--suspension-ml", "60", "--counted-ml", "0.3"),
        ("epg", "--count", "3", "--sample-g", "4", "--suspension-ml", "1,500", "--counted-ml", "0.3"),
        ("epg", "--count", "3", "--sample-g", "4 g", "--suspension-ml", "60", "--counted-ml", "0.3"),
        ("epg", "--count", "3", "--sample-g", "4", "--suspension-ml", "60", "--counted-ml", "80"),
        ("field", "--field-number", "0", "--objective", "40"),
        ("field", "--field-number", "18", "--objective", "1e999"),
        ("residual", "--prior", "50", "--sensitivity", "0.5", "--negatives", "3"),
        ("residual", "--prior", "0.5", "--sensitivity", "1.01", "--negatives", "3"),
        ("residual", "--prior", "0.5", "--sensitivity", "0.5", "--negatives", "2.5"),
        ("residual", "--prior", "0.5", "--sensitivity", "0.5", "--negatives", "3", "--correlation", "2"),
        ("reduction", "--before", "0", "--after", "0"),
        ("reduction", "--before", "4,5,6", "--after", "1,2", "--paired"),
        ("reduction", "--before", "4", "--after", "1", "--factor-before", "50"),
        ("reduction", "--before", "4", "--after", "1", "--factor-before", "-5", "--factor-after", "5"),
        ("agreement", "--table", "1,2;3"),
        ("agreement", "--table", "0,0;0,0"),
        ("agreement", "--table", "1"),
    ],
    ids=" ".join,
)
def test_what_cannot_be_meant_is_refused_in_one_line_that_says_what_to_type(words):
    with pytest.raises(BadInput) as told:
        call(*words)
    assert told.value.exit_code == 2
    assert told.value.reason.code
    assert "\n" not in told.value.reason.text
    assert told.value.reason.next


def test_every_calculator_has_help_and_every_option_a_word_of_it():
    for command in typer.main.get_command(app).commands.values():
        assert command.help, command.name
        for option in command.params:
            assert option.help, (command.name, option.name)


@example(counts=[10_000_000], after=0)
@given(st.lists(st.integers(0, 10_000_000), min_size=1, max_size=30), st.integers(0, 10_000_000))
@settings(max_examples=40, deadline=None)
def test_answers_are_plain_json_and_text_whatever_the_counts(counts, after):
    listed = ",".join(map(str, counts))
    assert ask("density", "--counts", listed)["fields"] == len(counts)
    assert call("density", "--counts", listed)
    words = ("reduction", "--before", str(max(1, counts[0])), "--after", str(after))
    assert ask(*words)["ci95"][0] is not None
    assert "inf" not in call(*words).replace("infect", "")
