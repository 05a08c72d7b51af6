"""What the follow-up is judged from and what it answers: words, a case with all that bears on it, a standing."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from fecallab.domain.errors import Reason

RESULTS = ("positive", "negative", "inconclusive", "unsure")

NOT_TREATED = "not treated"
WATCHING = "watching"
ON_TREATMENT = "on treatment"
COURSE_INCOMPLETE = "course incomplete"
WAITING = "course done, not confirmed: waiting"
NEXT_STOOL = "next stool on or after"
VETS_WORD = "waiting for the vet's word"
K_OF_N = "k of n"
CLEAR = "clear by the rule"
LOW_BURDEN_MET = "goal met: low burden"
MANAGED = "managed, not clearable by stool exam"
PAUSED = "paused: brumation"
POSITIVE_AGAIN = "positive again: back to the vet"
STANDINGS = (
    NOT_TREATED,
    WATCHING,
    ON_TREATMENT,
    COURSE_INCOMPLETE,
    WAITING,
    NEXT_STOOL,
    VETS_WORD,
    K_OF_N,
    CLEAR,
    LOW_BURDEN_MET,
    MANAGED,
    PAUSED,
    POSITIVE_AGAIN,
)


@dataclass(frozen=True)
class ExamFact:
    """One exam as the rule sees it: the answer that holds today (after corrections and verdicts)."""

    taken_on: date
    defecation: str
    result: str
    grade: str = ""
    adequate: bool = True
    code: str = ""


@dataclass(frozen=True)
class DoseFact:
    """One line of the treatment log; ``plan`` is the code of the plan that it belongs to, where one is known."""

    given_on: date
    outcome: str
    plan: str = ""


@dataclass(frozen=True)
class Pause:
    """A brumation; ``end`` None while it lasts."""

    start: date
    end: date | None


@dataclass(frozen=True)
class FollowUpPlan:
    """What of the plan the rule needs; every number is filled in before the rule is asked."""

    goal: str
    negatives_needed: int
    spacing_days: int
    wait_after_last_dose_days: int
    doses_planned: int
    interval_days: float
    written_on: date
    grade_at_most: str = ""
    code: str = ""

    def covers(self, dose: DoseFact) -> bool:
        """Return whether a dose belongs to this plan: by its code, else by the day on which it was given."""
        if self.code and dose.plan:
            return self.code == dose.plan
        return dose.given_on >= self.written_on


@dataclass(frozen=True)
class CaseHistory:
    """A case with everything that bears on where it stands."""

    target: str
    opened_on: date
    plan: FollowUpPlan | None
    exams: tuple[ExamFact, ...] = ()
    doses: tuple[DoseFact, ...] = ()
    pauses: tuple[Pause, ...] = ()
    course_accepted_on: tuple[date, ...] = ()
    not_clearable: bool = False
    opened_by_vet: bool = False


@dataclass(frozen=True)
class Standing:
    """Where a case stands, with dates and numbers in their own keys.

    ``k`` exams counted of ``n`` needed; ``next_sample_on_or_after`` is the first day whose stool can count;
    ``may_close`` tells that the goal's standing is reached and a person may close the case; ``left_out`` names
    the good exams that do not count, each by its code with the reason in short words.
    """

    standing: str
    k: int
    n: int | None
    next_sample_on_or_after: date | None
    may_close: bool
    reasons: tuple[Reason, ...]
    counted: tuple[ExamFact, ...] = field(default=())
    left_out: tuple[tuple[str, str], ...] = ()
