"""A dose, care and the end of a case, question by question."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from .asking import typed
from .conftest import Said

__all__ = ["typed"]
Typed = Callable[..., Said]
Do = Callable[..., dict[str, Any]]
DRUG = (
    *("--drug", "fenbendazole", "--dose-mg-per-kg", "50", "--concentration-mg-per-ml", "100"),
    *("--route", "by mouth", "--interval-days", "14", "--doses", "2", "--goal", "clear"),
)


@pytest.fixture
def planned(case: str, do: Do) -> str:
    """A case with a plan of today and an old weight."""
    do("plan", "add", case, "--vet", "Dr Ilse Varnholt", *DRUG)
    do("animal", "weigh", "Saffron", "318", "--at", "2025-03-05 08:00")
    return case


def plain(said: Said) -> str:
    return " ".join(said.out.split())


def test_a_dose_shows_the_volume_and_its_words_before_it_is_logged(
    planned: str, typed: Typed, do: Do
) -> None:
    said = typed(["dose", "give"], "", "320", "1", "38", "26", "", "")
    assert said.code == 0, said.all
    assert "Draw 0.16 ml (zero point one six millilitres)" in plain(said)
    assert plain(said).index("Draw 0.16 ml") < plain(said).index("Record this?")
    assert "320 g (before: 318 g" in plain(said)
    assert "Weight 320 g, today" in plain(said).partition("Record this?")[0]
    assert do("animal", "show", "Saffron")["weighings"][-1]["mass_g"] == 320


def test_a_weight_typed_for_a_dose_is_not_recorded_when_the_dose_is_stopped(
    planned: str, typed: Typed, do: Do
) -> None:
    assert typed(["dose", "give"], "", "320", "1", "38", "26", "", "q").code == 130
    assert [one["mass_g"] for one in do("animal", "show", "Saffron")["weighings"]] == [318]


def test_a_dose_without_a_weight_of_today_is_refused_before_anything_is_logged(
    planned: str, typed: Typed, do: Do
) -> None:
    said = typed(["dose", "give"], "", "", "1", "38", "26", "1", "")
    assert said.code == 1, said.all
    assert "Refused (weight-" in plain(said)
    assert "nothing was logged" in said.err
    assert "Was it given already?" in plain(said)
    assert do("case", "show", planned)["standing"] == "not treated"


def test_what_was_given_already_is_logged_with_the_reason(planned: str, typed: Typed, do: Do) -> None:
    said = typed(["dose", "give"], "", "", "1", "38", "26", "given", "y", "0,16", "")
    assert said.code == 0, said.all
    assert do("case", "show", planned)["standing"] == "on treatment"
    assert "logged though refused: weight-" in json.dumps(do("history", "D1"))


def test_a_cold_animal_is_refused_at_the_question(planned: str, typed: Typed) -> None:
    said = typed(["dose", "give"], "", "320", "1", "12", "8", "q")
    assert "Refused (" in plain(said)
    assert "Draw " not in plain(said)


def test_a_dose_that_came_back_up_is_not_repeated(planned: str, typed: Typed, do: Do) -> None:
    said = typed(["dose", "give"], "", "320", "1", "38", "26", "vomited", "")
    assert said.code == 0, said.all
    assert "Do not repeat it; call the vet." in plain(said)


def test_more_than_was_worked_out_is_asked(planned: str, typed: Typed, do: Do) -> None:
    said = typed(["dose", "give"], "", "320", "1", "38", "26", "partly given", "16", "2", "0,1", "")
    assert said.code == 0, said.all
    assert "16 ml is more than the 0.16 ml worked out" in plain(said)
    assert "0.1 ml" in plain(said)


def test_without_a_plan_with_a_drug_it_says_so(case: str, typed: Typed) -> None:
    said = typed(["dose", "give"])
    assert said.code == 2
    assert "no open case with a drug in the vet's plan" in said.err
    assert "fecallab plan add C1" in said.err


def test_fluids_need_a_number_and_cleaning_needs_none(case: str, typed: Typed, do: Do) -> None:
    said = typed(["care", "log"], "", "1", "", "6 ml", "")
    assert said.code == 0, said.all
    assert "This one is needed" in said.out
    assert typed(["care", "log"], "", "cleaning", "").code == 0
    assert typed(["care", "log"], "", "4", "-2,5", "").code == 0
    amounts = [(one["kind"], one["amount"]) for one in do("animal", "show", "Saffron")["care"]]
    assert sorted(amounts, key=str) == [("cleaning", None), ("fluids", 6), ("lowest at night", -2.5)]


def test_the_end_of_a_case_is_asked_with_its_kind_and_vet(case: str, typed: Typed, do: Do) -> None:
    said = typed(["case", "close"], "", "on a vet", "Dr Ilse Varnholt", "moved to another practice", "")
    assert said.code == 0, said.all
    assert "on a vet's order" in plain(said)
    assert do("case", "list")["cases"][0]["closed"]


def test_a_result_from_elsewhere_is_asked_in_full(case: str, typed: Typed, do: Do) -> None:
    day = date.today() - timedelta(days=1)
    answers = ["", "oxyurid", "2", "a laboratory", "flotation", f"{day:%d.%m.%Y}", "egg", "y", ""]
    said = typed(["exam", "elsewhere"], *answers)
    assert said.code == 0, said.all
    result = do("exam", "show", "E2")["exam"]["elsewhere"][0]
    assert (result["result"], result["stage"], result["stated_adequate"]) == ("negative", "egg", True)


def test_a_correction_takes_what_is_wrong_and_why(case: str, typed: Typed, do: Do) -> None:
    do("animal", "weigh", "Saffron", "318")
    said = typed(["correct"], "W1", "mass_g=316 state=gravid", "read the scale wrong", "")
    assert said.code == 0, said.all
    assert do("animal", "show", "Saffron")["weighings"][-1]["mass_g"] == 316
