"""Who has met whom: by place and day, in time order, and said in words."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import date, timedelta
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.animal import Animal, AnimalEvent
from fecallab.domain.contact_build import contact_graph
from fecallab.domain.contacts import WAYS, ContactGraph
from fecallab.domain.housing import CountChange, Enclosure, Housing, Sharing, Stay

START = date(2026, 5, 1)


def day(number: int) -> date:
    return START + timedelta(days=number)


def stay(animal: str, enclosure: str, start: int | None, end: int | None = None) -> Stay:
    return Stay(
        animal=animal,
        enclosure=enclosure,
        start=None if start is None else day(start),
        end=None if end is None else day(end),
    )


def housing(*stays: Stay, sharings: tuple[Sharing, ...] = (), **more: object) -> Housing:
    enclosures = sorted({one.enclosure for one in stays} | {one.enclosure for one in sharings})
    animals = {one.animal: Animal(code=one.animal, name=f"gecko {one.animal}") for one in stays}
    return Housing(
        animals=animals,
        enclosures=tuple(Enclosure(code=code, name=code.removeprefix("B")) for code in enclosures),
        stays=stays,
        sharings=sharings,
        **more,  # type: ignore[arg-type]
    )


def test_the_path_says_enclosure_and_both_days() -> None:
    graph = contact_graph(housing(stay("A1", "B4", 1, 8), stay("A2", "B4", 0, None)))
    found = graph.reached({"A1": day(0)})
    assert graph.say_path(found["A2"]) == (
        "gecko A2 and gecko A1: shared enclosure 4 from 2 May 2026 to 9 May 2026"
    )


def test_a_contact_that_lasts_is_said_as_one_that_goes_on() -> None:
    graph = contact_graph(housing(stay("A1", "B4", 1, None), stay("A2", "B4", 0, None)))
    found = graph.reached({"A1": day(0)})
    assert graph.say_path(found["A2"]) == "gecko A2 and gecko A1: have shared enclosure 4 since 2 May 2026"


def test_a_chain_runs_in_time_order_only() -> None:
    """A2 met A3 before it met the positive A1: nothing can have been passed on."""
    early = contact_graph(housing(stay("A1", "B1", 10, 20), stay("A2", "B2", 0, 5), stay("A3", "B2", 0, 5),
                                  stay("A2", "B1", 12, 14)))  # fmt: skip
    assert set(early.reached({"A1": day(0)})) == {"A2"}
    later = contact_graph(housing(stay("A1", "B1", 10, 20), stay("A2", "B1", 12, 14), stay("A2", "B2", 15, 16),
                                  stay("A3", "B2", 0, 30)))  # fmt: skip
    found = later.reached({"A1": day(0)})
    assert set(found) == {"A2", "A3"}
    assert found["A3"].first_day == day(15)
    assert "; then gecko A3 and gecko A2" in later.say_path(found["A3"])


def test_contacts_before_the_earliest_possible_infection_do_not_count() -> None:
    graph = contact_graph(housing(stay("A1", "B1", 0, 30), stay("A2", "B1", 0, 5), stay("A3", "B1", 6, 9)))
    assert set(graph.reached({"A1": day(6)})) == {"A3"}
    assert set(graph.reached({"A1": day(5)})) == {"A2", "A3"}


def test_an_unknown_first_day_counts_as_always() -> None:
    graph = contact_graph(housing(stay("A1", "B1", None, 3), stay("A2", "B1", None, 9)))
    found = graph.reached({"A1": date.min})
    assert "since before the records" in graph.say_path(found["A2"])


def test_tools_link_only_ways_that_count_and_only_while_shared() -> None:
    tongs = (
        Sharing(enclosure="B1", thing="tools", label="Red  Tongs", end=day(10)),
        Sharing(enclosure="B2", thing="tools", label="red tongs"),
    )
    graph = contact_graph(housing(stay("A1", "B1", 0), stay("A2", "B2", 0), sharings=tongs))
    assert graph.groups_on(day(10)) == [("A1", "A2")]
    assert graph.groups_on(day(11)) == [("A1",), ("A2",)]
    assert set(graph.reached({"A1": day(0)})) == {"A2"}
    assert graph.reached({"A1": day(0)}, ways={"enclosure"}) == {}
    assert graph.reached({"A1": day(11)}) == {}
    assert "tools “Red  Tongs”" in graph.say_path(graph.reached({"A1": day(0)})["A2"])


def test_an_enclosure_stays_infective_until_it_is_cleaned_or_time_is_over() -> None:
    world = housing(stay("A1", "B1", 0, 5), stay("A2", "B1", 9, 20))
    assert contact_graph(world).reached({"A1": day(0)}) == {}
    found = contact_graph(world).reached({"A1": day(0)}, survival_days=7)
    assert found["A2"].first_day == day(9)
    assert "after gecko A1 was there until 6 May 2026; no cleaning is noted" in contact_graph(world).say_path(
        found["A2"]
    )
    assert contact_graph(world).reached({"A1": day(0)}, survival_days=3) == {}
    assert set(contact_graph(world).reached({"A1": day(0)}, survival_days=None)) == {"A2"}
    assert contact_graph(world, {"B1": [day(7)]}).reached({"A1": day(0)}, survival_days=None) == {}


def test_the_dead_and_sold_are_in_no_enclosure_any_more() -> None:
    left = AnimalEvent(animal="A1", kind="left", start=day(4))
    graph = contact_graph(housing(stay("A1", "B1", 0), stay("A2", "B1", 5), events=(left,)))
    assert graph.groups_on(day(6), ["A1", "A2"]) == [("A1",), ("A2",)]
    assert graph.reached({"A1": day(0)}) == {}


def test_a_tub_that_began_as_part_of_another_carries_its_contacts() -> None:
    split = CountChange(animal="A1", on=day(10), kind="moved out", number=3, other="A9")
    graph = contact_graph(
        housing(stay("A1", "B1", 0), stay("A2", "B1", 2, 4), stay("A9", "B9", 10), changes=(split,))
    )
    assert set(graph.reached({"A2": day(0)})) == {"A1", "A9"}
    later = contact_graph(
        housing(stay("A1", "B1", 0), stay("A2", "B1", 12, 14), stay("A9", "B9", 10), changes=(split,))
    )
    assert set(later.reached({"A2": day(0)})) == {"A1"}


def test_animals_taken_into_a_tub_bring_their_contacts() -> None:
    joined = CountChange(animal="A1", on=day(10), kind="moved in", number=3, other="A9")
    graph = contact_graph(
        housing(stay("A1", "B1", 0), stay("A2", "B9", 2, 4), stay("A9", "B9", 0, 10), changes=(joined,))
    )
    found = graph.reached({"A2": day(0)})
    assert set(found) == {"A9", "A1"}
    assert found["A1"].first_day == day(10)


def test_last_meetings_with_others_than_the_group() -> None:
    graph = contact_graph(
        housing(stay("A1", "B1", 0), stay("A2", "B1", 0), stay("A3", "B1", 3, 8), stay("A3", "B3", 8))
    )
    groups = graph.groups_on(day(20))
    assert groups == [("A1", "A2"), ("A3",)]
    assert graph.last_met_outside(groups, day(20), {"A1", "A2", "A3"}) == {
        "A1": (day(8), "A3"),
        "A2": (day(8), "A3"),
        "A3": (day(8), "A1"),
    }
    assert set(graph.last_met_outside(groups, day(20), {"A1"})) == {"A3"}
    assert graph.last_met(["A1", "A2"], ["A3"], day(20)) == (day(8), "A3")
    assert graph.last_met(["A1"], ["A3"], day(5)) == (day(5), "A3")
    assert graph.last_met(["A1"], ["A3"], day(2)) is None
    assert graph.last_met(["A1"], ["A3"], day(20), ways={"tools"}) is None


def test_the_same_room_is_known_by_its_word() -> None:
    world = housing(stay("A1", "B1", 0), stay("A2", "B2", 0, 5), stay("A3", "B3", 0))
    world = replace(
        world,
        enclosures=tuple(
            replace(one, room=room)
            for one, room in zip(world.enclosures, ("North ", "north", ""), strict=True)
        ),
    )
    graph = contact_graph(world)
    assert graph.in_same_room("A1", day(3)) == {"A2"}
    assert graph.in_same_room("A1", day(6)) == set()
    assert graph.in_same_room("A3", day(3)) == set()


places = st.sampled_from(["B1", "B2", "B3"])
stays_drawn = st.lists(
    st.tuples(st.sampled_from(["A1", "A2", "A3", "A4", "A5"]), places, st.integers(0, 12), st.integers(0, 6)),
    min_size=1,
    max_size=14,
).map(lambda rows: tuple(stay(a, b, s, s + n) for a, b, s, n in rows))


def reached_day_by_day(graph: ContactGraph, source: str, since: date, survival: int) -> dict[str, date]:
    """Second way to the same answer: walk the days, pass it on within each place until nothing changes."""
    have = {source: since}
    left: dict[str, date] = {}
    for number in range(25):
        today = day(number)
        changed = True
        while changed:
            changed = False
            for place, here in graph.at_place.items():
                now = {p.animal for p in here if p.start <= today <= p.end}
                if any(have.get(animal, date.max) <= today for animal in now):
                    left[place] = today
                if place in left and (today - left[place]).days <= survival:
                    for animal in now - set(have):
                        have[animal] = today
                        changed = True
    return {animal: when for animal, when in have.items() if animal != source}


@given(stays_drawn, st.integers(0, 10), st.sampled_from([0, 2]))
@settings(max_examples=200, deadline=None)
def test_chains_are_those_of_a_walk_day_by_day(stays: tuple[Stay, ...], since: int, survival: int) -> None:
    graph = contact_graph(housing(*stays))
    found = graph.reached({"A1": day(since)}, survival_days=survival)
    expected = reached_day_by_day(graph, "A1", day(since), survival)
    assert {animal: one.first_day for animal, one in found.items()} == expected
    for one in found.values():
        assert one.path[0].giver == "A1"
        assert one.path[-1].taker == one.animal
        assert all(a.taker == b.giver for a, b in zip(one.path, one.path[1:], strict=False))
        assert graph.say_path(one)


@given(stays_drawn, st.integers(0, 14))
@settings(max_examples=100, deadline=None)
def test_last_meetings_are_those_of_all_pairs(stays: tuple[Stay, ...], until: int) -> None:
    graph = contact_graph(housing(*stays))
    groups = [("A1", "A2"), ("A3",)]
    everyone = {"A1", "A2", "A3", "A4", "A5"}
    for others in (everyone, {"A1", "A3"}, {"A4"}):
        found = graph.last_met_outside(groups, day(until), others)
        for group in groups:
            for animal in group:
                last = graph.last_met([animal], others - set(group), day(until))
                assert (last and last[0]) == (found[animal][0] if animal in found else None)


def collection(animals: int, enclosures: int) -> Housing:
    draw = Random(5)
    stays = []
    for number in range(animals):
        at = 0
        for move in range(5):
            ends = at + draw.randrange(5, 60)
            stays.append(stay(f"A{number}", f"B{draw.randrange(enclosures)}", at, ends if move < 4 else None))
            at = ends
    sharings = tuple(
        Sharing(enclosure=f"B{number}", thing="tools", label=f"set {number // 20}")
        for number in range(enclosures)
    )
    return housing(*stays, sharings=sharings)


def test_the_work_grows_with_stays_and_not_with_pairs() -> None:
    """Ten times the animals at the same number per enclosure: well under the hundredfold that pairs would take."""

    def seconds(animals: int) -> float:
        graph = contact_graph(collection(animals, animals // 10))
        began = time.process_time()
        graph.groups_on(day(100))
        found = graph.reached({"A1": day(0)}, ways=WAYS)
        took = time.process_time() - began
        assert len(found) > animals / 20
        return took

    small = min(seconds(200) for _ in range(3))
    assert min(seconds(2000) for _ in range(2)) < 45 * small
