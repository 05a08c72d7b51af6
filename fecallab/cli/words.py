"""Words that several commands share: a standing, a list of reasons, a table in plain text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fecallab.domain.followup import K_OF_N, NEXT_STOOL, WAITING, Standing
from fecallab.domain.spoken import say_date
from fecallab.domain.spoken import volume_in_words as volume_in_words


def standing_headline(standing: Standing) -> str:
    """Return the standing with its numbers and its date in one line.

    Examples
    --------
    >>> from datetime import date
    >>> standing_headline(Standing("k of n", 1, 3, date(2026, 5, 2), False, ()))
    '1 of 3; next stool on or after 2 May 2026'
    """
    day = standing.next_sample_on_or_after
    if standing.standing == K_OF_N:
        head = f"{standing.k} of {standing.n}"
        return f"{head}; next stool on or after {say_date(day)}" if day else head
    if standing.standing == NEXT_STOOL and day:
        return f"next stool on or after {say_date(day)}"
    if standing.standing == WAITING and day:
        return f"{standing.standing} until {say_date(day)}"
    return standing.standing


def standing_lines(standing: Standing) -> list[str]:
    """Return the standing and every reason, a line each."""
    return [standing_headline(standing), *(f"  - {reason}" for reason in standing.reasons)]


def standing_payload(standing: Standing) -> dict[str, Any]:
    """Return the keys of ``calc standing``."""
    return {
        "standing": standing.standing,
        "k": standing.k,
        "n": standing.n,
        "next_sample_on_or_after": standing.next_sample_on_or_after,
        "may_close": standing.may_close,
        "reasons": [reason.as_dict() for reason in standing.reasons],
    }


def table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return rows in aligned columns, readable in any terminal and when piped.

    Examples
    --------
    >>> print(table(["name", "g"], [["Pixel", "312"], ["Ember", "48"]]))
    name   g
    Pixel  312
    Ember  48
    """
    widths = [max(len(str(row[i])) for row in [header, *rows]) for i in range(len(header))]
    lines = (
        "  ".join(str(cell).ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in [header, *rows]
    )
    return "\n".join(lines)


def table_with_notes(header: Sequence[str], rows: Sequence[Sequence[str]], notes: Sequence[str]) -> str:
    """Return a table with a sentence below each row, set in to the second column; empty ones are left out.

    Examples
    --------
    >>> print(table_with_notes(["exam", "result"], [["E1", "positive"], ["E2", "none"]], ["Three eggs.", ""]))
    exam  result
    E1    positive
          Three eggs.
    E2    none
    """
    first, *lines = table(header, rows).split("\n")
    inset = " " * (max(len(row[0]) for row in [header, *rows]) + 2)
    noted = [[line, f"{inset}{note}"] if note else [line] for line, note in zip(lines, notes, strict=True)]
    return "\n".join([first, *(line for pair in noted for line in pair)])
