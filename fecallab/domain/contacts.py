"""Who has met whom: places and days, chains of contact in time order, and the path of a contact in words.

Days are whole days, both ends counted. What is unknown never helps: an unknown first day counts as always.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from fecallab.domain.day_spans import Span, last_overlap, merged
from fecallab.domain.housing import SHARED_THINGS
from fecallab.domain.spoken import say_date

WAYS = ("enclosure", *SHARED_THINGS)
"""How animals meet: in one enclosure, or by what enclosures share."""

ALWAYS, FOREVER = date.min, date.max


@dataclass(frozen=True)
class Presence:
    """An animal was at a place on all days from ``start`` to ``end``; ``end`` is the last day of time if it lasts."""

    animal: str
    place: str
    way: str
    start: date
    end: date


@dataclass(frozen=True)
class Step:
    """One link of a chain: ``giver`` and ``taker`` met at a place.

    ``start`` and ``end`` are the first and last day that they shared; ``start`` after ``end`` means that the
    taker came when the giver was gone and the place was not noted as cleaned.
    """

    giver: str
    taker: str
    place: str
    way: str
    start: date
    end: date

    @property
    def after(self) -> bool:
        """Whether they never were there on the same day."""
        return self.start > self.end


@dataclass(frozen=True)
class Reached:
    """An animal that a chain of contacts reached, on which day first, by which steps."""

    animal: str
    first_day: date
    path: tuple[Step, ...]


@dataclass
class ContactGraph:
    """Who was where, and when.

    Build one with `contact_build.contact_graph`; it is read-only after that.

    Attributes
    ----------
    presences : tuple of Presence
        Every presence at an enclosure, a shared water, tool or round.
    names : mapping of str to str
        What a person calls a place or an animal.
    cleaned : mapping of str to sequence of date
        Days on which an enclosure was cleaned, by its code.
    """

    presences: tuple[Presence, ...]
    names: Mapping[str, str]
    rooms: Mapping[str, str]
    cleaned: Mapping[str, Sequence[date]] = field(default_factory=dict)

    @cached_property
    def of_animal(self) -> dict[str, list[Presence]]:
        """Presences by animal."""
        found: dict[str, list[Presence]] = defaultdict(list)
        for presence in self.presences:
            found[presence.animal].append(presence)
        return found

    @cached_property
    def at_place(self) -> dict[str, list[Presence]]:
        """Presences by place, the earliest first."""
        found: dict[str, list[Presence]] = defaultdict(list)
        for presence in sorted(self.presences, key=lambda one: (one.start, one.animal)):
            found[presence.place].append(presence)
        return found

    @cached_property
    def ever_linked(self) -> dict[str, int]:
        """A number for each animal; two with different numbers have no chain of contact at any time."""
        return _components((p.animal, p.place) for p in self.presences)

    def groups_on(self, day: date, animals: Iterable[str] = ()) -> list[tuple[str, ...]]:
        """Return the contact groups of a day: those that share an enclosure, water, tools or a round then.

        Parameters
        ----------
        day : date
            The day.
        animals : iterable of str
            Animals that are to be named even when nobody knows where they are; they stand alone.

        Returns
        -------
        list of tuple of str
            Codes, each group and the list in order.
        """
        number = _components((p.animal, p.place) for p in self.presences if p.start <= day <= p.end)
        found: dict[int, list[str]] = defaultdict(list)
        for animal, group in number.items():
            found[group].append(animal)
        alone = [(animal,) for animal in set(animals) - set(number)]
        return sorted([*(tuple(sorted(members)) for members in found.values()), *alone])

    def reached(
        self,
        sources: Mapping[str, date],
        *,
        ways: Collection[str] = WAYS,
        until: date = FOREVER,
        survival_days: float | None = 0,
    ) -> dict[str, Reached]:
        """Return whom a chain of contacts reaches, each by the earliest chain in time order.

        Parameters
        ----------
        sources : mapping of str to date
            Where it starts: animals, and the day from which each can pass something on.
        ways : collection of str
            Ways that count; see `WAYS`.
        until : date
            Contacts after this day are left out.
        survival_days : float or None
            How long an enclosure that was left stays infective; cleaning ends it. None when not known: until
            it is cleaned.

        Notes
        -----
        Animals and places are taken in order of time; at each place every presence is looked at once, so the
        work grows with the number of presences, not with their pairs.
        """
        best = {animal: Reached(animal, day, ()) for animal, day in sources.items()}
        heap: list[tuple[date, str]] = [(day, animal) for animal, day in sources.items() if day <= until]
        heapq.heapify(heap)
        done: set[str] = set()
        waiting: list[tuple[date, int, Presence]] = []
        order = 0
        seen_to: dict[str, date] = {}
        looked_at: dict[str, int] = {}
        while heap or waiting:
            if heap and (not waiting or heap[0][0] <= waiting[0][0]):
                day, animal = heapq.heappop(heap)
                if animal in done:
                    continue
                done.add(animal)
                for presence in self.of_animal.get(animal, ()):
                    enters = max(day, presence.start)
                    if presence.way in ways and presence.end >= enters and enters <= until:
                        order += 1
                        heapq.heappush(waiting, (enters, order, presence))
                continue
            enters, _, giver = heapq.heappop(waiting)
            leaves = min(self._infective_until(giver, survival_days), until)
            if leaves <= seen_to.get(giver.place, ALWAYS):
                continue
            seen_to[giver.place] = leaves
            here = self.at_place[giver.place]
            at = looked_at.get(giver.place, 0)
            while at < len(here) and here[at].start <= leaves:
                taker = here[at]
                at += 1
                if taker.end < enters or taker.animal in done:
                    continue
                first = max(enters, taker.start)
                known = best.get(taker.animal)
                if known is None or first < known.first_day:
                    step = Step(
                        giver.animal,
                        taker.animal,
                        giver.place,
                        giver.way,
                        first,
                        min(giver.end, taker.end),
                    )
                    path = (*best[giver.animal].path, step)
                    best[taker.animal] = Reached(taker.animal, first, path)
                    heapq.heappush(heap, (first, taker.animal))
            looked_at[giver.place] = at
        return {animal: found for animal, found in best.items() if found.path}

    def _infective_until(self, giver: Presence, survival_days: float | None) -> date:
        """Return the last day on which a place can pass on what an animal left there."""
        if giver.end == FOREVER or giver.way != "enclosure" or survival_days == 0:
            return giver.end
        cleaned = [day for day in self.cleaned.get(giver.place, ()) if day >= giver.end]
        longest = FOREVER.toordinal() if survival_days is None else giver.end.toordinal() + int(survival_days)
        ends = date.fromordinal(min(longest, FOREVER.toordinal()))
        return min([ends, *cleaned])

    def last_met(
        self, animals: Collection[str], others: Collection[str], until: date, ways: Collection[str] = WAYS
    ) -> tuple[date, str] | None:
        """Return the last day up to ``until`` on which one of ``animals`` met one of ``others``, and whom.

        Parameters
        ----------
        ways : collection of str
            Ways that count; see `WAYS`.

        Returns
        -------
        (date, str) or None
            The day and the one of ``others``; None when they never met.
        """
        mine, theirs = set(animals), set(others) - set(animals)
        best: tuple[date, str] | None = None
        for place in {p.place for animal in mine for p in self.of_animal.get(animal, ())}:
            here = self.at_place[place]
            if here[0].way not in ways:
                continue
            own = merged((p.start, p.end) for p in here if p.animal in mine)
            other = merged((p.start, p.end) for p in here if p.animal in theirs)
            day = last_overlap(own, other, until)
            if day is not None and (best is None or (day, place) > best):
                best = (day, place)
        return None if best is None else (best[0], self._who(best[1], best[0], theirs))

    def _who(self, place: str, day: date, among: Collection[str]) -> str:
        """Return one of some animals that was at a place on a day."""
        return min(p.animal for p in self.at_place[place] if p.animal in among and p.start <= day <= p.end)

    def last_met_outside(
        self, groups: Sequence[Collection[str]], until: date, others: Set[str]
    ) -> dict[str, tuple[date, str]]:
        """Return, for each animal of some groups, its last contact with one of ``others`` outside its own group.

        Returns
        -------
        dict of str to (date, str)
            The day up to ``until`` and whom it met; animals that met none of them are left out.
        """
        number: dict[str, int | str] = {a: place for place, group in enumerate(groups) for a in group}
        best: dict[str, tuple[date, str]] = {}
        for place, here in self.at_place.items():
            spans = _spans([p for p in here if p.animal in others], number, until)
            if not spans:
                continue
            by_end = sorted(
                ((min(end, until), start, group) for group, rows in spans.items() for start, end in rows),
                key=lambda row: -row[0].toordinal(),
            )
            for mine in here:
                group = number.get(mine.animal)
                if group is None or mine.start > until:
                    continue
                last = min(mine.end, until)
                for theirs, begins, other in by_end:
                    if mine.animal in best and min(last, theirs) <= best[mine.animal][0]:
                        break
                    if other != group and begins <= last and theirs >= mine.start:
                        best[mine.animal] = (min(last, theirs), place)
                        break
        return {
            animal: (day, self._who(place, day, others - set(groups[int(number[animal])])))
            for animal, (day, place) in best.items()
        }

    @cached_property
    def _in_room(self) -> dict[str, list[Presence]]:
        found: dict[str, list[Presence]] = defaultdict(list)
        for presence in self.presences:
            room = self.rooms.get(presence.place, "") if presence.way == "enclosure" else ""
            if room:
                found[room].append(presence)
        return found

    def in_same_room(self, animal: str, day: date) -> set[str]:
        """Return the others whose enclosure stood in the same room on a day."""
        rooms = {
            self.rooms.get(p.place, "")
            for p in self.of_animal.get(animal, ())
            if p.way == "enclosure" and p.start <= day <= p.end
        }
        here = (p for room in rooms for p in self._in_room.get(room, ()))
        return {p.animal for p in here if p.start <= day <= p.end} - {animal}

    def say_name(self, code: str) -> str:
        """Return what a person calls an animal or a place."""
        return self.names.get(code, code)

    def say_step(self, step: Step) -> str:
        """Return one step in words: ``shared enclosure 4 from 2 May 2026 to 9 May 2026``, ``have shared … since …``."""
        place = self.say_name(step.place)
        if step.after:
            return (
                f"came into {place} on {say_date(step.start)}, after {self.say_name(step.giver)} was there until "
                f"{say_date(step.end)}; no cleaning is noted between"
            )
        first = "before the records" if step.start == ALWAYS else say_date(step.start)
        if step.end == FOREVER:
            return f"have shared {place} since {first}"
        if step.start == step.end:
            return f"shared {place} on {say_date(step.start)}"
        begin = "since before the records" if step.start == ALWAYS else f"from {first}"
        return f"shared {place} {begin} to {say_date(step.end)}"

    def say_path(self, found: Reached) -> str:
        """Return the whole path in words, each link with who, where and when."""
        return "; then ".join(
            f"{self.say_name(step.taker)} and {self.say_name(step.giver)}: {self.say_step(step)}"
            for step in found.path
        )


def _spans(
    here: Sequence[Presence], number: Mapping[str, int | str], until: date
) -> dict[int | str, list[Span]]:
    """Return the merged times of each group at one place; an animal of no group stands by itself."""
    rows: dict[int | str, list[Span]] = defaultdict(list)
    for presence in here:
        if presence.start <= until:
            rows[number.get(presence.animal, presence.animal)].append((presence.start, presence.end))
    return {group: merged(times) for group, times in rows.items()}


def _components(links: Iterable[tuple[str, str]]) -> dict[str, int]:
    """Number the animals so that those joined by places have the same number (union by path halving)."""
    parent: dict[tuple[str, str], tuple[str, str]] = {}

    def root(node: tuple[str, str]) -> tuple[str, str]:
        parent.setdefault(node, node)
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    animals: dict[str, None] = {}
    for animal, place in links:
        animals[animal] = None
        one, other = root(("animal", animal)), root(("place", place))
        if one != other:
            parent[other] = one
    numbers: dict[tuple[str, str], int] = {}
    return {animal: numbers.setdefault(root(("animal", animal)), len(numbers)) for animal in animals}
