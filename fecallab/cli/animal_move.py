"""``fecallab animal move``: an animal or tub goes to another enclosure, or was there for a time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import BY, JSON, RECORDS, REMARK, fact_dict, now, open_folder, read_day, who
from fecallab.cli.output import emit
from fecallab.domain.spoken import number_of, say_date

if TYPE_CHECKING:
    from datetime import date

    from fecallab.domain.animal import Animal
    from fecallab.domain.housing import Enclosure, Stay
    from fecallab.records.reader import Reader
    from fecallab.records.writer import Writer


def move(
    animal: str = typer.Argument(help="Name or code of the animal, tub or pen."),
    enclosure: str = typer.Argument(help="Name or code of the enclosure."),
    on: str | None = typer.Option(None, "--on", help="Day of the move (today when left out)."),
    new: bool = typer.Option(False, "--new", help="The enclosure is new: add it."),
    room: str = typer.Option("", help="The room of a new enclosure."),
    visit: bool = typer.Option(
        False, "--visit", help="It was only there for a time (an escape, a mating): its home stays its home."
    ),
    until: str | None = typer.Option(None, help="Last day of a visit (the same day when left out)."),
    number: int = typer.Option(1, help="How many animals of a tub were on the visit."),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Move an animal or tub to another enclosure, or say that it was there for a time."""
    from fecallab.domain.errors import BadInput

    day = read_day(on, "--on")
    last = read_day(until, "--until") if until else None
    if last is not None and not visit:
        text = "Only a visit has a last day; a move lasts until the next one."
        raise BadInput(text, next="Add --visit, or leave --until out.", code="end-not-asked")
    if room and not new:
        raise BadInput(
            "--room is for a new enclosure.", next="Add --new, or leave --room out.", code="room-not-asked"
        )
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        owner = writer.animal(animal)
        place = _place(writer, enclosure, new, room)
        before = _kept_apart_with(writer, owner, day)
        if visit:
            end = last or day
            stay = _visit(writer, owner, place, day, end, number, remark)
            span = f"on {say_date(day)}" if day == end else f"from {say_date(day)} to {say_date(end)}"
            text = f"{owner.name} was in {place.name} {span}. Recorded."
            if owner.kind != "animal":
                text = f"{stay.number_of_animals} of {text}"
            left = ""
        else:
            stay, left = move_home(writer, owner, place, day, remark)
            text = f"{owner.name} lives in {place.name} since {say_date(day)}{f', before in {left}' if left else ''}. Recorded."
        text += _met_too_early(owner, before, _kept_apart_with(writer, owner, day))
    text += f"\n  Whom it met: fecallab contacts {owner.code}"
    emit({"stay": fact_dict(stay), "animal": owner.code, "from": left}, text, as_json)


def _kept_apart_with(reader: Reader, owner: Animal, day: date) -> tuple[str, tuple[str, ...]]:
    """Return the arrival that an animal is kept apart in on a day and its contact group; nothing outside one."""
    from fecallab.gather_arrivals_due import arrivals_due

    group = next(iter(arrivals_due(reader, day, owner.code)), None)
    return (group.arrival, group.names) if group is not None else ("", ())


def _met_too_early(
    owner: Animal, before: tuple[str, tuple[str, ...]], after: tuple[str, tuple[str, ...]]
) -> str:
    """Say whom an animal meets that is not free to mix; the move happened, so it is told and not refused."""
    arrival, new = after[0], [name for name in after[1] if name not in (owner.name, *before[1])]
    if not new:
        return ""
    others = ", ".join(new[:4]) + (f" and {len(new) - 4} more" if len(new) > 4 else "")
    alone = arrival if not before[0] else before[0]
    return (
        f"\n  ! Not free to mix yet ({alone}): with this move it stands in one group with {others}. They wait for each"
        f" other, and days or exams may begin anew. See: fecallab arrivals show {arrival}"
    )


def _place(writer: Writer, name: str, new: bool, room: str) -> Enclosure:
    from fecallab.cli.enclosure import readable
    from fecallab.domain.housing import Enclosure

    if new:
        return writer.add(Enclosure(name=readable(name), room=room.strip()))
    return writer.enclosure(name)


def _visit(
    writer: Writer, owner: Animal, place: Enclosure, first: date, last: date, number: int, remark: str
) -> Stay:
    from fecallab.domain.errors import BadInput
    from fecallab.domain.housing import Stay

    if last < first:
        text = f"The visit would end on {say_date(last)}, before it begins on {say_date(first)}."
        raise BadInput(text, next="Check both days.", code="end-before-start")
    if number < 1:
        text = f"--number is {number}; at least one was there."
        raise BadInput(text, next="Type: --number 1", code="out-of-range")
    return writer.add(
        Stay(
            animal=owner.code,
            enclosure=place.code,
            start=first,
            end=last,
            number_of_animals=number,
            visit=True,
            remark=remark,
        )
    )


def move_home(
    writer: Writer, owner: Animal, place: Enclosure, day: date, remark: str = ""
) -> tuple[Stay, str]:
    """End the stay at home on a day and begin the next one; return it with the name of the home before."""
    from dataclasses import replace

    from fecallab.domain.errors import BadInput
    from fecallab.domain.housing import Stay, number_on

    homes = [one for one in writer.stays(owner.code) if not one.visit]
    open_home = next((one for one in homes if one.end is None), None)
    left = ""
    if open_home is not None:
        left = writer.enclosure(open_home.enclosure).name
        if open_home.enclosure == place.code:
            since = f"since {say_date(open_home.start)}" if open_home.start else "already"
            text = f"{owner.name} lives in {place.name} {since}."
            raise BadInput(text, next="Nothing is to be done.", code="there-already")
        if open_home.start is not None and day < open_home.start:
            text = f"{owner.name} lives in {left} since {say_date(open_home.start)} ({open_home.code}); a move on {say_date(day)} is before that."
            step = f"Check the day, or mend the stay first: fecallab correct {open_home.code} start=DAY --reason …"
            raise BadInput(text, next=step, code="in-two-places")
        writer.correct(open_home.code, replace(open_home, end=day), f"moved to {place.name}")
    number = max(1, number_on(owner, writer.count_changes(owner.code), day))
    stay = writer.add(
        Stay(animal=owner.code, enclosure=place.code, start=day, number_of_animals=number, remark=remark)
    )
    return stay, left


@dataclass(frozen=True)
class Housed:
    """Where an animal lives on a day: the number of its tub, its stays and its arrival, and the lines that say so."""

    number: int
    stays: list[dict[str, Any]]
    arrival: str
    lines: list[str]


def housed(store: Reader, owner: Animal, day: date) -> Housed:
    """Return where an animal lives and lived, how many a tub holds, and whether it is kept apart."""
    from fecallab.domain.housing import number_on

    number = number_on(owner, store.count_changes(owner.code), day) if owner.kind != "animal" else 1
    names = {place.code: place.name for place in store.enclosures()}
    lines = []
    if owner.kind != "animal":
        was = f", {owner.number_of_animals} when recorded" if number != owner.number_of_animals else ""
        lines.append(f"  a {owner.kind} with {number_of(number, 'animal')}{was}")
    stays = [
        {**fact_dict(stay), "enclosure_name": names.get(stay.enclosure, stay.enclosure)}
        for stay in store.stays(owner.code)
        if stay.start is None or stay.start <= day
    ]
    said = []
    for stay in stays:
        first = say_date(stay["start"]) if stay["start"] else ""
        until = f" to {say_date(stay['end'])}" if stay["end"] and stay["end"] <= day else ""
        since = f" from {first or 'an unknown day'}" if until else f" since {first}" if first else ""
        said.append(f"{stay['enclosure_name']}{since}{until}{' (visit)' if stay['visit'] else ''}")
    if said:
        lines.append(f"Lives in: {'; '.join(reversed(said[-5:]))}")
    members = [
        one
        for one in store.memberships(owner.code)
        if one.joined_on <= day and (one.left_on is None or one.left_on > day)
    ]
    arrival = members[-1].arrival if members else ""
    if arrival:
        out = [act for act in store.releases(arrival) if owner.code in act.animals and act.on <= day]
        state = (
            f"released on {say_date(out[0].on)}" if out else f"kept apart: fecallab arrivals show {arrival}"
        )
        lines.append(f"Arrival {arrival}: {state}")
    return Housed(number, stays, arrival, lines)
