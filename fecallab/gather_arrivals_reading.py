"""Which part of who lives where can matter to the animals in quarantine; the rest is not looked at."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fecallab.domain.contacts import ContactGraph
    from fecallab.domain.housing import Housing, Release
    from fecallab.domain.quarantine_state import Present


def came_again(house: Housing) -> Housing:
    """Return what is recorded with the earlier arrivals forgotten of animals that were released and came in again."""
    released: dict[str, list[Release]] = defaultdict(list)
    for act in house.releases:
        for animal in act.animals:
            released[animal].append(act)
    last: dict[str, tuple[str, date]] = {}
    for member in house.members:
        for act in released.get(member.animal, ()):
            again = member.arrival != act.arrival and member.joined_on >= act.on
            if again and member.joined_on >= last.get(member.animal, ("", date.min))[1]:
                last[member.animal] = (member.arrival, member.joined_on)
    if not last:
        return house
    members = [
        one
        for one in house.members
        if one.animal not in last
        or one.joined_on >= last[one.animal][1]
        or one.arrival == last[one.animal][0]
    ]
    acts = []
    for act in house.releases:
        kept = tuple(
            a for a in act.animals if a not in last or (act.on >= last[a][1] and act.arrival == last[a][0])
        )
        if kept:
            acts.append(replace(act, animals=kept))
    return replace(house, members=tuple(members), releases=tuple(acts))


def narrowed(present: Present, linked: Collection[str]) -> Housing:
    """Return what is recorded of those animals alone that can matter to the ones in quarantine.

    Parameters
    ----------
    present : Present
        Who is where on the day.
    linked : collection of str
        Animals from which a chain of contacts may lead to one in quarantine, those included.

    Returns
    -------
    Housing
        With those animals, those that came in together with them and, where a protocol speaks of the room, those
        in the same rooms; enclosures, arrivals and protocols are kept whole.
    """
    house = present.facts.housing
    roots = {present.came[animal][0] for animal in linked if animal in present.came}
    kept = set(linked) | {animal for animal, (root, _) in present.came.items() if root in roots}
    if any("the room" in (p.positive_restarts, p.newcomer_restarts) for p in house.protocols):
        rooms = {place.code: place.room.strip().casefold() for place in house.enclosures}
        mine = {rooms.get(stay.enclosure, "") for stay in house.stays if stay.animal in kept} - {""}
        kept |= {stay.animal for stay in house.stays if rooms.get(stay.enclosure, "") in mine}
    kept |= {one.other for one in house.changes if one.animal in kept and one.other}
    kept |= {one.animal for one in house.changes if one.other in kept}

    def of(rows: Sequence[Any]) -> tuple[Any, ...]:
        return tuple(row for row in rows if row.animal in kept)

    return replace(
        house,
        animals={code: animal for code, animal in house.animals.items() if code in kept},
        events=of(house.events),
        stays=of(house.stays),
        changes=of(house.changes),
        members=of(house.members),
        releases=tuple(act for act in house.releases if kept & set(act.animals)),
    )


def linked_before(graph: ContactGraph, inside: Collection[str]) -> set[str]:
    """Return the animals from which a chain of contacts in time order may lead to one of `inside`.

    The graph is read backwards: who came after somebody comes before them. What an enclosure keeps is taken to
    last for ever, so that nobody is left out.
    """
    from fecallab.domain.contacts import ContactGraph

    last = date.max.toordinal() + 1

    def turned(day: date) -> date:
        return date.fromordinal(last - day.toordinal())

    groups = {number for animal, number in graph.ever_linked.items() if animal in inside}
    backwards = ContactGraph(
        tuple(
            replace(one, start=turned(one.end), end=turned(one.start))
            for one in graph.presences
            if graph.ever_linked[one.animal] in groups
        ),
        graph.names,
        graph.rooms,
    )
    found = backwards.reached(dict.fromkeys(inside, date.min), survival_days=None)
    return set(found) | set(inside)
