"""Draw the time axis of a case: burden above, doses between, weights below, all on one axis of days."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from math import floor, log10
from typing import Any

import matplotlib
from matplotlib import dates as matplotlib_dates
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from fecallab.report.charts import Timeline
from fecallab.report.figures import number, tidy
from fecallab.report.inline_svg import inline_svg
from fecallab.report.model import ExamPoint

_dates: Any = matplotlib_dates
INK = "#1a1a1a"
SOFT = "#6b6b6b"
HATCH_INK = "#8c8c8c"
LOG_FROM_SPREAD = 30.0
"""Burdens that differ by more than this factor get logarithmic steps (own choice)."""
MARKERS: dict[str, dict[str, Any]] = {
    "positive": {"marker": "o", "markerfacecolor": INK},
    "negative": {"marker": "o", "markerfacecolor": "white"},
    "inconclusive": {"marker": "x", "markerfacecolor": "none"},
    "unsure": {"marker": "D", "markerfacecolor": "white"},
}
"""Each result has a shape or a filling of its own."""


@dataclass(frozen=True)
class _Look:
    """Sizes of one drawing, in inches and points."""

    width: float
    most_ticks: int
    font: float
    burden_height: float = 2.15
    strip_height: float = 0.34
    weight_height: float = 1.0
    left: float = 0.72


_WIDE = _Look(width=7.2, most_ticks=8, font=9.0)
_NARROW = _Look(width=3.5, most_ticks=4, font=9.5, burden_height=2.0, weight_height=0.95, left=0.68)


def draw(timeline: Timeline, title: str, words: str, *, narrow: bool) -> str:
    """Return the time axis as an inline SVG element that scales with the page.

    Parameters
    ----------
    timeline : Timeline
        What to show.
    title, words : str
        Title and description for those who do not see it.
    narrow : bool
        True for phones: less wide, fewer ticks, the same size of letters.
    """
    look = _NARROW if narrow else _WIDE
    with _settings(narrow), _measuring():
        figure = _figure(timeline, look)
        buffer = io.StringIO()
        canvas: Any = FigureCanvasSVG(figure)
        canvas.print_svg(buffer, metadata={"Date": None, "Creator": None})
    return inline_svg(buffer.getvalue(), title, words, kind="narrow" if narrow else "wide")


def draw_png(timeline: Timeline, dots_per_inch: int = 220) -> bytes:
    """Return the time axis as a PNG, for paper; the same data give the same bytes."""
    with _settings(narrow=False), _measuring():
        figure = _figure(timeline, _WIDE)
        buffer = io.BytesIO()
        canvas: Any = FigureCanvasAgg(figure)
        figure.set_dpi(dots_per_inch)
        canvas.print_png(buffer, metadata={"Software": None})
    return buffer.getvalue()


def _settings(narrow: bool) -> Any:
    settings: Any = {
        "svg.fonttype": "none",
        "svg.hashsalt": f"time-axis-{'narrow' if narrow else 'wide'}",
        "font.size": (_NARROW if narrow else _WIDE).font,
        "hatch.linewidth": 0.6,
        "axes.linewidth": 0.8,
        "font.family": "DejaVu Sans",
        "text.parse_math": False,
        "path.simplify": False,
        "axes.unicode_minus": False,
    }
    return matplotlib.rc_context(settings)


@contextmanager
def _measuring() -> Iterator[None]:
    """Let letters that the font lacks be measured in peace: on a page the reader's own font draws them."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        yield


def _figure(timeline: Timeline, look: _Look) -> Figure:
    figure, panels = _panels(timeline, look)
    if timeline.measured:
        _burden(panels["burden"], timeline, look)
    if timeline.unmeasured:
        _unmeasured(panels["unmeasured"], timeline)
    if timeline.doses:
        _doses(panels["doses"], timeline)
    if timeline.weights:
        _weights(panels["weights"], timeline)
    _shared(list(panels.values()), timeline, look)
    return figure


def _panels(timeline: Timeline, look: _Look) -> tuple[Figure, dict[str, Any]]:
    heights = {
        "burden": look.burden_height if timeline.measured else 0,
        "unmeasured": look.strip_height if timeline.unmeasured else 0,
        "doses": look.strip_height if timeline.doses else 0,
        "weights": look.weight_height if timeline.weights else 0,
    }
    used = {name: height for name, height in heights.items() if height}
    top, bottom, gap = 0.42 if timeline.next_on else 0.12, 0.46, 0.12
    total = top + bottom + sum(used.values()) + gap * (len(used) - 1)
    figure = Figure(figsize=(look.width, total))
    figure.patch.set_alpha(0)
    panels: dict[str, Any] = {}
    upper = total - top
    for name, height in used.items():
        box = (
            look.left / look.width,
            (upper - height) / total,
            1 - (look.left + 0.14) / look.width,
            height / total,
        )
        panels[name] = figure.add_axes(box, sharex=next(iter(panels.values()), None), facecolor="none")
        upper -= height + gap
    return figure, panels


def _burden(axes: Any, timeline: Timeline, look: _Look) -> None:
    points = timeline.measured
    highest = max(value for point in points for value in _values(point))
    lowest = min((value for point in points for value in _values(point) if value > 0), default=1.0)
    label = _folded(tidy(timeline.unit), 24)
    if highest > LOG_FROM_SPREAD * lowest:
        start = 10.0 ** floor(log10(lowest))
        axes.set_yscale("symlog", linthresh=start, linscale=0.5)
        axes.set_ylim(0, highest * 2)
        powers = range(round(log10(start)), floor(log10(highest)) + 1)
        axes.set_yticks([0, *(10.0**power for power in powers)])
        axes.minorticks_off()
        label += "\n(logarithmic steps)"
    else:
        axes.set_ylim(0, highest * 1.12 if highest > 0 else 1)
        axes.yaxis.set_major_locator(MaxNLocator(4))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: number(value)))
    axes.set_ylabel(label, fontsize=look.font)
    axes.grid(axis="y", color="#e2e2e2", linewidth=0.6)
    for point in points:
        x = _x(point.taken_on)
        if point.upper_limit is not None and not point.burden:
            _limit(axes, x, point.upper_limit)
        elif point.ci95 is not None:
            axes.vlines(x, *point.ci95, color=INK, linewidth=1.3)
            axes.plot([x, x], point.ci95, linestyle="none", marker="_", markersize=7, color=INK)
        _dot(axes, x, point.burden or 0.0, point.result)


def _limit(axes: Any, x: float, limit: float) -> None:
    """Draw an upper limit: a bar at the limit and an arrow that points down from it."""
    axes.annotate(
        "",
        xy=(x, limit * 0.45),
        xytext=(x, limit),
        arrowprops={"arrowstyle": "->", "color": INK, "linewidth": 1.1, "shrinkA": 0, "shrinkB": 0},
    )
    axes.plot([x], [limit], marker="_", markersize=10, color=INK, markeredgewidth=1.4)


def _dot(axes: Any, x: float, y: float, result: str) -> None:
    look = MARKERS.get(result, MARKERS["inconclusive"])
    axes.plot(
        [x],
        [y],
        linestyle="none",
        markersize=7,
        markeredgecolor=INK,
        markeredgewidth=1.5,
        clip_on=False,
        zorder=5,
        **look,
    )


def _unmeasured(axes: Any, timeline: Timeline) -> None:
    counted = [point.burden is not None or point.upper_limit is not None for point in timeline.unmeasured]
    label = "no count" if not any(counted) else "other units" if all(counted) else "others"
    _strip(axes, label if timeline.measured else "exams")
    for point in timeline.unmeasured:
        _dot(axes, _x(point.taken_on), 0, point.result)


def _doses(axes: Any, timeline: Timeline) -> None:
    _strip(axes, "doses")
    given = [_x(dose.given_on) for dose in timeline.doses if dose.given]
    other = [_x(dose.given_on) for dose in timeline.doses if not dose.given]
    axes.vlines(given, -0.75, 0.75, color=INK, linewidth=2)
    axes.plot(
        other,
        [0] * len(other),
        linestyle="none",
        marker="v",
        markersize=8,
        markerfacecolor="white",
        markeredgecolor=INK,
        markeredgewidth=1.4,
        zorder=5,
    )


def _strip(axes: Any, label: str) -> None:
    axes.set_ylim(-1, 1)
    axes.set_yticks([])
    axes.set_ylabel(label, rotation=0, ha="right", va="center", labelpad=6)
    axes.axhline(0, color="#d0d0d0", linewidth=0.6, zorder=0)


def _weights(axes: Any, timeline: Timeline) -> None:
    days = [_x(weight.weighed_at.date()) for weight in timeline.weights]
    grams = [weight.mass_g for weight in timeline.weights]
    axes.plot(days, grams, color=INK, linewidth=1.1, marker="s", markersize=4, zorder=4)
    for day, weight in zip(days, timeline.weights, strict=True):
        if not weight.state:
            continue
        axes.plot(
            [day], [weight.mass_g], marker="s", markersize=6, color="white", markeredgecolor=INK, zorder=5
        )
        said = tidy(weight.state)
        said = said if len(said) <= 16 else f"{said[:15]}…"
        axes.annotate(
            said,
            (day, weight.mass_g),
            xytext=(0, 7),
            textcoords="offset points",
            ha="center",
            annotation_clip=False,
        )
    low, high = min(grams), max(grams)
    room = max((high - low) * 0.25, high * 0.02)
    axes.set_ylim(max(0.0, low - room), high + room)
    axes.yaxis.set_major_locator(MaxNLocator(3))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: number(value)))
    axes.set_ylabel("weight, g")
    axes.grid(axis="y", color="#e2e2e2", linewidth=0.6)


def _shared(panels: Sequence[Any], timeline: Timeline, look: _Look) -> None:
    """Draw what runs through all panels: wait, brumation, next date, today; and the axis of days."""
    first, last = min(timeline.days), max(timeline.days)
    room = timedelta(days=max(1, round((last - first).days * 0.04)))
    low, high = _x(first - room), _x(last + room)
    for axes in panels:
        axes.set_xlim(low, high)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        axes.tick_params(axis="x", length=0 if axes is not panels[-1] else 3, labelbottom=axes is panels[-1])
        axes.tick_params(axis="y", length=2)
        if timeline.wait:
            _span(axes, _x(timeline.wait[0]), _x(timeline.wait[1]), "////")
        for pause in timeline.pauses:
            _span(axes, max(low, _x(pause.start)), min(high, _x(pause.end or timeline.today)), "--")
        axes.axvline(_x(timeline.today), color=SOFT, linewidth=0.9, linestyle=(0, (1, 2)), zorder=1)
        if timeline.next_on:
            axes.axvline(_x(timeline.next_on), color=INK, linewidth=1.2, linestyle=(0, (5, 3)), zorder=2)
    ticks = day_ticks(first - room, last + room, look.most_ticks)
    panels[-1].set_xticks([_x(tick) for tick in ticks], _day_labels(ticks))
    if timeline.next_on:
        x = _x(timeline.next_on)
        share = (x - low) / (high - low)
        side = "right" if share > 0.6 else "left" if share < 0.4 else "center"
        when = f"{timeline.next_on.day} {timeline.next_on:%B} {timeline.next_on.year}"
        panels[0].annotate(
            f"next stool: on or after\n{when}",
            xy=(x, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(0, 4),
            textcoords="offset points",
            ha=side,
            va="bottom",
            annotation_clip=False,
        )


def _span(axes: Any, start: float, end: float, hatch: str) -> None:
    if end > start:
        axes.axvspan(start, end, facecolor="none", edgecolor=HATCH_INK, hatch=hatch, linewidth=0, zorder=0)


def day_ticks(first: date, last: date, most: int) -> list[date]:
    """Return the days that are named on the axis: month starts where three or more fit, else even steps.

    Examples
    --------
    >>> [str(tick) for tick in day_ticks(date(2026, 3, 1), date(2026, 5, 20), 8)]
    ['2026-03-01', '2026-04-01', '2026-05-01']
    >>> [tick.day for tick in day_ticks(date(2026, 3, 3), date(2026, 3, 20), 4)]
    [3, 10, 17]
    """
    starts = [
        date(year, month, 1)
        for year in range(first.year, last.year + 1)
        for month in range(1, 13)
        if first <= date(year, month, 1) <= last
    ]
    for months in (1, 2, 3, 6, 12, 24, 60):
        fitting = [start for start in starts if (start.year * 12 + start.month - 1) % months == 0]
        if 3 <= len(fitting) <= most:
            return fitting
    span = (last - first).days
    step = next((days for days in (1, 2, 7, 14, 28, 91, 365) if span // days < most), 3650)
    return [first + timedelta(days=days) for days in range(0, span + 1, step)]


def _day_labels(ticks: Sequence[date]) -> list[str]:
    """Return ``4 Mar`` for every tick, with the year under the first and wherever it changes."""
    years = [None, *(tick.year for tick in ticks)]
    return [
        f"{tick.day} {tick:%b}" + (f"\n{tick.year}" if tick.year != before else "")
        for tick, before in zip(ticks, years, strict=False)
    ]


def _values(point: ExamPoint) -> Iterator[float]:
    yield point.burden or 0.0
    if point.upper_limit is not None:
        yield point.upper_limit
    elif point.ci95 is not None:
        yield from point.ci95


def _x(when: date) -> float:
    return float(_dates.date2num(when))


def _folded(text: str, longest: int) -> str:
    if len(text) <= longest:
        return text
    cut = text.rfind(" ", 0, longest + 1)
    return f"{text[:cut]}\n{_folded(text[cut + 1 :], longest)}" if cut > 0 else text
