"""``fecallab clean``: advice with its cautions, and the dates beside "positive again"."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import Said, contents

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]


def test_advice_is_given_for_a_target_by_any_of_its_names(do: Do, say: Say) -> None:
    assert do("clean", "advice", "coccidian")["own"]["removal_hours"] == 12
    text = say("clean", "advice", "pinworm")
    assert "oxyurid" in text and "Caution:" in text and "never ammonia with bleach" in text
    assert do("clean", "advice", "mite")["own"] is None


def test_advice_follows_a_positive_and_never_a_negative(do: Do, float_exam: Do) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    assert float_exam("Saffron", "2025-03-04", "oxyurid=0")["cleaning"] == []
    said = " ".join(float_exam("Saffron", "2025-03-09", "oxyurid=2")["cleaning"])
    assert "Cleaning for oxyurid" in said and "Caution:" in said and "People:" in said


def test_advice_is_said_in_full_once_for_each_exam(do: Do, float_exam: Do) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    exam = float_exam("Saffron", "2025-03-09", "oxyurid=2")["exam"]["code"]
    more = ("exam", "read", f"{exam}-1", "--objective", "10", "--share", "0.1", "--seen")
    assert do(*more, "oxyurid=1")["cleaning"] == ["Cleaning for oxyurid: fecallab clean advice oxyurid"]
    new = " ".join(do(*more, "coccidian=1")["cleaning"])
    assert "Cleaning for coccidian (all of it" in new and "Caution:" in new


def test_of_a_normal_inhabitant_one_line_is_enough_until_the_vet_makes_it_a_case(
    do: Do, say: Say, float_exam: Do
) -> None:
    do("animal", "add", "Barley", "--species", "Testudo hermanni", "--adult")
    found = float_exam("Barley", "2025-03-04", "oxyurid_tortoise_egg=2")
    (line,) = found["cleaning"]
    assert line.startswith("oxyurid: normal here in small numbers; many, ")
    assert line.endswith("for the vet. Cleaning: fecallab clean advice oxyurid")
    assert found["cases_opened"] == [] and len(found["notes"]) == 1
    both = float_exam("Barley", "2025-03-09", "oxyurid_tortoise_egg=2", "--seen", "coccidian=1")["cleaning"]
    assert (
        line in both
        and "Caution:" in " ".join(both)
        and "Cleaning for coccidian (all of it" in " ".join(both)
    )
    do("case", "open", "Barley", "oxyurid", "--vet", "Dr Ilse Varnholt", "--on", "2025-03-10")
    said = " ".join(float_exam("Barley", "2025-03-12", "oxyurid_tortoise_egg=2")["cleaning"])
    assert "Cleaning for oxyurid (all of it" in said and "Caution:" in said and "normal here" not in said


def test_cleaning_is_logged_for_the_place_whatever_the_capitals(do: Do, say: Say) -> None:
    do("animal", "add", "Saffron", "--enclosure", "North shelf")
    do("animal", "add", "Tilda", "--enclosure", "North shelf")
    assert "Recorded for Saffron, Tilda." in say("clean", "log", "north  SHELF", "--at", "2025-03-04 10:00")
    later = do("clean", "log", "North shelf", "--at", "2025-03-09 10:00")
    assert later["cleaned_before_on"] == "2025-03-04"
    assert (later["care"]["kind"], later["care"]["enclosure"]) == ("cleaning", "North shelf")
    assert len(do("animal", "show", "Tilda")["care"]) == 2


def test_positive_again_shows_when_it_was_cleaned_since_the_last_dose(
    do: Do, say: Say, float_exam: Do, treated: str, tmp_path: Path
) -> None:
    do("correct", "A1", "enclosure=north shelf", "--reason", "forgotten")
    do("clean", "log", "north shelf", "--at", "2025-03-10 10:00")
    float_exam("Saffron", "2025-06-02", "oxyurid=2")
    line = "Reinfection is possible. No cleaning is recorded since the last dose of 21 March 2025."
    assert line in say("case", "show", treated)
    do("clean", "log", "north shelf", "--at", "2025-04-10 10:00")
    shown = do("case", "show", treated)
    assert shown["standing"] == "positive again: back to the vet"
    assert shown["cleaned_on"] == ["2025-04-10"]
    do("report", "case", treated, "--to", str(tmp_path / "pages"))
    page = (tmp_path / "pages" / "case-C1.html").read_text(encoding="utf-8")
    assert "Cleaned since the last dose of 21 March 2025: 10 April 2025." in page


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("advice", "dragonflu"), "unknown-organism"),
        (("log", "nowhere at all"), "enclosure-unknown"),
        (("log", "north shelv"), "enclosure-unknown"),
        (("log", ""), "enclosure-unknown"),
        (("log", "north shelf", "--at", "yesterday at ten"), "not-a-time"),
    ],
)
def test_what_cannot_be_meant_is_one_line_and_changes_nothing(
    do: Do, folder: Path, fecallab: Callable[..., Said], words: tuple[str, ...], code: str
) -> None:
    do("animal", "add", "Saffron", "--enclosure", "north shelf")
    do("animal", "add", "Nomad")
    before = contents(folder)
    said = fecallab("clean", *words, "--json")
    assert (said.code, said.error["code"]) == (2, code)
    assert said.error["next"]
    assert contents(folder) == before
    if words[-1] == "north shelv":
        assert "north shelf" in said.error["next"]
