"""Questions about what was seen: organism by organism in a sweep or a chamber, or field by field."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from fecallab.cli.ask.amounts import read_count_list
from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.question import Answer, Question, Reader, Script, amount, chosen, is_unknown
from fecallab.cli.ask.talk import Talk
from fecallab.cli.typed import plain_number
from fecallab.domain.animal import Animal
from fecallab.domain.case import Case
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import number_of

_WITH_COUNT = re.compile(r"(.+?)[\s=:]+(\d{1,7})\s*(u|unsure|not sure)?", re.ASCII | re.IGNORECASE)
_COUNT = re.compile(r"(\d{1,7})\s*(u|unsure|not sure)?", re.ASCII | re.IGNORECASE)
NOTHING = "-"
MANY = 9


@dataclass(frozen=True)
class Seen:
    """One organism with its count; not sure ones block a negative and open nothing."""

    name: str
    count: int
    sure: bool

    @property
    def said(self) -> str:
        """In words."""
        return f"{self.count} {self.name.replace('_', ' ')}" + ("" if self.sure else ", not sure")


def likely(method: str, animal: Animal, cases: Sequence[Case], power: float | None = None) -> tuple[str, ...]:
    """Return the organisms that this method is likely to show in this animal: those on the keys of the tally.

    Examples
    --------
    >>> dragon = Animal(name="Saffron", species="Pogona vitticeps", host_group="lizard")
    >>> likely("simple_flotation", dragon, [], 10)[:2]
    ('coccidian', 'oxyurid')
    """
    from fecallab.cli.tally_start import keys_for

    return keys_for(animal, method, power, [case.target for case in cases])[0][:MANY]


def read_whole(method: str, animal: Animal, cases: Sequence[Case], power: float | None) -> Script:
    """Ask what a sweep or a counted chamber showed; a target that was not named is recorded as none seen."""
    groups = likely(method, animal, cases, power)
    targets = tuple(dict.fromkeys(case.target for case in cases))
    found: list[Seen] = []
    while True:
        answer = yield _what(groups, found, targets)
        if answer.typed == NOTHING:
            break
        name, count = str(answer.values["+name"]), answer.values["+count"]
        if not isinstance(count, str):
            answer = yield _how_many(name, len(found))
            count = str(answer.values["+count"])
        found.append(Seen(name, int(count), bool(answer.values["+sure"])))
    zeros = [Seen(target, 0, True) for target in targets if all(one.name != target for one in found)]
    sure = tuple(f"{one.name}={one.count}" for one in [*found, *zeros] if one.sure)
    unsure = tuple(f"{one.name}={one.count}" for one in found if not one.sure)
    yield _filled("seen", {"seen": sure or None, "unsure_seen": unsure or None})
    return ()


def _what(groups: Sequence[str], found: Sequence[Seen], targets: Sequence[str]) -> Question:
    nothing = "nothing more" if found else "nothing"

    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed) or typed.strip().lower() in ("nothing", "none", "no", "0", "nothing more"):
            zeros = ", ".join(f"0 {target}" for target in targets)
            return Answer(f"{nothing} ({zeros})" if zeros and not found else nothing, {}, NOTHING)
        with_count = _WITH_COUNT.fullmatch(typed.strip())
        name = organism_typed(with_count.group(1) if with_count else typed, groups)
        if with_count is None:
            return Answer(name.replace("_", " "), {"+name": name, "+count": None, "+sure": True}, typed)
        seen = Seen(name, int(with_count.group(2)), with_count.group(3) is None)
        return Answer(seen.said, {"+name": name, "+count": str(seen.count), "+sure": seen.sure}, typed)

    return Question(
        key=f"seen {len(found)}",
        label="seen",
        seen_before=bool(found),
        text="What else did you see? Name or number, and how many"
        if found
        else "What did you see? Name or number, and how many: 1 3",
        read=read,
        default=NOTHING,
        default_said=nothing,
        choices=tuple(group.replace("_", " ") for group in groups),
        why="1 3 means three of the first in the list; 1 3u: three, but you are not sure. Any name of the "
        "organism table may be typed too: pollen 2. What you are not sure of waits for the vet.",
    )


def _how_many(name: str, place: int) -> Question:
    def read(typed: str, talk: Talk) -> Answer:
        found = _COUNT.fullmatch(typed.strip())
        if found is None:
            raise BadInput(f"{typed[:40]!r} is no count.", next="A whole number; 2u: two, but not sure.")
        seen = Seen(name, int(found.group(1)), found.group(2) is None)
        return Answer(seen.said, {"+count": str(seen.count), "+sure": seen.sure}, typed)

    return Question(
        key=f"count {place} of {name}",
        label="how many",
        text=f"How many {name.replace('_', ' ')}? For example 3, or 3u when you are not sure",
        read=read,
    )


def organism_typed(typed: str, groups: Sequence[str]) -> str:
    """Return an organism or a group from a number of the list, the beginning of its name, or any known name."""
    from fecallab.cli.exam_input import organism_name

    word = typed.strip()
    if word.isdecimal():
        place = chosen(word, groups)
        assert place is not None
        return groups[place]
    begun = [group for group in groups if group.startswith(word.lower())]
    return begun[0] if len(begun) == 1 else organism_name(word)


def read_by_fields(
    desk: Desk, method: str, animal: Animal, cases: Sequence[Case], power: float | None
) -> Script:
    """Ask for the counts of every organism, one number for every field."""
    groups = likely(method, animal, cases, power)
    last = desk.known.last_reading
    yield Question(
        key="field_number",
        label="eyepiece",
        text="Number on the eyepiece (18, 20, 22)?",
        read=amount("field_number", "mm", low=4, high=40),
        fills=("field_number",),
        default=plain_number(last.field_number) if last and last.field_number else "-",
        why="With the objective it tells how much of the cover glass a field is.",
    )
    columns: dict[str, list[int]] = {}
    while True:
        answer = yield _whose(groups, columns)
        if answer.typed == NOTHING:
            break
        name = str(answer.values["+name"])
        length = len(next(iter(columns.values()))) if columns else None
        counts = yield _column(name, length)
        columns[name] = [int(piece) for piece in str(counts.values["+counts"]).split(",")]
    lines = tuple(f"{name}:{','.join(map(str, column))}" for name, column in columns.items())
    yield _filled("counts", {"counts": lines or None})
    return ()


def _whose(groups: Sequence[str], columns: dict[str, list[int]]) -> Question:
    def read(typed: str, talk: Talk) -> Answer:
        if columns and is_unknown(typed):
            return Answer("no other", {}, NOTHING)
        name = organism_typed(typed, groups)
        if name in columns:
            raise BadInput(f"{name} has its counts already.", next="Another one, or Enter.")
        return Answer(name.replace("_", " "), {"+name": name}, typed)

    return Question(
        key=f"whose {len(columns)}",
        label="counted",
        seen_before=bool(columns),
        text="Counts of what else?" if columns else "Counts of what?",
        read=read,
        default=NOTHING if columns else groups[0] if groups else None,
        default_said="no other" if columns else "",
        choices=tuple(group.replace("_", " ") for group in groups),
    )


def _column(name: str, length: int | None) -> Question:
    def read(typed: str, talk: Talk) -> Answer:
        counts = read_count_list(typed)
        if length is not None and len(counts) != length:
            raise BadInput(
                f"These are {len(counts)} fields, before there were {length}.", next="One per field."
            )
        said = f"{' '.join(map(str, counts))} ({number_of(len(counts), 'field')}, {sum(counts)} in all)"
        return Answer(said, {"+counts": ",".join(map(str, counts))}, typed)

    return Question(
        key=f"counts of {name}",
        label="counts",
        text=f"{name.replace('_', ' ')} in every field, zeros too? For example 0 2 1 0",
        read=read,
        why="One number for every field you looked at, in order. An empty field is a reading too: 0.",
    )


def _filled(name: str, values: dict[str, tuple[str, ...] | None]) -> Question:
    """Fill the command's options from the answers before; nothing is asked and no line is read back."""
    read: Reader = lambda typed, talk: Answer("", values, "-")  # noqa: E731
    return Question(
        key=f"{name} {values}", label="", text="", read=read, fills=tuple(values), default="-", quiet=True
    )
