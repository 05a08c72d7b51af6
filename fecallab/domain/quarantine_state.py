"""Everything that may they mix? rests on, worked out once for a day: who is with whom, whose run began when."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property, partial
from typing import Any

from fecallab.domain.animal import Animal, AnimalEvent
from fecallab.domain.contact_build import contact_graph
from fecallab.domain.contacts import ContactGraph
from fecallab.domain.followup import Pause
from fecallab.domain.housing import Arrival, ArrivalProtocol, CountChange, Housing, gone_on, number_on
from fecallab.domain.quarantine_exams import TUB_RULES, ArrivalExam, Stool, stools
from fecallab.domain.quarantine_rules import NeverMixed, NotShown, Spread


@dataclass(frozen=True, kw_only=True)
class QuarantineFacts:
    """What the rule reads.

    Attributes
    ----------
    housing : Housing
        Who lives where.
    exams : mapping of str to sequence of ArrivalExam
        By owner. Every exam of animals in quarantine; of others at least those with a positive.
    spread : callable
        (target group, host group) to `Spread`.
    lineage : callable
        Host group to its key and wider groups.
    never_mixed : sequence of NeverMixed
        Hosts that are kept apart.
    not_shown : callable
        Host groups to what stools cannot show in them.
    open_cases : mapping of str to sequence of (case code, target)
        Cases that are not closed, by animal.
    infected_since : mapping of (animal, target) to date
        Earliest day on which a positive animal can have been infected; left out where nobody knows.
    pauses : mapping of str to sequence of Pause
        Brumations by animal.
    cleaned : mapping of str to sequence of date
        Days on which an enclosure was cleaned, by its code.
    tub_rule : str
        One of `quarantine_exams.TUB_RULES`.
    """

    housing: Housing
    exams: Mapping[str, Sequence[ArrivalExam]]
    spread: Callable[[str, str], Spread]
    lineage: Callable[[str], Sequence[str]]
    never_mixed: Sequence[NeverMixed] = ()
    not_shown: Callable[[Iterable[str]], Sequence[NotShown]] = lambda hosts: ()
    open_cases: Mapping[str, Sequence[tuple[str, str]]] = field(default_factory=dict)
    infected_since: Mapping[tuple[str, str], date] = field(default_factory=dict)
    pauses: Mapping[str, Sequence[Pause]] = field(default_factory=dict)
    cleaned: Mapping[str, Sequence[date]] = field(default_factory=dict)
    tub_rule: str = TUB_RULES[0]


@dataclass
class Present:
    """Who is where on one day, by which protocol, with which stools; each part is worked out when first asked for."""

    facts: QuarantineFacts
    today: date

    # --- who and where ---------------------------------------------------------------------------------------

    @cached_property
    def graph(self) -> ContactGraph:
        """Who was where."""
        return contact_graph(self.facts.housing, self.facts.cleaned)

    @cached_property
    def _roots(self) -> dict[str, str]:
        """The arrival that each arrival began as, splits undone."""
        parent = {arrival.code: arrival.split_from for arrival in self.facts.housing.arrivals}
        found: dict[str, str] = {}
        for code in parent:
            root, seen = code, {code}
            while parent.get(root) in parent and parent[root] not in seen:
                root = parent[root]
                seen.add(root)
            found[code] = root
        return found

    @cached_property
    def _arrivals(self) -> dict[str, Arrival]:
        return {arrival.code: arrival for arrival in self.facts.housing.arrivals}

    @cached_property
    def came(self) -> dict[str, tuple[str, date]]:
        """For each animal that ever was a member: the arrival it came with (splits undone), and the day."""
        found: dict[str, tuple[str, date]] = {}
        for member in self.facts.housing.members:
            if member.joined_on > self.today:
                continue
            root = self._roots.get(member.arrival, member.arrival)
            known = found.get(member.animal)
            if known is None or member.joined_on < known[1]:
                found[member.animal] = (root, member.joined_on)
        return found

    @cached_property
    def arrival_of(self) -> dict[str, str]:
        """The arrival that each animal belongs to today (the last one that it joined)."""
        rows = sorted(self.facts.housing.members, key=lambda member: member.joined_on)
        return {
            member.animal: member.arrival
            for member in rows
            if member.joined_on <= self.today and (member.left_on is None or member.left_on > self.today)
        }

    @cached_property
    def gone(self) -> dict[str, date]:
        """Animals that died or left, and tubs that are empty, with the day."""
        found: dict[str, date] = {}
        for code, animal in self.facts.housing.animals.items():
            event = gone_on(code, self._events.get(code, ()))
            if event is not None and event.start <= self.today:
                found[code] = event.start
            elif animal.kind != "animal" and self.number_of(code) <= 0:
                found[code] = max((c.on for c in self._changes.get(code, ())), default=self.today)
        return found

    @cached_property
    def _events(self) -> dict[str, list[AnimalEvent]]:
        found: dict[str, list[AnimalEvent]] = defaultdict(list)
        for event in self.facts.housing.events:
            found[event.animal].append(event)
        return found

    @cached_property
    def _changes(self) -> dict[str, list[CountChange]]:
        found: dict[str, list[CountChange]] = defaultdict(list)
        for change in self.facts.housing.changes:
            if change.on <= self.today:
                found[change.animal].append(change)
        return found

    def number_of(self, animal: str, day: date | None = None) -> int:
        """Return how many animals an owner stands for, today or on a day; 1 for one animal."""
        found = self.facts.housing.animals.get(animal)
        if found is None or found.kind == "animal":
            return 1
        return number_on(found, self._changes.get(animal, ()), day or self.today)

    @cached_property
    def released(self) -> dict[str, date]:
        """Animals that a person released, with the first day."""
        found: dict[str, date] = {}
        for release in self.facts.housing.releases:
            if release.on <= self.today:
                for animal in release.animals:
                    found[animal] = min(release.on, found.get(animal, release.on))
        return found

    @cached_property
    def quarantined(self) -> tuple[str, ...]:
        """Animals of an arrival that are here and were not released, in order of their codes."""
        return tuple(
            sorted(
                (a for a in self.arrival_of if a not in self.gone and a not in self.released),
                key=natural,
            )
        )

    @cached_property
    def groups(self) -> list[tuple[str, ...]]:
        """The contact groups of today that hold an animal in quarantine."""
        inside = set(self.quarantined)
        here = self.graph.groups_on(self.today, self.quarantined)
        found = [tuple(sorted((a for a in group if a not in self.gone), key=natural)) for group in here]
        return sorted((group for group in found if inside & set(group)), key=lambda group: natural(group[0]))

    @cached_property
    def _group_of(self) -> dict[str, tuple[str, ...]]:
        return {animal: group for group in self.groups for animal in group}

    def group_of(self, animal: str) -> tuple[str, ...]:
        """Return the contact group that an animal is in today; alone when it shares nothing."""
        return self._group_of.get(animal, (animal,))

    # --- protocols and exams -----------------------------------------------------------------------------------

    @cached_property
    def protocols(self) -> dict[str, ArrivalProtocol]:
        """The protocol that stands today, by arrival: the one recorded last."""
        rows = [one for one in self.facts.housing.protocols if one.written_on <= self.today]
        rows.sort(key=lambda one: (one.written_on, natural(one.code)))
        return {one.arrival: one for one in rows}

    def protocol_of(self, animal: str) -> ArrivalProtocol | None:
        """Return the protocol that stands for an animal: its arrival's, else that of the one it was split from."""
        if animal not in self._protocol_of:
            self._protocol_of[animal] = self._find_protocol(animal)
        return self._protocol_of[animal]

    @cached_property
    def _protocol_of(self) -> dict[str, ArrivalProtocol | None]:
        return {}

    def _find_protocol(self, animal: str) -> ArrivalProtocol | None:
        code = self.arrival_of.get(animal) or self.came.get(animal, ("",))[0]
        seen: set[str] = set()
        while code and code not in seen:
            if code in self.protocols:
                return self.protocols[code]
            seen.add(code)
            code = self._arrivals[code].split_from if code in self._arrivals else ""
        return None

    def stools_of(self, animal: str) -> tuple[Stool, ...]:
        """Return an animal's stools up to today by its own protocol; none without one."""
        if animal not in self._stools:
            self._stools[animal] = self._put_together(animal)
        return self._stools[animal]

    def _put_together(self, animal: str) -> tuple[Stool, ...]:
        protocol = self.protocol_of(animal)
        if protocol is None:
            return ()
        rule = "" if self.kind_of(animal) == "animal" else self.facts.tub_rule
        known = self._known.setdefault((protocol.arrival, protocol.code, rule), {})
        rows = [one for one in self.facts.exams.get(animal, ()) if one.taken_on <= self.today]
        return stools(rows, protocol, number_on=partial(self.number_of, animal), tub_rule=rule, known=known)

    @cached_property
    def _known(self) -> dict[tuple[str, str, str], dict[object, Any]]:
        return {}

    @cached_property
    def _stools(self) -> dict[str, tuple[Stool, ...]]:
        return {}

    def _animal(self, code: str) -> Animal:
        return self.facts.housing.animals.get(code) or Animal(code=code, name=code)

    def name_of(self, code: str) -> str:
        """Return an animal's name."""
        return self._animal(code).name

    def kind_of(self, code: str) -> str:
        """Return whether it is an animal, a tub or a pen."""
        return self._animal(code).kind

    def host_of(self, code: str) -> str:
        """Return an animal's host group."""
        return self._animal(code).host_group or "other"


def natural(code: str) -> tuple[str, int, str]:
    """Return a key that puts A2 before A10.

    Examples
    --------
    >>> sorted(["A10", "A2"], key=natural)
    ['A2', 'A10']
    """
    found = re.match(r"(\D*)(\d*)(.*)", code, re.S)
    word, number, rest = found.groups() if found else (code, "", "")
    return word, int(number or -1), rest
