"""From the record folder to conclusions: the glue between records, tables and the pure rules."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from fecallab.domain.casework import JudgedExam
from fecallab.domain.followup import Standing

if TYPE_CHECKING:
    from fecallab.domain.animal import Animal
    from fecallab.domain.exam import Exam
    from fecallab.domain.followup_default import FollowupDefault
    from fecallab.domain.grading import GradingScale
    from fecallab.domain.plan import Plan
    from fecallab.domain.residual import ResidualChance
    from fecallab.domain.sample import Sample
    from fecallab.records.casefile import CaseFile


PRIOR = 0.5
PRIOR_SAYS = "an even chance before the first repeat exam (no published figure for this; common practice)"
SENSITIVITY = 0.5
SENSITIVITY_SAYS = "one exam finds one of two infections (fit to repeat stools of people, Cartwright 1999)"
WHAT_LOWERS = "more adequate negatives from stools of other days; a laboratory test by the vet's choice"


def chance_left(standing: Standing) -> ResidualChance | None:
    """Return the chance that infection is left after the exams that counted; None where none counted."""
    from fecallab.domain.residual import residual_chance

    if not standing.k or standing.n is None:
        return None
    return residual_chance(PRIOR, SENSITIVITY, standing.k)


def case_standing(
    file: CaseFile, today: date, *, earlier: bool = True
) -> tuple[list[JudgedExam], Standing, str]:
    """Return the exams judged for a case, where it stands, and how it was closed (empty while open).

    Without `earlier`, exams of stools from before the case was opened are not judged: they are shown beside a
    case, and its standing never rests on them.
    """
    from fecallab.domain.casework import closing_state, history_of
    from fecallab.domain.followup import assess
    from fecallab.reference.adequacy import adequacy_facts

    facts = adequacy_facts()
    judged = judged_exams(file, earlier=earlier)

    def stood(day: date) -> Standing:
        plans = [plan for plan in file.plans if plan.written_on <= day]
        return assess(history_of(file.case, plans, judged, file.doses, file.events, facts), day)

    standing = stood(today)
    if file.closing is None:
        return judged, standing, ""
    return judged, standing, closing_state(file.closing, stood(file.closing.closed_on), judged)


def as_on(file: CaseFile, day: date) -> CaseFile:
    """Return a case's file as it could be known on a day: nothing that happened later."""
    from dataclasses import replace

    from fecallab.domain.verdict import known_on

    samples = {code: sample for code, sample in file.samples.items() if sample.taken_on <= day}
    return replace(
        file,
        plans=tuple(plan for plan in file.plans if plan.written_on <= day),
        doses=tuple(dose for dose in file.doses if dose.given_at.date() <= day),
        samples=samples,
        exams=tuple(known_on(exam, day) for exam in file.exams if exam.examined_at.date() <= day),
        closings=tuple(closing for closing in file.closings if closing.closed_on <= day),
        weighings=tuple(weighing for weighing in file.weighings if weighing.weighed_at.date() <= day),
        care=tuple(entry for entry in file.care if entry.at.date() <= day),
        reactions=tuple(reaction for reaction in file.reactions if reaction.at.date() <= day),
        other_drugs=tuple(drug for drug in file.other_drugs if drug.given_on <= day),
        signs=tuple(answer for answer in file.signs if answer.seen_at.date() <= day),
        words=tuple(word for word in file.words if word.said_on is None or word.said_on <= day),
    )


def judged_exams(file: CaseFile, *, earlier: bool = True) -> list[JudgedExam]:
    """Return every exam of the case's animal, judged for the case's target; or those of the case only."""
    from dataclasses import replace

    from fecallab.domain.casework import judge_exam
    from fecallab.reference.adequacy import adequacy_facts

    case = file.case
    scale = scale_for(case.target, case.stages, file.plan.grade_scale if file.plan else "")
    since = case.exams_since
    return [
        replace(
            judge_exam(exam, sample, file.animal, case.target, case.stages, adequacy_facts(), scale),
            of_case=sample.taken_on >= since,
        )
        for exam, sample in file.exams_with_samples
        if earlier or sample.taken_on >= since
    ]


def scale_for(target: str, stages: Sequence[str], chosen: str = "") -> GradingScale | None:
    """Return the scale to grade a target on: the chosen one, else the default that fits, else None."""
    from fecallab.reference.grading import default_scale, grading_scale

    if chosen:
        return grading_scale(chosen)
    return default_scale(target, stages[0] if stages else "")


def stages_of(target: str, animal: Animal) -> tuple[str, ...]:
    """Return the stages that must be negative for a target in this animal."""
    from fecallab.reference.followup import followup_default

    default = followup_default(target, animal.host_group, plant_eater=animal.plant_eater, adult=animal.adult)
    return default.stages


def judge_alone(exam: Exam, sample: Sample, animal: Animal, target: str) -> JudgedExam:
    """Return one exam judged for a target, without a case."""
    from fecallab.domain.casework import judge_exam
    from fecallab.reference.adequacy import adequacy_facts

    stages = stages_of(target, animal)
    return judge_exam(exam, sample, animal, target, stages, adequacy_facts(), scale_for(target, stages))


def normal_inhabitant_note(exam: Exam, target: str, animal: Animal) -> str:
    """Return the note when everything sure of a target is a normal inhabitant of this animal, else empty."""
    from fecallab.domain.casework import counts_of
    from fecallab.domain.organism import is_normal_inhabitant
    from fecallab.reference.adequacy import adequacy_facts
    from fecallab.reference.organisms import organisms_by_key

    groups = adequacy_facts().group_of
    names = [name for name, n in counts_of(exam).items() if n > 0 and groups[name] == target]
    names += [one.target for one in exam.elsewhere if one.result == "positive" and one.target == target]
    organisms = organisms_by_key()
    normal = names and all(
        is_normal_inhabitant(
            name, organisms, [animal.host_group], plant_eater=animal.plant_eater, adult=animal.adult
        )
        for name in names
    )
    if not normal:
        return ""
    return (
        f"{target} is a normal inhabitant of this animal: no case is opened. "
        f"A vet may decide otherwise: fecallab case open {animal.code} {target} --vet NAME"
    )


def plan_with_defaults(plan: Plan, file: CaseFile) -> Plan:
    """Fill what a plan leaves open about the follow-up, and say where each number comes from.

    The numbers are copied into the plan, so that a new edition of the tables never moves an old conclusion.
    """
    from dataclasses import replace

    from fecallab.reference.adequacy import adequacy_facts
    from fecallab.reference.followup import followup_default
    from fecallab.reference.tables import EDITION

    animal, case = file.animal, file.case
    facts = adequacy_facts()
    default = followup_default(
        case.target, animal.host_group, plant_eater=animal.plant_eater, adult=animal.adult
    )
    beyond = bool({case.target, case.species} & facts.not_clearable)
    goal = default.goal if beyond or not plan.goal else plan.goal
    scale = plan.grade_scale
    if goal == "low burden" and not scale:
        fitting = scale_for(case.target, case.stages)
        scale = fitting.key if fitting else ""
    return replace(
        plan,
        goal=goal,
        negatives_needed=plan.negatives_needed
        if plan.negatives_needed is not None
        else default.negatives_needed,
        spacing_days=plan.spacing_days if plan.spacing_days is not None else default.spacing_days,
        wait_after_last_dose_days=plan.wait_after_last_dose_days
        if plan.wait_after_last_dose_days is not None
        else default.wait_after_last_dose_days,
        grade_at_most=plan.grade_at_most or ("few" if goal == "low burden" else ""),
        grade_scale=scale,
        follow_up_source=_follow_up_source(plan, default),
        edition=EDITION,
    )


DEFAULT_WORDS = {"common practice": "default by custom", "proposal": "default proposed by this program"}


def _follow_up_source(plan: Plan, default: FollowupDefault) -> str:
    """Say which numbers of a follow-up are the vet's, and what the others rest on."""
    numbers = {
        "number of exams": plan.negatives_needed,
        "spacing": plan.spacing_days,
        "wait": plan.wait_after_last_dose_days,
    }
    by_vet = [name for name, value in numbers.items() if value is not None]
    if len(by_vet) == len(numbers):
        return f"by {plan.vet}"
    head = f"{' and '.join(by_vet)} by {plan.vet}; the rest is " if by_vet else ""
    return f"{head}{DEFAULT_WORDS.get(default.source_kind, 'default')}: {default.note or default.source}"


def group_of(name: str) -> str:
    """Return the group that the eye can tell for an organism key or a group."""
    from fecallab.reference.adequacy import adequacy_facts

    return adequacy_facts().group_of[name]


def targets_seen(exam: Exam, *, unsure: bool = True) -> list[str]:
    """Return the target groups of which anything was seen (unsure ones too unless told not)."""
    from fecallab.domain.casework import counts_of
    from fecallab.domain.organism import is_target_group

    names = [name for name, n in counts_of(exam).items() if n > 0]
    if unsure:
        names += [name for name, n in counts_of(exam, sure=False).items() if n > 0]
    groups = [group_of(name) for name in names]
    groups += [r.target for r in exam.elsewhere if r.result == "positive"]
    return [group for group in dict.fromkeys(groups) if is_target_group(group)]


def targets_of(exam: Exam, asked: Sequence[str]) -> list[str]:
    """Return what an exam is judged for: what is asked, what was seen, what others looked for."""
    stated = [result.target for result in exam.elsewhere]
    return list(dict.fromkeys([*asked, *targets_seen(exam), *stated]))
