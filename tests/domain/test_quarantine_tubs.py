"""Tubs in quarantine: how many stools an exam of one must hold."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fecallab.domain.animal import Animal
from fecallab.domain.housing import CountChange
from fecallab.domain.quarantine_exams import ArrivalExam, stools

from .quarantine_cases import World, clean, day, exam, protocol
from .quarantine_worlds import the_answer


def tub(rule: str, held: int | None, *, animals: int = 20) -> World:
    world = World().arrival().animal("A1", "B1", kind="tub")
    world.animals["A1"] = Animal(
        code="A1", name="tub 1", kind="tub", number_of_animals=animals, host_group="uromastyx"
    )
    world.facts_more["tub_rule"] = rule
    return world.seen([replace(one, stools_of=held) for one in clean(["A1"], 0, 28, 56)])


@pytest.mark.parametrize(
    ("rule", "held", "leaves"),
    [
        ("every member's share", 20, True),
        ("every member's share", 5, False),
        ("every member's share", None, False),
        ("tub as it stands", None, True),
        ("each animal", 20, False),
    ],
)
def test_a_tub_leaves_as_one_when_its_exams_hold_what_the_rule_asks(
    rule: str, held: int | None, leaves: bool
) -> None:
    found = the_answer(tub(rule, held), 90)
    assert found.may_release is leaves
    assert found.number == 20
    said = next(remark for remark in found.remarks if remark.code == "tub-as-one")
    assert "confirm no single animal" in said.text
    if not leaves:
        assert "lacks: " in found.reasons[0].text


def test_a_tubs_number_counts_on_the_day_of_the_stool() -> None:
    world = tub("every member's share", 18)
    lost = CountChange(animal="A1", on=day(10), kind="died", number=2)
    world.more["changes"] = (lost,)
    found = the_answer(world, 90)
    assert found.number == 18
    assert found.members[0].k == 2, "on day 0 there were 20"
    world.more["changes"] = (replace(lost, number=20),)
    assert world.on(90).groups == []


def test_a_stool_is_positive_whatever_else_was_said_of_it() -> None:
    rows = [
        exam("A1", 5, "S1"),
        exam("A1", 5, "S1", ascarid="positive"),
        exam("A1", 5, "S1", amoeba="unsure"),
    ]
    for order in (rows, rows[::-1]):
        (one,) = stools(order, protocol())
        assert (one.word, one.found) == ("positive", ("ascarid",))
    (empty,) = stools([ArrivalExam(animal="A1", taken_on=day(1), code="E1")], protocol())
    assert empty.word == "inconclusive"
    assert "coccidian" in empty.lacks
