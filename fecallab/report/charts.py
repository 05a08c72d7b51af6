"""The time axis of a case and the strip of fields of an exam: data first, drawing second, words beside it.

Every chart comes with its data in words (for those who do not see it), a legend of what occurs in it and a
table, so that nothing is known from the drawing alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from fecallab.domain.animal import Weighing
from fecallab.domain.followup import Pause
from fecallab.report.figures import day, grams, interval, number
from fecallab.report.model import CasePage, ExamPoint

WEIGHTS_BEFORE_THE_CASE = timedelta(days=30)
"""Older weights stand in the table only, so that they do not squeeze the course (own choice)."""


@dataclass(frozen=True)
class DosePoint:
    """One line of the treatment log on the time axis."""

    given_on: date
    outcome: str

    @property
    def given(self) -> bool:
        """Whether the whole dose was given."""
        return self.outcome == "given"


@dataclass(frozen=True)
class Timeline:
    """What the time axis of a case shows.

    ``measured`` are exams on the burden axis, all in ``unit``; ``unmeasured`` have a result but no number in
    that unit and stand in a strip of their own.
    """

    unit: str
    measured: tuple[ExamPoint, ...]
    unmeasured: tuple[ExamPoint, ...]
    doses: tuple[DosePoint, ...]
    weights: tuple[Weighing, ...]
    pauses: tuple[Pause, ...]
    wait: tuple[date, date] | None
    next_on: date | None
    today: date

    @property
    def days(self) -> tuple[date, ...]:
        """Every day that the axis must reach."""
        days = [point.taken_on for point in (*self.measured, *self.unmeasured)]
        days += [dose.given_on for dose in self.doses]
        days += [weight.weighed_at.date() for weight in self.weights]
        days += [self.next_on] if self.next_on else []
        days += list(self.wait) if self.wait else []
        return (*days, self.today)


@dataclass(frozen=True)
class Chart:
    """A chart ready for a page: two drawings of the same data, one for wide and one for narrow screens."""

    wide: str
    narrow: str
    title: str
    legend: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, ...], ...] = field(default=())


def timeline_of(page: CasePage) -> Timeline:
    """Return what the time axis of a case shows; the unit that most exams carry gets the axis."""
    points = sorted(page.exams, key=lambda point: point.taken_on)
    units = Counter(point.unit for point in points if _has_number(point))
    unit = max(units, key=lambda name: (units[name], name)) if units else ""
    measured = tuple(point for point in points if _has_number(point) and point.unit == unit)
    return Timeline(
        unit=unit,
        measured=measured,
        unmeasured=tuple(point for point in points if point not in measured),
        doses=tuple(
            DosePoint(dose.given_at.date(), dose.outcome)
            for dose in sorted(page.doses, key=lambda dose: dose.given_at)
        ),
        weights=tuple(
            weight
            for weight in sorted(page.weights, key=lambda weight: weight.weighed_at)
            if weight.weighed_at.date() >= page.case.opened_on - WEIGHTS_BEFORE_THE_CASE
        ),
        pauses=page.pauses,
        wait=page.wait,
        next_on=page.standing.next_sample_on_or_after,
        today=page.stamp.made_on,
    )


def time_axis_chart(page: CasePage) -> Chart | None:
    """Return the time axis of a case, or None when there is nothing to draw.

    Notes
    -----
    Drawn with matplotlib as SVG, twice: for screens from 600 px on and paper, and for phones. Text stays
    text, so it prints sharp, can be searched and takes the page's font. The same page gives the same bytes.
    """
    timeline = timeline_of(page)
    if not (timeline.measured or timeline.unmeasured or timeline.doses or timeline.weights):
        return None
    from fecallab.report.time_axis import draw

    title = "Burden, doses and weight over time" if timeline.unit else "Exams, doses and weight over time"
    words = timeline_words(timeline)
    return Chart(
        wide=draw(timeline, title, words, narrow=False),
        narrow=draw(timeline, title, words, narrow=True),
        title=title,
        legend=legend_of(timeline),
        rows=timeline_rows(timeline),
    )


def burden_words(point: ExamPoint) -> str:
    """Write a burden with its interval, or the limit of none found; empty where nothing was counted."""
    if point.burden is not None and not (point.burden == 0 and point.upper_limit is not None):
        text = f"{number(point.burden)} {point.unit}"
        return f"{text} (95 % interval {interval(point.ci95)})" if point.ci95 else text
    if point.upper_limit is not None:
        return f"none found; under {number(point.upper_limit)} {point.unit}"
    return ""


def timeline_rows(timeline: Timeline) -> tuple[tuple[str, ...], ...]:
    """Return the data of the time axis as rows (day, what, value), oldest first."""
    rows: list[tuple[date, str, str]] = []
    for point in (*timeline.measured, *timeline.unmeasured):
        rows.append((point.taken_on, f"exam {point.code}".strip(), _said(point)))
    rows += [(dose.given_on, "dose", dose.outcome) for dose in timeline.doses]
    for weight in timeline.weights:
        state = f" ({weight.state})" if weight.state else ""
        rows.append((weight.weighed_at.date(), "weight", f"{grams(weight.mass_g)}{state}"))
    if timeline.wait:
        rows.append((timeline.wait[0], "wait", f"until {day(timeline.wait[1])}"))
    for pause in timeline.pauses:
        until = f"until {day(pause.end)}" if pause.end else "not ended"
        rows.append((pause.start, "brumation", until))
    if timeline.next_on:
        rows.append((timeline.next_on, "next stool", "counts from this day on"))
    return tuple((day(when), what, value) for when, what, value in sorted(rows, key=lambda row: row[0]))


def timeline_words(timeline: Timeline) -> str:
    """Describe the time axis in one paragraph."""
    return "; ".join(f"{when}: {what}, {value}" for when, what, value in timeline_rows(timeline)) + "."


def legend_of(timeline: Timeline) -> tuple[tuple[str, str], ...]:
    """Return (key, words) for every kind of mark that occurs, in the order of the drawing."""
    points = (*timeline.measured, *timeline.unmeasured)
    results = {point.result for point in points}
    present = (
        ("positive", "positive exam", "positive" in results),
        ("negative", "negative exam, none found", "negative" in results),
        ("inconclusive", "inconclusive exam", "inconclusive" in results),
        ("unsure", "exam with an unsure mark", "unsure" in results),
        ("interval", "95 % interval of the burden", any(point.ci95 for point in timeline.measured)),
        (
            "limit",
            "upper 95 % limit where none was found",
            any(point.upper_limit is not None for point in timeline.measured),
        ),
        ("given", "dose given", any(dose.given for dose in timeline.doses)),
        ("not-given", "dose not given, or not whole", any(not dose.given for dose in timeline.doses)),
        ("weight", "weight", bool(timeline.weights)),
        ("wait", "wait: stools of these days do not count", timeline.wait is not None),
        ("pause", "brumation: the clock stands still", bool(timeline.pauses)),
        ("next", "next stool counts from here on", timeline.next_on is not None),
        ("today", "day of this page", True),
    )
    return tuple((key, words) for key, words, there in present if there)


@dataclass(frozen=True)
class FieldStrip:
    """Counts in the order of reading as (field number, count, height 0-1), and the data in words."""

    cells: tuple[tuple[int, int, float], ...]
    words: str


def field_strip(counts: Sequence[int]) -> FieldStrip | None:
    """Return the strip of per-field counts, or None for fewer than two fields.

    Examples
    --------
    >>> field_strip([0, 2, 1]).words
    'Counts in fields 1 to 3: 0, 2, 1.'
    """
    if len(counts) < 2:
        return None
    most = max(counts)
    cells = tuple(
        (place, count, count / most if most else 0.0) for place, count in enumerate(counts, start=1)
    )
    return FieldStrip(cells, f"Counts in fields 1 to {len(counts)}: {', '.join(map(str, counts))}.")


def _has_number(point: ExamPoint) -> bool:
    return point.burden is not None or point.upper_limit is not None


def _said(point: ExamPoint) -> str:
    burden = burden_words(point)
    return f"{point.result}: {burden}" if burden else point.result
