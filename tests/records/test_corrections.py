"""Nothing is changed or deleted: a correction is a new row, and the old one stays readable."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy import event

from fecallab.domain.animal import Animal
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Mark, Preparation, Reading
from fecallab.domain.plan import RuleWord
from fecallab.records import rows, schema, trees
from fecallab.records.engine import reading, writing
from fecallab.records.store import Records


@pytest.fixture
def made(store: Records, write_everything: Any, now: datetime) -> dict[str, Any]:
    with store.write("keeper", now) as writer:
        facts: dict[str, Any] = write_everything(writer)
    return facts


def test_a_correction_keeps_the_old_row(store: Records, made: dict[str, Any], now: datetime) -> None:
    later = now + timedelta(hours=1)
    with store.write("second keeper", later) as writer:
        new = writer.correct("w1", replace(made["weighing"], mass_g=421.5), "digits swapped")
    assert new.code == "W1"
    assert store.weighings("A1") == [new]
    old, corrected = store.history("W1")
    assert (old.fact, old.current, old.recorded_by) == (made["weighing"], False, "keeper")
    assert (corrected.fact, corrected.current, corrected.reason) == (new, True, "digits swapped")
    assert (corrected.recorded_at, corrected.recorded_by) == (later, "second keeper")


def test_a_correction_of_a_correction_chains(store: Records, made: dict[str, Any], now: datetime) -> None:
    for mass in (1.0, 2.0, 3.0):
        with store.write("keeper", now) as writer:
            writer.correct(made["weighing"], replace(made["weighing"], mass_g=mass), f"now {mass}")
    assert [entry.fact.mass_g for entry in store.history("W1")] == [412.5, 1.0, 2.0, 3.0]
    assert [entry.current for entry in store.history("W1")] == [False, False, False, True]


def test_one_row_can_be_replaced_only_once(store: Records, made: dict[str, Any], now: datetime) -> None:
    table = schema.weighings
    with reading(store.engine) as connection:
        row = dict(connection.execute(sa.select(table)).mappings().one())
    twice = {**row, "replaces": row["id"], "correction_reason": "why", "recorded_at": now}
    del twice["id"]
    with writing(store.engine) as connection:
        connection.execute(sa.insert(table), twice)
    with pytest.raises(sa.exc.IntegrityError), writing(store.engine) as connection:
        connection.execute(sa.insert(table), twice)


def test_a_row_cannot_replace_one_of_another_code(
    store: Records, made: dict[str, Any], now: datetime
) -> None:
    table = schema.animals
    with reading(store.engine) as connection:
        first = dict(connection.execute(sa.select(table).where(table.c.code == "A1")).mappings().one())
    other = {**first, "code": "A2", "replaces": first.pop("id"), "correction_reason": "why"}
    del other["id"]
    with pytest.raises(sa.exc.IntegrityError), writing(store.engine) as connection:
        connection.execute(sa.insert(table), other)


def test_a_second_first_row_under_a_code_is_refused(store: Records, made: dict[str, Any]) -> None:
    table = schema.weighings
    with reading(store.engine) as connection:
        row = dict(connection.execute(sa.select(table)).mappings().one())
    del row["id"]
    with pytest.raises(sa.exc.IntegrityError), writing(store.engine) as connection:
        connection.execute(sa.insert(table), row)


def test_a_correction_of_an_exam_reaches_its_parts(
    store: Records, made: dict[str, Any], now: datetime
) -> None:
    exam = store.exam("E1")
    wet, float_ = exam.preparations
    field, sweep = wet.readings
    wanted = replace(
        exam,
        preparations=(
            replace(
                wet,
                room_c=19.0,
                readings=(
                    replace(field, counts={"oxyurid": 2}),
                    replace(sweep, marks=(sweep.marks[0], Mark(x_px=1.0, y_px=1.0, name="ascarid"))),
                    Reading(counts={"ascarid": 1}),
                ),
            ),
        ),
    )
    with store.write("vet", now) as writer:
        stands = writer.correct(exam, wanted, "second look")
    assert stands == store.exam("E1")
    assert [part.code for part in stands.preparations] == ["E1-1"], "the float was withdrawn"
    first, second, third = stands.preparations[0].readings
    assert (first.counts, first.unsure) == ({"oxyurid": 2}, {"flagellate": 2})
    assert [mark.code for mark in second.marks] == ["E1-1-2-1", "E1-1-2-3"]
    assert third.code == "E1-1-3"
    story = {(entry.code, entry.current, entry.withdrawn) for entry in store.history("E1")}
    assert {("E1-2", False, False), ("E1-2", False, True), ("E1-1-2-2", False, True)} <= story
    assert [entry.fact.counts for entry in store.history("E1-1-1")] == [{"oxyurid": 0}, {"oxyurid": 2}]
    assert float_ not in stands.preparations


def test_one_reading_is_corrected_by_its_own_code(
    store: Records, made: dict[str, Any], now: datetime
) -> None:
    before = store.exam("E1").preparations[0].readings[0]
    with store.write("keeper", now) as writer:
        after = writer.correct("E1-1-1", replace(before, unsure={}), "was pollen")
    assert after.unsure == {}
    assert store.exam("E1").preparations[0].readings[0] == after
    with pytest.raises(BadInput, match="differs"), store.write("keeper", now) as writer:
        writer.correct("E1-1-1", after, "again")


def test_stages_of_a_case_are_corrected(store: Records, made: dict[str, Any], now: datetime) -> None:
    with store.write("keeper", now) as writer:
        case = writer.correct("C1", replace(made["case"], stages=("egg",)), "no larvae in this host")
    assert case.stages == ("egg",)
    assert [entry.fact.stages for entry in store.history("C1")] == [("egg", "larva"), ("egg",)]


def test_words_on_rules_are_corrected_with_the_dose(
    store: Records, made: dict[str, Any], now: datetime
) -> None:
    word = RuleWord(rule="too-late", by="Dr. Other", at=datetime(2026, 3, 4))
    with store.write("keeper", now) as writer:
        new = writer.correct("D1", replace(made["dose"], overrides=(word,)), "it was the other vet")
    assert store.dose("D1") == new == replace(made["dose"], overrides=(word,))
    assert [entry.fact for entry in store.history("D1")] == [made["dose"], new]
    with store.write("keeper", now) as writer:
        writer.correct("D1", replace(new, volume_ml="0.30"), "typing error")
        assert writer.dose("D1").overrides == (word,)
    with pytest.raises(BadInput, match="Nothing in D1"), store.write("keeper", now) as writer:
        writer.correct("D1", writer.dose("D1"), "no change")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((RuleWord(rule="", by="vet", at=datetime(2026, 3, 4)),), "rule is missing"),
        ((RuleWord(rule="too-late", by="", at=datetime(2026, 3, 4)),), "by is missing"),
        ((RuleWord(rule="too-late", by="vet", at=datetime(2026, 3, 4)),) * 2, "two words on one rule"),
    ],
)
def test_a_word_on_a_rule_names_rule_and_person_once(
    store: Records, made: dict[str, Any], now: datetime, words: tuple[RuleWord, ...], said: str
) -> None:
    with pytest.raises(BadInput, match=said), store.write("keeper", now) as writer:
        writer.add(replace(made["dose"], code="", overrides=words))
    assert [dose.code for dose in store.doses("C1")] == ["D1"]


def test_an_animal_whose_name_has_come_to_look_like_a_code_can_be_corrected(
    store: Records, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as before, store.write("keeper", now) as writer:
        before.setattr(rows, "kind_of_code", lambda code: None)
        animal = writer.add(Animal(name="Q1"))
    with store.write("keeper", now) as writer:
        assert writer.correct("A1", replace(animal, enclosure="north"), "moved").enclosure == "north"


def test_withdrawing_keeps_the_story_and_frees_nothing(
    store: Records, made: dict[str, Any], now: datetime
) -> None:
    with store.write("keeper", now) as writer:
        writer.withdraw("X1", "closed the wrong case")
        assert writer.closing("C1") is None
    assert [case.code for case in store.cases(open_only=True)] == ["C1"]
    assert [entry.withdrawn for entry in store.history("X1")] == [False, True]
    with store.write("keeper", now) as writer:
        again = writer.add(replace(made["closing"], code=""))
    assert again.code == "X2", "a code is never given twice"


def test_what_is_still_needed_is_not_withdrawn(store: Records, made: dict[str, Any], now: datetime) -> None:
    for code, needed_by in (("A1", "weighing W1"), ("S1", "sample S2"), ("P1", "dose D1"), ("E1", "case C1")):
        with pytest.raises(BadInput, match=needed_by), store.write("keeper", now) as writer:
            writer.withdraw(code, "mistake")
    with store.write("keeper", now) as writer:
        writer.withdraw("R1", "of another animal")
        writer.withdraw("D1", "was not given")
        writer.withdraw("N1", "about another animal")
        writer.withdraw("P1", "for another animal")
    assert store.plans("C1") == []
    with pytest.raises(BadInput, match="withdrawn on 4 March 2026: for another animal"):
        store.plan("P1")
    with pytest.raises(BadInput, match="withdrawn"), store.write("keeper", now) as writer:
        writer.add(replace(made["dose"], code=""))


def test_a_withdrawn_fact_can_be_corrected_back(store: Records, made: dict[str, Any], now: datetime) -> None:
    with store.write("keeper", now) as writer:
        writer.withdraw("W1", "wrong animal")
    assert store.latest_weighing("A1") is None
    with store.write("keeper", now) as writer:
        writer.correct("W1", made["weighing"], "it was right after all")
    assert store.latest_weighing("A1") == made["weighing"]


def test_a_withdrawn_preparation_takes_its_readings_along(
    store: Records, made: dict[str, Any], now: datetime
) -> None:
    with store.write("keeper", now) as writer:
        writer.withdraw("E1-1", "slide of another animal")
    assert [part.code for part in store.exam("E1").preparations] == ["E1-2"]
    assert [part.code for part in store.case_file("C1").exams[0].preparations] == ["E1-2"]


def test_a_correction_needs_a_reason_and_the_right_kind(
    store: Records, made: dict[str, Any], now: datetime
) -> None:
    for wrong, said in (
        (lambda writer: writer.correct("W1", replace(made["weighing"], mass_g=1.0), "  "), "reason"),
        (
            lambda writer: writer.correct("A1", replace(made["weighing"], mass_g=1.0), "x"),
            "no code of a weighing",
        ),
        (lambda writer: writer.correct("W9", replace(made["weighing"], mass_g=1.0), "x"), "no weighing 'W9'"),
        (lambda writer: writer.correct("W1", made["weighing"], "x"), "differs"),
        (lambda writer: writer.withdraw("W1", ""), "reason"),
        (lambda writer: writer.withdraw("Tilda", "x"), "no code"),
        (lambda writer: writer.add(made["weighing"]), "recorded already"),
        (
            lambda writer: writer.correct(
                "E1", replace(made["exam"], preparations=(Preparation(code="E1-9", method="baermann"),)), "x"
            ),
            "E1-9",
        ),
    ):
        with pytest.raises(BadInput, match=said), store.write("keeper", now) as writer:
            wrong(writer)
    assert [len(store.history(code)) for code in ("W1", "A1")] == [1, 1]


def test_a_corrected_animal_keeps_its_name_to_itself(
    store: Records, made: dict[str, Any], now: datetime
) -> None:
    with store.write("keeper", now) as writer:
        writer.correct("A2", replace(made["tub"], name="Pen 9"), "moved")
        writer.add(Animal(name="Tub 3"))
    with (
        pytest.raises(BadInput, match=r"'Tub 3' is recorded already \(A3\)"),
        store.write("k", now) as writer,
    ):
        writer.correct("A2", replace(made["tub"], name="TUB  3"), "moved back")


def test_no_statement_updates_or_deletes(store: Records, write_everything: Any, now: datetime) -> None:
    statements: list[str] = []

    @event.listens_for(store.engine, "before_cursor_execute")
    def listen(connection: Any, cursor: Any, statement: str, *rest: Any) -> None:
        statements.append(statement.lstrip().upper())

    with store.write("keeper", now) as writer:
        made = write_everything(writer)
        writer.add_readings("E1-1", [Reading(counts={"oxyurid": 1})])
        writer.correct("W1", replace(made["weighing"], mass_g=1.0), "why")
        writer.correct("E1", replace(writer.exam("E1"), preparations=()), "why")
        writer.withdraw("X1", "why")
    store.case_file("C1")
    store.history("E1")
    kinds = {statement.split()[0] for statement in statements}
    assert {"INSERT", "SELECT"} <= kinds <= {"INSERT", "SELECT", "BEGIN", "SET"}
    assert not [each for each in statements if "ON CONFLICT" in each or "OR REPLACE" in each]


def test_every_kind_of_fact_has_exactly_one_row_that_stands(
    store: Records, made: dict[str, Any], now: datetime
) -> None:
    with store.write("keeper", now) as writer:
        writer.correct("A2", replace(made["tub"], number_of_animals=3), "one moved out")
    with reading(store.engine) as connection:
        for kind in rows.KINDS:
            standing = trees.current_codes(connection, kind)
            given = connection.scalars(
                sa.select(schema.codes.c.code).where(schema.codes.c.kind == kind.name)
            ).all()
            assert sorted(standing) == sorted(given) != []
