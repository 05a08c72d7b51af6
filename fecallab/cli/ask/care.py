"""Questions about care that was given or measured."""

from __future__ import annotations

from fecallab.cli.ask import pick
from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.question import Question, Reader, Script, amount, choice, moment, words


def log(desk: Desk) -> Script:
    """Ask what was done for an animal."""
    from fecallab.cli.care import NEEDS_AMOUNT, UNITS

    yield pick.animal(desk)
    kind = yield Question(
        key="kind",
        label="what",
        text="What was done or measured?",
        read=choice("kind", tuple(UNITS)),
        fills=("kind",),
        choices=tuple(f"{kind} ({unit})" if unit else kind for kind, unit in UNITS.items()),
        why="Fluids, food, the warm end by day, the lowest of the night, a soak, cleaning, or something else.",
    )
    unit = UNITS.get(kind.only, "")
    needed = kind.only in NEEDS_AMOUNT
    if unit:
        yield Question(
            key=f"amount in {unit}",
            label="amount",
            text=f"How much, in {unit}?",
            read=amount("amount", unit, low=-40 if unit == "°C" else 0, high=100_000, optional=not needed),
            fills=("amount",),
            default=None if needed else "-",
            default_said="" if needed else "not known",
            why=f"A number in {unit}; 0,5 is read as 0.5.",
        )
    yield remark(kind.only == "other")
    yield when(desk, "When?")
    return ()


def when(desk: Desk, text: str) -> Question:
    """Ask when something happened; now, unless the read-back is changed."""
    return Question(
        key="at",
        label="when",
        text=f"{text} For example now, 8:30, yesterday 19:00",
        read=moment("at", desk.now),
        fills=("at",),
        default="now",
        quiet=True,
    )


def remark(asked: bool) -> Question:
    """Ask for a remark, or leave it to the read-back."""
    read: Reader = words("remark", empty="none")
    return Question(
        key="remark",
        label="remark",
        text="A remark?",
        read=read,
        fills=("remark",),
        default="-",
        default_said="none",
        quiet=not asked,
    )
