"""What must hold among stays, numbers, arrivals and releases, and how an animal's enclosure keeps in step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

from fecallab.domain.animal import Animal
from fecallab.domain.errors import BadInput
from fecallab.domain.housing import (
    ArrivalMember,
    CountChange,
    Enclosure,
    Release,
    Stay,
    gone_on,
    number_on,
)
from fecallab.domain.spoken import say_date
from fecallab.records import rows, schema, trees
from fecallab.records.clean import name_key
from fecallab.records.housing import enclosure_called, facts_of_animal
from fecallab.records.rows import Kind

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from fecallab.records.writer import Writer

IN_STEP = "in step with its enclosure"
"""The reason that stands with a row which only follows another one."""


def refuse_odd(connection: Connection, fact: Any, code: str = "") -> None:
    """Refuse a stay, change of number, member or release that cannot be beside what is recorded.

    Parameters
    ----------
    connection : Connection
        The open transaction.
    fact : Stay, CountChange, ArrivalMember, Release, Enclosure or anything else
        As it shall stand; anything else passes.
    code : str
        The code under which it stands already, for a correction.
    """
    check = _CHECKS.get(type(fact))
    if check is not None:
        check(connection, fact, code)


def _animal(connection: Connection, code: str) -> Animal | None:
    found = trees.facts(connection, rows.ANIMAL, schema.animals.c.code == code)
    return found[0] if found else None


def _said(day: date | None, unknown: str) -> str:
    return say_date(day) if day is not None else unknown


def _refuse_gone(connection: Connection, owner: Animal, day: date | None, what: str) -> None:
    """Refuse what happens to an animal after it died or left."""
    gone = gone_on(owner.code, facts_of_animal(connection, rows.EVENT, owner.code))
    if gone is not None and day is not None and day > gone.start:
        text = f"{owner.name} {gone.kind} on {say_date(gone.start)} ({gone.code}); {what} on {say_date(day)} cannot be."
        step = f'Check the day; if {gone.code} is wrong: fecallab withdraw {gone.code} --reason "…"'
        raise BadInput(text, next=step, code="not-here-any-more")


def _check_stay(connection: Connection, stay: Stay, code: str) -> None:
    owner = _animal(connection, stay.animal)
    if owner is None:
        return
    arrived = owner.arrived_on
    if arrived is not None and stay.start is not None and stay.start < arrived:
        text = f"{owner.name} arrived on {say_date(arrived)}; a stay from {say_date(stay.start)} would be before that."
        step = f"Check the day, or mend the arrival: fecallab correct {owner.code} arrived_on={stay.start}"
        raise BadInput(text, next=f"{step} --reason …", code="move-before-arrival")
    _refuse_gone(connection, owner, stay.start, "a stay that begins")
    changes = facts_of_animal(connection, rows.COUNT_CHANGE, owner.code)
    most = number_on(owner, changes, stay.start or date.max)
    most = max(most, owner.number_of_animals if stay.start is None else most)
    if stay.number_of_animals > most:
        there = f"{owner.name} has {most} animal{'s' if most != 1 else ''}"
        text = (
            f"{there} on {_said(stay.start, 'the first day')}; {stay.number_of_animals} cannot stay anywhere."
        )
        raise BadInput(
            text, next="Check the number; more came in? fecallab arrivals count", code="more-than-there-are"
        )
    if stay.visit:
        return
    for other in facts_of_animal(connection, rows.STAY, owner.code):
        if other.visit or other.code == code:
            continue
        first = max(stay.start or date.min, other.start or date.min)
        last = min(stay.end or date.max, other.end or date.max)
        if first < last or (first == last and stay.start == other.start and stay.end == other.end):
            where = trees.facts(connection, rows.ENCLOSURE, schema.enclosures.c.code == other.enclosure)
            there = where[0].name if where else other.enclosure
            span = f"from {_said(other.start, 'an unknown day')} to {_said(other.end, 'today')}"
            text = f"{owner.name} would be in two places: in {there} {span} already ({other.code})."
            step = f"Move it on a later day, mend the stay (fecallab correct {other.code} end=DAY), or add --visit"
            raise BadInput(text, next=step, code="in-two-places")


def _check_change(connection: Connection, change: CountChange, code: str) -> None:
    owner = _animal(connection, change.animal)
    if owner is None:
        return
    if owner.kind == "animal":
        text = f"{owner.name} is one animal; only a tub or pen has a number that changes."
        step = f"Type: fecallab animal event {owner.name!r} died   (or left, or fecallab animal move)"
        raise BadInput(text, next=step, code="one-animal")
    if change.other == owner.code:
        text = f"{owner.name} cannot become part of itself."
        raise BadInput(text, next="Name another tub.", code="same-tub")
    if owner.arrived_on is not None and change.on < owner.arrived_on:
        text = f"{owner.name} arrived on {say_date(owner.arrived_on)}; its number cannot change on {say_date(change.on)}."
        raise BadInput(text, next="Check the day.", code="change-before-arrival")
    others = [one for one in facts_of_animal(connection, rows.COUNT_CHANGE, owner.code) if one.code != code]
    after = [*others, change]
    for day in sorted({one.on for one in after if one.on >= change.on}):
        left = number_on(owner, after, day)
        if left < 0:
            had = number_on(owner, others, day)
            text = (
                f"{owner.name} holds {had} animal{'s' if had != 1 else ''} on {say_date(day)};"
                f" {change.number} {change.kind} cannot be."
            )
            step = f"Count again, or look at what is recorded: fecallab arrivals count {owner.name!r}"
            raise BadInput(text, next=step, code="more-than-there-are")


def _check_member(connection: Connection, member: ArrivalMember, code: str) -> None:
    owner = _animal(connection, member.animal)
    found = trees.facts(connection, rows.ARRIVAL, schema.arrivals.c.code == member.arrival)
    if owner is None or not found:
        return
    arrival = found[0]
    if member.joined_on < arrival.arrived_on:
        text = f"{arrival.code} arrived on {say_date(arrival.arrived_on)}; {owner.name} cannot join it on {say_date(member.joined_on)}."
        raise BadInput(text, next="Check both days.", code="joined-before-arrival")
    _refuse_gone(connection, owner, member.joined_on, f"joining {arrival.code}")
    for other in facts_of_animal(connection, rows.MEMBER, owner.code):
        if other.code == code:
            continue
        first = max(member.joined_on, other.joined_on)
        last = min(member.left_on or date.max, other.left_on or date.max)
        released = [
            act.on
            for act in trees.facts(connection, rows.RELEASE, schema.releases.c.arrival == other.arrival)
            if owner.code in act.animals
        ]
        if released:
            last = min(last, min(released))
        if first < last or other.arrival == member.arrival:
            text = f"{owner.name} belongs to {other.arrival} already (since {say_date(other.joined_on)}, {other.code})."
            if other.arrival == member.arrival:
                step = "Nothing is to be done."
            else:
                step = f"Split it off first: fecallab arrivals split {other.arrival} {owner.name!r}"
            raise BadInput(text, next=step, code="in-two-arrivals")


def _check_release(connection: Connection, release: Release, code: str) -> None:
    members = trees.facts(connection, rows.MEMBER, schema.arrival_members.c.arrival == release.arrival)
    there = {
        one.animal
        for one in members
        if one.joined_on <= release.on and (one.left_on or date.max) >= release.on
    }
    strange = [animal for animal in release.animals if animal not in there]
    if strange or not release.animals:
        owner = _animal(connection, strange[0]) if strange else None
        text = f"{owner.name if owner else 'Nobody'} belongs to {release.arrival} on {say_date(release.on)}."
        if owner is not None:
            text = f"{owner.name} does not belong to {release.arrival} on {say_date(release.on)}."
        step = f"See who does: fecallab arrivals show {release.arrival}"
        raise BadInput(text, next=step, code="no-member")


def _check_enclosure(connection: Connection, enclosure: Enclosure, code: str) -> None:
    if not code:
        return
    before = trees.facts(connection, rows.ENCLOSURE, schema.enclosures.c.code == code)
    if not before or name_key(before[0].name) == name_key(enclosure.name):
        return
    named = schema.care_entries.c.enclosure != ""
    noted = [
        one
        for one in trees.facts(connection, rows.CARE, named)
        if name_key(one.enclosure) == name_key(before[0].name)
    ]
    if noted:
        text = f"{len(noted)} notes of care are kept under the name {before[0].name!r} ({noted[0].code}, …)."
        step = "Add an enclosure with the new name and move the animals: fecallab animal move"
        raise BadInput(text, next=step, code="name-in-use")


_CHECKS: dict[type[Any], Any] = {
    Stay: _check_stay,
    CountChange: _check_change,
    ArrivalMember: _check_member,
    Release: _check_release,
    Enclosure: _check_enclosure,
}


CHECKED = (rows.STAY, rows.COUNT_CHANGE, rows.MEMBER, rows.RELEASE)
"""Kinds that are recorded one by one, each beside those before it."""


def before(writer: Writer, kind: Kind, code: str) -> Any:
    """Return what stands under a code before it is changed, where something must follow it; else None."""
    if kind not in (rows.ANIMAL, rows.STAY, rows.ENCLOSURE):
        return None
    with writer._connection() as connection:
        found = trees.facts(connection, kind, kind.table.c.code == code)
    return found[0] if found else None


def follow(writer: Writer, old: Any, new: Any, reason: str) -> None:
    """Keep the animals' word for their enclosure and their stays in step after a correction.

    Parameters
    ----------
    writer : Writer
        In its transaction.
    old, new : fact or None
        What stood (`before`), and what stands now; None where it was withdrawn.
    reason : str
        Why; kept with what follows too.
    """
    if isinstance(old, Animal) and isinstance(new, Animal):
        follow_animal(writer, old, new, reason)
    elif isinstance(old, Stay):
        for animal in {old.animal, new.animal if new is not None else old.animal}:
            animal_follows(writer, animal)
    elif isinstance(old, Enclosure) and isinstance(new, Enclosure) and old.name != new.name:
        homes = [stay for stay in writer.stays() if stay.enclosure == old.code]
        for animal in dict.fromkeys(stay.animal for stay in homes if stay.end is None and not stay.visit):
            animal_follows(writer, animal)


def move_out(writer: Writer, kind: Kind, code: str, reason: str) -> None:
    """Withdraw the stays of an animal that is about to be withdrawn itself."""
    if kind is rows.ANIMAL:
        for stay in writer.stays(code):
            writer.withdraw(stay.code, reason)


def settle(writer: Writer, animals: Sequence[Animal]) -> None:
    """Give animals that were added with an enclosure a stay there; a name that is new becomes an enclosure."""
    housed = [animal for animal in animals if name_key(animal.enclosure)]
    known: dict[str, str] = {}
    stays = []
    for animal in housed:
        key = name_key(animal.enclosure)
        if key not in known:
            known[key] = enclosure_for(writer, animal.enclosure).code
        stays.append(_home(animal, known[key]))
    if stays:
        writer.record(rows.STAY, stays)


def _home(animal: Animal, enclosure: str) -> Stay:
    return Stay(
        animal=animal.code,
        enclosure=enclosure,
        start=animal.arrived_on,
        number_of_animals=animal.number_of_animals,
    )


def enclosure_for(writer: Writer, name: str) -> Enclosure:
    """Return the enclosure of a name, made anew when there is none."""
    with writer._connection() as connection:
        found = enclosure_called(connection, name)
    return found if found is not None else writer.add(Enclosure(name=name.strip()))


def follow_animal(writer: Writer, before: Animal, after: Animal, reason: str) -> None:
    """Let the open stay follow a correction of the animal: of its enclosure, or of the day of its arrival."""
    home = open_home(writer, after.code)
    key = name_key(after.enclosure)
    if key != name_key(before.enclosure) and key != _name_of(writer, home):
        if not key:
            if home is not None:
                writer.withdraw(home.code, reason)
            return
        enclosure = enclosure_for(writer, after.enclosure).code
        if home is None:
            stay = _home(after, enclosure)
            ended = [one.end for one in writer.stays(after.code) if one.end is not None and not one.visit]
            writer.add(replace(stay, start=max(ended)) if ended else stay)
            return
        home = writer.correct(home.code, replace(home, enclosure=enclosure), reason)
    if after.arrived_on != before.arrived_on:
        first = next((one for one in writer.stays(after.code) if not one.visit), None)
        if first is not None and first.start == before.arrived_on:
            writer.correct(first.code, replace(first, start=after.arrived_on), reason)


def open_home(writer: Writer, animal: str) -> Stay | None:
    """Return the stay of an animal at its home of today."""
    homes = [one for one in writer.stays(animal) if one.end is None and not one.visit]
    return homes[-1] if homes else None


def _name_of(writer: Writer, stay: Stay | None) -> str:
    return "" if stay is None else name_key(writer.enclosure(stay.enclosure).name)


def animal_follows(writer: Writer, code: str) -> None:
    """Let the word for an animal's enclosure follow its stays."""
    animal = writer.animal(code)
    home = open_home(writer, code)
    name = "" if home is None else writer.enclosure(home.enclosure).name
    if name_key(animal.enclosure) != name_key(name):
        writer.correct(code, replace(animal, enclosure=name), IN_STEP)
