"""Questions about the animal on the day of a dose, and about the syringe."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from fecallab.cli.ask.question import Answer, Question, amount, chosen, is_unknown
from fecallab.cli.ask.talk import Talk
from fecallab.cli.typed import plain_number
from fecallab.domain.errors import BadInput

if TYPE_CHECKING:
    from fecallab.records.casefile import CaseFile


def today(file: CaseFile, at: datetime) -> list[Question]:
    """Return the questions about the animal today; a temperature that was logged lately is not asked again."""
    return [
        _findings(),
        _temperature("warm_end_c", "warm end", "Warm end by day in °C?", file, at),
        _temperature("night_c", "lowest at night", "Lowest at night in °C?", file, at),
        _syringe(),
    ]


def _findings() -> Question:
    from fecallab.domain.dosing import DELICATE, FINDINGS, SIGNS_TODAY

    names = ("nothing odd", *SIGNS_TODAY, *DELICATE, *FINDINGS)

    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            return Answer("not looked at", {"finding": None}, "-")
        if typed.strip().lower() in ("none", "nothing", "ok", "fine"):
            return Answer(names[0], {"finding": ("none",)}, "1")
        numbers = typed.replace(",", " ").split()
        pieces = numbers if all(piece.isdecimal() for piece in numbers) else [typed]
        places = [chosen(piece, names) for piece in pieces]
        found = [names[place] for place in places if place is not None]
        if len(found) < len(pieces):
            raise BadInput(f"{typed[:40]!r} is none of these.", next="Type the numbers, a space between.")
        real = [name for name in found if name != names[0]]
        return Answer(", ".join(real) or names[0], {"finding": tuple(real) or ("none",)}, typed)

    return Question(
        key="finding",
        label="today",
        text="How is it today? Numbers with a space between",
        read=read,
        fills=("finding",),
        default="-",
        default_said="not looked at",
        choices=names,
        why="Some of these stop a dose by mouth, some the vet should know of before it.",
    )


def _temperature(name: str, kind: str, text: str, file: CaseFile, at: datetime) -> Question:
    from fecallab.gather_dose_day import WARMTH_HOURS

    since = at - timedelta(hours=WARMTH_HOURS)
    lately = [c for c in file.care if c.kind == kind and c.amount is not None and since <= c.at <= at]
    logged = f"{plain_number(lately[-1].amount or 0)} °C, as logged" if lately else ""

    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            return Answer(logged or "not known", {name: None}, "-")
        return amount(name, "°C", low=-20, high=70)(typed, talk)

    return Question(
        key=name,
        label=kind,
        text=text,
        read=read,
        fills=(name,),
        default="-",
        default_said=logged or "not known",
        quiet=bool(lately),
        why="A cold animal does not work a drug off. What is not known is named as not checked.",
    )


def _syringe() -> Question:
    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            return Answer("the one that fits", {"syringe_ml": None}, "-")
        return amount("syringe_ml", "ml", low=0.05, high=100)(typed, talk)

    return Question(
        key="syringe",
        label="syringe",
        text="Which syringe is at hand, in ml? For example 1",
        read=read,
        fills=("syringe_ml",),
        default="-",
        default_said="the one that fits",
        quiet=True,
    )
