"""What each animal has behind it: its run, its days, and whom it met whose own part is not done."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import date, timedelta
from functools import cached_property

from fecallab.domain.followup import add_awake_days
from fecallab.domain.housing import ArrivalProtocol
from fecallab.domain.quarantine_exams import CRYPTOSPORIDIUM, Stool, earliest_end, spaced
from fecallab.domain.quarantine_starts import Restarts, Start
from fecallab.domain.spoken import say_date

Exposures = Mapping[str, tuple[date, str]]
"""For an animal: the day of its last exposure, and whom it met."""


class Situation(Restarts):
    """The state of all quarantines on one day; every part is worked out when it is first asked for."""

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
        found = [
            (stool.taken_on, stool.defecation)
            for stool in self.stools_of(animal)
            if stool.word == "clean" and stool.taken_on >= since
        ]
        for pause in self.facts.pauses.get(animal, ()):
            found = [
                one
                for one in found
                if one[0] < pause.start or (pause.end is not None and one[0] >= pause.end)
            ]
        return found

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
        return [one for one in self.facts.open_cases.get(animal, ()) if self.blocks(animal, one[1])]

    def unsure_stools(self, animal: str) -> list[Stool]:
        """Return stools since the arrival with an unsure mark of a blocking group: it stays open till a word."""
        since = self.came[animal][1]
        return [s for s in self.stools_of(animal) if s.word == "unsure" and s.taken_on >= since]

    def exams_done(self, animal: str) -> bool:
        """Return whether an animal's own exams are whole, whatever its group and its days."""
        protocol = self.protocol_of(animal)
        if protocol is None or self.blocking_cases(animal) or self.unsure_stools(animal):
            return False
        if animal in self.positives.get(CRYPTOSPORIDIUM, {}) and self.blocks(animal, CRYPTOSPORIDIUM):
            return False
        clean = len(spaced(self.clean_days(animal), protocol.spacing_days))
        pcrs = len(spaced(self.pcr_days(animal), 1))
        return clean >= protocol.negatives_needed and pcrs >= protocol.laboratory_pcrs

    def days_end(self, animal: str, protocol: ArrivalProtocol) -> date:
        """Return the day on which an animal's days are over; brumation stands still."""
        pauses = self.facts.pauses.get(animal, ())
        return add_awake_days(self.clock_starts[animal].day, protocol.days_at_least, pauses, self.today)

    def last_exam_from(self, animal: str, exposed: Exposures) -> tuple[date, str]:
        """Return the earliest day for the last exam that counts, and why in words (empty without a cause)."""
        protocol, start = self.protocol_of(animal), self.run_start(animal)
        wait = protocol.last_exam_after_days if protocol else None
        day = start.day + timedelta(days=wait or 0)
        words = f"{wait} days or more after {say_date(start.day)}" if wait else ""
        met = exposed.get(animal)
        if met is not None and protocol is not None:
            apart = max(wait if wait is not None else protocol.spacing_days, 1)
            after = met[0] + timedelta(days=apart)
            if after > day:
                day = after
                barred = self._barred(self.host_of(animal), self.host_of(met[1]))
                why = "which it should never meet" if barred else "whose own part is not done"
                words = (
                    f"{apart} days or more after {say_date(met[0])}, the last contact with "
                    f"{self.name_of(met[1])}, {why}"
                )
        return day, words

    def exams_end(self, animal: str, exposed: Exposures) -> tuple[date, date] | None:
        """Return (first day of the next stool that counts, day on which the run can be whole), None when it is."""
        protocol = self.protocol_of(animal)
        if protocol is None:
            return None
        return earliest_end(
            self.clean_days(animal),
            protocol.negatives_needed,
            protocol.spacing_days,
            since=self.counts_from(animal),
            not_before=self.last_exam_from(animal, exposed)[0],
            today=self.today,
        )

    @cached_property
    def last_exposures(self) -> Exposures:
        """For each animal: its last contact with one outside its group of today whose own part is not done.

        Who is not done because of such a contact counts as not done for those that it met in turn. Within a
        group none is needed: the group waits for its last one.
        """
        units = [*self.groups, *((animal,) for animal in self.came if animal not in self._group_of)]
        linked: dict[int, set[tuple[str, ...]]] = defaultdict(set)
        for animal, number in self.graph.ever_linked.items():
            linked[number].add(self.group_of(animal))
        apart = {
            animal
            for animal, number in self.graph.ever_linked.items()
            if len(linked[number]) > 1 and animal in self.came and animal not in self.released
        }
        unfinished = {animal for animal in apart if not self._own_part_done(animal)}
        exposed: dict[str, tuple[date, str]] = {}
        barred = {animal: self._met_barred(animal) for animal in self.came} if self._hosts else {}
        while True:
            met = self.graph.last_met_outside(units, self.today, unfinished) if unfinished else {}
            for animal, one in [*met.items(), *barred.items()]:
                if one is not None and (animal not in exposed or one[0] > exposed[animal][0]):
                    exposed[animal] = one
            more = {a for a in apart - unfinished if self.exams_end(a, exposed) is not None}
            if not more:
                return exposed
            unfinished |= more

    def _own_part_done(self, animal: str) -> bool:
        protocol = self.protocol_of(animal)
        if protocol is None or not self.exams_done(animal):
            return False
        return self.today >= self.days_end(animal, protocol)

    def _met_barred(self, animal: str) -> tuple[date, str] | None:
        """Return the last contact with a host that it should never have met, out of its group of today."""
        here = self.host_of(animal)
        hosts = [host for host in self._hosts if self._barred(here, host)]
        others = {one for host in hosts for one in self._hosts[host]} - set(self.group_of(animal))
        return self.graph.last_met([animal], others, self.today) if others else None

    def _barred(self, one: str, other: str) -> bool:
        lines = tuple(self.facts.lineage(one)), tuple(self.facts.lineage(other))
        return any(row.bars(*lines) for row in self.facts.never_mixed)

    @cached_property
    def _hosts(self) -> dict[str, set[str]]:
        """Animals by host group, where a chain of contacts joins more than one."""
        found: dict[str, set[str]] = defaultdict(set)
        together: dict[int, set[str]] = defaultdict(set)
        for animal, number in self.graph.ever_linked.items():
            together[number].add(self.host_of(animal))
        for animal, number in self.graph.ever_linked.items():
            if len(together[number]) > 1:
                found[self.host_of(animal)].add(animal)
        return found


def _next_day(day: date) -> date:
    return date.fromordinal(day.toordinal() + 1) if day < date.max else day
