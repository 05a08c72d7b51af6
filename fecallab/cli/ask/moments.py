"""Days and times as a person types them at a question; what can be read in two ways is asked."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta

from fecallab.cli.ask.talk import Talk
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import say_date

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_HOUR = r"(\d{1,2})(?:[:.h](\d{2}))?\s*(am|pm|h)?"
_AGO = re.compile(r"(\d{1,3})\s*(m|min|minutes?|h|hours?|d|days?)\s*ago", re.ASCII)
_BETWEEN = re.compile(r"\s+(?:to|until|till|and|-|–)\s+|\s*–\s*|\s*\.\.+\s*")
EXAMPLES = "8:30, yesterday 19:00, 2026-03-04 08:30, 20 min ago"


def read_moment(typed: str, talk: Talk, now: datetime) -> datetime:
    """Return a moment that is not in the future: ``now``, an hour, a day with an hour, or so long ago.

    Raises
    ------
    BadInput
        When it cannot be read, lies in the future or has no hour.
    """
    day, hour = _parts(typed, talk, now)
    if hour is None:
        raise BadInput(f"{typed[:40]!r} has no hour.", next=f"Type it like: {EXAMPLES}")
    return _not_future(day, hour, talk, now)


def read_moments(typed: str, talk: Talk, now: datetime) -> tuple[datetime, datetime]:
    """Return the two ends of a time: twice the same for one moment, the whole day for a day without an hour."""
    word = re.sub(r"^(between|from)\s+", "", typed.strip().lower())
    pieces = [piece for piece in _BETWEEN.split(word) if piece]
    short = re.fullmatch(r"(\d{1,2}(?:[:.]\d{2})?)-(\d{1,2}(?:[:.]\d{2})?)", word, re.ASCII)
    if short:
        pieces = list(short.groups())
    if len(pieces) > 2:
        raise BadInput(f"{typed[:60]!r} is more than two times.", next="Type it like: 6:00 to 8:00")
    if len(pieces) < 2:
        day, hour = _parts(word, talk, now)
        if hour is None:
            if day > now.date():
                raise BadInput(f"{say_date(day)} is still to come.", next="Type when it happened.")
            return datetime.combine(day, time(0)), min(datetime.combine(day, time(23, 59)), now)
        moment = _not_future(day, hour, talk, now)
        return moment, moment
    return _window(pieces, talk, now)


def _window(pieces: list[str], talk: Talk, now: datetime) -> tuple[datetime, datetime]:
    last_day, last_hour = _parts(pieces[1], talk, now)
    first_day, first_hour = _parts(pieces[0], talk, now)
    if last_hour is not None and not _names_a_day(pieces[1]) and _names_a_day(pieces[0]):
        last_day = _next_such_day(first_day, first_hour, last_hour, now)
    last = datetime.combine(last_day, last_hour or time(23, 59))
    first = datetime.combine(first_day, first_hour or time(0))
    if not _names_a_day(pieces[0]):
        first = datetime.combine(last.date(), first_hour or time(0))
        if first > last:
            first -= timedelta(days=1)
    if last_hour is None:
        last = min(last, now)
    if last > now:
        if _names_a_day(pieces[1]) or _names_a_day(pieces[0]):
            raise BadInput(f"{say_moment(last, now)} is still to come.", next="Type when it happened.")
        choices = [f"{say_moment(last - timedelta(days=1), now)}", "another time: type it again"]
        if talk.pick(f"{last:%H:%M} today is still to come. What is meant?", choices):
            raise BadInput("Type both times again.")
        first, last = first - timedelta(days=1), last - timedelta(days=1)
    if first > last:
        raise BadInput("The first time is later than the second.", next="Swap them.")
    return first, last


def _next_such_day(first_day: date, first_hour: time | None, last_hour: time, now: datetime) -> date:
    """Return the day of an hour that was typed without one: the first such hour after the first time."""
    if first_hour is not None:
        return first_day + timedelta(days=last_hour < first_hour)
    if first_day < now.date() - timedelta(days=1):
        raise BadInput(f"{last_hour:%H:%M} of which day?", next="Type its day too, like 4.3. to 5.3. 7:30")
    return now.date()


def read_day_typed(typed: str, talk: Talk, today: date) -> date:
    """Return a day that is not in the future."""
    noon = datetime.combine(today, time(12))
    day, hour = _parts(typed, talk, noon)
    if hour is not None:
        raise BadInput(
            f"A day is asked, {typed[:40]!r} has an hour.", next="Type it like: 2026-03-04, yesterday"
        )
    if day > today:
        raise BadInput(f"{say_date(day)} is after today.", next="Type the day on which it happened.")
    if day.year < 1990:
        raise BadInput(f"{say_date(day)} is long ago.", next="Check the year.")
    return day


def say_moment(moment: datetime, now: datetime) -> str:
    """Return a moment in words, short when it is near.

    Examples
    --------
    >>> say_moment(datetime(2026, 3, 3, 19), datetime(2026, 3, 4, 8))
    'yesterday 19:00'
    """
    days = (now.date() - moment.date()).days
    near = {0: "today ", 1: "yesterday "}.get(days)
    return f"{near or say_date(moment.date()) + ', '}{moment:%H:%M}"


def _not_future(day: date, hour: time, talk: Talk, now: datetime) -> datetime:
    moment = datetime.combine(day, hour)
    if moment.year < 1990:
        raise BadInput(f"{say_date(day)} is long ago.", next="Check the year.")
    if moment <= now:
        return moment
    if day != now.date():
        raise BadInput(f"{say_date(day)}, {hour:%H:%M} is still to come.", next="Type when it happened.")
    yesterday = moment - timedelta(days=1)
    choices = [say_moment(yesterday, now), "another time: type it again"]
    if talk.pick(f"{hour:%H:%M} today is still to come. What is meant?", choices):
        raise BadInput("Type the time again.")
    return yesterday


def _names_a_day(text: str) -> bool:
    return re.fullmatch(_HOUR, text.strip().lower(), re.ASCII) is None


def _parts(typed: str, talk: Talk, now: datetime) -> tuple[date, time | None]:
    """Return day and hour; the hour is None when only a day was typed."""
    word = " ".join(typed.strip().lower().replace(",", " ").split())
    if word in ("now", "just now"):
        return now.date(), now.time()
    ago = _AGO.fullmatch(word)
    if ago:
        unit = {"m": "minutes", "h": "hours", "d": "days"}[ago.group(2)[0]]
        moment = now - timedelta(**{unit: int(ago.group(1))})
        return moment.date(), None if unit == "days" else moment.time()
    hour_alone = re.fullmatch(_HOUR, word, re.ASCII)
    if hour_alone:
        meant = _day_meant(word, talk, now.date())
        return (meant, None) if meant else (now.date(), _hour(hour_alone, typed))
    spaced = re.sub(r"^(\d{4}-\d{2}-\d{2})t(?=\d)", r"\1 ", word)
    found = re.fullmatch(
        r"(.+?)\s+(?:at\s+)?(\d{1,2}(?:[:.h]\d{2})?\s*(?:am|pm|h)?)(?::\d{2})?", spaced, re.ASCII
    )
    at = re.fullmatch(_HOUR, found.group(2), re.ASCII) if found else None
    if found and at:
        day = _day(found.group(1), talk, now.date())
        if day is not None:
            return day, _hour(at, typed)
    day = _day(spaced, talk, now.date())
    if day is not None:
        return day, None
    raise BadInput(f"{typed[:40]!r} cannot be read as a day or a time.", next=f"Type it like: {EXAMPLES}")


def _day_meant(word: str, talk: Talk, today: date) -> date | None:
    """Ask whether 3.10 is an hour or a day; None for an hour."""
    dotted = re.fullmatch(r"(\d{1,2})\.(\d{2})", word, re.ASCII)
    if dotted is None or not 1 <= int(dotted.group(2)) <= 12:
        return None
    try:
        day = _with_year(int(dotted.group(1)), int(dotted.group(2)), None, today, word)
    except BadInput:
        return None
    hour = f"the hour {dotted.group(1)}:{dotted.group(2)}"
    if int(dotted.group(1)) > 23 or talk.pick(f"{word} can be read in two ways:", [hour, say_date(day)]):
        return day
    return None


def _hour(found: re.Match[str], typed: str) -> time:
    hour, minute, half = found.groups()
    hours = int(hour)
    if half in ("am", "pm"):
        if not 1 <= hours <= 12:
            raise BadInput(f"{typed[:40]!r} has no such hour.", next=f"Type it like: {EXAMPLES}")
        hours = hours % 12 + (12 if half == "pm" else 0)
    if hours > 23 or int(minute or 0) > 59:
        raise BadInput(f"{typed[:40]!r} has no such hour.", next=f"Type it like: {EXAMPLES}")
    return time(hours, int(minute or 0))


def _day(word: str, talk: Talk, today: date) -> date | None:
    if word in ("today", "yesterday"):
        return today - timedelta(days=word == "yesterday")
    weekday = next(
        (i for i, name in enumerate(_WEEKDAYS) if word[:3] == name and word.endswith(("day", name))), None
    )
    if weekday is not None:
        return today - timedelta(days=(today.weekday() - weekday) % 7)
    iso = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", word, re.ASCII)
    if iso:
        return _date(int(iso.group(1)), int(iso.group(2)), int(iso.group(3)), word)
    dotted = re.fullmatch(r"(\d{1,2})\.\s?(\d{1,2})\.?\s?(\d{4}|\d{2})?", word, re.ASCII)
    if dotted:
        return _with_year(int(dotted.group(1)), int(dotted.group(2)), dotted.group(3), today, word)
    named = re.fullmatch(r"(\d{1,2})\.?\s*([a-z]{3,9})\.?\s*(\d{4})?", word, re.ASCII)
    if named and named.group(2)[:3] in _MONTHS:
        return _with_year(int(named.group(1)), _month(named.group(2)), named.group(3), today, word)
    turned = re.fullmatch(r"([a-z]{3,9})\.?\s*(\d{1,2})(?:st|nd|rd|th)?\s*(\d{4})?", word, re.ASCII)
    if turned and turned.group(1)[:3] in _MONTHS:
        return _with_year(int(turned.group(2)), _month(turned.group(1)), turned.group(3), today, word)
    slashed = re.fullmatch(r"(\d{1,2})/(\d{1,2})(?:/(\d{4}|\d{2}))?", word, re.ASCII)
    if slashed:
        return _slashed(slashed, talk, today, word)
    return None


def _month(name: str) -> int:
    return _MONTHS.index(name[:3]) + 1


def _slashed(found: re.Match[str], talk: Talk, today: date, word: str) -> date:
    """Read 3/4/2026: day first or month first; asked where both can be meant."""
    first, second, year = int(found.group(1)), int(found.group(2)), found.group(3)
    if first > 12 or first == second:
        return _with_year(first, second, year, today, word)
    if second > 12:
        return _with_year(second, first, year, today, word)
    both = [_with_year(first, second, year, today, word), _with_year(second, first, year, today, word)]
    return both[talk.pick(f"{word} can be read in two ways:", [say_date(day) for day in both])]


def _with_year(day: int, month: int, year: str | None, today: date, word: str) -> date:
    """Return the day; without a year it is the last one that has been."""
    if year:
        return _date(int(year) + (2000 if len(year) == 2 else 0), month, day, word)
    this_year = _date(today.year, month, day, word)
    return this_year if this_year <= today else _date(today.year - 1, month, day, word)


def _date(year: int, month: int, day: int, word: str) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise BadInput(f"There is no day {word[:40]!r}.", next=f"Type it like: {EXAMPLES}") from None
