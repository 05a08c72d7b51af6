"""Times from a first to a last day, both counted: put together where they overlap, and the last day in common."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

Span = tuple[date, date]
"""First and last day."""


def merged(times: Iterable[Span]) -> list[Span]:
    """Return times that overlap as one; they come in order of their first day, and so they are returned.

    Examples
    --------
    >>> days = [date(2026, 5, n) for n in range(1, 10)]
    >>> [(a.day, b.day) for a, b in merged([(days[0], days[3]), (days[2], days[4]), (days[6], days[7])])]
    [(1, 5), (7, 8)]
    """
    found: list[Span] = []
    first = last = None
    for start, end in times:
        if first is None or last is None:
            first, last = start, end
        elif start <= last:
            if end > last:
                last = end
        else:
            found.append((first, last))
            first, last = start, end
    if first is not None and last is not None:
        found.append((first, last))
    return found


def last_overlap(one: Sequence[Span], other: Sequence[Span], until: date) -> date | None:
    """Return the last day up to ``until`` that lies in both lists of merged times."""
    at, to = len(one) - 1, len(other) - 1
    while at >= 0 and to >= 0:
        start = max(one[at][0], other[to][0])
        end = min(one[at][1], other[to][1], until)
        if start <= end:
            return end
        if one[at][0] >= other[to][0]:
            at -= 1
        else:
            to -= 1
    return None
