"""Control runs: what shows that a keeper's method finds anything at all, and when it was last shown."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from statistics import mean as mean_of
from statistics import stdev

from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import every_days, say_percent

CONTROL_KINDS = (
    "known positive",
    "blank",
    "gravity",
    "slide read blind",
    "microscope scale",
    "outside check",
)


@dataclass(frozen=True, kw_only=True)
class ControlRun:
    """One control run, as it was done and judged.

    Attributes
    ----------
    kind : str
        One of `CONTROL_KINDS`.
    method : str
        The exam method that was tried, as a preparation names it; empty for the scale and the gravity.
    solution, bottle : str
        The fluid, and which bottle or batch of it.
    objective : float or None
        The objective whose scale was checked.
    expected, found : str
        In words: what should have been found, and what was.
    expected_value, value : float or None
        The same as numbers: the long-run mean and the count, the gravity that was aimed at and the one that
        was weighed, the scale on record and the one just measured.
    passed : bool
        Whether the method stands.
    judged : str
        By which limits it was judged, in one line.
    """

    code: str = ""
    kind: str
    done_at: datetime
    method: str = ""
    solution: str = ""
    bottle: str = ""
    objective: float | None = None
    expected: str = ""
    found: str = ""
    expected_value: float | None = None
    value: float | None = None
    passed: bool
    judged: str = ""
    by: str = ""
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class ControlLimits:
    """What a control run must reach; every number comes from the table of control limits.

    Attributes
    ----------
    band_level : float
        Share of the runs of a good control that lie in the band.
    strong_mean : float
        Mean of a control that is strong enough to tell a weak run.
    zero_stops_from_mean : float
        From this mean on, none found is always a stop.
    own_runs : int
        Runs from which on their own mean and scatter are used.
    own_warn_sd, own_stop_sd : float
        Standard deviations below the own mean that warn and that stop.
    gravity_tolerance : float
        How far a gravity may lie off the one aimed at.
    scale_share : float
        How far two readings of the scale may differ, as a share.
    """

    band_level: float
    strong_mean: float
    zero_stops_from_mean: float
    own_runs: int
    own_warn_sd: float
    own_stop_sd: float
    gravity_tolerance: float
    scale_share: float


@dataclass(frozen=True)
class ControlAnswer:
    """How a run was judged: whether the method stands, by which limits, and what to mind."""

    passed: bool
    judged: str
    caution: str = ""


@dataclass(frozen=True, kw_only=True)
class ControlPlanRow:
    """How often one kind of control is done, what it must reach, and what a failure asks for."""

    kind: str
    how: str
    longest_days: int | None = None
    while_examining_days: int | None = None
    each_new_bottle: bool = False
    accept: str = ""
    if_it_fails: str = ""


@dataclass(frozen=True, kw_only=True)
class ControlDue:
    """When a kind of control was last done, whether it is due, from which day, and why."""

    kind: str
    last: ControlRun | None
    due: bool
    due_on: date | None
    why: str


def poisson_band(mean: float, level: float) -> tuple[int, int]:
    """Return the lowest and highest count that a Poisson count of this mean shows at this level.

    Parameters
    ----------
    mean : float
        Long-run mean, above 0 and up to 10,000.
    level : float
        Share of the runs between both ends, half of the rest on either side.

    Examples
    --------
    >>> poisson_band(20, 0.95)
    (12, 29)
    """
    if not 0 < mean <= 10_000:
        raise BadInput(
            f"The long-run mean of the control is {mean:g}; it lies between 0 and 10,000.",
            next="Give the mean of your earlier runs.",
            code="mean-out-of-range",
        )
    tail = (1 - level) / 2
    below, low = 0.0, None
    for count in range(int(mean + 20 * math.sqrt(mean) + 20)):
        below += math.exp(count * math.log(mean) - mean - math.lgamma(count + 1))
        if low is None and below >= tail:
            low = count
        if below >= 1 - tail:
            return low or 0, count
    raise AssertionError("a band always ends")


def judge_known_positive(
    found: int, mean: float | None, earlier: Sequence[float], limits: ControlLimits
) -> ControlAnswer:
    """Judge the count of a known positive.

    Parameters
    ----------
    found : int
        What was counted now.
    mean : float or None
        Long-run mean that was named; None when nobody knows it yet.
    earlier : sequence of float
        Counts of the earlier runs with the same method and stock, oldest first.
    """
    if len(earlier) >= limits.own_runs:
        own, scatter = mean_of(earlier), stdev(earlier)
        stop, warn = own - limits.own_stop_sd * scatter, own - limits.own_warn_sd * scatter
        by = f"{found} found; own mean of {len(earlier)} runs {own:.3g}, scatter {scatter:.3g}"
        if found == 0 or found < stop:
            return ControlAnswer(False, f"{by}: under {max(stop, 1):.3g}")
        caution = f"Low: under {warn:.3g}. Run another one soon." if found < warn else ""
        return ControlAnswer(True, by, caution)
    if mean is None:
        weak = "How many are usual is not known yet: count several runs, then give --expected."
        return ControlAnswer(found > 0, f"{found} found, no long-run mean yet", weak if found else "")
    low, high = poisson_band(mean, limits.band_level)
    by = f"{found} found; band {low} to {high} for a mean of {mean:g}"
    if found < low or (found == 0 and mean >= limits.zero_stops_from_mean) or found == 0:
        return ControlAnswer(False, by)
    if found > high:
        return ControlAnswer(
            True, by, "More than the band allows: was the stock mixed, the right mean named?"
        )
    if mean < limits.strong_mean:
        weak = f"A mean of {limits.strong_mean:g} or more tells a weak run better."
        return ControlAnswer(True, by, weak)
    return ControlAnswer(True, by)


def judge_blank(found: int) -> ControlAnswer:
    """Judge a blank: nothing may be in it."""
    if found:
        said = "Throw the fluid away and boil the gear; positives by this gear are in doubt."
        return ControlAnswer(False, f"{found} found where nothing was put in", said)
    return ControlAnswer(True, "none found")


def gravity_by_weighing(empty_g: float, water_g: float, fluid_g: float) -> float:
    """Return a specific gravity from the same dry flask, filled to the same mark with water and fluid.

    The volume cancels, so the mark need not be exact.

    Examples
    --------
    >>> round(gravity_by_weighing(52.0, 152.0, 170.5), 3)
    1.185
    """
    if not 0 <= empty_g < min(water_g, fluid_g):
        raise BadInput(
            f"The flask weighs {empty_g:g} g empty, {water_g:g} g with water and {fluid_g:g} g with fluid.",
            next="Weigh the same dry flask three times: empty, with water, with fluid to the same mark.",
            code="flask-weights",
        )
    return (fluid_g - empty_g) / (water_g - empty_g)


def judge_gravity(measured: float, aimed: float, limits: ControlLimits) -> ControlAnswer:
    """Judge a gravity against the one that was aimed at."""
    by = f"gravity {measured:.3f}, aimed at {aimed:g} ± {limits.gravity_tolerance:g}"
    if round(abs(measured - aimed), 6) <= limits.gravity_tolerance:
        return ControlAnswer(True, by)
    what = "Add salt or sugar" if measured < aimed else "Add water"
    return ControlAnswer(False, by, f"{what}, then measure again.")


def judge_scale(recorded: float, measured: float, limits: ControlLimits) -> ControlAnswer:
    """Judge a second reading of the microscope's scale against the one on record (any unit, the same)."""
    off = abs(measured / recorded - 1)
    by = f"{measured:g} against {recorded:g} on record: {say_percent(off)} off, {say_percent(limits.scale_share)} is allowed"
    if off <= limits.scale_share + 1e-9:
        return ControlAnswer(True, by)
    return ControlAnswer(False, by, "Calibrate anew, and measure the last records again.")


def judge_blind(
    expected: Mapping[str, int], found: Mapping[str, int], limits: ControlLimits
) -> ControlAnswer:
    """Judge a slide or drawing that was read blind: the same organisms, counts inside the band."""
    wrong: list[str] = []
    for name in dict.fromkeys([*expected, *found]):
        due, seen = expected.get(name, 0), found.get(name, 0)
        if due == 0 and seen:
            wrong.append(f"{name}: {seen} seen where none is")
        elif due:
            low, high = poisson_band(due, limits.band_level)
            if not max(low, 1) <= seen <= high:
                wrong.append(f"{name}: {seen} seen, {due} are there (band {low} to {high})")
    if wrong:
        return ControlAnswer(False, "; ".join(wrong))
    return ControlAnswer(True, "the same organisms, counts inside the band")


def control_due(
    row: ControlPlanRow, controls: Sequence[ControlRun], exam_days: Sequence[date], today: date
) -> ControlDue:
    """Return when one kind of control was last done and whether it is due.

    Parameters
    ----------
    row : ControlPlanRow
        How often it is done.
    controls : sequence of ControlRun
        All runs of every kind, in any order; a bottle that any of them names is known.
    exam_days : sequence of datetime.date
        Days on which exams were read.
    today : datetime.date
        The day for which it is asked; what happened later is not looked at.
    """
    known = sorted((run for run in controls if run.done_at.date() <= today), key=lambda run: run.done_at)
    mine = [run for run in known if run.kind == row.kind]
    if not mine:
        return ControlDue(kind=row.kind, last=None, due=True, due_on=today, why="never done here")
    last = mine[-1]
    day = last.done_at.date()
    if not last.passed:
        return ControlDue(kind=row.kind, last=last, due=True, due_on=today, why="the last one failed")
    bottles = [run.bottle for run in known if run.bottle]
    if row.each_new_bottle and bottles and bottles[-1] not in {run.bottle for run in mine}:
        why = f"the bottle {bottles[-1]!r} has had none yet"
        return ControlDue(kind=row.kind, last=last, due=True, due_on=today, why=why)
    limits: list[tuple[date, str]] = []
    if row.longest_days is not None:
        limits.append(
            (
                day + timedelta(days=row.longest_days),
                f"{every_days(row.longest_days)} at the latest",
            )
        )
    if row.while_examining_days is not None and any(day < exam <= today for exam in exam_days):
        often = f"{every_days(row.while_examining_days)} while examining"
        limits.append((day + timedelta(days=row.while_examining_days), often))
    if not limits:
        return ControlDue(kind=row.kind, last=last, due=False, due_on=None, why="done")
    due_on, why = min(limits)
    return ControlDue(kind=row.kind, last=last, due=due_on <= today, due_on=due_on, why=why)
