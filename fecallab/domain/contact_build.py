"""The graph of contacts from what is recorded of stays, sharings and changes."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date

from fecallab.domain.contacts import ALWAYS, FOREVER, ContactGraph, Presence
from fecallab.domain.housing import Housing


def contact_graph(housing: Housing, cleaned: Mapping[str, Sequence[date]] | None = None) -> ContactGraph:
    """Return the graph of who was where.

    Presences end when the animal died or left. A tub that began as part of another was wherever the other was
    up to that day; a tub that took animals in met their owner on that day.

    Parameters
    ----------
    housing : Housing
        Stays, sharings and changes as recorded.
    cleaned : mapping of str to sequence of date, optional
        Days on which an enclosure was cleaned, by its code.
    """
    gone: dict[str, date] = {}
    for event in housing.events:
        gone[event.animal] = min(event.start, gone.get(event.animal, FOREVER))
    shared: dict[str, list[tuple[str, str, date, date]]] = defaultdict(list)
    names = {enclosure.code: _say_enclosure(enclosure.name) for enclosure in housing.enclosures}
    names |= {code: animal.name for code, animal in housing.animals.items()}
    for one in housing.sharings:
        label = " ".join(one.label.casefold().split())
        place = f"{one.thing}: {label}"
        names.setdefault(place, f"{one.thing} “{one.label.strip()}”" if label else one.thing)
        shared[one.enclosure].append((place, one.thing, one.start or ALWAYS, one.end or FOREVER))
    presences: list[Presence] = []
    for stay in housing.stays:
        start = stay.start or ALWAYS
        end = min(stay.end or FOREVER, gone.get(stay.animal, FOREVER))
        if start > end:
            continue
        presences.append(Presence(stay.animal, stay.enclosure, "enclosure", start, end))
        for place, thing, begins, ends in shared[stay.enclosure]:
            if max(start, begins) <= min(end, ends):
                presences.append(Presence(stay.animal, place, thing, max(start, begins), min(end, ends)))
    presences += _inherited(housing, presences)
    rooms = {enclosure.code: enclosure.room.strip().casefold() for enclosure in housing.enclosures}
    return ContactGraph(tuple(dict.fromkeys(presences)), names, rooms, cleaned or {})


def _say_enclosure(name: str) -> str:
    """Return a name that reads as a place: a bare number or letter says what it is."""
    return name if re.search(r"[^\W\d_]{3}", name) else f"enclosure {name}"


def _inherited(housing: Housing, presences: Sequence[Presence]) -> list[Presence]:
    """Return the presences that parts of a tub carry over from it."""
    mine: dict[str, list[Presence]] = defaultdict(list)
    changes = sorted((c for c in housing.changes if c.other), key=lambda change: change.on)
    if not changes:
        return []
    for presence in presences:
        mine[presence.animal].append(presence)
    added: list[Presence] = []
    for change in changes:
        if change.kind not in ("moved out", "moved in"):
            continue
        tub, other = change.animal, change.other
        old, new = (tub, other) if change.kind == "moved out" else (other, tub)
        first = change.on if change.kind == "moved in" else ALWAYS
        for presence in list(mine[old]):
            if presence.start <= change.on and presence.end >= first:
                carried = Presence(
                    new,
                    presence.place,
                    presence.way,
                    max(presence.start, first),
                    min(presence.end, change.on),
                )
                added.append(carried)
                mine[new].append(carried)
    return added
