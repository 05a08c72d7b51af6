"""What is left out of the reading for speed changes no answer: random small collections, asked both ways."""

from __future__ import annotations

import random
import shutil
from datetime import date, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from fecallab import gather_arrivals
from fecallab.domain.animal import Animal, AnimalEvent, CareEntry
from fecallab.domain.exam import Exam, Preparation, Reading
from fecallab.domain.housing import (
    Arrival,
    ArrivalMember,
    ArrivalProtocol,
    CountChange,
    Enclosure,
    Release,
    Sharing,
    Stay,
)
from fecallab.domain.sample import Sample
from fecallab.gather_arrivals import groups_of, releases_of, situation_of
from fecallab.gather_arrivals_due import arrivals_due
from fecallab.records.store import Records, open_records
from fecallab.records.writer import Writer

START = date(2026, 3, 1)
TODAY = START + timedelta(days=70)
NOW = datetime(2026, 6, 1, 12)
SEEDS = range(8)


def day(number: int) -> date:
    return START + timedelta(days=number)


def invent(writer: Writer, chance: random.Random) -> None:
    """Record a small collection with residents, three arrivals, moves, visits, findings, deaths and a release."""
    places = [writer.add(Enclosure(name=f"box {n}", room=f"room {n % 3}")).code for n in range(7)]
    for place in places:
        if chance.random() < 0.5:
            label = f"tongs {chance.randrange(3)}"
            end = day(chance.randrange(20, 70)) if chance.random() < 0.4 else None
            writer.add(Sharing(enclosure=place, thing="tools", label=label, start=START, end=end))
    owners = []
    for number in range(16):
        tub = chance.random() < 0.25
        came = day(chance.choice((0, 0, 5, 20)))
        kind, many = ("tub", 4) if tub else ("animal", 1)
        animal = Animal(
            name=f"gecko {number}", kind=kind, number_of_animals=many, host_group="gecko", arrived_on=came
        )
        owner = writer.add(animal)
        owners.append(owner)
        home = Stay(animal=owner.code, enclosure=chance.choice(places), start=came, number_of_animals=many)
        if chance.random() < 0.3:
            moved = came + timedelta(days=chance.randrange(5, 40))
            writer.add(Stay(**{**vars(home), "code": "", "end": moved}))
            home = Stay(**{**vars(home), "enclosure": chance.choice(places), "start": moved})
        writer.add(home)
        if chance.random() < 0.2:
            on = came + timedelta(days=chance.randrange(1, 40))
            visit = Stay(animal=owner.code, enclosure=chance.choice(places), start=on, end=on, visit=True)
            writer.add(visit)
        if chance.random() < 0.1:
            writer.add(AnimalEvent(animal=owner.code, kind="died", start=day(chance.randrange(45, 69))))
        elif tub and chance.random() < 0.5:
            writer.add(CountChange(animal=owner.code, on=day(40), kind="died", number=1))
    if chance.random() < 0.5:
        writer.add(CareEntry(enclosure="box 1", at=datetime(2026, 3, 20, 9), kind="cleaning"))
    for number, first in enumerate((0, 4, 8), start=1):
        mine = owners[first : first + 4]
        arrived = max(owner.arrived_on or START for owner in mine)
        writer.add(Arrival(arrived_on=arrived))
        for owner in mine:
            writer.add(ArrivalMember(arrival=f"I{number}", animal=owner.code, joined_on=arrived))
        writer.add(
            ArrivalProtocol(
                arrival=f"I{number}",
                written_on=arrived,
                days_at_least=30,
                negatives_needed=2,
                spacing_days=7,
                last_exam_after_days=chance.choice((None, 22)),
                blocking=("coccidian",),
                not_blocking=("oxyurid",),
                positive_restarts=chance.choice(
                    ("the animal", "the contact group", "the arrival", "the room")
                ),
                newcomer_restarts=chance.choice(("the contact group", "the arrival", "the room")),
            )
        )
    for owner in owners:
        for _ in range(chance.randrange(5)):
            examined(writer, owner, chance)
    if chance.random() < 0.7:
        mine = [owner.code for owner in owners[8:12]]
        writer.add(Release(arrival="I3", animals=tuple(mine[: chance.choice((2, 4))]), on=day(50), by="Mara"))


def examined(writer: Writer, owner: Any, chance: random.Random) -> None:
    """Record a float of one stool; most show nothing, some could not have shown it."""
    on = day(chance.randrange(((owner.arrived_on or START) - START).days, 70))
    passed = datetime(on.year, on.month, on.day, 7)
    sample = Sample(
        animal=owner.code,
        passed_from=passed,
        passed_to=passed.replace(minute=30),
        collected_at=passed.replace(minute=30),
        kept="room",
        mass_g=chance.choice((1.0, 0.1)),
        stools_of=chance.choice((None, owner.number_of_animals)) if owner.kind == "tub" else None,
    )
    seen = {"coccidian": chance.choice((0, 0, 0, 0, 3)), "oxyurid": chance.choice((0, 2))}
    read = passed.replace(hour=8, minute=chance.choice((0, 10)))
    unsure = {"coccidian": 1} if chance.random() < 0.05 else {}
    sweep = Reading(kind="sweep", objective=10.0, cover_share=1.0, counts=seen, unsure=unsure)
    floated = Preparation(
        method="simple_flotation",
        read_at=read,
        specific_gravity=1.2,
        gravity_checked=True,
        standing_minutes=chance.choice((15.0, 2.0)),
        readings=(sweep,),
    )
    writer.add(Exam(sample=writer.add(sample).code, examined_at=read, by="Mara", preparations=(floated,)))


@pytest.fixture(params=SEEDS)
def store(request: pytest.FixtureRequest, tmp_path: Path, empty_folder: Path) -> Any:
    folder = shutil.copytree(empty_folder, tmp_path / "records")
    with open_records(folder) as records:
        with records.write("Mara", NOW) as writer:
            invent(writer, random.Random(request.param))
        yield records


def answers(store: Records, *, only: bool) -> list[Any]:
    found: list[Any] = []
    with store.at_one_moment() as reader:
        for arrival in reader.arrivals():
            mine = [one.animal for one in reader.members(arrival.code)] if only else None
            situation = situation_of(reader, TODAY, only=mine)
            found += [(one.animals, one.answer) for one in groups_of(arrival, situation)]
            found += releases_of(reader, arrival, situation)
    return found


def test_reading_what_matters_alone_gives_the_same_answers(store: Records, monkeypatch: Any) -> None:
    quick = answers(store, only=True)
    monkeypatch.setattr(gather_arrivals, "linked_before", lambda graph, inside: set(graph.of_animal))
    monkeypatch.setattr(gather_arrivals, "narrowed", lambda present, linked: present.facts.housing)
    number = count()
    monkeypatch.setattr(gather_arrivals, "shape_of", lambda exam, sample: (next(number),))
    assert answers(store, only=False) == quick != []


def test_due_names_every_contact_group_once(store: Records) -> None:
    with store.at_one_moment() as reader:
        situation = situation_of(reader, TODAY)
        groups = arrivals_due(reader, TODAY)
        alone = [arrivals_due(reader, TODAY, one.animals[0]) for one in groups]
    assert sorted(animal for one in groups for animal in one.animals) == sorted(situation.quarantined)
    assert [one for (one,) in alone] == groups
