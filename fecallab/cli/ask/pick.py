"""Questions that choose something from the records: an animal, a case, a sample, an exam, a target."""

from __future__ import annotations

from collections.abc import Sequence

from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.moments import say_moment
from fecallab.cli.ask.question import Answer, Question, chosen, is_unknown, not_known, words
from fecallab.cli.ask.talk import Talk
from fecallab.domain.animal import Animal
from fecallab.domain.errors import BadInput
from fecallab.domain.near_spelling import near_spellings

MANY = 9
"""As many as one digit chooses from."""


def animal(desk: Desk, name: str = "animal") -> Question:
    """Ask for an animal: by number, name, the beginning of a name, or code; the last one first."""
    animals = desk.known.animals
    if not animals:
        raise BadInput(
            "There is no animal in the records yet.", next="Type: fecallab animal add", code="no-animals"
        )
    listed = animals[:MANY]
    more = f" {len(animals)} animals: a name or a part of it finds the others." if len(animals) > MANY else ""
    return Question(
        key=name,
        of_records=True,
        label="animal",
        text="Which animal?",
        read=lambda typed, talk: _animal_read(name, typed, talk, animals, len(listed)),
        fills=(name,),
        default=listed[0].code,
        default_said=listed[0].name,
        choices=tuple(_animal_said(one) for one in listed),
        why=f"A number of the list, a name, a part of a name, or a code.{more} All: {_names(animals)}",
        before=more.strip(),
    )


def _names(animals: Sequence[Animal]) -> str:
    return ", ".join(one.name for one in animals)


def _animal_said(one: Animal) -> str:
    where = one.enclosure or one.species
    return f"{one.name} ({where})" if where else one.name


def _animal_read(name: str, typed: str, talk: Talk, animals: Sequence[Animal], listed: int) -> Answer:
    word = typed.strip()
    by_code = next((one for one in animals if one.code == word.upper()), None)
    names = [one.name for one in animals]
    named = next((one for one in animals if one.name.casefold() == word.casefold()), None)
    numbered = animals[int(word) - 1] if word.isdecimal() and 1 <= int(word) <= listed else None
    if named and numbered and named is not numbered:
        both = [numbered, named]
        found = both[talk.pick(f"{word} can mean two animals:", [f"{one.name} ({one.code})" for one in both])]
    elif by_code or named or numbered:
        found = by_code or named or numbered  # type: ignore[assignment]
    else:
        if word.isdecimal():
            raise BadInput(
                f"There is no {word} in the list.", next=f"Type a number from 1 to {listed}, or a name."
            )
        place = chosen(word, names)
        if place is None:
            near = near_spellings(word, names)
            hint = f"Did you mean {' or '.join(near)}?" if near else f"There are: {_names(animals)}"
            raise BadInput(f"No animal is called {word[:40]!r} here.", next=hint)
        found = animals[place]
    return Answer(found.name, {name: found.code}, found.code)


def case(desk: Desk, name: str = "case", *, with_drug: bool = False) -> Question:
    """Ask for an open case; those with a drug in the vet's plan alone, where a dose is meant."""
    opened = list(desk.known.open_cases)
    cases = opened
    if with_drug:
        cases = [one for one in cases if (plan := desk.known.plan(one.code)) is not None and plan.drug]
    if not cases:
        what = "no open case with a drug in the vet's plan" if with_drug else "no open case"
        step = "Type: fecallab case list"
        if opened:
            step = f"When the vet has written a plan, type it in: fecallab plan add {opened[0].code}"
        raise BadInput(f"There is {what}.", next=step, code="no-case")
    listed = [f"{desk.known.name_of(one.animal)}, {one.target} ({one.code})" for one in cases]

    def read(typed: str, talk: Talk) -> Answer:
        word = typed.strip().upper()
        place = next((i for i, one in enumerate(cases) if one.code == word), None)
        place = chosen(typed, listed) if place is None else place
        if place is None:
            closed = desk.known.store.case(word)
            return Answer(closed.code, {name: closed.code}, closed.code)
        return Answer(listed[place], {name: cases[place].code}, cases[place].code)

    return Question(
        key=name,
        of_records=True,
        label="case",
        text="Which case?",
        read=read,
        fills=(name,),
        default=cases[0].code,
        default_said=listed[0],
        choices=tuple(listed[:MANY]),
        why=f"A number of the list, an animal's name, or a code. Open: {'; '.join(listed)}",
    )


def sample(desk: Desk, name: str = "sample") -> Question:
    """Ask for a sample: the last ones without an exam first."""
    found = desk.known.last_samples
    if not found:
        raise BadInput(
            "There is no sample in the records yet.", next="Type: fecallab sample add", code="no-samples"
        )
    listed = []
    for one, examined in found:
        when = say_moment(one.passed_from or one.collected_at, desk.now)
        state = "has an exam" if examined else "no exam yet"
        listed.append(f"{one.code} {desk.known.name_of(one.animal)}: {one.origin} of {when}; {state}")
    codes = [one.code for one, _ in found]

    def read(typed: str, talk: Talk) -> Answer:
        word = typed.strip().upper()
        place = codes.index(word) if word in codes else chosen(typed, listed)
        code = codes[place] if place is not None else desk.known.store.sample(word).code
        said = listed[place].rpartition(";")[0] if place is not None else code
        return Answer(said, {name: code}, code)

    return Question(
        key=name,
        of_records=True,
        label="sample",
        text="Which sample?",
        read=read,
        fills=(name,),
        default=codes[0],
        default_said=f"{codes[0]} {desk.known.name_of(found[0][0].animal)}",
        choices=tuple(listed),
        why="A number of the list, or the code of a sample (S12).",
    )


def exam(desk: Desk, name: str = "exam") -> Question:
    """Ask for an exam: the last one first."""
    exams = desk.known.last_exams
    if not exams:
        raise BadInput(
            "There is no exam in the records yet.", next="Type: fecallab exam add", code="no-exams"
        )
    listed = []
    for one in exams:
        owner = desk.known.name_of(desk.known.store.sample(one.sample).animal)
        listed.append(f"{one.code} {owner}: {say_moment(one.examined_at, desk.now)}")
    codes = [one.code for one in exams]

    def read(typed: str, talk: Talk) -> Answer:
        word = typed.strip().upper()
        place = codes.index(word) if word in codes else chosen(typed, listed)
        code = codes[place] if place is not None else desk.known.store.exam(word).code
        return Answer(listed[place] if place is not None else code, {name: code}, code)

    return Question(
        key=name,
        of_records=True,
        label="exam",
        text="Which exam?",
        read=read,
        fills=(name,),
        default=codes[0],
        default_said=listed[0],
        choices=tuple(listed),
        why="A number of the list, or the code of an exam (E12).",
    )


def preparation(desk: Desk, name: str = "preparation") -> Question:
    """Ask for a preparation by its code: the last one is the default."""
    last = desk.known.last_preparation
    return Question(
        key=name,
        label="preparation",
        text="Which preparation? Its code, for example E1-1",
        read=words(name, optional=False),
        fills=(name,),
        default=last.code if last is not None else None,
        why="The code of an exam and the number of its preparation, as exam show prints them.",
    )


def vet(desk: Desk, name: str = "vet") -> Question:
    """Ask who the vet is; the one of the last plan is the default."""

    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            raise BadInput("A plan is a named vet's.", next="Type the name, or q to stop.")
        return Answer(typed, {name: typed}, typed)

    return Question(
        key=name,
        label="vet",
        text="Which vet? The full name",
        read=read,
        fills=(name,),
        default=desk.known.last_vet or None,
        why="The vet who wrote or said it; the name stands in the records and on every page.",
    )


def organism(
    name: str, groups: Sequence[str], text: str, *, key: str, label: str, optional: bool
) -> Question:
    """Ask for an organism or a group, by the number of a likely one or by any name that is known."""

    def read(typed: str, talk: Talk) -> Answer:
        from fecallab.cli.exam_input import organism_name

        if is_unknown(typed):
            if optional:
                return not_known(name)
            raise BadInput("This one is needed.", next="Choose one, or q to stop.")
        word = typed.strip().lower()
        if word.isdecimal():
            place = chosen(word, groups)
            found = groups[place or 0]
        else:
            found = organism_name(word)
        return Answer(found.replace("_", " "), {name: found}, found)

    return Question(
        key=key,
        label=label,
        text=text,
        read=read,
        fills=(name,) if name else (),
        default="-" if optional else None,
        default_said="nothing" if optional else "",
        choices=tuple(group.replace("_", " ") for group in groups),
        why="A number of the list, or any name of the organism table: fecallab reference list organisms",
    )
