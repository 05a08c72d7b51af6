"""Cleaning dates beside "positive again", and advice that never goes without its cautions."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from fecallab.domain.animal import CareEntry
from fecallab.domain.cleaning import cleaned_since_last_dose, cleanings, last_dose_day, say_minutes
from fecallab.domain.plan import DoseGiven
from fecallab.reference.cleaning import cleaning_advice, working_rows


def cleaned(day: int) -> CareEntry:
    return CareEntry(enclosure="north", at=datetime(2026, 3, day, 9), kind="cleaning")


def dose(day: int, outcome: str = "given") -> DoseGiven:
    return DoseGiven(plan="P1", given_at=datetime(2026, 3, day, 8), outcome=outcome)


def test_only_cleaning_counts_once_a_day() -> None:
    soak = CareEntry(animal="A1", at=datetime(2026, 3, 5), kind="soak")
    care = [cleaned(9), cleaned(4), soak, cleaned(4)]
    assert cleanings(care) == [date(2026, 3, 4), date(2026, 3, 9)]
    assert cleanings(care, date(2026, 3, 5)) == [date(2026, 3, 9)]


def test_the_last_dose_is_the_last_that_was_given() -> None:
    assert last_dose_day([dose(4), dose(9, "missed"), dose(2)]) == date(2026, 3, 4)
    assert last_dose_day([dose(4, "spat")]) is None


@pytest.mark.parametrize(
    ("days", "doses", "said"),
    [
        ([], [], "No cleaning is recorded."),
        ([3], [dose(4)], "No cleaning is recorded since the last dose of 4 March 2026."),
        ([3, 4, 9], [dose(4)], "Cleaned since the last dose of 4 March 2026: 4 March 2026, 9 March 2026."),
        ([3], [], "Cleaned: 3 March 2026."),
        ([25], [dose(4)], "No cleaning is recorded since the last dose of 4 March 2026."),
    ],
)
def test_positive_again_says_when_it_was_cleaned(days: list[int], doses: list[DoseGiven], said: str) -> None:
    line = cleaned_since_last_dose([cleaned(day) for day in days], doses, date(2026, 3, 20))
    assert line == f"Reinfection is possible. {said}"


@pytest.mark.parametrize("target", [*working_rows(), "mite", "spirurid"])
def test_advice_never_goes_without_its_cautions_and_source(target: str) -> None:
    advice = cleaning_advice(target)
    whole, short = "\n".join(advice.lines), "\n".join(advice.short)
    for row in (advice.general, *([advice.own] if advice.own else [])):
        assert row.cautions in whole and row.cautions in short
        assert row.source in whole and f"({row.source_kind})" in whole
    assert (advice.own or advice.general).people in short
    assert all("\n" not in line for line in (*advice.lines, *advice.short))


def test_the_general_row_never_contradicts_the_own_one() -> None:
    lines = cleaning_advice("coccidian").lines
    assert sum("Take stool out" in line for line in lines) == 1
    assert any("every 12 hours" in line for line in lines)
    assert any("every 24 hours" in line for line in cleaning_advice("mite").lines)


@pytest.mark.parametrize(
    ("minutes", "said"), [(0.0833, "5 seconds"), (1, "1 minute"), (90, "1.5 hours"), (None, "not known")]
)
def test_minutes_are_said_as_a_person_does(minutes: float | None, said: str) -> None:
    assert said in say_minutes(minutes)
