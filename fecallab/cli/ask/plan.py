"""Questions about what the vet wrote: nothing is chosen or guessed here, it is only typed in."""

from __future__ import annotations

from fecallab.cli.ask import pick
from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.question import (
    Answer,
    Question,
    Reader,
    Script,
    amount,
    choice,
    day,
    is_unknown,
    path,
    words,
    yes_no,
)
from fecallab.cli.ask.talk import Talk
from fecallab.domain.errors import BadInput
from fecallab.domain.plan import GOALS

ROUTES = ("by mouth", "under the skin", "into the muscle", "on the skin")
BY_TABLE = "by the named defaults"


def add(desk: Desk) -> Script:
    """Ask for a vet's plan: treatment, then follow-up."""
    yield pick.case(desk)
    yield pick.vet(desk)
    yield Question(
        key="written",
        label="written on",
        text="On which day was it written? For example 2026-03-04, yesterday",
        read=day("written", desk.now.date()),
        fills=("written",),
        default="today",
    )
    drug = yield Question(
        key="is a drug given",
        label="treatment",
        text="Does the plan give a drug? y, n",
        read=_bare_yes_no,
        fills=("drug",) if "drug" in desk.given else (),
        why="n: the vet only watches, or treats without a drug.",
    )
    if drug.typed != "n":
        yield from _treatment()
    yield Question(
        key="goal",
        label="goal",
        text="Goal:",
        read=_goal,
        fills=("goal",),
        default="-",
        default_said=BY_TABLE,
        choices=GOALS,
        why="Clear: repeat exams must show none. Low burden: a grade to reach, for normal inhabitants. "
        "Left out, the goal is that of the named defaults for this target and animal.",
    )
    yield from _rarely()
    return ()


def _treatment() -> Script:
    """Every figure as the vet wrote it; none has a default."""
    yield Question(
        key="drug",
        label="drug",
        text="Which drug? The generic name as the vet wrote it",
        read=words("drug", optional=False),
        fills=("drug",),
        why="The active substance, not the name on the box. Nothing is proposed here: the vet chooses.",
    )
    yield _figure("dose_mg_per_kg", "dose", "mg per kg", "Dose in mg per kg, as the vet wrote it?")
    yield _figure(
        "concentration_mg_per_ml", "strength", "mg per ml", "Strength in mg per ml, as on the bottle?"
    )
    yield Question(
        key="route",
        label="route",
        text="Route:",
        read=choice("route", ROUTES, free=True),
        fills=("route",),
        choices=ROUTES,
    )
    yield Question(
        key="interval_days",
        label="every",
        text="How many days between doses? 1 = daily, 0.5 = twice a day",
        read=amount("interval_days", "days", low=0.04, high=3650, optional=False),
        fills=("interval_days",),
    )
    yield Question(
        key="doses",
        label="doses",
        text="How many doses at most?",
        read=_doses,
        fills=("doses",),
        why="'Until negative' is no number: ask the vet for a largest number of doses.",
    )
    return ()


def _figure(name: str, label: str, unit: str, text: str) -> Question:
    return Question(
        key=name,
        label=label,
        text=text,
        read=amount(name, unit, low=0.0001, high=10_000, optional=False),
        fills=(name,),
        why="Type the vet's figure; it is read back. Nothing is proposed here.",
    )


def _doses(typed: str, talk: Talk) -> Answer:
    found = amount("doses", "", low=1, high=1000, optional=False)(typed, talk)
    if not found.only.isdecimal():
        raise BadInput(f"{found.only} is no whole number.", next="Type the largest number of doses.")
    return found


def _goal(typed: str, talk: Talk) -> Answer:
    if is_unknown(typed):
        return Answer(BY_TABLE, {"goal": None}, "-")
    return choice("goal", GOALS)(typed, talk)


def _bare_yes_no(typed: str, talk: Talk) -> Answer:
    found = yes_no("")(typed, talk)
    if found.typed == "-":
        raise BadInput("This one is needed.", next="Type y or n.")
    return Answer("with a drug" if found.typed == "y" else "no drug", {}, found.typed)


def _rarely() -> Script:
    """What the defaults fill or the vet seldom writes: read back, and changed by its number."""
    for name, label, text, low in (
        ("negatives", "negatives", "How many negatives are needed?", 1),
        ("spacing_days", "apart", "How many days between the stools that count?", 0),
        ("wait_days", "wait", "How many days from the last dose to the first stool that counts?", 0),
    ):
        yield Question(
            key=name,
            label=label,
            text=text,
            read=_whole_or_default(name, low),
            fills=(name,),
            default="-",
            default_said=BY_TABLE,
            quiet=True,
        )
    yield Question(
        key="weight_max_age_days",
        label="weight age",
        text="How many days old may a weight be for a dose?",
        read=_or("weight_max_age_days", BY_TABLE, amount("weight_max_age_days", "days", low=0, high=365)),
        fills=("weight_max_age_days",),
        default="-",
        default_said=BY_TABLE,
        quiet=True,
    )
    for name, text in (
        ("fluids", "Fluids, in the vet's words? For example 6 ml by mouth on dose days"),
        ("feeding", "Feeding, in the vet's words?"),
    ):
        yield Question(
            key=name, label=name, text=text, read=words(name), fills=(name,), default="-", quiet=True
        )
    yield Question(
        key="warm_end_c",
        label="warm end",
        text="Warm end at least, in °C?",
        read=_or("warm_end_c", "nothing", amount("warm_end_c", "°C", low=5, high=60)),
        fills=("warm_end_c",),
        default="-",
        quiet=True,
    )
    yield Question(
        key="file",
        label="sheet",
        text="A picture of the vet's sheet? Drag the file here",
        read=path("file", optional=True),
        fills=("file",),
        default="-",
        quiet=True,
    )
    yield Question(
        key="remark",
        label="remark",
        text="A remark?",
        read=words("remark", empty="none"),
        fills=("remark",),
        default="-",
        quiet=True,
    )
    return ()


def _or(name: str, left_out: str, read: Reader) -> Reader:
    """Return a reader that says in its own words what leaving out means."""

    def either(typed: str, talk: Talk) -> Answer:
        return Answer(left_out, {name: None}, "-") if is_unknown(typed) else read(typed, talk)

    return either


def _whole_or_default(name: str, low: int) -> Reader:
    def read(typed: str, talk: Talk) -> Answer:
        found = amount(name, "", low=low, high=3650)(typed, talk)
        if not found.only.isdecimal():
            raise BadInput(f"{found.only} is no whole number.", next="Type a whole number.")
        return found

    return _or(name, BY_TABLE, read)
