"""Finding one fact by what a person typed, or saying what is near."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.animal import Animal
from fecallab.domain.errors import BadInput
from fecallab.domain.near_spelling import near_spellings
from fecallab.domain.spoken import say_date
from fecallab.records import rows, schema, trees
from fecallab.records.clean import name_key
from fecallab.records.rows import Kind


def find_animal(connection: Connection, name_or_code: str) -> Animal:
    """Return one animal by its code or name, or say which names are near."""
    table = schema.animals
    asked = name_or_code.strip()
    if rows.kind_of_code(asked.upper()) is rows.ANIMAL:
        found = trees.facts(connection, rows.ANIMAL, table.c.code == asked.upper())
    else:
        found = trees.facts(connection, rows.ANIMAL, table.c.name_key == name_key(asked))
    if found:
        animal: Animal = found[0]
        return animal
    names = {name_key(animal.name): animal.name for animal in trees.facts(connection, rows.ANIMAL)}
    near = [names[key] for key in near_spellings(name_key(asked), names)]
    if not names:
        following = "Type: fecallab animal add NAME"
    elif near:
        following = f"Did you mean {' or '.join(near)}? Type: fecallab animal list"
    else:
        following = "Type: fecallab animal list  to see the names."
    raise BadInput(f"No animal is called {asked!r} here.", next=following, code="unknown-animal")


def refuse_code_as_name(name: str) -> None:
    """Refuse a name that has the form of a code: what is typed is looked up as a code first.

    Raises
    ------
    BadInput
        ``name-like-code``, with names that can be had.
    """
    word = name.strip()
    kind = rows.kind_of_code(word.upper())
    if kind is not None:
        raise BadInput(
            f"The name {word!r} looks like a code of the records ({kind.name}); by such a word only the code"
            " would be found.",
            next=f'Give a name that is no letter with a number, such as "tub {word}" or "{word[0]} {word[1:]}".',
            code="name-like-code",
        )


def one_row(connection: Connection, kind: Kind, code: str) -> sa.RowMapping:
    """Return the current row of a code, or say why there is none."""
    asked = code.strip().upper()
    row = connection.execute(trees.tips(kind).where(kind.table.c.code == asked)).mappings().first()
    if row is not None and not row["withdrawn"]:
        return row
    if row is not None:
        raise BadInput(
            f"The {kind.name} {asked} was withdrawn on {say_date(row['recorded_at'])}:"
            f" {row['correction_reason']}",
            next="Name another one.",
            code=f"withdrawn-{kind.name.replace(' ', '-')}",
        )
    last = connection.execute(
        sa.select(sa.func.max(schema.codes.c.number)).where(schema.codes.c.kind == kind.name)
    ).scalar()
    meant = _meant(connection, kind, code.strip()) if last else ""
    if not last:
        following = f"There is no {kind.name} in these records yet."
    elif meant:
        following = meant
    elif kind.parent:
        following = "Give the code as exam show prints it."
    elif last == 1:
        following = f"There is one: {kind.prefix}1."
    else:
        following = f"The codes run from {kind.prefix}1 to {kind.prefix}{last}."
    raise BadInput(
        f"There is no {kind.name} {code.strip()!r} here.",
        next=following,
        code=f"unknown-{kind.name.replace(' ', '-')}",
    )


MOST_NAMED = 5


def _meant(connection: Connection, kind: Kind, asked: str) -> str:
    """Say which codes were meant by an animal's name, or by the code of its sample; empty when nothing is near."""
    if kind not in (rows.SAMPLE, rows.EXAM, rows.CASE):
        return ""
    other = rows.kind_of_code(asked.upper())
    if kind is rows.EXAM and other is rows.SAMPLE:
        samples, of = [asked.upper()], f"of {asked.upper()}"
    else:
        table = schema.animals.c
        key = table.code == asked.upper() if other is rows.ANIMAL else table.name_key == name_key(asked)
        found = trees.facts(connection, rows.ANIMAL, key)
        if not found:
            return ""
        owner, of = found[0].code, f"of {found[0].name}"
        if kind is not rows.EXAM:
            return _named(trees.current_codes(connection, kind, kind.table.c.animal == owner), kind, of)
        samples = trees.current_codes(connection, rows.SAMPLE, schema.samples.c.animal == owner)
    return _named(trees.current_codes(connection, kind, schema.exams.c.sample.in_(samples)), kind, of)


def _named(codes: list[str], kind: Kind, of: str) -> str:
    if not codes:
        return f"There is no {kind.name} {of} yet."
    if len(codes) == 1:
        return f"Type the code of the one {kind.name} {of}: {codes[0]}"
    last = "last " if len(codes) > MOST_NAMED else ""
    return f"Type a code; the {last}{kind.name}s {of}: {', '.join(codes[-MOST_NAMED:])}"
