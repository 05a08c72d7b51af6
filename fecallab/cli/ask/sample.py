"""Questions about a sample: whose, passed when, what form, kept how, how much."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from fecallab.cli.ask import pick
from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.moments import read_moments, say_moment
from fecallab.cli.ask.question import (
    Answer,
    Question,
    Reader,
    Script,
    amount,
    choice,
    chosen,
    is_unknown,
    moment,
    not_known,
    words,
    yes_no,
)
from fecallab.cli.ask.talk import UNKNOWN, Talk
from fecallab.domain.sample import FORMS, KEPT, ORIGINS

KEPT_SAID = {"room": "at room temperature", "fridge": "in the fridge", "fixed": "fixed (formalin, alcohol)"}


def add(desk: Desk) -> Script:
    """Ask for a new sample."""
    owner = yield pick.animal(desk)
    yield Question(
        key="passed",
        label="passed",
        text="When was it passed? One time, or two (last seen clean to found): 7:30, 19:00 to 7:30, now",
        read=_passed(desk.now),
        fills=("passed_from", "passed_to"),
        default="-",
        default_said="not known",
        why="The older end counts. Two times are best: when the place was last seen clean, and when the stool "
        "was found. Not known is a valid answer, but motile stages and some floats can then not be judged.",
    )
    yield Question(
        key="form",
        label="form",
        text="Form:",
        read=choice("form", FORMS, optional=True),
        fills=("form",),
        default="-",
        default_said="not known",
        choices=FORMS,
        why="Liquid stool must be read within 30 minutes for motile stages, formed or soft within 60.",
    )
    yield Question(
        key="kept",
        label="kept",
        text="Kept:",
        read=_kept,
        fills=("kept",),
        default="-",
        default_said="not known",
        choices=KEPT,
        why="Cooled stool shows no motile stages; frozen or fixed stool does not float as it should.",
    )
    mass = yield Question(
        key="mass_g",
        label="mass",
        text="Mass in g? For example 1,4",
        read=amount("mass_g", "g", low=0.001, high=10_000, units={"g": 1, "mg": 0.001, "kg": 1000}),
        fills=("mass_g",),
        default="-",
        default_said="not known",
        why="A float can only be negative when 1 g, or the whole stool, went into it.",
    )
    if not mass.only or float(mass.only) < 1:
        yield Question(
            key="whole",
            label="whole stool",
            text="Does the whole stool go into the exam? y, n",
            read=_whole,
            fills=("whole_stool",),
            default="n",
            default_said="no",
            why="Of a small animal the whole stool counts as enough, whatever it weighs.",
        )
    yield _danger_signs(desk, owner.only)
    yield from _rarely(desk)
    return ()


def _danger_signs(desk: Desk, owner: str) -> Question:
    """Ask for the few signs that must not wait; a yes says at once what to do, and never blocks."""
    from fecallab.reference.signs import sign, signs_for

    weighed = desk.known.weight(owner)
    asked = signs_for(desk.known.animal(owner), weighed.mass_g if weighed else None, first=True)

    def read(typed: str, talk: Talk) -> Answer:
        if typed.strip().lower() in (*UNKNOWN, "none", "no", "n", "0"):
            return Answer("none", {"sign": None}, "-")
        found = []
        for piece in typed.replace(",", " ").split():
            place = chosen(piece, [one.sign for one in asked]) if piece.isdecimal() else None
            found.append(asked[place] if place is not None else sign(piece))
        for one in found:
            talk.say(one.says)
        return Answer(", ".join(one.sign for one in found), {"sign": tuple(one.key for one in found)}, typed)

    return Question(
        key=f"signs of {owner}",
        label="danger signs",
        text="Any of these seen? Numbers with a space between",
        read=read,
        fills=("sign",),
        default="-",
        default_said="none",
        choices=tuple(one.sign for one in asked),
        why="These must not wait for a microscope. A yes is noted, and stands on every page for the vet: "
        + " ".join(f"{one.sign}: {one.threshold}." for one in asked),
    )


def _rarely(desk: Desk) -> Script:
    """What is mostly as usual: read back, and changed by its number."""
    yield Question(
        key="origin",
        label="what",
        text="What is it?",
        read=choice("origin", ORIGINS),
        fills=("origin",),
        default="stool",
        choices=ORIGINS,
        quiet=True,
    )
    yield Question(
        key="collected",
        label="picked up",
        text="When was it picked up? For example now, 8:30; - when it was found",
        read=_collected(desk.now),
        fills=("collected",),
        default="-",
        default_said="when it was found",
        quiet=True,
    )
    yield Question(
        key="same_stool_as",
        label="same stool",
        text="Is it of the same stool as an earlier sample? Its code, for example S3",
        read=words("same_stool_as", empty="none"),
        fills=("same_stool_as",),
        default="-",
        default_said="no",
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


def _collected(now: datetime) -> Reader:
    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            return Answer("when it was found", {"collected": None}, "-")
        if typed.strip().lower() == "now":
            typed = f"{now:%Y-%m-%d %H:%M}"
        return moment("collected", now)(typed, talk)

    return read


def _passed(now: datetime) -> Reader:
    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            return not_known("passed_from", "passed_to")
        first, last = read_moments(typed, talk, now)
        values = {"passed_from": f"{first:%Y-%m-%d %H:%M}", "passed_to": f"{last:%Y-%m-%d %H:%M}"}
        if first == last:
            return Answer(say_moment(first, now), values, typed)
        return Answer(f"between {say_moment(first, now)} and {say_moment(last, now)}", values, typed)

    return read


def _kept(typed: str, talk: Talk) -> Answer:
    found = choice("kept", KEPT, optional=True)(typed, talk)
    return replace(found, said=KEPT_SAID.get(found.only, found.said))


def _whole(typed: str, talk: Talk) -> Answer:
    found = yes_no("whole_stool")(typed, talk)
    return Answer(found.said, {"whole_stool": True if found.typed == "y" else None}, found.typed)
