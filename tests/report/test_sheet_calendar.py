"""Reminders as iCalendar: read by another program, folded, escaped, stable, and never overdue for a stool."""

import re
from datetime import UTC, date, datetime, timedelta

import icalendar
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.due import Due
from fecallab.report.calendar import calendar_text, escaped, fold

TODAY = date(2026, 3, 18)
NOW = datetime(2026, 3, 18, 8, 30, tzinfo=UTC)
HERE = "3f2a91bc-77aa-4b1e-9f00-000000000000"
STOOL = Due(
    "Barley",
    "C2",
    "examine the next stool passed on or after 30 October 2026",
    date(2026, 10, 30),
    "Wait.",
    "Go.",
)


def read(things, places=None, today=TODAY, now=NOW):
    text = calendar_text(things, places or {}, today, now, HERE)
    return icalendar.Calendar.from_ical(text.encode("utf-8")), text


@given(
    animal=st.text(min_size=1, max_size=60),
    why=st.text(max_size=300),
    place=st.text(max_size=60),
)
def test_any_text_comes_back_as_it_was(animal, why, place):
    from fecallab.report.figures import tidy

    def plain(text):
        return tidy(text).replace("\t", " ").replace("\r", "")

    thing = Due(animal, "C1", "weigh; then, dose \\ 1", TODAY, why, "")
    calendar, text = read([thing], {"C1": place})
    (event,) = calendar.walk("VEVENT")
    assert str(event["SUMMARY"]) == plain(f"{animal}: weigh; then, dose \\ 1")
    assert str(event["DESCRIPTION"]) == plain(f"Case C1. {why}".strip())
    assert str(event.get("LOCATION", "")) == plain(place)
    assert text.endswith("END:VCALENDAR\r\n")
    for line in text.encode("utf-8").split(b"\r\n"):
        assert len(line) <= 75
        assert b"\n" not in line and b"\r" not in line


@given(st.text(alphabet=st.characters(exclude_categories=["Cc", "Cs"]), max_size=400))
def test_folding_is_undone_by_joining(line):
    pieces = list(fold(line))
    assert pieces[0] + "".join(piece[1:] for piece in pieces[1:]) == line
    assert all(piece.startswith(" ") for piece in pieces[1:])
    assert all(len(piece.encode()) <= 75 for piece in pieces)


def test_an_event_stands_on_its_day_all_day_and_takes_no_time():
    calendar, _ = read([STOOL])
    (event,) = calendar.walk("VEVENT")
    assert event.decoded("DTSTART") == date(2026, 10, 30)
    assert event["DTSTART"].params["VALUE"] == "DATE"
    assert str(event["TRANSP"]) == "TRANSPARENT"
    assert event.decoded("DTSTAMP") == NOW
    (alarm,) = event.walk("VALARM")
    assert alarm.decoded("TRIGGER") == timedelta(hours=8)


def test_a_stool_is_never_overdue_and_no_reminder_stands_in_the_past():
    late = date(2026, 12, 24)
    calendar, text = read([STOOL], today=late)
    (event,) = calendar.walk("VEVENT")
    assert event.decoded("DTSTART") == late
    assert "on or after 30 October 2026" in str(event["SUMMARY"])
    assert not re.search("overdue|late|missed", text, re.IGNORECASE)


def test_what_waits_for_the_vet_stands_on_today():
    calendar, _ = read([Due("Tub 7", "C4", "ask the vet (not treated)", None, "", "")])
    assert calendar.walk("VEVENT")[0].decoded("DTSTART") == TODAY


def test_taken_in_again_an_event_replaces_itself():
    first, _ = read([STOOL])
    later, _ = read(
        [Due("Barley", "C2", "the case may be closed", None, "", "")], now=NOW + timedelta(days=3)
    )
    one, other = first.walk("VEVENT")[0], later.walk("VEVENT")[0]
    assert one["UID"] == other["UID"]
    assert int(other["SEQUENCE"]) > int(one["SEQUENCE"])


def test_cases_and_collections_have_events_of_their_own():
    things = [STOOL, Due("Barley", "C3", "weigh", TODAY, "", "")]
    events = [*read(things)[0].walk("VEVENT")]
    elsewhere = icalendar.Calendar.from_ical(calendar_text(things, {}, TODAY, NOW, "other-collection"))
    identities = {str(event["UID"]) for event in (*events, *elsewhere.walk("VEVENT"))}
    assert len(identities) == 4


def test_an_empty_calendar_is_a_calendar():
    calendar, text = read([])
    assert calendar.walk("VEVENT") == []
    assert text.startswith("BEGIN:VCALENDAR\r\nVERSION:2.0\r\n")


def test_signs_that_mean_something_in_the_format_are_escaped():
    assert escaped("a;b,c\\d\ne") == "a\\;b\\,c\\\\d\\ne"
