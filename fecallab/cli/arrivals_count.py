"""``fecallab arrivals count``: deaths, sales and moves change the number of a tub."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from fecallab.cli.common import BY, JSON, RECORDS, REMARK, fact_dict, now, one_of, open_folder, read_day, who
from fecallab.cli.output import emit
from fecallab.domain.spoken import say_date

if TYPE_CHECKING:
    from datetime import date

    from fecallab.domain.animal import Animal
    from fecallab.domain.housing import CountChange
    from fecallab.records.reader import Reader
    from fecallab.records.writer import Writer

WORDS = {
    "died": "died",
    "sold": "sold",
    "out": "moved out",
    "in": "moved in",
    "escaped": "escaped",
    "found": "found again",
}
"""What is typed, and the kind of change that is recorded."""


def register(app: typer.Typer) -> None:
    """Add the command ``count``."""
    app.command()(count)


def count(
    tub: str = typer.Argument(help="Name or code of the tub or pen."),
    what: str | None = typer.Argument(
        None, help="died, sold, out, in, escaped or found; none shows the number."
    ),
    number: int = typer.Argument(1, help="How many animals."),
    other: str = typer.Option(
        "", "--tub", help="With out or in: the tub or animal they became, or came from."
    ),
    new: str = typer.Option("", help="With out: name of a new tub (or animal) that they become."),
    enclosure: str = typer.Option("", help="With --new: where it lives; a new name adds the enclosure."),
    on: str | None = typer.Option(None, "--on", help="The day (today when left out)."),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Record that animals of a tub died, were sold or moved; or show how many there are."""
    from fecallab.domain.errors import BadInput
    from fecallab.domain.housing import number_on

    day = read_day(on, "--on")
    if what is None:
        if new or other:
            text = "--new and --tub go with out or in."
            raise BadInput(
                text, next='Type: fecallab arrivals count "tub 1" out 1 --new "tub 9"', code="what-missing"
            )
        with open_folder(records) as store:
            owner = store.animal(tub)
            _show(owner, store, day, as_json)
        return
    kind = WORDS[one_of(what, tuple(WORDS), "what happened")]
    if new and (other or kind != "moved out"):
        text = "--new names a tub that those become that move out."
        raise BadInput(text, next="Type: out NUMBER --new NAME", code="new-not-asked")
    if enclosure and not new:
        raise BadInput(
            "--enclosure goes with --new.",
            next="Move a known tub: fecallab animal move",
            code="enclosure-not-asked",
        )
    if other and kind not in ("moved out", "moved in"):
        raise BadInput("--tub goes with out or in.", next="Leave it out.", code="tub-not-asked")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        owner = writer.animal(tub)
        made = _new_tub(writer, owner, new, number, enclosure, day) if new else None
        partner = made or (writer.animal(other) if other else None)
        change = _change(owner, day, kind, number, partner.code if partner else "", who(by), remark)
        recorded = [writer.add(change)]
        if other and partner is not None and partner.kind != "animal":
            back = "moved in" if kind == "moved out" else "moved out"
            recorded.append(writer.add(_change(partner, day, back, number, owner.code, who(by), remark)))
        left = number_on(owner, writer.count_changes(owner.code), day)
        there = number_on(partner, writer.count_changes(partner.code), day) if partner else None
    step = {"moved out": f" into {partner.name}", "moved in": f" from {partner.name}"} if partner else {}
    lines = [
        f"{owner.name}: {number} {kind}{step.get(kind, '')} on {say_date(day)}; {left} left in it. Recorded."
        if kind not in ("moved in", "found again")
        else f"{owner.name}: {number} {kind}{step.get(kind, '')} on {say_date(day)}; {left} in it now. Recorded."
    ]
    if partner is not None and partner.kind != "animal":
        lines.append(f"  {partner.name} holds {there} now.")
    if made is not None:
        lines.append(
            f"  {made.name} ({made.code}) is new and carries the contacts of {owner.name} up to that day."
        )
        lines.append(f"  It belongs to the same arrival. Whom it met: fecallab contacts {made.code}")
    payload = {"changes": [fact_dict(one) for one in recorded], "number": left}
    if made is not None:
        payload["new"] = fact_dict(made)
    emit(payload, "\n".join(lines), as_json)


def _change(
    owner: Animal, day: date, kind: str, number: int, other: str, by: str, remark: str
) -> CountChange:
    from fecallab.domain.housing import CountChange

    return CountChange(animal=owner.code, on=day, kind=kind, number=number, other=other, by=by, remark=remark)


def _new_tub(writer: Writer, owner: Animal, name: str, number: int, enclosure: str, day: date) -> Animal:
    """Add what those become that move out, and let it join the arrival of their tub."""
    from dataclasses import replace

    from fecallab.cli.enclosure import readable
    from fecallab.domain.errors import BadInput
    from fecallab.domain.housing import ArrivalMember, Stay
    from fecallab.records.moving import enclosure_for

    if number < 1:
        raise BadInput(
            f"{number} animals cannot move.", next="Type how many: 1 or more.", code="out-of-range"
        )
    made = writer.add(
        replace(
            owner,
            code="",
            name=readable(name),
            kind=owner.kind if number > 1 else "animal",
            number_of_animals=number,
            enclosure="",
            remark="",
        )
    )
    if enclosure:
        place = enclosure_for(writer, enclosure)
        writer.add(Stay(animal=made.code, enclosure=place.code, start=day, number_of_animals=number))
    for member in [one for arrival in writer.arrivals() for one in writer.members(arrival.code)]:
        if member.animal == owner.code and member.left_on is None:
            writer.add(
                ArrivalMember(
                    arrival=member.arrival,
                    animal=made.code,
                    joined_on=member.joined_on,
                )
            )
    return writer.animal(made.code)


def _show(owner: Animal, store: Reader, day: date, as_json: bool) -> None:
    from fecallab.cli.words import table
    from fecallab.domain.housing import number_on

    changes = [one for one in store.count_changes(owner.code) if one.on <= day]
    names = {animal.code: animal.name for animal in store.animals()}
    left = number_on(owner, changes, day)
    rows = [[say_date(c.on), c.kind, f"{c.number}", names.get(c.other, ""), c.remark] for c in changes]
    lines = [f"{owner.name}: {left} on {say_date(day)}, {owner.number_of_animals} when recorded."]
    if rows:
        lines.append(table(["day", "what", "number", "tub", "remark"], rows))
    emit(
        {"animal": owner.code, "number": left, "changes": [fact_dict(c) for c in changes]},
        "\n".join(lines),
        as_json,
    )
