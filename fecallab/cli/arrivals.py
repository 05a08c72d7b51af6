"""Arrivals: animals that came in together, kept apart until those that share contact may be mixed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli import arrivals_count, arrivals_release, arrivals_round, arrivals_show
from fecallab.cli.arrivals_protocol import PROTOCOL, protocol_from
from fecallab.cli.common import BY, JSON, RECORDS, REMARK, fact_dict, now, one_of, open_folder, read_day, who
from fecallab.cli.options import with_options
from fecallab.cli.output import emit
from fecallab.domain.spoken import number_of, say_date

if TYPE_CHECKING:
    from datetime import date

    from fecallab.domain.animal import Animal
    from fecallab.domain.housing import Arrival, ArrivalMember
    from fecallab.records.writer import Writer

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)

WHO = typer.Argument(None, help="Names or codes of animals, tubs or pens.")
ROOM = typer.Option("", help="Everybody who lives in this room, instead of names.")


@app.command()
@with_options(PROTOCOL)
def add(
    animals: list[str] = WHO,
    room: str = ROOM,
    arrived: str | None = typer.Option(None, help="Day of arrival (today when left out)."),
    origin: str = typer.Option("unknown", help="captive bred, farmed, wild caught, confiscated or unknown."),
    source: str = typer.Option("", help="From whom they came."),
    name: str = typer.Option("", help="What you call them."),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
    **options: Any,
) -> None:
    """Record animals that came in together, with the protocol that must hold before they may mix."""
    from dataclasses import replace

    from fecallab.cli.arrivals_protocol import protocol_lines
    from fecallab.domain.housing import ORIGINS_OF_ARRIVALS, Arrival

    day = read_day(arrived, "--arrived")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        owners = chosen(writer, animals or (), room)
        made = writer.add(
            Arrival(
                name=" ".join(name.split()),
                arrived_on=day,
                origin=one_of(origin, ORIGINS_OF_ARRIVALS, "--origin"),
                source=source.strip(),
                remark=remark,
            )
        )
        for owner in owners:
            if owner.arrived_on is None:
                writer.correct(owner.code, replace(owner, arrived_on=day), f"arrived with {made.code}")
        members = _join(writer, made, owners, day)
        protocol = writer.add(protocol_from(options, made, owners, day))
    text = [f"{called(made)}: {_many(owners)} on {say_date(day)}. Recorded.", *protocol_lines(protocol)]
    text.append(f"  Next: fecallab arrivals show {made.code}")
    payload = {
        "arrival": fact_dict(made),
        "members": [fact_dict(one) for one in members],
        "protocol": fact_dict(protocol),
    }
    emit(payload, "\n".join(text), as_json)


@app.command()
def join(
    arrival: str = typer.Argument(help="Code or name of the arrival."),
    animals: list[str] = WHO,
    room: str = ROOM,
    on: str | None = typer.Option(None, "--on", help="Day on which they joined (today when left out)."),
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Let newcomers join an arrival; it is said whose run of clean exams begins anew."""
    from fecallab.domain.contact_build import contact_graph

    day = read_day(on, "--on")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        known = writer.arrival(arrival)
        owners = chosen(writer, animals or (), room)
        members = _join(writer, known, owners, day)
        protocol = (writer.protocols(known.code) or [None])[-1]  # type: ignore[list-item]
        housing = writer.housing()
        mine = [one.animal for one in writer.members(known.code)]
        groups = contact_graph(housing).groups_on(day, mine)
    lines = [f"{_many(owners)} joined {called(known)} on {say_date(day)}. Recorded."]
    if protocol is not None:
        whose = _restarted(protocol.newcomer_restarts, {owner.code for owner in owners}, mine, groups)
        names = [housing.animals[code].name for code in whose if code in housing.animals]
        lines.append(
            f"  A newcomer restarts {protocol.newcomer_restarts}: the run of clean exams of"
            f" {', '.join(names[:9]) or 'nobody'}{f' and {len(names) - 9} more' if len(names) > 9 else ''}"
            f" begins anew on {say_date(day)}."
        )
    emit({"arrival": known.code, "members": [fact_dict(one) for one in members]}, "\n".join(lines), as_json)


def _restarted(
    word: str, newcomers: set[str], members: Sequence[str], groups: Sequence[Sequence[str]]
) -> list[str]:
    """Return whose run begins anew when somebody joins."""
    if word == "the animal":
        return [code for code in members if code in newcomers]
    if word == "the contact group":
        touched = {code for group in groups if newcomers & set(group) for code in group}
        return [code for code in members if code in touched]
    return list(members)


@app.command(name="list")
def list_arrivals(
    all_of_them: bool = typer.Option(False, "--all", help="Those that were released too."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """List the arrivals, with how many are still kept apart."""
    from fecallab.cli.words import table_with_notes
    from fecallab.domain.housing import number_on

    with open_folder(records) as store:
        housing = store.housing()
    day = read_day(None, "--on")
    rows, whence, found = [], [], []
    for one in housing.arrivals:
        members = {m.animal for m in housing.members if m.arrival == one.code and m.left_on is None}
        out = {a for act in housing.releases if act.arrival == one.code for a in act.animals} & members
        gone = {event.animal for event in housing.events} & members - out
        waiting = [housing.animals[code] for code in members - out - gone if code in housing.animals]
        number = sum(number_on(each, housing.changes, day) for each in waiting)
        found.append(
            {
                **fact_dict(one),
                "members": len(members),
                "released": len(out),
                "kept_apart": len(waiting),
                "animals_kept_apart": number,
                "died_or_left": len(gone),
            }
        )
        if number or all_of_them:
            said = f"{number}" + (f" in {number_of(len(waiting), 'place')}" if number != len(waiting) else "")
            rows.append([one.code, one.name or "-", say_date(one.arrived_on), said])
            whence.append(f"{one.origin}{f', from {one.source}' if one.source else ''}")
    if rows:
        text = table_with_notes(["code", "name", "arrived", "kept apart"], rows, whence)
    elif found:
        text = "Nobody is kept apart today. Type: fecallab arrivals list --all"
    else:
        text = "No arrivals yet. Type: fecallab arrivals add ANIMAL…"
    emit({"arrivals": found}, text, as_json)


@app.command()
def split(
    arrival: str = typer.Argument(help="Code or name of the arrival."),
    animals: list[str] = WHO,
    on: str | None = typer.Option(None, "--on", help="Day of the split (today when left out)."),
    name: str = typer.Option("", help="What you call those that are split off."),
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Split animals off into an arrival of their own; it makes no time pass and forgets no contact."""
    from dataclasses import replace

    from fecallab.domain.errors import BadInput

    day = read_day(on, "--on")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        old = writer.arrival(arrival)
        owners = chosen(writer, animals or (), "")
        mine = {one.animal: one for one in writer.members(old.code) if one.left_on is None}
        for owner in owners:
            if owner.code not in mine:
                text = f"{owner.name} does not belong to {called(old)}."
                raise BadInput(text, next=f"Type: fecallab arrivals show {old.code}", code="no-member")
            if day < mine[owner.code].joined_on:
                text = f"{owner.name} joined {old.code} on {say_date(mine[owner.code].joined_on)}, after {say_date(day)}."
                raise BadInput(text, next="Check the day.", code="split-before-joining")
        fresh = replace(old, code="", name=" ".join(name.split()), split_from=old.code, remark="")
        new = writer.add(fresh)
        for owner in owners:
            left = replace(mine[owner.code], left_on=day)
            writer.correct(left.code, left, f"split off into {new.code}")
        members = _join(writer, new, owners, day)
        protocols = writer.protocols(old.code)
        if protocols:
            writer.add(replace(protocols[-1], code="", arrival=new.code))
    lines = [f"{_many(owners)} split off from {old.code} into {called(new)} on {say_date(day)}. Recorded."]
    lines.append(
        f"  The day of arrival stays {say_date(new.arrived_on)}, and so do the contacts of the days before."
    )
    lines.append("  Who shares an enclosure, water or tools with the others is still of one contact group.")
    payload = {"arrival": fact_dict(new), "members": [fact_dict(one) for one in members]}
    emit(payload, "\n".join(lines), as_json)


@app.command()
@with_options(PROTOCOL)
def protocol(
    arrival: str = typer.Argument(help="Code or name of the arrival."),
    written: str | None = typer.Option(None, help="Day on which it was set (today when left out)."),
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
    **options: Any,
) -> None:
    """Replace the protocol of an arrival: what is not said stays as it was; the old one stays recorded."""
    from fecallab.cli.arrivals_protocol import protocol_lines

    day = read_day(written, "--written")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        known = writer.arrival(arrival)
        owners = [writer.animal(one.animal) for one in writer.members(known.code)]
        before = (writer.protocols(known.code) or [None])[-1]  # type: ignore[list-item]
        made = writer.add(protocol_from(options, known, owners, day, before))
    text = [f"{called(known)}: protocol {made.code}. Recorded.", *protocol_lines(made)]
    emit({"protocol": fact_dict(made), "replaces": before.code if before else None}, "\n".join(text), as_json)


def called(arrival: Arrival) -> str:
    """Return the code and the name of an arrival."""
    return f"{arrival.code} {arrival.name}".strip()


def _many(owners: Sequence[Animal]) -> str:
    names = [owner.name for owner in owners]
    if len(names) <= 4:
        return ", ".join(names)
    return f"{', '.join(names[:3])} and {len(names) - 3} more"


def chosen(writer: Writer, names: Sequence[str], room: str) -> list[Animal]:
    """Return the animals that were named, each once, or everybody who lives in a room.

    Raises
    ------
    BadInput
        When nobody was named, somebody twice, or nobody lives there.
    """
    from fecallab.domain.errors import BadInput

    if bool(names) == bool(room.strip()):
        text = (
            "Name the animals, or give the room that they live in." if not names else "Give names or a room."
        )
        step = 'Type: fecallab arrivals add "tub 1" "tub 2"   or   --room "room 1"'
        raise BadInput(text, next=step, code="nobody-named" if not names else "names-and-room")
    if not names:
        housing = writer.housing()
        there = {e.code for e in housing.enclosures if e.room.casefold() == room.strip().casefold()}
        living = [s.animal for s in housing.stays if s.enclosure in there and s.end is None and not s.visit]
        if not living:
            text = f"Nobody lives in a room called {room.strip()!r}."
            raise BadInput(text, next="See the rooms: fecallab enclosure list", code="room-empty")
        return [housing.animals[code] for code in dict.fromkeys(living)]
    found: dict[str, Animal] = {}
    for name in names:
        owner = writer.animal(name)
        if owner.code in found:
            text = f"{owner.name} is named twice."
            raise BadInput(text, next="Name everybody once.", code="named-twice")
        found[owner.code] = owner
    return list(found.values())


def _join(writer: Writer, arrival: Arrival, owners: Sequence[Animal], day: date) -> list[ArrivalMember]:
    from fecallab.domain.housing import ArrivalMember

    return writer.add_all(
        [ArrivalMember(arrival=arrival.code, animal=owner.code, joined_on=day) for owner in owners]
    )


arrivals_show.register(app)
arrivals_count.register(app)
arrivals_release.register(app)
arrivals_round.register(app)
