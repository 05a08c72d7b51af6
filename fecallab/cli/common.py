"""What every command on the records shares: options, opening the folder, dates and times as typed."""

from __future__ import annotations

import os
import re
from contextlib import AbstractContextManager
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any

import typer

from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import say_date, say_time

if TYPE_CHECKING:
    from fecallab.records.store import Records

RECORDS = typer.Option(None, "--records", help="Record folder (else FECALLAB_RECORDS, else this folder).")
JSON = typer.Option(False, "--json", help="Print one JSON object.")
BY = typer.Option(None, "--by", help="Who does this (else FECALLAB_BY, else your user name).")
ON = typer.Option(None, "--on", help="Judge as on this day, 2026-03-04 (today when left out).")
REMARK = typer.Option("", "--remark", help="A remark, kept as typed.")
AS_TOLD = typer.Option(False, "--as-told", help="Somebody told so; it was not seen here.")


def open_folder(records: str | None) -> AbstractContextManager[Records]:
    """Open the record folder that a command works on."""
    from fecallab.records.folder import find_folder
    from fecallab.records.store import open_records

    return open_records(find_folder(records))


def who(by: str | None) -> str:
    """Return who acts: ``--by``, the environment, or the user's name."""
    import getpass

    try:
        return by or os.environ.get("FECALLAB_BY") or getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "keeper"


def now() -> datetime:
    """Return this machine's time, to the second; the only clock there is."""
    return datetime.now().replace(microsecond=0)


def read_day(text: str | None, option: str, *, future: bool = False) -> date:
    """Return a day as typed: ``2026-03-04``, ``today`` or ``yesterday``; today when left out.

    Raises
    ------
    BadInput
        For a day that cannot be read for sure, and for one in the future unless allowed.
    """
    today = now().date()
    word = (text or "today").strip().lower()
    if word in ("today", "yesterday"):
        return today - timedelta(days=word == "yesterday")
    try:
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", word):
            raise ValueError
        day = date.fromisoformat(word)
    except ValueError:
        text = f"{option} is {word[:40]!r}; a day is typed year-month-day."
        raise BadInput(text, next=f"Type: {option} 2026-03-04", code="not-a-day") from None
    if day > today and not future:
        text = f"{option} is {say_date(day)}, which is after today ({say_date(today)}); what has not happened is not recorded."
        raise BadInput(
            text, next=f"Type the day on which it happened: {option} {today}", code="in-the-future"
        )
    if day.year < 1990:
        text = f"{option} is {say_date(day)}, long before these records can begin."
        raise BadInput(text, next="Check the year.", code="too-long-ago")
    return day


def read_time(text: str | None, option: str, *, of_a_day_alone: time = time(12)) -> datetime:
    """Return a time as typed: ``2026-03-04 08:30``, ``08:30`` (today) or ``now``; now when left out.

    A day alone is noon of that day unless `of_a_day_alone` says otherwise. A time in the future is refused.
    """
    present = now()
    word = (text or "now").strip()
    if word.lower() == "now":
        return present
    if re.fullmatch(r"\d{1,2}:\d{2}", word):
        word = f"{present.date()} {word.zfill(5)}"
    if is_day_alone(word):
        return min(datetime.combine(read_day(word, option), of_a_day_alone), present)
    try:
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}[ T]\d{2}:\d{2}(:\d{2})?", word):
            raise ValueError
        moment = datetime.fromisoformat(word)
    except ValueError:
        text = f"{option} is {word[:40]!r}; a time is typed as day and hour, or as the hour of today."
        next_step = f'Type: {option} "2026-03-04 08:30"  or  {option} 08:30'
        raise BadInput(text, next=next_step, code="not-a-time") from None
    if moment > present:
        text = f"{option} is {say_time(moment)}, which is in the future."
        raise BadInput(text, next="Type when it happened.", code="in-the-future")
    if moment.year < 1990:
        raise BadInput(
            f"{option} is {say_date(moment)}, long ago.", next="Check the year.", code="too-long-ago"
        )
    return moment


def is_day_alone(text: str) -> bool:
    """Say whether a day was typed without an hour."""
    return re.fullmatch(r"\d{4}-\d{2}-\d{2}", text.strip()) is not None


def one_of(text: str, options: tuple[str, ...], option: str) -> str:
    """Return a word of a closed list, or say which there are and which is nearest."""
    from fecallab.domain.near_spelling import near_spellings

    word = text.strip().lower()
    if word in options:
        return word
    near = near_spellings(word, options, 1)
    hint = f"Did you mean {near[0]}? " if near else ""
    raise BadInput(
        f"{option} is {text[:40]!r}; it is none of: {', '.join(options)}.",
        next=f"{hint}Type one of them.",
        code="not-a-choice",
    )


def number_or_none(text: str | None, option: str, *, low: float = 0, high: float = 1e6) -> float | None:
    """Return a number in a range (both ends allowed, ``0,5`` read as 0.5), or None when left out."""
    from fecallab.cli.typed import plain_number, read_number

    if text is None:
        return None
    value = read_number(text, option)
    if not low <= value <= high:
        raise BadInput(
            f"{option} is {plain_number(value)}; it lies outside {plain_number(low)} to {plain_number(high)}.",
            next="Check the number and its unit.",
            code="out-of-range",
        )
    return value


def fact_dict(fact: Any) -> dict[str, Any]:
    """Return a recorded fact as plain keys, nested parts included."""
    from dataclasses import asdict

    return asdict(fact)
