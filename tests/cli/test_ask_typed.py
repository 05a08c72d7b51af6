"""Numbers, days and times as a person types them: read when they can mean one thing, asked when two."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.cli.ask.amounts import GRAMS, read_amount, read_count_list, read_share
from fecallab.cli.ask.moments import read_day_typed, read_moment, read_moments, say_moment
from fecallab.cli.ask.question import chosen, unquoted
from fecallab.domain.errors import BadInput

from .asking import NOW, Script


def amount(text: str, talk: Script | None = None) -> float:
    return read_amount(text, talk or Script(), units=GRAMS, low=0.01, high=1_000_000)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("318", 318),
        ("0,5", 0.5),
        ("1,4 g", 1.4),
        ("12,34", 12.34),
        ("0,123", 0.123),
        ("1234,5", 1234.5),
        ("1.234,5", 1234.5),
        ("1,234.5", 1234.5),
        ("1.2 kg", 1200),
        ("0,3kg", 300),
        ("318g", 318),
    ],
)
def test_a_number_that_can_mean_one_thing_is_read(text: str, value: float) -> None:
    assert amount(text) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("text", ["-2,5", "- 2.5 °C", "−2.5"])
def test_a_temperature_below_zero_keeps_its_sign(text: str) -> None:
    assert read_amount(text, Script(), units={"°C": 1, "°c": 1}, low=-40, high=70) == -2.5


@pytest.mark.parametrize(("answer", "value"), [("1", 1.234), ("2", 1234)])
def test_a_comma_before_three_figures_is_asked(answer: str, value: float) -> None:
    talk = Script(answer)
    assert amount("1,234", talk) == value
    assert "1,234 can be read in two ways" in talk.text


@pytest.mark.parametrize(
    "text", ["", "abc", "1,2,3", "1 234", "12 lb", "-5", "0", "1e9", "nan", "5 apples", "--"]
)
def test_what_is_no_number_of_its_range_is_said_without_an_option_name(text: str) -> None:
    with pytest.raises(BadInput) as caught:
        amount(text)
    assert "--" not in str(caught.value).replace("'--'", "")


@given(st.integers(1, 99_999_999))
def test_a_weight_typed_with_a_comma_is_the_one_with_a_point(hundredths: int) -> None:
    whole, part = divmod(hundredths, 100)
    assert amount(f"{whole},{part:02d}") == amount(f"{whole}.{part:02d}") == hundredths / 100


@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("1", 1),
        ("all", 1),
        ("half", 0.5),
        ("1/3", 1 / 3),
        ("40%", 0.4),
        ("40 %", 0.4),
        ("0,4", 0.4),
        ("0", 0),
    ],
)
def test_a_share_is_read_as_people_say_it(text: str, share: float) -> None:
    assert read_share(text, Script()) == pytest.approx(share)


@pytest.mark.parametrize("text", ["40", "1.5", "4/3", "150%", "some"])
def test_more_than_the_whole_is_no_share(text: str) -> None:
    with pytest.raises(BadInput):
        read_share(text, Script())


def test_counts_stand_with_spaces_or_commas_between() -> None:
    assert read_count_list("0 2, 1,0;3") == [0, 2, 1, 0, 3]
    with pytest.raises(BadInput, match="Entry 2"):
        read_count_list("0 x 1")


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("now", NOW),
        ("8:30", datetime(2026, 3, 4, 8, 30)),
        ("8", datetime(2026, 3, 4, 8)),
        ("8h15", datetime(2026, 3, 4, 8, 15)),
        ("8.45", datetime(2026, 3, 4, 8, 45)),
        ("7 am", datetime(2026, 3, 4, 7)),
        ("yesterday 7pm", datetime(2026, 3, 3, 19)),
        ("yesterday 19:00", datetime(2026, 3, 3, 19)),
        ("2026-03-01 06:10", datetime(2026, 3, 1, 6, 10)),
        ("2026-03-01T06:10", datetime(2026, 3, 1, 6, 10)),
        ("1.3. 6:10", datetime(2026, 3, 1, 6, 10)),
        ("1 March 6:10", datetime(2026, 3, 1, 6, 10)),
        ("Mar 1 6:10", datetime(2026, 3, 1, 6, 10)),
        ("monday 8:00", datetime(2026, 3, 2, 8)),
        ("20 min ago", datetime(2026, 3, 4, 8, 40)),
        ("2h ago", datetime(2026, 3, 4, 7)),
        ("25.12.2025 10:00", datetime(2025, 12, 25, 10)),
    ],
)
def test_a_moment_is_read_as_people_type_it(text: str, moment: datetime) -> None:
    assert read_moment(text, Script(), NOW) == moment


@given(st.datetimes(datetime(1990, 1, 1), NOW).map(lambda d: d.replace(second=0, microsecond=0)))
def test_every_moment_that_is_written_whole_is_read_back_the_same(moment: datetime) -> None:
    assert read_moment(f"{moment:%Y-%m-%d %H:%M}", Script(), NOW) == moment


@pytest.mark.parametrize(
    "text", ["25:00", "8:75", "2026-03-05 08:00", "2026-02-30 08:00", "soon", "1900-01-01 8:00"]
)
def test_a_moment_that_cannot_be_is_not_taken(text: str) -> None:
    with pytest.raises(BadInput):
        read_moment(text, Script(), NOW)


def test_an_hour_that_is_still_to_come_is_asked() -> None:
    talk = Script("1")
    assert read_moment("22:30", talk, NOW) == datetime(2026, 3, 3, 22, 30)
    assert "22:30 today is still to come" in talk.text
    with pytest.raises(BadInput):
        read_moment("22:30", Script("2"), NOW)


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("19:00 to 7:30", datetime(2026, 3, 3, 19), datetime(2026, 3, 4, 7, 30)),
        ("6:00-8:00", datetime(2026, 3, 4, 6), datetime(2026, 3, 4, 8)),
        ("6-8", datetime(2026, 3, 4, 6), datetime(2026, 3, 4, 8)),
        ("between 6 and 8", datetime(2026, 3, 4, 6), datetime(2026, 3, 4, 8)),
        ("yesterday 19:00 to 7:30", datetime(2026, 3, 3, 19), datetime(2026, 3, 4, 7, 30)),
        ("yesterday 7:00 to 8:00", datetime(2026, 3, 3, 7), datetime(2026, 3, 3, 8)),
        ("yesterday to 7:30", datetime(2026, 3, 3), datetime(2026, 3, 4, 7, 30)),
        ("2.2. 7:00 to 8:00", datetime(2026, 2, 2, 7), datetime(2026, 2, 2, 8)),
        ("2.2. 19:00 to 7:30", datetime(2026, 2, 2, 19), datetime(2026, 2, 3, 7, 30)),
        ("yesterday 7:00 - yesterday 9:00", datetime(2026, 3, 3, 7), datetime(2026, 3, 3, 9)),
        ("2026-03-01 06:00 to 2026-03-01 08:00", datetime(2026, 3, 1, 6), datetime(2026, 3, 1, 8)),
        ("7:30", datetime(2026, 3, 4, 7, 30), datetime(2026, 3, 4, 7, 30)),
        ("yesterday", datetime(2026, 3, 3), datetime(2026, 3, 3, 23, 59)),
        ("today", datetime(2026, 3, 4), NOW),
    ],
)
def test_a_passing_has_two_ends(text: str, first: datetime, last: datetime) -> None:
    assert read_moments(text, Script(), NOW) == (first, last)


@pytest.mark.parametrize(
    "text",
    ["8:00 to 7:00 to 6:00", "yesterday 9:00 to yesterday 7:00", "6:00 to 2026-03-09", "2.2. to 7:30"],
)
def test_a_passing_whose_ends_do_not_fit_is_not_taken(text: str) -> None:
    with pytest.raises(BadInput):
        read_moments(text, Script(), NOW)


@given(st.datetimes(NOW - timedelta(days=300), NOW), st.datetimes(NOW - timedelta(days=300), NOW))
def test_the_ends_of_a_passing_never_turn_round(one: datetime, other: datetime) -> None:
    try:
        first, last = read_moments(f"{one:%Y-%m-%d %H:%M} to {other:%Y-%m-%d %H:%M}", Script(), NOW)
    except BadInput:
        assert one.replace(second=0, microsecond=0) > other.replace(second=0, microsecond=0)
    else:
        assert first <= last <= NOW


@pytest.mark.parametrize(("answer", "day"), [("1", date(2025, 4, 3)), ("2", date(2025, 3, 4))])
def test_a_date_that_is_another_in_another_country_is_asked(answer: str, day: date) -> None:
    talk = Script(answer)
    assert read_day_typed("3/4/2025", talk, NOW.date()) == day
    assert "3 April 2025" in talk.text
    assert "4 March 2025" in talk.text


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("today", date(2026, 3, 4)),
        ("yesterday", date(2026, 3, 3)),
        ("13/2/2026", date(2026, 2, 13)),
        ("2/13/2026", date(2026, 2, 13)),
        ("3/3/26", date(2026, 3, 3)),
        ("4.3.2026", date(2026, 3, 4)),
        ("24.12.", date(2025, 12, 24)),
        ("2 days ago", date(2026, 3, 2)),
    ],
)
def test_a_day_is_read_as_people_type_it(text: str, day: date) -> None:
    assert read_day_typed(text, Script(), NOW.date()) == day


def test_an_hour_with_a_point_that_could_be_a_day_is_asked() -> None:
    assert read_moment("3.10", Script("1"), NOW) == datetime(2026, 3, 4, 3, 10)
    assert read_day_typed("3.10", Script("2"), NOW.date()) == date(2025, 10, 3)


def test_a_moment_is_said_near_or_with_its_day() -> None:
    assert say_moment(datetime(2026, 3, 4, 8), NOW) == "today 08:00"
    assert say_moment(datetime(2026, 2, 1, 8), NOW) == "1 February 2026, 08:00"


@pytest.mark.parametrize(
    ("typed", "path"),
    [
        (r'"C:\Users\Mara Quell\slides\a 1.jpg"', r"C:\Users\Mara Quell\slides\a 1.jpg"),
        (r"C:\slides\new\table.jpg", r"C:\slides\new\table.jpg"),
        (r"& 'C:\My Slides\x.jpg'", r"C:\My Slides\x.jpg"),
        ("/home/mara/my slides/x.jpg", "/home/mara/my slides/x.jpg"),
    ],
)
def test_a_dragged_path_loses_its_quotes_and_keeps_its_backslashes(typed: str, path: str) -> None:
    assert unquoted(typed) == path


def test_a_choice_is_made_by_number_name_or_beginning() -> None:
    forms = ("formed", "soft", "liquid")
    assert [chosen(text, forms) for text in ("2", "SOFT", "li", "q")] == [1, 1, 2, 2]
    assert chosen("gas", forms) is None
    with pytest.raises(BadInput, match="fits more than one"):
        chosen("f", ("field", "fixed"))
    with pytest.raises(BadInput, match="no 4 in the list"):
        chosen("4", forms)
