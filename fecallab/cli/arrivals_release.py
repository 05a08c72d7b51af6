"""``fecallab arrivals release``: a person lets a contact group out of quarantine; the act is kept for good."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import typer

from fecallab.cli.agree import agreed, check_nothing_new
from fecallab.cli.common import BY, JSON, RECORDS, REMARK, fact_dict, now, open_folder, read_day, who
from fecallab.cli.output import emit
from fecallab.domain.spoken import number_of, say_date

if TYPE_CHECKING:
    from datetime import date

    from fecallab.domain.animal import Animal
    from fecallab.domain.housing import Arrival, Enclosure
    from fecallab.domain.quarantine import MixAnswer
    from fecallab.domain.quarantine_exposure import Situation
    from fecallab.records.reader import Reader
    from fecallab.records.writer import Writer


@dataclass(frozen=True)
class _Leaving:
    """Who may leave quarantine, where to, and the exams in doubt that this would rest on."""

    arrival: Arrival
    situation: Situation
    place: Enclosure | None
    answers: Sequence[MixAnswer]
    supported: bool
    doubted: Sequence[str]

    @property
    def animals(self) -> list[str]:
        return [member.animal for one in self.answers for member in one.members]

    @property
    def number(self) -> int:
        return sum(one.number for one in self.answers)

    @property
    def codes(self) -> list[str]:
        """The arrivals that they came with."""
        return list(dict.fromkeys(self.situation.arrival_of[animal] for animal in self.animals))

    @property
    def who(self) -> str:
        return f"{number_of(self.number, 'animal')} of {' and '.join(self.codes)}"

    @property
    def names(self) -> str:
        """A line of names."""
        names = [self.situation.name_of(animal) for animal in self.animals]
        return f"  {', '.join(names[:9])}{f' and {len(names) - 9} more' if len(names) > 9 else ''}"


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
    yes: bool = typer.Option(False, "--yes", help="Release without asking, on exams in doubt too."),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Release contact groups from quarantine; refused before time, unless a named vet orders it."""
    from fecallab.domain.control_note import doubt
    from fecallab.domain.housing import Release
    from fecallab.domain.quarantine import BEFORE_TIME_MEANS, ONLY_MEANS
    from fecallab.gather_doubt import RELEASE
    from fecallab.reference.tables import EDITION

    day = read_day(on, "--on")
    asked = (arrival, animals or (), to, vet, reason, day)
    warned: list[str] = []
    with open_folder(records) as store:
        go = _may_leave(store, *asked)
    if go.doubted:
        are = "is" if go.number == 1 else "are"
        warned = [f"{go.who} {are} to be released on {say_date(day)}.", go.names]
        warned.append(f"  ! {doubt(go.doubted, RELEASE)}")
        if not agreed("\n".join(warned), yes, as_json, "Release all the same?"):
            left = {"released": False, "releases": [], "number": 0, "stay_apart": _staying(go, ())}
            text = "Nobody is released. To release all the same: add --yes"
            emit({**left, "counted_not_proven": go.doubted}, text, as_json)
            return
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        shown, go = go.doubted, _may_leave(writer, *asked)
        check_nothing_new(shown, go.doubted, yes)
        acts = []
        for code in go.codes:
            mine = tuple(animal for animal in go.animals if go.situation.arrival_of[animal] == code)
            protocol = go.situation.protocol_of(mine[0])
            act = Release(
                arrival=code,
                animals=mine,
                on=day,
                to=go.place.name if go.place is not None else to.strip(),
                by=who(by),
                vet="" if go.supported else vet.strip(),
                reason=reason.strip(),
                protocol=protocol.code if protocol is not None else "",
                answer_then="; ".join(dict.fromkeys(one.headline for one in go.answers)),
                edition=EDITION,
                supported_then=go.supported,
                remark=remark,
            )
            acts.append(writer.add(act))
        moved = _move(writer, go.animals, go.place, day)
    act = acts[0]
    whose = "" if go.supported else f", before time on the order of {act.vet}: {act.reason}"
    codes = ", ".join(one.code for one in acts)
    lines = [*(warned if yes else [])]
    lines += [f"{codes}: {go.who} released on {say_date(day)} by {act.by}{whose}. Recorded."]
    lines += [] if warned else [go.names]
    if moved and go.place is not None:
        lines.append(f"  {moved} of them live in {go.place.name} since {say_date(day)}.")
    lines.append(f"  {ONLY_MEANS if go.supported else BEFORE_TIME_MEANS}")
    staying = _staying(go, go.animals)
    if staying:
        apart = "stays" if len(staying) == 1 else "stay"
        lines.append(f"  {len(staying)} {apart} apart: fecallab arrivals show {go.arrival.code}")
    payload = {
        "released": True,
        "releases": [fact_dict(one) for one in acts],
        "number": go.number,
        "stay_apart": staying,
        "counted_not_proven": go.doubted,
    }
    emit(payload, "\n".join(lines), as_json)


def _staying(go: _Leaving, leaving: Sequence[str]) -> list[str]:
    """Return who of the arrival that was named stays apart when these leave."""
    mine = [animal for animal in go.situation.quarantined if animal not in leaving]
    return [animal for animal in mine if go.situation.arrival_of[animal] == go.arrival.code]


def _may_leave(
    store: Reader, arrival: str, animals: Sequence[str], to: str, vet: str, reason: str, day: date
) -> _Leaving:
    """Return who may leave, by the rules or on a vet's order; an order rests on no exam.

    Raises
    ------
    BadInput
        As `_answers`.
    Refused
        When the rules do not support it and no vet orders it.
    """
    from fecallab.domain.quarantine import check_release
    from fecallab.gather_arrivals import situation_of
    from fecallab.gather_doubt import arrivals_in_doubt

    known = store.arrival(arrival)
    situation = situation_of(store, day)
    place = _place(store, to)
    named = [store.animal(name) for name in animals]
    answers = _answers(known, named, situation, _residents(store, place, day), vet)
    by_rule = [check_release(one, vet=vet, reason=reason) for one in answers]  # every one is asked
    resting = [mix for mix, rests in zip(answers, by_rule, strict=True) if rests]
    doubted = arrivals_in_doubt(store, situation, [one for mix in resting for one in mix.members], day)
    return _Leaving(known, situation, place, answers, all(by_rule), doubted)


def _place(store: Reader, to: str) -> Enclosure | None:
    from fecallab.records.housing import enclosure_called

    if not to.strip():
        return None
    with store._connection() as connection:
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


def _residents(store: Reader, place: Enclosure | None, day: date) -> dict[str, tuple[str, ...]]:
    """Return who lives in the enclosure that the others would move into, each with its host and wider groups."""
    from fecallab.gather_arrivals import wider_groups

    if place is None:
        return {}
    housing = store.housing()
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
