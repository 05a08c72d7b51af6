"""Where a case stands today: a pure function of its exams, doses, plan and today.

Nothing here is stored: a corrected reading or a late verdict changes every conclusion that rested on it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from fecallab.domain.errors import Reason
from fecallab.domain.followup_model import CLEAR as CLEAR
from fecallab.domain.followup_model import COURSE_INCOMPLETE as COURSE_INCOMPLETE
from fecallab.domain.followup_model import K_OF_N as K_OF_N
from fecallab.domain.followup_model import LOW_BURDEN_MET as LOW_BURDEN_MET
from fecallab.domain.followup_model import MANAGED as MANAGED
from fecallab.domain.followup_model import NEXT_STOOL as NEXT_STOOL
from fecallab.domain.followup_model import NOT_TREATED as NOT_TREATED
from fecallab.domain.followup_model import ON_TREATMENT as ON_TREATMENT
from fecallab.domain.followup_model import PAUSED as PAUSED
from fecallab.domain.followup_model import POSITIVE_AGAIN as POSITIVE_AGAIN
from fecallab.domain.followup_model import RESULTS as RESULTS
from fecallab.domain.followup_model import STANDINGS as STANDINGS
from fecallab.domain.followup_model import VETS_WORD as VETS_WORD
from fecallab.domain.followup_model import WAITING as WAITING
from fecallab.domain.followup_model import WATCHING as WATCHING
from fecallab.domain.followup_model import CaseHistory as CaseHistory
from fecallab.domain.followup_model import DoseFact as DoseFact
from fecallab.domain.followup_model import ExamFact as ExamFact
from fecallab.domain.followup_model import FollowUpPlan as FollowUpPlan
from fecallab.domain.followup_model import Pause as Pause
from fecallab.domain.followup_model import Standing as Standing
from fecallab.domain.spoken import number_of, say_date

LATE_DOSE_SHARE = 1.25
"""A dose later than this share of its interval breaks the course (proposal, no source)."""

GRADE_ORDERS = (
    ("none seen", "one seen", "rare", "few", "moderate", "many"),
    ("none seen", "1+", "2+", "3+", "4+"),
)
"""Grade words of each kind of scale, lightest first; words of different scales are never compared."""


def add_awake_days(start: date, days: int, pauses: Sequence[Pause], today: date) -> date:
    """Return the day that lies ``days`` awake days after ``start``; brumation stops the clock.

    Examples
    --------
    >>> add_awake_days(date(2026, 4, 1), 10, [Pause(date(2026, 4, 5), date(2026, 4, 25))], date(2026, 5, 1))
    datetime.date(2026, 5, 1)
    """
    day = start + timedelta(days=days)
    counted_to = start
    for pause in sorted(pauses, key=lambda pause: pause.start):
        end = pause.end or today
        begins = max(pause.start, counted_to)
        if pause.start < day and end > begins:
            day += end - begins
            counted_to = end
    return day


def _asleep(day: date, pauses: Sequence[Pause]) -> bool:
    return any(pause.start <= day and (pause.end is None or day < pause.end) for pause in pauses)


def assess(history: CaseHistory, today: date) -> Standing:
    """Work out where a case stands.

    Parameters
    ----------
    history : CaseHistory
        The case with its current plan, exams, doses and pauses; facts after ``today`` are left out.
    today : datetime.date
        The day to judge on.

    Returns
    -------
    Standing
        One of `STANDINGS`, with the count, the next date and every reason.
    """
    exams = sorted((e for e in history.exams if e.taken_on <= today), key=_exam_order)
    doses = sorted((d for d in history.doses if d.given_on <= today), key=lambda d: d.given_on)
    plan = history.plan
    positives = [e for e in exams if e.result == "positive"]
    if plan is None:
        return _without_plan(exams, positives, opened_by_vet=history.opened_by_vet)
    n = plan.negatives_needed
    if history.not_clearable or plan.goal == "not clearable by stool exam":
        text = f"No number of negative stool exams clears {history.target}."
        reason = Reason(
            "not-clearable", text, "Manage it with the vet: hygiene, separation, laboratory tests."
        )
        return Standing(MANAGED, 0, None, None, False, (reason,))
    if plan.goal == "watch, no treatment":
        seen = f"Last positive sample: {say_date(positives[-1].taken_on)}." if positives else "None positive."
        reason = Reason(
            "watching", f"The vet watches without treatment. {seen}", "Send the next exam to the vet."
        )
        return _with_unsure(Standing(WATCHING, 0, n, None, False, (reason,)), exams, positives, None)
    course = [d for d in doses if plan.covers(d)]
    given = [d for d in doses if d.outcome == "given"]
    if plan.doses_planned > 0:
        unfinished = _unfinished_course(history, plan, course, today)
        if unfinished is not None:
            return unfinished
    back = _came_back(plan, positives, doses)
    if back is not None:
        return _positive_again(plan, back, given or course)
    return _after_course(history, plan, exams, positives, given, today)


def _exam_order(exam: ExamFact) -> tuple[date, int]:
    """Positives last within a day, so that the order of exams within a day does not matter."""
    return exam.taken_on, exam.result == "positive"


def _without_plan(
    exams: Sequence[ExamFact], positives: Sequence[ExamFact], *, opened_by_vet: bool
) -> Standing:
    if not positives:
        if any(e.result == "unsure" for e in exams):
            text, code = "An unsure mark waits for the vet; nothing sure was seen.", "unsure-mark"
            return Standing(
                VETS_WORD, 0, None, None, False, (Reason(code, text, "Send the picture to the vet."),)
            )
        if opened_by_vet:
            text = "The vet opened this case; there is no plan yet."
            step = "Record the vet's plan with: fecallab plan add"
            return Standing(NOT_TREATED, 0, None, None, False, (Reason("order-missing", text, step),))
        text = "No sure positive supports this case any more (a reading was corrected)."
        next_step = "Close it as: withdrawn: reading corrected."
        return Standing(VETS_WORD, 0, None, None, False, (Reason("no-longer-supported", text, next_step),))
    text = f"Positive on {say_date(positives[-1].taken_on)}; there is no plan by a vet yet."
    reason = Reason(
        "order-missing", text, "Send the exam to the vet; record the vet's plan with: fecallab plan add"
    )
    return Standing(NOT_TREATED, 0, None, None, False, (reason,))


def _over(plan: FollowUpPlan, exam: ExamFact) -> bool:
    """Return whether an exam fails the goal: any positive for 'clear', a heavier grade for 'low burden'."""
    if exam.result != "positive":
        return False
    if plan.goal != "low burden":
        return True
    return _at_most(plan, exam) is False


def _at_most(plan: FollowUpPlan, exam: ExamFact) -> bool | None:
    """Return whether an exam is at or under the grade to reach; None when the words cannot be compared."""
    for order in GRADE_ORDERS:
        if exam.grade in order and plan.grade_at_most in order:
            return order.index(exam.grade) <= order.index(plan.grade_at_most)
    return None


def _came_back(
    plan: FollowUpPlan, positives: Sequence[ExamFact], doses: Sequence[DoseFact]
) -> ExamFact | None:
    """Return the positive exam after the treatment that no newer plan has answered yet."""
    last_dose = max((d.given_on for d in doses), default=None)
    if last_dose is None:
        return None
    later = [
        e for e in positives if e.taken_on > last_dose and e.taken_on > plan.written_on and _over(plan, e)
    ]
    return later[-1] if later else None


def _positive_again(plan: FollowUpPlan, exam: ExamFact, given: Sequence[DoseFact]) -> Standing:
    last_dose = given[-1].given_on
    days = (exam.taken_on - last_dose).days
    text = f"Positive again on {say_date(exam.taken_on)}, {number_of(days, 'day')} after the last dose."
    if days < plan.wait_after_last_dose_days:
        text += f" That is within the wait of {number_of(plan.wait_after_last_dose_days, 'day')}: shedding may not have ended."
    reasons = (
        Reason("positive-again", text, "Weigh the animal, send the exam to the vet, wait for a new plan."),
        Reason(
            "reinfection-possible",
            "A positive after treatment may be reinfection from the enclosure or from a contact.",
            "Write down when the enclosure was cleaned; examine the animals that share it.",
        ),
    )
    return Standing(POSITIVE_AGAIN, 0, plan.negatives_needed, None, False, reasons)


def _unfinished_course(
    history: CaseHistory, plan: FollowUpPlan, course: Sequence[DoseFact], today: date
) -> Standing | None:
    """Return the standing while a course is not whole, None once it is."""
    n = plan.negatives_needed
    given = [d for d in course if d.outcome == "given"]
    accepted = [day for day in history.course_accepted_on if day <= today]
    broken = [d for d in course if d.outcome != "given"]
    since = max(accepted, default=None)
    if since is not None:
        broken = [d for d in broken if d.given_on > since]
        if not broken and course and since >= course[-1].given_on:
            return None
    if not course:
        text = f"The plan of {say_date(plan.written_on)} asks for {number_of(plan.doses_planned, 'dose')}; none is logged yet."
        reason = Reason("not-started", text, "Weigh the animal, then: fecallab dose work-out")
        return Standing(NOT_TREATED, 0, n, None, False, (reason,))
    if broken:
        outcome = broken[-1]
        text = (
            f"The dose of {say_date(outcome.given_on)} was {outcome.outcome}: a broken course counts nothing."
        )
        return Standing(COURSE_INCOMPLETE, 0, n, None, False, (_ask_about_course("course-broken", text),))
    if len(given) >= plan.doses_planned:
        return None
    due = given[-1].given_on + timedelta(days=plan.interval_days)
    if today > given[-1].given_on + timedelta(
        days=max(plan.interval_days * LATE_DOSE_SHARE, plan.interval_days + 1)
    ):
        text = f"Dose {len(given) + 1} of {plan.doses_planned} was due on {say_date(due)} and is not logged."
        return Standing(COURSE_INCOMPLETE, 0, n, None, False, (_ask_about_course("dose-late", text),))
    text = f"{len(given)} of {plan.doses_planned} doses given; the next is due on {say_date(due)}."
    reason = Reason("course-running", text, "Weigh before every dose, then: fecallab dose work-out")
    return Standing(ON_TREATMENT, 0, n, None, False, (reason,))


def _ask_about_course(code: str, text: str) -> Reason:
    return Reason(code, text, "Ask the vet whether the course counts; never double a dose.")


def _with_unsure(
    standing: Standing, exams: Sequence[ExamFact], positives: Sequence[ExamFact], last_dose: date | None
) -> Standing:
    """Return 'waiting for the vet's word' when an unsure exam has not been answered."""
    since = max([e.taken_on for e in positives] + ([last_dose] if last_dose else []), default=date.min)
    open_ones = [e for e in exams if e.result == "unsure" and e.taken_on > since]
    if not open_ones:
        return standing
    text = f"An unsure mark in the exam of {say_date(open_ones[-1].taken_on)} blocks a negative."
    reason = Reason("unsure-mark", text, "Send the picture to the vet and record the vet's word.")
    return Standing(
        VETS_WORD, standing.k, standing.n, None, False, (reason, *standing.reasons), standing.counted
    )


def _after_course(
    history: CaseHistory,
    plan: FollowUpPlan,
    exams: Sequence[ExamFact],
    positives: Sequence[ExamFact],
    given: Sequence[DoseFact],
    today: date,
) -> Standing:
    """Return the standing once doses are done (or none are planned): wait, count, reach the goal."""
    failing = [e for e in positives if _over(plan, e)]
    last_dose = given[-1].given_on if given else None
    start = last_dose or max([e.taken_on for e in failing], default=history.opened_on)
    resets = [e for e in failing if e.taken_on > start]
    if resets:
        start = resets[-1].taken_on
    wait_ends = add_awake_days(start, plan.wait_after_last_dose_days, history.pauses, today)
    before = f"before the last {'dose' if last_dose == start else 'positive'}"
    counted, notes, left_out = _count(history, plan, exams, failing, start, wait_ends, today, before)
    k, n = len(counted), plan.negatives_needed
    next_day = (
        add_awake_days(counted[-1].taken_on, plan.spacing_days, history.pauses, today)
        if counted
        else wait_ends
    )
    since = f"last dose on {say_date(start)}" if last_dose == start else f"last positive on {say_date(start)}"
    if k >= n and n > 0:
        standing = _goal_reached(plan, counted, notes)
    elif counted:
        text = f"{k} of {n} exams counted, the last of {say_date(counted[-1].taken_on)} ({since})."
        step = Reason(
            "count-so-far", text, f"The next stool that counts is one on or after {say_date(next_day)}."
        )
        standing = Standing(K_OF_N, k, n, next_day, False, (step, *notes), tuple(counted))
    elif today < wait_ends:
        word = WAITING if last_dose is not None else WATCHING
        text = f"{since[0].upper()}{since[1:]}; the wait is {number_of(plan.wait_after_last_dose_days, 'day')}. Nothing is proven yet."
        step = Reason("wait", text, f"The next stool that counts is one on or after {say_date(wait_ends)}.")
        standing = Standing(word, 0, n, wait_ends, False, (step, *notes))
    else:
        text = f"The wait is over ({since}); no exam has counted yet."
        step = Reason("next-stool", text, f"Examine a stool passed on or after {say_date(wait_ends)}.")
        standing = Standing(NEXT_STOOL, 0, n, wait_ends, False, (step, *notes))
    standing = _with_unsure(standing, exams, failing, last_dose)
    if standing.standing not in (CLEAR, LOW_BURDEN_MET, VETS_WORD) and _asleep(today, history.pauses):
        text = "Brumation: the clock stands still, no stool is expected."
        reason = Reason("brumation", text, "Record its end with: fecallab animal event")
        standing = Standing(PAUSED, k, n, None, False, (reason, *standing.reasons), standing.counted)
    return replace(standing, left_out=left_out)


def _goal_reached(plan: FollowUpPlan, counted: Sequence[ExamFact], notes: Sequence[Reason]) -> Standing:
    k, n = len(counted), plan.negatives_needed
    days = ", ".join(say_date(exam.taken_on) for exam in counted)
    if plan.goal == "low burden":
        text = f"{k} spaced exams at or under the grade '{plan.grade_at_most}': {days}."
        reason = Reason("goal-reached", text, "A person may close the case: fecallab case close")
        return Standing(LOW_BURDEN_MET, k, n, None, True, (reason, *notes), tuple(counted))
    text = (
        f"{k} adequate, spaced negatives from separate stools after the wait: {days}. It means only: nothing "
        "found in stools by these exams."
    )
    reason = Reason("goal-reached", text, "A person may close the case: fecallab case close")
    return Standing(CLEAR, k, n, None, True, (reason, *notes), tuple(counted))


def _count(
    history: CaseHistory,
    plan: FollowUpPlan,
    exams: Sequence[ExamFact],
    failing: Sequence[ExamFact],
    start: date,
    wait_ends: date,
    today: date,
    before: str,
) -> tuple[list[ExamFact], list[Reason], tuple[tuple[str, str], ...]]:
    """Return the exams that count towards the goal, and why others do not: as reasons, and in short words."""
    counted: list[ExamFact] = []
    notes: list[Reason] = []
    left_out: list[tuple[str, str]] = []
    spoiled = {e.defecation for e in failing}
    for exam in exams:
        if exam in failing:
            continue
        if exam.taken_on < start:
            left_out += [(exam.code, before)] if exam.result == "negative" else []
            continue
        good = exam.result == "negative" or (
            plan.goal == "low burden"
            and exam.result == "positive"
            and exam.adequate
            and _at_most(plan, exam) is True
        )
        when = say_date(exam.taken_on)
        if not good:
            if exam.result == "inconclusive":
                text = f"The exam of {when} was inconclusive: it neither counts nor resets."
                notes.append(Reason("inconclusive", text))
            elif exam.result == "positive":
                text = f"The exam of {when} has no grade by an adequate method: it does not count as low."
                notes.append(Reason("grade-unknown", text))
                left_out.append((exam.code, "no grade by an adequate method"))
            continue
        earliest = wait_ends
        if counted:
            earliest = add_awake_days(counted[-1].taken_on, plan.spacing_days, history.pauses, today)
        if exam.taken_on < wait_ends:
            text = (
                f"The exam of {when} lies within the wait, which ends on {say_date(wait_ends)}: not counted."
            )
            notes.append(Reason("within-wait", text))
            left_out.append((exam.code, f"within the wait until {say_date(wait_ends)}"))
        elif exam.defecation in spoiled or exam.defecation in {e.defecation for e in counted}:
            notes.append(
                Reason("same-stool", f"The exam of {when} is of a stool that already spoke: not counted.")
            )
            left_out.append((exam.code, "the same stool spoke already"))
        elif exam.taken_on < earliest:
            text = f"The exam of {when} is nearer than {number_of(plan.spacing_days, 'day')} to the one before: not counted."
            notes.append(Reason("too-near", text))
            left_out.append((exam.code, f"nearer than {number_of(plan.spacing_days, 'day')}"))
        elif _asleep(exam.taken_on, history.pauses):
            notes.append(Reason("asleep", f"The exam of {when} was passed in brumation: not counted."))
            left_out.append((exam.code, "passed in brumation"))
        else:
            counted.append(exam)
    return counted, notes, tuple(left_out)
