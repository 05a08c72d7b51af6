"""One cell of a spreadsheet's table: what it says, in whatever way a spreadsheet writes it.

Numbers and days come out in one plain form (``1234.5``, ``2026-03-04 08:30``), which the checks of the single
commands then read. Pure functions of text: no files, no records.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from fecallab.cli.batch_text import plain

_MONTHS = {"jan": 1, "feb": 2, "mar": 3, "mär": 3, "mrz": 3, "apr": 4, "may": 5, "mai": 5, "jun": 6, "jul": 7}
_MONTHS |= {"aug": 8, "sep": 9, "oct": 10, "okt": 10, "nov": 11, "dec": 12, "dez": 12}
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})", re.ASCII)
_THREE = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})", re.ASCII)
_NAMED = re.compile(r"(\d{1,2})[. -]{0,2}([A-Za-zä]{3,9})\.?[ -]{0,2}(\d{4}|\d{2})", re.ASCII | re.IGNORECASE)
_HOUR = re.compile(
    r"(\d{1,2})[:.](\d{2})(?::(\d{2})(?:\.0+)?)?\s*(am|pm|a\.m\.|p\.m\.|uhr)?", re.ASCII | re.I
)
DAY_FIRST, MONTH_FIRST = "day-first", "month-first"
COMMA, POINT = "comma", "point"


@dataclass(frozen=True)
class NumberCell:
    """A number as it may be meant: with its mark as the decimal mark, or as a thousands mark.

    ``mark`` is the decimal mark that it proves (`COMMA`, `POINT`) or empty; both readings are there only
    where nothing in the cell decides.
    """

    as_decimal: str
    as_thousands: str = ""
    mark: str = ""

    @property
    def open(self) -> bool:
        """Whether the cell alone does not decide."""
        return bool(self.as_decimal and self.as_thousands)

    def read(self, style: str, written: str) -> str:
        """Return the reading when the decimal mark of the table is known."""
        if not self.open:
            return self.as_decimal
        return self.as_decimal if ("," in written) == (style == COMMA) else self.as_thousands


@lru_cache(maxsize=4096)
def read_number_cell(text: str) -> NumberCell | None:
    """Return the readings of a number in a cell, None when it is none.

    Examples
    --------
    >>> read_number_cell("1.234,50")
    NumberCell(as_decimal='1234.50', as_thousands='', mark='comma')
    >>> read_number_cell("1,234").open, read_number_cell("0,234").open
    (True, False)
    """
    given = plain(text)
    sign = given[:1] if given[:1] in ("+", "-", "−") else ""
    body = given[len(sign) :].strip()
    minus = "-" if sign in ("-", "−") else ""
    grouped = re.fullmatch(r"(\d{1,3}(?:[ '’]\d{3})+)((?:[.,]\d+)?)", body, re.ASCII)
    if grouped:
        body = re.sub(r"[ '’]", "", grouped.group(1)) + grouped.group(2)
        mark = {",": COMMA, ".": POINT}.get(grouped.group(2)[:1], "")
        return NumberCell(minus + body.replace(",", "."), mark=mark)
    if re.fullmatch(r"\d+", body, re.ASCII):
        return NumberCell(minus + body)
    for thousands, decimal, mark in ((".", ",", COMMA), (",", ".", POINT)):
        several = rf"\d{{1,3}}(?:\{thousands}\d{{3}}){{2,}}(?:\{decimal}\d+)?"
        both = rf"\d{{1,3}}\{thousands}\d{{3}}\{decimal}\d+"
        if re.fullmatch(f"{several}|{both}", body, re.ASCII):
            return NumberCell(minus + body.replace(thousands, "").replace(decimal, "."), mark=mark)
    one = re.fullmatch(r"(\d*)([.,])(\d+)((?:[eE][+-]?\d{1,3})?)", body, re.ASCII)
    if one is None:
        whole = re.fullmatch(r"\d+[eE][+-]?\d{1,3}", body, re.ASCII)
        return NumberCell(minus + body) if whole else None
    before, mark_sign, after, power = one.groups()
    as_decimal = f"{minus}{before or '0'}.{after}{power}"
    if not power and len(after) == 3 and 1 <= len(before) <= 3 and not before.startswith("0"):
        return NumberCell(as_decimal, minus + before + after)
    return NumberCell(as_decimal, mark=COMMA if mark_sign == "," else POINT)


def date_orders(cells: Iterable[str]) -> set[str]:
    """Return which orders of day and month the dates of one column prove (``3/4/2026`` proves none).

    Dates with points are always day first, years first need no proof.

    Examples
    --------
    >>> date_orders(["3/4/2026", "25/3/2026"]), date_orders(["3/4/2026", "04.03.2026"])
    ({'day-first'}, set())
    """
    found = set()
    for cell in cells:
        three = _THREE.match(plain(cell))
        if three and three.group(2) != ".":
            first, second = int(three.group(1)), int(three.group(3))
            if first > 12 >= second:
                found.add(DAY_FIRST)
            elif second > 12 >= first:
                found.add(MONTH_FIRST)
    return found


def is_open_date(cell: str) -> bool:
    """Return whether a date could be meant in two ways."""
    three = _THREE.match(plain(cell))
    if three is None or three.group(2) == ".":
        return False
    first, second = int(three.group(1)), int(three.group(3))
    return 1 <= first <= 12 and 1 <= second <= 12 and first != second


def read_date_cell(text: str, order: str = "") -> str | None:
    """Return a day, with its hour if there is one, as ``2026-03-04 08:30``; None when it is none.

    Parameters
    ----------
    text : str
        Year first, German, British, American, or with the month's name.
    order : str
        `DAY_FIRST` or `MONTH_FIRST`, for dates with strokes or hyphens; empty where nothing is known, then
        whichever fits is taken.

    Examples
    --------
    >>> read_date_cell("04.03.2026 8:30"), read_date_cell("3/4/2026 2:05 PM", "month-first")
    ('2026-03-04 08:30', '2026-03-04 14:05')
    >>> read_date_cell("4-Mar-26"), read_date_cell("2026-03-04T08:30:15")
    ('2026-03-04', '2026-03-04 08:30:15')
    """
    given = plain(text)
    for pattern in (_ISO, _THREE, _NAMED):
        found = pattern.match(given)
        if found is None:
            continue
        hour = _hour(given[found.end() :])
        if hour is None:
            continue
        day = _day(pattern, found.groups(), order)
        return f"{day} {hour}".strip() if day else None
    return None


def _day(pattern: re.Pattern[str], parts: tuple[str, ...], order: str) -> str | None:
    if pattern is _ISO:
        year, month, day = map(int, parts)
    elif pattern is _NAMED:
        month = _MONTHS.get(parts[1].casefold()[:3], 0)
        day, year = int(parts[0]), int(parts[2])
    else:
        first, second, year = int(parts[0]), int(parts[2]), int(parts[3])
        swap = parts[1] != "." and (order == MONTH_FIRST or (not order and second > 12))
        day, month = (second, first) if swap else (first, second)
    year += 2000 if year < 100 else 0
    try:
        return date(year, month, day).isoformat()
    except ValueError:
        return None


def _hour(rest: str) -> str | None:
    """Return what follows a day as an hour: empty where nothing follows, None where it is no hour."""
    rest = rest.strip(" ,T")
    if not rest:
        return ""
    found = _HOUR.fullmatch(rest)
    if found is None:
        return None
    hour, minute, second, half = int(found.group(1)), found.group(2), found.group(3), found.group(4) or ""
    if half.casefold().startswith(("a", "p")):
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + 12 * half.casefold().startswith("p")
    if hour > 23 or int(minute) > 59 or int(second or 0) > 59:
        return None
    return f"{hour:02d}:{minute}" + (f":{second}" if second and second != "00" else "")
