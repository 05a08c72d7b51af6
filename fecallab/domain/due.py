"""What comes next for a case: the next act, its day, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fecallab.domain import followup
from fecallab.domain.errors import Reason
from fecallab.domain.followup import Standing
from fecallab.domain.plan import DoseGiven, Plan
from fecallab.domain.spoken import say_date

MAY_BE_CLOSED = "the case may be closed"


@dataclass(frozen=True)
class Due:
    """One thing that comes next.

    ``on_or_after`` is the first day on which it makes sense; None when it waits for a person (the vet).
    ``counted_not_proven`` are the exams that it would rest on although a failed control run puts them in doubt.
    """

    animal: str
    case: str
    what: str
    on_or_after: date | None
    why: str
    next: str
    counted_not_proven: tuple[str, ...] = ()

    @property
    def may_close(self) -> bool:
        """Say whether a person may close the case."""
        return self.what.startswith(MAY_BE_CLOSED)

    @property
    def order(self) -> tuple[int, date, str]:
        """What may be done first comes first; what waits for the vet stands with today's things."""
        return (0 if self.on_or_after is None else 1, self.on_or_after or date.min, self.animal)


def next_for_case(
    animal: str,
    case: str,
    standing: Standing,
    plan: Plan | None,
    doses: Sequence[DoseGiven],
    gone: str = "",
) -> Due:
    """Return the next act for one case.

    Stools are never overdue: the clock is the animal's, so a stool is due *on or after* a day. Of an animal
    that is `gone` (``died``, ``left``) no stool and no dose is asked any more.
    """
    reason: Reason = standing.reasons[0]
    word = standing.standing

    def due(what: str, day: date | None = None, next_step: str = "") -> Due:
        return Due(animal, case, what, day, reason.text, next_step or reason.next)

    if gone:
        return due(
            f"the animal {gone}: close the case", None, f'fecallab case close {case} --ending "animal {gone}"'
        )

    if word == followup.ON_TREATMENT and plan is not None:
        given = [dose for dose in doses if dose.plan == plan.code and dose.outcome == "given"]
        start = given[-1].given_at.date() if given else plan.written_on
        day = start + timedelta(days=plan.interval_days or 0) if given else start
        number = len(given) + 1
        return due(f"weigh, then dose {number} of {plan.doses_planned} ({plan.drug})", day)
    if word == followup.NOT_TREATED and plan is not None:
        return due(f"weigh, then dose 1 of {plan.doses_planned} ({plan.drug})", plan.written_on)
    if word in (
        followup.NOT_TREATED,
        followup.VETS_WORD,
        followup.POSITIVE_AGAIN,
        followup.COURSE_INCOMPLETE,
    ):
        step = f"fecallab dose again {case}" if word == followup.POSITIVE_AGAIN else ""
        return due(f"ask the vet ({word})", None, step)
    if word in (followup.CLEAR, followup.LOW_BURDEN_MET):
        return due(MAY_BE_CLOSED, None, f"fecallab case close {case}")
    if standing.next_sample_on_or_after is not None:
        day = standing.next_sample_on_or_after
        return due("examine the next stool passed on or after " + say_date(day), day)
    if word == followup.PAUSED:
        return due("note the end of brumation")
    return due(f"go on as the vet says ({word})")
