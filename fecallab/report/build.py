"""Fills the pages from the record folder: what was recorded, judged by the rules, in words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

from fecallab.domain.adequacy import ExamAnswer, ask
from fecallab.domain.animal import AS_TOLD
from fecallab.domain.casework import NO_LONGER_SUPPORTED, JudgedExam, evidence_of
from fecallab.domain.exam import Exam, Preparation, method_words
from fecallab.domain.followup import COURSE_INCOMPLETE, NOT_TREATED, ON_TREATMENT, Pause, Standing
from fecallab.domain.spoken import say_date
from fecallab.domain.verdict import ruled
from fecallab.gather import (
    PRIOR,
    PRIOR_SAYS,
    SENSITIVITY,
    SENSITIVITY_SAYS,
    WHAT_LOWERS,
    case_standing,
    chance_left,
    judge_alone,
    targets_of,
)
from fecallab.gather_notes import case_notes, exam_notes
from fecallab.gather_vet import keeper_sensitivity, reading_words
from fecallab.report.model import (
    AdequacyBlock,
    AnswerBlock,
    CasePage,
    ChanceBlock,
    ConditionLine,
    CountRow,
    ExamPage,
    ExamPoint,
    PageStamp,
    PreparationBlock,
)
from fecallab.report.picture_blocks import organism_words, pictures_of
from fecallab.report.words import reading_lines

if TYPE_CHECKING:
    from fecallab.domain.animal import Animal
    from fecallab.domain.sample import Sample
    from fecallab.records.casefile import CaseFile
    from fecallab.records.reader import Reader

STOOL_CANNOT_SHOW = (
    "viruses, bacteria and fungi, mites and ticks",
    "parasites outside the gut (blood, lungs, muscles, most flukes of the vessels)",
    "infections that do not shed yet, or not on that day",
    "Cryptosporidium and other organisms that need a laboratory test",
)


def stamp(today: date) -> PageStamp:
    """Return what every page says about itself."""
    from fecallab import __version__
    from fecallab.reference.tables import EDITION

    return PageStamp(made_on=today, program_version=__version__, edition=EDITION)


def exam_page(records: Reader, code: str, today: date) -> ExamPage:
    """Return the page of one exam, judged for the cases of its animal and for what was seen."""
    exam = records.exam(code)
    sample = records.sample(exam.sample)
    animal = records.animal(sample.animal)
    cases = records.cases(animal.code)
    targets = targets_of(exam, [case.target for case in cases])
    judged = [judge_alone(exam, sample, animal, target) for target in targets]
    return ExamPage(
        stamp=stamp(today),
        animal=animal,
        sample=sample,
        exam=exam,
        answers=tuple(
            AnswerBlock(target=one.target, stage=stage, answer=answer)
            for one in judged
            for stage, answer in one.answers.items()
        ),
        preparations=tuple(
            _preparation_block(preparation, exam, sample, animal, judged) for preparation in exam.preparations
        ),
        counts=tuple(row for one in judged for row in _count_rows(one)),
        pictures=pictures_of(records, exam, verdicts=True),
        means=_means(judged),
        does_not_mean=_does_not_mean(judged),
        notes=exam_notes(records, exam, sample, animal, judged, today),
        cautions=_cautions("microscope bench"),
    )


def case_page(records: Reader, code: str, today: date) -> CasePage:
    """Return the page of one case as it stands today."""
    file = records.case_file(code)
    judged, standing, state = case_standing(file, today)
    counted = {exam.code for exam in standing.counted}
    opening = next((one for one in judged if one.result == "positive"), None)
    chance = chance_left(standing)
    supported = file.closing is not None and state != NO_LONGER_SUPPORTED
    return CasePage(
        stamp=stamp(today),
        animal=file.animal,
        case=file.case,
        about=f"{file.case.target} ({', '.join(file.case.stages)})",
        standing=standing,
        plan=file.plan,
        earlier_plans=tuple(file.plans[:-1]),
        exams=tuple(
            sorted(
                (_point(one, counted, judged, standing) for one in judged), key=lambda point: point.taken_on
            )
        ),
        doses=tuple(file.doses),
        weights=tuple(file.weighings),
        care=tuple(file.care),
        pauses=_pauses(file),
        wait=_wait(file, standing),
        chance=None
        if chance is None
        else ChanceBlock(
            prior=PRIOR,
            prior_from=PRIOR_SAYS,
            sensitivity=SENSITIVITY,
            sensitivity_from=SENSITIVITY_SAYS,
            negatives=standing.k,
            chance=chance,
            lowered_by=WHAT_LOWERS,
            keepers_reading=reading_words(standing, keeper_sensitivity(records, file.case.target)),
        ),
        next_steps=("Nothing is due. A new sure positive opens a new case.",) if supported else (),
        closing=file.closing,
        closing_supported=supported or file.closing is None,
        pictures=pictures_of(records, opening.exam, verdicts=True)[:6] if opening else (),
        notes=case_notes(file, judged, standing, records.controls(), today),
        cannot_show=STOOL_CANNOT_SHOW,
        cautions=_cautions("dose by mouth", "closing a case"),
    )


def _cautions(*acts: str) -> tuple[str, ...]:
    from fecallab.domain.safety import cautions_for

    return tuple(dict.fromkeys(caution.text for act in acts for caution in cautions_for(act)))


def _preparation_block(
    preparation: Preparation, exam: Exam, sample: Sample, animal: Animal, judged: Sequence[JudgedExam]
) -> PreparationBlock:
    blocks = [
        block
        for one in judged
        for stage, answer in one.answers.items()
        for block in _adequacy_blocks(preparation, exam, sample, animal, one.target, stage, answer)
    ]
    return PreparationBlock(
        preparation=preparation,
        method=method_words(preparation.method),
        adequacy=tuple(blocks),
        readings=reading_lines(preparation, organism_words()),
    )


def _adequacy_blocks(
    preparation: Preparation,
    exam: Exam,
    sample: Sample,
    animal: Animal,
    target: str,
    stage: str,
    answer: ExamAnswer,
) -> list[AdequacyBlock]:
    """Return every route that this preparation could take for a stage, question by question.

    Where it was read at several objectives, the one that answers most questions with yes is shown.
    """
    from dataclasses import replace

    from fecallab.reference.adequacy import adequacy_facts

    if exam.as_told:
        silent = "" if exam.stated_adequate is not None else ", and they do not state it"
        note = f"{AS_TOLD}; adequate only as they state it{silent}"
        return [AdequacyBlock(what=f"{target}, {stage}", adequate=exam.stated_adequate is True, note=note)]
    facts = adequacy_facts()
    evidence = evidence_of(replace(exam, preparations=(preparation,)), sample, animal, target, stage)
    what = f"{target}, {stage}"
    blocks: list[AdequacyBlock] = []
    for route in facts.routes:
        if (
            target not in route.targets
            or stage not in route.stages
            or preparation.method not in route.methods
        ):
            continue
        best: tuple[ConditionLine, ...] = ()
        best_yes = -1
        for piece in evidence.preparations:
            asked = [(c, ask(c, piece, evidence)) for c in route.conditions]
            lines = tuple(
                ConditionLine(question=c.question, answer=said, next="" if said == "yes" else c.next)
                for c, said in asked
                if said != "not asked"
            )
            yes = sum(line.answer == "yes" for line in lines)
            if yes > best_yes:
                best, best_yes = lines, yes
        fits = best_yes == len(best)
        blocks.append(AdequacyBlock(what=what, adequate=fits, conditions=best, note=route.says))
    if blocks:
        fitting = [block for block in blocks if block.adequate]
        return fitting[:1] or blocks[:1]
    reasons = [
        blind.reason.text
        for blind in facts.blind
        if preparation.method in blind.methods
        and ("any" in blind.stages or stage in blind.stages)
        and ("any" in blind.targets or target in blind.targets)
    ]
    note = reasons[0] if reasons else "Finding none by this method would prove nothing."
    return [AdequacyBlock(what=what, adequate=False, note=note)]


def _count_rows(judged: JudgedExam) -> list[CountRow]:
    from fecallab.reference.adequacy import adequacy_facts

    groups = adequacy_facts().group_of
    rows = []
    for burden in judged.burdens:
        preparation = next(p for p in ruled(judged.exam).preparations if p.code == burden.preparation)
        readings = [r for r in preparation.readings if r.objective == burden.objective]
        unsure = sum(
            n for r in readings for name, n in r.tally(sure=False).items() if groups[name] == judged.target
        )
        fields = tuple(
            sum(n for name, n in r.tally().items() if groups[name] == judged.target)
            for r in readings
            if r.kind == "field"
        )
        bound = next((a.bound for a in judged.answers.values() if a.bound), None)
        where = f"{burden.preparation} {method_words(burden.method)}"
        rows.append(
            CountRow(
                organism=judged.target,
                where=f"{where}, {burden.objective:g}×" if burden.objective else where,
                total=burden.total,
                unsure=unsure,
                per_field_counts=fields,
                density=burden.per_field,
                grade=burden.grade,
                cover_share=burden.cover_share,
                per_g=burden.per_gram,
                per_g_ci95=burden.per_gram_ci95,
                bound=bound if burden.total == 0 and judged.result == "negative" else None,
                note="; ".join(burden.cautions),
            )
        )
    return rows


def _means(judged: Sequence[JudgedExam]) -> tuple[str, ...]:
    said = []
    for one in judged:
        if one.result == "positive":
            said.append(f"{one.target.capitalize()}: seen and sure. What follows is the vet's decision.")
        elif one.result == "negative":
            said.append(f"{one.target.capitalize()}: none found, by an exam that could have shown it.")
        elif one.result == "unsure":
            said.append(f"{one.target.capitalize()}: an unsure mark waits for the vet's word.")
        else:
            said.append(f"{one.target.capitalize()}: this exam does not tell; what was missing stands above.")
    return tuple(said)


def _does_not_mean(judged: Sequence[JudgedExam]) -> tuple[str, ...]:
    said = [
        "It is no diagnosis: many animals carry parasites and are well, others are ill for other reasons."
    ]
    if any(one.result == "negative" for one in judged):
        said.append("None found is not 'free': the limit beside the count says what may still be there.")
    said.append("Stools cannot show " + "; ".join(STOOL_CANNOT_SHOW) + ".")
    return tuple(said)


def _point(
    judged: JudgedExam, counted: set[str], others: Sequence[JudgedExam], standing: Standing
) -> ExamPoint:
    burden = max(
        judged.burdens,
        key=lambda b: (b.per_gram is not None, b.per_field is not None, b.total),
        default=None,
    )
    value: float | None = None
    ci95: tuple[float, float] | None = None
    unit = ""
    if burden is not None and burden.per_gram is not None:
        value, ci95, unit = burden.per_gram, burden.per_gram_ci95, "per gram"
    elif burden is not None and burden.per_field is not None:
        value, ci95 = burden.per_field.mean_per_field, burden.per_field.ci95
        unit = f"per field at {burden.objective:g}×" if burden.objective else "per field"
    bounds = [a.bound for a in judged.answers.values() if a.bound is not None]
    limit = None
    if judged.result == "negative":
        if unit == "per gram" or (not unit and bounds):
            limit, unit = (bounds[0].value, "per gram") if bounds else (None, unit)
        elif burden is not None and burden.per_field is not None:
            limit = burden.per_field.upper95_if_zero
    return ExamPoint(
        code=judged.exam.code,
        taken_on=judged.sample.taken_on,
        result=judged.result,
        counted=judged.exam.code in counted,
        burden=None if judged.result == "negative" else value,
        ci95=None if judged.result == "negative" else ci95,
        upper_limit=limit,
        unit=unit,
        grade=judged.grade_word,
        said=_why(judged, counted, others, standing),
        page=f"exam-{judged.exam.code}.html",
    )


def _why(judged: JudgedExam, counted: set[str], others: Sequence[JudgedExam], standing: Standing) -> str:
    """Say what an exam showed, what none found still allows, and why it does not count if it does not."""
    said = [reason.text for reason in judged.reasons[:1]]
    if judged.result != "negative":
        return " ".join(said)
    said += [f"Limit: {a.bound.says}." for a in judged.answers.values() if a.bound is not None]
    if judged.exam.code not in counted:
        day = judged.sample.taken_on
        later = [one for one in others if one.result == "positive" and one.sample.taken_on > day]
        notes = [reason.text for reason in standing.reasons if f"exam of {say_date(day)} " in reason.text]
        if later:
            notes = [f"The positive of {say_date(later[-1].sample.taken_on)} started the count anew."]
        said += notes
    return " ".join(said)


def _pauses(file: CaseFile) -> tuple[Pause, ...]:
    return tuple(Pause(event.start, event.end) for event in file.events if event.kind == "brumation")


def _wait(file: CaseFile, standing: Standing) -> tuple[date, date] | None:
    """Return the wait from the last dose, as far as it can be drawn."""
    plan = file.plan
    given = [dose.given_at.date() for dose in file.doses if dose.outcome == "given"]
    if plan is None or not given or standing.standing in (NOT_TREATED, ON_TREATMENT, COURSE_INCOMPLETE):
        return None
    return given[-1], given[-1] + timedelta(days=plan.wait_after_last_dose_days or 0)
