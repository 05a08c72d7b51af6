"""The adequacy table's questions for a method: the words are the table's, the kinds of answer stand here."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace

from fecallab.cli.ask.amounts import read_share
from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.question import Answer, Question, Reader, amount, choice, is_unknown, not_known, yes_no
from fecallab.cli.ask.talk import Talk
from fecallab.cli.typed import plain_number
from fecallab.domain.adequacy import Condition, Route
from fecallab.domain.case import Case
from fecallab.domain.errors import BadInput
from fecallab.domain.sample import Sample

ABOUT_THE_SAMPLE = frozenset({"origin", "kept", "older_minutes", "form"})
"""What the sample answers: these are not asked again at the exam."""

WHEN_READ = frozenset({"objective", "cover_share"})
"""What is asked with the reading, after the preparation."""


def routes_for(method: str, cases: Sequence[Case]) -> list[Route]:
    """Return the ways in which a method can show something; those for open cases first, then the widest."""
    from fecallab.reference.adequacy import adequacy_routes

    def wanted(route: Route) -> bool:
        return any(case.target in route.targets and set(case.stages) & set(route.stages) for case in cases)

    routes = [route for route in adequacy_routes() if method in route.methods]
    return sorted(routes, key=lambda route: (not wanted(route), -len(route.targets)))


def conditions_for(method: str, cases: Sequence[Case]) -> list[Condition]:
    """Return what the table asks of a method, each quantity once.

    The threshold in a question is that of the wanted target, else of the way that shows the most.

    Examples
    --------
    >>> asked = conditions_for("simple_flotation", [])
    >>> next(c.question for c in asked if c.quantity == "specific_gravity")
    'Was the gravity of the solution 1.18 to 1.30?'
    """
    found: dict[str, Condition] = {}
    for route in routes_for(method, cases):
        for condition in route.conditions:
            found.setdefault(condition.quantity, condition)
    return list(found.values())


def question_for(condition: Condition, desk: Desk, sample: Sample | None) -> Question | None:
    """Return the question that one row of the table asks of a preparation or reading.

    None when the sample answers it already.
    """
    if condition.quantity in ABOUT_THE_SAMPLE:
        return None
    if condition.quantity == "mass_g" and sample is not None and (sample.mass_g or sample.whole_stool_used):
        return None
    make = KINDS.get(condition.quantity)
    return make(condition, desk) if make else None


def _asked(
    condition: Condition, label: str, hint: str, read: Reader, fills: tuple[str, ...], default: str = "-"
) -> Question:
    shown = default if default != "-" else "not known"
    return Question(
        key=f"{condition.route} {condition.code}",
        label=label,
        text=f"{condition.question} {hint}",
        read=read,
        fills=fills,
        default=default,
        default_said=shown,
        why=f"If not: {condition.next} Not known is a valid answer; the exam may then not count as negative.",
    )


def _number(
    label: str,
    name: str,
    unit: str,
    hint: str,
    low: float,
    high: float,
    remembered: Callable[[Desk], float | None],
) -> Callable[[Condition, Desk], Question]:
    """Return the maker of a question that is answered with the number itself."""

    def make(condition: Condition, desk: Desk) -> Question:
        plain = amount(name, unit, low=low, high=high)

        def read(typed: str, talk: Talk) -> Answer:
            _no_bare_yes(typed, hint)
            return plain(typed, talk)

        before = remembered(desk)
        default = "-" if before is None else plain_number(before)
        return _asked(condition, label, hint, read, (name,), default)

    return make


def _no_bare_yes(typed: str, hint: str) -> None:
    if typed.strip().lower() in ("y", "yes", "n", "no"):
        raise BadInput(f"{typed!r} alone is not enough here.", next=f"{hint}, or - for not known.")


def _never(desk: Desk) -> None:
    return None


def _last_gravity(desk: Desk) -> float | None:
    last = desk.known.last_float
    return last.specific_gravity if last else None


def _checked(condition: Condition, desk: Desk) -> Question:
    return _asked(condition, "checked", "y, n", yes_no("gravity_checked"), ("gravity_checked",))


def _room(condition: Condition, desk: Desk) -> Question:
    plain = amount("room_c", "°C", low=-20, high=60)
    hint = "The room's °C, for example 22, or w: the slide was warmed"

    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            return not_known("room_c", "slide_warmed")
        if typed.strip().lower() in ("w", "warm", "warmed"):
            return Answer("the slide was warmed", {"room_c": None, "slide_warmed": True}, "w")
        _no_bare_yes(typed, hint)
        return plain(typed, talk)

    return _asked(condition, "warmth", hint, read, ("room_c", "slide_warmed"))


def _objective(condition: Condition, desk: Desk) -> Question:
    plain = amount("objective", "x", low=0.25, high=250, optional=False)
    asked = condition.at_least
    hint = "The objective, for example 10 or 40"

    def read(typed: str, talk: Talk) -> Answer:
        word = typed.strip().lower().rstrip("x×")
        if word in ("y", "yes") and asked is not None:
            word = plain_number(asked)
        _no_bare_yes(word, hint)
        if is_unknown(word):
            raise BadInput("A reading needs its objective: what a 10× cannot show is no negative.", next=hint)
        answer = plain(word, talk)
        return replace(answer, said=f"{answer.values['objective']}×")

    return _asked(condition, "objective", hint, read, ("objective",), plain_number(asked) if asked else "-")


def _share(condition: Condition, desk: Desk) -> Question:
    asked = condition.at_least

    def read(typed: str, talk: Talk) -> Answer:
        word = typed.strip().lower()
        if word in ("y", "yes") and asked is not None:
            word = plain_number(asked)
        if word in ("n", "no") or is_unknown(word):
            raise BadInput(
                "Then what share was it?", next="For example 0.2, 1/4 or 20 %; 0 when it is not known."
            )
        share = read_share(word, talk)
        said = "all of it" if share == 1 else "not known" if share == 0 else f"{share:.3g} of it"
        return Answer(said, {"share": plain_number(round(share, 6))}, plain_number(round(share, 6)))

    question = _asked(condition, "share read", "y, or the share: 0.5, 1/3, 20 %", read, ("share",))
    return Question(**{**question.__dict__, "default": None, "default_said": ""})


def _solution(condition: Condition, desk: Desk) -> Question:
    last = desk.known.last_float
    default = last.solution if last and last.solution else "-"
    names = solutions()

    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            return not_known("solution")
        if re.fullmatch(r"\d+[.,]\d+", typed.strip()):
            raise BadInput(
                f"{typed.strip()!r} is a number; its gravity is asked next.",
                next="Type which solution it is.",
            )
        return choice("solution", names, free=True)(typed, talk)

    return Question(
        key="solution",
        label="solution",
        text="Which solution?",
        read=read,
        fills=("solution",),
        default=default,
        default_said="not known" if default == "-" else default,
        choices=names,
        why=f"For cysts: {condition.question} {condition.next}",
    )


def solutions() -> tuple[str, ...]:
    """Return the solutions that the table of solutions knows, by the salt or sugar alone."""
    from fecallab.reference.tables import read_rows

    named = (
        row["solution"].partition(",")[0].removesuffix(" heptahydrate")
        for row in read_rows("flotation_solutions")
    )
    return tuple(dict.fromkeys(named))


KINDS: dict[str, Callable[[Condition, Desk], Question]] = {
    "specific_gravity": _number(
        "gravity", "specific_gravity", "", "The number, for example 1.20", 0.9, 2, _last_gravity
    ),
    "gravity_checked": _checked,
    "standing_minutes": _number(
        "stood", "standing_minutes", "min", "The minutes, for example 15", 0, 100_000, _never
    ),
    "room_c": _room,
    "mass_g": _number("floated", "sample_g", "g", "The g, for example 1.2", 0.001, 1000, _never),
    "sample_g": _number("stool", "sample_g", "g", "The g, for example 1", 0.001, 1000, _never),
    "suspension_ml": _number(
        "suspension", "suspension_ml", "ml", "The ml, for example 15", 0.01, 10_000, _never
    ),
    "counted_ml": _number("read", "counted_ml", "ml", "The ml, for example 0.3", 0.001, 10_000, _never),
    "solution": _solution,
    "objective": _objective,
    "cover_share": _share,
}
"""How each quantity of the table is answered; `tests/cli` holds that no quantity is left out."""
