"""Exams to judge: an animal, a stool, and how it was prepared and read."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

from fecallab.domain.animal import Animal
from fecallab.domain.casework import (
    JudgedExam,
    judge_exam,
)
from fecallab.domain.exam import ElsewhereResult, Exam, Preparation, Reading
from fecallab.domain.sample import Sample
from fecallab.reference.adequacy import adequacy_facts

FACTS = adequacy_facts()


MORNING = datetime(2025, 3, 4, 8)


SAFFRON = Animal(code="A1", name="Saffron", species="Pogona vitticeps", host_group="lizard")


STOOL = Sample(
    code="S1",
    animal="A1",
    passed_from=MORNING - timedelta(minutes=30),
    passed_to=MORNING,
    collected_at=MORNING,
    form="soft",
    kept="room",
    mass_g=2.0,
)


NOTHING_AT_10 = Reading(kind="sweep", objective=10, cover_share=1, counts={"oxyurid": 0})


FLOAT = Preparation(
    code="E1-1",
    method="simple_flotation",
    read_at=MORNING + timedelta(minutes=40),
    specific_gravity=1.2,
    gravity_checked=True,
    standing_minutes=15,
    readings=(NOTHING_AT_10,),
)


WET = Preparation(
    code="E1-2",
    method="direct_saline_smear",
    read_at=MORNING + timedelta(minutes=20),
    room_c=24,
    readings=(Reading(kind="sweep", objective=40, cover_share=0.4),),
)


CHAMBER = Preparation(
    code="E1-3",
    method="mcmaster",
    read_at=MORNING + timedelta(minutes=50),
    specific_gravity=1.2,
    gravity_checked=True,
    standing_minutes=5,
    sample_g=2,
    suspension_ml=30,
    counted_ml=0.3,
)


def exam(*preparations: Preparation, **more: object) -> Exam:
    told = {"code": "E1", "sample": "S1", "examined_at": MORNING + timedelta(hours=1)} | more
    return Exam(preparations=preparations, **told)


def judged(
    whole: Exam, target: str = "oxyurid", stages: tuple[str, ...] = ("egg",), **more: object
) -> JudgedExam:
    return judge_exam(whole, more.get("sample", STOOL), more.get("animal", SAFFRON), target, stages, FACTS)


def seen(preparation: Preparation, **counts: int) -> Preparation:
    reading = preparation.readings[0] if preparation.readings else Reading(kind="chamber")
    return replace(preparation, readings=(replace(reading, counts=counts),))


def elsewhere(result: str, adequate: bool | None = True, stage: str = "", target: str = "oxyurid") -> Exam:
    stated = ElsewhereResult(
        target=target,
        stage=stage,
        who="Lab Ouk",
        method="flotation",
        reported_on=date(2025, 3, 5),
        result=result,
        stated_adequate=adequate,
    )
    return exam(elsewhere=(stated,))
