"""What comes next for the contact groups of arrivals: stools to examine, days to wait for, acts of a person."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from fecallab.domain.quarantine import NEVER_WITH_THESE, MixAnswer, may_mix
from fecallab.domain.quarantine_run import WAITS_FOR_A_PERSON
from fecallab.gather_arrivals import situation_of

if TYPE_CHECKING:
    from fecallab.records.reader import Reader


@dataclass(frozen=True)
class ArrivalDue:
    """What comes next for a contact group of an arrival.

    ``on_or_after`` is the first day on which it makes sense; None when a person has to act first.
    """

    arrival: str
    arrival_name: str
    animals: tuple[str, ...]
    names: tuple[str, ...]
    place: str
    what: str
    on_or_after: date | None
    why: str
    next: str


def arrivals_due(store: Reader, today: date, animal: str = "") -> list[ArrivalDue]:
    """Return what comes next for every contact group in quarantine, what may be done first comes first.

    Parameters
    ----------
    animal : str
        Code of one animal, for its group alone.
    """
    if not store.any_arrival():
        return []
    situation = situation_of(store, today, only=[animal] if animal else None)
    called = {one.code: one.name for one in situation.facts.housing.arrivals}
    places = {place.code: place for place in situation.facts.housing.enclosures}
    rooms: dict[str, str] = {}
    for stay in situation.facts.housing.stays:
        if not stay.visit and stay.holds_on(today) and stay.enclosure in places:
            rooms[stay.animal] = places[stay.enclosure].room or places[stay.enclosure].name
    found = []
    for group in situation.groups:
        if animal and animal not in group:
            continue
        answer = may_mix(group, situation)
        first = answer.members[0]
        code = situation.arrival_of[first.animal]
        where = dict.fromkeys(rooms.get(member.animal, "") for member in answer.members)
        what, day, step = _next_of(answer, code)
        found.append(
            ArrivalDue(
                arrival=code,
                arrival_name=called.get(code, ""),
                animals=tuple(member.animal for member in answer.members),
                names=tuple(member.name for member in answer.members),
                place=", ".join(word for word in where if word),
                what=what,
                on_or_after=day,
                why=answer.reasons[0].text if answer.reasons else "",
                next=step,
            )
        )
    return sorted(found, key=lambda one: (one.on_or_after or date.min, one.arrival, one.names))


def _next_of(answer: MixAnswer, arrival: str) -> tuple[str, date | None, str]:
    """Return the next act for a contact group: the words, the first day, what to type."""
    if answer.may_release:
        return (
            "may be released: nothing found in stools against it",
            None,
            f"fecallab arrivals release {arrival}",
        )
    if answer.answer == NEVER_WITH_THESE:
        return answer.answer, None, f"fecallab arrivals show {arrival}"
    waits = [r for m in answer.members for r in m.missing if r.code in WAITS_FOR_A_PERSON]
    days = [m.next_sample_on_or_after for m in answer.members if m.next_sample_on_or_after is not None]
    if days:
        soonest = min(days)
        many = sum(day == soonest for day in days)
        stools = "a stool" if many == 1 else f"{many} stools"
        more = f"; besides: {waits[0].code.replace('-', ' ')}" if waits else ""
        return f"examine {stools}{more}", soonest, f"fecallab arrivals round {arrival}"
    if waits:
        return f"a person has to act: {waits[0].code.replace('-', ' ')}", None, waits[0].next
    return "wait until its days are over", answer.earliest_on, f"fecallab arrivals show {arrival}"
