"""What can be asked of the store, and what it refuses."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event
from sqlalchemy.sql.compiler import SQLCompiler

from fecallab.domain.animal import Animal, AnimalEvent, CareEntry, Weighing
from fecallab.domain.case import Case, Closing
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Exam, Mark, Preparation, Reading
from fecallab.domain.plan import DoseGiven, Plan
from fecallab.domain.sample import Sample
from fecallab.records.store import Records, open_records

AT = datetime(2026, 1, 2, 8)


def refused(store: Records, now: datetime, fact: Any) -> str:
    """Try to record something and return the line with which it is refused; nothing is left behind."""
    before = len(store.animals())
    with pytest.raises(BadInput) as caught, store.write("keeper", now) as writer:
        writer.add(Animal(name="left over"))
        writer.add(fact)
    assert len(store.animals()) == before, "nothing half-written"
    assert caught.value.reason.next, "says what to do next"
    return str(caught.value)


@pytest.fixture
def animal(store: Records, now: datetime) -> Animal:
    with store.write("keeper", now) as writer:
        return writer.add(Animal(name="Tilda"))


def test_an_animal_is_found_by_code_or_name_in_any_case(store: Records, animal: Animal) -> None:
    assert (
        store.animal("a1")
        == store.animal(" A1 ")
        == store.animal("tilda")
        == store.animal("TILDA ")
        == animal
    )


def test_an_unknown_animal_is_answered_with_the_nearest_names(
    store: Records, now: datetime, animal: Animal
) -> None:
    with store.write("keeper", now) as writer:
        writer.add(Animal(name="Otto"))
    with pytest.raises(BadInput, match="Did you mean Tilda"):
        store.animal("Tilde")
    with pytest.raises(BadInput, match="fecallab animal list"):
        store.animal("A9")


def test_without_animals_the_answer_says_how_to_add_one(store: Records) -> None:
    with pytest.raises(BadInput, match="fecallab animal add"):
        store.animal("Tilda")


@pytest.mark.parametrize("taken", ["Tilda", "tilda", "  TILDA ", "Ｔilda"])
def test_names_of_animals_are_unique_in_any_case(
    store: Records, now: datetime, animal: Animal, taken: str
) -> None:
    assert "'Tilda' is recorded already (A1)" in refused(store, now, Animal(name=taken))


@pytest.mark.parametrize("name", ["A7", "e3-1", "w12"])
def test_a_name_that_looks_like_a_code_is_refused(store: Records, now: datetime, name: str) -> None:
    assert "looks like a code" in refused(store, now, Animal(name=name))


@pytest.mark.parametrize("bad", ["\x00", "a\x07b", "tab\there", "line\nend", "\x9b2J", "half \ud83d"])
def test_control_characters_are_refused_wherever_they_stand(
    store: Records, now: datetime, animal: Animal, bad: str
) -> None:
    assert "control character" in refused(store, now, Animal(name=bad))
    weighing = Weighing(animal="A1", weighed_at=AT, mass_g=1.0)
    assert "control character" in refused(store, now, replace(weighing, state=bad))
    with pytest.raises(BadInput, match="control character"), store.write(bad, now):
        pass
    if "\n" not in bad and "\t" not in bad:
        assert "control character" in refused(store, now, replace(weighing, remark=bad))


def test_a_text_as_long_as_a_book_is_refused(store: Records, now: datetime) -> None:
    assert "20001 characters" in refused(store, now, Animal(name="Tilda", remark="x" * 20_001))


@pytest.mark.parametrize(
    ("fact", "said"),
    [
        (
            Weighing(animal="A1", weighed_at=AT, mass_g=0.0),
            "mass g of the weighing is 0.0: it must be above 0",
        ),
        (Weighing(animal="A1", weighed_at=AT, mass_g=-3.0), "above 0"),
        (Weighing(animal="A1", weighed_at=AT, mass_g=float("nan")), "finite"),
        (Weighing(animal="A1", weighed_at=AT, mass_g=float("inf")), "finite"),
        (Weighing(animal="A1", weighed_at=AT, mass_g="12"), "must be a number"),  # type: ignore[arg-type]
        (Weighing(animal="A1", weighed_at=AT.replace(tzinfo=UTC), mass_g=1.0), "time zone"),
        (Weighing(animal="A1", weighed_at=date(2026, 1, 1), mass_g=1.0), "with a time"),  # type: ignore[arg-type]
        (Weighing(animal="A9", weighed_at=AT, mass_g=1.0), "no animal 'A9'"),
        (Weighing(animal="", weighed_at=AT, mass_g=1.0), "animal"),
        (Animal(name="  "), "must not be empty"),
        (Animal(name="x", kind="herd"), "'herd': it must be one of: animal, tub, pen"),
        (Animal(name="x", number_of_animals=0), "1 or more"),
        (Animal(name="x", number_of_animals=2**40), "too large"),
        (Animal(name="x", arrived_on=AT), "a day, not a time"),
        (Sample(animal="A1", collected_at=AT, form="runny"), "formed, soft, liquid"),
        (
            Sample(animal="A1", collected_at=AT, passed_from=AT, passed_to=AT - timedelta(hours=1)),
            "not be before",
        ),
        (Sample(animal="A1", collected_at=AT, same_stool_as="S8"), "no sample 'S8'"),
        (AnimalEvent(animal="A1", kind="brumation", start=date(2026, 2, 1), end=date(2026, 1, 1)), "before"),
        (AnimalEvent(animal="A1", kind="flew away", start=date(2026, 2, 1)), "flew away"),
        (CareEntry(at=AT, kind="feeding"), "name an animal or an enclosure"),
        (CareEntry(animal="A1", at=AT, kind="fluids", amount=-1.0), "0 or more"),
        (Case(animal="A1", target="", stages=(), opened_on=date(2026, 1, 1)), "must not be empty"),
        (Case(animal="A1", target="oxyurid", stages=("egg", "egg"), opened_on=date(2026, 1, 1)), "once"),
        (Plan(case="C5", vet="v", written_on=date(2026, 1, 1)), "no case 'C5'"),
        (DoseGiven(plan="P5", given_at=AT), "no plan 'P5'"),
        (Closing(case="C5", closed_on=date(2026, 1, 1), by="k", ending="goal reached"), "no case 'C5'"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_one_line(
    store: Records, now: datetime, animal: Animal, fact: Any, said: str
) -> None:
    line = refused(store, now, fact)
    assert said in line
    assert "\n" not in line


@pytest.mark.parametrize(
    ("reading", "said"),
    [
        (Reading(counts={"oxyurid": -1}), "-1: it must be 0 or more"),
        (Reading(counts={"oxyurid": 2**31}), "too large"),
        (Reading(counts={"": 1}), "must not be empty"),
        (Reading(counts={"oxyurid": 1.5}), "whole number"),  # type: ignore[dict-item]
        (Reading(cover_share=1.01), "share from 0 to 1"),
        (Reading(objective=0.0), "above 0"),
        (Reading(picture="ab" * 32), "No picture with the hash"),
        (Reading(kind="glance"), "field, sweep, chamber"),
        (Reading(marks=(Mark(x_px=0, y_px=0, name="a", angle_deg=180.0),)), "under 180"),
        (Reading(marks=(Mark(x_px=0, y_px=0, name="", length_um=1.0),)), "must not be empty"),
        (Reading(marks=(Mark(x_px=0, y_px=float("nan"), name="a"),)), "finite"),
    ],
)
def test_a_bad_part_refuses_the_whole_exam(
    store: Records, now: datetime, animal: Animal, reading: Reading, said: str
) -> None:
    with store.write("keeper", now) as writer:
        sample = writer.add(Sample(animal="A1", collected_at=AT))
    good = Preparation(method="simple_flotation", readings=(Reading(counts={"oxyurid": 1}), reading))
    assert said in refused(store, now, Exam(sample=sample.code, examined_at=AT, preparations=(good,)))
    assert store.exams() == []
    with store.write("keeper", now) as writer:
        assert writer.add(Exam(sample=sample.code, examined_at=AT)).code == "E1", "no code was used up"


def test_times_are_recorded_in_utc_with_who(store: Records, now: datetime, animal: Animal) -> None:
    there = datetime(2026, 3, 4, 12, 30, 0, 123456, tzinfo=timezone(timedelta(hours=5, minutes=30)))
    with store.write("  vet ", there) as writer:
        code = writer.add(Weighing(animal="A1", weighed_at=AT, mass_g=1.0)).code
    entry = store.history(code)[0]
    assert entry.recorded_at == there
    assert entry.recorded_at.tzinfo is UTC
    assert entry.recorded_by == "vet"
    with pytest.raises(BadInput, match="Nobody"), store.write(" ", now):
        pass


def test_the_latest_weighing_is_the_last_one_weighed_not_typed(
    store: Records, now: datetime, animal: Animal
) -> None:
    assert store.latest_weighing("Tilda") is None
    with store.write("keeper", now) as writer:
        late = writer.add(Weighing(animal="A1", weighed_at=AT, mass_g=2.0))
        early = writer.add(Weighing(animal="A1", weighed_at=AT - timedelta(days=3), mass_g=1.0))
    assert store.weighings("A1") == [early, late]
    assert store.latest_weighing("A1") == late


def test_questions_by_animal_case_and_plan(store: Records, now: datetime, write_everything: Any) -> None:
    with store.write("keeper", now) as writer:
        made = write_everything(writer)
    assert store.animals() == [made["animal"], made["tub"]]
    assert store.samples() == store.samples("A1") == [made["sample"], made["same stool"]]
    assert store.samples("Tub 3") == store.exams("A2") == store.cases("A2") == []
    assert store.exams() == store.exams("A1") == [made["exam"]]
    assert store.sample("s1") == made["sample"]
    assert store.events("A1") == [made["event"], made["accepted"]]
    assert store.care("A1") == [made["care"], made["cleaning"]], "cleaning of its enclosure included"
    assert store.care("A2") == []
    assert store.cases() == store.cases("A1") == [made["case"]]
    assert store.cases(open_only=True) == store.open_case_files() == []
    assert store.case("c1") == made["case"]
    assert store.plans("C1") == [made["plan"]]
    assert store.current_plan("C1") == store.plan("P1") == made["plan"]
    assert store.doses("C1") == store.doses("P1") == [made["dose"]]
    assert store.doses_of_animal("Tilda <b>“the tank”</b> 🐢") == [(made["plan"], made["dose"])]
    assert store.doses_of_animal("A2") == []
    assert store.dose("d1") == made["dose"]
    assert store.reactions("C1") == store.reactions("d1") == [made["reaction"]]
    assert store.other_drugs("A1") == [made["other drug"]]
    assert store.measurements("A1") == [made["measurement"]]
    assert store.signs() == store.signs("A1") == [made["sign"]]
    assert store.signs("A2") == []
    assert store.controls() == [made["control"]]
    assert store.care_of_enclosure("North  pen") == [made["cleaning"]]
    assert store.care_of_enclosure("south pen") == []
    file = store.case_file("C1")
    assert (file.reactions, file.other_drugs) == ((made["reaction"],), (made["other drug"],))
    assert (file.measurements, file.signs) == ((made["measurement"],), (made["sign"],))
    assert store.closing("C1") == made["closing"]
    assert store.pictures() == [made["picture"]]
    for ask, said in (
        (lambda: store.sample("S9"), "run from S1 to S2"),
        (lambda: store.exam("E9"), "no exam"),
        (lambda: store.exam("E1-1"), "no exam 'E1-1'"),
        (lambda: store.case_file("C9"), "no case"),
        (lambda: store.doses("C9"), "no case"),
        (lambda: store.doses("P9"), "no plan"),
        (lambda: store.plan("P9"), "no plan"),
        (lambda: store.history("1A"), "no code"),
        (lambda: store.history("W9"), "Nothing was ever recorded"),
        (lambda: store.picture("00"), "No picture"),
    ):
        with pytest.raises(BadInput, match=said):
            ask()


def test_the_plan_in_force_is_the_last_one_written(
    store: Records, now: datetime, write_everything: Any
) -> None:
    with store.write("keeper", now) as writer:
        made = write_everything(writer)
        older = writer.add(replace(made["plan"], code="", written_on=date(2026, 3, 1)))
    assert store.plans("C1") == [older, made["plan"]]
    assert store.current_plan("C1") == made["plan"]
    with store.write("keeper", now) as writer:
        newer = writer.add(replace(made["plan"], code="", written_on=date(2026, 3, 2)))
    assert store.current_plan("C1") == newer, "of two on one day, the one that was typed last"


def test_a_case_file_holds_all_that_a_standing_rests_on(
    store: Records, now: datetime, write_everything: Any
) -> None:
    with store.write("keeper", now) as writer:
        made = write_everything(writer)
    file = store.case_file("C1")
    assert (file.case, file.animal, file.plan, file.closing) == (
        made["case"],
        made["animal"],
        made["plan"],
        made["closing"],
    )
    assert file.doses == (made["dose"],)
    assert file.samples == {"S1": made["sample"], "S2": made["same stool"]}
    assert file.exams_with_samples == ((made["exam"], made["sample"]),)
    assert file.events == (made["event"], made["accepted"])
    assert file.weighings == (made["weighing"],)
    assert file.care == (made["care"], made["cleaning"])


def add_case(store: Records, now: datetime, number: int) -> None:
    """Record one more animal with a sample, an exam, an open case and a plan."""
    with store.write("keeper", now) as writer:
        animal = writer.add(Animal(name=f"Arrival {number}"))
        sample = writer.add(Sample(animal=animal.code, collected_at=AT))
        writer.add(
            Exam(
                sample=sample.code,
                examined_at=AT,
                preparations=(
                    Preparation(method="simple_flotation", readings=(Reading(counts={"oxyurid": 1}),)),
                ),
            )
        )
        case = writer.add(
            Case(animal=animal.code, target="oxyurid", stages=("egg",), opened_on=date(2026, 1, 2))
        )
        writer.add(Plan(case=case.code, vet="v", written_on=date(2026, 1, 3)))


def test_all_open_cases_are_read_in_as_many_queries_as_one(store: Records, now: datetime) -> None:
    asked: list[str] = []

    @event.listens_for(store.engine, "before_cursor_execute")
    def listen(connection: Any, cursor: Any, statement: str, *rest: Any) -> None:
        asked.append(statement)

    def how_many(ask: Callable[[], Any]) -> int:
        asked.clear()
        ask()
        return len(asked)

    add_case(store, now, 1)
    one = how_many(store.open_case_files)
    for number in range(2, 9):
        add_case(store, now, number)
    assert how_many(store.open_case_files) == one <= 30
    files = store.open_case_files()
    assert [file.case.code for file in files] == [f"C{number}" for number in range(1, 9)]
    assert files == [store.case_file(file.case.code) for file in files]


def test_counting_marks_in_the_database_changes_no_tally(
    store: Records, now: datetime, write_everything: Any
) -> None:
    with store.write("keeper", now) as writer:
        write_everything(writer)
        for code in ("X1", "U1", "O1"):
            writer.withdraw(code, "as if nobody had said so")
        writer.add_marks(
            "E1-1-2", [Mark(x_px=1.0, y_px=1.0, name="oxyurid"), Mark(x_px=2.0, y_px=1.0, name="x")]
        )
        writer.withdraw("E1-1-2-2", "was dirt")
    listed, counted = store.open_case_files(), store.open_case_files(tallies_only=True)
    for full, short in zip(listed[0].exams, counted[0].exams, strict=True):
        for one, other in zip(full.preparations, short.preparations, strict=True):
            for reading, again in zip(one.readings, other.readings, strict=True):
                assert again.marks == ()
                for sure in (True, False):
                    assert again.tally(sure=sure) == reading.tally(sure=sure)
    swept = counted[0].exams[0].preparations[0].readings[1]
    assert (swept.counts, swept.unsure) == ({"oxyurid": 2, "x": 1}, {})


def test_one_moment_is_not_disturbed_by_a_writer(open_store: Callable[..., Records], now: datetime) -> None:
    with open_store() as reader, open_store() as other, reader.at_one_moment() as moment:
        assert moment.animals() == []
        with other.write("keeper", now) as writer:
            writer.add(Animal(name="Tilda"))
        assert moment.animals() == []
        assert len(reader.animals()) == 1


def test_a_writer_reads_what_it_has_written_before_anyone_else_does(store: Records, now: datetime) -> None:
    with store.write("keeper", now) as writer:
        writer.add(Animal(name="Tilda"))
        assert writer.animal("Tilda").code == "A1"
        assert store.animals() == []
    assert len(store.animals()) == 1


def test_an_error_in_the_block_keeps_nothing(store: Records, now: datetime) -> None:
    with pytest.raises(ZeroDivisionError), store.write("keeper", now) as writer:
        writer.add(Animal(name="Tilda"))
        raise ZeroDivisionError
    assert store.animals() == []


def test_a_statement_is_written_once_for_all_record_folders(
    tmp_path: Path, empty_folder: Path, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    written: list[str] = []
    write = SQLCompiler.__init__

    def noted(self: SQLCompiler, *words: Any, **more: Any) -> None:
        write(self, *words, **more)
        written.append(str(self))

    monkeypatch.setattr(SQLCompiler, "__init__", noted)
    for name in ("one", "another"):
        written.clear()
        with open_records(shutil.copytree(empty_folder, tmp_path / name)) as records:
            with records.write("keeper", now) as writer:
                writer.add(Animal(name=name))
            assert [animal.name for animal in records.animals()] == [name]
    assert written == []
