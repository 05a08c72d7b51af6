"""``fecallab arrivals release``: a person lets a contact group out of quarantine; the act is kept for good."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import typer

from fecallab.cli.common import BY, JSON, RECORDS, REMARK, fact_dict, now, open_folder, read_day, who
from fecallab.cli.output import emit
from fecallab.domain.spoken import number_of, say_date

if TYPE_CHECKING:
    from datetime import date

    from fecallab.domain.animal import Animal
    from fecallab.domain.housing import Arrival, Enclosure
    from fecallab.domain.quarantine import MixAnswer
    from fecallab.domain.quarantine_exposure import Situation
    from fecallab.records.writer import Writer


def register(app: typer.Typer) -> None:
    """Add the command ``release``."""
    app.command()(release)


def release(
    arrival: str = typer.Argument(help="Code or name of the arrival."),
    animals: list[str] = typer.Argument(
        None, help="Animals of whole contact groups; all that may leave when left out."
    ),
    to: str = typer.Option("", help="Where to: an enclosure (they move there), or any words."),
    vet: str = typer.Option("", help="Before time: the vet who ordered it."),
    reason: str = typer.Option("", help="Before time: why."),
    on: str | None = typer.Option(None, "--on", help="The day (today when left out)."),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Release contact groups from quarantine; refused before time, unless a named vet orders it."""
    from fecallab.domain.control_note import doubt
    from fecallab.domain.housing import Release
    from fecallab.domain.quarantine import BEFORE_TIME_MEANS, ONLY_MEANS, check_release
    from fecallab.gather_arrivals import situation_of
    from fecallab.gather_doubt import arrivals_in_doubt
    from fecallab.reference.tables import EDITION

    day = read_day(on, "--on")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        known = writer.arrival(arrival)
        situation = situation_of(writer, day)
        place = _place(writer, to)
        named = [writer.animal(name) for name in animals or ()]
        answers = _answers(known, named, situation, _residents(writer, place, day), vet)
        doubted = arrivals_in_doubt(writer, situation, [one for mix in answers for one in mix.members], day)
        by_rule = [check_release(one, vet=vet, reason=reason) for one in answers]  # every one is asked
        supported = all(by_rule)
        leaving = [member.animal for one in answers for member in one.members]
        acts = []
        for code in dict.fromkeys(situation.arrival_of[animal] for animal in leaving):
            mine = tuple(animal for animal in leaving if situation.arrival_of[animal] == code)
            protocol = situation.protocol_of(mine[0])
            act = Release(
                arrival=code,
                animals=mine,
                on=day,
                to=place.name if place is not None else to.strip(),
                by=who(by),
                vet="" if supported else vet.strip(),
                reason=reason.strip(),
                protocol=protocol.code if protocol is not None else "",
                answer_then="; ".join(dict.fromkeys(one.headline for one in answers)),
                edition=EDITION,
                supported_then=supported,
                remark=remark,
            )
            acts.append(writer.add(act))
        moved = _move(writer, leaving, place, day)
        staying = [animal for animal in situation.quarantined if animal not in leaving]
        staying = [animal for animal in staying if situation.arrival_of[animal] == known.code]
        number = sum(one.number for one in answers)
    act = acts[0]
    whose = "" if supported else f", before time on the order of {act.vet}: {act.reason}"
    codes = ", ".join(one.code for one in acts)
    of = " and ".join(one.arrival for one in acts)
    lines = [
        f"{codes}: {number_of(number, 'animal')} of {of} released on {say_date(day)} by {act.by}{whose}. Recorded."
    ]
    names = [situation.name_of(animal) for animal in leaving]
    lines.append(f"  {', '.join(names[:9])}{f' and {len(names) - 9} more' if len(names) > 9 else ''}")
    if moved and place is not None:
        lines.append(f"  {moved} of them live in {place.name} since {say_date(day)}.")
    lines += [f"  ! {doubt(doubted)}"] if doubted else []
    lines.append(f"  {ONLY_MEANS if supported else BEFORE_TIME_MEANS}")
    if staying:
        apart = "stays" if len(staying) == 1 else "stay"
        lines.append(f"  {len(staying)} {apart} apart: fecallab arrivals show {known.code}")
    payload = {
        "releases": [fact_dict(one) for one in acts],
        "number": number,
        "stay_apart": staying,
        "counted_not_proven": doubted,
    }
    emit(payload, "\n".join(lines), as_json)


def _place(writer: Writer, to: str) -> Enclosure | None:
    from fecallab.records.housing import enclosure_called

    if not to.strip():
        return None
    with writer._connection() as connection:
        return enclosure_called(connection, to)


def _answers(
    arrival: Arrival,
    named: Sequence[Animal],
    situation: Situation,
    residents: Mapping[str, tuple[str, ...]],
    vet: str,
) -> list[MixAnswer]:
    """Return the answers for the contact groups that shall leave.

    Raises
    ------
    BadInput
        When somebody is not kept apart, or shares contact with others that were not named.
    Refused
        When nobody was named and nobody may leave.
    """
    from fecallab.domain.errors import BadInput, Refused
    from fecallab.domain.quarantine import check_release, may_mix

    mine = [animal for animal in situation.quarantined if situation.arrival_of[animal] == arrival.code]
    for owner in named:
        if owner.code not in mine:
            text = f"{owner.name} is not kept apart as one of {arrival.code}."
            step = f"It may be released, gone, or of another one: fecallab arrivals show {arrival.code}"
            raise BadInput(text, next=step, code="no-member")
    if not mine:
        text = f"Nobody of {arrival.code} is kept apart on {say_date(situation.today)}."
        raise BadInput(text, next="Type: fecallab arrivals list", code="nobody-kept-apart")
    wanted = [owner.code for owner in named] or mine
    groups = list(dict.fromkeys(situation.group_of(animal) for animal in wanted))
    leaving = {animal for group in groups for animal in group}
    into = sorted({line for animal, line in residents.items() if animal not in leaving})
    answers = [may_mix(group, situation, into=into) for group in groups]
    if named:
        for one in answers:
            left = [member for member in one.members if member.animal not in wanted]
            if left and not vet:
                names = ", ".join(member.name for member in left[:5])
                more = f" and {len(left) - 5} more" if len(left) > 5 else ""
                text = f"Those named share enclosure, water, tools or a round with {names}{more}: they leave as one."
                step = "Name them too, or part them first: fecallab animal move"
                raise BadInput(text, next=step, code="contact-group-as-one")
        return answers
    ready = [one for one in answers if one.may_release]
    if ready or vet:
        return answers if vet else ready
    try:
        check_release(answers[0])
    except Refused as first:
        others = [reason for one in answers[1:] for reason in one.reasons]
        seen = {str(reason): reason for reason in (*first.reasons, *others)}
        raise Refused(list(seen.values())[:12]) from None
    return answers


def _residents(writer: Writer, place: Enclosure | None, day: date) -> dict[str, tuple[str, ...]]:
    """Return who lives in the enclosure that the others would move into, each with its host and wider groups."""
    from fecallab.gather_arrivals import wider_groups

    if place is None:
        return {}
    housing = writer.housing()
    there = {
        stay.animal
        for stay in housing.stays
        if stay.enclosure == place.code and stay.holds_on(day) and stay.end != day
    }
    return {code: wider_groups(housing.animals[code].host_group) for code in there}


def _move(writer: Writer, leaving: Sequence[str], place: Enclosure | None, day: date) -> int:
    """Move those that were released into the enclosure that was named; return how many moved."""
    from fecallab.cli.animal_move import move_home
    from fecallab.records.moving import open_home

    moved = 0
    for animal in leaving if place is not None else ():
        home = open_home(writer, animal)
        if place is not None and (home is None or home.enclosure != place.code):
            move_home(writer, writer.animal(animal), place, day)
            moved += 1
    return moved
