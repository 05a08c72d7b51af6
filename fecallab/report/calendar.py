"""Reminders for a phone's calendar: iCalendar text (RFC 5545), one whole-day event for each case or contact group.

A stool is never overdue: its event says "next stool on or after".
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime

from fecallab.domain.due import Due
from fecallab.report.figures import tidy

LINE_OCTETS = 75
"""Longest line in octets, its end not counted (RFC 5545, section 3.1)."""
PRODUCT = "-//fecallab//due//EN"
ALARM_AFTER_MIDNIGHT = "PT8H"
"""The phone speaks at eight in the morning (own choice)."""
_EPOCH = datetime(2020, 1, 1, tzinfo=UTC)


def calendar_text(
    things: Sequence[Due], places: Mapping[str, str], today: date, now: datetime, collection: str
) -> str:
    """Return a calendar of what comes next.

    Parameters
    ----------
    things : sequence of Due
        One for each open case and contact group of arrivals. What waits for a person stands on today.
    places : mapping of str to str
        Enclosure by case, where there is one.
    today : date
        No reminder stands on an earlier day.
    now : datetime
        When it is written; without a zone it is taken for the clock of this computer.
    collection : str
        Identity of the records. With the case it makes an identity that never changes, so that a calendar
        that is taken in again replaces its events instead of doubling them.

    Returns
    -------
    str
        Lines that end in CR LF, folded at 75 octets.
    """
    stamp = now.astimezone(UTC)
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", "CALSCALE:GREGORIAN", "METHOD:PUBLISH"]
    lines.append("X-WR-CALNAME:fecallab")
    for thing in things:
        lines += _event(thing, places.get(thing.case, ""), today, stamp, collection)
    lines.append("END:VCALENDAR")
    return "".join(f"{piece}\r\n" for line in lines for piece in fold(line))


def _event(thing: Due, place: str, today: date, stamp: datetime, collection: str) -> list[str]:
    day = max(thing.on_or_after or today, today)
    summary = f"{thing.animal}: {thing.what}"
    about = f"{'Case' if thing.case.startswith('C') else 'Arrival'} {thing.case}."
    event = [
        "BEGIN:VEVENT",
        f"UID:{collection}-{thing.case}@fecallab.invalid",
        f"DTSTAMP:{stamp:%Y%m%dT%H%M%SZ}",
        f"SEQUENCE:{int((stamp - _EPOCH).total_seconds() // 60)}",
        f"DTSTART;VALUE=DATE:{day:%Y%m%d}",
        f"SUMMARY:{escaped(summary)}",
        f"DESCRIPTION:{escaped(f'{about} {thing.why} {thing.next}'.strip())}",
    ]
    if place:
        event.append(f"LOCATION:{escaped(place)}")
    return [
        *event,
        "TRANSP:TRANSPARENT",
        "BEGIN:VALARM",
        "ACTION:DISPLAY",
        f"DESCRIPTION:{escaped(summary)}",
        f"TRIGGER:{ALARM_AFTER_MIDNIGHT}",
        "END:VALARM",
        "END:VEVENT",
    ]


def escaped(text: str) -> str:
    r"""Return a text as a value of RFC 5545, section 3.3.11.

    Examples
    --------
    >>> print(escaped("Barley; the old, one\nback\\slash"))
    Barley\; the old\, one\nback\\slash
    """
    plain = tidy(text).replace("\t", " ")
    for sign in ("\\", ";", ","):
        plain = plain.replace(sign, f"\\{sign}")
    return plain.replace("\n", "\\n")


def fold(line: str) -> Iterable[str]:
    """Yield a line in pieces of at most 75 octets; those after the first begin with a space.

    No character is torn in two.

    Examples
    --------
    >>> [len(piece.encode()) for piece in fold("SUMMARY:" + "ö" * 60)]
    [74, 55]
    """
    piece, room = "", LINE_OCTETS
    for character in line:
        octets = len(character.encode("utf-8"))
        if octets > room:
            yield piece
            piece, room = " ", LINE_OCTETS - 1
        piece += character
        room -= octets
    yield piece
