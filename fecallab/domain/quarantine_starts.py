"""Whose run of clean exams and whose days began when: positives and newcomers restart them along contacts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from fecallab.domain.contacts import ALWAYS, Reached
from fecallab.domain.followup import say_date
from fecallab.domain.quarantine_exams import Stool, spaced
from fecallab.domain.quarantine_rules import Spread
from fecallab.domain.quarantine_state import Present

COLLECTION = "the collection"


@dataclass(frozen=True)
class Start:
    """A day from which something counts, and why."""

    day: date
    why: str


class Situation(Present):
    """The state of all quarantines on one day, with what restarts what."""

    @cached_property
    def positives(self) -> dict[str, dict[str, date]]:
        """For each group: the animals that were positive for it, with the last day of a positive stool."""
        found: dict[str, dict[str, date]] = defaultdict(dict)
        for animal, exams in self.facts.exams.items():
            for exam in exams:
                if exam.taken_on > self.today:
                    continue
                groups = [group for group, result in exam.results.items() if result == "positive"]
                if exam.laboratory_pcr == "positive":
                    groups.append("cryptosporidium")
                for group in groups:
                    if exam.taken_on >= found[group].get(animal, ALWAYS):
                        found[group][animal] = exam.taken_on
        return found

    def _blocks(self, animal: str, group: str) -> bool:
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
            sources = {animal for animal in last if self._blocks(animal, group)}
            for animal in sources:
                text = f"{group} was found in {self.name_of(animal)} on {say_date(last[animal])}"
                restart(animal, last[animal], text)
            reached = self.reached_by(group, sources) if sources else {}
            affected = self._affected(sources, last, reached, group)
            carriers = sources | set(reached)
            for unit in {self.group_of(animal) for animal in affected}:
                inside = [animal for animal in unit if animal in sources]
                day = max((last[animal] for animal in inside), default=ALWAYS)
                met = self.graph.last_met(unit, carriers - set(unit), self.today) or ALWAYS
                for animal in unit:
                    if animal not in affected:
                        continue
                    first = reached[animal].first_day if animal in reached else ALWAYS
                    since = max(day, met, first, affected[animal])
                    if since > ALWAYS:
                        restart(animal, since, self._restart_words(group, animal, inside, reached, last))
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
        rooms = {one: self.graph.in_same_room(one, last[one]) for one in sources}
        for one, others in rooms.items():
            for animal in others & set(self.came):
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
        if token[0] != COLLECTION:
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

    def run_start(self, animal: str) -> Start:
        """Return the day from which clean exams count, and why; stools of that day count only on arrival."""
        clock = self.clock_starts[animal]
        positive = self.run_starts.get(animal)
        return positive if positive is not None and positive.day >= clock.day else clock

    def counts_from(self, animal: str) -> date:
        """Return the first day whose stool can count: the day of arrival itself, else the day after a restart."""
        start = self.run_start(animal)
        arrived = self.came[animal][1]
        return start.day if start.day == arrived and animal not in self.run_starts else _next_day(start.day)

    def clean_days(self, animal: str) -> list[tuple[date, str]]:
        """Return the stools of the run that were clean and not passed in brumation."""
        since = self.counts_from(animal)
        pauses = self.facts.pauses.get(animal, ())
        return [
            (stool.taken_on, stool.defecation)
            for stool in self.stools_of(animal)
            if stool.word == "clean"
            and stool.taken_on >= since
            and not any(
                p.start <= stool.taken_on and (p.end is None or stool.taken_on < p.end) for p in pauses
            )
        ]

    def pcr_days(self, animal: str) -> list[tuple[date, str]]:
        """Return the stools of the run whose laboratory PCR was negative."""
        since = self.counts_from(animal)
        return [
            (stool.taken_on, stool.defecation)
            for stool in self.stools_of(animal)
            if stool.pcr == "negative" and stool.taken_on >= since
        ]

    def blocking_cases(self, animal: str) -> list[tuple[str, str]]:
        """Return open cases of an animal whose target blocks."""
        return [one for one in self.facts.open_cases.get(animal, ()) if self._blocks(animal, one[1])]

    def unsure_stools(self, animal: str) -> list[Stool]:
        """Return stools of the run with an unsure mark of a blocking group."""
        since = self.counts_from(animal)
        return [s for s in self.stools_of(animal) if s.word == "unsure" and s.taken_on >= since]

    def exams_done(self, animal: str) -> bool:
        """Return whether an animal's own exams are whole, whatever its group and its days."""
        protocol = self.protocol_of(animal)
        if protocol is None or self.blocking_cases(animal) or self.unsure_stools(animal):
            return False
        clean = len(spaced(self.clean_days(animal), protocol.spacing_days))
        pcrs = len(spaced(self.pcr_days(animal), 1))
        return clean >= protocol.negatives_needed and pcrs >= protocol.laboratory_pcrs

    @cached_property
    def last_exposures(self) -> dict[tuple[str, ...], tuple[date, str]]:
        """For each contact group: the last contact with an animal outside it whose exams are not whole."""
        units: dict[int, set[tuple[str, ...]]] = defaultdict(set)
        for animal, number in self.graph.ever_linked.items():
            units[number].add(self.group_of(animal))
        apart = {animal for animal, number in self.graph.ever_linked.items() if len(units[number]) > 1}
        unfinished = {
            animal
            for animal in self.came
            if animal in apart and animal not in self.released and not self.exams_done(animal)
        }
        found = self.graph.last_met_outside(self.groups, self.today, unfinished)
        return {self.groups[place]: one for place, one in found.items()}


def _next_day(day: date) -> date:
    return date.fromordinal(day.toordinal() + 1) if day < date.max else day
