"""A plan that came with a vet's answer: read over by the keeper, then recorded, never by itself."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.agree import YES, agreed
from fecallab.cli.common import BY, JSON, RECORDS, fact_dict, now, open_folder, who
from fecallab.cli.output import emit, one_line
from fecallab.domain.spoken import say_date

if TYPE_CHECKING:
    from fecallab.domain.plan import Plan
    from fecallab.domain.vet_words import CaseWord, VetAnswer
    from fecallab.records.casefile import CaseFile
    from fecallab.records.writer import Writer

TAKEN_FROM_NEW = (
    *("component", "route", "interval_days", "doses_planned", "weight_max_age_days", "repeats_allowed"),
    *("fluids", "fluids_ml_per_kg_day", "feeding", "warm_end_at_least_c", "night_at_least_c", "remark"),
)


def register(app: typer.Typer) -> None:
    """Add the command ``plan``."""
    app.command()(plan)


def plan(
    word: str = typer.Argument(help="Code of the vet's word on the case, such as N1."),
    decline: str = typer.Option("", "--decline", help="Do not record it; say why (it is kept)."),
    taken_as: str = typer.Option("", "--taken-as", help="You recorded it yourself as this plan, such as P2."),
    yes: bool = YES,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Read over a plan that came with a vet's answer; it becomes a plan when you agree."""
    from dataclasses import replace

    from fecallab.cli.plan_options import plan_fields

    with open_folder(records) as store:
        found, answer, file = _open_word(store, word)
        if decline or taken_as:
            made = None
        elif found.plan_kind == "new" and not found.plan_says.startswith("{"):
            step = _by_hand(found, answer)
            emit(
                {"recorded": False, "word": fact_dict(found), "type": step},
                _in_words(found, answer, step),
                as_json,
            )
            return
        else:
            made = plan_from(found, answer, file)
    if made is not None:
        lines = [
            f"{found.code}: {one_line(answer.vet)} of {say_date(answer.answered_at)} for {file.case.code} ({file.animal.name})"
        ]
        lines += [f"  {one_line(line)}" for line in plan_fields(made)]
        lines.append(
            "  Read every line against what the vet wrote. A dose is worked out and checked only later."
        )
        if not agreed("\n".join(lines), yes, as_json):
            payload = {"recorded": False, "word": fact_dict(found), "plan": fact_dict(made)}
            emit(payload, "Nothing was recorded. To record it: add --yes", as_json)
            return
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        found, answer, file = _open_word(writer, word)
        recorded = None
        if decline:
            new, reason = replace(found, declined=decline), f"declined by the keeper: {decline}"
        else:
            recorded = (
                _named_plan(writer, taken_as, file)
                if taken_as
                else writer.add(plan_from(found, answer, file))
            )
            new, reason = replace(found, taken_as=recorded.code), f"read over and recorded as {recorded.code}"
        writer.correct(found.code, new, reason)
    if recorded is None:
        emit(
            {"recorded": False, "declined": decline},
            f"{found.code} is declined: {decline}. No plan was recorded.",
            as_json,
        )
        return
    text = f"{recorded.code} for {file.case.code}: the plan of {one_line(recorded.vet)}, read over by {who(by)}. Recorded."
    if recorded.doses_planned:
        text += f"\n  Next: weigh {file.animal.name}, then: fecallab dose work-out {file.case.code}"
    emit({"recorded": True, "plan": fact_dict(recorded), "word": found.code}, text, as_json)


def _open_word(reader: Any, code: str) -> tuple[CaseWord, VetAnswer, CaseFile]:
    from fecallab.domain.errors import BadInput
    from fecallab.records.vet_words import answers, case_word

    found = case_word(reader, code)
    if not found.open:
        said = (
            f"It was recorded as {found.taken_as}."
            if found.taken_as
            else f"It was declined: {found.declined}."
        )
        if not (found.taken_as or found.declined):
            said = "It holds advice and no plan."
        raise BadInput(
            f"{found.code} is not open. {said}",
            next=f"Type: fecallab plan show {found.case}",
            code="not-open",
        )
    answer = next(one for one in answers(reader) if one.code == found.answer)
    return found, answer, reader.case_file(found.case)


def plan_from(word: CaseWord, answer: VetAnswer, file: CaseFile) -> Plan:
    """Return the plan that a word on a case would become, with the checks of ``plan add``.

    Raises
    ------
    BadInput
        When the treatment is not whole or its numbers cannot be meant: nothing is guessed.
    Refused
        When the case is closed.
    """
    from dataclasses import replace

    from fecallab.cli.plan import check_follow_up, check_goal, check_grade, check_treatment
    from fecallab.cli.typed import plain_number
    from fecallab.domain.errors import BadInput, Reason, Refused
    from fecallab.domain.plan import Plan
    from fecallab.gather import plan_with_defaults

    if file.closing is not None:
        text = f"{file.case.code} was closed on {say_date(file.closing.closed_on)} ({file.closing.ending})."
        step = f"Open a new one: fecallab case open {file.animal.code} {file.case.target} --vet NAME"
        raise Refused([Reason("case-closed", text, step)])
    day = answer.answered_at.date()
    if file.plan is not None and day < file.plan.written_on:
        text = (
            f"The plan is of {say_date(day)}, older than the one in force ({say_date(file.plan.written_on)})."
        )
        raise BadInput(text, next="Decline it, or ask the vet.", code="plan-older")
    follow: dict[str, Any] = json.loads(word.follow_up_says) if word.follow_up_says else {}
    base = _base(word, file)
    if word.plan_kind == "new":
        says = json.loads(word.plan_says)
        dose, strength = says.get("dose_mg_per_kg"), says.get("concentration_mg_per_ml")
        drug = str(says.get("drug", "")).strip().lower()
        interval = says.get("interval_days")
        check_treatment(drug, dose, strength, says.get("route", ""), interval, says.get("doses_planned", 0))
        base = Plan(
            case=file.case.code,
            vet=answer.vet,
            written_on=day,
            goal="",
            drug=drug,
            dose_mg_per_kg=plain_number(float(dose)) if dose else "",
            concentration_mg_per_ml=plain_number(float(strength)) if strength else "",
            **{name: says[name] for name in TAKEN_FROM_NEW if name in says},
        )
    check_follow_up(
        {
            "--negatives": follow.get("negatives_needed"),
            "--spacing-days": follow.get("spacing_days"),
            "--wait-days": follow.get("wait_after_last_dose_days"),
        }
    )
    made = replace(
        base,
        code="",
        vet=answer.vet,
        written_on=day,
        **{name: value for name, value in follow.items() if value not in ("", None)},
    )
    check_goal(made.goal, made.drug)
    made = plan_with_defaults(made, file)
    check_grade(made)
    return made


def _base(word: CaseWord, file: CaseFile) -> Plan:
    """Return the plan that is repeated, or whose treatment goes on when only the follow-up is new."""
    from dataclasses import replace

    from fecallab.domain.errors import BadInput
    from fecallab.domain.plan import Plan

    if word.plan_kind == "new":
        return Plan(case=file.case.code, vet="", written_on=file.case.opened_on)
    if word.plan_kind == "same":
        last = next((one for one in file.plans if one.code == word.same_as), None)
        if last is None:
            raise BadInput(f"The plan {word.same_as} is gone.", next="Ask the vet.", code="no-plan")
        remark = f"the same plan as {last.code} of {say_date(last.written_on)}"
        return replace(last, volume_written_ml="", picture="", as_told=False, confirmed=(), remark=remark)
    _refuse_while_running(word, file)
    # no drug is carried over, since that would begin a course that nobody ordered
    return Plan(case=file.case.code, vet="", written_on=file.case.opened_on, goal="", remark="follow-up only")


def _refuse_while_running(word: CaseWord, file: CaseFile) -> None:
    """Refuse a follow-up alone while a course runs: as a new plan it would end the course."""
    from fecallab.domain.errors import Reason, Refused

    if file.plan is None:
        return
    given = sum(dose.outcome == "given" for dose in file.doses if dose.plan == file.plan.code)
    if given < file.plan.doses_planned:
        text = (
            f"{given} of {file.plan.doses_planned} doses of {file.plan.code} are given; a follow-up alone would"
            " end that course."
        )
        step = f"When the course is done: fecallab verdict plan {word.code}  (or decline it and ask the vet)"
        raise Refused([Reason("course-running", text, step)])


def _named_plan(writer: Writer, code: str, file: CaseFile) -> Plan:
    from fecallab.domain.errors import BadInput

    found = writer.plan(code)
    if found.case != file.case.code:
        raise BadInput(
            f"{found.code} is a plan of {found.case}, not of {file.case.code}.",
            next="Name a plan of this case.",
            code="other-case",
        )
    return found


def _by_hand(word: CaseWord, answer: VetAnswer) -> str:
    import shlex

    day = answer.answered_at.date()
    return f"fecallab plan add {word.case} --vet {shlex.quote(one_line(answer.vet))} --written {day} --drug … (as the vet wrote it)"


def _in_words(word: CaseWord, answer: VetAnswer, step: str) -> str:
    return (
        f"{word.code}: {one_line(answer.vet)} wrote for {word.case}: {one_line(word.plan_says)}\n"
        f"  It is in words, so you type it: {step}\n"
        f"  Then: fecallab verdict plan {word.code} --taken-as P…   or: --decline WHY"
    )
