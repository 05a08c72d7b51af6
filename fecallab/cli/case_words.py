"""A case in words: where it stands and why, what was found, what was given, what chance is left."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from fecallab.cli.common import fact_dict
from fecallab.cli.output import one_line
from fecallab.cli.words import standing_headline, standing_payload, table, table_with_notes
from fecallab.domain.animal import AS_TOLD
from fecallab.domain.casework import JudgedExam
from fecallab.domain.cleaning import cleanings, last_dose_day
from fecallab.domain.control_note import not_proven
from fecallab.domain.exam_counts import counts_towards
from fecallab.domain.followup import Standing
from fecallab.domain.spoken import every_days, number_of, say_date, say_percent, say_time
from fecallab.domain.verdict import grade_by_vets
from fecallab.gather import PRIOR, PRIOR_SAYS, SENSITIVITY, SENSITIVITY_SAYS, WHAT_LOWERS, chance_left
from fecallab.gather_doubt import case_in_doubt
from fecallab.gather_notes import case_notes, control_note_for, sign_dict, signs_of
from fecallab.gather_vet import reading_words, verdict_lines

if TYPE_CHECKING:
    from fecallab.domain.control import ControlRun
    from fecallab.domain.keeper_and_vet import Sensitivity
    from fecallab.domain.plan import Plan
    from fecallab.records.casefile import CaseFile


def case_lines(
    file: CaseFile,
    judged: Sequence[JudgedExam],
    standing: Standing,
    state: str,
    today: date,
    controls: Sequence[ControlRun] = (),
    reading: Sensitivity | None = None,
) -> list[str]:
    """Return everything about a case, a line each.

    Parameters
    ----------
    controls : sequence of ControlRun
        The control runs of the collection.
    reading : Sensitivity, optional
        How often its keepers found what a vet found.
    """
    case = file.case
    lines = [
        f"{case.code}: {case.target} in {file.animal.name}"
        f"{f' ({case.species})' if case.species else ''}, opened {say_date(case.opened_on)}"
    ]
    if state:
        lines.append(f"  {state}")
    lines.append(f"On {say_date(today)}: {standing_headline(standing)}")
    lines += [
        f"  - {reason.text if state and reason.code == 'goal-reached' else reason}"
        for reason in standing.reasons
    ]
    lines += [f"  ! {note}" for note in case_notes(file, judged, standing, controls, today)]
    lines += plan_lines(file)
    if judged:
        rows = [
            [
                one.exam.code,
                say_date(one.sample.taken_on),
                f"{one.result}, not proven" if _doubted(one, controls) else one.result,
                one.grade_word or "-",
                _counts(one, standing, controls),
            ]
            for one in judged
        ]
        why = [_why(one, controls) for one in judged]
        lines += ["Exams:", table_with_notes(["exam", "stool of", "result", "grade", "counts"], rows, why)]
    said = [(one.exam.code, one_line(line)) for one in judged for line in verdict_lines(one.exam)]
    lines += (
        ["Words of vets, beside your own names:", *(f"  {exam}, {line}" for exam, line in said)]
        if said
        else []
    )
    if file.doses:
        rows = [
            [say_time(d.given_at), d.outcome, f"{d.volume_ml or '-'} ml", _told(d, d.by)] for d in file.doses
        ]
        lines += ["Doses:", table(["when", "what happened", "volume", "by"], rows)]
    chance = chance_left(standing)
    if chance is not None:
        lines.append(
            f"Chance that it is still there: {say_percent(PRIOR)} before, after {number_of(standing.k, 'negative')}"
            f" {say_percent(chance.independent)} if exams are independent, {say_percent(chance.cautious)} cautious."
        )
        lines.append(f"  Prior: {PRIOR_SAYS}. Sensitivity: {SENSITIVITY_SAYS}.")
        lines.append(f"  {chance.note} What would lower it: {WHAT_LOWERS}.")
        lines += [f"  {words}"] if (words := reading_words(standing, reading)) else []
    return lines


def _counts(one: JudgedExam, standing: Standing, controls: Sequence[ControlRun]) -> str:
    counts, why = counts_towards(one, standing)
    said = "no" if not counts else "yes, in doubt" if _doubted(one, controls) else "yes"
    return f"{said}: {why}"


def _why(one: JudgedExam, controls: Sequence[ControlRun]) -> str:
    """Return the first reason; beside a negative, when the method was last shown to find anything."""
    said = one.reasons[0].text if one.reasons else ""
    if one.result == "negative" and not one.exam.as_told and not _doubted(one, controls):
        note = control_note_for(controls, one.exam, one.result)
        said += f" {note}." if note else ""
    return _told(one.exam, said)


def _doubted(judged: JudgedExam, controls: Sequence[ControlRun]) -> bool:
    """Say whether a failed control run puts a negative in doubt."""
    return judged.result == "negative" and bool(not_proven(controls, judged.exam))


def _told(fact: Any, said: str) -> str:
    """Return what is said of a fact, marked where it was only told."""
    return f"{said} ({AS_TOLD})".strip() if fact.as_told else said


def plan_lines(file: CaseFile) -> list[str]:
    """Return the plan in force in two lines."""
    plan = file.plan
    if plan is None:
        return ["Plan: none yet."]
    line = f"Plan {plan.code} of {say_date(plan.written_on)} by {_told(plan, plan.vet)}: goal {plan.goal}"
    if plan.drug:
        line += f"; {course_words(plan)}"
    return [line, f"  {follow_up_words(plan)}"] if plan.negatives_needed is not None else [line]


def course_words(plan: Plan) -> str:
    """Return the drug of a plan with its numbers: ``fenbendazole 50 mg/kg by mouth, 100 mg/ml, 2 doses …``."""
    often = f" {every_days(plan.interval_days)}" if plan.interval_days and plan.doses_planned > 1 else ""
    return (
        f"{plan.drug} {plan.dose_mg_per_kg} mg/kg {plan.route}, {plan.concentration_mg_per_ml} mg/ml,"
        f" {number_of(plan.doses_planned, 'dose')}{often}"
    )


def follow_up_words(plan: Plan) -> str:
    """Return the follow-up of a plan, and where its numbers are from."""
    return (
        f"Follow-up: {number_of(plan.negatives_needed or 0, 'negative')},"
        f" {number_of(plan.spacing_days or 0, 'day')} apart, from"
        f" {number_of(plan.wait_after_last_dose_days or 0, 'day')} after the last dose"
        f" ({plan.follow_up_source.rstrip('.')})"
    )


def case_payload(
    file: CaseFile,
    judged: Sequence[JudgedExam],
    standing: Standing,
    state: str,
    today: date,
    controls: Sequence[ControlRun] = (),
    reading: Sensitivity | None = None,
) -> dict[str, Any]:
    """Return everything about a case for ``--json``."""
    chance = chance_left(standing)
    return {
        "case": fact_dict(file.case),
        "animal": fact_dict(file.animal),
        "today": today,
        "closed": state,
        **standing_payload(standing),
        "plan": fact_dict(file.plan) if file.plan else None,
        "exams": [
            {
                "exam": one.exam.code,
                "sample": one.sample.code,
                "taken_on": one.sample.taken_on,
                "result": one.result,
                "grade": one.grade_word or None,
                "grade_scale": one.grade.scale_name if one.grade else None,
                "grade_by_vet": grade_by_vets(one.exam, one.target) or None,
                "reasons": [reason.as_dict() for reason in one.reasons],
                "not_proven": _doubted(one, controls),
                "counts": counts_towards(one, standing)[0],
                "counts_why": counts_towards(one, standing)[1],
                "as_told": one.exam.as_told,
            }
            for one in judged
        ],
        "counted_not_proven": case_in_doubt(controls, judged, standing),
        "doses": [fact_dict(dose) for dose in file.doses],
        "reactions": [fact_dict(one) for one in file.reactions if one.at.date() <= today],
        "signs": [
            sign_dict(one) for one in signs_of(file.animal, file.signs, file.weighings, file.events, today)
        ],
        "cleaned_on": [day for day in cleanings(file.care, last_dose_day(file.doses)) if day <= today],
        "notes": case_notes(file, judged, standing, controls, today),
        "chance_left": None
        if chance is None
        else {
            "prior": PRIOR,
            "prior_source": PRIOR_SAYS,
            "sensitivity": SENSITIVITY,
            "sensitivity_source": SENSITIVITY_SAYS,
            "independent": chance.independent,
            "cautious": chance.cautious,
            "lowered_by": WHAT_LOWERS,
            "keepers_reading": reading_words(standing, reading),
        },
        "vets_words": {one.exam.code: said for one in judged if (said := verdict_lines(one.exam))},
        "vets_words_on_case": [{**fact_dict(word), "open": word.open} for word in file.words],
    }
