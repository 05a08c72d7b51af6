"""Where animals live is kept in step with what is said of them, and nothing is in two places."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest
import sqlalchemy as sa

from fecallab.domain.animal import Animal, AnimalEvent, CareEntry
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import ElsewhereResult, Exam, Mark, Preparation, Reading
from fecallab.domain.housing import (
    Arrival,
    ArrivalMember,
    ArrivalProtocol,
    CountChange,
    Enclosure,
    Release,
    Stay,
    number_on,
)
from fecallab.domain.sample import Sample
from fecallab.records import housing, migrate, schema
from fecallab.records.engine import postgresql_engine, reading, sqlite_engine, writing
from fecallab.records.store import Records
from fecallab.records.writer import Writer

START = date(2026, 2, 1)
LATER = date(2026, 2, 20)


@pytest.fixture
def writer(store: Records, now: datetime) -> Any:
    with store.write("keeper", now) as writer:
        yield writer


def refused(code: str, act: Callable[[], Any]) -> str:
    with pytest.raises(BadInput) as trouble:
        act()
    assert trouble.value.reason.code == code
    assert trouble.value.reason.next
    return trouble.value.reason.text


def moved(writer: Writer, animal: str, enclosure: str, day: date) -> Stay:
    home = next(one for one in writer.stays(animal) if one.end is None)
    writer.correct(home.code, replace(home, end=day), "moved")
    return writer.add(Stay(animal=animal, enclosure=writer.enclosure(enclosure).code, start=day))


def test_an_animal_added_with_an_enclosure_stays_there_from_its_arrival(writer: Writer) -> None:
    one = writer.add(Animal(name="Sorrel", enclosure="Drawer 4", arrived_on=START))
    two = writer.add(Animal(name="Tansy", enclosure="drawer  4"))
    assert [place.name for place in writer.enclosures()] == ["Drawer 4"]
    assert [(s.animal, s.enclosure, s.start, s.end) for s in writer.stays()] == [
        (two.code, "B1", None, None),
        (one.code, "B1", START, None),
    ]


def test_a_move_takes_the_word_for_the_enclosure_along(writer: Writer) -> None:
    writer.add(Animal(name="Sorrel", enclosure="Drawer 4", arrived_on=START))
    writer.add(Enclosure(name="Drawer 5"))
    stay = moved(writer, "A1", "drawer 5", LATER)
    assert writer.animal("A1").enclosure == "Drawer 5"
    writer.withdraw(stay.code, "it was another one")
    assert writer.animal("A1").enclosure == ""
    writer.correct("BT1", replace(writer.stays("A1")[0], end=None), "never moved")
    assert writer.animal("A1").enclosure == "Drawer 4"
    assert [entry.fact.enclosure for entry in writer.history("A1")] == [
        "Drawer 4",
        "",
        "Drawer 5",
        "",
        "Drawer 4",
    ]


def test_a_corrected_enclosure_or_arrival_takes_the_stay_along(writer: Writer) -> None:
    animal = writer.add(Animal(name="Sorrel", enclosure="Drawer 4", arrived_on=START))
    animal = writer.correct("A1", replace(animal, enclosure="Drawer 7"), "misread")
    assert writer.enclosure(writer.stays("A1")[0].enclosure).name == "Drawer 7"
    writer.correct("A1", replace(animal, arrived_on=LATER), "misread")
    assert [stay.start for stay in writer.stays("A1")] == [LATER]
    writer.correct("A1", replace(writer.animal("A1"), enclosure=""), "unknown")
    assert writer.stays("A1") == []


def test_a_renamed_enclosure_takes_its_animals_along_unless_notes_are_kept_under_its_name(
    writer: Writer,
) -> None:
    writer.add(Animal(name="Sorrel", enclosure="Drawer 4"))
    writer.correct("B1", replace(writer.enclosure("B1"), name="Drawer 14"), "misread")
    assert writer.animal("A1").enclosure == "Drawer 14"
    writer.add(CareEntry(enclosure="drawer 14", at=datetime(2026, 2, 3, 9), kind="cleaning"))
    new = replace(writer.enclosure("B1"), name="Drawer 15")
    assert "1 notes" in refused("name-in-use", lambda: writer.correct("B1", new, "misread"))


def test_an_animal_that_is_withdrawn_takes_its_stays_along(writer: Writer) -> None:
    writer.add(Animal(name="Sorrel", enclosure="Drawer 4"))
    writer.withdraw("A1", "never was")
    assert (writer.animals(), writer.stays()) == ([], [])


@pytest.mark.parametrize(
    ("stay", "code"),
    [
        ({"start": LATER}, "in-two-places"),
        ({"start": None, "end": date(2026, 2, 2)}, "in-two-places"),
        ({"start": date(2026, 1, 31), "end": START}, "move-before-arrival"),
        ({"start": date(2026, 3, 2)}, "not-here-any-more"),
        ({"start": LATER, "end": START}, "refused-by-records"),
        ({"start": LATER, "visit": True, "number_of_animals": 2}, "more-than-there-are"),
    ],
)
def test_a_stay_that_cannot_be_is_refused(writer: Writer, stay: dict[str, Any], code: str) -> None:
    writer.add(Animal(name="Sorrel", enclosure="Drawer 4", arrived_on=START))
    writer.add(Enclosure(name="Drawer 5"))
    writer.add(AnimalEvent(animal="A1", kind="died", start=date(2026, 3, 1)))
    refused(code, lambda: writer.add(Stay(animal="A1", enclosure="B2", **stay)))
    assert len(writer.stays("A1")) == 1
    visit = Stay(animal="A1", enclosure="B2", start=LATER, end=LATER, visit=True)
    assert writer.add(visit).visit
    assert writer.animal("A1").enclosure == "Drawer 4"


def test_a_stay_ends_with_the_death_of_its_animal_or_of_the_last_of_a_tub(writer: Writer) -> None:
    writer.add(Animal(name="Sorrel", enclosure="Drawer 4", arrived_on=START))
    writer.add(Animal(name="Tub 1", kind="tub", number_of_animals=2, enclosure="Tub 1", arrived_on=START))
    writer.add(AnimalEvent(animal="A1", kind="died", start=LATER))
    writer.add(CountChange(animal="A2", on=START, kind="died", number=1))
    assert [stay.end for stay in writer.housing().stays] == [LATER, None]
    writer.add(CountChange(animal="A2", on=LATER, kind="sold", number=1))
    assert [stay.end for stay in writer.housing().stays] == [LATER, LATER]


def test_no_more_leave_a_tub_than_are_in_it_on_any_day(writer: Writer) -> None:
    tub = writer.add(Animal(name="Tub 1", kind="tub", number_of_animals=60, arrived_on=START))
    last = writer.add(CountChange(animal="A1", on=date(2026, 3, 1), kind="died", number=58))
    said = refused(
        "more-than-there-are",
        lambda: writer.add(CountChange(animal="A1", on=LATER, kind="sold", number=3)),
    )
    assert "holds 2 animals on 1 March 2026" in said
    refused(
        "more-than-there-are", lambda: writer.add(CountChange(animal="A1", on=LATER, kind="died", number=61))
    )
    refused("change-before-arrival", lambda: writer.add(replace(last, code="", on=date(2026, 1, 1))))
    writer.add(CountChange(animal="A1", on=LATER, kind="sold", number=2))
    assert number_on(tub, writer.count_changes("A1"), date(2026, 3, 1)) == 0
    writer.add(Animal(name="Sorrel"))
    refused("one-animal", lambda: writer.add(CountChange(animal="A2", on=LATER, kind="died", number=1)))


def test_an_animal_is_in_one_arrival_at_a_time(writer: Writer) -> None:
    writer.add(Animal(name="Sorrel", arrived_on=START))
    for day in (START, LATER):
        writer.add(Arrival(name=f"of {day}", arrived_on=day))
    first = writer.add(ArrivalMember(arrival="I1", animal="A1", joined_on=START))
    second = ArrivalMember(arrival="I2", animal="A1", joined_on=LATER)
    refused("in-two-arrivals", lambda: writer.add(second))
    refused("joined-before-arrival", lambda: writer.add(replace(second, joined_on=START)))
    writer.correct(first.code, replace(first, left_on=LATER), "split off")
    assert writer.add(second).code == "IM2"
    assert writer.arrival("OF 2026-02-01").code == "I1"
    with pytest.raises(BadInput, match="I1 of 2026-02-01"):
        writer.arrival("nobody")
    act = Release(arrival="I1", animals=("A1",), on=date(2026, 3, 1), by="keeper")
    refused("no-member", lambda: writer.add(act))


def test_lists_of_a_protocol_and_of_a_release_come_back_and_change_with_a_reason(writer: Writer) -> None:
    writer.add(Animal(name="Sorrel"))
    writer.add(Animal(name="Tansy"))
    writer.add(Arrival(arrived_on=START))
    for animal in ("A1", "A2"):
        writer.add(ArrivalMember(arrival="I1", animal=animal, joined_on=START))
    plain = ArrivalProtocol(
        arrival="I1",
        written_on=START,
        days_at_least=90,
        negatives_needed=3,
        spacing_days=14,
        preparations=("simple_flotation",),
        not_blocking=("oxyurid", "ciliate"),
    )
    made = writer.add(plain)
    assert writer.protocols("I1") == [made] == [replace(plain, code="IP1")]
    refused("given-twice", lambda: writer.add(replace(plain, blocking=("a", "a"))))
    act = writer.add(Release(arrival="I1", animals=("A2", "A1"), on=LATER, by="keeper"))
    less = writer.correct("L1", replace(act, animals=("A1",)), "Tansy stayed")
    assert writer.releases("I1") == [less]
    assert [entry.fact.animals for entry in writer.history("L1")] == [("A2", "A1"), ("A1",)]
    writer.withdraw("L1", "not yet")
    assert writer.releases() == []


@pytest.mark.parametrize("most", [0, 20_000])
def test_exams_of_some_and_findings_of_others_are_read(
    writer: Writer, monkeypatch: pytest.MonkeyPatch, most: int
) -> None:
    monkeypatch.setattr(housing, "MOST_LISTED", most)
    made = {}
    for name in ("Sorrel", "Tansy", "Yarrow"):
        owner = writer.add(Animal(name=name)).code
        for count in (0, 2):
            sample = writer.add(Sample(animal=owner, collected_at=datetime(2026, 2, 3, 9))).code
            swept = Reading(kind="sweep", cover_share=1.0, counts={"oxyurid": count})
            floated = Preparation(method="simple_flotation", readings=(swept,))
            exam = Exam(sample=sample, examined_at=datetime(2026, 2, 3, 10), preparations=(floated,))
            made[name, count] = writer.add(exam)
    marked = Reading(kind="field", marks=(Mark(x_px=1.0, y_px=1.0, name="oxyurid"),))
    writer.add_readings(made["Yarrow", 0].preparations[0].code, [marked])
    stated = ElsewhereResult(
        target="oxyurid", who="a laboratory", method="PCR", reported_on=LATER, result="positive"
    )
    writer.add_elsewhere(made["Tansy", 0].code, stated)
    writer.withdraw(made["Yarrow", 2].code, "another animal")
    found = writer.exams_of(["A1"], ["A2", "A3"])
    assert {exam.code for exam, _ in found} == {"E1", "E2", "E3", "E4", "E5"}
    assert {sample.animal for _, sample in found} == {"A1", "A2", "A3"}
    assert {exam.code for exam, _ in writer.exams_of(["A2"])} == {"E3", "E4"}
    assert {exam.code for exam, _ in writer.exams_of([], ["A1"])} == {"E2"}


def test_what_a_name_could_mean_is_said(writer: Writer) -> None:
    writer.add(Enclosure(name="Drawer 4"))
    refused("name-taken", lambda: writer.add(Enclosure(name="DRAWER 4")))
    refused("name-like-code", lambda: writer.add(Enclosure(name="B7")))
    with pytest.raises(BadInput, match="Did you mean Drawer 4"):
        writer.enclosure("Drawr 4")
    with pytest.raises(BadInput, match="codes run from B1 to B"):
        writer.enclosure("B9")


@pytest.mark.parametrize("database", ["sqlite", "postgresql"])
def test_enclosures_named_before_there_were_any_become_enclosures_with_stays(
    database: str, tmp_path: Any, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    if database == "sqlite":
        engine = sqlite_engine(tmp_path / "old.sqlite", access="create", foreign_keys=False)
    else:
        engine = postgresql_engine(request.getfixturevalue("new_postgresql")())
    with monkeypatch.context() as before:
        before.setattr(migrate, "HEAD", "0003")
        migrate.upgrade(engine)
    frame = {"recorded_at": datetime(2026, 1, 1), "recorded_by": "Mara", "correction_reason": ""}
    frame |= {"withdrawn": False, "replaces": None}
    blank = {"species": "", "host_group": "snake", "plant_eater": False, "adult": None, "remark": ""}
    animals = [
        ("A1", "Sorrel", "North  shelf", START, {}),
        ("A2", "Tansy", "north shelf", None, {}),
        ("A3", "Yarrow", "", None, {}),
        ("A4", "Bryony", "east shelf", START, {}),
        ("A4", "Bryony", "west shelf", START, {"replaces": 4, "correction_reason": "moved"}),
    ]
    with writing(engine) as connection:
        for number in range(1, 5):
            row = {"code": f"A{number}", "kind": "animal", "number": number}
            connection.execute(sa.insert(schema.codes), row)
        connection.execute(sa.insert(schema.codes), {"code": "V1", "kind": "event", "number": 1})
        for identity, (code, name, enclosure, arrived, more) in enumerate(animals, start=1):
            own = {"id": identity, "code": code, "name": name, "name_key": name.lower(), "kind": "animal"}
            own |= {"number_of_animals": 1, "enclosure": enclosure, "arrived_on": arrived}
            connection.execute(sa.insert(schema.animals), {**own, **blank, **frame, **more})
        event = {"code": "V1", "animal": "A1", "kind": "died", "start": LATER, "by": "", "remark": ""}
        connection.execute(sa.insert(schema.animal_events), {**event, **frame})
    migrate.upgrade(engine)
    with reading(engine) as connection:
        places = connection.execute(sa.select(schema.enclosures.c.code, schema.enclosures.c.name)).all()
        assert [tuple(row) for row in places] == [("B1", "North  shelf"), ("B2", "west shelf")]
        table = schema.stays
        columns = (table.c.code, table.c.animal, table.c.enclosure, table.c.start, table.c.end)
        assert [tuple(row) for row in connection.execute(sa.select(*columns))] == [
            ("BT1", "A1", "B1", START, LATER),
            ("BT2", "A2", "B1", None, None),
            ("BT3", "A4", "B2", START, None),
        ]
    with writing(engine) as connection:
        from fecallab.records.adding import Adding
        from fecallab.records.rows import ENCLOSURE

        made = Adding(connection, "Mara", datetime(2026, 3, 1)).add(ENCLOSURE, [Enclosure(name="new shelf")])
        assert made[0].code == "B3"
    engine.dispose()
