"""Whose run of clean exams and whose days began when: positives and newcomers restart them along contacts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from fecallab.domain.contacts import ALWAYS, Reached
from fecallab.domain.quarantine_exams import CRYPTOSPORIDIUM
from fecallab.domain.quarantine_rules import Spread
from fecallab.domain.quarantine_state import Present
from fecallab.domain.spoken import say_date

COLLECTION = "the collection"


@dataclass(frozen=True)
class Start:
    """A day from which something counts, and why."""

    day: date
    why: str


class Restarts(Present):
    """Who is where, with what restarts whose days and whose run."""

    @cached_property
    def positives(self) -> dict[str, dict[str, date]]:
        """For each group: the animals that were positive for it, with the last day of a positive stool."""
        found: dict[str, dict[str, date]] = defaultdict(dict)
        for animal, exams in self.facts.exams.items():
            for exam in exams:
                seen = "positive" in exam.results.values() or exam.laboratory_pcr == "positive"
                if not seen or exam.taken_on > self.today:
                    continue
                groups = [group for group, result in exam.results.items() if result == "positive"]
                if exam.laboratory_pcr == "positive":
                    groups.append(CRYPTOSPORIDIUM)
                for group in groups:
                    if exam.taken_on >= found[group].get(animal, ALWAYS):
                        found[group][animal] = exam.taken_on
        return found

    def blocks(self, animal: str, group: str) -> bool:
        """Return whether finding a group in an animal blocks, by its protocol; without one everything does."""
        protocol = self.protocol_of(animal)
        return protocol is None or group not in protocol.not_blocking

    def reached_by(self, group: str, sources: Collection[str]) -> dict[str, Reached]:
        """Return whom a positive finding can have reached, by the group's way of spread, in time order."""
        found: dict[str, Reached] = {}
        by_way: dict[Spread, dict[str, date]] = defaultdict(dict)
        for animal in sources:
            since = self.facts.infected_since.get((animal, group), ALWAYS)
            by_way[self.facts.spread(group, self.host_of(animal))][animal] = since
        for spread, starts in by_way.items():
            for animal, one in self.graph.reached(
                starts, ways=spread.ways, until=self.today, survival_days=spread.survival_days
            ).items():
                if animal not in found or one.first_day < found[animal].first_day:
                    found[animal] = one
        return found

    @cached_property
    def run_starts(self) -> dict[str, Start]:
        """For each animal whose run of clean exams a positive restarted: since when, and why."""
        found: dict[str, Start] = {}

        def restart(animal: str, day: date, why: str) -> None:
            if animal in self.came and (animal not in found or day > found[animal].day):
                found[animal] = Start(day, why)

        for group, last in self.positives.items():
            sources = {animal for animal in last if self.blocks(animal, group)}
            for animal in sources:
                text = f"{group} was found in {self.name_of(animal)} on {say_date(last[animal])}"
                restart(animal, last[animal], text)
            reached = self.reached_by(group, sources) if sources else {}
            affected = self._affected(sources, last, reached, group)
            carriers = sources | set(reached)
            ways = {way for one in sources for way in self.facts.spread(group, self.host_of(one)).ways}
            for unit in {self.group_of(animal) for animal in affected}:
                inside = [animal for animal in unit if animal in sources]
                day = max((last[animal] for animal in inside), default=ALWAYS)
                met = self.graph.last_met(unit, carriers - set(unit), self.today, ways)
                for animal in unit:
                    if animal not in affected:
                        continue
                    first = reached[animal].first_day if animal in reached else ALWAYS
                    since = max(day, met[0] if met else ALWAYS, first, affected[animal])
                    if since > ALWAYS:
                        why = self._restart_words(group, animal, inside, reached, last)
                        if met and since == met[0] > max(day, first):
                            why += f"; last contact with {self.name_of(met[1])} on {say_date(met[0])}"
                        restart(animal, since, why)
        return found

    def _affected(
        self,
        sources: Collection[str],
        last: Mapping[str, date],
        reached: Mapping[str, Reached],
        group: str,
    ) -> dict[str, date]:
        """Return the animals whose run a finding restarts by their own protocol, with the least day for it."""
        found: dict[str, date] = {}
        for animal in self.came:
            protocol = self.protocol_of(animal)
            if protocol is None or group in protocol.not_blocking:
                continue
            who = protocol.positive_restarts
            if who != "the animal" and animal in reached:
                found[animal] = ALWAYS
            if who == "the arrival":
                days = [last[one] for one in sources if self.came.get(one, ("",))[0] == self.came[animal][0]]
                if days:
                    found[animal] = max(days)
        if not any(one.positive_restarts == "the room" for one in self.protocols.values()):
            return found
        for one in sources:
            for animal in self.graph.in_same_room(one, last[one]) & set(self.came):
                protocol = self.protocol_of(animal)
                if (
                    protocol
                    and protocol.positive_restarts == "the room"
                    and group not in protocol.not_blocking
                ):
                    found[animal] = max(found.get(animal, ALWAYS), last[one])
        return found

    def _restart_words(
        self,
        group: str,
        animal: str,
        inside: Sequence[str],
        reached: Mapping[str, Reached],
        last: Mapping[str, date],
    ) -> str:
        if inside:
            one = max(inside, key=lambda code: last[code])
            return f"{group} was found in {self.name_of(one)} on {say_date(last[one])}, which is with it"
        if animal in reached:
            source = reached[animal].path[0].giver
            path = self.graph.say_path(reached[animal])
            return f"{group} was found in {self.name_of(source)} on {say_date(last[source])} ({path})"
        return f"{group} was found in its arrival or room"

    @cached_property
    def clock_starts(self) -> dict[str, Start]:
        """For each animal of an arrival: the day from which its days count, and why."""
        found = {
            animal: Start(day, f"it came in on {say_date(day)}") for animal, (_, day) in self.came.items()
        }
        tokens: dict[tuple[str, date], dict[str, date]] = defaultdict(dict)
        for animal in self.graph.of_animal:
            token = self.came.get(animal, (COLLECTION, ALWAYS))
            tokens[token][animal] = token[1]
        together: dict[int, set[tuple[str, date]]] = defaultdict(set)
        for animal, number in self.graph.ever_linked.items():
            together[number].add(self.came.get(animal, (COLLECTION, ALWAYS)))
        mixed = {number for number, held in together.items() if len(held) > 1}
        for token, animals in tokens.items():
            sources = {a: day for a, day in animals.items() if self.graph.ever_linked[a] in mixed}
            for animal, one in self._met_newcomers(token, sources).items():
                if animal in found and one.day > found[animal].day:
                    found[animal] = one
        return found

    def _met_newcomers(self, token: tuple[str, date], sources: Mapping[str, date]) -> dict[str, Start]:
        """Return when animals first met those that came with a token, by each one's own protocol."""
        by_room = any(one.newcomer_restarts == "the room" for one in self.protocols.values())
        if not sources and not by_room:
            return {}
        whose = COLLECTION if token[0] == COLLECTION else f"those that came in on {say_date(token[1])}"
        reached = self.graph.reached(sources, until=self.today) if sources else {}
        first = {
            animal: one
            for animal, one in reached.items()
            if animal in self.came and self.came[animal] != token and one.first_day > ALWAYS
        }
        found: dict[str, Start] = {}
        by_arrival: dict[str, date] = {}
        for animal, one in first.items():
            root = self.came[animal][0]
            by_arrival[root] = max(one.first_day, by_arrival.get(root, ALWAYS))
        for animal, (root, _) in self.came.items():
            protocol = self.protocol_of(animal)
            who = protocol.newcomer_restarts if protocol else "the contact group"
            if who == "the animal":
                continue
            if animal in first:
                path = self.graph.say_path(first[animal])
                found[animal] = Start(first[animal].first_day, f"it met {whose} ({path})")
            if who == "the arrival" and root in by_arrival and self.came[animal] != token:
                day = by_arrival[root]
                if animal not in found or day > found[animal].day:
                    found[animal] = Start(day, f"one of its arrival met {whose} on {say_date(day)}")
        if token[0] != COLLECTION and by_room:
            for newcomer in (a for a, one in self.came.items() if one == token):
                for animal in self.graph.in_same_room(newcomer, token[1]):
                    protocol = self.protocol_of(animal) if animal in self.came else None
                    if (
                        protocol
                        and protocol.newcomer_restarts == "the room"
                        and self.came[animal] != token
                        and (animal not in found or token[1] > found[animal].day)
                    ):
                        found[animal] = Start(token[1], f"{whose} came into its room")
        return found
