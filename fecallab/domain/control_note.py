"""What control runs say beside a negative: shown to find anything when, or not proven."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from fecallab.domain.animal import AS_TOLD
from fecallab.domain.control import ControlRun
from fecallab.domain.errors import Reason
from fecallab.domain.exam import Exam, Preparation
from fecallab.domain.spoken import say_date

SHOWING_KINDS = ("known positive", "outside check")
"""Runs that show that the whole method finds something."""

FLOATS = ("simple_flotation", "centrifugal_flotation", "mcmaster")
"""Methods that hang on the gravity of their fluid."""

PASSED, NONE, NOT_PROVEN = "passed", "none recorded", "not proven"


@dataclass(frozen=True)
class ControlState:
    """What the control runs say for one method of an exam: one of the three words above, and in full."""

    method: str
    state: str
    text: str


def control_states(controls: Sequence[ControlRun], exam: Exam) -> tuple[ControlState, ...]:
    """Return what the control runs say for every method of an exam that was read here.

    A run that failed marks everything since the last good run, and everything after it up to the next good
    one; on one day the last run of a kind decides. A known positive and an outside check show the method; a
    slide read blind shows the reader; a gravity speaks for floats in the same fluid.

    Parameters
    ----------
    controls : sequence of ControlRun
        All runs, in any order, those after the exam too.
    exam : Exam
        A result from elsewhere alone, and an exam as told, have no state: other people's methods.
    """
    if exam.as_told:
        return ()
    first = {part.method: part for part in reversed(exam.preparations) if part.readings}
    return tuple(_state(controls, exam, part) for part in reversed(list(first.values())))


def control_note(controls: Sequence[ControlRun], exam: Exam) -> str:
    """Return the line that stands beside a negative; empty for a result from elsewhere.

    Examples
    --------
    >>> from datetime import datetime
    >>> from fecallab.domain.exam import Reading
    >>> float_ = Preparation(method="simple_flotation", readings=(Reading(),))
    >>> exam = Exam(sample="S1", examined_at=datetime(2026, 3, 9, 9), preparations=(float_,))
    >>> run = ControlRun(kind="known positive", done_at=datetime(2026, 3, 4, 10), method="simple_flotation",
    ...                  passed=True)
    >>> control_note([run], exam)
    'control passed on 4 March 2026 (known positive)'
    >>> control_note([], exam)
    'no control run recorded'
    """
    if exam.as_told:
        return AS_TOLD
    states = control_states(controls, exam)
    if len({one.text for one in states}) == 1:
        return states[0].text
    return "; ".join(f"{one.method.replace('_', ' ')}: {one.text}" for one in states)


def not_proven(controls: Sequence[ControlRun], exam: Exam) -> tuple[ControlState, ...]:
    """Return the methods of an exam whose negatives a failed control run puts in doubt."""
    return tuple(one for one in control_states(controls, exam) if one.state == NOT_PROVEN)


def counted_in_doubt(controls: Sequence[ControlRun], counted: Iterable[Exam]) -> list[str]:
    """Return the codes of the exams that count and are not proven."""
    return [exam.code for exam in counted if not_proven(controls, exam)]


def doubt(codes: Sequence[str], act: str = "") -> Reason:
    """Return what stands beside exams that count and are not proven.

    The rules for the end of a case and of a quarantine ask how an exam was made, not how a control run ended, so
    such exams count. It is said wherever something is about to rest on them.

    Parameters
    ----------
    codes : sequence of str
        The exams, at least one.
    act : str, optional
        What shall not be done on them before the vet's word: ``close the case``; empty when it was done.

    Examples
    --------
    >>> print(doubt(["E3"], "close the case"))
    Not proven, and counted all the same: E3. The rule asks how an exam was made, not how a control run ended. Ask \
the vet whether it is to be repeated before you close the case.
    """
    text = (
        f"Not proven, and counted all the same: {', '.join(codes)}. The rule asks how an exam was made, not how a"
        " control run ended."
    )
    they_are = "it is" if len(codes) == 1 else "they are"
    step = f"Ask the vet whether {they_are} to be repeated{f' before you {act}' if act else ''}."
    return Reason("counted-not-proven", text, step)


def _state(controls: Sequence[ControlRun], exam: Exam, part: Preparation) -> ControlState:
    day = exam.examined_at.date()
    speaking = [run for run in controls if _speaks(run, part)]
    for kind in dict.fromkeys(run.kind for run in speaking):
        said = _not_proven([run for run in speaking if run.kind == kind], day)
        if said:
            return ControlState(part.method, NOT_PROVEN, said)
    before = [run for run in speaking if run.done_at.date() <= day and run.kind != "gravity"]
    shown = [run for run in before if run.kind in SHOWING_KINDS]
    if shown:
        last = max(shown, key=lambda run: run.done_at)
        text = f"control passed on {say_date(last.done_at.date())} ({last.kind})"
        return ControlState(part.method, PASSED, text)
    if before:
        last = max(before, key=lambda run: run.done_at)
        text = f"no known positive recorded; {last.kind} passed on {say_date(last.done_at.date())}"
        return ControlState(part.method, NONE, text)
    return ControlState(part.method, NONE, "no control run recorded")


def _speaks(run: ControlRun, part: Preparation) -> bool:
    """Say whether a run tells anything about a preparation."""
    if run.kind in SHOWING_KINDS:
        return run.method in ("", part.method)
    if run.kind == "slide read blind":
        return True
    if run.kind == "gravity":
        same = run.solution.casefold() in ("", part.solution.casefold()) or not part.solution
        return part.method in FLOATS and same
    return False


def _not_proven(runs: Iterable[ControlRun], day: date) -> str:
    """Say why a negative of a day is not proven by runs of one kind; empty when they do not say so."""
    by_day = {run.done_at.date(): run for run in sorted(runs, key=lambda run: run.done_at)}
    last = next((by_day[when] for when in reversed(by_day) if when <= day), None)
    following = next((by_day[when] for when in by_day if when > day), None)
    failed = next((run for run in (last, following) if run is not None and not run.passed), None)
    if failed is None:
        return ""
    on = failed.done_at.date()
    good = next((when for when in reversed(by_day) if when < on and by_day[when].passed), None)
    since = f"since the last good run of {say_date(good)}" if good else "before a good run"
    return (
        f"control failed on {say_date(on)} ({failed.kind}): negatives {since} are not proven; positives stand"
    )
