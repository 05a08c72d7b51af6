"""Enclosures: what they are called, where they stand, what they share, and who lives in them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from fecallab.cli.common import (
    BY,
    JSON,
    ON,
    RECORDS,
    REMARK,
    fact_dict,
    now,
    one_of,
    open_folder,
    read_day,
    who,
)
from fecallab.cli.output import emit
from fecallab.domain.spoken import say_date

if TYPE_CHECKING:
    from datetime import date

    from fecallab.domain.housing import Enclosure, Housing, Sharing, Stay
    from fecallab.records.writer import Writer

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)

FROM = typer.Option(None, "--from", help="First day, 2026-03-04; always so when left out.")


@app.command()
def add(
    name: str = typer.Argument(help="What is written on it; unique in this record folder."),
    room: str = typer.Option("", help="The room that it stands in."),
    water: str = typer.Option("", help="Water line or bowl that it shares: any word, the same for all."),
    tools: str = typer.Option("", help="Tools that it shares, such as: red tongs"),
    round_: str = typer.Option("", "--round", help="Feeding or cleaning round that it belongs to."),
    since: str | None = FROM,
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Add an enclosure: a tub, drawer, terrarium, pen or free room."""
    from fecallab.domain.housing import Enclosure

    first = read_day(since, "--from") if since else None
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        made = writer.add(Enclosure(name=readable(name), room=room.strip(), remark=remark))
        shared = share_all(writer, made, water, tools, round_, first)
    text = f"{made.code} {made.name}{f', {made.room}' if made.room else ''}. Recorded."
    text += "".join(f"\n  shares {one.thing}: {one.label}" for one in shared)
    emit({"enclosure": fact_dict(made), "shares": [fact_dict(one) for one in shared]}, text, as_json)


def readable(name: str) -> str:
    """Return a name that shows something on a label."""
    from fecallab.domain.errors import BadInput

    if not any(character.isprintable() and not character.isspace() for character in name):
        text = f"The name {name[:40]!r} shows nothing that could be read on a label."
        raise BadInput(text, next="Give a name that can be read.", code="name-empty")
    return name.strip()


def share_all(
    writer: Writer, enclosure: Enclosure, water: str, tools: str, round_: str, since: date | None
) -> list[Sharing]:
    """Record what an enclosure shares from a day on; empty words share nothing."""
    from fecallab.domain.housing import Sharing

    labels = (("water", water), ("tools", tools), ("round", round_))
    wanted = [
        Sharing(enclosure=enclosure.code, thing=thing, label=" ".join(label.split()), start=since)
        for thing, label in labels
        if label.strip()
    ]
    return writer.add_all(wanted)


@app.command()
def share(
    enclosure: str = typer.Argument(help="Name or code."),
    thing: str = typer.Argument(help="water, tools or round."),
    label: str = typer.Argument("", help="What it is called; left out to end the sharing."),
    since: str | None = typer.Option(None, "--from", help="First day (today when left out)."),
    until: str | None = typer.Option(None, "--until", help="Last day of what was shared so far."),
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Say that an enclosure shares water, tools or a round from now on, or no longer does."""
    from dataclasses import replace

    from fecallab.domain.errors import BadInput
    from fecallab.domain.housing import SHARED_THINGS, Sharing

    thing = one_of(thing, SHARED_THINGS, "what is shared")
    name = " ".join(label.split())
    if bool(name) == bool(until):
        text = "Give what it is called, or the last day of what was shared; not both, not neither."
        raise BadInput(
            text, next='Type: fecallab enclosure share "tub 3" tools "red tongs"', code="label-or-until"
        )
    first = read_day(since, "--from")
    last = read_day(until, "--until") if until else None
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        place = writer.enclosure(enclosure)
        running = [one for one in writer.sharings(place.code) if one.thing == thing and one.end is None]
        if last is not None:
            if not running:
                text = f"{place.name} shares no {thing} that could end."
                raise BadInput(text, next=f"Type: fecallab enclosure show {place.name!r}", code="not-shared")
            recorded = [
                writer.correct(one.code, replace(one, end=last), "no longer shared") for one in running
            ]
            text = f"{place.name} shared {thing} ({recorded[0].label}) until {say_date(last)}. Recorded."
        else:
            if any(one.label.casefold() == name.casefold() for one in running):
                text = f"{place.name} shares {thing} ({name}) already."
                raise BadInput(text, next="Nothing is to be done.", code="shared-already")
            recorded = [writer.add(Sharing(enclosure=place.code, thing=thing, label=name, start=first))]
            text = f"{place.name} shares {thing} ({name}) since {say_date(first)}. Recorded."
    emit({"shares": [fact_dict(one) for one in recorded]}, text, as_json)


@app.command(name="list")
def list_enclosures(
    room: str = typer.Option("", help="Only those in this room."),
    on: str | None = ON,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """List the enclosures with who lives in them."""
    from fecallab.cli.words import table

    day = read_day(on, "--on")
    with open_folder(records) as store:
        housing = store.housing()
    places = [one for one in housing.enclosures if not room or one.room.casefold() == room.strip().casefold()]
    rows = []
    found = []
    for place in sorted(places, key=lambda one: (one.room.casefold(), natural(one.name))):
        inside = living_in(housing, place, day)
        shared = [one for one in housing.sharings if one.enclosure == place.code and one.holds_on(day)]
        names = [_who(housing, stay, day) for stay in inside]
        said = ", ".join(f"{one.thing}: {one.label}" for one in shared)
        rows.append([place.code, place.name, place.room or "-", ", ".join(names) or "nobody", said])
        found.append(
            {
                **fact_dict(place),
                "animals": [stay.animal for stay in inside],
                "shares": [fact_dict(one) for one in shared],
            }
        )
    none = f"No enclosure{f' in {room!r}' if room else 's yet'}. Type: fecallab enclosure add NAME"
    text = table(["code", "name", "room", "lives there", "shares"], rows) if rows else none
    emit({"enclosures": found}, text, as_json)


def natural(name: str) -> list[tuple[int, int | str]]:
    """Return what sorts names as people do: tub 2 before tub 10.

    Examples
    --------
    >>> sorted(["tub 10", "tub 2", "Drawer 1"], key=natural)
    ['Drawer 1', 'tub 2', 'tub 10']
    """
    import re

    parts = re.split(r"(\d+)", name.casefold())
    return [(0, int(part)) if part.isdecimal() else (1, part) for part in parts if part]


def living_in(housing: Housing, place: Enclosure, day: date) -> list[Stay]:
    """Return the stays in an enclosure on a day; who moves that day stands where it moved to."""
    return [
        stay
        for stay in housing.stays
        if stay.enclosure == place.code and stay.holds_on(day) and (stay.visit or stay.end != day)
    ]


def _who(housing: Housing, stay: Stay, day: date) -> str:
    from fecallab.domain.housing import number_on

    animal = housing.animals[stay.animal]
    number = stay.number_of_animals if stay.visit else number_on(animal, housing.changes, day)
    many = f" ({number})" if animal.kind != "animal" else ""
    return f"{animal.name}{many}{' on a visit' if stay.visit else ''}"


@app.command()
def show(
    enclosure: str = typer.Argument(help="Name or code."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Show one enclosure: who is and was in it, what it shares and with which others."""
    from datetime import date

    from fecallab.cli.words import table

    with open_folder(records) as store:
        place = store.enclosure(enclosure)
        housing = store.housing()
    stays = sorted(
        (one for one in housing.stays if one.enclosure == place.code), key=lambda one: one.start or date.min
    )
    names = {one.code: one.name for one in housing.enclosures}
    lines = [f"{place.code} {place.name}{f', {place.room}' if place.room else ''}"]
    rows = [
        [
            housing.animals[stay.animal].name,
            say_date(stay.start) if stay.start else "not known",
            say_date(stay.end) if stay.end else "today",
            "on a visit" if stay.visit else "",
        ]
        for stay in stays
    ]
    lines.append(table(["animal", "from", "to", ""], rows) if rows else "Nobody has lived there yet.")
    mine = [one for one in housing.sharings if one.enclosure == place.code]
    for one in mine:
        others = sorted(
            {names[other.enclosure] for other in housing.sharings if _same(one, other)}, key=natural
        )
        span = f"since {say_date(one.start)}" if one.start else "always"
        span += f" until {say_date(one.end)}" if one.end else ""
        lines.append(
            f"Shares {one.thing}: {one.label} ({span}), with {', '.join(others) or 'no other so far'}"
        )
    payload = {
        "enclosure": fact_dict(place),
        "stays": [fact_dict(one) for one in stays],
        "shares": [fact_dict(one) for one in mine],
    }
    emit(payload, "\n".join(lines), as_json)


def _same(one: Sharing, other: Sharing) -> bool:
    return (
        one.enclosure != other.enclosure
        and one.thing == other.thing
        and one.label.casefold() == other.label.casefold()
    )
