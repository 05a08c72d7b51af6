"""Question by question: forward, back, explained, changed, read back, stopped; and scripts stay as they were."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .asking import rescue, typed
from .conftest import Said, contents
from .every_command import DONE

__all__ = ["rescue", "typed"]
Typed = Callable[..., Said]
Do = Callable[..., dict[str, Any]]


def test_a_weight_is_asked_with_the_last_animal_first_and_read_back(
    rescue: Path, typed: Typed, do: Do
) -> None:
    said = typed(["animal", "weigh"], "", "650,5", "")
    assert said.code == 0, said.all
    assert "[Enter = Barley]" in said.out
    assert "last: 642 g" in said.out
    assert "650.5 g (before: 642 g, 1.32 % more)" in said.out
    assert [one["mass_g"] for one in do("animal", "show", "Barley")["weighings"]] == [642, 650.5]


def test_the_animal_that_was_used_comes_first_the_next_time(rescue: Path, typed: Typed) -> None:
    assert typed(["animal", "weigh"], "saff", "320", "").code == 0
    assert "[Enter = Saffron]" in typed(["animal", "weigh"], "q").out


def test_one_question_back_keeps_what_was_typed(rescue: Path, typed: Typed, do: Do) -> None:
    said = typed(["animal", "weigh"], "Barley", "<", "Saffron", "319", "<", "", "")
    assert said.code == 0, said.all
    assert "[Enter = 319]" in said.out
    assert do("animal", "show", "Saffron")["weighings"][-1]["mass_g"] == 319
    assert len(do("animal", "show", "Barley")["weighings"]) == 1


def test_there_is_no_way_back_before_the_first_question(rescue: Path, typed: Typed) -> None:
    said = typed(["animal", "weigh"], "<", "q")
    assert "This is the first question" in said.out
    assert said.code == 130


def test_a_line_is_changed_by_its_number_and_nothing_else(rescue: Path, typed: Typed, do: Do) -> None:
    said = typed(["animal", "weigh"], "Barley", "650", "3", "yesterday 18:00", "4", "just fed", "")
    assert said.code == 0, said.all
    weighing = next(one for one in do("animal", "show", "Barley")["weighings"] if one["mass_g"] == 650)
    assert weighing["weighed_at"].endswith("18:00:00")
    assert weighing["state"] == "just fed"


def test_a_question_explains_itself(rescue: Path, typed: Typed) -> None:
    said = typed(["sample", "add"], "Barley", "?", "q")
    assert "The older end counts" in said.out
    assert "< goes back one question" in said.out


def test_the_read_back_shows_the_same_as_one_command(rescue: Path, typed: Typed, do: Do) -> None:
    said = typed(["care", "log"], "Barley", "2", "12", "?", "q")
    assert "fecallab care log A2 feeding 12" in said.out
    assert do("animal", "show", "Barley")["care"] == []


@pytest.mark.parametrize("answer", ["q", "n", "no"])
def test_a_no_at_the_read_back_records_nothing(rescue: Path, typed: Typed, answer: str) -> None:
    before = contents(rescue)
    said = typed(["animal", "weigh"], "Barley", "650", answer)
    assert said.code == 130
    assert contents(rescue) == before


def test_a_weight_that_is_ten_times_the_last_is_asked(rescue: Path, typed: Typed, do: Do) -> None:
    said = typed(["animal", "weigh"], "Saffron", "3180", "1", "")
    assert "3180 g is far from the last weight, 318 g" in said.out
    assert do("animal", "show", "Saffron")["weighings"][-1]["mass_g"] == 318
    assert typed(["animal", "weigh"], "Saffron", "3180", "2", "").code == 0
    assert do("animal", "show", "Saffron")["weighings"][-1]["mass_g"] == 3180


def test_an_ambiguous_number_is_asked_and_read_back(rescue: Path, typed: Typed, do: Do) -> None:
    said = typed(["sample", "add"], "Saffron", "", "", "", "1,234", "1", "", "")
    assert "can be read in two ways" in said.out
    assert "mass          1.234 g" in said.out
    assert said.code == 0, said.all


def test_a_whole_sample_is_recorded_as_it_was_answered(rescue: Path, typed: Typed, do: Do) -> None:
    said = typed(
        ["sample", "add"], "Saffron", "yesterday 6:00 to yesterday 8:00", "2", "1", "0,6", "y", "", ""
    )
    assert said.code == 0, said.all
    listed = do("sample", "list")["samples"][-1]
    assert (listed["form"], listed["kept"], listed["mass_g"], listed["whole_stool_used"]) == (
        "soft",
        "room",
        0.6,
        True,
    )
    assert listed["passed_from"].endswith("06:00:00")
    assert listed["passed_to"].endswith("08:00:00")


def test_what_is_not_known_stays_unknown(rescue: Path, typed: Typed, do: Do) -> None:
    said = typed(["sample", "add"], "Saffron", "-", "not known", "unknown", "-", "", "", "")
    assert said.code == 0, said.all
    sample = do("sample", "list")["samples"][-1]
    assert (sample["passed_from"], sample["form"], sample["kept"], sample["mass_g"]) == (
        None,
        None,
        None,
        None,
    )


def test_a_danger_sign_says_at_once_what_to_do_and_is_recorded(rescue: Path, typed: Typed, do: Do) -> None:
    said = typed(["sample", "add"], "Saffron", "", "", "", "1", "collapse", "")
    assert said.code == 0, said.all
    before_recording = said.out.partition("To be recorded")[0]
    assert "To the vet today: collapse" in before_recording
    assert any(one["sign"] == "collapse" for one in do("sign", "list", "Saffron")["answers"])


def test_an_animal_is_asked_from_name_to_weight(folder: Path, typed: Typed, do: Do) -> None:
    said = typed(["animal", "add"], "Quill", "corn snake", "y", "rack 2", "1.2 kg", "")
    assert said.code == 0, said.all
    animal = do("animal", "list")["animals"][0]
    assert (animal["name"], animal["host_group"], animal["adult"], animal["enclosure"]) == (
        "Quill",
        "snake",
        True,
        "rack 2",
    )
    assert animal["last_weight_g"] == 1200


def test_an_unknown_species_offers_near_ones_and_else_asks_the_group(
    folder: Path, typed: Typed, do: Do
) -> None:
    assert typed(["animal", "add"], "Ash", "corn snak", "1", "", "", "", "").code == 0
    assert typed(["animal", "add"], "Oak", "zzyzx", "lizard", "y", "", "", "", "").code == 0
    ash, oak = do("animal", "list")["animals"]
    assert ash["host_group"] == "snake"
    assert (oak["host_group"], oak["plant_eater"]) == ("lizard", True)


def test_a_name_that_is_there_already_is_said_at_its_question(rescue: Path, typed: Typed) -> None:
    said = typed(["animal", "add"], "saffron", "q")
    assert "Saffron is in the records already (A1)" in said.out


def test_an_animal_called_like_a_number_is_not_taken_for_the_list(rescue: Path, typed: Typed, do: Do) -> None:
    do("animal", "add", "2")
    said = typed(["animal", "show"], "2", "2")
    assert "2 can mean two animals" in said.out
    assert "A3 2," in said.out


def test_every_method_asks_what_the_adequacy_table_asks(rescue: Path, typed: Typed, do: Do) -> None:
    do("sample", "add", "Saffron", "--mass-g", "1.4", "--form", "soft", "--kept", "room")
    lines = ["", "simple flotation", "zinc sulfate", "1,2", "y", "15", "", "", "y", "oxyurid 3", "", ""]
    said = typed(["exam", "add"], *lines)
    assert said.code == 0, said.all
    for question in (
        "Was the gravity of the solution 1.18 to 1.30?",
        "Was the gravity measured, or 100 ml weighed?",
        "Did it stand 10 to 60 minutes?",
        "Was it read with the 10× objective or a stronger one?",
        "Was the whole cover glass read?",
    ):
        assert question in " ".join(said.out.split())
    exam = do("exam", "show", "E1")["exam"]
    made = exam["preparations"][0]
    assert (made["specific_gravity"], made["gravity_checked"], made["standing_minutes"]) == (1.2, True, 15)
    assert made["solution"] == "zinc sulfate"
    assert exam["counts"] == {"oxyurid": 3}
    assert made["readings"][0]["cover_share"] == 1


def test_the_next_float_offers_the_same_solution_and_gravity(rescue: Path, typed: Typed, do: Do) -> None:
    do("sample", "add", "Saffron", "--mass-g", "1.4")
    typed(["exam", "add"], "", "simple flotation", "sugar", "1.27", "y", "15", "", "", "y", "", "")
    said = typed(["exam", "prepare"], "", "", "q")
    assert "[Enter = simple flotation]" in said.out
    assert "[Enter = sugar (Sheather)]" in said.out


def test_an_open_case_is_recorded_as_none_seen_when_nothing_was(rescue: Path, typed: Typed, do: Do) -> None:
    do("case", "open", "Saffron", "oxyurid", "--vet", "Dr Ilse Varnholt")
    do("sample", "add", "Saffron", "--mass-g", "1.4")
    said = typed(["exam", "add"], "", "simple flotation", "", "1.2", "y", "15", "", "", "y", "", "")
    assert said.code == 0, said.all
    assert "nothing (0 oxyurid)" in said.out
    assert do("exam", "show", "E1")["exam"]["counts"] == {"oxyurid": 0}


def test_fields_are_counted_with_zeros_and_must_have_one_length(rescue: Path, typed: Typed, do: Do) -> None:
    do("sample", "add", "Saffron", "--mass-g", "1.4")
    start = ["", "simple flotation", "", "1.2", "y", "15", "2", "10", "20"]
    said = typed(["exam", "add"], *start, "oxy", "0 2 1", "coccidian", "1 1", "0,0,4", "", "")
    assert said.code == 0, said.all
    assert "These are 2 fields, before there were 3" in said.out
    exam = do("exam", "show", "E1")["exam"]
    assert exam["counts"] == {"oxyurid": 3, "coccidian": 4}
    assert len(exam["preparations"][0]["readings"]) == 3


def test_what_is_unsure_is_recorded_unsure(rescue: Path, typed: Typed, do: Do) -> None:
    do("sample", "add", "Saffron", "--mass-g", "1.4")
    said = typed(["exam", "add"], "", "saline", "w", "", "", "y", "flagellate", "2u", "pollen_pine 1", "", "")
    assert said.code == 0, said.all
    exam = do("exam", "show", "E1")["exam"]
    assert exam["unsure"] == {"flagellate": 2}
    assert exam["counts"] == {"pollen_pine": 1}
    assert exam["preparations"][0]["slide_warmed"] is True
    assert exam["preparations"][0]["readings"][0]["cover_share"] == pytest.approx(0.333)


def test_no_quantity_of_the_table_is_without_a_question() -> None:
    from fecallab.cli.ask.exam_table import ABOUT_THE_SAMPLE, KINDS
    from fecallab.reference.adequacy import adequacy_conditions

    asked = {condition.quantity for condition in adequacy_conditions()}
    assert asked <= ABOUT_THE_SAMPLE | set(KINDS)
    assert len(asked) > 10


def test_a_plan_is_typed_in_and_nothing_is_proposed(rescue: Path, typed: Typed, do: Do) -> None:
    do("case", "open", "Saffron", "oxyurid", "--vet", "Dr Ilse Varnholt")
    said = typed(
        ["plan", "add"],
        "",
        "Dr Ilse Varnholt",
        "",
        "y",
        "",
        "fenbendazole",
        "50",
        "100",
        "1",
        "14",
        "2",
        "",
        "",
    )
    assert said.code == 0, said.all
    assert "This one is needed" in said.out
    plan = do("plan", "show", "C1")["plans"][0]
    assert (plan["drug"], plan["dose_mg_per_kg"], plan["route"], plan["doses_planned"]) == (
        "fenbendazole",
        "50",
        "by mouth",
        2,
    )
    assert plan["negatives_needed"] is not None


def test_a_problem_found_at_the_end_comes_back_to_the_read_back(rescue: Path, typed: Typed, do: Do) -> None:
    do("case", "open", "Saffron", "oxyurid", "--vet", "Dr Ilse Varnholt")
    start = ["", "Dr Ilse Varnholt", "", "y", "fenbendazole", "50", "100", "1", "14", "2"]
    said = typed(["plan", "add"], *start, "watch", "", "11", "clear", "")
    assert said.code == 0, said.all
    assert "Not recorded: The goal is 'watch, no treatment', but fenbendazole is to be given." in " ".join(
        said.out.split()
    )
    assert do("plan", "show", "C1")["plans"][0]["goal"] == "clear"


def test_a_value_that_came_with_the_command_is_not_asked(rescue: Path, typed: Typed, do: Do) -> None:
    said = typed(["animal", "weigh", "saff"], "321", "")
    assert said.code == 0, said.all
    assert "Which animal" not in said.out
    assert do("animal", "show", "Saffron")["weighings"][-1]["mass_g"] == 321


def test_an_animal_that_is_not_there_is_said_before_anything_is_asked(rescue: Path, typed: Typed) -> None:
    said = typed(["animal", "weigh", "Safron"])
    assert said.code == 2
    assert "Did you mean Saffron?" in said.err


def test_a_whole_command_asks_nothing(rescue: Path, typed: Typed) -> None:
    said = typed(["animal", "weigh", "Saffron", "322"])
    assert said.code == 0
    assert "Record this?" not in said.out
    said = typed(["sample", "add", "Saffron", "--form", "soft"])
    assert said.code == 0
    assert "Record this?" not in said.out


def test_a_command_that_only_shows_is_not_read_back(rescue: Path, typed: Typed) -> None:
    said = typed(["animal", "show"], "Saffron")
    assert said.code == 0, said.all
    assert "Record this?" not in said.out
    assert "318 g" in said.out


def test_any_other_command_asks_for_what_it_needs_in_the_words_of_its_help(
    rescue: Path, typed: Typed
) -> None:
    said = typed(["calc", "field"], "20", "40")
    assert said.code == 0, said.all
    assert "0.5 mm" in said.out or "0.500 mm" in said.out


@pytest.mark.parametrize("name", sorted(set(DONE) - {"demo"}))
def test_the_end_of_the_input_at_any_question_records_nothing(name: str, rescue: Path, typed: Typed) -> None:
    """Every command without a word: it asks and stops, says what is not there, or does what needs no answer."""
    before = contents(rescue)
    said = typed(name.split())
    assert said.code in (0, 1, 2, 3, 130)
    assert contents(rescue) == before
    assert "Traceback" not in said.all
    if said.code == 130:
        assert said.err.strip().splitlines() == [
            "Stopped. Nothing was recorded by the step that was stopped."
        ]


def test_a_short_name_of_a_method_is_understood_or_both_that_it_can_mean_are_named(
    rescue: Path, typed: Typed, do: Do
) -> None:
    do("sample", "add", "Saffron")
    said = typed(["exam", "add"], "", "wet mount", "float", "direct smear", "q")
    told = " ".join(said.out.split())
    assert "'wet mount' can mean more than one. Type the number: 1 direct saline smear" in told
    assert "Type the number: 5 simple flotation, 6 centrifugal flotation" in told
    assert "is none of these" not in told and "slide warmed?" in told, "the smear was understood"


def test_a_gravity_is_no_name_of_a_solution(rescue: Path, typed: Typed, do: Do) -> None:
    do("sample", "add", "Saffron")
    said = typed(["exam", "add"], "", "simple flotation", "1.2", "1", "q")
    assert "'1.2' is a number; its gravity is asked next." in said.out
    assert said.out.index("is a number") < said.out.index("Was the gravity of the solution")
