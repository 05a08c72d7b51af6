"""Questions about a dose: today's weight, how the animal is, what the plan makes of it, and what happened."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from fecallab.cli.ask import pick
from fecallab.cli.ask.amounts import GRAMS, read_amount
from fecallab.cli.ask.animals import HEAVIEST_G, LIGHTEST_G, believed_mass
from fecallab.cli.ask.care import remark, when
from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.dose_today import today
from fecallab.cli.ask.moments import say_moment
from fecallab.cli.ask.question import (
    Answer,
    Question,
    Script,
    amount,
    choice,
    is_unknown,
    words,
    yes_no,
)
from fecallab.cli.ask.talk import Talk
from fecallab.cli.typed import plain_number
from fecallab.domain.errors import BadInput, Reason, Refused
from fecallab.domain.spoken import say_change

if TYPE_CHECKING:
    from fecallab.domain.dosing import DoseAnswer
    from fecallab.records.casefile import CaseFile

MORE_THAN_WORKED_OUT = 1.1
"""A volume above this share of what was worked out is asked again (common sense, no source)."""


def give(desk: Desk) -> Script:
    """Ask what happened with a dose, with the volume that the vet's plan and the weight make."""
    picked = yield pick.case(desk, with_drug=True)
    at_answer = yield when(desk, "When was it given?")
    at = datetime.fromisoformat(at_answer.only) if at_answer.only else desk.now
    file = desk.known.case_file(picked.only)
    last = next((w for w in reversed(file.weighings) if w.weighed_at <= at), None)
    if at.date() == desk.now.date() and (last is None or last.weighed_at.date() < at.date()):
        weighed = yield _weight_today(desk, file)
        if weighed.first:
            file = _with_weight(file, float(weighed.first[-1]), desk.now)
    said: dict[str, Any] = {}
    for question in today(file, at):
        answer_today = yield question
        said.update(answer_today.values)
    answer = worked_out(desk, file, at, said)
    confirmed: list[str] = []
    outcome = yield _outcome(file, answer, desk.now)
    if outcome.only == "given":
        if answer.refused:
            already = yield _already()
            if already.typed != "y":
                text = "The dose is refused and was not given; nothing was logged."
                raise Refused([Reason(answer.reasons[0].code, text, answer.reasons[0].next)])
        for warning in answer.warnings if not answer.refused else ():
            if warning.code in answer.to_confirm:
                word = yield _word_of_vet(warning)
                confirmed += [warning.code] * (word.typed == "y")
        yield _confirmed(confirmed)
    yield _volume(outcome.only, answer)
    yield Question(
        key="lot",
        label="lot",
        text="Lot on the bottle?",
        read=words("lot", empty="none"),
        fills=("lot",),
        default="-",
        quiet=True,
    )
    yield remark(False)
    return _notes(outcome.only)


def worked_out(desk: Desk, file: CaseFile, at: datetime, said: dict[str, Any]) -> DoseAnswer:
    """Return what the plan, the last weight and what was said of today make at a moment."""
    from fecallab.cli.dose_options import DOSE_DAY, DOSE_MORE, day_of_dose
    from fecallab.gather_dose import dose_answer

    left_out = {name: option.default for name, (_, option) in {**DOSE_DAY, **DOSE_MORE}.items()}
    heard = {
        name: list(value) if isinstance(value, tuple) else value for name, value in said.items() if value
    }
    return dose_answer(file, at, day=day_of_dose({**left_out, **heard}, (), desk.known.store, file))


def _with_weight(file: CaseFile, mass_g: float, at: datetime) -> CaseFile:
    from fecallab.domain.animal import Weighing

    today = Weighing(animal=file.animal.code, weighed_at=at, mass_g=mass_g)
    return replace(file, weighings=(*file.weighings, today))


def _weight_today(desk: Desk, file: CaseFile) -> Question:
    last = file.weighings[-1] if file.weighings else None
    said = f"{plain_number(last.mass_g)} g, {say_moment(last.weighed_at, desk.now)}" if last else "none"

    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            return Answer(f"not weighed today (last: {said})", {}, "-")
        mass_g = believed_mass(
            read_amount(typed, talk, units=GRAMS, low=LIGHTEST_G, high=HEAVIEST_G), last, talk
        )
        figure = plain_number(mass_g)
        change = f" (before: {said}, {say_change(mass_g, last.mass_g)})" if last else ""
        return Answer(f"{figure} g{change}", {}, figure, ("animal", "weigh", file.animal.code, figure))

    return Question(
        key="weight today",
        label="weight",
        text=f"Weight of {file.animal.name} today in g? (last: {said})",
        read=read,
        default="-",
        default_said="not weighed",
        why="Weigh before every dose: the volume follows the weight. It is recorded as a weight of its own.",
    )


def _outcome(file: CaseFile, answer: DoseAnswer, now: datetime) -> Question:
    from fecallab.domain.plan import OUTCOMES

    plan = file.plan
    last = file.weighings[-1] if file.weighings else None
    weight = f" Weight {plain_number(last.mass_g)} g, {say_moment(last.weighed_at, now)}." if last else ""
    head = (
        f"{file.animal.name}: {plan.drug}, {plan.dose_mg_per_kg} mg/kg {plan.route} by {plan.vet}'s plan.{weight}"
        if plan
        else ""
    )
    if answer.refused:
        lines = [head, *(f"Refused ({reason.code}): {reason}" for reason in answer.reasons)]
    else:
        lines = [head, f"Draw {_volume_said(answer)}.", *(f"Note: {warning}" for warning in answer.warnings)]
    return Question(
        key="outcome",
        label="outcome",
        text="What happened?",
        read=choice("outcome", OUTCOMES),
        fills=("outcome",),
        default=None if answer.refused else "given",
        choices=OUTCOMES,
        before="\n".join(line for line in lines if line),
        why="Only what really happened is logged. A missed dose is never doubled later.",
    )


def _volume_said(answer: DoseAnswer) -> str:
    from fecallab.cli.words import volume_in_words

    if answer.draw_ml is None:
        return "not worked out"
    return f"{answer.draw_ml.normalize():f} ml ({volume_in_words(answer.draw_ml)})"


def _already() -> Question:
    return Question(
        key="already",
        label="given already",
        text="It is refused. Was it given already? y = log it all the same",
        read=yes_no("already"),
        fills=("already",),
        default="n",
        why="Nothing is logged as given against the rules, but what has happened is logged, with the reasons.",
    )


def _word_of_vet(warning: Reason) -> Question:
    def read(typed: str, talk: Talk) -> Answer:
        return replace(yes_no("")(typed, talk), values={})

    return Question(
        key=f"vet on {warning.code}",
        label="vet's word",
        text="Has the vet confirmed it? y, n",
        read=read,
        default="n",
        before=f"It needs the vet's word ({warning.code}): {warning}",
    )


def _confirmed(codes: list[str]) -> Question:
    """Fill the option for confirmed warnings with what the vet's words were."""
    return Question(
        key=f"confirmed {codes}",
        label="",
        text="",
        read=lambda typed, talk: Answer("", {"confirmed": tuple(codes) or None}, "-"),
        fills=("confirmed",),
        default="-",
        quiet=True,
    )


def _volume(outcome: str, answer: DoseAnswer) -> Question:
    worked = _volume_said(answer)
    as_worked = outcome == "given" and answer.draw_ml is not None

    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            return Answer(f"{worked}, as worked out" if as_worked else "not known", {"volume_ml": None}, "-")
        found = amount("volume_ml", "ml", low=0.0001, high=1000)(typed, talk)
        if answer.draw_ml is not None and float(found.only) > float(answer.draw_ml) * MORE_THAN_WORKED_OUT:
            choices = [f"{found.only} ml went in", "type it again"]
            if talk.pick(
                f"{found.only} ml is more than the {answer.draw_ml.normalize():f} ml worked out.", choices
            ):
                raise BadInput("Type the volume again.")
        return found

    return Question(
        key=f"volume {outcome}",
        label="volume",
        text="How many ml went in?",
        read=read,
        fills=("volume_ml",),
        default="-",
        default_said=worked if as_worked else "not known",
        quiet=outcome != "partly given" and (as_worked or outcome != "given"),
    )


def _notes(outcome: str) -> list[str]:
    if outcome == "missed":
        return ["Never double the next dose; tell the vet."]
    if outcome != "given":
        return ["Do not repeat it; call the vet."]
    return []
