"""From recorded facts to what they say: an exam judged for a case, a case as the follow-up rule wants it.

Pure functions of the records, the tables and today; the command line, the report and the marking window all
ask here, so that they never disagree.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from fecallab.domain.adequacy import AdequacyFacts, ExamAnswer, ExamEvidence, PreparationEvidence, judge
from fecallab.domain.animal import Animal, AnimalEvent
from fecallab.domain.burden import Burden, burdens_of, share_at
from fecallab.domain.burden import reading_share as reading_share
from fecallab.domain.case import Case, Closing
from fecallab.domain.errors import Reason, Refused
from fecallab.domain.exam import Exam
from fecallab.domain.followup import K_OF_N, CaseHistory, DoseFact, ExamFact, FollowUpPlan, Pause, Standing
from fecallab.domain.grading import Grade, GradingScale
from fecallab.domain.plan import DoseGiven, Plan
from fecallab.domain.sample import Sample
from fecallab.domain.spoken import say_date
from fecallab.domain.verdict import adequacy_by_vets, grade_by_vets, ruled

OWNER_WORDS = {"animal": "animal", "tub": "tub", "pen": "pen, owner unknown"}


@dataclass(frozen=True)
class JudgedExam:
    """One exam judged for one target: an answer for every stage that must be negative, and one in all.

    ``of_case`` is False for an exam of a stool from before its case was opened: it is shown, and what it says
    was said in an earlier case.
    """

    exam: Exam
    sample: Sample
    target: str
    answers: Mapping[str, ExamAnswer]
    result: str
    reasons: tuple[Reason, ...]
    burdens: tuple[Burden, ...]
    of_case: bool = True

    @property
    def adequate(self) -> bool:
        """Whether it could have shown every stage, whatever was seen."""
        return bool(self.answers) and all(answer.adequate for answer in self.answers.values())

    @property
    def grade(self) -> Grade | None:
        """The heaviest grade of its preparations on one scale, or None."""
        grades = [burden.grade for burden in self.burdens if burden.grade is not None]
        return max(grades, key=lambda one: one.rank) if grades else None

    @property
    def grade_word(self) -> str:
        """The grade that counts: the vet's where one is given, else the counted one, else one from elsewhere."""
        return grade_by_vets(self.exam, self.target) or (
            self.grade.word if self.grade else _stated_grade(self)
        )


def counts_of(exam: Exam, *, sure: bool = True) -> dict[str, int]:
    """Return how many of each name were seen in the whole exam; a vet's name takes the place of the keeper's."""
    seen: dict[str, int] = {}
    for preparation in ruled(exam).preparations:
        for reading in preparation.readings:
            for name, number in reading.tally(sure=sure).items():
                seen[name] = seen.get(name, 0) + number
    return seen


def evidence_of(exam: Exam, sample: Sample, animal: Animal, target: str, stage: str) -> ExamEvidence:
    """Return what one exam can say about one stage of a target.

    A preparation read at several objectives is offered once for each: what was read at a stronger objective
    counts for a weaker one, never the other way round. A preparation without a reading is not offered: what
    nobody looked at says nothing. An exam as told speaks like a result from elsewhere: it is adequate only as
    they state it, whatever its preparations are said to have been. Words of vets on the exam are heard: their
    names count, and an exam that every vet who speaks of it accepts is adequate as stated by them.
    """
    pieces: list[PreparationEvidence] = []
    for preparation in exam.preparations:
        if not preparation.readings:
            continue
        if exam.as_told:
            pieces.append(
                PreparationEvidence(
                    method="from_elsewhere",
                    stated_result="negative",
                    stated_adequate=exam.stated_adequate,
                    stated_by=exam.by,
                )
            )
            continue
        read_at = preparation.read_at or exam.examined_at
        objectives = sorted({r.objective for r in preparation.readings if r.objective is not None})
        fields = sum(reading.kind == "field" for reading in preparation.readings)
        sweeps = any(reading.kind == "sweep" for reading in preparation.readings)
        base = PreparationEvidence(
            method=preparation.method,
            fields=fields if fields and not sweeps else None,
            room_c=preparation.room_c,
            slide_warmed=preparation.slide_warmed,
            solution=preparation.solution,
            specific_gravity=preparation.specific_gravity,
            gravity_checked=preparation.gravity_checked,
            standing_minutes=preparation.standing_minutes,
            sample_g=preparation.sample_g,
            suspension_ml=preparation.suspension_ml,
            counted_ml=preparation.counted_ml,
            passed_minutes_ago=sample.passed_minutes_ago(read_at),
        )
        pieces += [
            replace(base, objective=power, cover_share=share_at(preparation, power)) for power in objectives
        ] or [base]
    pieces += [
        PreparationEvidence(
            method="from_elsewhere",
            stated_result=result.result,
            stated_adequate=result.stated_adequate,
            stated_by=result.who,
        )
        for result in exam.elsewhere
        if result.target == target and result.stage in ("", stage)
    ]
    word, vets = adequacy_by_vets(exam, target)
    if word == "accept" and any(preparation.readings for preparation in exam.preparations):
        pieces.append(
            PreparationEvidence(
                method="from_elsewhere", stated_result="negative", stated_adequate=True, stated_by=vets
            )
        )
    return ExamEvidence(
        target=target,
        stage=stage,
        origin=sample.origin,
        owner=OWNER_WORDS[animal.kind],
        asked_of="animal" if animal.kind == "animal" else "group",
        form=sample.form,
        kept=sample.kept,
        mass_g=sample.mass_g,
        whole_stool_used=sample.whole_stool_used,
        preparations=tuple(pieces),
        counts=counts_of(exam),
        unsure=tuple(name for name, n in counts_of(exam, sure=False).items() if n > 0),
    )


def judge_exam(
    exam: Exam,
    sample: Sample,
    animal: Animal,
    target: str,
    stages: Sequence[str],
    facts: AdequacyFacts,
    scale: GradingScale | None = None,
) -> JudgedExam:
    """Judge an exam for a target: negative only when it is negative for every stage.

    Parameters
    ----------
    stages : sequence of str
        The stages that must be negative.
    scale : GradingScale, optional
        The scale to grade on; no grade without it.
    """
    answers = {stage: judge(evidence_of(exam, sample, animal, target, stage), facts) for stage in stages}
    word, vets = adequacy_by_vets(exam, target)
    if word == "not adequate":
        answers = {stage: _not_adequate(answer, vets) for stage, answer in answers.items()}
    kinds = [answer.for_case for answer in answers.values()]
    if "positive" in kinds:
        result = "positive"
    elif "unsure" in kinds:
        result = "unsure"
    elif kinds and all(kind == "negative" for kind in kinds):
        result = "negative"
    else:
        result = "inconclusive"
    shown = {
        "positive": [a for a in answers.values() if a.result == "positive"],
        "unsure": [a for a in answers.values() if a.unsure],
        "negative": list(answers.values()),
    }.get(result, [a for a in answers.values() if a.result != "negative"])
    reasons = tuple(dict.fromkeys(reason for answer in shown for reason in answer.reasons))
    if result == "inconclusive":
        reasons = (*_not_read(exam), *reasons)
    burdens = burdens_of(exam, target, facts.group_of, scale)
    return JudgedExam(exam, sample, target, answers, result, reasons, burdens)


def _not_adequate(answer: ExamAnswer, vets: str) -> ExamAnswer:
    """Return an answer for an exam that a vet does not find adequate: what was found stands, a negative falls."""
    if answer.result != "negative":
        return replace(answer, adequate=False)
    text = f"{vets}: not adequate. None found says nothing then."
    reason = Reason("vet-not-adequate", text, "Ask the vet what is missing, and examine the next stool.")
    return replace(answer, result="inconclusive", reasons=(reason,), bound=None, adequate=False)


def _not_read(exam: Exam) -> tuple[Reason, ...]:
    """Return a reason for every preparation that nobody has read yet."""
    return tuple(
        Reason(
            "not-read-yet",
            f"Nothing is recorded of what was read in {preparation.code or preparation.method}.",
            f"Type: fecallab exam read {preparation.code or 'CODE'}  (a field or chamber with nothing is 0)",
        )
        for preparation in exam.preparations
        if not preparation.readings
    )


def _site(sample: Sample) -> str:
    return "urine" if sample.origin == "urine" else "gut"


def followup_plan(plan: Plan) -> FollowUpPlan:
    """Return what of a recorded plan the follow-up rule needs (its numbers were filled in when recorded)."""
    return FollowUpPlan(
        goal=plan.goal,
        negatives_needed=plan.negatives_needed or 0,
        spacing_days=plan.spacing_days or 0,
        wait_after_last_dose_days=plan.wait_after_last_dose_days or 0,
        doses_planned=plan.doses_planned,
        interval_days=plan.interval_days or 0,
        written_on=plan.written_on,
        grade_at_most=plan.grade_at_most,
        code=plan.code,
    )


def history_of(
    case: Case,
    plans: Sequence[Plan],
    judged: Iterable[JudgedExam],
    doses: Sequence[DoseGiven],
    events: Sequence[AnimalEvent],
    facts: AdequacyFacts,
) -> CaseHistory:
    """Return a case as the follow-up rule wants it.

    A negative counts only from where the animal was positive: urine speaks for the kidney flagellate, stool
    for the gut.

    Parameters
    ----------
    plans : sequence of Plan
        In the order in which they were written; the last one holds.
    judged : iterable of JudgedExam
        Every exam of the animal, judged for this case's target.
    """
    exams = [one for one in judged if one.of_case]
    sites = [
        _site(one.sample)
        for one in sorted(exams, key=lambda e: e.sample.taken_on)
        if one.result == "positive"
    ]
    site = sites[-1] if sites else "gut"
    exam_facts = []
    for one in exams:
        result = one.result
        if result == "negative" and _site(one.sample) != site:
            result = "inconclusive"
        exam_facts.append(
            ExamFact(
                taken_on=one.sample.taken_on,
                defecation=one.sample.same_stool_as or one.sample.code,
                result=result,
                grade=one.grade_word,
                adequate=one.adequate,
                code=one.exam.code,
            )
        )
    return CaseHistory(
        target=case.target,
        opened_on=case.opened_on,
        plan=followup_plan(plans[-1]) if plans else None,
        exams=tuple(exam_facts),
        doses=tuple(DoseFact(dose.given_at.date(), dose.outcome, dose.plan) for dose in doses),
        pauses=tuple(Pause(event.start, event.end) for event in events if event.kind == "brumation"),
        course_accepted_on=tuple(
            event.start
            for event in events
            if event.kind == "vet accepts course" and event.case in ("", case.code)
        ),
        not_clearable=case.target in facts.not_clearable or case.species in facts.not_clearable,
        opened_by_vet=not case.opened_by_exam,
    )


NO_LONGER_SUPPORTED = "closed, no longer supported"


def closing_state(closing: Closing, on_that_day: Standing, judged: Iterable[JudgedExam]) -> str:
    """Return how a case was closed, and whether what is known today still supports it.

    Parameters
    ----------
    closing : Closing
        The act of a person.
    on_that_day : Standing
        Where the case stands on the day of the closing by what is known now.
    judged : iterable of JudgedExam
        Every exam of the animal, judged for the case's target.
    """
    when = f"closed on {say_date(closing.closed_on)}: {closing.ending}"
    if closing.ending == "goal reached" and not on_that_day.may_close:
        return NO_LONGER_SUPPORTED
    withdrawn = closing.ending == "withdrawn: reading corrected"
    if withdrawn and any(
        one.result == "positive" and one.of_case and one.sample.taken_on <= closing.closed_on
        for one in judged
    ):
        return NO_LONGER_SUPPORTED
    return f"{when} ({closing.vet}: {closing.reason})" if closing.vet else when


def may_close_as(
    ending: str, standing: Standing, judged: Iterable[JudgedExam], *, vet: str, reason: str
) -> None:
    """Refuse a closing that the records do not support.

    Raises
    ------
    Refused
        With what is missing and from which day the next sample counts.
    """
    if ending == "goal reached" and not standing.may_close:
        missing = "" if standing.n is None else f" {standing.k} of {standing.n} exams have counted."
        where = "more negative exams are needed" if standing.standing == K_OF_N else standing.standing
        text = f"The goal is not reached: {where}.{missing}"
        day = standing.next_sample_on_or_after
        step = (
            f"The next stool that counts is one on or after {say_date(day)}."
            if day
            else standing.reasons[0].next
        )
        raise Refused([Reason("goal-not-reached", text, step), *standing.reasons])
    if ending == "on a vet's order" and not (vet and reason):
        text = "Closing a case before its goal is a named vet's order with a reason."
        raise Refused([Reason("order-missing", text, 'Type: --vet "NAME" --reason "WHY"')])
    if ending == "withdrawn: reading corrected":
        positive = [one.exam.code for one in judged if one.result == "positive" and one.of_case]
        if positive:
            text = f"A sure positive still supports this case: exam {', '.join(positive)}."
            raise Refused(
                [Reason("still-supported", text, "Correct the reading first, or choose another ending.")]
            )


def _stated_grade(judged: JudgedExam) -> str:
    return next((r.grade for r in judged.exam.elsewhere if r.target == judged.target and r.grade), "")
