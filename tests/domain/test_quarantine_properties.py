"""What must hold for every quarantine: nothing that adds risk ever brings a release forward."""

from __future__ import annotations

import copy
from datetime import date
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.quarantine import may_mix
from fecallab.domain.quarantine_exams import earliest_end

from .quarantine_cases import World, day, exam

ANIMALS = ("A1", "A2", "A3", "A4")
FINDINGS = ("coccidian", "amoeba", "ascarid", "ciliate", "cestode")


@st.composite
def worlds(draw: st.DrawFn) -> World:
    """A few animals of one or two arrivals, some moves and visits, exams with a few findings, some losses."""
    world = World("lizard")
    shorter = {
        "days_at_least": draw(st.sampled_from([10, 30])),
        "spacing_days": draw(st.sampled_from([3, 7])),
    }
    who = draw(st.sampled_from(["the contact group", "the arrival", "the room", "the animal"]))
    last = draw(st.sampled_from([None, 9]))
    for code in ("I1", "I2"):
        world.arrival(
            code,
            negatives_needed=draw(st.integers(1, 3)),
            last_exam_after_days=last,
            positive_restarts=who,
            newcomer_restarts=who,
            not_blocking=("ciliate",),
            **shorter,
        )
    world.rooms |= {"B1": "north", "B2": "north", "B3": "south"}
    for code in ANIMALS[: draw(st.integers(1, 4))]:
        on = draw(st.integers(0, 6))
        world.animal(
            code,
            draw(st.sampled_from(["B1", "B2", "B3"])),
            on=on,
            arrival=draw(st.sampled_from(["I1", "I1", "I2"])),
        )
        if draw(st.integers(0, 3)) == 0:
            world.move(code, draw(st.sampled_from(["B1", "B2", "B3"])), on + draw(st.integers(1, 20)))
        if draw(st.integers(0, 4)) == 0:
            start = on + draw(st.integers(0, 20))
            world.stay(
                code,
                draw(st.sampled_from(["B1", "B2", "B3"])),
                start,
                start + draw(st.integers(0, 3)),
                visit=True,
            )
        if draw(st.integers(0, 6)) == 0:
            world.event(code, draw(st.sampled_from(["died", "left"])), on + draw(st.integers(5, 40)))
        for number in range(draw(st.integers(0, 6))):
            found = {}
            if draw(st.integers(0, 5)) == 0:
                found[draw(st.sampled_from(FINDINGS))] = draw(
                    st.sampled_from(["positive", "unsure", "inconclusive"])
                )
            world.seen(exam(code, on + draw(st.integers(0, 45)), f"S{code}{number}", **found))
    return world


def ends(world: World, on: int) -> dict[str, date]:
    """Return the earliest day for every animal in quarantine; the last day of time while a person must act."""
    situation = world.on(on)
    found = {}
    for group in situation.groups:
        answer = may_mix(group, situation)
        assert answer.may_release == (not any(member.missing for member in answer.members))
        for member in answer.members:
            if "exams-missing" not in {reason.code for reason in member.missing}:
                assert len(member.counted) >= member.n
                assert member.k == member.n
            found[member.animal] = answer.earliest_on or date.max
            assert answer.may_release <= (
                answer.earliest_on is not None and answer.earliest_on <= situation.today
            )
    return found


days = st.integers(5, 60)


@given(worlds(), days, st.sampled_from(ANIMALS), st.integers(0, 45), st.sampled_from(FINDINGS))
@settings(max_examples=150, deadline=None)
def test_a_positive_never_brings_a_release_forward(
    world: World, on: int, animal: str, at: int, group: str
) -> None:
    before = ends(world, on)
    worse = copy.deepcopy(world).seen(exam(animal, at, "SX", **{group: "positive"}))
    if animal not in world.animals:
        return
    after = ends(worse, on)
    normal = group == "ciliate"
    if not normal:
        assert all(after[one] >= day for one, day in before.items())


@given(
    worlds(),
    days,
    st.integers(0, 40),
    st.sampled_from(["B1", "B2", "B3", "B9"]),
    st.booleans(),
    st.booleans(),
)
@settings(max_examples=150, deadline=None)
def test_one_more_animal_never_brings_a_release_forward(
    world: World, on: int, at: int, enclosure: str, resident: bool, examined: bool
) -> None:
    before = ends(world, on)
    more = copy.deepcopy(world).animal("A9", enclosure, on=at, arrival="" if resident else "I1")
    if examined:
        more.seen([exam("A9", at + number) for number in (0, 8, 16, 24)])
    after = ends(more, on)
    assert all(after[one] >= end for one, end in before.items())


@given(worlds(), days, st.randoms(use_true_random=False))
@settings(max_examples=80, deadline=None)
def test_the_order_of_what_was_recorded_does_not_matter(world: World, on: int, draw: Random) -> None:
    situation = world.on(on)
    answers = [may_mix(group, situation) for group in situation.groups]
    shuffled = copy.deepcopy(world)
    for rows in (shuffled.exams, shuffled.stays, shuffled.members, shuffled.events):
        draw.shuffle(rows)
    other = shuffled.on(on)
    assert other.groups == situation.groups
    for before, group in zip(answers, other.groups, strict=True):
        after = may_mix(group, other)
        assert (after.answer, after.earliest_on) == (before.answer, before.earliest_on)
        assert [member.counted for member in after.members] == [member.counted for member in before.members]


@given(worlds(), st.integers(5, 50), st.sampled_from(ANIMALS), st.integers(0, 40))
@settings(max_examples=200, deadline=None)
def test_moving_an_animal_out_never_releases_it(world: World, on: int, animal: str, later: int) -> None:
    """Not on the day of the move, and not by waiting: only with an exam made after it."""
    if animal not in world.animals:
        return
    still = copy.deepcopy(world)
    still.exams = [one for one in still.exams if one.taken_on <= day(on)]
    situation = still.on(on)
    if animal not in situation.quarantined:
        return
    group = situation.group_of(animal)
    if may_mix(group, situation).may_release:
        return
    moved = copy.deepcopy(still).move(animal, "B99", on)
    moved.stays = [
        s for s in moved.stays if not (s.visit and s.animal == animal and (s.end or day(999)) > day(on))
    ]
    after = moved.on(on)
    if after.group_of(animal) == group:
        after = moved.on(on + 1)
    unit = after.group_of(animal)
    if animal not in after.quarantined:
        return
    answer = may_mix(unit, after)
    assert not answer.may_release
    waited = moved.on(on + 1 + later)
    if animal in waited.quarantined:
        unfinished = [
            m for m in may_mix(group, situation).members if {r.code for r in m.missing} - {"days-left"}
        ]
        if unfinished:
            assert not may_mix(waited.group_of(animal), waited).may_release


@given(worlds(), days, st.integers(1, 30))
@settings(max_examples=60, deadline=None)
def test_splitting_an_arrival_never_makes_time_pass(world: World, on: int, at: int) -> None:
    from dataclasses import replace

    from fecallab.domain.housing import Arrival, ArrivalMember

    before = ends(world, on)
    split = copy.deepcopy(world)
    first = next((m for m in split.members if m.arrival == "I1" and m.joined_on <= day(at)), None)
    if first is None:
        return
    split.members.remove(first)
    split.members += [
        replace(first, left_on=day(at)),
        ArrivalMember(arrival="I9", animal=first.animal, joined_on=day(at)),
    ]
    split.arrivals.append(Arrival(code="I9", arrived_on=day(at), split_from="I1"))
    assert ends(split, on) == before


@given(
    st.lists(st.integers(0, 30), max_size=6),
    st.integers(0, 4),
    st.integers(1, 9),
    st.integers(0, 25),
    st.integers(0, 35),
)
@settings(max_examples=200, deadline=None)
def test_the_earliest_end_is_that_of_trying_every_day(
    clean: list[int], needed: int, spacing: int, not_before: int, today: int
) -> None:
    past = sorted({one for one in clean if one <= today})

    def reachable(usable: list[int], left: int, at: int) -> int | None:
        """The earliest last day of a chain of ``left`` more stools on or after ``at``, trying each as the next."""
        tries = [one for one in usable if one >= at]
        if left == 1:
            return next((one for one in tries if one >= not_before), None)
        found = (reachable(usable, left - 1, one + spacing) for one in tries[:3])
        return min((one for one in found if one is not None), default=None)

    found = earliest_end(
        [(day(one), str(one)) for one in clean if one <= today],
        needed,
        spacing,
        since=day(0),
        not_before=day(not_before),
        today=day(today),
    )
    if not needed or reachable(past, needed, 0) is not None:
        assert found is None
    else:
        expected = reachable([*past, *range(today, 120)], needed, 0)
        assert expected is not None
        assert found is not None
        assert found[1] == day(expected)
