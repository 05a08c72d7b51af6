"""Small quarantines as facts, for the tests of the rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from typing import Any

from fecallab.domain.animal import Animal, AnimalEvent
from fecallab.domain.housing import (
    Arrival,
    ArrivalMember,
    ArrivalProtocol,
    Enclosure,
    Housing,
    Sharing,
    Stay,
)
from fecallab.domain.quarantine_exams import ArrivalExam
from fecallab.domain.quarantine_exposure import Situation
from fecallab.domain.quarantine_state import QuarantineFacts
from fecallab.reference.hosts import lineage
from fecallab.reference.quarantine import never_mixed, not_shown, protocol_template, spread_for

CAME = date(2026, 3, 2)


def day(number: int) -> date:
    """Return the day so many days after the arrival."""
    return CAME + timedelta(days=number)


def protocol(arrival: str = "I1", host: str = "uromastyx", **more: Any) -> ArrivalProtocol:
    """Return the template of a host as an arrival's protocol, with changes."""
    from dataclasses import replace

    return replace(protocol_template(host).protocol(arrival, CAME, "test"), **more)


REQUIRED = ("flagellate", "amoeba", "coccidian", "oxyurid", "ascarid", "strongylid", "capillarid/trichurid")
PREPARATIONS = ("direct_saline_smear", "iodine_smear", "simple_flotation")


def exam(animal: str, on: int, stool: str = "", **found: str) -> ArrivalExam:
    """Return an exam that could show everything; ``found`` names groups with another result than negative."""
    results = dict.fromkeys(REQUIRED, "negative") | {
        name.replace("_", " "): word for name, word in found.items()
    }
    return ArrivalExam(
        code=f"E-{animal}-{on}{stool}",
        animal=animal,
        taken_on=day(on),
        defecation=stool or f"S-{animal}-{on}",
        results=results,
        preparations=PREPARATIONS,
    )


def clean(animals: Iterable[str], *days: int) -> list[ArrivalExam]:
    """Return clean exams of some animals on some days."""
    return [exam(animal, on) for animal in animals for on in days]


class World:
    """A quarantine that is told bit by bit."""

    def __init__(self, host: str = "uromastyx") -> None:
        self.host = host
        self.animals: dict[str, Animal] = {}
        self.rooms: dict[str, str] = {}
        self.stays: list[Stay] = []
        self.sharings: list[Sharing] = []
        self.members: list[ArrivalMember] = []
        self.arrivals: list[Arrival] = []
        self.protocols: list[ArrivalProtocol] = []
        self.events: list[AnimalEvent] = []
        self.exams: list[ArrivalExam] = []
        self.more: dict[str, Any] = {}
        self.facts_more: dict[str, Any] = {}

    def __repr__(self) -> str:
        """Tell the whole story, for a failing example."""
        said = [
            *(f"{m.animal} joins {m.arrival} on {(m.joined_on - CAME).days}" for m in self.members),
            *(
                f"{s.animal} in {s.enclosure} {s.start and (s.start - CAME).days}..{s.end and (s.end - CAME).days}"
                for s in self.stays
            ),
            *(f"{e.animal} {e.kind} {(e.start - CAME).days}" for e in self.events),
            *(
                f"{e.code} {e.defecation} on {(e.taken_on - CAME).days} "
                f"{ {g: r for g, r in e.results.items() if r != 'negative'} or 'clean' }"
                for e in self.exams
            ),
            *(
                f"{p.arrival}: {p.days_at_least} d, {p.negatives_needed} every {p.spacing_days}, last "
                f"{p.last_exam_after_days}, {p.positive_restarts}"
                for p in self.protocols
            ),
        ]
        return "\n".join(said)

    def arrival(self, code: str = "I1", on: int = 0, **changes: Any) -> World:
        """Animals that come in together, by the host's template with changes."""
        self.arrivals.append(Arrival(code=code, arrived_on=day(on)))
        self.protocols.append(protocol(code, self.host, **changes))
        return self

    def animal(
        self,
        code: str,
        enclosure: str,
        *,
        on: int = 0,
        arrival: str = "I1",
        host: str = "",
        kind: str = "animal",
    ) -> World:
        """One member of an arrival that moves into an enclosure; with no arrival, one of the collection."""
        self.animals[code] = Animal(code=code, name=f"gecko {code}", host_group=host or self.host, kind=kind)
        if arrival:
            self.members.append(ArrivalMember(arrival=arrival, animal=code, joined_on=day(on)))
        return self.stay(code, enclosure, on)

    def stay(
        self, code: str, enclosure: str, start: int, end: int | None = None, *, visit: bool = False
    ) -> World:
        """Somebody is somewhere."""
        self.rooms.setdefault(enclosure, "")
        ends = None if end is None else day(end)
        self.stays.append(Stay(animal=code, enclosure=enclosure, start=day(start), end=ends, visit=visit))
        return self

    def move(self, code: str, enclosure: str, on: int) -> World:
        """The home ends on a day, the next one begins."""
        self.stays = [
            Stay(animal=s.animal, enclosure=s.enclosure, start=s.start, end=day(on))
            if s.animal == code and s.end is None and not s.visit
            else s
            for s in self.stays
        ]
        return self.stay(code, enclosure, on)

    def event(self, code: str, kind: str, on: int) -> World:
        """Somebody died or left."""
        self.events.append(AnimalEvent(animal=code, kind=kind, start=day(on)))
        return self

    def seen(self, *exams: ArrivalExam | Iterable[ArrivalExam]) -> World:
        """Exams were made."""
        for one in exams:
            self.exams += [one] if isinstance(one, ArrivalExam) else list(one)
        return self

    def on(self, number: int) -> Situation:
        """Return the state of all quarantines on a day."""
        exams: dict[str, list[ArrivalExam]] = {}
        for one in self.exams:
            exams.setdefault(one.animal, []).append(one)
        enclosures = tuple(Enclosure(code=code, name=code, room=room) for code, room in self.rooms.items())
        housing = Housing(
            animals=self.animals,
            events=tuple(self.events),
            enclosures=enclosures,
            sharings=tuple(self.sharings),
            stays=tuple(self.stays),
            arrivals=tuple(self.arrivals),
            members=tuple(self.members),
            protocols=tuple(self.protocols),
            **self.more,
        )
        facts = QuarantineFacts(
            housing=housing,
            exams=exams,
            spread=spread_for,
            lineage=lineage,
            never_mixed=never_mixed(),
            not_shown=not_shown,
            **self.facts_more,
        )
        return Situation(facts, day(number))


def answers(world: World, on: int) -> Mapping[tuple[str, ...], Any]:
    """Return the answer for every contact group of a day."""
    from fecallab.domain.quarantine import may_mix

    situation = world.on(on)
    return {group: may_mix(group, situation) for group in situation.groups}
