"""What is read aloud: volumes so that a misplaced point is heard, counts with their noun, days and times."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

_DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def volume_in_digits(volume_ml: Decimal) -> str:
    """Return a volume with a zero before the point and none behind it.

    Examples
    --------
    >>> volume_in_digits(Decimal("0.50")), volume_in_digits(Decimal("1E+1"))
    ('0.5', '10')
    """
    return f"{volume_ml.normalize():f}"


def volume_in_words(volume_ml: Decimal) -> str:
    """Return a volume digit by digit.

    Examples
    --------
    >>> volume_in_words(Decimal("0.42"))
    'zero point four two millilitres'
    """
    said = " ".join("point" if sign == "." else _DIGITS[int(sign)] for sign in volume_in_digits(volume_ml))
    return f"{said} millilitres"


def number_of(number: float | Decimal, one: str, many: str = "") -> str:
    """Return a number with its noun, as it is said.

    Parameters
    ----------
    number : int or float
    one : str
        The noun for a single thing; words in front of it stay as they are.
    many : str
        The noun for any other number, where it is not ``one`` with an s.

    Examples
    --------
    >>> number_of(1, "exam"), number_of(3, "exam"), number_of(0.5, "day")
    ('1 exam', '3 exams', '0.5 days')
    >>> number_of(1, "row of facts", "rows of facts"), number_of(2, "row of facts", "rows of facts")
    ('1 row of facts', '2 rows of facts')
    """
    said = f"{number:g}" if isinstance(number, float) else f"{number}"
    return f"{said} {one if number == 1 else many or f'{one}s'}"


def every_days(days: float) -> str:
    """Return how often something comes, from the days between two times.

    Examples
    --------
    >>> every_days(1), every_days(14.0), every_days(0.5), every_days(1.5)
    ('every day', 'every 14 days', 'every 12 hours', 'every 1.5 days')
    """
    if days == 1:
        return "every day"
    return f"every {number_of(days * 24.0, 'hour')}" if days < 1 else f"every {number_of(days, 'day')}"


def say_percent(share: float) -> str:
    """Return a share as percent; only what is exactly nothing or all reads 0 % or 100 %.

    Examples
    --------
    >>> say_percent(0.01538), say_percent(0.99999), say_percent(0.000001)
    ('1.54 %', 'over 99.99 %', 'under 0.01 %')
    """
    if 0 < share < 0.0001:
        return "under 0.01 %"
    if 0.9999 < share < 1:
        return "over 99.99 %"
    return f"{100 * share:.2f} %" if 0.999 < share < 1 else f"{100 * share:.3g} %"


def say_gravity(specific_gravity: float) -> str:
    """Return a specific gravity with two decimals at least, as bottles and spindles show it.

    Examples
    --------
    >>> say_gravity(1.2), say_gravity(1.185)
    ('1.20', '1.185')
    """
    return max(f"{specific_gravity:.2f}", f"{specific_gravity:.4g}", key=len)


def say_change(now: float, before: float) -> str:
    """Return how much more or less something weighs than before.

    Parameters
    ----------
    now, before : float
        The same unit, ``before`` above 0.

    Examples
    --------
    >>> say_change(320, 317), say_change(317, 999), say_change(5, 5)
    ('0.946 % more', '68.3 % less', 'the same')
    >>> say_change(45000, 45)
    '1 000 times as much'
    """
    if now == before:
        return "the same"
    if now >= 10 * before:
        return f"{now / before:,.0f} times as much".replace(",", " ")
    return f"{say_percent(abs(now / before - 1))} {'more' if now > before else 'less'}"


def say_span(minutes: float) -> str:
    """Return a time span: minutes up to two hours, hours up to two days, then days.

    Examples
    --------
    >>> say_span(45), say_span(155), say_span(1500), say_span(4 * 1440)
    ('45 minutes', '2 h 35 min', '25 hours', '4 days')
    """
    if 120 <= minutes < 600:
        hours, rest = divmod(round(minutes), 60)
        return f"{hours} h {rest} min" if rest else f"{hours} hours"
    if minutes < 120:
        return number_of(round(minutes), "minute")
    return (
        number_of(round(minutes / 60), "hour") if minutes < 2880 else number_of(round(minutes / 1440), "day")
    )


def span_ends(shorter: float, longer: float) -> tuple[str, str]:
    """Return two spans of time in minutes in words, the unit said once where it is the same.

    Examples
    --------
    >>> span_ends(25, 40), span_ends(60, 150), span_ends(155, 275)
    (('25', '40 minutes'), ('60 minutes', '2 h 30 min'), ('2 h 35 min', '4 h 35 min'))
    """
    low, high = say_span(shorter), say_span(longer)
    count, _, unit = low.partition(" ")
    once = low != high and unit.isalpha() and unit == high.partition(" ")[2]
    return count if once else low, high


def say_date(day: date) -> str:
    """Spell a date for people: ``4 March 2026``.

    Examples
    --------
    >>> say_date(date(2026, 3, 4))
    '4 March 2026'
    """
    return f"{day.day} {day:%B} {day.year}"


def say_time(moment: datetime) -> str:
    """Spell a moment for people: ``4 March 2026, 08:30``.

    Examples
    --------
    >>> say_time(datetime(2026, 3, 4, 8, 30))
    '4 March 2026, 08:30'
    """
    return f"{say_date(moment)}, {moment:%H:%M}"
