"""The grid of the microscope sheet at the keys: rows of fields, columns of sweeps, numbers, ticked signs."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from fecallab.cli.ask.amounts import read_amount, read_count_list, read_share
from fecallab.cli.ask.question import Answer, Question, Reader, Script, amount, is_unknown, words, yes_no
from fecallab.cli.ask.talk import Talk
from fecallab.cli.typed import plain_number
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import number_of
from fecallab.report.sheet_build import WRITTEN

if TYPE_CHECKING:
    from fecallab.domain.animal import Animal
    from fecallab.report.sheet_model import BenchBlock

SEEN = "seen"
"""The value of an answer that holds what was counted, see `seen_from`."""
_LIMITS = {
    "room_c": (-20.0, 60.0),
    "specific_gravity": (0.9, 2.0),
    "standing_minutes": (0.0, 100_000.0),
    "sample_g": (0.001, 1000.0),
    "suspension_ml": (0.01, 10_000.0),
    "counted_ml": (0.001, 10_000.0),
}
_NAMED = re.compile(r"(.*?[^\W\d])[\s:=]+([\d\s,;]+?)\s*(\??)")


@dataclass(frozen=True)
class Seen:
    """What was counted of one organism: field by field, or one number for a sweep or a chamber."""

    name: str
    counts: list[int]
    fields: bool
    sure: bool = True


def seen_from(text: str) -> list[Seen]:
    """Return what an answer holds of counts."""
    return [Seen(**one) for one in json.loads(text)]


def _answer(said: str, seen: Sequence[Seen], about: dict[str, str], typed: str) -> Answer:
    values = {key: value for key, value in about.items() if value}
    return Answer(said, {**values, SEEN: json.dumps([asdict(one) for one in seen])}, typed)


def preparation_questions(method: str) -> Script:
    """Ask for what stands above the grid: the solution of a float, the warmth of a slide."""
    quantities = _quantities(method)
    if "room_c" in quantities:
        yield Question(
            "warm", "slide warmed", "Slide warmed? y, n", _flag("slide_warmed"), (), "-", "not known"
        )
    elif "specific_gravity" in quantities:
        yield Question(
            "solution", "solution", "Solution? zinc sulfate, sugar, salt", words("solution"), (), "-"
        )
    return ()


def grid_questions(method: str, block: BenchBlock) -> Script:
    """Ask row by row for the fields, then column by column for the sweeps; or for the chamber."""
    from fecallab.cli.exam_input import CHAMBER_METHODS

    if method in CHAMBER_METHODS:
        power = yield _objective("chamber", "Objective of the chamber?", needed=True)
        yield from _column("chamber", block.organisms, {"objective": power.only})
        return ()
    power = yield _objective("fields", "Objective of the fields? Enter when no field was read", needed=False)
    names = list(block.organisms)
    if power.only:
        number = amount("field_number", "mm", low=4, high=40)
        yield Question("eyepiece", "eyepiece", "Eyepiece number in mm?", number, (), "-", "not known")
        found: list[str] = []
        yield from _field_rows(names, {"objective": power.only}, found)
        names += [name for name in found if name not in names]
    for sweep in (1, 2):
        what = f"sweep {sweep}"
        power = yield _objective(what, f"Objective of {what}? Enter when there was none", needed=False)
        if not power.only:
            break
        share = yield Question(
            f"share {sweep}", "share", f"Share of the glass in {what}? all, a third, 0.4", _share
        )
        yield from _column(what, names, {"objective": power.only, "cover_share": share.only})
    return ()


def _objective(what: str, text: str, *, needed: bool) -> Question:
    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            if needed:
                raise BadInput("This one is needed.", next="Type 10, or q to stop.")
            return Answer("not read", {}, "-")
        value = plain_number(read_amount(typed, talk, units={"x": 1, "×": 1}, low=0.25, high=250))
        return Answer(f"{value}×", {f"objective of {what}": value}, typed)

    return Question(f"objective of {what}", what, text, read, (), None if needed else "-", "none")


def _share(typed: str, talk: Talk) -> Answer:
    value = plain_number(round(read_share(typed, talk), 6))
    return Answer(f"{value} of the glass", {"share": value}, typed)


def _field_rows(names: Sequence[str], about: dict[str, str], found: list[str]) -> Script:
    """Ask for every row of the fields, then for the rows of others and of what is not sure."""
    for name in names:
        text = f"{name}: counts, field by field with spaces between?"
        yield Question(f"fields: {name}", name, text, _row(name, about), (), "-", "not counted")
    for label, sure in (("other", True), ("not sure", False)):
        for place in range(1, 10):
            text = f"Row '{label}': a name, then its counts?"
            read = _named(about, fields=True, sure=sure)
            more = yield Question(f"fields: {label} {place}", label, text, read, (), "-", "empty")
            if not more.values:
                break
            found += [one.name for one in seen_from(str(more.values[SEEN]))]
    return ()


def _row(name: str, about: dict[str, str]) -> Reader:
    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            return Answer("not counted", {}, "-")
        counts = read_count_list(typed)
        said = f"{' '.join(map(str, counts))} ({sum(counts)} in {number_of(len(counts), 'field')})"
        return _answer(said, [Seen(name, counts, True)], about, typed)

    return read


def _column(what: str, names: Sequence[str], about: dict[str, str]) -> Script:
    """Ask for one column of the grid: a number for every row, then for anything else."""
    example = " ".join("0" for _ in names)
    text = f"{what.capitalize()}, down the column ({', '.join(names)}), for example {example}; - was not counted?"
    yield Question(what, what, text, _down(names, about), (), "none", "nothing counted")
    for place in range(1, 10):
        text = f"Anything else in {what}? A name and its number, ? behind when you are not sure"
        more = yield Question(
            f"{what}: else {place}", "else", text, _named(about, fields=False, sure=True), (), "-", "no"
        )
        if not more.values:
            break
    return ()


def _down(names: Sequence[str], about: dict[str, str]) -> Reader:
    def read(typed: str, talk: Talk) -> Answer:
        if typed == "none":
            return Answer("nothing counted", {}, "none")
        pieces = [piece for piece in re.split(r"[\s,;]+", typed.strip()) if piece]
        if len(pieces) != len(names):
            text = (
                f"{number_of(len(pieces), 'number')} for {number_of(len(names), 'row')} ({', '.join(names)})."
            )
            raise BadInput(text, next="Type one for every row, - where nothing was counted.")
        pairs = [(name, piece) for name, piece in zip(names, pieces, strict=True) if piece != "-"]
        seen = [Seen(name, read_count_list(piece), False) for name, piece in pairs]
        said = ", ".join(f"{one.name} {one.counts[0]}" for one in seen) or "nothing counted"
        return _answer(said, seen, about, typed) if seen else Answer(said, {}, typed)

    return read


def _named(about: dict[str, str], *, fields: bool, sure: bool) -> Reader:
    def read(typed: str, talk: Talk) -> Answer:
        from fecallab.cli.exam_input import organism_name

        if is_unknown(typed):
            return Answer("empty", {}, "-")
        found = _NAMED.fullmatch(typed.strip())
        if found is None:
            raise BadInput("A name and then the counts are asked.", next="Type: ascarid 0 1 0")
        name, counts = organism_name(found.group(1)), read_count_list(found.group(2))
        if not fields and len(counts) > 1:
            raise BadInput(f"{len(counts)} numbers, but one is asked.", next="Type what was seen in all.")
        certain = sure and not found.group(3)
        said = f"{name} {' '.join(map(str, counts))}{'' if certain else ' (not sure)'}"
        return _answer(said, [Seen(name, counts, fields, certain)], about, typed)

    return read


def _quantities(method: str) -> list[str]:
    from fecallab.reference.adequacy import adequacy_routes

    asked = [c for route in adequacy_routes() if method in route.methods for c in route.conditions]
    return list(dict.fromkeys(condition.quantity for condition in asked))


def number_questions(method: str) -> Script:
    """Ask for what is written beside the questions of the table, and whether the gravity was measured."""
    for quantity in _quantities(method):
        if quantity in _LIMITS:
            label, unit = WRITTEN[quantity]
            low, high = _LIMITS[quantity]
            text = f"{label.capitalize()}{f' in {unit}' if unit else ''}?"
            read = amount(quantity, unit, low=low, high=high)
            yield Question(quantity, label, text, read, (), "-", "not known")
        if quantity == "gravity_checked":
            text = "Gravity measured, or 100 ml weighed? y, n"
            yield Question(quantity, "measured", text, _flag("gravity_checked"), (), "-", "not known")
    return ()


def _flag(name: str) -> Callable[[str, Talk], Answer]:
    return yes_no(name, yes="yes", no="no")


def ticked_signs(animal: Animal) -> Question:
    """Ask which of the signs that go to the vet at once were ticked."""
    from fecallab.reference.signs import signs_for

    names = tuple(dict.fromkeys(one.sign for one in signs_for(animal, first=True)))

    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            return Answer("none", {}, "-")
        found = [_one_sign(word.strip(), names) for word in re.split(r"[,;]", typed) if word.strip()]
        return Answer(", ".join(found), {"signs": ";".join(found)}, typed)

    return Question(
        key="signs",
        label="to the vet now",
        text="Which signs are ticked? Numbers with commas between; Enter for none.",
        read=read,
        default="-",
        default_said="none",
        choices=names,
    )


def _one_sign(word: str, names: Sequence[str]) -> str:
    if word.isdecimal() and 1 <= int(word) <= len(names):
        return names[int(word) - 1]
    fitting = [name for name in names if name.casefold().startswith(word.casefold())]
    if len(fitting) == 1:
        return fitting[0]
    raise BadInput(f"{word[:40]!r} is no sign of the list.", next=f"Type a number from 1 to {len(names)}.")
